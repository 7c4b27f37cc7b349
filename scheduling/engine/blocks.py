"""What is in the way of one stage in one place from one slot on, all else as planned: checks, no search.

Each rule is looked at on the arrays of a state without the boat that is asked about; what is found names the
other boat, person, kit or date, so that a reader can go there.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from scheduling.engine.around import Around, Use, Wish
from scheduling.engine.compiled import Compiled, Takes
from scheduling.engine.cost import Stay, option_of, stays_of
from scheduling.engine.schedule import Rule, StepTime

Kind = Literal[
    "today",
    "arrival",
    "hold",
    "pin",
    "gate",
    "begun",
    "step",
    "window",
    "closed",
    "job",
    "swap",
    "resource",
    "hand",
    "size",
    "posted",
    "money",
    "free",
]
"""What binds: the first day, when she comes, somebody waited for, a pin, signed dry, work that has begun,
her own stage before or after, no day on which it can start, a closed place, another boat, no place to change
round, a kit, people's hours, her size, the price of a change, other money; nothing ("free")."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One thing in the way in slots [start, until)."""

    rule: Rule
    kind: Kind
    who: str  # the id of what binds; for hours the skills, joined by " or "
    start: int
    until: int
    by: str = ""  # the other job that has it, if it is one
    by_step: str = ""  # the step of that job that ends it when it starts, or that takes it
    place: str = ""  # the place it is about, where that is not the one asked for
    what: str = ""  # the kind of dirt, the dimension of size
    passes: bool = False  # she herself would be in the other's way, or spoil her work


def blocks(around: Around, asked: Wish, now: StepTime) -> list[Block]:
    """Everything in the way of a wish; `now` is the piece as planned, whose room she has already.

    The job must be out of the state (`Around.without`).
    """
    found = list(_own(asked))
    if asked.job.begun is not None and asked.start < asked.job.begun.end:
        return found
    for rule in (_windows, _fit, _stand, _lane, _air, _hands):
        found += rule(around, asked, now)
    return _merged(found + _together(around, asked, now))


def _together(around: Around, asked: Wish, now: StepTime) -> list[Block]:
    """What shows only with her in the yard: trips, with the shunts and swaps of all, and no place to swap."""
    compiled, state = around.compiled, around.state
    found: list[Block] = []
    place, mover = compiled.problem.places[asked.place], compiled.mover
    as_planned = asked.before is not None and asked.before.place == now.place == place.id and asked.after
    if as_planned and place.lane is None:
        return found  # she comes, stands and goes as planned
    slots = range(asked.start, min(max(now.leaves, asked.end) + 1, compiled.slots))
    index = compiled.place_index
    lane = any(
        compiled.problem.places[index[name]].lane is not None for name in {t.place for t in asked.times}
    )
    if not lane and not any(state.arrows[x] for x in slots):  # her own trips are all there is
        trips = [b.start for a, b in pairwise(asked.times) if a.place != b.place and b.start >= asked.start]
        short = [x for x in trips if mover is not None and state.left[mover, x] < 1]
        return [short_of(around, asked, mover, x, 1) for x in short if mover is not None]
    state.put(asked.job.id, asked.times)
    try:
        if mover is not None:
            found += [short_of(around, asked, mover, x, 1) for x in slots if state.left[mover, x] < 0]
        for x in slots if compiled.problem.swaps != "free" else ():
            if len(state.arrows[x]) > 1 and state.swap_change(x, "", -1, -1) is None:
                found.append(replace(_block(asked, "stand", "swap", place.id, x + 1, x), place=place.id))
    finally:
        state.take(asked.job.id)
    return found


def _merged(found: list[Block]) -> list[Block]:
    """One block for each thing: one boat's dirt, and no skills that a part of them explains."""
    hours = [set(b.who.split(" or ")) for b in found if b.kind == "hand"]
    merged: dict[object, Block] = {}
    for block in found:
        if block.kind == "hand" and any(part < set(block.who.split(" or ")) for part in hours):
            continue
        key = (block.rule, block.kind, block.who, block.passes)
        old = merged.get(key)
        if old is not None:
            both = " and ".join(sorted({*old.what.split(" and "), *block.what.split(" and ")}))
            until = max(old.until, block.until)
            block = replace(old, start=min(old.start, block.start), until=until, what=both)
        merged[key] = block
    return list(merged.values())


def _block(asked: Wish, rule: Rule, kind: Kind, who: str, until: int, start: int | None = None) -> Block:
    return Block(rule=rule, kind=kind, who=who, start=asked.start if start is None else start, until=until)


def _own(asked: Wish) -> Iterator[Block]:
    """What is the same in every place: her coming, holds, pins, signed dry, her other stages."""
    job, step, start = asked.job, asked.step, asked.start
    if step.pin_start not in (None, start):
        yield _block(asked, "pins", "pin", step.id, step.pin_start or 0)
    if start < job.earliest:
        yield _block(asked, "windows", "arrival", job.id, job.earliest)
    if start < step.earliest:
        yield _block(asked, "windows", "hold", step.id, step.earliest)
    if step.coats and step.gate is not None and start < step.gate:
        yield _block(asked, "gate", "gate", step.id, step.gate)
    before, after = asked.before, asked.after
    if before is not None and start < before.end + step.wait_min:
        kind: Kind = "begun" if before.option < 0 and not step.wait_min else "step"
        yield _block(asked, "chain", kind, before.step, before.end + step.wait_min)
    if after is not None:
        following = job.steps[asked.number + 1 - (job.begun is not None)]
        wait = after.start - asked.end
        if wait < following.wait_min or (following.wait_max is not None and wait > following.wait_max):
            yield _block(asked, "chain", "step", after.step, after.start)


def _fresh(asked: Wish, now: StepTime, compiled: Compiled) -> range:
    """The slots in which she would stand in the place and does not as planned."""
    here = compiled.problem.places[asked.place].id
    stays_on = asked.before is not None and asked.before.place == here
    leaves = asked.times[asked.number].leaves
    return range(now.start if stays_on else asked.start, now.start if now.place == here else leaves)


def _windows(around: Around, asked: Wish, now: StepTime) -> Iterator[Block]:
    compiled = around.compiled
    table = compiled.books.tables[asked.way.table or ""]
    if not asked.possible:
        later = (s for s in range(asked.start, compiled.slots) if table.finish[s] is not None)
        earlier = (s for s in range(asked.start, -1, -1) if table.finish[s] is not None)
        until = next(later, compiled.slots)
        yield _block(asked, "windows", "window", table.id, until, next(earlier, -1) + 1)
    fresh = _fresh(asked, now, compiled)
    shut = compiled.closed[asked.place, fresh.start : fresh.stop]
    if shut.any():
        until = fresh.start + int(np.flatnonzero(shut)[-1]) + 1
        yield _block(asked, "windows", "closed", compiled.problem.places[asked.place].id, until)


def _fit(around: Around, asked: Wish, now: StepTime) -> Iterator[Block]:
    place = around.compiled.problem.places[asked.place]
    if asked.step.pin_place not in (None, place.id):
        yield _block(asked, "pins", "pin", asked.step.id, around.compiled.slots)
    if place.id == now.place or (asked.job.begun is not None and asked.job.begun.place == place.id):
        return
    for name, limit in place.limits.items():
        if asked.job.size.get(name, 0) > limit:
            yield replace(_block(asked, "fit", "size", place.id, around.compiled.slots), what=name)


def _stand(around: Around, asked: Wish, now: StepTime) -> Iterator[Block]:
    compiled, state, job = around.compiled, around.state, asked.job
    fresh, room = _fresh(asked, now, compiled), compiled.room[asked.place]
    full = (state.here[asked.place] >= room)[fresh.start : fresh.stop]
    while full.any():
        x = fresh.start + int(np.flatnonzero(full)[-1])
        there = [s for s in around.stays[asked.place] if s.job != job.id and s.start <= x < s.end]
        if not there:
            return
        first = min(there, key=lambda s: (s.end, s.job))
        block = _block(asked, "stand", "job", first.job, first.end)
        yield replace(block, by=first.job, by_step=around.after(first))
        full[max(first.start - fresh.start, 0) : max(first.end - fresh.start, 0)] = False


def _lane(around: Around, asked: Wish, now: StepTime) -> Iterator[Block]:
    compiled, state = around.compiled, around.state
    index = compiled.place_index
    if not any(compiled.shallower[p] or compiled.deeper[p] for p in {index[t.place] for t in asked.times}):
        return
    for stay in stays_of(asked.job.id, asked.times):
        place = index[stay.place]
        for x in sorted({stay.start, stay.end}):
            if compiled.shallower[place] and 0 <= x < compiled.slots and state.fixed[place, x] > 0:
                for front in compiled.shallower[place]:
                    for other in around.stays[front]:
                        if other.job != asked.job.id and _stands_fast(around, other, x):
                            block = _block(asked, "lane", "job", other.job, other.end, x)
                            named = compiled.problem.places[front].id
                            yield replace(block, by=other.job, by_step=around.after(other), place=named)
        for piece in stay.pieces if compiled.deeper[place] else ():
            if not option_of(asked.job, piece).movable:
                yield from _passed(around, asked, place, max(piece.start, stay.start + 1, 0), piece.leaves)


def _stands_fast(around: Around, stay: Stay, x: int) -> bool:
    job = around.compiled.jobs[stay.job]
    if not (stay.start < x < stay.end and (stay.job in around.times or stay.job in around.state.out)):
        return False
    piece = next(p for p in stay.pieces if p.start <= x < p.leaves)
    return not option_of(job, piece).movable


def _passed(around: Around, asked: Wish, place: int, start: int, end: int) -> Iterator[Block]:
    compiled = around.compiled
    known = asked.job.begun.end if asked.job.begun is not None else 0
    for x in range(start, min(end, compiled.slots)):
        passing = around.state.events[place, x] - (around.state.going[place, x] if x < known else 0)
        if passing <= 0:
            continue
        for behind in compiled.deeper[place]:
            for other in around.stays[behind]:
                if other.job != asked.job.id and x in (other.start, other.end):
                    times = around.times.get(other.job, ())
                    step = next((t.step for t in times if t.start == x), around.after(other))
                    named = compiled.problem.places[place].id
                    block = _block(asked, "lane", "job", other.job, x + 1, x)
                    yield replace(block, by=other.job, by_step=step, place=named, passes=True)


def _takes(around: Around, asked: Wish) -> Takes:
    return around.compiled.takes(asked.way, asked.place)


def _air(around: Around, asked: Wish, now: StepTime) -> Iterator[Block]:
    takes, left = _takes(around, asked), around.state.left
    for row in (*takes.feels, *takes.harms):
        end = asked.end + (takes.settle if row in takes.harms else 0)
        bad = left[row, asked.start : asked.end] < 0
        if not bad.any():
            continue
        slots = asked.start + np.flatnonzero(bad)
        kind = around.compiled.rows[row][1][1]
        for use in around.uses[row]:
            if use.job != asked.job.id and ((use.start <= slots) & (slots < use.end)).any():
                until = use.end if row in takes.feels else min(use.end, end)
                block = _block(asked, "air", "job", use.job, until)
                yield replace(block, by=use.job, by_step=use.step, what=kind, passes=row in takes.harms)


def _hands(around: Around, asked: Wish, now: StepTime) -> Iterator[Block]:
    state, takes = around.state, _takes(around, asked)
    leaves, held = asked.times[asked.number].leaves, dict(takes.hold)
    wants = [(row, amount + held.get(row, 0), asked.end, takes.open) for row, amount in takes.work]
    wants += [(row, amount, leaves, None) for row, amount in takes.hold]
    named: set[int] = set()
    for row, amount, end, opened in wants:
        short = state.left[row, asked.start : end] < amount
        if opened is not None:
            short = short & opened[asked.start : end]
        if short.any() and row not in named:
            named.add(row)
            yield short_of(around, asked, row, asked.start + int(np.flatnonzero(short)[-1]), amount)


def short_of(around: Around, asked: Wish, row: int, x: int, amount: int) -> Block:
    """Too little of a row in slot x: who has it, unless there would be too little without anybody."""
    compiled = around.compiled
    kind, what = compiled.rows[row]
    who = " or ".join(sorted(what)) if kind == "skills" else what
    block = _block(asked, "hands", "hand" if kind == "skills" else "resource", who, x + 1)
    if compiled.plain[row, x] < amount:
        return block
    users = [u for u in around.uses[row] if u.job != asked.job.id and u.start <= x < u.end]
    if row == compiled.mover:
        movers = {name for _, _, name in around.state.arrows[x]} - {asked.job.id}
        users += [
            Use(name, t.step, x, x + 1, 1) for name in movers for t in around.times[name] if t.start == x
        ]
    if not users:
        return block
    use = max(users, key=lambda u: (u.end == x + 1, u.amount, u.job))
    return replace(block, by=use.job, by_step=use.step)
