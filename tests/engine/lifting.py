"""A yard with exactly one reason lifted, and a plan with one stage where the reason said it could not be."""

from __future__ import annotations

from dataclasses import replace

from scheduling.engine.problem import Hand, Job, Problem, Step, Table
from scheduling.engine.schedule import Schedule
from scheduling.engine.whys import Why


def wished(told: Problem, schedule: Schedule, why: Why, start: int) -> tuple[Problem, Schedule]:
    """The plan with the step of `why` at `start`, in the place and the way it names; and a yard whose table
    says so where it can't start then."""
    job = job_of(told, why.job)
    times = list(schedule.jobs[why.job])
    number = next(i for i, time in enumerate(times) if time.step == why.step)
    step = next(s for s in job.steps if s.id == why.step)
    option = step.options[why.option]
    table = next(t for t in told.tables if t.id == option.table)
    now, end = times[number], table.finish[start]
    if end is None:
        end = min(start + now.end - now.start, len(told.days))
    leaves = end if number + 1 == len(times) else now.leaves
    times[number] = replace(
        now, place=why.place, option=why.option, start=start, end=end, leaves=leaves, unit=None
    )
    if number:
        times[number - 1] = replace(times[number - 1], leaves=start)
    return told, replace(schedule, jobs=dict(schedule.jobs) | {why.job: tuple(times)})


def job_of(told: Problem, name: str) -> Job:
    return next(job for job in told.jobs if job.id == name)


def with_job(told: Problem, job: Job) -> Problem:
    return replace(told, jobs=tuple(job if each.id == job.id else each for each in told.jobs))


def with_step(told: Problem, name: str, step: str, **values: object) -> Problem:
    job = job_of(told, name)
    steps = tuple(replace(s, **values) if s.id == step else s for s in job.steps)  # type: ignore[arg-type]
    return with_job(told, replace(job, steps=steps))


def without(schedule: Schedule, name: str) -> Schedule:
    return replace(schedule, jobs={job: times for job, times in schedule.jobs.items() if job != name})


def lift(told: Problem, schedule: Schedule, why: Why, start: int) -> tuple[Problem, Schedule] | None:
    """The yard and the (wished) plan with that one reason gone; None where no yard can be told so."""
    width = len(told.days)
    match why.kind:
        case "job":
            if job_of(told, why.who).begun is not None:
                return None  # what has begun stands there whatever is planned
            return replace(told, jobs=tuple(j for j in told.jobs if j.id != why.who)), without(
                schedule, why.who
            )
        case "swap":
            return replace(told, swaps="free"), schedule
        case "resource":
            more = tuple(
                replace(r, capacity=tuple(c + 10_000 for c in r.capacity)) if r.id == why.who else r
                for r in told.resources
            )
            return replace(told, resources=more), schedule
        case "hand":
            hand = Hand(
                id=f"more {len(told.hands)}", skills=tuple(why.who.split(" or ")), minutes=(10_000,) * width
            )
            return replace(told, hands=(*told.hands, hand)), schedule
        case "closed":
            return replace(
                told, places=tuple(replace(p, closed=()) if p.id == why.who else p for p in told.places)
            ), schedule
        case "size":
            return replace(
                told, places=tuple(replace(p, limits={}) if p.id == why.who else p for p in told.places)
            ), schedule
        case "hold":
            return with_step(told, why.job, why.step, earliest=0), schedule
        case "arrival":
            return with_job(told, replace(job_of(told, why.job), earliest=0)), schedule
        case "gate":
            return with_step(told, why.job, why.step, gate=0), schedule
        case "pin":
            return with_step(told, why.job, why.step, pin_start=None, pin_place=None), schedule
        case "window":
            return _with_window(told, schedule, why, start), schedule
        case "step":
            return _with_step_before_done(told, schedule, why, start)
    return None


def _with_window(told: Problem, schedule: Schedule, why: Why, start: int) -> Problem:
    time = next(t for t in schedule.jobs[why.job] if t.step == why.step)
    step = next(s for s in job_of(told, why.job).steps if s.id == why.step)
    return _own_table(told, why, step, start, time.end)


def _own_table(told: Problem, why: Why, step: Step, start: int, end: int) -> Problem:
    """Told with a table of its own for the option this reason speaks of."""
    option = step.options[why.option]
    old = next(t for t in told.tables if t.id == option.table)
    finish = list(old.finish)
    finish[start] = end
    name = f"lifted {len(told.tables)}"
    table = Table(id=name, finish=tuple(finish), price=old.price, open=old.open)
    options = list(step.options)
    options[why.option] = replace(option, table=name)
    told = replace(told, tables=(*told.tables, table))
    return with_step(told, why.job, step.id, options=tuple(options))


def _with_step_before_done(
    told: Problem, schedule: Schedule, why: Why, start: int
) -> tuple[Problem, Schedule] | None:
    job = job_of(told, why.job)
    step = next(s for s in job.steps if s.id == why.step)
    times = list(schedule.jobs[why.job])
    number = next(i for i, time in enumerate(times) if time.step == why.step)
    if not number or times[number - 1].step != why.who:  # it is the one after: she may follow later
        return with_step(told, why.job, why.who, wait_max=None, wait_min=0), schedule
    before = times[number - 1]
    if before.end + step.wait_min > start + 1 or step.wait_min:
        return with_step(
            told, why.job, why.step, wait_min=max(start - before.end, 0), wait_max=None
        ), schedule
    if before.option < 0 or start <= before.start:
        return None
    told = replace(told)
    short = replace(why, option=before.option)
    told = _own_table(told, short, next(s for s in job.steps if s.id == why.who), before.start, start)
    times[number - 1] = replace(before, end=start)
    return told, replace(schedule, jobs=dict(schedule.jobs) | {why.job: tuple(times)})
