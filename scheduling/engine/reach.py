"""Which slots a job can use at all if she is to cost less than a limit.

For each step and slot the least that any way through a start there can cost in a yard with nobody else in
it: other jobs only add to that, so a start whose least is the limit or more is not looked at. One forward
and one backward pass over the steps of a job, once. In an empty yard places that are offered alike at one
price are one, so each pass looks at one of each kind.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from scheduling.engine.compiled import NEVER, Compiled, Ints


@dataclass(frozen=True, slots=True)
class Window:
    """The slots in which each step can start, [first, end), and those that any of it can touch, [a, z)."""

    first: list[int]
    end: list[int]
    a: int
    z: int


@dataclass(frozen=True, slots=True)
class _Kinds:
    """A step in one place of each kind, R rows."""

    place: list[int]
    rig: list[int]
    rig_price: Ints  # as a column
    ends: Ints  # R x W
    start: Ints  # R x W: what starting costs, less standing until then
    stand: Ints  # R x (W + 1): what standing until then costs


def window_below(table: Any, limit: int) -> Window | None:
    """The window of all ways that cost less than `limit` [minor units]; None if there is none."""
    width = table.late.shape[0] - 1
    if not table.steps:
        return Window([], [], 0, width)
    some = table.through < limit
    first = some.argmax(axis=1).tolist()
    end = (width - some[:, ::-1].argmax(axis=1)).tolist()
    if not some.any(axis=1).all():
        return None
    lo, hi = table.steps[-1].modes[0][0], table.steps[-1].modes[-1][0] + 1
    z = max(max(end), int(table.finish[lo:hi, first[-1] : end[-1]].max()))
    return Window(first, end, 0 if table.home >= 0 else first[0], min(z + 1, width))


def least_through(compiled: Compiled, table: Any) -> Ints:
    """Steps x W: the least that a way through a start of the step there costs, NEVER if there is none."""
    width, move = compiled.slots, compiled.problem.move_price
    steps = _kinds(compiled, table)
    through = np.full((len(steps), width), NEVER)
    if not all(step.place for step in steps):
        return through
    after = _after(steps, table.late, move)
    leaves = np.zeros((0, width), dtype=np.int64)
    for number, step in enumerate(steps):
        if number:
            before = (leaves.min(axis=0) + move) + step.rig_price
            for row, old, up in _going_on(steps[number - 1], step):
                np.minimum(before[row], leaves[old] + (0 if up else step.rig_price[row]), out=before[row])
        else:
            before = _before_first(compiled, table, step)
        (before + after[number]).min(axis=0, out=through[number])
        done = np.full(step.stand.shape, NEVER)
        np.minimum.at(done, (np.arange(len(done))[:, None], step.ends), before + step.start)
        np.minimum.accumulate(done, axis=1, out=done)
        leaves = np.minimum(done + step.stand, NEVER)[:, :width]
    np.minimum(through, NEVER, out=through)
    return through


def _after(steps: list[_Kinds], late: Ints, move: int) -> list[Ints]:
    """By step: rows x slots, the least from a start there to the end."""
    after: list[Ints] = []
    for number in range(len(steps) - 1, -1, -1):
        step = steps[number]
        if not after:
            over = late + step.stand
        else:
            follow, following = after[-1], steps[number + 1]
            rigged = follow + following.rig_price
            over = np.full(step.stand.shape, NEVER)
            over[:, :-1] = rigged.min(axis=0) + move
            for row, old, up in _going_on(step, following):
                np.minimum(over[old, :-1], (follow if up else rigged)[row], out=over[old, :-1])
            over += step.stand
            np.minimum.accumulate(over[:, ::-1], axis=1, out=over[:, ::-1])
        at = step.ends + np.arange(len(over))[:, None] * over.shape[1]
        after.append(np.minimum(over.take(at) + step.start, NEVER))
    after.reverse()
    return after


def _before_first(compiled: Compiled, table: Any, step: _Kinds) -> Ints:
    """Rows x slots: what comes before the first step, by water or road or out of what has begun."""
    begun, width = table.job.begun, compiled.slots
    if begun is None:
        before: Ints = np.repeat(step.rig_price, width, axis=1)
        return before
    before = np.full((len(step.place), width), compiled.problem.move_price)
    before[[row for row, place in enumerate(step.place) if place == len(compiled.room)]] = 0
    wait = table.job.steps[0].wait_min if "chain" not in table.lifted else 0
    rate = int(compiled.price[table.home]) + begun.option.stand_price
    before += rate * compiled.days_before[:width]
    before[:, : begun.end + wait] = NEVER
    return before


def _going_on(before: _Kinds, step: _Kinds) -> list[tuple[int, int, bool]]:
    """(row, row of the step before in the same place, whether its rig is up already)."""
    return [
        (row, old, step.rig[row] > 0 and step.rig[row] == before.rig[old])
        for row, place in enumerate(step.place)
        for old, there in enumerate(before.place)
        if place == there
    ]


def _kinds(compiled: Compiled, table: Any) -> list[_Kinds]:
    """The steps in the first of all places that are offered alike at one price."""
    places = np.where(table.begun, len(compiled.room), table.place).tolist()
    offered: dict[int, list[int]] = {}
    for place, mode in zip(places, table.mode.tolist(), strict=True):
        offered.setdefault(place, []).append(mode)
    price = [*compiled.price.tolist(), -1]
    alike = {(price[place], tuple(modes)): place for place, modes in reversed(offered.items())}
    kept = set(alike.values())
    rates, days = table.view_rate[table.view], compiled.days_before
    one = np.array([place in kept for place in places], dtype=bool)
    found = []
    for step in table.steps:
        own = np.flatnonzero(one[step.lo : step.hi])
        rows = own + step.lo
        modes = table.mode[rows]
        stand = rates[rows] * days
        found.append(
            _Kinds(
                place=step.here[own].tolist(),
                rig=step.rig[own].tolist(),
                rig_price=step.rig_price[own],
                ends=table.ends[modes],
                start=table.start_price[modes] - stand[:, :-1],
                stand=stand,
            )
        )
    return found
