"""What a yard might have one more of, derived from its Problem and its plan: candidates, none of them judged.

The hours of one more hand are the longest day that anybody works; of a kit there are as many more as one
stage takes at most. Nothing is for the frozen days: they stay as they are, and nobody can be had at once.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from math import ceil

from scheduling.engine.more import Relaxation, first_slot, windows
from scheduling.engine.problem import Job, Place, Problem, Resource, Table
from scheduling.engine.sayings import job_name, place_name
from scheduling.engine.schedule import Schedule
from scheduling.engine.slots import late_days, slot_on_or_after

WEEK = 7
"""[calendar days] by which a later promise is later at first."""
SATURDAY = 5


def candidates(problem: Problem, schedule: Schedule) -> tuple[Relaxation, ...]:
    """All candidates: one more of each skill by month, of each kit, bays, Saturdays, lift days, promises.

    None where all days left are frozen.
    """
    if problem.frozen >= len(problem.days):
        return ()
    return (
        *_hands(problem),
        *_kits(problem),
        *_bays(problem),
        *_saturdays(problem),
        *_lift_days(problem, schedule),
        *_promises(problem, schedule),
    )


def _hands(problem: Problem) -> Iterator[Relaxation]:
    options = [o for j in problem.jobs for s in j.steps for o in s.options]
    skills = sorted({skill for o in options for skill, amount in o.skills.items() if amount})
    day = max((max(h.minutes, default=0) for h in problem.hands), default=0)
    for skill in skills if day else ():
        for first, start, until in _months(problem):
            yield Relaxation(
                kind="hand",
                what=skill,
                amount=day,
                start=start,
                until=until,
                says=f"one more hand for {skill} in {first:%B}",
            )


def _months(problem: Problem) -> Iterator[tuple[date, int, int]]:
    start = problem.frozen
    for s in range(start + 1, len(problem.days) + 1):
        first = problem.days[start]
        if s == len(problem.days) or (problem.days[s].year, problem.days[s].month) != (
            first.year,
            first.month,
        ):
            yield first, start, s
            start = s


def _kits(problem: Problem) -> Iterator[Relaxation]:
    most: dict[str, int] = {}
    used: set[str] = set()
    for job in problem.jobs:
        for step in job.steps:
            for option in step.options:
                used.update(option.uses)
                for name in {*option.uses, *option.holds}:
                    amount = option.uses.get(name, 0) + option.holds.get(name, 0)
                    most[name] = max(most.get(name, 0), amount)
    if problem.mover is not None:
        most[problem.mover] = max(most.get(problem.mover, 0), 1)
    for resource in problem.resources:
        amount = most.get(resource.id, 0)
        if amount and resource.id not in problem.fixed:
            count = ceil(amount / resource.one)
            yield Relaxation(
                kind="kit",
                what=resource.id,
                amount=count * resource.one,
                start=problem.frozen,
                until=len(problem.days),
                says=_more_of(problem, resource, count, a_day=resource.id in used),
            )


def _more_of(problem: Problem, resource: Resource, count: int, *, a_day: bool) -> str:
    """So many more of a resource, in words: "one more tent L", "one more lift a day for the hoist"."""
    label, unit = resource.label or resource.id, resource.unit
    many = "one" if count == 1 else str(count)
    if unit == "W" and count >= 1000:
        many, unit = f"{count / 1000:g}", "kW"
    if resource.id == problem.mover:
        return "one more trip a day"
    if unit and a_day:
        return f"{many} more {unit.removesuffix('s') if count == 1 else unit} a day for the {label}"
    if unit:
        return f"{many} {unit} more {label}"
    return f"one more {label}" if count == 1 else f"{many} more: {label}"


def _bays(problem: Problem) -> Iterator[Relaxation]:
    """One more bay like each place; each bay of its own fitted out like the one that takes most beside it."""
    steps: dict[str, set[tuple[str, str]]] = {place.id: set() for place in problem.places}
    few = windows(problem)
    told: set[object] = set()  # bays that are alike are one candidate
    stayed: set[str] = set()  # nobody stays at the dock
    for job in problem.jobs:
        for step in job.steps:
            for option in step.options:
                stayed.update(option.places if option.table not in few else ())
                for name in option.places:
                    steps[name].add((job.id, step.id))
    for place in problem.places:
        whole, name = len(problem.days), _bay_name(place)
        alike = (place.air, place.price, tuple(sorted(place.limits.items())), frozenset(steps[place.id]))
        if place.id in stayed and alike not in told:
            told.add(alike)
            yield Relaxation(
                kind="bay",
                what=place.id,
                amount=1,
                start=problem.frozen,
                until=whole,
                says=f"one more bay like {name}",
            )
        if place.room == 1 and place.air is not None and place.id not in problem.fixed:
            like = _fitter(problem.places, steps, place)
            if like is not None:
                yield Relaxation(
                    kind="fitted",
                    what=place.id,
                    amount=1,
                    start=problem.frozen,
                    until=whole,
                    like=like.id,
                    says=f"{name} fitted out like {_bay_name(like)}",
                )


def _bay_name(place: Place) -> str:
    """A bay, or one of a pool of bays that are alike."""
    return place.units[0] if place.units else place_name(place)


def _fitter(places: tuple[Place, ...], steps: dict[str, set[tuple[str, str]]], place: Place) -> Place | None:
    """The place in a shed in which most can be done that can't be done here, and all that can."""
    more = [p for p in places if p.air is not None and steps[p.id] > steps[place.id]]
    return max(more, key=lambda p: (len(steps[p.id]), p.id)) if more else None


def _saturdays(problem: Problem) -> Iterator[Relaxation]:
    if not any(problem.calendars) or not problem.hands:
        return
    day = problem.days[min(problem.frozen, len(problem.days) - 1)] + timedelta(days=1)
    while day < problem.days[-1]:
        at = slot_on_or_after(problem.days, day)
        worked = problem.days[at] == day and any(h.minutes[at] for h in problem.hands)
        friday = problem.days[at - 1] == day - timedelta(days=1) and any(
            h.minutes[at - 1] for h in problem.hands
        )
        if day.weekday() == SATURDAY and friday and not worked:
            yield Relaxation(
                kind="day",
                what=day.isoformat(),
                amount=1,
                start=at,
                until=at + 1,
                says=f"work on Sat {day.day} {day:%b}",
            )
        day += timedelta(days=1)


def _lift_days(problem: Problem, schedule: Schedule) -> Iterator[Relaxation]:
    """The first day for which a lift or a visit can be had, of those on which a late boat waits for one."""
    few, told = windows(problem), set()
    tables = {table.id: table for table in problem.tables}
    for job in _waiting(problem, schedule):
        times = schedule.jobs.get(job.id, ())
        for number in range(len(times) - len(job.steps), len(times)) if times else ():
            time, step = times[number], job.steps[number - (job.begun is not None)]
            table = tables.get(step.options[time.option].table or "")
            if table is None or table.id not in few:
                continue
            before = times[number - 1].end + step.wait_min if number else 0
            ready = max(before, job.earliest, step.earliest, first_slot(problem, table))
            what = min(few[table.id], default="")
            closed = ready < time.start and table.finish[ready] is None
            if closed and (ready, what) not in told and any(h.minutes[ready] for h in problem.hands):
                told.add((ready, what))
                yield lift_day(problem, table, ready)


def lift_day(problem: Problem, table: Table, slot: int) -> Relaxation:
    """This slot as one on which work by this table of few days can start: whatever the tide, or by asking
    somebody from outside to come once more."""
    day, used = problem.days[slot], windows(problem)[table.id]
    what = min(used, default="")
    label = next((r.label or r.id for r in problem.resources if r.id == what), what)
    on = f"{day:%a} {day.day} {day:%b}"
    says = f"a lift day on {on}" + (" with a hired crane" if what else "")
    if table.anew is not None:
        says = f"one more day of the {label}: {on}"
    return Relaxation(
        kind="lift day", what=day.isoformat(), amount=1, start=slot, until=slot + 1, like=what, says=says
    )


def _promises(problem: Problem, schedule: Schedule) -> Iterator[Relaxation]:
    for job in _waiting(problem, schedule):
        yield later_promise(problem, job, WEEK)


def later_promise(problem: Problem, job: Job, days: int) -> Relaxation:
    """A job promised so many calendar days later."""
    late = "a week later" if days == WEEK else f"{days} days later"
    whole, says = len(problem.days), f"{job_name(job)} promised {late}"
    return Relaxation(kind="promise", what=job.id, amount=days, start=0, until=whole, says=says)


def _waiting(problem: Problem, schedule: Schedule) -> Iterator[Job]:
    """Late jobs and those left out."""
    for job in problem.jobs:
        times = schedule.jobs.get(job.id)
        if times is None or late_days(problem.days, job.due, times[-1].end):
            yield job
