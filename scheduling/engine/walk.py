"""One walk through the plans: take out a few related jobs, put them back in another order, keep what pays.

How dear a plan it goes on from depends on the heat, which others let fall.
"""

import math
import random
from collections.abc import Sequence

from scheduling.engine.builds import settle
from scheduling.engine.compiled import NEVER
from scheduling.engine.insertion import Prices, State
from scheduling.engine.problem import Job
from scheduling.engine.ruin import Ruin
from scheduling.engine.search import Search
from scheduling.engine.slots import slot_on_or_after

PRICED = 0.3
"""How often jobs are put back at prices."""
COUNTS = (2, 2, 3, 3, 3, 4, 4, 5)
"""Jobs taken out at a time."""
PATIENCE = 10
"""Tries for each job without a plan better than the best after which the search goes on from the best."""


class Walk:
    """Where a search is, and the best plan that it came by."""

    def __init__(self, search: Search, start: State, rng: random.Random) -> None:
        jobs = search.compiled.jobs
        self.search, self.rng = search, rng
        self.ruin = Ruin(search.compiled, search.wants, {name: search.alone_cost(name) for name in jobs})
        self.go_to(start)
        self.best = start

    def go_to(self, plan: State) -> None:
        """Go on from this plan."""
        self.current, self.since = plan, 0
        self.still = set[tuple[str, ...]]()  # orders that bring nothing new where it is
        self.ruin.see(plan)

    def join(self, other: "Walk") -> None:
        """Go on from where another is."""
        self.go_to(other.current)
        self.best = other.best

    def step(self, heat: float) -> int:
        """Try one other plan, and go there unless it is too dear for the heat [minor units].

        The insertions made.
        """
        search, current, ruin = self.search, self.current, self.ruin
        limit = current.total - heat * math.log(1.0 - self.rng.random())
        before = search.tries
        names = ruin.draw(current, self.rng, self.rng.choice(COUNTS))
        names = names if ruin.ordered else _order(search, current, names, self.rng)
        made = self._try(names, limit)
        better = made is not None and made.total < self.best.total
        ruin.tell(0.0 if made is None else 1.0 if better else 0.3)
        self.since += 1
        if made is not None:
            self.current = made
            ruin.see(made, names)
            self.still.clear()
        if made is not None and better:
            self.best, self.since = made, 0
        elif self.since >= PATIENCE * len(search.compiled.jobs):
            self.go_to(self.best)
        return max(search.tries - before, 1)

    def _try(self, names: Sequence[str], limit: float) -> State | None:
        """A copy of the plan with these jobs put back otherwise, if it costs less than `limit`."""
        search, rng = self.search, self.rng
        prices = rng.choice(search.prices) if search.prices and rng.random() < PRICED else None
        if prices is None and tuple(names) in self.still:
            return None
        state = self.current.copy()
        for name in names:
            state.remove(name)
        if not put_in(search, state, names, limit, prices):
            return None
        if state.times == self.current.times:
            if prices is None:
                self.still.add(tuple(names))
            return None
        return state


def put_in(
    search: Search, state: State, names: Sequence[str], limit: float, prices: Prices | None = None
) -> bool:
    """Put in these jobs, one after the other; False as soon as it must cost `limit` or more."""
    jobs = search.compiled.jobs
    least = {name: search.alone_cost(name) - jobs[name].drop_price for name in names}
    to_come, total = sum(least.values()), state.total
    for name in names:
        to_come -= least[name]
        search.tries += 1
        room = limit - total - to_come + jobs[name].drop_price
        if not settle(state, name, math.ceil(min(room, NEVER)), prices):
            return False
        total = state.total
        if total + to_come >= limit:
            return False
    return True


def _loss(search: Search, state: State, name: str) -> int:
    """[minor units] what a job costs above its cheapest alone."""
    own = state.own.get(name, search.compiled.jobs[name].drop_price)
    return max(own - search.alone_cost(name), 0)


def _order(search: Search, state: State, chosen: Sequence[str], rng: random.Random) -> list[str]:
    """The chosen jobs in one of several orders, the first one first half the time."""
    jobs = search.compiled.jobs
    first, way = list(chosen[:1]) if rng.random() < 0.5 else [], rng.random()
    names = list(chosen[len(first) :])
    if way < 0.3:
        rng.shuffle(names)
    elif way < 0.5:
        names.sort(key=lambda name: jobs[name].due.toordinal() + rng.random() * 5)
    elif way < 0.7:
        names.sort(key=lambda name: -_loss(search, state, name) * rng.uniform(0.5, 1.5))
    elif way < 0.85:
        names.sort(key=lambda name: -jobs[name].late_price * rng.uniform(0.5, 1.5))
    else:
        names.sort(key=lambda name: _slack(search, jobs[name]) + rng.random() * 5)
    return [*first, *names]


def _slack(search: Search, job: Job) -> float:
    """[slots] between her end alone and her due day."""
    fit = search.alone[job.id]
    due = slot_on_or_after(search.compiled.problem.days, job.due)
    return due - fit.times[-1].end if fit is not None else -len(search.compiled.problem.days)
