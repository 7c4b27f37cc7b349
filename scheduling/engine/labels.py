"""The labels of the insertion: the cheapest way of one job to each start of each step, all others fixed.

Each step takes a few operations on rows x slots: come from another place or go on, work, stand on.
"""

import numpy as np

from scheduling.engine.compiled import NEVER, Ints
from scheduling.engine.jobtable import JobTable
from scheduling.engine.state import State
from scheduling.engine.steptable import StepTable
from scheduling.engine.views import Charges, Prices, Views, look


class Labels:
    """The labels of one job on one state: by step, row and slot the cheapest way to start and to be done."""

    def __init__(self, state: State, table: JobTable, charges: Charges, prices: Prices | None) -> None:
        self.state, self.table, self.charges, self.prices = state, table, charges, prices
        self.views: Views = look(state, table, charges, prices)
        self.width = state.compiled.slots
        self.busy = self.views.cross is not None and bool(self.views.cross.any())
        self.crosses: dict[int, tuple[Ints, Ints] | None] = {}
        self._trips()
        self._starts()
        self.begun = self._begun() if table.job.begun is not None else None
        self.starts: list[Ints] = []  # by step: rows x slots, cheapest way to start there
        self.leaves: list[Ints] = []  # by step: rows x slots, cheapest way to be done and still there
        self._run()

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

    def enter(self, step: StepTable, first: bool) -> Ints:
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

    def cross(self, step: StepTable) -> tuple[Ints, Ints] | None:
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
    def _run(self) -> None:
        table = self.table
        before = np.zeros(0, dtype=np.int64)
        for number, step in enumerate(table.steps):
            if number:
                labels = self._follow(self.leaves[-1], table.steps[number - 1].groups, before, step)
            elif self.begun is not None:
                home = np.array([table.home], dtype=np.int64)
                labels = self._follow(self.begun, np.zeros(1, dtype=np.int64), home, step)
            else:
                labels = self.enter(step, first=True) + step.rig_price
                for (row, x), extra in self.charges.enter.items():
                    if step.lo <= row < step.hi:
                        labels[row - step.lo, x] += extra.get(-1, 0)
            self.starts.append(labels)
            if number + 1 < len(table.steps):
                self.leaves.append(self._stand_on(labels, step))
            before = step.group_place

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
        cross = self.cross(step)
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
        enter = self.enter(step, first=False)
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

    def cheapest(self) -> tuple[int, int, int] | None:
        """(cost, row of the last step, start) of the cheapest way to the end, or None."""
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
        return (cost, row, start) if cost < NEVER // 2 else None
