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
    places = {bay.pk: place for place, found in loaded.refs.bays.items() for bay in found}
    placed = {str(row.stage.treatment_id) for row in rows.values()}
    jobs, unplaced = {}, {}
    for job in loaded.problem.jobs:
        if job.id in placed:
            jobs[job.id] = _in_order(loaded, job, rows, places)
        else:
            unplaced[job.id] = Unplaced(rule="cost", says=f"{job.label} is not in the plan.")
    return Schedule(jobs=jobs, unplaced=unplaced)


def _in_order(loaded: Loaded, job: Job, rows: Rows, places: dict[int, str]) -> tuple[StepTime, ...]:
    days = loaded.problem.days
    times = [begun_time(job.begun)] if job.begun is not None else []
    for step in job.steps:
        part = loaded.refs.parts[job.id, step.id]
        row = rows.get((part.stage.pk, part.part))
        before = times[-1] if times else None
        place = places.get(row.bay_id, "") if row and row.bay_id else DOCK
        option = option_in(step, place, row.regime) if row else None
        if option is None and before is not None:
            place, option = before.place, option_in(step, before.place, "")
        if option is None:
            place, option = step.options[0].places[0], 0
        start = max(
            slots.slot_on_or_after(days, row.first_day) if row else 0, before.start if before else 0, 0
        )
        end = max(slots.slot_before(days, row.last_day) if row else start, start) + 1
        times.append(StepTime(step=step.id, place=place, option=option, start=start, end=end, leaves=end))
    return (*(replace(time, leaves=after.start) for time, after in pairwise(times)), *times[-1:])
