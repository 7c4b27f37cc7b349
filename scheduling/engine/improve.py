"""Ruin and recreate: take out a few related jobs, put them back in another order, keep what pays.

Cooled by the share of the work that is done, never by the clock: with the work given, one seed gives one
plan.
"""

import math
import random
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from scheduling.engine.builds import first_plan, mixed_order, settle
from scheduling.engine.compiled import NEVER, Compiled
from scheduling.engine.insertion import Fit, State, insert
from scheduling.engine.problem import Job
from scheduling.engine.slots import slot_on_or_after

__all__ = ["Budget", "Search", "first_plan", "improve", "settle", "start_search"]

BUILDS, BUILD_SHARE = 12, 0.15
"""First plans in other orders, and the share of the work they may take."""
HOT, COLD = 0.003, 0.0003
"""Temperature at the start and end, as shares of the first plan's avoidable cost; measured."""
LEAST, MOST = 2, 8
"""Jobs taken out at a time."""
SHARE_TO_MEASURE = 0.5
"""[s] at the start in which the speed is measured when a time is given instead of work."""


@dataclass(slots=True)
class Search:
    """What is known of a Problem while it is searched."""

    compiled: Compiled
    alone: dict[str, Fit | None]  # each job's cheapest way in an empty yard
    tries: int = 0  # insertions made
    first_total: int = 0
    wants: dict[str, tuple[tuple[str, int, int], ...]] = field(default_factory=dict)  # job: stays she wants

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
    alone = {name: insert(State.alone(compiled, job), name) for name, job in compiled.jobs.items()}
    search = Search(compiled, alone)
    search.tries = len(alone)
    for name, fit in alone.items():
        times = fit.times if fit is not None else ()
        search.wants[name] = tuple((t.place, t.start, t.leaves) for t in times)
    return search


# --- improvement ------------------------------------------------------------------------------------------
@dataclass(slots=True)
class Budget:
    """How much work is left: insertions if `work` is given, else as many as `seconds` allow at this speed."""

    seconds: float
    work: int | None
    should_stop: Callable[[], bool]
    began: float = field(default_factory=time.monotonic)
    limit: float = 0.0
    spent: int = 0

    def over(self) -> bool:
        """Whether the work is done, the time is up or somebody asked to stop."""
        if self.work is not None:
            return self.spent >= self.work or self.should_stop()
        return time.monotonic() - self.began >= self.seconds or self.should_stop()

    def share(self) -> float:
        """The share of the work that is done; what time is left after that is searched cold."""
        if self.work is not None:
            return min(self.spent / max(self.work, 1), 1.0)
        passed = time.monotonic() - self.began
        if not self.limit and (passed >= SHARE_TO_MEASURE or passed >= self.seconds / 4):
            self.limit = self.spent / passed * self.seconds
        return min(self.spent / self.limit, 1.0) if self.limit else 0.0


def improve(
    search: Search,
    state: State,
    rng: random.Random,
    budget: Budget,
    on_better: Callable[[State], None] | None = None,
) -> State:
    """The best plan found from `state` on, which is complete and is left as it is."""
    avoidable = max(state.total - search.bound, 1)
    if len(search.compiled.jobs) < 2:
        return state.copy()
    state = _builds(search, state, rng, budget)
    current, best = state.copy(), state.copy()
    best_total = current.total
    while not budget.over() and best_total > search.bound:
        heat = avoidable * HOT * (COLD / HOT) ** budget.share()
        limit = current.total - heat * math.log(1.0 - rng.random())
        before = search.tries
        made = _try(search, current, rng, limit)
        budget.spent += max(search.tries - before, 1)
        if made is None:
            continue
        current = made
        total = current.total
        if total < best_total:
            best, best_total = current.copy(), total
            if on_better is not None:
                on_better(best)
    return best


def _try(search: Search, current: State, rng: random.Random, limit: float) -> State | None:
    """A copy of `current` with a few jobs put back otherwise, if it costs less than `limit`."""
    chosen = _choose(search, current, rng)
    state = current.copy()
    for name in chosen:
        if name in state.times:
            state.take(name)
        else:
            state.take_back(name)
    return state if _put_in(search, state, chosen, limit) else None


def _put_in(search: Search, state: State, names: Sequence[str], limit: float) -> bool:
    """Put in these jobs, one after the other; False as soon as it must cost `limit` or more."""
    jobs = search.compiled.jobs
    least = {name: search.alone_cost(name) - jobs[name].drop_price for name in names}
    to_come, total = sum(least.values()), state.total
    for name in names:
        to_come -= least[name]
        search.tries += 1
        room = limit - total - to_come + jobs[name].drop_price
        if not settle(state, name, math.ceil(min(room, NEVER))):
            return False
        total = state.total
        if total + to_come >= limit:
            return False
    return True


def _builds(search: Search, state: State, rng: random.Random, budget: Budget) -> State:
    """The cheapest of some first plans, each in an order of its own, and of `state`."""
    best, least = state, state.total
    for _ in range(BUILDS):
        if budget.share() > BUILD_SHARE or budget.over():
            break
        before, other = search.tries, State(search.compiled)
        if _put_in(search, other, mixed_order(search.compiled, rng), least):
            best, least = other, other.total
        budget.spent += search.tries - before
    return best


def _choose(search: Search, state: State, rng: random.Random) -> list[str]:
    """Which jobs to take out, in the order in which they go back."""
    names = list(search.compiled.jobs)
    count = min(len(names), rng.choice((2, 2, 3, 3, 4, 4, 5, 6, 7, MOST)))
    way = rng.random()
    if way < 0.2:
        return _swap(state, rng) or rng.sample(names, count)
    if way < 0.55:
        chosen = _in_the_way(search, state, rng, count)
    elif way < 0.9:
        chosen = _neighbours(state, rng, count)
    else:
        chosen = rng.sample(names, count)
    return _order(search, state, chosen, rng)


def _loss(search: Search, state: State, name: str) -> int:
    """[minor units] what a job costs above its cheapest alone."""
    own = state.own.get(name, search.compiled.jobs[name].drop_price)
    return max(own - search.alone_cost(name), 0)


def _weighted(rng: random.Random, names: Sequence[str], weights: Sequence[float]) -> str:
    return rng.choices(names, weights=weights)[0] if sum(weights) > 0 else rng.choice(names)


def _in_the_way(search: Search, state: State, rng: random.Random, count: int) -> list[str]:
    """A job that loses much, and the jobs that stand where and when she would stand if she were alone."""
    names = list(search.compiled.jobs)
    first = _weighted(rng, names, [_loss(search, state, name) for name in names])
    scores = {}
    for name, times in state.times.items():
        if name != first:
            shared = 0.0
            for place, start, end in search.wants[first]:
                for time_ in times:
                    if time_.place == place:
                        shared += max(0, min(end, time_.leaves) - max(start, time_.start))
            room = rng.random()
            scores[name] = (shared + 0.5) * room
    return [first, *sorted(scores, key=lambda name: -scores[name])[: count - 1]]


def _neighbours(state: State, rng: random.Random, count: int) -> list[str]:
    """A job and those who are in the same places at about the same time."""
    names = list(state.times)
    if not names:
        return list(state.compiled.jobs)[:count]
    first = rng.choice(names)
    mine = state.times[first]
    piece = rng.choice(mine)
    scores = {}
    for name, times in state.times.items():
        if name != first:
            gap = min(abs(t.start - piece.start) + (0 if t.place == piece.place else 8) for t in times)
            scores[name] = gap + rng.random() * 10
    return [first, *sorted(scores, key=lambda name: scores[name])[: count - 1]]


def _swap(state: State, rng: random.Random) -> list[str]:
    """Two jobs that follow each other in a well-used place, the later one first, then those between them."""
    compiled = state.compiled
    rooms = compiled.room.tolist()
    used = [int(u) / max(room, 1) for u, room in zip(state.here.sum(axis=1), rooms, strict=True)]
    place = rng.choices(range(len(rooms)), weights=[u * u + 1e-9 for u in used])[0]
    name_of = compiled.problem.places[place].id
    line = sorted(
        {(t.start, name) for name, times in state.times.items() for t in times if t.place == name_of}
    )
    order = list(dict.fromkeys(name for _, name in line))
    if len(order) < 2:
        return []
    i = rng.randrange(len(order) - 1)
    j = min(len(order) - 1, i + rng.randint(1, 3))
    between = order[i + 1 : j]
    return [order[j], *between, order[i]] if rng.random() < 0.5 else [order[j], order[i], *between]


def _order(search: Search, state: State, chosen: Iterable[str], rng: random.Random) -> list[str]:
    """The chosen jobs in one of several orders."""
    jobs, names = search.compiled.jobs, list(chosen)
    way = rng.random()
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
    return names


def _slack(search: Search, job: Job) -> float:
    """[slots] between her end alone and her due day."""
    fit = search.alone[job.id]
    due = slot_on_or_after(search.compiled.problem.days, job.due)
    return due - fit.times[-1].end if fit is not None else -len(search.compiled.problem.days)
