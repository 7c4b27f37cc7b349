"""Bays of pools for a plan made from a posted one: who has not moved keeps her bay."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace

from scheduling.engine.colour import colour
from scheduling.engine.cost import Stay, standing_out, stays_of
from scheduling.engine.problem import Place, Problem
from scheduling.engine.schedule import Schedule, StepTime


def keep_bays(problem: Problem, schedule: Schedule, posted: Schedule) -> Schedule:
    """The schedule with a bay for each piece in a pool; a stay none of whose pieces moved keeps its own.

    Bays of begun stays come first, then those kept, pinned ones and whole stays before others, then the rest
    in the order in which they begin, the fewest others changing bays where none is free. Where that fails,
    all are dealt anew.
    """
    pools = {place.id: place for place in problem.places if place.units}
    stays: list[Stay] = []
    for job in problem.jobs:
        times = schedule.jobs.get(job.id)
        times = times if times is not None else standing_out(problem, job)
        stays += stays_of(job.id, _as_posted(times, posted.jobs.get(job.id, ())))
    dealt = _deal(problem, pools, stays)
    if dealt is None:
        jobs: dict[str, tuple[StepTime, ...]] = defaultdict(tuple)
        for stay in stays:
            if stay.job in schedule.jobs:
                jobs[stay.job] = (*jobs[stay.job], *stay.pieces)
        return colour(problem, replace(schedule, jobs={name: jobs[name] for name in schedule.jobs}))
    found: dict[str, tuple[StepTime, ...]] = {}
    for stay, unit in zip(stays, dealt, strict=True):
        if stay.job in schedule.jobs:
            here = tuple(replace(time, unit=unit) for time in stay.pieces)
            found[stay.job] = (*found.get(stay.job, ()), *here)
    return replace(schedule, jobs={name: found[name] for name in schedule.jobs})


def _as_posted(times: tuple[StepTime, ...], posted: tuple[StepTime, ...]) -> tuple[StepTime, ...]:
    """The same times, each with the bay it was posted in if it has not moved, else with none."""
    was = {time.step: time for time in posted}
    rows = []
    for time in times:
        old = was.get(time.step)
        stays = old is not None and (old.place, old.start) == (time.place, time.start)
        keeps = old.unit if old is not None and stays else None
        rows.append(replace(time, unit=time.unit if time.start < 0 and time.unit is not None else keeps))
    return tuple(rows)


def _deal(problem: Problem, pools: Mapping[str, Place], stays: list[Stay]) -> list[str | None] | None:
    """The bay of each stay, None outside pools and where facts alone are more than the bays; None = fails."""
    inside = [number for number, stay in enumerate(stays) if stay.place in pools]
    units: dict[int, str | None] = {}
    facts = {job.id: job.begun.unit for job in problem.jobs if job.begun}
    fixed: set[int] = set()
    for number in inside:
        unit = facts.get(stays[number].job) if stays[number].start < 0 else None
        if unit is not None:  # a fact, though two may claim one bay
            units[number] = unit
            fixed.add(number)

    def there(number: int, unit: str) -> list[int]:
        """Who is in the bay while this stay lasts."""
        one = stays[number]
        return [
            other
            for other, theirs in units.items()
            if theirs == unit
            and other != number
            and stays[other].place == one.place
            and max(stays[other].start, one.start, 0) < min(stays[other].end, one.end)
        ]

    def free(number: int) -> list[str]:
        return [unit for unit in pools[stays[number].place].units if not there(number, unit)]

    def swap(number: int) -> bool:
        """A bay for a stay that finds none free, by moving the fewest others to other bays."""
        ways = sorted((len(there(number, u)), u) for u in pools[stays[number].place].units)
        for _, unit in ways:
            moving = there(number, unit)
            if any(other in fixed for other in moving):
                continue
            before = dict(units)
            units[number] = unit
            for other in moving:
                del units[other]
            for other in moving:
                elsewhere = free(other)
                if not elsewhere:
                    break
                units[other] = elsewhere[0]
            else:
                return True
            units.clear()
            units.update(before)
        return False

    pinned = {(job.id, step.id) for job in problem.jobs for step in job.steps if step.pin_start is not None}

    def turn(number: int) -> tuple[bool, bool]:
        pieces = stays[number].pieces
        held = any((stays[number].job, piece.step) in pinned for piece in pieces)
        return not held, any(piece.unit is None for piece in pieces)

    for number in sorted(inside, key=turn):
        wishes = {piece.unit for piece in stays[number].pieces if piece.unit is not None}
        wish = next(iter(wishes), None)
        if number not in units and len(wishes) == 1 and wish in free(number):
            units[number] = wish
    for number in sorted(inside, key=lambda number: (stays[number].start, stays[number].end)):
        if number in units:
            continue
        bays = free(number)
        if bays:
            units[number] = bays[0]
        elif not swap(number):
            if stays[number].start >= 0:
                return None
            units[number] = None
    return [units.get(number) for number in range(len(stays))]


def free_bays(problem: Problem, schedule: Schedule, name: str) -> tuple[StepTime, ...]:
    """The times of one job, each with the name of a bay of a pool that is free all the while.

    Without a name where there is none such, or where somebody stands whose bay has no name.
    """
    pools = {place.id: place for place in problem.places if place.units}
    hers = {time.place for time in schedule.jobs[name]} & pools.keys()
    others: list[Stay] = []
    for job in problem.jobs:
        times = schedule.jobs.get(job.id) or standing_out(problem, job)
        if job.id != name and any(time.place in hers for time in times):
            others += stays_of(job.id, times)
    found: list[StepTime] = []
    for stay in stays_of(name, schedule.jobs[name]):
        start, bays = max(stay.start, 0), pools[stay.place].units if stay.place in pools else ()
        beside = [
            {piece.unit for piece in other.pieces}
            for other in others
            if other.place == stay.place and max(other.start, start) < min(other.end, stay.end)
        ]
        taken = set().union(*beside)
        unit = None if None in taken else next((bay for bay in bays if bay not in taken), None)
        found += [replace(time, unit=unit) for time in stay.pieces]
    return tuple(found)
