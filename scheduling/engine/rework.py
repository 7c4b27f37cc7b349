"""A small ruin and recreate among the boats that an event touched and their neighbours; then each goes back.

All costs hold the price of each changed placement, so a boat goes back where she was posted unless moving
her saves more than that.
"""

import math
import random
from collections.abc import Callable

from scheduling.engine.builds import settle
from scheduling.engine.compiled import NEVER
from scheduling.engine.cost import stays_of
from scheduling.engine.improve import Budget
from scheduling.engine.insertion import State
from scheduling.engine.postings import Broken
from scheduling.engine.refit import broken_by
from scheduling.engine.room import Desk, make_room, squeezed

MOST = 5
"""Jobs taken out at a time: more than these disturb more than one event can be worth."""
WARM, COLD = 0.3, 0.02
"""Temperature at the start and end, as shares of the price of a trip and a change; untuned."""
ELSEWHERE = 0.15
"""The share of a neighbour's weight that one has who is only there at the same time."""


def rework(
    desk: Desk,
    state: State,
    rng: random.Random,
    budget: Budget,
    on_better: Callable[[State], None] | None = None,
) -> State:
    """The cheapest plan found from `state` on by moving boats that moved already and their neighbours."""
    problem = desk.compiled.problem
    unit = max(problem.change_price + problem.move_price, 1)
    current = best = state
    best_total = state.total
    while not budget.over():
        moved = [name for name in desk.ways if not desk.at_home(current, name)]
        if not moved:
            break
        heat = unit * WARM * (COLD / WARM) ** budget.share()
        limit = current.total - heat * math.log(1.0 - rng.random())
        before = desk.tries
        made = _try(desk, current, moved, rng, limit, unit)
        budget.spent += max(desk.tries - before, 1)
        if made is None or made.total >= limit:
            continue
        current = made
        if current.total < best_total:
            best, best_total = current, current.total
            if on_better is not None:
                on_better(best)
    return best


def _try(
    desk: Desk, current: State, moved: list[str], rng: random.Random, limit: float, unit: int
) -> State | None:
    first = rng.choice(moved)
    if rng.random() < 0.5:  # who loses most
        first = rng.choices(moved, weights=[desk.loss(current, name) + unit for name in moved])[0]
    draw = rng.random()
    if draw < 0.35:
        return _shifted(desk, current, first, rng, back=draw < 0.15, squeeze=draw < 0.25)
    names = [first, *_near(desk, current, first, rng, rng.randint(1, MOST - 1))]
    if rng.random() < 0.7:
        rng.shuffle(names)
    state = current.copy()
    for name in names:
        state.remove(name)
    jobs = desk.compiled.jobs
    to_come = sum(jobs[name].drop_price for name in names)
    for name in names:
        room = limit - state.total + to_come
        to_come -= jobs[name].drop_price
        desk.tries += 1
        if not settle(state, name, math.ceil(min(room, NEVER))):
            return None
        if name in desk.keep and name not in state.times:
            return None
    return state


def _shifted(
    desk: Desk, current: State, name: str, rng: random.Random, *, back: bool, squeeze: bool
) -> State | None:
    """The plan with a job forced back to where she was posted, or to where she would like to be."""
    way = desk.home(name) if back else None
    if back and way is None:
        return None
    state = current.copy()
    state.remove(name)
    if squeeze and not back:
        way = squeezed(desk, state, name)
    desk.tries += 1
    return make_room(desk, state, name, way, rng)


def _near(desk: Desk, state: State, first: str, rng: random.Random, count: int) -> list[str]:
    """Jobs in the places, at the time, in which `first` is, was posted or would like to be."""
    way, want = desk.ways[first], desk.want(first)
    mine = stays_of(first, state.times.get(first, ()))
    mine += stays_of(first, way) if way is not None and not isinstance(way, Broken) else []
    mine += stays_of(first, want.times) if want is not None else []
    scores = {}
    for name, times in state.times.items():
        if name == first or not state.compiled.jobs[name].steps:
            continue
        shared = 0.0
        for other in stays_of(name, times):
            for one in mine:
                both = min(one.end, other.end) - max(one.start, other.start, 0)
                if both > 0:
                    shared += both if one.place == other.place else both * ELSEWHERE
        if shared:
            scores[name] = shared * rng.random() ** 2
    return sorted(scores, key=lambda name: -scores[name])[:count]


def go_back(desk: Desk, state: State) -> State:
    """The plan with every job back at her posted placements who can go there alone at no higher total."""
    state = state.copy()
    again = True
    while again:
        again = False
        for name in desk.ways:
            way = None if desk.at_home(state, name) else desk.home(name)
            if way is None:
                continue
            before, times = state.total, state.times.get(name)
            if times is not None:
                state.take(name)
            stood_out = name in state.out
            if stood_out:
                state.take_back(name)
            if broken_by(state, name, way) is None:
                state.put(name, way)
                if state.total <= before:
                    again = True
                    continue
                state.take(name)
            if times is not None:
                state.put(name, times)
            elif stood_out:
                state.leave_out(name)
    return state
