"""The cheapest plan of a solve so far, the highest bound, and who found it."""

from dataclasses import dataclass

from scheduling.engine.climb import Climb
from scheduling.engine.cost import cost_of
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import BoundPrices, Schedule


@dataclass(slots=True)
class Best:
    """What a solve has so far."""

    problem: Problem
    schedule: Schedule
    total: int  # [minor units]
    bound: int | None = None  # [minor units] no plan can cost less
    bound_by: str = ""
    prices: BoundPrices | None = None  # that prove the bound, or all but what parts of the plans add
    tries: int = 0  # insertions made

    def offer(self, schedule: Schedule | None) -> bool:
        """Keep this plan if it is cheaper; whether it is."""
        if schedule is None:
            return False
        total = sum(cost_of(self.problem, schedule).values())
        if total >= self.total:
            return False
        self.schedule, self.total = schedule, total
        return True

    def bounded(self, bound: int | None, by: str, prices: BoundPrices | None = None) -> None:
        """Keep this bound if it is higher, and the prices told with it."""
        if bound is not None and (self.bound is None or bound > self.bound):
            self.bound, self.bound_by, self.prices = bound, by, prices

    def priced(self, climb: Climb) -> None:
        """Keep the bound of these prices if it is higher."""
        if self.bound is None or climb.bound > self.bound:
            self.bounded(climb.bound, "prices", climb.told())
