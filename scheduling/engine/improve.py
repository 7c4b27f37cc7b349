"""Several walks through the plans side by side, cooled together; the dearest goes on from the cheapest.

So little is spent on a walk that leads to dear plans (population annealing, Hukushima & Iba 2003).

With the work given they are cooled by the share of it that is done, never by the clock: one seed gives one
plan. With a time given, by the share of the time.
"""

import random
from collections.abc import Callable
from functools import partial

from scheduling.engine.budget import Budget
from scheduling.engine.builds import first_plan, mixed_order, settle
from scheduling.engine.climb import Climb
from scheduling.engine.insertion import State
from scheduling.engine.search import Search, start_search
from scheduling.engine.walk import Walk, put_in

__all__ = ["Budget", "Search", "first_plan", "improve", "settle", "start_search"]

BUILDS, BUILD_SHARE = 24, 0.15
"""First plans in other orders, for all walks, and the share of the work they may take."""
STEPS, STEP_SHARE, LEAST_STEPS = 100, 0.16, 10
"""Steps of prices, the share of the work they may take, and how few of them are of no use. Beside 40 steps,
so many bring the demo yard plans 0.5 % cheaper in the mean of eight seeds, and nearly the whole bound."""
SCALES = (0.5, 1.0, 1.5)
"""What the prices are multiplied by at which jobs are put back."""
HOT, COLD = 0.8, 0.04
"""Temperature at the start and end, as shares of what a job costs in the plan built first above what she
would cost alone; measured."""
LEAST_SECONDS_TO_PRICE = 2.0
"""[s] of search below which prices are not worth their time."""
WALK, WALKS = 300, 8
"""Insertions for each job that a walk should have, and how many walks there are at most."""
STAGES, APART = 14, 4
"""Stages, and after how many of them the dearest walk goes on from the cheapest at the end of each. In the
demo yard 3 to 8 walks of 1,300 insertions for each job in all find plans 0.5 % cheaper than the cheapest of 9
coolings one after the other do (means of 50 and 16 runs)."""


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
    rest = budget.part(1)
    best = _builds(search, state, rng, rest, BUILDS)
    walks = min(max(int(rest.tries() / (WALK * len(search.compiled.jobs))), 1), WALKS)
    starts = [best, *(_builds(search, state, rng, rest, BUILDS // walks) for _ in range(walks - 1))]
    best, tell = min(starts, key=lambda start: start.total), on_better or (lambda _: None)
    if best.total < state.total:
        tell(best)
    best = _cool(search, starts, rng, rest, tell)
    budget.spent += rest.spent
    return best


def _cool(
    search: Search,
    starts: list[State],
    rng: random.Random,
    budget: Budget,
    on_better: Callable[[State], None],
) -> State:
    """The best plan found on a walk from each of `starts`, all ever less ready to take what is dearer.

    `on_better` is told each one better than all of `starts`.
    """
    best = min(starts, key=lambda start: start.total)
    walks, stages = [Walk(search, start, rng) for start in starts], STAGES if len(starts) > 1 else 1
    avoidable = max(starts[0].total - search.bound, 1) / len(search.compiled.jobs)
    for stage in range(stages):
        for number, walk in enumerate(walks):
            until = (stage + (number + 1) / len(walks)) / stages
            while not budget.over() and budget.share() < until and best.total > search.bound:
                done = max((budget.share() * stages - stage) * len(walks) - number, 0.0)
                budget.spent += walk.step(avoidable * HOT * (COLD / HOT) ** ((stage + done) / stages))
                if walk.best.total < best.total:
                    best = walk.best
                    on_better(best)
        if stage + 1 >= APART and stage + 1 < stages:
            walks.sort(key=lambda walk: walk.current.total)
            walks[-1].join(walks[0])
    return best


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


def _builds(search: Search, state: State, rng: random.Random, budget: Budget, count: int) -> State:
    """The cheapest of so many first plans, each in an order of its own, and of `state`."""
    best, least = state, state.total
    for _ in range(count):
        if budget.share() > BUILD_SHARE or budget.over():
            break
        before, other = search.tries, State(search.compiled)
        prices = rng.choice([None, *search.prices])
        if put_in(search, other, mixed_order(search.compiled, rng), least, prices):
            best, least = other, other.total
        budget.spent += search.tries - before
    return best
