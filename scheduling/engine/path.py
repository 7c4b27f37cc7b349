"""The path that the labels lead to, read back from its end: places, starts and leaves of each step."""

from scheduling.engine.compiled import NEVER
from scheduling.engine.cost import begun_time
from scheduling.engine.labels import Labels
from scheduling.engine.schedule import StepTime


def trace(labels: Labels, row: int, start: int) -> tuple[StepTime, ...]:
    """The times that lead to starting the last step in `row` (of its step) at `start`."""
    table, places = labels.table, labels.state.compiled.problem.places
    found: list[StepTime] = []
    leaves = int(table.finish[table.mode[table.steps[-1].lo + row], start])
    for number in range(len(table.steps) - 1, -1, -1):
        step = table.steps[number]
        this = step.lo + row
        mode = int(table.mode[this])
        end = int(table.finish[mode, start])
        place = places[int(table.place[this])].id
        name, option = table.job.steps[number].id, table.option[mode]
        found.append(StepTime(step=name, place=place, option=option, start=start, end=end, leaves=leaves))
        leaves = start
        if number:
            row = _came_from(labels, number, row, start)
            start = _started(labels, number - 1, row, start)
        elif int(table.place[this]) == table.home and not table.begun[this]:
            labels.came_back = True
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


def _came_from(labels: Labels, number: int, row: int, x: int) -> int:
    """The row of the step before from which `row` of step `number` starts at `x` at its cost.

    Sets `labels.came_back` if the only such row is in the same place, left and come back to.
    """
    table, step = labels.table, labels.table.steps[number]
    this, lo, at = step.lo + row, table.steps[number - 1].lo, x - labels.first[number]
    target = int(labels.starts[number][row, at])
    column = labels.leaves[number - 1][:-1, at].tolist()
    rig, rig_price, goes_on = int(step.rig[row]), int(step.rig_price[row, 0]), step.goes_on(row)
    border, cross = 0, labels.cross(number) if goes_on else None
    if cross is not None:
        border = int(cross[1][cross[0] == row, at].sum())
    for old in goes_on:
        paid = rig_price if step.before_rig[old] != rig else 0
        if column[old] + border + paid == target:
            return old
    place, extra = int(table.place[this]), labels.charges.enter.get((this, x), {})
    coming = target - labels.enter_at(this, x) - rig_price
    back = None
    for old, label in enumerate(column):
        if label > coming:
            continue
        there = int(table.place[lo + old])
        go = int(labels.going[there, x - labels.a]) if labels.lane else 0
        if label + go + extra.get(there, 0) == coming:
            if there != place:
                return old
            back = old
    if back is None:
        raise AssertionError(f"{table.job.id}: no way leads to the label of row {row} at slot {x}")
    labels.came_back = True
    return back


def _started(labels: Labels, number: int, row: int, leaves: int) -> int:
    """The start of a row's work that can stand on until `leaves` at its cost."""
    table, step = labels.table, labels.table.steps[number]
    this, first, end = step.lo + row, labels.first[number], labels.end[number]
    mode = int(table.mode[this])
    kept = labels.ways[number]
    target = (
        labels.leaves[number][row, leaves - labels.first[number + 1]] - labels.leave[this, leaves - labels.a]
    )
    if kept is not None:  # the first start with the least so far
        index = int(table.last_start[mode, leaves])
        ways = kept[row, first + 1 : min(index, end) + 1]
        start = int((ways > target).sum())
        found = ways[min(start, len(ways) - 1)]
    else:
        ends = table.ends[mode, first:end]
        ways = labels.starts[number][row] + labels.start[this, first - labels.a : end - labels.a]
        ways[ends > leaves] = 2 * NEVER
        if step.wait_max is not None:
            ways[ends < leaves - (step.wait_max - step.wait_min)] = 2 * NEVER
        start = int(ways.argmin())
        found = ways[start]
    if found != target:
        raise AssertionError(f"{table.job.id}: no start leads to the label of row {row} at slot {leaves}")
    return first + start


def only_begun(labels: Labels) -> tuple[int, tuple[StepTime, ...]] | None:
    """A job whose last step has begun: she goes when it ends."""
    table, state, begun = labels.table, labels.state, labels.table.job.begun
    if begun is None:
        return None
    end, place = begun.end, table.home
    stood = int(labels.stood(table.begun_view, slice(end, end + 1))[0])
    cost = int(table.late[end]) + stood
    if cost >= NEVER:
        return None
    if labels.lane and end < state.compiled.slots:
        ahead, fixed = int(state.ahead[place, end]), int(state.fixed[place, end])
        known = _known_ahead(labels, place, end)
        if fixed > known or 2 * (ahead - fixed) > labels.views.trips[end]:
            return None
        cost += (ahead - fixed) * state.compiled.problem.shunt_price
        if labels.prices is not None and labels.prices.lanes is not None:
            cost += int(labels.prices.lanes.go[place, end])
    return cost, (begun_time(begun),)


def _known_ahead(labels: Labels, place: int, x: int) -> int:
    """Boats in front that can't be moved at `x` because of what has begun: facts on both sides."""
    compiled, count = labels.state.compiled, 0
    for job in compiled.problem.jobs:
        if job.begun is not None and job.begun.end > x and not job.begun.option.movable:
            there = compiled.place_index[job.begun.place] in compiled.shallower[place]
            count += there and (job.id in labels.state.times or job.id in labels.state.out)
    return count
