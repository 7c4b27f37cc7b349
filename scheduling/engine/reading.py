"""A schedule as the witness reads it: pieces of work, stays and trips; what can't be read breaks the chain.

Written from RULES.md alone; it shares nothing with the search or the model.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from scheduling.engine.problem import Job, Option, Place, Problem, Step, Table
from scheduling.engine.schedule import Breach, Rule, Schedule, StepTime


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One step of one job, or what has begun (`step` is None and `start` -1), as the plan has it."""

    job: Job
    step: Step | None
    option: Option
    place: str
    start: int
    end: int
    leaves: int
    lets_go: int  # [slot] until then it holds: `leaves`, but `end` for what has begun of a job left out
    unit: str | None = None

    @property
    def name(self) -> str:
        """The step's id, or that of what has begun."""
        if self.step is not None:
            return self.step.id
        return self.job.begun.step if self.job.begun else ""

    @property
    def works(self) -> range:
        """The slots of the axis in which it is at work."""
        return range(max(self.start, 0), self.end)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """A longest run of pieces of one job in one place: [start, end)."""

    job: Job
    place: str
    start: int
    end: int
    pieces: tuple[Piece, ...]

    @property
    def begun(self) -> bool:
        """Whether she was there before the axis starts."""
        return self.start < 0

    @property
    def fills(self) -> range:
        """The slots of the axis in which she stands there."""
        return range(max(self.start, 0), self.end)


@dataclass(frozen=True, slots=True, kw_only=True)
class Yard:
    """A Problem with what a Schedule makes of it."""

    problem: Problem
    placed: Mapping[str, tuple[Piece, ...]]  # by job, those that can be read
    pieces: tuple[Piece, ...]  # of placed jobs, and what has begun of jobs left out
    stays: tuple[Stay, ...]
    unread: tuple[Breach, ...] = ()
    places: Mapping[str, Place] = field(default_factory=dict)
    tables: Mapping[str, Table] = field(default_factory=dict)

    def on(self, slot: int) -> str:
        """The day of a slot in words."""
        days = self.problem.days
        day = days[min(max(slot, 0), len(days) - 1)]
        return f"{day.day} {day:%b %Y}"

    def open(self, piece: Piece) -> Sequence[int]:
        """The slots in which the piece demands people and resources."""
        calendar = self.tables[piece.option.table].open if piece.option.table else None
        if calendar is None:
            return piece.works
        opens = self.problem.calendars[calendar]
        return [x for x in piece.works if opens[x]]

    def table(self, piece: Piece) -> Table:
        """The finish table of a planned piece."""
        return self.tables[piece.option.table or ""]

    def trips(self) -> Iterator[tuple[int, Piece, Piece]]:
        """(slot, piece before, piece after) of each time a placed job changes her place."""
        for pieces in self.placed.values():
            for before, after in pairwise(pieces):
                if before.place != after.place:
                    yield after.start, before, after


def read(problem: Problem, schedule: Schedule) -> Yard:
    """Read the schedule; a job that can't be read is reported and taken as left out."""
    unread: list[Breach] = []
    placed: dict[str, tuple[Piece, ...]] = {}
    pieces: list[Piece] = []
    known = {job.id for job in problem.jobs}
    for name in [*schedule.jobs, *schedule.unplaced]:
        if name not in known:
            unread.append(Breach(rule="chain", job=name, slot=0, says=f"there is no job {name!r}"))
    for job in problem.jobs:
        times = schedule.jobs.get(job.id)
        if times is None and job.id not in schedule.unplaced:
            unread.append(_breach(job, f"{name_of(job)} is neither placed nor left out"))
        elif times is not None and job.id in schedule.unplaced:
            unread.append(_breach(job, f"{name_of(job)} is both placed and left out"))
        wrong = list(_wrong(problem, job, times)) if times is not None else []
        unread.extend(wrong)
        if times is not None and not wrong:
            placed[job.id] = _pieces(job, times)
            pieces.extend(placed[job.id])
        elif job.begun is not None:
            pieces.append(_left_out(job, len(problem.days)))
    return Yard(
        problem=problem,
        placed=placed,
        pieces=tuple(pieces),
        stays=tuple(_stays(pieces)),
        unread=tuple(unread),
        places={place.id: place for place in problem.places},
        tables={table.id: table for table in problem.tables},
    )


def name_of(thing: Job | Place) -> str:
    """What people call it."""
    return thing.label or thing.id


def breach(rule: Rule, piece: Piece, says: str, slot: int | None = None, fact: bool = False) -> Breach:
    """A breach at a piece of a job, in slot `slot` or where the piece starts."""
    at = max(piece.start, 0) if slot is None else slot
    words = f"{name_of(piece.job)}, {piece.name}: {says}"
    return Breach(rule=rule, job=piece.job.id, slot=at, says=words, fact=fact, step=piece.name)


def _breach(job: Job, says: str, slot: int = 0, step: str = "") -> Breach:
    return Breach(rule="chain", job=job.id, slot=slot, says=says, step=step)


def _wrong(problem: Problem, job: Job, times: tuple[StepTime, ...]) -> Iterator[Breach]:
    """What keeps these times from being read as the job's pieces."""
    expected = ([job.begun.step] if job.begun else []) + [step.id for step in job.steps]
    if [time.step for time in times] != expected:
        yield _breach(job, f"{name_of(job)} has the steps {[t.step for t in times]}, not {expected}")
        return
    if job.begun is not None:
        begun, time = job.begun, times[0]
        if (time.place, time.option, time.start, time.end) != (begun.place, -1, -1, begun.end):
            says = (
                f"{name_of(job)} is in {begun.place}, at {begun.step} until slot {begun.end}; not in the plan"
            )
            yield Breach(rule="pins", job=job.id, slot=0, says=says, step=begun.step)
            return
        if begun.unit is not None and time.unit not in (None, begun.unit):
            says = f"{name_of(job)} stands in {begun.unit}; the plan has her in {time.unit}"
            yield Breach(rule="pins", job=job.id, slot=0, says=says, step=begun.step)
    for time, step in zip(times[len(times) - len(job.steps) :], job.steps, strict=True):
        if not 0 <= time.option < len(step.options):
            yield _breach(job, f"{name_of(job)}, {step.id}: there is no option {time.option}", 0, step.id)
        elif time.place not in step.options[time.option].places:
            yield _breach(job, f"{name_of(job)}, {step.id}: can't be done in {time.place}", 0, step.id)
        elif not 0 <= time.start < time.end <= len(problem.days):
            span = f"[{time.start}, {time.end})"
            yield _breach(job, f"{name_of(job)}, {step.id}: {span} is no span of the axis", 0, step.id)
    for i, time in enumerate(times):
        leaves = times[i + 1].start if i + 1 < len(times) else time.end
        if time.leaves != leaves:
            says = (
                f"{name_of(job)}, {time.step}: leaves at slot {time.leaves}, but the plan goes on at {leaves}"
            )
            yield _breach(job, says, max(time.start, 0), time.step)


def _pieces(job: Job, times: tuple[StepTime, ...]) -> tuple[Piece, ...]:
    steps: list[Step | None] = [None] * (len(times) - len(job.steps)) + list(job.steps)
    return tuple(
        Piece(
            job=job,
            step=step,
            option=step.options[time.option] if step else _begun_option(job),
            place=time.place,
            start=time.start,
            end=time.end,
            leaves=time.leaves,
            lets_go=time.leaves,
            unit=time.unit,
        )
        for step, time in zip(steps, times, strict=True)
    )


def _begun_option(job: Job) -> Option:
    if job.begun is None:
        raise ValueError(f"{job.id} has not begun")
    return job.begun.option


def _left_out(job: Job, slots: int) -> Piece:
    """What has begun of a job left out: she stands there to the end, but holds no longer than forecast."""
    begun = job.begun
    if begun is None:
        raise ValueError(f"{job.id} has not begun")
    return Piece(
        job=job,
        step=None,
        option=begun.option,
        place=begun.place,
        start=-1,
        end=begun.end,
        leaves=slots,
        lets_go=begun.end,
        unit=begun.unit,
    )


def _stays(pieces: list[Piece]) -> Iterator[Stay]:
    runs: list[list[Piece]] = []
    for piece in pieces:
        last = runs[-1][-1] if runs else None
        if last is not None and last.job.id == piece.job.id and last.place == piece.place:
            runs[-1].append(piece)
        else:
            runs.append([piece])
    for run in runs:
        yield Stay(
            job=run[0].job, place=run[0].place, start=run[0].start, end=run[-1].leaves, pieces=tuple(run)
        )
