"""The posted plan's places and order for today's yard, also where facts have overrun it."""

from dataclasses import replace
from itertools import pairwise

from scheduling.engine import slots
from scheduling.engine.cost import begun_time
from scheduling.engine.problem import Job
from scheduling.engine.schedule import Schedule, StepTime, Unplaced
from scheduling.loading import Loaded
from scheduling.loading.jobs import option_in
from scheduling.loading.places import DOCK
from scheduling.models import Placement, Plan

Rows = dict[tuple[int, int], Placement]
"""Placements by stage and part."""


def order_of(loaded: Loaded, plan: Plan) -> Schedule:
    """Who is where and who comes before whom, for `engine.risk.winters`: a Schedule that may break rules.

    What has begun is where the records say; all else has the days of the plan, today at the earliest. A step
    that the plan lacks, or has where it can't be done any more, is done where she stands, else in the first
    place it can be done. A boat the plan does not place is left out.
    """
    rows = {(row.stage_id, row.part): row for row in plan.placements.select_related("stage")}
    bays = {bay.pk: (place, bay.name) for place, found in loaded.refs.bays.items() for bay in found}
    placed = {str(row.stage.treatment_id) for row in rows.values()}
    jobs, unplaced = {}, {}
    for job in loaded.problem.jobs:
        if job.id in placed:
            jobs[job.id] = _in_order(loaded, job, rows, bays)
        else:
            unplaced[job.id] = Unplaced(rule="cost", says=f"{job.label} is not in the plan.")
    return Schedule(jobs=jobs, unplaced=unplaced)


def _in_order(loaded: Loaded, job: Job, rows: Rows, bays: dict[int, tuple[str, str]]) -> tuple[StepTime, ...]:
    days = loaded.problem.days
    units = {place.id: place.units for place in loaded.problem.places}
    times = [begun_time(job.begun)] if job.begun is not None else []
    for step in job.steps:
        part = loaded.refs.parts[job.id, step.id]
        row = rows.get((part.stage.pk, part.part))
        before = times[-1] if times else None
        place, bay = bays.get(row.bay_id, ("", "")) if row and row.bay_id else (DOCK, "")
        option = option_in(step, place, row.regime) if row else None
        if option is None and before is not None:
            place, bay = before.place, before.unit or ""
            option = option_in(step, place, "")
        if option is None:
            option, place, bay = 0, step.options[0].places[0], ""
        start = max(
            slots.slot_on_or_after(days, row.first_day) if row else 0, before.start if before else 0, 0
        )
        end = max(slots.slot_before(days, row.last_day) if row else start, start) + 1
        named = units[place]
        unit = (bay if bay in named else named[0]) if named else None
        times.append(
            StepTime(step=step.id, place=place, option=option, start=start, end=end, leaves=end, unit=unit)
        )
    if job.begun is not None and units[job.begun.place] and times[0].unit is None:
        beside = [time.unit for time in times[1:2] if time.place == job.begun.place]
        times[0] = replace(times[0], unit=(*beside, units[job.begun.place][0])[0])
    return (*(replace(time, leaves=after.start) for time, after in pairwise(times)), *times[-1:])
