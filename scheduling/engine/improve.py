"""Ruin and recreate: take out a few related jobs, put them back in another order, keep what pays.

With the work given it is cooled by the share of it that is done, never by the clock: one seed gives one
plan. With a time given, by the share of the time.
"""

import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import partial

from scheduling.engine.budget import Budget
from scheduling.engine.builds import first_plan, mixed_order, settle
from scheduling.engine.climb import Climb
from scheduling.engine.compiled import NEVER, Compiled
from scheduling.engine.insertion import Fit, Prices, State, insert
from scheduling.engine.problem import Job
from scheduling.engine.ruin import Ruin
from scheduling.engine.slots import slot_on_or_after

__all__ = ["Budget", "Search", "first_plan", "improve", "settle", "start_search"]

BUILDS, BUILD_SHARE = 24, 0.15
"""First plans in other orders, and the share of the work they may take."""
STEPS, STEP_SHARE, LEAST_STEPS = 100, 0.16, 10
"""Steps of prices, the share of the work they may take, and how few of them are of no use. Beside 40 steps,
so many bring the demo yard plans 0.5 % cheaper in the mean of eight seeds, and nearly the whole bound."""
SCALES, PRICED = (0.5, 1.0, 1.5), 0.3
"""What the prices are multiplied by, and how often jobs are put back at prices."""
HOT, COLD = 0.8, 0.04
"""Temperature at the start and end, as shares of what a job costs in the plan built first above what she
would cost alone; measured."""
COUNTS = (2, 2, 3, 3, 3, 4, 4, 5)
"""Jobs taken out at a time."""
LEAST_SECONDS_TO_PRICE = 2.0
"""[s] of search below which prices are not worth their time."""
COOLING, WARM = 150, 0.25
"""Insertions for each job after which to begin anew brings more than to cool more slowly: with 150, 300 or
900 the demo yard has plans as cheap in the mean, with 150 fewer dear ones; 12 boats need no more. The last of
three coolings or more goes on from the best plan of the others, from WARM of the heat."""
PATIENCE = 10
"""Tries for each job without a plan better than the best after which the search goes on from the best."""


@dataclass(slots=True)
class Search:
    """What is known of a Problem while it is searched."""

    compiled: Compiled
    alone: dict[str, Fit | None]  # each job's cheapest way in an empty yard
    tries: int = 0  # insertions made
    first_total: int = 0
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


# --- improvement ------------------------------------------------------------------------------------------
def improve(
    search: Search,
    state: State,
    rng: random.Random,
    budget: Budget,
    on_better: Callable[[State], None] | None = None,
) -> State:
    """The best plan found from `state` on, which is complete and is left as it is."""
    if len(search.compiled.jobs) < 2:
        return state
    _find_prices(search, state, budget)
    best = _builds(search, state, rng, budget)

    def keep(found: State) -> None:
        nonlocal best
        if found.total < best.total:
            best = found
            if on_better is not None:
                on_better(best)

    coolings = max(int(budget.tries() / (COOLING * len(search.compiled.jobs))), 1)
    for number in range(coolings):
        part = budget.part(coolings - number)
        if coolings > 2 and number == coolings - 1:
            _cool(search, best, rng, part, WARM * HOT, keep)
        else:
            _cool(search, _builds(search, state, rng, part) if number else best, rng, part, HOT, keep)
        budget.spent += part.spent
        if budget.over() or best.total <= search.bound:
            break
    return best


def _cool(
    search: Search,
    start: State,
    rng: random.Random,
    budget: Budget,
    hot: float,
    keep: Callable[[State], None],
) -> None:
    """Search from `start` on, ever less ready to take what is dearer; `keep` is told each better plan."""
    jobs, bound = search.compiled.jobs, search.bound
    avoidable = max(start.total - bound, 1) / len(jobs)
    current = best = start
    best_total, since = current.total, 0
    keep(start)
    ruin = Ruin(search.compiled, search.wants, {name: search.alone_cost(name) for name in jobs})
    ruin.see(current)
    still = set[tuple[str, ...]]()
    while not budget.over() and best_total > bound:
        heat = avoidable * hot * (COLD / hot) ** budget.share()
        limit = current.total - heat * math.log(1.0 - rng.random())
        before, since = search.tries, since + 1
        names = _order(search, current, ruin.draw(current, rng, rng.choice(COUNTS)), rng, ruin.ordered)
        made = _try(search, current, rng, names, limit, still)
        budget.spent += max(search.tries - before, 1)
        total = made.total if made is not None else 0
        ruin.tell(0.0 if made is None else 1.0 if total < best_total else 0.3)
        if made is not None:
            current = made
            ruin.see(current, names)
            still.clear()
        if made is not None and total < best_total:
            best, best_total, since = current, total, 0
            keep(best)
        elif since >= PATIENCE * len(jobs):
            current, since = best, 0
            ruin.see(current)
            still.clear()


def _try(
    search: Search,
    current: State,
    rng: random.Random,
    names: Sequence[str],
    limit: float,
    still: set[tuple[str, ...]],
) -> State | None:
    """A copy of `current` with these jobs put back otherwise, if it costs less than `limit`.

    `still` has what was put back as it was before: orders that need not be tried again.
    """
    prices = rng.choice(search.prices) if search.prices and rng.random() < PRICED else None
    if prices is None and tuple(names) in still:
        return None
    state = current.copy()
    for name in names:
        state.remove(name)
    if not _put_in(search, state, names, limit, prices):
        return None
    if state.times == current.times:
        if prices is None:
            still.add(tuple(names))
        return None
    return state


def _put_in(
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


def _find_prices(search: Search, state: State, budget: Budget) -> None:
    """Prices to put jobs in at, once, where there is work enough for them."""
    if search.climb is not None or state.total <= search.bound:
        return
    steps = STEPS
    if budget.work is not None:
        steps = min(steps, int(STEP_SHARE * budget.work / len(search.compiled.jobs)))
    elif budget.seconds < LEAST_SECONDS_TO_PRICE:
        return
    if steps < LEAST_STEPS:
        return
    stop = partial(_priced_enough, budget) if budget.work is None else budget.should_stop
    climb = search.climb = Climb(search.compiled.problem, state.total)
    climb.go_on(steps, stop)
    if climb.bound > search.bound:  # else they are not worth putting anything in at
        search.prices = [climb.prices(scale) for scale in SCALES]
    search.tries += climb.tries
    budget.spent += climb.tries


def _priced_enough(budget: Budget) -> bool:
    return budget.share() > STEP_SHARE or budget.over()


def _builds(search: Search, state: State, rng: random.Random, budget: Budget) -> State:
    """The cheapest of some first plans, each in an order of its own, and of `state`."""
    best, least = state, state.total
    for _ in range(BUILDS):
        if budget.share() > BUILD_SHARE or budget.over():
            break
        before, other = search.tries, State(search.compiled)
        prices = rng.choice([None, *search.prices])
        if _put_in(search, other, mixed_order(search.compiled, rng), least, prices):
            best, least = other, other.total
        budget.spent += search.tries - before
    return best


def _loss(search: Search, state: State, name: str) -> int:
    """[minor units] what a job costs above its cheapest alone."""
    own = state.own.get(name, search.compiled.jobs[name].drop_price)
    return max(own - search.alone_cost(name), 0)


def _order(search: Search, state: State, chosen: Iterable[str], rng: random.Random, keep: bool) -> list[str]:
    """The chosen jobs in one of several orders, the first one first half the time; as they are if `keep`."""
    jobs, names = search.compiled.jobs, list(chosen)
    if keep:
        return names
    first, way = names[:1] if rng.random() < 0.5 else [], rng.random()
    names = names[len(first) :]
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
