"""Boats that must move put in anew, with no more disturbance than pays: insertion, making room, and a small
ruin and recreate among the boats touched and their neighbours.

All costs hold the price of each changed placement, so a boat goes back where she was posted unless moving
her saves more than that.
"""

import math
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from scheduling.engine.builds import settle
from scheduling.engine.compiled import NEVER, Compiled
from scheduling.engine.cost import stays_of
from scheduling.engine.improve import Budget
from scheduling.engine.insertion import Fit, State, insert
from scheduling.engine.postings import Broken, Way
from scheduling.engine.refit import broken_by, pinned, who
from scheduling.engine.schedule import StepTime

MOST = 5
"""Jobs taken out at a time: more than these disturb more than one event can be worth."""
WARM, COLD = 0.3, 0.02
"""Temperature at the start and end, as shares of the price of a trip and a change; untuned."""
ELSEWHERE = 0.15
"""The share of a neighbour's weight that one has who is only there at the same time."""


@dataclass(slots=True)
class Desk:
    """What is known while a plan is reworked: the posted placements, and each boat's way through a yard of
    facts alone."""

    compiled: Compiled
    ways: Mapping[str, Way]
    keep: frozenset[str] = frozenset()  # jobs that must stay in: never left out to save money
    wants: dict[str, Fit | None] = field(default_factory=dict)
    homes: dict[str, tuple[StepTime, ...] | None] = field(default_factory=dict)
    tries: int = 0

    def want(self, name: str) -> Fit | None:
        """Her cheapest way beside the facts, all other plans away; None if there is none."""
        if name not in self.wants:
            self.tries += 1
            self.wants[name] = insert(State(self.compiled), name)
        return self.wants[name]

    def home(self, name: str) -> tuple[StepTime, ...] | None:
        """Where she was posted, if the facts alone let her be there."""
        if name not in self.homes:
            way = self.ways[name]
            if isinstance(way, Broken) or (way and broken_by(State(self.compiled), name, way)):
                way = None
            self.homes[name] = way
        return self.homes[name]

    def at_home(self, state: State, name: str) -> bool:
        """Whether a job is where she was posted, or out as she was."""
        return same(state.times.get(name), self.ways[name])


def same(times: Sequence[StepTime] | None, way: Way) -> bool:
    """Whether the planned steps are in the places and slots in which they were posted."""
    if times is None or way is None:
        return times is None and way is None
    if isinstance(way, Broken):
        return False
    return [(t.place, t.start) for t in times] == [(t.place, t.start) for t in way]


def put_in(desk: Desk, state: State, names: Sequence[str]) -> State | None:
    """A State with these jobs too, one after the other, each making room for herself where she must."""
    for name in names:
        desk.tries += 1
        before = state.copy()
        if settle(state, name) and name in state.times:
            continue
        room = make_room(desk, before, name)
        must = name in desk.keep or not _may_be_out(state, name)
        if room is not None and (must or room.total < state.total):
            state = room
        elif must:
            return None
    return state


def _may_be_out(state: State, name: str) -> bool:
    """Whether a job that is not placed may stay so: she has not begun, or she stands out."""
    return state.compiled.jobs[name].begun is None or name in state.out


def make_room(
    desk: Desk,
    state: State,
    name: str,
    way: Sequence[StepTime] | None = None,
    rng: random.Random | None = None,
) -> State | None:
    """A copy of `state` with `name`, who is not in it, on `way` (else the cheapest beside the facts).

    Whoever is in her way is put in anew; of several those that moved already and came last, or with `rng`
    any. None if that is not possible.
    """
    if way is None:
        want = desk.want(name)
        if want is None:
            return None
        way = want.times
    state = state.copy()
    if name in state.out:
        state.take_back(name)
    gone: list[str] = []
    while (broken := broken_by(state, name, way)) is not None:
        able = [other for other in who(state, way, broken) if state.compiled.jobs[other].steps]
        if not able:
            return None
        if rng is not None:
            victim = rng.choice(able)
        else:
            victim = min(able, key=lambda other: _worth_staying(desk, state, other))
        state.take(victim)
        gone.append(victim)
    state.put(name, way)
    for other in _in_turn(state.compiled, gone):
        desk.tries += 1
        if not settle(state, other) or (other in desk.keep and other not in state.times):
            return None
    return state


def _worth_staying(desk: Desk, state: State, name: str) -> tuple[bool, bool, int, str]:
    """Least for those that are not pinned, then those that moved already, then those that come last."""
    first = next(time.start for time in state.times[name] if time.option >= 0)
    return pinned(state, name), desk.at_home(state, name), -first, name


def _in_turn(compiled: Compiled, names: Sequence[str]) -> list[str]:
    """What has begun first, then the earliest due."""
    jobs = compiled.jobs
    return sorted(names, key=lambda name: (jobs[name].begun is None, jobs[name].due, name))


def first_repair(desk: Desk, state: State, out: Sequence[str]) -> State | None:
    """The jobs that are `out` put in anew, earliest due first."""
    return put_in(desk, state.copy(), _in_turn(desk.compiled, out))


# --- Search -----------------------------------------------------------------------------------------------
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
        made = _try(desk, current, moved, rng, limit)
        budget.spent += max(desk.tries - before, 1)
        if made is None or made.total >= limit:
            continue
        current = made
        if current.total < best_total:
            best, best_total = current, current.total
            if on_better is not None:
                on_better(best)
    return best


def _try(desk: Desk, current: State, moved: list[str], rng: random.Random, limit: float) -> State | None:
    first = rng.choice(moved)
    draw = rng.random()
    if draw < 0.3:
        return _shifted(desk, current, first, rng, back=draw < 0.2)
    names = [first, *_near(desk, current, first, rng, rng.randint(1, MOST - 1))]
    if rng.random() < 0.7:
        rng.shuffle(names)
    state = current.copy()
    for name in names:
        if name in state.times:
            state.take(name)
        else:
            state.take_back(name)
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


def _shifted(desk: Desk, current: State, name: str, rng: random.Random, *, back: bool) -> State | None:
    """The plan with a job forced back to where she was posted, or to where she would like to be."""
    way = desk.home(name) if back else None
    if back and way is None:
        return None
    state = current.copy()
    if name in state.times:
        state.take(name)
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
