"""A plan on arrays with who stands where and who uses what, and a stage wished for elsewhere or earlier."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from scheduling.engine.compiled import Compiled, put_air
from scheduling.engine.cost import Stay, option_of, stays_of
from scheduling.engine.problem import Job, Option, Step
from scheduling.engine.schedule import Schedule, StepTime
from scheduling.engine.state import State


@dataclass(frozen=True, slots=True)
class Use:
    """One job takes `amount` of a row of the yard in [start, end)."""

    job: str
    step: str
    start: int
    end: int
    amount: int


class Around:
    """A plan on arrays, with who stands where and who uses what."""

    def __init__(self, compiled: Compiled, schedule: Schedule) -> None:
        self.compiled, self.state = compiled, State(compiled)
        self.times: dict[str, tuple[StepTime, ...]] = {}
        for job in compiled.problem.jobs:
            if job.id in schedule.jobs:
                self.times[job.id] = tuple(schedule.jobs[job.id])
                self.state.put(job.id, self.times[job.id])
            else:
                self.state.leave_out(job.id)
        self.total = self.state.total  # [minor units] what the plan costs
        self.stays: dict[int, list[Stay]] = {place: [] for place in range(len(compiled.room))}
        self.uses: dict[int, list[Use]] = {row: [] for row in range(len(compiled.rows))}
        for job in compiled.problem.jobs:
            self._note(job, self.times.get(job.id) or self._stands(job))

    def _stands(self, job: Job) -> tuple[StepTime, ...]:
        begun, last = job.begun, self.compiled.slots
        if begun is None:
            return ()
        end = begun.end
        return (StepTime(step=begun.step, place=begun.place, option=-1, start=-1, end=end, leaves=last),)

    def _note(self, job: Job, times: Sequence[StepTime]) -> None:
        compiled = self.compiled
        for stay in stays_of(job.id, times):
            self.stays[compiled.place_index[stay.place]].append(stay)
        placed = job.id in self.times
        for time in times:
            takes = compiled.takes(option_of(job, time), compiled.place_index[time.place])
            start, gone = max(time.start, 0), time.leaves if placed else time.end
            for row, amount in takes.work:
                self.uses[row].append(Use(job.id, time.step, start, time.end, amount))
            for row, amount in takes.hold:
                self.uses[row].append(Use(job.id, time.step, start, gone, amount))
            for row in takes.makes:
                self.uses[row].append(Use(job.id, time.step, start, time.end + takes.settle, 1))
            for row in takes.spoiled:
                self.uses[row].append(Use(job.id, time.step, max(start - takes.settle, 0), time.end, 1))

    @contextmanager
    def without(self, job_id: str) -> Iterator[State]:
        """The state without this job, and without what she has begun doing to the air."""
        job, state, placed = self.compiled.jobs[job_id], self.state, job_id in self.state.times
        times = state.take(job_id) if placed else ()
        if not placed:
            state.take_back(job_id)
        if job.begun is not None:
            put_air(self.compiled, state.left, job, -1)
        try:
            yield state
        finally:
            if job.begun is not None:
                put_air(self.compiled, state.left, job, 1)
            if placed:
                state.put(job_id, times)
            else:
                state.leave_out(job_id)

    def after(self, stay: Stay) -> str:
        """The step with whose start a stay ends; her last one if she goes nowhere; "" if she is left out."""
        times = self.times.get(stay.job)
        if times is None:
            return ""
        return next((t.step for t in times if t.start >= stay.end), times[-1].step)


@dataclass(frozen=True, slots=True)
class Wish:
    """Piece `number` of a job's `times` in this place and option from `start` on; `end` as its table says."""

    job: Job
    times: tuple[StepTime, ...]
    number: int
    place: int
    option: int
    start: int
    end: int
    possible: bool  # whether the table has it start then

    @property
    def step(self) -> Step:
        """The step of the piece."""
        return self.job.steps[self.number - (self.job.begun is not None)]

    @property
    def way(self) -> Option:
        """Its option."""
        return self.step.options[self.option]

    @property
    def before(self) -> StepTime | None:
        """The piece before it."""
        return self.times[self.number - 1] if self.number else None

    @property
    def after(self) -> StepTime | None:
        """The piece after it."""
        return self.times[self.number + 1] if self.number + 1 < len(self.times) else None


def wish(
    compiled: Compiled,
    job: Job,
    times: Sequence[StepTime],
    number: int,
    start: int,
    place: int | None = None,
    option: int | None = None,
) -> Wish:
    """Piece `number` at `start`, where it is or elsewhere, with the pieces beside it as they are then."""
    now = times[number]
    way = now.option if option is None else option
    at = compiled.place_index[now.place] if place is None else place
    step = job.steps[number - (job.begun is not None)]
    finish = compiled.books.tables[step.options[way].table or ""].finish[start]
    end = finish if finish is not None else min(start + now.end - now.start, compiled.slots)
    last = number + 1 == len(times)
    changed = list(times)
    changed[number] = replace(
        now,
        place=compiled.problem.places[at].id,
        option=way,
        start=start,
        end=end,
        leaves=end if last else now.leaves,
        unit=None,
    )
    if number:
        changed[number - 1] = replace(times[number - 1], leaves=start)
    return Wish(job, tuple(changed), number, at, way, start, end, finish is not None)
