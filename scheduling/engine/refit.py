"""The posted plan put into today's yard again: which boats still fit where they are, and what keeps the rest.

A path that is given, not sought, is held against the rules here: slot by slot on the State, in the order of
RULES.md. (The insertion only looks for lawful paths; it can't say why one is not.)
"""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from scheduling.engine.compiled import Bools, Compiled, put_air
from scheduling.engine.cost import Stay, option_of, stays_of
from scheduling.engine.postings import Broken, Way
from scheduling.engine.problem import Job
from scheduling.engine.schedule import Schedule, StepTime
from scheduling.engine.state import State

NOWHERE = -1
MOST_TRIED = 8
"""Boats in conflict up to which it is tried whose leaving frees most others; beyond, the latest leaves."""


# --- One path against the rules ---------------------------------------------------------------------------
def broken_by(state: State, job_id: str, times: Sequence[StepTime]) -> Broken | None:
    """The first rule that a job, not in `state`, breaks there with these times; None if she fits.

    What others break without her part is not hers. A job with no step left is a fact and breaks nothing.
    """
    job = state.compiled.jobs[job_id]
    if not job.steps:
        return None
    return _alone(state.compiled, job, times) or _with_others(state, job, times)


def _alone(compiled: Compiled, job: Job, times: Sequence[StepTime]) -> Broken | None:
    """Chain, fit, windows, pins and gate: what no other boat has a part in."""
    end = job.begun.end if job.begun else 0
    first = True
    for step, time in zip(job.steps, times[len(times) - len(job.steps) :], strict=True):
        if not first or job.begun:
            wait = time.start - end
            if wait < step.wait_min or (step.wait_max is not None and wait > step.wait_max):
                return Broken(rule="chain", step=step.id, slot=time.start)
        first, end = False, time.end
        if time.start < max(job.earliest, step.earliest):
            return Broken(rule="windows", step=step.id, slot=time.start)
        if step.pin_place not in (None, time.place) or step.pin_start not in (None, time.start):
            return Broken(rule="pins", step=step.id, slot=time.start)
        if step.coats and step.gate is not None and time.start < step.gate:
            return Broken(rule="gate", step=step.id, slot=time.start)
    for stay in stays_of(job.id, times):
        place = compiled.place_index[stay.place]
        if stay.start < 0:
            continue
        if not compiled.fits(job, place):
            return Broken(rule="fit", step=stay.pieces[0].step, slot=stay.start, what=stay.place)
        shut = _first(compiled.closed[place], stay.start, stay.end)
        if shut is not None:
            return Broken(rule="windows", step=_at(stay.pieces, shut), slot=shut, what=stay.place)
    return None


def _with_others(state: State, job: Job, times: Sequence[StepTime]) -> Broken | None:
    stays = stays_of(job.id, times)
    index = [state.compiled.place_index[stay.place] for stay in stays]
    for stay, place in zip(stays, index, strict=True):
        found = _no_room(state, job, stay, place) or _in_the_way(state, job, stay, place)
        if found:
            return found
    return _air(state, job, times) or _swaps(state, job, stays, index) or _hands(state, job, times)


def _no_room(state: State, job: Job, stay: Stay, place: int) -> Broken | None:
    full, start = state.here[place] >= state.compiled.room[place], stay.start
    if start < 0:  # with boats that had begun she shares as they stand; what has begun is a fact
        full &= state.here[place] > state.begun[place]
        start = job.begun.end if job.begun else 0
    x = _first(full, start, stay.end)
    return None if x is None else Broken(rule="stand", step=_at(stay.pieces, x), slot=x, what=stay.place)


def _in_the_way(state: State, job: Job, stay: Stay, place: int) -> Broken | None:
    compiled, known = state.compiled, job.begun.end if job.begun else 0
    if compiled.shallower[place]:
        for x in (stay.start, stay.end):
            if 0 <= x < compiled.slots and state.fixed[place, x]:
                return Broken(rule="lane", step=_at(stay.pieces, x), slot=x, what=stay.place)
    if compiled.deeper[place]:
        passing = state.events[place].copy()
        passing[:known] -= state.going[place, :known]
        for piece in stay.pieces:
            if not option_of(job, piece).movable:
                met = _first(passing > 0, max(piece.start, stay.start + 1, 0), piece.leaves)
                if met is not None:
                    return Broken(rule="lane", step=piece.step, slot=met, what=stay.place)
    return None


def _air(state: State, job: Job, times: Sequence[StepTime]) -> Broken | None:
    compiled = state.compiled
    put_air(compiled, state.left, job, -1)  # her own dirt doesn't spoil her own work
    try:
        for time in times:
            if time.option < 0:
                continue
            takes = compiled.takes(option_of(job, time), compiled.place_index[time.place])
            for row in (*takes.feels, *takes.harms):
                x = _first(state.left[row] < 0, time.start, time.end)
                if x is not None:
                    return Broken(rule="air", step=time.step, slot=x, what=compiled.rows[row][1][1])
    finally:
        put_air(compiled, state.left, job, 1)
    return None


def _swaps(state: State, job: Job, stays: Sequence[Stay], index: Sequence[int]) -> Broken | None:
    if state.compiled.problem.swaps == "free":
        return None
    for x, come_from, go_to in _passages(state, stays, index):
        if state.arrows[x] and state.swap_change(x, job.id, come_from, go_to) is None:
            stay = next((s for s in stays if s.start <= x < s.end), stays[-1])
            return Broken(rule="stand", step=_at(stay.pieces, x), slot=x)
    return None


def _passages(state: State, stays: Sequence[Stay], index: Sequence[int]) -> Iterator[tuple[int, int, int]]:
    """(slot, place before it, place from it on) wherever she may take part in a swap of others."""
    before = NOWHERE
    for stay, place in zip(stays, index, strict=True):
        if stay.start >= 0:
            yield stay.start, before, place
        for x in range(max(stay.start + 1, 0), min(stay.end, state.compiled.slots)):
            if len(state.arrows[x]) > 1:
                yield x, place, place
        before = place
    if stays[-1].end < state.compiled.slots:
        yield stays[-1].end, before, NOWHERE


def _hands(state: State, job: Job, times: Sequence[StepTime]) -> Broken | None:
    """Hands, kits and trips, hers and those that others make for her: what is short once she is in."""
    before = state.left.copy()
    state.put(job.id, times)
    short = (state.left < 0) & (state.left < before)
    state.take(job.id)
    rows = state.compiled.rows
    for row, x in np.argwhere(short).tolist():
        kind, what = rows[row]
        if kind not in ("dirt", "tender"):
            name = " or ".join(sorted(what)) if kind == "skills" else str(what)
            return Broken(rule="hands", step=_at(times, x), slot=x, what=name)
    return None


def _first(wrong: Bools, start: int, end: int) -> int | None:
    """The first slot of [start, end) in which something is wrong."""
    found = np.flatnonzero(wrong[start:end])
    return start + int(found[0]) if found.size else None


def _at(times: Sequence[StepTime], x: int) -> str:
    """The step she is in at slot x."""
    return next((time.step for time in reversed(times) if time.start <= x), times[0].step)


def who(state: State, times: Sequence[StepTime], broken: Broken) -> tuple[str, ...]:
    """The jobs in `state` that take part in what a job that is not in it breaks with these times."""
    x, compiled = broken.slot, state.compiled
    index = compiled.place_index
    found = []
    for other, path in state.times.items():
        there = next((t for t in path if t.start <= x < t.leaves), None)
        near = there or next((t for t in path if t.leaves == x), None)
        around = [
            t for t in path if t.start <= x + _settles(compiled, t) and x < t.end + _settles(compiled, t)
        ]
        coming = any(x in (t.start, t.leaves) for t in path)
        if broken.rule == "stand":
            involved = there is not None and there.place == broken.what if broken.what else coming
        elif broken.rule == "lane" and near is not None:
            mine = index[broken.what]
            behind = index[near.place] in compiled.deeper[mine]
            before = next((t for t in path if t.leaves == x), near)
            behind |= index[before.place] in compiled.deeper[mine]
            involved = index[near.place] in compiled.shallower[mine] or (behind and coming)
        elif broken.rule == "air":
            mine = index[next(t for t in times if t.step == broken.step).place]
            involved = any(_dirties(compiled, other, t, mine, broken.what) for t in around)
        elif broken.rule == "hands" and near is not None:
            option = option_of(compiled.jobs[other], near)
            uses = {**option.skills, **option.uses, **option.holds}
            trips = compiled.problem.mover == broken.what and (coming or _one_lane(compiled, near, times, x))
            involved = trips or any(uses.get(one) for one in broken.what.split(" or "))
        else:
            involved = False
        if involved:
            found.append(other)
    return tuple(found)


def _one_lane(compiled: Compiled, near: StepTime, times: Sequence[StepTime], x: int) -> bool:
    """Whether a boat stands in the lane in which a job comes or goes at slot x, or is passed."""
    lane = compiled.problem.places[compiled.place_index[near.place]].lane
    mine = [t.place for t in times if t.start <= x <= t.leaves]
    return lane is not None and any(
        compiled.problem.places[compiled.place_index[place]].lane == lane for place in mine
    )


def _settles(compiled: Compiled, time: StepTime) -> int:
    name = compiled.problem.places[compiled.place_index[time.place]].air
    return next((air.settle for air in compiled.problem.airs if air.id == name), 0)


def _dirties(compiled: Compiled, job: str, time: StepTime, place: int, kind: str) -> bool:
    """Whether work of a job makes dirt, or is spoiled by it, in the air of a place."""
    option, places = option_of(compiled.jobs[job], time), compiled.problem.places
    same = places[compiled.place_index[time.place]].air == places[place].air
    return same and not option.own_air and kind in (*option.makes, *option.spoiled_by)


# --- All of them ------------------------------------------------------------------------------------------
def refit(compiled: Compiled, found: Mapping[str, Way], posted: Schedule) -> tuple[State, list[str]]:
    """A State with every job that still fits where she was posted, and the jobs that must be put in anew.

    Those that the posted plan leaves out stay out. Of jobs that are in each other's way as few as may be are
    taken out: none of them could be put back without breaking a rule.
    """
    state, bare = State(compiled), State(compiled)
    fine: dict[str, Sequence[StepTime]] = {}
    out: list[str] = []
    clash: list[str] = []
    for name, way in found.items():
        if way is None and name in posted.unplaced:
            state.leave_out(name)
        elif way is None or isinstance(way, Broken):
            out.append(name)  # new, or posted where she can't be at all
        else:
            fine[name] = way
    for name in sorted(fine, key=lambda name: (bool(compiled.jobs[name].steps), *_when(fine[name]), name)):
        if broken_by(state, name, fine[name]) is None:
            state.put(name, fine[name])
        elif broken_by(bare, name, fine[name]) is not None:
            out.append(name)  # the yard itself does not take her there
        else:
            clash.append(name)
    if clash:
        for name in clash:
            state.put(name, fine[name])
        out += _clear(state)
        for name in reversed(out):
            if name in fine and broken_by(state, name, fine[name]) is None:
                state.put(name, fine[name])
    return state, [name for name in out if name not in state.times]


def _when(times: Sequence[StepTime]) -> tuple[int, int]:
    """Start of the first planned step, and end."""
    return times[1].start if times[0].option < 0 and len(times) > 1 else times[0].start, times[-1].end


def _clear(state: State) -> list[str]:
    """Take out jobs until nobody breaks a rule; who is gone, in turn."""
    gone: list[str] = []
    clash = conflicts(state, list(state.times))
    while clash:
        latest = {name: (pinned(state, name), -_when(state.times[name])[0], name) for name in clash}
        victim = min(clash, key=lambda name: latest[name])
        if 1 < len(clash) <= MOST_TRIED:
            left: dict[str, int] = {}
            for name in clash:
                times = state.take(name)
                left[name] = len(conflicts(state, [other for other in clash if other != name]))
                state.put(name, times)
            victim = min(clash, key=lambda name: (latest[name][0], left[name], *latest[name][1:]))
        state.take(victim)
        gone.append(victim)
        clash = conflicts(state, [name for name in clash if name != victim])
    return gone


def conflicts(state: State, names: Sequence[str]) -> dict[str, Broken]:
    """Which of these jobs, all in `state`, break a rule as they stand there."""
    found = {}
    for name in names:
        times = state.take(name)
        broken = broken_by(state, name, times)
        state.put(name, times)
        if broken is not None:
            found[name] = broken
    return found


def pinned(state: State, name: str) -> bool:
    """Whether a job has a step that must start on a day."""
    return any(step.pin_start is not None for step in state.compiled.jobs[name].steps)
