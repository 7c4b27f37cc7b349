"""What can happen to a yard with a posted plan: each event makes of a Problem the Problem after it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

from scheduling.engine.problem import Job, Place, Problem, Step, Table
from scheduling.engine.schedule import Schedule, StepTime


def _with_job(problem: Problem, job: Job) -> Problem:
    return replace(problem, jobs=tuple(job if other.id == job.id else other for other in problem.jobs))


def _with_step(job: Job, step: Step) -> Job:
    return replace(job, steps=tuple(step if other.id == step.id else other for other in job.steps))


def _slot(problem: Problem, day: date) -> int:
    return bisect_left(problem.days, day)


def times_of(posted: Schedule, job: str) -> dict[str, StepTime]:
    """The planned times of a job, by step."""
    return {time.step: time for time in posted.jobs[job] if time.option >= 0}


# --- The seven events -------------------------------------------------------------------------------------
def dries_longer(problem: Problem, posted: Schedule, job: str, days: int = 9) -> Problem:
    """So many calendar days more until the last drying of this boat is done, wherever she dries."""
    told = next(each for each in problem.jobs if each.id == job)
    step = [each for each in told.steps if each.dries or each.kind == "dry"][-1]
    tables = {table.id: table for table in problem.tables}
    longer: dict[str, Table] = {}

    def later(end: int | None) -> int | None:
        if end is None:
            return None
        day = problem.days[end - 1] + timedelta(days=days)
        return _slot(problem, day) + 1 if day <= problem.days[-1] else None

    options = []
    for option in step.options:
        table = tables[option.table or ""]
        name = f"{table.id} and {days} days"
        longer[name] = replace(table, id=name, finish=tuple(later(end) for end in table.finish))
        options.append(replace(option, table=name))
    new = [table for name, table in longer.items() if name not in tables]
    wetter = replace(problem, tables=(*problem.tables, *new))
    return _with_job(wetter, _with_step(told, replace(step, options=tuple(options))))


def person_out(problem: Problem, posted: Schedule, hand: str, start: int, slots: int = 5) -> Problem:
    """A person is away for a working week."""
    out = range(start, start + slots)
    hands = tuple(
        replace(each, minutes=tuple(0 if s in out else m for s, m in enumerate(each.minutes)))
        if each.id == hand
        else each
        for each in problem.hands
    )
    return replace(problem, hands=hands)


def kit_out(problem: Problem, posted: Schedule, resource: str, start: int, slots: int = 3) -> Problem:
    """The hoist, say, is out for so many slots."""
    out = range(start, start + slots)
    resources = tuple(
        replace(each, capacity=tuple(0 if s in out else c for s, c in enumerate(each.capacity)))
        if each.id == resource
        else each
        for each in problem.resources
    )
    return replace(problem, resources=resources)


def boat_later(problem: Problem, posted: Schedule, job: str, days: int = 9) -> Problem:
    """A boat that has not begun arrives so many calendar days after the day she was posted for."""
    told = next(each for each in problem.jobs if each.id == job)
    first = posted.jobs[job][0].start
    there = min(_slot(problem, problem.days[first] + timedelta(days=days)), len(problem.days) - 1)
    return _with_job(problem, replace(told, earliest=max(told.earliest, there)))


def bay_lost(problem: Problem, posted: Schedule, place: str, start: int) -> Problem:
    """A bay is lost: of a pool one bay from now on, else the place from slot `start` on."""

    def lose(told: Place) -> Place:
        if told.room == 1:
            return replace(told, closed=(*told.closed, (start, len(problem.days))))
        empty = _empty(problem, told)
        units = tuple(unit for unit in told.units if not empty or unit != empty[0])
        return replace(told, room=told.room - 1, units=units)

    return replace(problem, places=tuple(lose(each) if each.id == place else each for each in problem.places))


def can_lose(problem: Problem, place: str) -> bool:
    """Whether a bay of a place can be lost: one in which no boat has begun, if its bays have names."""
    told = next(each for each in problem.places if each.id == place)
    return told.room == 1 or not told.units or bool(_empty(problem, told))


def _empty(problem: Problem, place: Place) -> list[str]:
    stands = {job.begun.unit for job in problem.jobs if job.begun and job.begun.place == place.id}
    return [unit for unit in place.units if unit not in stands]


def tent_lost(problem: Problem, posted: Schedule, resource: str, start: int) -> Problem:
    """One tent fewer from slot `start` on."""
    resources = tuple(
        replace(each, capacity=tuple(max(c - 1, 0) if s >= start else c for s, c in enumerate(each.capacity)))
        if each.id == resource
        else each
        for each in problem.resources
    )
    return replace(problem, resources=resources)


def held_longer(problem: Problem, posted: Schedule, job: str, step: str, days: int = 9) -> Problem:
    """What a step waits for comes so many calendar days after the day the step was posted for."""
    told = next(each for each in problem.jobs if each.id == job)
    which = next(each for each in told.steps if each.id == step)
    was = times_of(posted, job)[step].start
    then = min(_slot(problem, problem.days[was] + timedelta(days=days)), len(problem.days) - 1)
    held = replace(which, earliest=max(which.earliest, then), earliest_why="what she waits for comes later")
    return _with_job(problem, _with_step(told, held))


# --- One of each ------------------------------------------------------------------------------------------
Event = Callable[[], Problem]


def seven(problem: Problem, posted: Schedule, number: int = 0) -> dict[str, Problem]:
    """The Problem after each of the seven events; `number` says which boats and days they strike.

    An event that needs what this yard or plan does not have is left away.
    """
    last = len(problem.days)
    jobs = {job.id: job for job in problem.jobs}

    def pick(names: list[str]) -> str | None:
        return sorted(names)[(7 * number + 3) % len(names)] if names else None

    found: dict[str, Problem] = {}
    dry = pick(
        [n for n in posted.jobs if any(s.dries or s.kind == "dry" for s in jobs[n].steps) and jobs[n].steps]
    )
    if dry is not None:
        found["9 days more drying"] = dries_longer(problem, posted, dry)
    away = _busy_hand(problem, posted, number)
    if away is not None:
        found["a person out a week"] = person_out(problem, posted, *away)
    lift = _lift(problem, posted, number)
    if lift is not None:
        found["hoist out 3 days"] = kit_out(problem, posted, *lift)
    late = pick([n for n, times in posted.jobs.items() if jobs[n].begun is None and times[0].start < last])
    if late is not None:
        found["a boat 9 days late"] = boat_later(problem, posted, late)
    used = sorted({time.place for times in posted.jobs.values() for time in times if time.option >= 0})
    used = [place for place in used if can_lose(problem, place)]
    if used:
        place = used[number % len(used)]
        found["a bay lost"] = bay_lost(problem, posted, place, (17 * number + 30) % last)
    tent = _scarce(problem, posted)
    if tent is not None:
        found["a tent lost"] = tent_lost(problem, posted, tent, (11 * number + 10) % last)
    waits = pick([n for n, times in posted.jobs.items() if len(times_of(posted, n)) > 1])
    if waits is not None:
        steps = list(times_of(posted, waits))
        found["a hold longer"] = held_longer(problem, posted, waits, steps[number % (len(steps) - 1) + 1])
    return found


def _busy_hand(problem: Problem, posted: Schedule, number: int) -> tuple[str, int] | None:
    """(hand, slot) of a person and a day on which the others have least time for the work of one skill."""
    jobs = {job.id: job for job in problem.jobs}
    asked: dict[str, list[int]] = {}
    for name in posted.jobs:
        for step in jobs[name].steps:
            time = times_of(posted, name)[step.id]
            for skill, minutes in step.options[time.option].skills.items():
                row = asked.setdefault(skill, [0] * len(problem.days))
                for slot in range(time.start, time.end):
                    row[slot] += minutes
    found = []
    for hand in problem.hands:
        for skill in set(hand.skills) & asked.keys():
            others = [each.minutes for each in problem.hands if skill in each.skills and each.id != hand.id]
            for slot, minutes in enumerate(asked[skill]):
                if minutes:
                    left = sum(row[slot] for row in others) - minutes
                    found.append((left, slot, hand.id))
    if not found:
        return None
    _, slot, name = sorted(found)[number % len(found)]
    return name, slot


def _scarce(problem: Problem, posted: Schedule) -> str | None:
    """Of what boats hold while they stand (tents, heaters) that of which least is left in some slot."""
    jobs = {job.id: job for job in problem.jobs}
    used: dict[str, list[int]] = {}
    for name, times in posted.jobs.items():
        for time in times:
            step = next((s for s in jobs[name].steps if s.id == time.step), None)
            if step is None:
                continue
            for held, amount in step.options[time.option].holds.items():
                row = used.setdefault(held, [0] * len(problem.days))
                for slot in range(max(time.start, 0), time.leaves):
                    row[slot] += amount
    left = {
        each.id: min(c - u for c, u in zip(each.capacity, used[each.id], strict=True))
        for each in problem.resources
        if each.id in used
    }
    return min(left, key=lambda name: (left[name], name)) if left else None


def _lift(problem: Problem, posted: Schedule, number: int) -> tuple[str, int] | None:
    """(resource, slot) of a lift in the plan: work that takes the hoist, else work that takes anything."""
    jobs = {job.id: job for job in problem.jobs}
    lifts = []
    for name in sorted(posted.jobs):
        for step in jobs[name].steps:
            time = times_of(posted, name)[step.id]
            lifts += [(used, time.start) for used in step.options[time.option].uses]
    hoists = [lift for lift in lifts if "hoist" in lift[0]] or lifts
    return hoists[(5 * number + 2) % len(hoists)] if hoists else None
