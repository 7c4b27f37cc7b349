"""What is known of a Problem while plans of it are searched: each job's way alone, and prices."""

from dataclasses import dataclass, field

from scheduling.engine.climb import Climb
from scheduling.engine.compiled import Compiled
from scheduling.engine.insertion import Fit, Prices, State, insert


@dataclass(slots=True)
class Search:
    """What is known of a Problem while it is searched."""

    compiled: Compiled
    alone: dict[str, Fit | None]  # each job's cheapest way in an empty yard
    tries: int = 0  # insertions made
    wants: dict[str, tuple[tuple[str, int, int], ...]] = field(default_factory=dict)  # job: stays she wants
    prices: list[Prices] = field(default_factory=list)  # at which jobs may be put in
    climb: Climb | None = None  # by which they were found

    def alone_cost(self, name: str) -> int:
        """[minor units] the least a job can cost, her drop price at most."""
        fit, drop = self.alone[name], self.compiled.jobs[name].drop_price
        return min(fit.cost, drop) if fit is not None else drop

    @property
    def bound(self) -> int:
        """[minor units] no plan can cost less: the sum of what each job costs alone."""
        return sum(self.alone_cost(name) for name in self.compiled.jobs)


def start_search(compiled: Compiled) -> Search:
    """Work out what each job would cost alone."""
    alone: dict[str, Fit | None] = {}
    bare: State | None = None  # the same for all who have not begun
    for name, job in compiled.jobs.items():
        if job.begun is not None:
            alone[name] = insert(State.alone(compiled, job), name)
        else:
            bare = bare or State.alone(compiled, job)
            alone[name] = insert(bare, name)
    search = Search(compiled, alone)
    search.tries = len(alone)
    for name, fit in alone.items():
        times = fit.times if fit is not None else ()
        search.wants[name] = tuple((t.place, t.start, t.leaves) for t in times)
    return search
