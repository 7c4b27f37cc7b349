"""What one more boat, or one boat's other day, comes to against the posted plan. Nothing is stored.

The posted plan is taken as today's records let it stand: where it no longer holds, as it has to be mended.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from scheduling.engine import slots, witness
from scheduling.engine.explain import held_up
from scheduling.engine.insertion import State, insert
from scheduling.engine.moved import Moved, Spot
from scheduling.engine.postings import posted_in, posted_of
from scheduling.engine.problem import Job, Problem
from scheduling.engine.quote import Quote, Standing, quotes
from scheduling.engine.repair import freeze, repair
from scheduling.engine.risk import BoatRisk, winters
from scheduling.engine.schedule import Schedule, StepTime
from scheduling.loading.enquiry import Asked
from yard.models import Stage

MOVING_WORK = 120
"""Insertions tried for a way with others moved: half a second of work on 30 boats, measured; of eight days
asked for, three times as many found a way for no boat more, and for one moved fewer boats."""
MOVING_S = 6.0
"""[s] of waiting after which the search for such a way ends whatever it has found, on a busy machine."""

LATE_AS_LEFT_OUT = 20
"""Days late that weigh as much as leaving a boat out while others make room for one who asks: their days
come before money, measured: of eight days asked for none then broke another's day, one did without."""


class NoPlan(LookupError):
    """No plan is posted that a boat could be held against."""


@dataclass(frozen=True)
class Ground:
    """What a boat is asked against: the posted plan without her, as it stands today."""

    asked: Asked
    job: Job  # she, with her day before everything else; with no day, as soon as can be
    others: Problem  # as they are recorded and posted
    standing: Standing  # the same, the day of each before money
    before: Mapping[str, int]  # cost of the plan as it is, by kind [minor units]
    plan: Schedule  # the plan as it is, with her
    back_on: date | None  # her last day in it
    mended: bool  # the posted plan no longer holds
    no_room: tuple[str, ...]  # boats of the season that the plan does not place


@dataclass(frozen=True)
class Row:
    """One stage, or a part of it, where she would be; both days inclusive."""

    stage: Stage
    label: str
    first_day: date
    last_day: date
    bay: str  # of a pool without one free bay for all of it: the pool
    regime: str  # how she dries there, where there is a choice


@dataclass(frozen=True)
class Move:
    """Another boat that would move: what of it, the day she is back, and what becomes of her own day."""

    boat: int
    name: str
    days: int  # [calendar days] the most that a stage of hers starts later, or earlier below 0
    changes: tuple[str, ...]
    was_back: date | None
    back: date | None
    due: date
    promised: bool
    missed_by: int  # [calendar days] after her day
    was_missed_by: int

    @property
    def most(self) -> int:
        """The same either way."""
        return abs(self.days)

    @property
    def newly_missed(self) -> bool:
        """Whether her day is missed, or missed by more, because of it."""
        return self.missed_by > self.was_missed_by


@dataclass(frozen=True)
class Answer:
    """Where she would be, and what that does to others."""

    rows: tuple[Row, ...]  # of what has not begun
    fits: bool
    due: date
    back_on: date | None
    late_days: int
    not_before: date | None  # no plan has her back earlier, unless she has her day; None: none has her at all
    why: str  # what keeps her out, or from her day; "" where she has it
    moves: tuple[Move, ...]
    rise: Mapping[str, int]  # [minor units] what the plan costs more, by kind
    problem: Problem = field(repr=False)  # with her
    plan: Schedule = field(repr=False)

    @property
    def in_time(self) -> bool:
        """Whether she is back on her day."""
        return self.fits and not self.late_days

    @property
    def impossible(self) -> bool:
        """Whether her day can't be had even if all others went elsewhere."""
        return self.not_before is None or self.not_before > self.due


def ground(asked: Asked) -> Ground:
    """The posted plan without the boat that is asked about, mended where today's records ask for it.

    Raises:
        NoPlan: if no plan is posted.
        WitnessRefused: if the plan as mended breaks a rule.
    """
    season, name = asked.loaded.problem, asked.job.id
    if posted_of(season) is None:
        raise NoPlan
    found = repair(season, work=0)
    mended, plan = found.status != "kept", found.schedule
    others, job = asked.others, asked.job
    if mended:
        others, job = _posted_anew(others, plan), _posted_anew(_only(others, job), plan).jobs[0]
    job = freeze(_only(others, job), season.frozen, found.thawed)[0].jobs[0]
    without = Schedule(
        jobs={other: times for other, times in plan.jobs.items() if other != name},
        unplaced={other: out for other, out in plan.unplaced.items() if other != name},
    )
    hers = plan.jobs.get(name)
    labels = {one.id: one.label for one in others.jobs}
    held = _days_first(freeze(others, season.frozen, found.thawed)[0])
    return Ground(
        asked=replace(asked, job=job),
        job=_in_a_hurry(asked, job),
        others=others,
        standing=Standing.of(held, without, frozen=0),  # what a fact lets go stays free
        before={**found.cost, "changes": 0},
        plan=plan,
        back_on=slots.last_day(season.days, hers[-1].end) if hers and hers[-1].end else None,
        mended=mended,
        no_room=tuple(labels[other] for other in without.unplaced if other in labels),
    )


def _in_a_hurry(asked: Asked, job: Job) -> Job:
    """The job with a day late as dear as leaving her out: what is asked is whether she can have the day.

    Who asks for no day is late from the first one on.
    """
    hers = next(row for row in asked.records.treatments if str(row.pk) == job.id)
    told = hers.wanted_on is not None or hers.pk in asked.records.promises
    due = job.due if told else asked.others.days[0]
    return replace(job, due=due, late_price=max(job.late_price, job.drop_price))


def answer(on: Ground, *, moving: bool = False) -> Answer:
    """Where she would be with the others where they are or, with `moving`, with others moved for her.

    Raises:
        WitnessRefused: if what was found breaks a rule.
    """
    found = quotes(on.standing, [on.job], moving=moving, seconds=MOVING_S, work=MOVING_WORK)
    quote, plan = found.quotes[0], found.schedule
    with_her = replace(on.others, jobs=(*on.others.jobs, on.asked.job))
    cost = witness.cost(with_her, plan) if quote.fits else {}
    due = on.asked.job.due
    late = max(0, (quote.end - due).days) if quote.end else 0
    not_before, why = _kept(on, quote) if not quote.fits or late else (quote.end, "")
    return Answer(
        rows=_rows(on, quote.times),
        fits=quote.fits,
        due=due,
        back_on=quote.end,
        late_days=late,
        not_before=not_before,
        why=why,
        moves=_moves(on, with_her, plan, quote.moved),
        rise={kind: cost[kind] - on.before.get(kind, 0) for kind in cost},
        problem=with_her,
        plan=plan,
    )


def as_planned(on: Ground) -> Answer:
    """Where the plan has her as it is, held against the day that is asked for. She is in it."""
    season, name = on.asked.loaded.problem, on.job.id
    jobs = tuple(replace(job, due=on.asked.job.due) if job.id == name else job for job in season.jobs)
    times = on.plan.jobs[name]
    return Answer(
        rows=_rows(on, times),
        fits=True,
        due=on.asked.job.due,
        back_on=on.back_on,
        late_days=slots.late_days(season.days, on.asked.job.due, times[-1].end),
        not_before=on.back_on,
        why="",
        moves=(),
        rise={},
        problem=replace(season, jobs=jobs),
        plan=on.plan,
    )


def odds(on: Ground, found: Answer) -> BoatRisk | None:
    """How sure her day is there: a thousand winters of the whole plan; None where she has no place in it."""
    settings = on.asked.records.settings
    drawn = winters(found.problem, found.plan, likely_pct=settings.likely_pct, safe_pct=settings.safe_pct)
    return drawn.boats.get(on.job.id)


def _rows(on: Ground, times: Sequence[StepTime]) -> tuple[Row, ...]:
    """Her stages to come, day by day."""
    days = on.others.days
    places = {place.id: place.label or place.id for place in on.others.places}
    options = {step.id: step.options for step in on.job.steps}
    return tuple(
        Row(
            stage=on.asked.parts[time.step].stage,
            label=on.asked.parts[time.step].label,
            first_day=slots.first_day(days, time.start),
            last_day=slots.last_day(days, time.end),
            bay=time.unit or places[time.place],
            regime=options[time.step][time.option].label,
        )
        for time in times
        if time.option >= 0
    )


def _kept(on: Ground, quote: Quote) -> tuple[date | None, str]:
    """The day before which nobody could have her back, with no other boat planned at all; and the rule that
    keeps her from her day, or out altogether, with the others where they are."""
    state, name = on.standing.with_jobs([on.job], ()), on.job.id
    least = insert(State(state.compiled), name, hurry=True)
    not_before = slots.last_day(on.others.days, least.times[-1].end) if least else None
    if quote.out is not None:
        return not_before, quote.out.says
    fit = insert(state, name)
    if fit is not None:
        state.put(name, fit.times)
    kept = held_up(state, name)
    return not_before, kept.says if kept else ""


def _moves(on: Ground, problem: Problem, plan: Schedule, moved: Sequence[Moved]) -> tuple[Move, ...]:
    """The other boats that would move, the worst off first."""
    by_boat: dict[str, list[Moved]] = {}
    for one in moved:
        by_boat.setdefault(one.job, []).append(one)
    jobs = {job.id: job for job in problem.jobs}
    found = [_move(on, problem, plan, jobs[name], its) for name, its in by_boat.items()]
    return tuple(sorted(found, key=lambda move: (-move.missed_by, -abs(move.days), move.name)))


def _move(on: Ground, problem: Problem, plan: Schedule, job: Job, moved: Sequence[Moved]) -> Move:
    days = problem.days
    shifts = [(days[one.now.start] - days[one.was.start]).days for one in moved if one.now and one.was]
    before, after = on.standing.posted.jobs.get(job.id), plan.jobs.get(job.id)
    labels = {step.id: step.label or step.id for step in job.steps}
    return Move(
        boat=next(row.boat_id for row in on.asked.records.treatments if str(row.pk) == job.id),
        name=job.label,
        days=max(shifts, key=abs, default=0),
        changes=tuple(_change(problem, labels[one.step], one.was, one.now) for one in moved),
        was_back=slots.last_day(days, before[-1].end) if before else None,
        back=slots.last_day(days, after[-1].end) if after else None,
        due=job.due,
        promised=int(job.id) in on.asked.records.promises,
        missed_by=slots.late_days(days, job.due, after[-1].end) if after else 0,
        was_missed_by=slots.late_days(days, job.due, before[-1].end) if before else 0,
    )


def _change(problem: Problem, stage: str, was: Spot | None, now: Spot | None) -> str:
    """What changes for one stage: its day, its bay, or both."""
    if was is None or now is None:
        return stage
    days = problem.days
    places = {place.id: place.label or place.id for place in problem.places}
    old, new = was.unit or places[was.place], now.unit or places[now.place]
    said = [stage]
    if was.start != now.start:
        said.append(f"{_day(days[now.start])} instead of {_day(days[was.start])}")
    if old != new:
        said.append(f"in {new} instead of {old}")
    return f"{said[0]}: {', '.join(said[1:])}" if len(said) > 1 else stage


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def _days_first(problem: Problem) -> Problem:
    """The Problem with each boat's late days weighed so that they come before money."""
    jobs = (
        replace(job, late_price=max(job.late_price, job.drop_price // LATE_AS_LEFT_OUT))
        for job in problem.jobs
    )
    return replace(problem, jobs=tuple(jobs))


def _only(problem: Problem, job: Job) -> Problem:
    return replace(problem, jobs=(job,))


def _posted_anew(problem: Problem, plan: Schedule) -> Problem:
    """The Problem with another plan as the posted one."""
    jobs = tuple(
        replace(job, steps=tuple(replace(step, posted=None) for step in job.steps)) for job in problem.jobs
    )
    return posted_in(replace(problem, jobs=jobs), plan)
