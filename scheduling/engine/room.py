"""Boats put into a plan that others fill: each where she is cheapest, others making room where they must.

All costs hold the price of each changed placement, so whoever makes room goes back where she was posted if
she can, and otherwise moves no more than pays.
"""

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from scheduling.engine.builds import settle
from scheduling.engine.compiled import Compiled
from scheduling.engine.insertion import Fit, Prices, State, insert
from scheduling.engine.postings import Broken, Way
from scheduling.engine.refit import broken_by, pinned, who
from scheduling.engine.schedule import StepTime

SLOTS_A_CHANGE = 4
"""So many slots in which others are in her way weigh as much as a trip and a change; untuned."""


@dataclass(slots=True)
class Desk:
    """What is known while a plan is reworked: the posted placements, and each boat's way through a yard of
    facts alone."""

    compiled: Compiled
    ways: Mapping[str, Way]
    keep: frozenset[str] = frozenset()  # jobs that must stay in: never left out to save money
    new: frozenset[str] = frozenset()  # jobs that the posted plan knows nothing of: at home nowhere
    wants: dict[str, Fit | None] = field(default_factory=dict)
    homes: dict[str, tuple[StepTime, ...] | None] = field(default_factory=dict)
    tries: int = 0

    def want(self, name: str) -> Fit | None:
        """Her cheapest way beside the facts, all other plans away; None if there is none."""
        if name not in self.wants:
            self.tries += 1
            self.wants[name] = insert(State(self.compiled), name)
        return self.wants[name]

    def loss(self, state: State, name: str) -> int:
        """[minor units] what she costs above her cheapest way beside the facts."""
        want, drop = self.want(name), state.compiled.jobs[name].drop_price
        least = min(want.cost, drop) if want is not None else drop
        return max(state.own.get(name, drop) - least, 0)

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
        return name not in self.new and same(state.times.get(name), self.ways[name])


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
        found = _settled(desk, state, name, frozenset(), None, 1)
        if found is None:
            return None
        state = found
    return state


def _settled(
    desk: Desk, state: State, name: str, stay: frozenset[str], rng: random.Random | None, depth: int
) -> State | None:
    """The State with a job where she is cheapest, or left out if that is cheaper than to make room for her.

    Those in `stay` don't make room. None if she can neither be placed nor left out.
    """
    desk.tries += 1
    without = state.copy()
    fine = settle(state, name)
    if fine and name in state.times:
        return state
    must = name in desk.keep or not fine
    if depth:
        way = squeezed(desk, without, name, stay) if stay else None
        room = make_room(desk, without, name, way, rng, stay, depth - 1)
        if room is not None and (must or room.total < state.total):
            return room
    return None if must else state


def make_room(
    desk: Desk,
    state: State,
    name: str,
    way: Sequence[StepTime] | None = None,
    rng: random.Random | None = None,
    stay: frozenset[str] = frozenset(),
    depth: int = 1,
) -> State | None:
    """A copy of `state` with `name`, who is not in it, on `way` (else the cheapest beside the facts).

    Whoever is in her way is put in anew; of several those that moved already and came last, or with `rng`
    any, but nobody in `stay`. They may make room for themselves in turn, `depth` times. None if that is not
    possible.
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
        able = [o for o in who(state, way, broken) if state.compiled.jobs[o].steps and o not in stay]
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
        found = _settled(desk, state, other, stay | {name}, rng, depth)
        if found is None:
            return None
        state = found
    return state


def squeezed(
    desk: Desk, state: State, name: str, stay: frozenset[str] = frozenset()
) -> tuple[StepTime, ...] | None:
    """The way of a job, not in `state`, at a price wherever others leave no room: few are in her way.

    Those in `stay` are never in her way.
    """
    compiled, problem = state.compiled, state.compiled.problem
    unit = max((problem.change_price + problem.move_price) // SLOTS_A_CHANGE, 1)
    row = np.zeros_like(compiled.plain)
    for number, (kind, _) in enumerate(compiled.rows):
        most = int(compiled.plain[number].max(initial=0))
        if kind not in ("dirt", "tender") and most:
            row[number] = np.where(state.left[number] * 4 < most, max(unit // most, 1), 0)
    full = np.where(state.here >= compiled.room[:, None], unit, 0)
    bare = State(compiled)
    for other in state.out - {name}:
        bare.leave_out(other)
    for other in stay & state.times.keys():
        bare.put(other, state.times[other])
    desk.tries += 1
    fit = insert(bare, name, prices=Prices(full, row, np.zeros(compiled.slots, dtype=np.int64)))
    return fit.times if fit is not None else None


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
