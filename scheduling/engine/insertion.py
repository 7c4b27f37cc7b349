"""The cheapest way to fit one job into a schedule, all other jobs fixed: exact under all nine rules.

A shortest path over (step, row, slot), where a row is an option in a place, on arrays of labels. Standing
on is one running minimum: each label carries the number of its unbroken run, so a minimum never crosses a
break. What couples two ends of one trip (swap cycles, shunts at both ends) is left out at first, tried on
the path that comes out, and charged there before trying again: each round is a lower bound, so the first
path without a surprise is the cheapest.
"""

from dataclasses import dataclass

import numpy as np

from scheduling.engine.compiled import NEVER, Compiled, Ints, compile_problem, put_air
from scheduling.engine.jobtable import JobTable, StepTable, job_table
from scheduling.engine.schedule import Rule, StepTime
from scheduling.engine.state import State
from scheduling.engine.surprises import charge_merging_rings, find_surprises
from scheduling.engine.views import Charges, Prices, Views, look

__all__ = ["Compiled", "Fit", "Prices", "State", "compile_problem", "insert", "stand_out"]

NO_RULES: frozenset[Rule] = frozenset()


@dataclass(frozen=True, slots=True)
class Fit:
    """What the total cost rises by with the job placed so [minor units], and her times."""

    cost: int
    times: tuple[StepTime, ...]


def insert(
    state: State,
    job_id: str,
    *,
    lifted: frozenset[Rule] = NO_RULES,
    prices: Prices | None = None,
    hurry: bool = False,
    limit: int = NEVER,
) -> Fit | None:
    """The cheapest way to place a job that is not in `state`, or None if there is none.

    The cost counts what the plan pays more because of her (shunts and swaps of others, too), against her
    not being there, without her `drop_price`; with `prices`, what she pays at them as well. With `hurry`
    the earliest finish comes before all cost (and `cost` is of no use). Ways that cost `limit` or more are
    as good as none.
    """
    table = job_table(state.compiled, job_id, lifted, hurry)
    begun = table.job.begun is not None
    if begun:
        put_air(state.compiled, state.left, table.job, -1)  # her own dirt doesn't spoil her own work
    try:
        charges = Charges()
        charge_merging_rings(state, table, charges, prices)
        while True:
            fit = Search(state, table, charges, prices).run(limit)
            if fit is None or not find_surprises(state, table, fit.times, charges, prices):
                return fit
    finally:
        if begun:
            put_air(state.compiled, state.left, table.job, 1)


def stand_out(state: State, job_id: str) -> int | None:
    """What the plan pays more if this job, not in `state`, is left out: shunts of others where she stands.

    None if she has begun and can't stand in her place until the end of the axis.
    """
    table = job_table(state.compiled, job_id)
    if table.job.begun is None:
        return 0
    views, number = look(state, table, Charges(), None), table.out_view
    if views.run_end[number, -1]:
        return None
    return int(views.key_end[number, -1])


class Search:
    """One round: the labels of one job on one state, and the path they lead to."""

    def __init__(self, state: State, table: JobTable, charges: Charges, prices: Prices | None) -> None:
        self.state, self.table, self.charges, self.prices = state, table, charges, prices
        self.views: Views = look(state, table, charges, prices)
        self.width = state.compiled.slots
        self.busy = self.views.cross is not None and bool(self.views.cross.any())
        self.crosses: dict[int, tuple[Ints, Ints] | None] = {}
        self._trips()
        self._starts()

    # --- arrays for all steps at once -----------------------------------------------------------------------
    def _trips(self) -> None:
        """What coming and going costs by place: shunts, and the trip itself where it is one."""
        problem, trips = self.state.compiled.problem, self.views.trips
        toll = self.prices.trip if self.prices is not None else np.zeros(self.width, dtype=np.int64)
        self.step_over: Ints = (
            np.where(trips < 1, NEVER, problem.move_price) + toll
        )  # a trip with nobody in the way
        self.lane = self.table.in_lane and "lane" not in self.table.lifted
        if not self.lane:
            return
        ahead, fixed = self.state.ahead, self.state.fixed > 0
        shunts = ahead * (problem.shunt_price + 2 * toll)
        alone = np.where(fixed | (2 * ahead > trips), NEVER, shunts)
        with_trip = np.where(fixed | (2 * ahead + 1 > trips), NEVER, shunts)
        self.come_first, self.go_last, self.go_on_trip = alone, alone, with_trip
        self.come_by_trip = with_trip + self.step_over
        self.ahead, self.fixed = ahead, fixed

    def _starts(self) -> None:
        table, views, width = self.table, self.views, self.width
        fine = views.run_end.take(table.at_end) == views.run[table.view]
        fine &= table.lawful
        if table.need_rows.size:
            fine &= views.bad.take(table.needs_end) == views.bad[table.need, :width]
        for row, use in table.mover_use.items():
            fine[row] &= self._crosses_working(row, use)
        self.start = np.where(fine, table.start_cost, NEVER)
        if views.price is not None:
            self.start += np.where(
                fine, views.price.take(table.needs_end) - views.price[table.need, :width], 0
            )
        self.start -= views.key[table.view]
        self.leave = table.stand + views.key_end[table.view]

    def _crosses_working(self, row: int, use: Ints) -> Ints:
        """Where work that uses the mover itself still leaves trips for those who pass behind it."""
        events = self.state.events[self.table.place[row]]
        barred = (events > 0) & (2 * events + use > self.views.trips)
        count = np.cumsum(barred)
        fine: Ints = count[np.maximum(self.table.finish[row] - 1, 0)] == count
        return fine

    def _enter(self, step: StepTable, first: bool) -> Ints:
        """Rows x slots: what coming into each row costs."""
        table, rows = self.table, slice(step.lo, step.hi)
        if self.lane and step.deep:
            cost: Ints = (self.come_first if first else self.come_by_trip)[table.place[rows]]
        elif first:
            cost = np.zeros((step.hi - step.lo, self.width), dtype=np.int64)
        else:
            cost = np.broadcast_to(self.step_over, (step.hi - step.lo, self.width))
        for row in range(step.lo, step.hi):
            if row in table.mover_use:
                ahead = self.ahead[table.place[row]] if self.lane else 0
                short = (0 if first else 1) + 2 * ahead + table.mover_use[row] > self.views.trips
                cost = cost.copy()
                cost[row - step.lo] += np.where(short, NEVER, 0)
        return cost

    def _cross(self, step: StepTable) -> tuple[Ints, Ints] | None:
        """(rows, what going on in the same place across each slot's border costs them), where it costs."""
        if step.lo not in self.crosses:
            self.crosses[step.lo] = self._find_cross(step)
        return self.crosses[step.lo]

    def _find_cross(self, step: StepTable) -> tuple[Ints, Ints] | None:
        table, cross = self.table, self.views.cross
        own = [row for row in range(step.lo, step.hi) if row in table.mover_use] if self.lane else []
        rows = step.front_rows if not own and not self.charges.stay else np.arange(step.hi - step.lo)
        if cross is None or not rows.size:
            return None
        cost = cross[table.view[step.lo + rows]]
        for row in own:
            events = self.state.events[table.place[row]]
            short = (events > 0) & (2 * events + table.mover_use[row] > self.views.trips)
            cost[row - step.lo] = np.where(short, NEVER, cost[row - step.lo])
        return rows, cost

    # --- labels ---------------------------------------------------------------------------------------------
    def run(self, limit: int) -> Fit | None:
        """The cheapest path, or None if it costs `limit` or more."""
        table = self.table
        self.limit = min(limit, NEVER // 2)
        self.begun_labels = self._begun() if table.job.begun is not None else None
        if not table.steps:
            fit = self._only_begun()
            return fit if fit is not None and fit.cost < limit else None
        self.starts: list[Ints] = []  # by step: rows x slots, cheapest way to start there
        self.leaves: list[Ints] = []  # by step: rows x slots, cheapest way to be done and still there
        before = np.zeros(0, dtype=np.int64)
        for number, step in enumerate(table.steps):
            if number:
                labels = self._follow(self.leaves[-1], table.steps[number - 1].groups, before, step)
            elif self.begun_labels is not None:
                home = np.array([table.home], dtype=np.int64)
                labels = self._follow(self.begun_labels, np.zeros(1, dtype=np.int64), home, step)
            else:
                labels = self._enter(step, first=True) + step.rig_price
                for (row, x), extra in self.charges.enter.items():
                    if step.lo <= row < step.hi:
                        labels[row - step.lo, x] += extra.get(-1, 0)
            self.starts.append(labels)
            if number + 1 < len(table.steps):
                self.leaves.append(self._stand_on(labels, step))
            before = step.group_place
        return self._finish()

    def _begun(self) -> Ints:
        """1 x W: what has begun, done and still there."""
        table, views, job = self.table, self.views, self.table.job
        number, width = table.begun_view, self.width
        labels = table.begun_stand[:width] + views.key_end[number, :width]
        labels = np.where(views.run_end[number, :width] == 0, labels, NEVER)
        if job.begun is not None and job.steps:
            first = job.begun.end + (job.steps[0].wait_min if "chain" not in table.lifted else 0)
            labels[:first] = NEVER
            if job.steps[0].wait_max is not None and "chain" not in table.lifted:
                labels[job.begun.end + job.steps[0].wait_max + 1 :] = NEVER
        return labels[None, :]

    def _follow(self, leaves: Ints, groups: Ints, group_place: Ints, step: StepTable) -> Ints:
        """Start `step` where the one before left off: going on in its place, or by a trip from another."""
        by_place = np.empty((len(groups) + 1, self.width), dtype=np.int64)
        if len(groups) == len(leaves):
            by_place[:-1] = leaves
        else:
            np.minimum.reduceat(leaves, groups, axis=0, out=by_place[:-1])
        by_place[-1] = NEVER
        labels = by_place[step.same_group]  # going on in the same place
        cross = self._cross(step)
        if cross is not None:
            labels[cross[0]] += cross[1]
        np.minimum(labels, self._come(by_place[:-1], group_place, step), out=labels)
        if step.rigged:
            labels += step.rig_price
        for to, come in step.rig_up:
            up = leaves[come]
            if cross is not None:
                border = np.zeros_like(labels)
                border[cross[0]] = cross[1]
                up += border[to]
            labels[to] = np.minimum(labels[to], up)
        return labels

    def _come(self, out: Ints, group_place: Ints, step: StepTable) -> Ints:
        """Rows (or one for all) x slots: coming by a trip from the cheapest other place."""
        if not len(out):
            return np.full((1, self.width), NEVER)
        if self.lane:
            out = out + self.go_on_trip[group_place]
        apart = step.keep_apart == "begun" or (step.keep_apart and self.busy) or self.charges.stay
        plain = not apart and not (self.lane and step.deep) and not self.table.mover_use
        if plain and not self.charges.enter and not step.begun_rows.size:
            alike: Ints = out.min(axis=0) + self.step_over
            return alike
        enter = self._enter(step, first=False)
        if not apart:
            labels: Ints = enter + out.min(axis=0)
        else:
            out = out.copy()
            if step.merge is not None:
                one, two = step.merge
                np.minimum(out[one], out[two], out=out[one])
                out[two] = NEVER
            first, slots = out.argmin(axis=0), np.arange(self.width)
            best = out[first, slots]
            out[first, slots] = NEVER
            labels = np.where(first == step.move_group, out.min(axis=0), best) + enter
            out[first, slots] = best
        for (row, x), extra in self.charges.enter.items():
            if step.lo <= row < step.hi:
                place = int(self.table.place[row])
                ways = [
                    int(out[g, x]) + extra.get(int(p), 0) for g, p in enumerate(group_place) if p != place
                ]
                labels[row - step.lo, x] = min(ways, default=NEVER) + int(enter[row - step.lo, x])
        labels[step.begun_rows] = NEVER  # nobody comes back into the stay that had begun
        return labels

    def _stand_on(self, labels: Ints, step: StepTable) -> Ints:
        """From starts to leaving: work, then stand there as long as it is allowed."""
        rows, width, table = slice(step.lo, step.hi), self.width, self.table
        padded = np.empty((step.hi - step.lo, width + 1), dtype=np.int64)
        padded[:, 0] = 2 * NEVER
        np.add(labels, self.start[rows], out=padded[:, 1:])
        if step.plain:
            np.minimum.accumulate(padded, axis=1, out=padded)
            leaves = padded.take(table.last_start[rows])
        else:
            done = np.full((step.hi - step.lo, width + 1), 2 * NEVER, dtype=np.int64)
            numbers = np.arange(step.hi - step.lo)[:, None]
            np.minimum.at(done, (numbers, table.ends[rows]), padded[:, 1:])
            if step.wait_max is None:
                np.minimum.accumulate(done, axis=1, out=done)
            elif step.wait_max > step.wait_min:
                extra = min(step.wait_max - step.wait_min, width)
                wide = np.full((step.hi - step.lo, width + 1 + extra), 2 * NEVER, dtype=np.int64)
                wide[:, extra:] = done
                done = np.lib.stride_tricks.sliding_window_view(wide, extra + 1, axis=1).min(axis=2)
            leaves = done[:, :width]
        leaves = leaves + self.leave[rows, :width]
        return np.minimum(leaves, NEVER, out=leaves)

    # --- the path -------------------------------------------------------------------------------------------
    def _finish(self) -> Fit | None:
        table, width = self.table, self.width
        step = table.steps[-1]
        if step.hi == step.lo:
            return None
        rows = slice(step.lo, step.hi)
        ends = table.finish[rows]
        total = self.starts[-1] + self.start[rows] + table.late[ends]
        total += np.take_along_axis(self.leave[rows], ends, axis=1)
        if self.lane and step.deep:
            gone = np.zeros((step.hi - step.lo, width + 1), dtype=np.int64)
            gone[:, :width] = self.go_last[table.place[rows]]
            total += np.take_along_axis(gone, ends, axis=1)
        for (place, x), extra in self.charges.leave.items():
            here = (table.place[rows] == place)[:, None] & (ends == x)
            total[here] += extra
        best = int(total.argmin())
        row, start = divmod(best, width)
        cost = int(total[row, start])
        if cost >= self.limit:
            return None
        return Fit(cost, self._trace(row, start))

    def _trace(self, row: int, start: int) -> tuple[StepTime, ...]:
        """The times that lead to starting the last step in `row` (of its step) at `start`."""
        table, places = self.table, self.state.compiled.problem.places
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
                row = self._came_from(step, row, start, self.leaves[number - 1], table.steps[number - 1].lo)
                start = self._started(number - 1, row, start)
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

    def _came_from(self, step: StepTable, row: int, x: int, before: Ints, lo: int) -> int:
        """The row of the step before from which `row` starts at `x` at its cost."""
        table, this = self.table, step.lo + row
        target = int(self.starts[table.option[this][0]][row, x])
        column = before[:, x].tolist()
        rig, rig_price = step.rigs[row], int(step.rig_price[row, 0])
        cross = self._cross(step)
        border = 0
        if cross is not None and row in cross[0]:
            border = int(cross[1][int(np.flatnonzero(cross[0] == row)[0]), x])
        for old in step.goes_on[row]:
            up = rig is not None and table.options[lo + old].rig == rig
            if column[old] + border + (0 if up else rig_price) == target:
                return old
        place = int(table.place[this])
        enter = int(self._enter(step, first=False)[row, x]) + rig_price
        extra = self.charges.enter.get((this, x), {})
        for old, label in enumerate(column):
            there = int(table.place[lo + old])
            go = int(self.go_on_trip[there, x]) if self.lane else 0
            if (
                there != place
                and not table.begun[this]
                and label + go + enter + extra.get(there, 0) == target
            ):
                return old
        raise AssertionError(f"{table.job.id}: no way leads to the label of row {row} at slot {x}")

    def _started(self, number: int, row: int, leaves: int) -> int:
        """The start of a row's work that can stand on until `leaves` at its cost."""
        table, step = self.table, self.table.steps[number]
        this = step.lo + row
        ends = table.ends[this]
        labels = self.starts[number][row] + self.start[this]
        fine = ends <= leaves
        if step.wait_max is not None:
            fine &= ends >= leaves - (step.wait_max - step.wait_min)
        labels = np.where(fine, labels, 2 * NEVER)
        start = int(labels.argmin())
        if int(labels[start]) + int(self.leave[this, leaves]) != int(self.leaves[number][row, leaves]):
            raise AssertionError(f"{table.job.id}: no start leads to the label of row {row} at slot {leaves}")
        return start

    def _only_begun(self) -> Fit | None:
        """A job whose last step has begun: she goes when it ends."""
        table, state, begun = self.table, self.state, self.table.job.begun
        if begun is None:
            return None
        end, place = begun.end, table.home
        if self.views.run_end[table.begun_view, end]:
            return None
        cost = int(table.begun_stand[end] + self.views.key_end[table.begun_view, end] + table.late[end])
        if self.lane and end < self.width:
            ahead, fixed = int(state.ahead[place, end]), int(state.fixed[place, end])
            known = self._known_ahead(place, end)
            if fixed > known or 2 * (ahead - fixed) > self.views.trips[end]:
                return None
            cost += (ahead - fixed) * state.compiled.problem.shunt_price
        time = StepTime(
            step=begun.step, place=begun.place, option=-1, start=-1, end=end, leaves=end, unit=begun.unit
        )
        return Fit(cost, (time,))

    def _known_ahead(self, place: int, x: int) -> int:
        """Boats in front that can't be moved at `x` because of what has begun: facts on both sides."""
        compiled, count = self.state.compiled, 0
        for job in compiled.problem.jobs:
            if job.begun is not None and job.begun.end > x and not job.begun.option.movable:
                there = compiled.place_index[job.begun.place] in compiled.shallower[place]
                count += there and (job.id in self.state.times or job.id in self.state.out)
        return count
