"""Which slots a job can use at all if she is to cost less than a limit.

For each step and slot the least that any way through a start there can cost in a yard with nobody else in
it: other jobs only add to that, so a start whose least is the limit or more is not looked at. One forward
and one backward pass over the steps of a job, once.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from scheduling.engine.compiled import NEVER, Compiled, Ints
from scheduling.engine.steptable import StepTable


@dataclass(frozen=True, slots=True)
class Window:
    """The slots in which each step can start, [first, end), and those that any of it can touch, [a, z)."""

    first: list[int]
    end: list[int]
    a: int
    z: int


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
    step = table.steps[-1]
    z = max(max(end), int(table.finish[step.lo : step.hi, first[-1] : end[-1]].max()))
    return Window(first, end, 0 if table.home >= 0 else first[0], min(z + 1, width))


def least_through(
    compiled: Compiled, steps: list[StepTable], costs: dict[str, Ints], begun: tuple[int, Ints] | None
) -> Ints:
    """Steps x W: the least that a way through a start of the step in the slot costs, NEVER if there is none.

    `costs` are the arrays of the job's table of these names; `begun` is the first slot in which what has
    begun can be over, and what standing there costs before each slot.
    """
    stand, late, ends = costs["stand"], costs["late"], costs["ends"]
    width, move = compiled.slots, compiled.problem.move_price
    after: list[Ints] = []  # by step, the last one first: rows x slots, from the start to the end
    for number in range(len(steps) - 1, -1, -1):
        step = steps[number]
        rows = slice(step.lo, step.hi)
        if not after:
            over = late + stand[rows]
        else:
            over = np.full((step.hi - step.lo, width + 1), NEVER)
            follow, next_ = after[-1], steps[number + 1]
            rigged = follow + next_.rig_price
            over[:, :width] = rigged.min(axis=0, initial=NEVER) + move
            for row, olds in enumerate(next_.goes_on):
                for old in olds:
                    up = next_.rigs[row] is not None and next_.rigs[row] == step.rigs[old]
                    np.minimum(over[old, :width], (follow if up else rigged)[row], out=over[old, :width])
            over += stand[rows]
            np.minimum.accumulate(over[:, ::-1], axis=1, out=over[:, ::-1])
        after.append(np.minimum(np.take_along_axis(over, ends[rows], 1) + costs["start_cost"][rows], NEVER))
    after.reverse()
    through = np.full((len(steps), width), NEVER)
    leaves = np.zeros((0, width), dtype=np.int64)
    for number, step in enumerate(steps):
        rows = slice(step.lo, step.hi)
        if step.hi == step.lo:
            break
        if number:
            before = (leaves.min(axis=0) + move) + step.rig_price
            for row, olds in enumerate(step.goes_on):
                for old in olds:
                    up = step.rigs[row] is not None and step.rigs[row] == steps[number - 1].rigs[old]
                    more = 0 if up else int(step.rig_price[row, 0])
                    np.minimum(before[row], leaves[old] + more, out=before[row])
        elif begun is not None:
            before = np.full((step.hi - step.lo, width), move)
            before[step.begun_rows] = 0
            before += begun[1][:width]
            before[:, : begun[0]] = NEVER
        else:
            before = np.broadcast_to(step.rig_price, (step.hi - step.lo, width))
        (before + after[number]).min(axis=0, out=through[number])
        done = np.full((step.hi - step.lo, width + 1), NEVER)
        here = np.arange(step.hi - step.lo)[:, None]
        np.minimum.at(done, (here, ends[rows]), before + costs["start_cost"][rows])
        np.minimum.accumulate(done, axis=1, out=done)
        leaves = np.minimum(done + stand[rows], NEVER)[:, :width]
    np.minimum(through, NEVER, out=through)
    return through
