"""A second process that searches with another seed: the same engine."""

from collections.abc import Callable

from scheduling.engine.child import GRACE, Child
from scheduling.engine.jsonio import from_json
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import BoundPrices, Result, Schedule


class Second(Child):
    """The second process and the best plan it has told."""

    def __init__(
        self, problem: Problem, *, seed: int, seconds: float, work: int | None, proves: bool
    ) -> None:
        """It also looks for a bound, if it `proves`."""
        self.tries = 0
        self.bound: int | None = None
        self.bound_by = ""
        self.prices: BoundPrices | None = None
        command = ["solve", "-", "--workers", "1", "--seed", str(seed), "--seconds", f"{seconds:.2f}"]
        command += ["--work", str(work)] if work is not None else []
        super().__init__(command if proves else [*command, "--no-proof"], problem)

    def best(self, *, wait: bool, stop: Callable[[], bool], patience: float = GRACE) -> Schedule | None:
        """Its best plan. With `wait`, once it is done by itself; else it is asked to end now.

        If it has not ended after `patience` [s], the last plan it told.
        """
        data = self.last(wait=wait, stop=stop, patience=patience)
        if data is None or "schedule" not in data["result"]:
            return None
        result = from_json(Result, data["result"])
        self.tries, self.prices = result.tries, result.prices
        self.bound, self.bound_by = result.bound, result.bound_by
        return result.schedule
