"""Which bay of a pool each stay has: bays of a pool are equal to the rules, so they are named afterwards.

Stays are taken in the order in which they begin, each into a bay that is free: with intervals this never
fails where there is room in every slot. What had begun comes first and keeps its bay, so nobody moves who
stands already.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace

from scheduling.engine.cost import Stay, standing_out, stays_of
from scheduling.engine.problem import Place, Problem
from scheduling.engine.schedule import Schedule, StepTime


def colour(problem: Problem, schedule: Schedule) -> Schedule:
    """The schedule with the bay (`unit`) of each piece in a pool; one stay keeps one bay.

    A stay that has a bay already keeps it if nobody else is in it. Where more had begun in a pool than it has
    bays, those without a bay of their own stay without. Raises ValueError if planned stays are more than the
    bays.
    """
    pools = {place.id: place for place in problem.places if place.units}
    stays: list[Stay] = []
    for job in problem.jobs:
        times = schedule.jobs.get(job.id)
        stays += stays_of(job.id, times if times is not None else standing_out(problem, job))
    units = _units(problem, pools, [stay for stay in stays if stay.place in pools])
    jobs: dict[str, tuple[StepTime, ...]] = {}
    for stay in stays:
        if stay.job in schedule.jobs:
            unit = units.get(id(stay))
            here = tuple(replace(time, unit=unit) for time in stay.pieces)
            jobs[stay.job] = (*jobs.get(stay.job, ()), *here)
    return replace(schedule, jobs=jobs)


def _units(problem: Problem, pools: Mapping[str, Place], stays: list[Stay]) -> dict[int, str | None]:
    """The bay of each stay, by its identity."""
    named = {job.id: job.begun.unit for job in problem.jobs if job.begun}
    until: dict[str, dict[str, int]] = defaultdict(dict)  # by pool and bay: taken before this slot
    units: dict[int, str | None] = {}
    for stay in stays:
        unit = named.get(stay.job) if stay.start < 0 else None
        if unit is not None:  # a fact, though two may claim one bay
            units[id(stay)] = unit
            until[stay.place][unit] = max(stay.end, until[stay.place].get(unit, 0))
    for stay in sorted(stays, key=lambda stay: (stay.start, stay.end)):
        if id(stay) not in units:
            units[id(stay)] = unit = _free(pools[stay.place], until[stay.place], stay)
            if unit is not None:
                until[stay.place][unit] = stay.end
    return units


def _free(pool: Place, until: Mapping[str, int], stay: Stay) -> str | None:
    free = [unit for unit in pool.units if until.get(unit, 0) <= max(stay.start, 0)]
    wish = stay.pieces[-1].unit
    if wish in free:
        return wish
    if free:
        return free[0]
    if stay.start < 0:
        return None
    raise ValueError(f"{pool.label or pool.id}: no bay is free for {stay.job} in slot {stay.start}")
