"""The path that the labels lead to, read back from its end: places, starts and leaves of each step."""

import numpy as np

from scheduling.engine.compiled import NEVER, Ints
from scheduling.engine.labels import Labels
from scheduling.engine.schedule import StepTime
from scheduling.engine.steptable import StepTable


def trace(labels: Labels, row: int, start: int) -> tuple[StepTime, ...]:
    """The times that lead to starting the last step in `row` (of its step) at `start`."""
    table, places = labels.table, labels.state.compiled.problem.places
    found: list[StepTime] = []
    leaves = int(table.finish[table.steps[-1].lo + row, start])
    for number in range(len(table.steps) - 1, -1, -1):
        step = table.steps[number]
        this = step.lo + row
        end = int(table.finish[this, start])
        place = places[int(table.place[this])].id
        name, option = table.job.steps[number].id, table.option[this][1]
        found.append(StepTime(step=name, place=place, option=option, start=start, end=end, leaves=leaves))
        leaves = start
        if number:
            row = _came_from(labels, step, row, start, labels.leaves[number - 1], table.steps[number - 1].lo)
            start = _started(labels, number - 1, row, start)
    begun = table.job.begun
    if begun is not None:
        found.append(
            StepTime(
                step=begun.step,
                place=begun.place,
                option=-1,
                start=-1,
                end=begun.end,
                leaves=leaves,
                unit=begun.unit,
            )
        )
    return tuple(reversed(found))


def _came_from(labels: Labels, step: StepTable, row: int, x: int, before: Ints, lo: int) -> int:
    """The row of the step before from which `row` starts at `x` at its cost."""
    table, this = labels.table, step.lo + row
    target = int(labels.starts[table.option[this][0]][row, x])
    column = before[:, x].tolist()
    rig, rig_price = step.rigs[row], int(step.rig_price[row, 0])
    cross = labels.cross(step)
    border = 0
    if cross is not None and row in cross[0]:
        border = int(cross[1][int(np.flatnonzero(cross[0] == row)[0]), x])
    for old in step.goes_on[row]:
        up = rig is not None and table.options[lo + old].rig == rig
        if column[old] + border + (0 if up else rig_price) == target:
            return old
    place = int(table.place[this])
    enter = int(labels.enter(step, first=False)[row, x]) + rig_price
    extra = labels.charges.enter.get((this, x), {})
    for old, label in enumerate(column):
        there = int(table.place[lo + old])
        go = int(labels.go_on_trip[there, x]) if labels.lane else 0
        if there != place and not table.begun[this] and label + go + enter + extra.get(there, 0) == target:
            return old
    raise AssertionError(f"{table.job.id}: no way leads to the label of row {row} at slot {x}")


def _started(labels: Labels, number: int, row: int, leaves: int) -> int:
    """The start of a row's work that can stand on until `leaves` at its cost."""
    table, step = labels.table, labels.table.steps[number]
    this = step.lo + row
    ends = table.ends[this]
    ways = labels.starts[number][row] + labels.start[this]
    fine = ends <= leaves
    if step.wait_max is not None:
        fine &= ends >= leaves - (step.wait_max - step.wait_min)
    ways = np.where(fine, ways, 2 * NEVER)
    start = int(ways.argmin())
    if int(ways[start]) + int(labels.leave[this, leaves]) != int(labels.leaves[number][row, leaves]):
        raise AssertionError(f"{table.job.id}: no start leads to the label of row {row} at slot {leaves}")
    return start


def only_begun(labels: Labels) -> tuple[int, tuple[StepTime, ...]] | None:
    """A job whose last step has begun: she goes when it ends."""
    table, state, begun = labels.table, labels.state, labels.table.job.begun
    if begun is None:
        return None
    end, place = begun.end, table.home
    if labels.views.run_end[table.begun_view, end]:
        return None
    cost = int(table.begun_stand[end] + labels.views.key_end[table.begun_view, end] + table.late[end])
    if labels.lane and end < labels.width:
        ahead, fixed = int(state.ahead[place, end]), int(state.fixed[place, end])
        known = _known_ahead(labels, place, end)
        if fixed > known or 2 * (ahead - fixed) > labels.views.trips[end]:
            return None
        cost += (ahead - fixed) * state.compiled.problem.shunt_price
    time = StepTime(
        step=begun.step, place=begun.place, option=-1, start=-1, end=end, leaves=end, unit=begun.unit
    )
    return cost, (time,)


def _known_ahead(labels: Labels, place: int, x: int) -> int:
    """Boats in front that can't be moved at `x` because of what has begun: facts on both sides."""
    compiled, count = labels.state.compiled, 0
    for job in compiled.problem.jobs:
        if job.begun is not None and job.begun.end > x and not job.begun.option.movable:
            there = compiled.place_index[job.begun.place] in compiled.shallower[place]
            count += there and (job.id in labels.state.times or job.id in labels.state.out)
    return count
