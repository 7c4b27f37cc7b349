"""The labels of the insertion: the cheapest way of one job to each start of each step, all others fixed.

Each step takes a few operations on rows x slots: come from another place or go on, work, stand on. Only the
slots of a window are looked at, by step; labels of a step are as wide as its window.
"""

from typing import Literal

import numpy as np

from scheduling.engine.compiled import NEVER, RUN, Ints
from scheduling.engine.jobtable import JobTable
from scheduling.engine.reach import Window
from scheduling.engine.state import State
from scheduling.engine.steptable import StepTable
from scheduling.engine.views import Charges, Prices, Views, look

FAR = 2 * NEVER


class Labels:
    """The labels of one job on one state: by step, row and slot the cheapest way to start and to be done.

    Unless kept `apart`, leaving a place and coming back in the same slot counts as a way, too: a lower bound
    that is easier to work out.
    """

    def __init__(
        self,
        state: State,
        table: JobTable,
        charges: Charges,
        prices: Prices | None,
        window: Window,
        apart: bool,
    ) -> None:
        self.state, self.table, self.charges, self.prices = state, table, charges, prices
        self.first, self.end, self.a, self.z = window.first, window.end, window.a, window.z
        self.apart, self.came_back = apart, False
        self.views: Views = look(state, table, charges, prices, self.a, self.z)
        self.crosses: dict[int, tuple[Ints, Ints] | None] = {}
        self._trips()
        self.starts: list[Ints] = []  # by step: rows x window, cheapest way to start there
        self.leaves: list[Ints] = []  # by step: (rows + 1) x window of the next step: done and still there
        self.ways: list[
            Ints | None
        ] = []  # by step: rows x (W + 1), the least of `starts` so far, where plain
        if table.steps:
            self._starts()
            self._run()

    # --- arrays for all steps at once -----------------------------------------------------------------------
    def _trips(self) -> None:
        """What coming and going costs by place: shunts, and the trip itself where it is one."""
        problem, trips = self.state.compiled.problem, self.views.trips
        self.step_over: Ints = np.where(trips < 1, NEVER, problem.move_price)  # with nobody in the way
        self.toll: Ints | int = 0
        if self.prices is not None:
            self.toll = self.prices.trip[self.a : self.z]
            self.step_over += self.toll
        self.lane = self.table.in_lane and "lane" not in self.table.lifted
        places = len(self.state.compiled.room)
        self.passing = np.zeros((places + 1, self.z - self.a), dtype=np.int64)  # by place, on top of a trip
        self.passing[places] = NEVER
        self.coming = self.going = self.passing
        if self.lane:
            self.ahead, self.fixed = (
                self.state.ahead[:, self.a : self.z],
                self.state.fixed[:, self.a : self.z],
            )
            self.passing[:places] = self._past(1)
            lanes = self.prices.lanes if self.prices is not None else None
            if lanes is not None:
                self.coming, self.going = self.passing.copy(), self.passing.copy()
                self.coming[:places] += lanes.come[:, self.a : self.z]
                self.going[:places] += lanes.go[:, self.a : self.z]

    def _past(self, trips: int) -> Ints:
        """Places x slots: what passing those in front costs her who makes so many `trips` herself."""
        shunts = self.ahead * (self.state.compiled.problem.shunt_price + 2 * self.toll)
        return np.where((self.fixed > 0) | (2 * self.ahead + trips > self.views.trips), NEVER, shunts)

    def _alone(self, way: Literal["come", "go"]) -> Ints:
        """Places x slots: what passing those in front costs her who comes or goes without a trip."""
        past = self._past(0)
        lanes = self.prices.lanes if self.prices is not None else None
        return past if lanes is None else past + getattr(lanes, way)[:, self.a : self.z]

    def _starts(self) -> None:
        """Rows x slots from a to the last start: what working from there costs, less the key there."""
        table, views, a, last = self.table, self.views, self.a, max(self.end)
        mode = table.mode
        key = views.key[:, a:last].take(table.view, axis=0)
        at = table.ends[:, a:last].take(mode, axis=0)
        at += table.view_at
        start = views.key_end.take(at)
        start -= key
        start &= -RUN  # not what standing there costs, only whether she can
        start += table.start_price[:, a:last].take(mode, axis=0)
        if table.need_rows.size:
            table.finish[:, a:last].take(mode, axis=0, out=at)
            at += table.need_at
            start += views.bad.take(at)
            start -= views.bad[:, a:last].take(table.need, axis=0)
            if views.price is not None:
                start += views.price.take(at)
                start -= views.price[:, a:last].take(table.need, axis=0)
        for row, use in table.mover_use.items():
            start[row, ~self._crosses_working(row, use, last)] += RUN
        start -= key
        self.start: Ints = start
        self.leave: Ints = views.key_end[:, a:last].take(table.view, axis=0)

    def stood(self, view: int, until: slice) -> Ints:
        """What standing in a view from slot a until then costs; RUN or more where it can't be."""
        line = self.views.key_end[view]
        found: Ints = line[until] - line[self.a]
        return found

    def _crosses_working(self, row: int, use: Ints, last: int) -> Ints:
        """Where work that uses the mover itself still leaves trips for those who pass behind it."""
        a, z = self.a, self.z
        events = self.state.events[self.table.place[row], a:z]
        barred = (events > 0) & (2 * events + use[a:z] > self.views.trips)
        count = np.cumsum(barred)
        ends = np.clip(self.table.finish[self.table.mode[row], a:last] - 1 - a, 0, z - a - 1)
        fine: Ints = count[ends] == count[: last - a]
        return fine

    def mover_short(self, row: int, first: bool) -> Ints:
        """Slots of the window: NEVER where her own use of the mover leaves no trip to come."""
        ahead = self.ahead[self.table.place[row]] if self.lane else 0
        trips = (0 if first else 1) + 2 * ahead + self.table.mover_use[row][self.a : self.z]
        return np.where(trips > self.views.trips, NEVER, 0)

    def cross(self, number: int) -> tuple[Ints, Ints] | None:
        """(rows of a step, what going on in the same place across each slot's border costs them), if any."""
        if number not in self.crosses:
            self.crosses[number] = self._find_cross(number)
        return self.crosses[number]

    def _find_cross(self, number: int) -> tuple[Ints, Ints] | None:
        table, step, cross = self.table, self.table.steps[number], self.views.cross
        if cross is None:
            return None
        a, b = self.first[number] - self.a, self.end[number] - self.a
        own = [row for row in range(step.lo, step.hi) if row in table.mover_use] if self.lane else []
        if not own and not self.charges.stay:
            if not step.front_rows.size:
                return None
            lines = table.front_line[step.lo + step.front_rows]
            return step.front_rows, cross[1][:, a:b][lines]
        rows = np.arange(step.hi - step.lo)
        costs = np.zeros((len(table.view_place), b - a), dtype=np.int64)
        costs[cross[0]] = cross[1][:, a:b]
        cost = costs[table.view[step.lo + rows]]
        for row in own:
            events = self.state.events[table.place[row], self.a + a : self.a + b]
            use = table.mover_use[row][self.a + a : self.a + b]
            short = (events > 0) & (2 * events + use > self.views.trips[a:b])
            cost[row - step.lo] = np.where(short, RUN, cost[row - step.lo])
        return rows, cost

    # --- labels ---------------------------------------------------------------------------------------------
    def _run(self) -> None:
        steps = self.table.steps
        for number, step in enumerate(steps):
            if number:
                labels = self._follow(self.leaves[-1], number)
            elif self.table.home >= 0:
                labels = self._follow(self._begun(), 0)
            else:
                labels = self._come_first(step)
            self.starts.append(labels)
            if number + 1 < len(steps):
                self.leaves.append(self._stand_on(labels, number))

    def _come_first(self, step: StepTable) -> Ints:
        """The first step: she comes from outside the yard."""
        table, first, end = self.table, self.first[0], self.end[0]
        window = slice(first - self.a, end - self.a)
        labels = np.empty((step.hi - step.lo, end - first), dtype=np.int64)
        labels[:] = step.rig_price
        if self.lane and step.deep:
            labels += self._alone("come")[:, window][table.place[step.lo : step.hi]]
        for row in table.mover_use:
            if step.lo <= row < step.hi:
                labels[row - step.lo] += self.mover_short(row, True)[window]
        for (row, x), extra in self.charges.enter.items():
            if step.lo <= row < step.hi and first <= x < end:
                labels[row - step.lo, x - first] += extra.get(-1, 0)
        return labels

    def _begun(self) -> Ints:
        """2 x window of the first step: what has begun, done and still there; and nowhere."""
        table, job, first, end = self.table, self.table.job, self.first[0], self.end[0]
        labels = np.full((2, end - first), NEVER)
        labels[0] = self.stood(table.begun_view, slice(first, end))
        if job.begun is not None and job.steps and "chain" not in table.lifted:
            begin, wait = job.begun.end, job.steps[0].wait_max
            labels[0, : max(begin + job.steps[0].wait_min - first, 0)] = NEVER
            if wait is not None:
                labels[0, max(begin + wait + 1 - first, 0) :] = NEVER
        elif job.begun is not None:
            labels[0, : max(job.begun.end - first, 0)] = NEVER
        return labels

    def _follow(self, leaves: Ints, number: int) -> Ints:
        """Start a step where the one before left off: going on in its place, or by a trip from another."""
        step, count = self.table.steps[number], len(leaves) - 1
        if step.straight:
            by_place = leaves
        else:
            by_place = leaves.take(step.before[0], axis=0)
            for more in step.before[1:]:
                np.minimum(by_place, leaves.take(more, axis=0), out=by_place)
        labels = by_place.take(step.same_group, axis=0)  # going on in the same place
        cross = self.cross(number)
        if cross is not None:
            labels[cross[0]] += cross[1]
        if count:
            np.minimum(labels, self._come(by_place[:-1], number), out=labels)
        if step.rigged:
            labels += step.rig_price
            for come in step.rig_up:
                up = leaves.take(come, axis=0)
                if cross is not None:
                    up[cross[0]] += cross[1]
                np.minimum(labels, up, out=labels)
        return labels

    def _come(self, out: Ints, number: int) -> Ints:
        """Rows (or one for all) x window: coming by a trip from the cheapest other place."""
        table, step = self.table, self.table.steps[number]
        group_place = step.from_place
        first, end = self.first[number], self.end[number]
        window = slice(first - self.a, end - self.a)
        if self.lane and step.from_lane:
            out = out + self.going[group_place, window]
        if not self.apart:
            best: Ints = out.min(axis=0)
        else:
            best = self._from_elsewhere(out, step)
        best = best + self.step_over[window]
        if step.hard:
            best = self.coming[step.come, window] + best
        for row in table.mover_use:
            if step.lo <= row < step.hi:
                if best.ndim == 1:
                    best = np.repeat(best[None, :], step.hi - step.lo, axis=0)
                best[row - step.lo] += self.mover_short(row, False)[window]
        for (row, x), extra in self.charges.enter.items():
            if step.lo <= row < step.hi and first <= x < end:
                if best.ndim == 1:
                    best = np.repeat(best[None, :], step.hi - step.lo, axis=0)
                place = int(table.place[row])
                ways = [
                    int(out[g, x - first]) + extra.get(int(p), 0)
                    for g, p in enumerate(group_place)
                    if p != place
                ]
                best[row - step.lo, x - first] = min(ways, default=NEVER) + self.enter_at(row, x)
        return best

    def _from_elsewhere(self, out: Ints, step: StepTable) -> Ints:
        """Rows x window: the cheapest place to come from that is not the row's own."""
        out = out.copy()
        if step.merge is not None:
            one, two = step.merge
            np.minimum(out[one], out[two], out=out[one])
            out[two] = NEVER
        least, slots = out.argmin(axis=0), np.arange(out.shape[1])
        best = out[least, slots]
        out[least, slots] = NEVER
        found: Ints = np.where(least == step.move_group, out.min(axis=0), best)
        return found

    def enter_at(self, row: int, x: int) -> int:
        """What a trip into a row at slot `x` costs, whoever else swaps then."""
        table, at = self.table, x - self.a
        if table.begun[row]:  # nobody comes back into the stay that had begun
            return NEVER
        cost = int(self.step_over[at]) + int(self.coming[table.place[row], at])
        return cost + (int(self.mover_short(row, False)[at]) if row in table.mover_use else 0)

    def _stand_on(self, labels: Ints, number: int) -> Ints:
        """From starts to leaving: work, then stand there as long as it is allowed."""
        table, step, width = self.table, self.table.steps[number], self.state.compiled.slots
        rows, count = slice(step.lo, step.hi), step.hi - step.lo
        first, end = self.first[number], self.end[number]
        then, until = self.first[number + 1], self.end[number + 1]
        leaves = np.empty((count + 1, until - then), dtype=np.int64)
        leaves[-1] = NEVER
        if step.plain:
            ways = np.empty((count, width + 1), dtype=np.int64)
            ways[:, : first + 1] = FAR
            np.add(labels, self.start[rows, first - self.a : end - self.a], out=ways[:, first + 1 : end + 1])
            np.minimum.accumulate(ways[:, first : end + 1], axis=1, out=ways[:, first : end + 1])
            if until > end:
                ways[:, end + 1 : until + 1] = ways[:, end : end + 1]
            for mode, lo, hi in step.modes:
                last = table.last_start[mode, then:until]
                ways[lo:hi].take(last, axis=1, out=leaves[lo:hi], mode="clip")
            self.ways.append(ways)
        else:
            done = np.full((count, width + 1), FAR, dtype=np.int64)
            here = np.arange(count)[:, None]
            ways = labels + self.start[rows, first - self.a : end - self.a]
            np.minimum.at(done, (here, table.ends[table.mode[rows], first:end]), ways)
            if step.wait_max is None:
                np.minimum.accumulate(done, axis=1, out=done)
            else:
                _widen(done, min(step.wait_max - step.wait_min, width) + 1)
            leaves[:-1] = done[:, then:until]
            self.ways.append(None)
        leaves[:-1] += self.leave[rows, then - self.a : until - self.a]
        return leaves

    def cheapest(self) -> tuple[int, int, int] | None:
        """(cost, row of the last step, start) of the cheapest way to the end, or None."""
        table, width, step = self.table, self.state.compiled.slots, self.table.steps[-1]
        if step.hi == step.lo:
            return None
        rows, first, end = slice(step.lo, step.hi), self.first[-1], self.end[-1]
        total = self.starts[-1] + self.start[rows, first - self.a : end - self.a]
        ends = table.finish[:, first:end].take(table.mode[rows], axis=0)
        total += table.late.take(ends)
        if self.lane and step.deep:
            gone = np.zeros((len(self.passing) - 1, width + 1), dtype=np.int64)
            gone[:, self.a : min(self.z, width)] = self._alone("go")
            total += gone[table.place[rows, None], ends]
        for (place, x), extra in self.charges.leave.items():
            total[(table.place[rows] == place)[:, None] & (ends == x)] += extra
        ends += table.view_at[rows]
        total += self.views.key_end.take(ends)
        best = int(total.argmin())
        row, start = divmod(best, end - first)
        cost = int(total[row, start])
        return (cost, row, first + start) if cost < NEVER // 2 else None


def _widen(done: Ints, span: int) -> None:
    """In place: the least of the last `span` columns, by doubling."""
    reach = 1
    while reach < span:
        more = min(reach, span - reach)
        np.minimum(done[:, more:], done[:, :-more].copy(), out=done[:, more:])
        reach += more
