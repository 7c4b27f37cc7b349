"""A schedule under construction: what is left in each slot once the jobs in it have taken theirs.

Putting a job in and taking her out are exact opposites, in any order. A job that has begun and is not in
the state still has her facts in it: place, demands and air until `begun.end` (but no part in lanes or
swaps).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from scheduling.engine.compiled import Compiled, Takes, facts_of, put_air
from scheduling.engine.cost import Stay, option_of, own_cost, standing_out, stays_of
from scheduling.engine.problem import Job
from scheduling.engine.schedule import Schedule, StepTime, Unplaced
from scheduling.engine.swapping import Trip, has_free_place, knotted, rings_at


@dataclass(frozen=True, slots=True)
class Mark:
    """Where and on what one placed job leaves her mark."""

    stays: Sequence[Stay]
    index: Sequence[int]  # the place of each stay
    takes: Sequence[tuple[StepTime, Takes]]
    lane: bool  # some stay is in a lane


class State:
    """The jobs placed so far, and what they leave to others."""

    def __init__(self, compiled: Compiled) -> None:
        self.compiled = compiled
        width, places = compiled.slots, len(compiled.room)
        self.times: dict[str, tuple[StepTime, ...]] = {}
        self.out: set[str] = set()  # jobs left out for good that stand in their place
        self.left = compiled.facts.copy()
        self.here = np.zeros((places, width), dtype=np.int64)  # [boats] that stand there
        self.begun = np.zeros((places, width), dtype=np.int64)  # of these, in begun stays
        self.events = np.zeros((places, width), dtype=np.int64)  # comings and goings behind a place in a lane
        self.going = np.zeros((places, width), dtype=np.int64)  # of these, goings of boats with no step left
        self.ahead = np.zeros((places, width), dtype=np.int64)  # boats in front of a place in a lane
        self.fixed = np.zeros((places, width), dtype=np.int64)  # of these, not movable
        self.arrows: list[tuple[Trip, ...]] = [()] * width
        self.knots: set[int] = set()  # slots whose arrows lead from two places or more that others lead to
        self.rings = np.zeros(width, dtype=np.int64)
        self.pairs = self.ring_count = 0
        self.own: dict[str, int] = {}
        self.marks: dict[str, Mark] = {}
        self.cost = sum(job.drop_price for job in compiled.problem.jobs)  # without what is shared
        for job in compiled.problem.jobs:
            if job.begun is not None:
                place = compiled.place_index[job.begun.place]
                self.here[place, : job.begun.end] += 1
                self.begun[place, : job.begun.end] += 1

    @classmethod
    def alone(cls, compiled: Compiled, job: Job) -> "State":
        """The empty yard as it would be for this job alone: without the facts of the others."""
        state = cls(compiled)
        own = facts_of(compiled, job)
        state.left = np.maximum(compiled.plain, own) - own
        put_air(compiled, state.left, job, 1)
        state.here[:], state.begun[:] = 0, 0
        if job.begun is not None:
            place = compiled.place_index[job.begun.place]
            state.here[place, : job.begun.end] = state.begun[place, : job.begun.end] = 1
        return state

    @classmethod
    def of(cls, compiled: Compiled, schedule: Schedule) -> "State":
        """The state that a schedule is: for moves by hand, explanations and further search."""
        state = cls(compiled)
        for job in compiled.problem.jobs:
            if job.id in schedule.jobs:
                state.put(job.id, schedule.jobs[job.id])
            else:
                state.leave_out(job.id)
        return state

    def copy(self) -> "State":
        """An independent copy."""
        other = State.__new__(State)
        other.compiled = self.compiled
        for name in (
            "times",
            "out",
            "left",
            "here",
            "begun",
            "events",
            "going",
            "ahead",
            "fixed",
            "rings",
            "own",
            "arrows",
            "knots",
            "marks",
        ):
            setattr(other, name, getattr(self, name).copy())
        other.pairs, other.ring_count, other.cost = self.pairs, self.ring_count, self.cost
        return other

    @property
    def total(self) -> int:
        """What the plan costs now [minor units]; every job not in it is left out."""
        problem = self.compiled.problem
        return self.cost + problem.shunt_price * self.pairs + problem.move_price * self.ring_count

    def schedule(self, unplaced: dict[str, Unplaced] | None = None) -> Schedule:
        """The jobs placed and the rest, whose reasons are `unplaced` or "cost"."""
        reasons = unplaced or {}
        plain = Unplaced(rule="cost", says="left out")
        jobs = {j.id: self.times[j.id] for j in self.compiled.problem.jobs if j.id in self.times}
        left = [j.id for j in self.compiled.problem.jobs if j.id not in self.times]
        return Schedule(jobs=jobs, unplaced={name: reasons.get(name, plain) for name in left})

    def put(self, job_id: str, times: Sequence[StepTime]) -> None:
        """Put a job in. Raises ValueError if she is in already."""
        if job_id in self.times or job_id in self.out:
            raise ValueError(f"{job_id} is in the plan already")
        job = self.compiled.jobs[job_id]
        self.times[job_id] = tuple(times)
        own = self.own[job_id] = sum(own_cost(self.compiled.books, job, times).values())
        self.cost += own - job.drop_price
        mark = self.marks[job_id] = self._mark(job, self.times[job_id])
        self._change(job, mark, 1)

    def take(self, job_id: str) -> tuple[StepTime, ...]:
        """Take a job out; her times. Raises KeyError if she is not in."""
        times = self.times.pop(job_id)
        job = self.compiled.jobs[job_id]
        self.cost -= self.own.pop(job_id) - job.drop_price
        self._change(job, self.marks.pop(job_id), -1)
        return times

    def leave_out(self, job_id: str) -> None:
        """Leave out a job for good: if she has begun, she stands in her place until the end of the axis."""
        job = self.compiled.jobs[job_id]
        if job.begun is not None:
            self.out.add(job_id)
            self._change(job, self._mark(job, standing_out(self.compiled.problem, job)), 1)

    def take_back(self, job_id: str) -> None:
        """The opposite of leave_out."""
        if job_id in self.out:
            job = self.compiled.jobs[job_id]
            self._change(job, self._mark(job, standing_out(self.compiled.problem, job)), -1)
            self.out.discard(job_id)  # only now: while she is out she holds nothing that could be given back

    def remove(self, job_id: str) -> None:
        """Take a job out, be she in or left out for good."""
        if job_id in self.times:
            self.take(job_id)
        else:
            self.take_back(job_id)

    # --- what one job takes ---------------------------------------------------------------------------------
    def _mark(self, job: Job, times: Sequence[StepTime]) -> Mark:
        compiled = self.compiled
        stays = stays_of(job.id, times)
        index = [compiled.place_index[s.place] for s in stays]
        takes = [(t, compiled.takes(option_of(job, t), compiled.place_index[t.place])) for t in times]
        return Mark(stays, index, takes, any(compiled.deeper[p] or compiled.shallower[p] for p in index))

    def _change(self, job: Job, mark: Mark, sign: int) -> None:
        stays, index, lane = mark.stays, mark.index, mark.lane
        if sign > 0 and lane:
            self._pair(job, stays, index, 1)
        for number, (stay, place) in enumerate(zip(stays, index, strict=True)):
            known = job.begun.end if job.begun is not None and stay.start < 0 else 0
            start = known if stay.start < 0 else stay.start
            self.here[place, start : stay.end] += sign
            if stay.start < 0:
                self.begun[place, start : stay.end] += sign
            if number:
                self._arrow(stay.start, (index[number - 1], place, job.id), sign)
            if self.compiled.deeper[place] or self.compiled.shallower[place]:
                self._lane(job, place, stay.start, stay.end, stay.pieces, sign)
        if sign < 0 and lane:
            self._pair(job, stays, index, -1)
        if job.id not in self.out:
            for time, takes in mark.takes:
                self._take(time, takes, sign)
        if self.compiled.problem.swaps != "free":
            self._count_rings(job, stays, index, sign)

    def _take(self, time: StepTime, takes: Takes, sign: int) -> None:
        left = self.left
        if time.option < 0:  # her facts are there already
            for row, amount in takes.hold:
                left[row, time.end : time.leaves] -= sign * amount
            return
        start, end = time.start, time.end
        if takes.work:
            opened = 1 if takes.open is None else takes.open[start:end]
            left[:, start:end] -= takes.all_work * (sign * opened)
        for row, amount in takes.hold:
            left[row, start : time.leaves] -= sign * amount
        for row in takes.makes:
            left[row, start : end + takes.settle] -= sign
        for row in takes.spoiled:
            left[row, max(start - takes.settle, 0) : end] -= sign

    def _lane(
        self, job: Job, place: int, start: int, end: int, pieces: Iterable[StepTime], sign: int
    ) -> None:
        for front in self.compiled.shallower[place]:
            for x in (start, end):
                if 0 <= x < self.compiled.slots:
                    self.events[front, x] += sign
                    if x == end and not job.steps and job.id not in self.out:
                        self.going[front, x] += sign
        for behind in self.compiled.deeper[place]:
            self.ahead[behind, start + 1 : end] += sign
            for piece in pieces:
                if not option_of(job, piece).movable:
                    self.fixed[behind, max(piece.start, start + 1) : piece.leaves] += sign

    def _pair(self, job: Job, stays: Sequence[Stay], index: Sequence[int], sign: int) -> None:
        """Count the shunts between this job and the others (she must not be in the lane arrays now)."""
        mover = self.compiled.mover
        for stay, place in zip(stays, index, strict=True):
            found = []
            if self.compiled.shallower[place]:
                for x in (stay.start, stay.end):
                    if 0 <= x < self.compiled.slots:
                        found.append((x, int(self.ahead[place, x] - self.fixed[place, x])))
            if self.compiled.deeper[place]:
                for piece in stay.pieces:
                    if option_of(job, piece).movable:
                        lo, hi = max(piece.start, stay.start + 1), piece.leaves
                        found += [(lo + i, int(n)) for i, n in enumerate(self.events[place, lo:hi]) if n]
            for x, n in found:
                self.pairs += sign * n
                if mover is not None and n:
                    self.left[mover, x] -= sign * 2 * n

    # --- swaps ----------------------------------------------------------------------------------------------
    def _arrow(self, x: int, arrow: Trip, sign: int) -> None:
        if sign > 0:
            self.arrows[x] = (*self.arrows[x], arrow)
        else:
            self.arrows[x] = tuple(a for a in self.arrows[x] if a[2] != arrow[2])
        if knotted(self.arrows[x]):
            self.knots.add(x)
        else:
            self.knots.discard(x)
        if self.compiled.mover is not None:
            self.left[self.compiled.mover, x] -= sign

    def _count_rings(self, job: Job, stays: Sequence[Stay], index: Sequence[int], sign: int) -> None:
        for number, (stay, place) in enumerate(zip(stays, index, strict=True)):
            slots = [stay.start] if number else []
            if self.compiled.pool[place] and self.knots:
                start = stay.start if stay.start >= 0 or job.begun is None else job.begun.end
                turned = self.here[place, start : stay.end] == self.compiled.room[place] - (sign < 0)
                if turned.any():  # else as many are full as before
                    slots += [
                        x
                        for x in self.knots
                        if start <= x <= stay.end and turned[max(x - 1 - start, 0) : x - start + 1].any()
                    ]
            for x in slots:
                count = len(rings_at(self.compiled, self.here, self.arrows[x], x))
                more = count - int(self.rings[x])
                if more:
                    if self.compiled.mover is not None:
                        self.left[self.compiled.mover, x] -= more
                    self.rings[x] = count
                    self.ring_count += more

    def nearly_full(self, place: int, x: int) -> bool:
        """Whether one boat more who stands in this pool before and from slot `x` on fills it there."""
        room = self.compiled.room[place]
        return bool(room > 1 and (self.here[place, max(x - 1, 0) : x + 1] == room - 1).any())

    def swap_change(self, x: int, job: str, come_from: int, go_to: int) -> int | None:
        """How many swap cycles more there are at slot x with her there; None if one has no free place."""
        rings = rings_at(self.compiled, self.here, self.arrows[x], x, job, come_from, go_to)
        if not all(has_free_place(self.compiled, self.here, x, ring, job, go_to) for ring in rings):
            return None
        return len(rings) - int(self.rings[x])
