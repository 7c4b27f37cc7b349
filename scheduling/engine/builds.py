"""First plans: every job put in by the cheapest insertion, in one order or another."""

import random
from collections.abc import Callable, Sequence

from scheduling.engine.compiled import NEVER, Compiled
from scheduling.engine.insertion import Prices, State, insert, stand_out

MOST_OF = (1.0, 1.5, 0.5, 0.3)
"""How much due day, weight, size and chance count at most in a drawn order; measured on made-up yards."""
POLISHINGS = 2
"""How often each job of a plan made at prices is looked at again without them; 4 find no cheaper plans."""


def first_plan(compiled: Compiled, order: Sequence[str] | None = None) -> State:
    """Every job put in by the cheapest insertion: what has begun first, then `order` (earliest due first).

    A job that fits nowhere, or only at more than her `drop_price`, is left out.
    """
    jobs = compiled.jobs
    rest = list(order) if order is not None else sorted(jobs, key=lambda name: (jobs[name].due, name))
    begun = [name for name in rest if jobs[name].begun is not None]
    begun.sort(key=lambda name: bool(jobs[name].steps))
    others = [name for name in rest if jobs[name].begun is None]
    went_first: set[str] = set()
    while True:  # one that has begun and fits nowhere goes first next time
        state = State(compiled)
        name = next((name for name in begun if not settle(state, name)), None)
        if name is None:
            break
        if name in went_first or name == begun[0]:
            state = _from_where_they_stand(compiled, begun)
            break
        went_first.add(name)
        begun.remove(name)
        begun.insert(0, name)
    for name in others:
        settle(state, name)
    return state


def _from_where_they_stand(compiled: Compiled, begun: Sequence[str]) -> State:
    """All who have begun left where they stand, which is always possible; then each goes on if she can."""
    state = State(compiled)
    for name in begun:
        state.leave_out(name)
    for name in begun:
        state.take_back(name)
        if not settle(state, name):
            state.leave_out(name)
    return state


def settle(state: State, name: str, limit: int = NEVER, prices: Prices | None = None) -> bool:
    """Put a job in where it is cheapest, or leave it out if that is cheaper; False if neither is possible.

    Ways that cost `limit` or more need not be looked at. With `prices` she is put where she is cheapest at
    them, if that costs less than to leave her out without them.
    """
    drop = state.compiled.jobs[name].drop_price
    if prices is not None:
        fit, before = insert(state, name, prices=prices), state.total
        if fit is not None:
            state.put(name, fit.times)
            if state.total <= before:
                return True
            state.take(name)
    fit = insert(state, name, limit=limit)
    out = stand_out(state, name) if fit is None or fit.cost > drop else None
    if fit is not None and (out is None or fit.cost <= drop + out):
        state.put(name, fit.times)
        return True
    if out is None:
        return False
    state.leave_out(name)
    return True


def plan_at(compiled: Compiled, prices: Prices, order: Sequence[str]) -> State | None:
    """Every job put in where she is cheapest at `prices`, in `order`; then each where she is without them.

    None if one that has begun fits nowhere.
    """
    state = State(compiled)
    if not all(settle(state, name, prices=prices) for name in order):
        return None
    for _ in range(POLISHINGS):
        before = state.total
        for name in order:
            state.remove(name)
            if not settle(state, name):
                return None
        if state.total == before:
            break
    return state


def mixed_order(compiled: Compiled, rng: random.Random) -> list[str]:
    """All jobs by a mixture, drawn each time, of due day, weight and size; half of them the begun first."""
    jobs = compiled.jobs
    marks: list[Callable[[str], float]] = [
        lambda name: jobs[name].due.toordinal(),
        lambda name: -jobs[name].late_price,
        lambda name: -max(jobs[name].size.values(), default=0),
        lambda _: rng.random(),
    ]
    keys = dict.fromkeys(jobs, 0.0)
    for mark, weight in zip(marks, MOST_OF, strict=True):
        drawn = weight * rng.random()
        for rank, name in enumerate(sorted(jobs, key=mark)):
            keys[name] += drawn * rank
    begun_first = rng.random() < 0.5
    return sorted(jobs, key=lambda name: (begun_first and jobs[name].begun is None, keys[name]))
