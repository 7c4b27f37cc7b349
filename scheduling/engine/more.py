"""One thing more in a yard, as data, and the Problem with it: hands, a kit, a bay, a working day, a lift day,
a later promise.

Whatever it is, every plan of the yard without it can be carried over to the yard with it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

from scheduling.engine.openings import open_day, slot_for, with_day
from scheduling.engine.problem import Hand, Job, Option, Place, Problem, Step, Table
from scheduling.engine.schedule import Schedule, StepTime
from scheduling.engine.slots import slot_on_or_after

MoreKind = Literal["hand", "kit", "bay", "fitted", "promise", "day", "lift day"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxation:
    """One thing more, in slots [start, until) of the yard without it.

    `what` is a skill, or the id of a resource, a place or a job, or a day (ISO). `amount` is minutes a day,
    units of the resource, boats, or calendar days, by kind. A bay fitted out takes what `like` takes; on a
    lift day there is the resource `like`, if one is named.
    """

    kind: MoreKind
    what: str
    amount: int
    start: int
    until: int
    says: str
    like: str = ""
    price: int | None = None  # [minor units] what it costs, if the yard has said so


def with_more(problem: Problem, *things: Relaxation) -> Problem:
    """The yard with these things more."""
    days = problem.days
    for thing in things:
        # A day that was no slot moves what comes after it, so spans are read as days of the first yard.
        start = slot_on_or_after(problem.days, days[thing.start])
        until = (
            len(problem.days)
            if thing.until >= len(days)
            else slot_on_or_after(problem.days, days[thing.until])
        )
        problem = _with(problem, replace(thing, start=start, until=until))
    return problem


def carried_over(
    problem: Problem, wider: Problem, times: Sequence[StepTime], job: Job
) -> tuple[StepTime, ...]:
    """Times of a plan of `problem` as slots of `wider`; each end as the wider yard's table says."""
    tables = {table.id: table for table in wider.tables}
    steps = {step.id: step for step in job.steps}
    found: list[StepTime] = []
    for time in times:
        if time.option < 0:
            found.append(replace(time, end=job.begun.end if job.begun else time.end))
            continue
        start = slot_on_or_after(wider.days, problem.days[time.start])
        table = steps[time.step].options[time.option].table
        end = tables[table or ""].finish[start]
        found.append(replace(time, start=start, end=time.end if end is None else end))
    for number, time in enumerate(found):
        leaves = found[number + 1].start if number + 1 < len(found) else time.end
        found[number] = replace(time, leaves=leaves)
    return tuple(found)


def _with(problem: Problem, thing: Relaxation) -> Problem:
    match thing.kind:
        case "hand":
            return _hand(problem, thing)
        case "kit":
            return _kit(problem, thing)
        case "bay":
            return _bay(problem, thing)
        case "fitted":
            return _fitted(problem, thing)
        case "promise":
            later = timedelta(days=thing.amount)
            jobs = tuple(replace(j, due=j.due + later) if j.id == thing.what else j for j in problem.jobs)
            return replace(problem, jobs=jobs)
        case "day":
            day = date.fromisoformat(thing.what)
            if day not in problem.days:
                problem = with_day(problem, day)
            return open_day(problem, slot_for(problem, day))
        case "lift day":
            return _lift_day(problem, thing, slot_for(problem, date.fromisoformat(thing.what)))


def _hand(problem: Problem, thing: Relaxation) -> Problem:
    works = [any(h.minutes[s] for h in problem.hands) for s in range(len(problem.days))]
    minutes = tuple(
        thing.amount if works[s] and thing.start <= s < thing.until else 0 for s in range(len(works))
    )
    name = f"one more of {thing.what} {len(problem.hands)}"
    hand = Hand(id=name, label=thing.says, skills=(thing.what,), minutes=minutes)
    return replace(problem, hands=(*problem.hands, hand))


def _kit(problem: Problem, thing: Relaxation) -> Problem:
    """More of a resource; of one that is there on its days only, on these."""
    by_days = any(thing.what in used for used in windows(problem).values())

    def more(slot: int, capacity: int) -> int:
        there = thing.start <= slot < thing.until and (capacity > 0 or not by_days)
        return capacity + thing.amount * there

    resources = tuple(
        replace(r, capacity=tuple(more(s, c) for s, c in enumerate(r.capacity))) if r.id == thing.what else r
        for r in problem.resources
    )
    return replace(problem, resources=resources)


def _bay(problem: Problem, thing: Relaxation) -> Problem:
    """One bay more like one there is, with a door of its own; open in its span only."""
    like = next(p for p in problem.places if p.id == thing.what)
    closed = [*like.closed]
    if thing.start > 0:
        closed.append((0, thing.start))
    if thing.until < len(problem.days):
        closed.append((thing.until, len(problem.days)))
    name = f"one more like {like.id} {len(problem.places)}"
    bay = Place(
        id=name,
        label=thing.says,
        air=like.air,
        price=like.price,
        closed=tuple(closed),
        limits=like.limits,
    )
    problem = replace(problem, places=(*problem.places, bay))
    return _offer(problem, name, like.id)


def _offer(problem: Problem, place: str, like: str) -> Problem:
    """The place offered in every option that offers `like`."""

    def wider(option: Option) -> Option:
        if like not in option.places or place in option.places:
            return option
        return replace(option, places=(*option.places, place))

    jobs = tuple(
        replace(
            job,
            steps=tuple(replace(s, options=tuple(wider(o) for o in s.options)) for s in job.steps),
        )
        for job in problem.jobs
    )
    return replace(problem, jobs=jobs)


def _fitted(problem: Problem, thing: Relaxation) -> Problem:
    """The place offered where `like` is, for work that starts in the span or after it."""
    if thing.start == 0:
        return _offer(problem, thing.what, thing.like)
    tables = {table.id: table for table in problem.tables}
    later: dict[str, Table] = {}

    def wider(step: Step) -> Step:
        offers = [o for o in step.options if thing.like in o.places and thing.what not in o.places]
        more = [replace(o, places=(thing.what,), table=f"{o.table} from {thing.start}") for o in offers]
        for offer, new in zip(offers, more, strict=True):
            table, name = tables[offer.table or ""], new.table or ""
            finish = tuple(end if s >= thing.start else None for s, end in enumerate(table.finish))
            later[name] = replace(table, id=name, finish=finish)
        return replace(step, options=(*step.options, *more)) if more else step

    jobs = tuple(replace(job, steps=tuple(wider(s) for s in job.steps)) for job in problem.jobs)
    new = tuple(table for name, table in later.items() if name not in tables)
    return replace(problem, jobs=jobs, tables=(*problem.tables, *new))


def windows(problem: Problem) -> dict[str, frozenset[str]]:
    """The tables of work that can start on few days (tides, an outsider's days), with what such work uses."""
    found: dict[str, frozenset[str]] = {}
    for table in problem.tables:
        starts = [s for s, end in enumerate(table.finish) if end is not None]
        short = table.anew is not None or all((table.finish[s] or 0) == s + 1 for s in starts)
        if starts and short and 2 * len(starts) < len(problem.days):
            found[table.id] = frozenset()
    for job in problem.jobs:
        for step in job.steps:
            for option in step.options:
                if option.table in found:
                    found[option.table] |= {name for name in option.uses if name != problem.mover}
    return found


def first_slot(problem: Problem, table: Table) -> int:
    """The first slot for which one more of the days of a table in `windows` can be had."""
    return max(problem.frozen, table.anew or 0)


def opened(table: Table, slots: Sequence[int]) -> Table:
    """A table in `windows` by which work can start in these slots too."""
    finish = list(table.finish)
    length = next(end - s for s, end in enumerate(finish) if end is not None)
    for slot in slots:
        if finish[slot] is None and slot + length <= len(finish):
            finish[slot] = slot + length
    return replace(table, finish=tuple(finish))


def _lift_day(problem: Problem, thing: Relaxation, slot: int) -> Problem:
    """Work of few days that uses the same can start in this slot too; that is there as on its best day."""
    few = {name for name, used in windows(problem).items() if not thing.like or thing.like in used}
    tables = tuple(opened(t, (slot,)) if t.id in few else t for t in problem.tables)
    resources = tuple(
        replace(r, capacity=tuple(max(r.capacity) if s == slot else c for s, c in enumerate(r.capacity)))
        if r.id == thing.like
        else r
        for r in problem.resources
    )
    return replace(problem, tables=tables, resources=resources)


def schedule_over(problem: Problem, wider: Problem, schedule: Schedule) -> Schedule:
    """A plan of `problem` as a plan of `wider`."""
    jobs = {job.id: job for job in wider.jobs}
    times = {name: carried_over(problem, wider, t, jobs[name]) for name, t in schedule.jobs.items()}
    return replace(schedule, jobs=times)
