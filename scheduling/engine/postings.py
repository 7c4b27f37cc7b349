"""What a posted plan says of today's yard: each step's place and start, as long as its table says today."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from scheduling.engine.compiled import Compiled
from scheduling.engine.cost import begun_time
from scheduling.engine.problem import Job, Posted, Problem, Step
from scheduling.engine.schedule import Rule, Schedule, StepTime, Unplaced


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A rule that a path breaks: at which step, in which slot, over which place, resource, skills or dirt."""

    rule: Rule
    step: str
    slot: int
    what: str = ""


Way = tuple[StepTime, ...] | Broken | None
"""A job's posted placements at today's lengths; why they can't be said; None if none are posted."""


def posted_in(problem: Problem, posted: Schedule) -> Problem:
    """The Problem with every step's `posted`: as it is, else from the plan."""
    known = {place.id for place in problem.places}
    jobs, changed = [], False
    for job in problem.jobs:
        was = {t.step: t for t in posted.jobs.get(job.id, ()) if t.option >= 0 and t.place in known}
        steps = tuple(
            replace(step, posted=_as_posted(was[step.id])) if step.posted is None and step.id in was else step
            for step in job.steps
        )
        new = steps != job.steps
        changed |= new
        jobs.append(replace(job, steps=steps) if new else job)
    return replace(problem, jobs=tuple(jobs)) if changed else problem


def _as_posted(time: StepTime) -> Posted:
    return Posted(place=time.place, start=time.start, option=time.option, unit=time.unit)


def posted_of(problem: Problem) -> Schedule | None:
    """The posted plan as the Problem's steps say it, at today's lengths; None if none of them says anything.

    A job of which only some steps are posted has only these.
    """
    tables = {table.id: table.finish for table in problem.tables}
    jobs: dict[str, tuple[StepTime, ...]] = {}
    for job in problem.jobs:
        rows = [_time(tables, step, step.posted) for step in job.steps if step.posted is not None]
        if not rows:
            continue
        if job.begun is not None:
            rows.insert(0, begun_time(job.begun))
        leaves = [row.start for row in rows[1:]] + [rows[-1].end]
        jobs[job.id] = tuple(replace(r, leaves=max(x, r.end)) for r, x in zip(rows, leaves, strict=True))
    out = {
        job.id: Unplaced(rule="cost", says="the posted plan leaves her out")
        for job in problem.jobs
        if job.left_out and job.id not in jobs
    }
    return Schedule(jobs=jobs, unplaced=out) if jobs or out else None


def _time(tables: Mapping[str, Sequence[int | None]], step: Step, posted: Posted) -> StepTime:
    option = posted.option
    if option is None:
        option = next((o for o, each in enumerate(step.options) if posted.place in each.places), 0)
    finish = tables[step.options[option].table or ""]
    end = finish[posted.start] if posted.start < len(finish) else None
    end = posted.start + 1 if end is None else end
    return _row(step, posted, option, end)


def _row(step: Step, posted: Posted, option: int, end: int) -> StepTime:
    """A step where it is posted, until another follows."""
    return StepTime(
        step=step.id,
        place=posted.place,
        option=option,
        start=posted.start,
        end=end,
        leaves=end,
        unit=posted.unit,
    )


def elsewhere(
    problem: Problem, steps: Sequence[tuple[str, str]], plan: Schedule
) -> tuple[tuple[str, str], ...]:
    """Those of some steps, (job, step), that a plan has in another place or slot than they are posted in."""
    posted = {(job.id, step.id): step.posted for job in problem.jobs for step in job.steps}
    found = []
    for job, step in steps:
        was = posted[job, step]
        now = next((time for time in plan.jobs.get(job, ()) if time.step == step), None)
        if now is not None and (was is None or (now.place, now.start) != (was.place, was.start)):
            found.append((job, step))
    return tuple(found)


def ways(compiled: Compiled, posted: Schedule) -> dict[str, Way]:
    """Each job's posted placements, each as long as its table says today."""
    return {
        name: None if name in posted.unplaced else _way(compiled, job, posted.jobs.get(name, ()))
        for name, job in compiled.jobs.items()
    }


def _way(compiled: Compiled, job: Job, times: Sequence[StepTime]) -> Way:
    begun = job.begun
    if job.steps and all(step.posted is None for step in job.steps):
        return None
    was = {time.step: time for time in times}
    rows: list[StepTime] = []
    if begun is not None:
        old = was.get(begun.step)
        named = old.unit if old is not None and old.place == begun.place else None
        rows.append(begun_time(begun, unit=named))
    for step in job.steps:
        made = _piece(compiled, step, was.get(step.id))
        if isinstance(made, Broken):
            return made
        rows.append(made)
    starts = [time.start for time in rows[1:]] + [rows[-1].end]
    return tuple(replace(time, leaves=leaves) for time, leaves in zip(rows, starts, strict=True))


def _piece(compiled: Compiled, step: Step, was: StepTime | None) -> StepTime | Broken:
    posted = step.posted
    if posted is None:
        return Broken(rule="chain", step=step.id, slot=0)
    if was is not None and (was.place, was.start) == (posted.place, posted.start):
        posted = _as_posted(was)
    able = [o for o, option in enumerate(step.options) if posted.place in option.places]
    if posted.option in able:
        able = [posted.option]
    if not able:
        return Broken(rule="fit", step=step.id, slot=posted.start, what=posted.place)
    for o in able:
        finish = compiled.books.tables[step.options[o].table or ""].finish
        end = finish[posted.start] if posted.start < len(finish) else None
        if end is not None:
            return _row(step, posted, o, end)
    return Broken(rule="windows", step=step.id, slot=min(posted.start, compiled.slots))
