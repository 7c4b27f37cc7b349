"""Yards small enough to reckon by hand: two working weeks, one table a length, and what else a test needs."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from scheduling.engine.problem import Begun, Job, Option, Place, Problem, Step, Table
from scheduling.engine.schedule import Schedule, StepTime, Unplaced
from scheduling.engine.witness import check

MONDAY = date(2026, 11, 2)


def working_days(slots: int) -> tuple[date, ...]:
    """Mondays to Fridays: slots 0 to 4 are one week, 5 to 9 the next."""
    return tuple(MONDAY + timedelta(days=7 * (s // 5) + s % 5) for s in range(slots))


def lengths(slots: int) -> tuple[Table, ...]:
    """The tables "1", "2", ...: work of so many slots, at any start."""
    return tuple(
        Table(id=str(n), finish=tuple(s + n if s + n <= slots else None for s in range(slots)))
        for n in range(1, 6)
    )


def step(name: str, length: int, *places: str, **values: Any) -> Step:
    """A step with one option; values that an Option knows go to it, the others to the step."""
    of_option = {key: values.pop(key) for key in list(values) if key in Option.__dataclass_fields__}
    options = (Option(places=places, table=str(length), **of_option),)
    return Step(id=name, options=options, **values)


def job(name: str, *steps: Step, **values: Any) -> Job:
    values = {"due": date(2026, 11, 13), "late_price": 100, "drop_price": 5000} | values
    return Job(id=name, steps=steps, **values)


def begun(place: str, end: int, name: str = "was", **values: Any) -> Begun:
    unit, kind = values.pop("unit", None), values.pop("kind", "")
    return Begun(
        step=name, place=place, end=end, unit=unit, kind=kind, option=Option(places=(place,), **values)
    )


def problem(*jobs: Job, slots: int = 10, **values: Any) -> Problem:
    values = {"places": (Place(id="a"), Place(id="b")), "tables": lengths(slots)} | values
    return Problem(days=working_days(slots), jobs=jobs, **values)


def plan(told: Problem, **starts: Any) -> Schedule:
    """A schedule from `name=[(place, start), ...]` with one pair a step; a job that isn't named is left out.

    Ends come from the tables, leaves from what follows; what has begun is put in front.
    """
    tables = {table.id: table for table in told.tables}
    jobs, unplaced = {}, {}
    for each in told.jobs:
        if each.id not in starts:
            unplaced[each.id] = Unplaced(rule="cost", says="it is cheaper to leave her out")
            continue
        times = []
        if each.begun:
            times.append((each.begun.step, each.begun.place, -1, -1, each.begun.end))
        for which, (place, start) in zip(each.steps, starts[each.id], strict=True):
            end = tables[which.options[0].table].finish[start]
            times.append((which.id, place, 0, start, start + 1 if end is None else end))
        leaves = [start for _, _, _, start, _ in times[1:]] + [times[-1][4]]
        jobs[each.id] = tuple(
            StepTime(step=s, place=p, option=o, start=a, end=e, leaves=gone)
            for (s, p, o, a, e), gone in zip(times, leaves, strict=True)
        )
    return Schedule(jobs=jobs, unplaced=unplaced)


def broken(told: Problem, schedule: Schedule) -> list[tuple[str, str, int]]:
    """(rule, job, slot) of every breach of the plan; facts left away."""
    return [(b.rule, b.job, b.slot) for b in check(told, schedule) if not b.fact]


def facts(told: Problem, schedule: Schedule) -> list[tuple[str, str, int]]:
    """(rule, job, slot) of what the yard's own records break."""
    return [(b.rule, b.job, b.slot) for b in check(told, schedule) if b.fact]
