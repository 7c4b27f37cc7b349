"""What a plan moves of the posted one, and why: the rule and the boats that keep each from staying."""

from dataclasses import dataclass, replace
from typing import Literal

from scheduling.engine import slots
from scheduling.engine.postings import Broken
from scheduling.engine.refit import broken_by, who
from scheduling.engine.room import Desk, same
from scheduling.engine.schedule import Rule, Schedule
from scheduling.engine.state import State


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where and when a step starts."""

    place: str
    start: int  # [slot]
    unit: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a boat is not where she was posted.

    `yard`: today's yard itself breaks `rule` there, whatever the other boats do. `boat`: `others` are in her
    way where they are now. `cost`: she could go back alone, but the plan would cost `saves` more.
    `bay`: only her bay of a pool is another, to make room for `others`. `new`: nothing was posted.
    """

    cause: Literal["yard", "boat", "cost", "bay", "new"]
    rule: Rule | Literal["cost"]
    step: str = ""  # the step that can't be where it was
    slot: int = 0
    what: str = ""  # id of the place, the resource, the skills or the dirt
    others: tuple[str, ...] = ()
    saves: int = 0  # [minor units]
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A step that is elsewhere or at another time than posted; `now` is None for a boat left out."""

    job: str
    step: str
    was: Spot | None
    now: Spot | None
    reason: Reason


def moved_from(desk: Desk, state: State, schedule: Schedule, posted: Schedule) -> tuple[Moved, ...]:
    """Every step of `schedule` (`state` with bays) that is not where it was posted, with a reason."""
    found: list[Moved] = []
    for job in state.compiled.problem.jobs:
        now = {time.step: time for time in schedule.jobs.get(job.id, ())}
        was = {time.step: time for time in posted.jobs.get(job.id, ())}
        changed = []
        for step in job.steps:
            old = None
            if step.posted is not None and job.id not in posted.unplaced:
                same_as = was.get(step.id)
                posted_so = same_as is not None and (same_as.place, same_as.start) == (
                    step.posted.place,
                    step.posted.start,
                )
                unit = same_as.unit if same_as is not None and posted_so else None
                old = Spot(place=step.posted.place, start=step.posted.start, unit=unit)
            new = now.get(step.id)
            spot = Spot(place=new.place, start=new.start, unit=new.unit) if new is not None else None
            if old is not None and spot is not None and old.unit is None and old.place == spot.place:
                old = replace(old, unit=spot.unit)
            if old != spot:
                changed.append((step.id, old, spot))
        if not changed:
            continue
        if same(state.times.get(job.id), desk.ways[job.id]):
            reason = _other_bay(state, schedule, job.id, changed[0][1])
        else:
            reason = reason_of(desk, state, job.id)
        found += [Moved(job=job.id, step=s, was=a, now=b, reason=reason) for s, a, b in changed]
    return tuple(found)


def reason_of(desk: Desk, state: State, name: str) -> Reason:
    """Why a job is not where she was posted, with all others where `state` has them."""
    way = desk.ways[name]
    if way is None:
        return Reason(cause="new", rule="cost", says="nothing was posted for her")
    if isinstance(way, Broken):
        return _told(state, name, way, "yard", ())
    alone = broken_by(State(state.compiled), name, way)
    if alone is not None:
        return _told(state, name, alone, "yard", ())
    without = state.copy()
    if name in without.times:
        without.take(name)
    else:
        without.take_back(name)
    broken = broken_by(without, name, way)
    if broken is not None:
        return _told(state, name, broken, "boat", who(without, way, broken))
    without.put(name, way)
    saves = without.total - state.total
    return Reason(cause="cost", rule="cost", saves=saves, says="the plan costs less so")


def _other_bay(state: State, schedule: Schedule, name: str, old: Spot | None) -> Reason:
    if old is None:
        return Reason(cause="bay", rule="stand")
    mine = next(t for t in schedule.jobs[name] if (t.place, t.start) == (old.place, old.start))
    here = [
        other
        for other, times in schedule.jobs.items()
        if other != name
        and any(
            (t.place, t.unit) == (old.place, old.unit)
            and max(t.start, mine.start) < min(t.leaves, mine.leaves)
            for t in times
        )
    ]
    labels = ", ".join(state.compiled.jobs[other].label or other for other in here)
    says = f"another bay of the same pool: {labels} in hers" if here else "another bay of the same pool"
    return Reason(cause="bay", rule="stand", what=old.place, others=tuple(here), says=says)


def _told(
    state: State, name: str, broken: Broken, cause: Literal["yard", "boat"], others: tuple[str, ...]
) -> Reason:
    says = _says(state, name, broken, others)
    return Reason(
        cause=cause,
        rule=broken.rule,
        step=broken.step,
        slot=broken.slot,
        what=broken.what,
        others=others,
        says=says,
    )


def _says(state: State, name: str, broken: Broken, others: tuple[str, ...]) -> str:
    problem, jobs = state.compiled.problem, state.compiled.jobs
    step = next((s for s in jobs[name].steps if s.id == broken.step), None)
    work = (step.label or step.kind or step.id) if step is not None else broken.step
    day = slots.leaves_on(problem.days, min(max(broken.slot, 0), len(problem.days)))
    on = f"on {day:%a} {day.day} {day:%b}"
    named = {p.id: p.label or p.id for p in problem.places} | {
        r.id: r.label or r.id for r in problem.resources
    }
    what = named.get(broken.what, broken.what)
    boats = ", ".join(jobs[other].label or other for other in others)
    why = step.earliest_why if step is not None else ""
    match broken.rule:
        case "chain" if step is not None and step.posted is None:
            return f"{work} has no day left in the posted plan: its day is over, or it is new"
        case "chain":
            return f"{work} can't start {on}: what comes before it is not done then, or too long ago"
        case "stand" if boats and what:
            return f"{what} is full {on}: {boats}"
        case "stand":
            return f"no place is free to change round {on}"
        case "lane":
            return f"in {what} she and others are in each other's way {on}" + (f": {boats}" if boats else "")
        case "air":
            return f"{work} and {what} of others don't go together {on}" + (f": {boats}" if boats else "")
        case "hands":
            free = f"there is no free {what}" if broken.what in named else f"no hands to {what} are free"
            return f"{free} for {work} {on}" + (f": {boats}" if boats else "")
        case "windows" if what:
            return f"{what} is closed {on}"
        case "windows":
            return f"{work} can't start {on}" + (f": {why}" if why else "")
        case "gate":
            return f"{work} would start {on}, before signed dry is forecast"
        case "fit":
            return f"{what} does not take her for {work}"
    return f"{work} is pinned elsewhere"
