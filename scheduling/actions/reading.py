"""A stored plan read back as a Schedule of the season as it is loaded now."""

from typing import cast

from scheduling.engine import slots
from scheduling.engine.problem import Job
from scheduling.engine.schedule import RULES, Rule, Schedule, StepTime, Unplaced
from scheduling.loading import Loaded
from scheduling.loading.jobs import option_in
from scheduling.loading.places import DOCK
from scheduling.models import Placement, Plan
from yard.actions.base import Refused


def schedule_of(loaded: Loaded, plan: Plan) -> Schedule:
    """Where and when the plan has every step that is still to come; what has begun is where the records say.

    A boat the plan does not know is left out. How long a step takes is asked of today's finish tables.

    Raises:
        Refused: if the plan lacks a stage of a boat it places, has it in a bay that is no place any more, or
            has it start on a day that is over.
    """
    placements = {(row.stage_id, row.part): row for row in plan.placements.select_related("stage", "bay")}
    bays = {bay.pk: (place, bay.name) for place, found in loaded.refs.bays.items() for bay in found}
    placed = {str(row.stage.treatment_id) for row in placements.values()}
    left_out = {str(row.treatment_id): row for row in plan.unplaced.all()}
    jobs, unplaced = {}, {}
    for job in loaded.problem.jobs:
        if job.id in placed:
            jobs[job.id] = _times(loaded, job, placements, bays)
        elif job.id in left_out and left_out[job.id].rule in RULES:
            row = left_out[job.id]
            unplaced[job.id] = Unplaced(rule=cast(Rule, row.rule), says=row.says)
        else:
            says = left_out[job.id].says if job.id in left_out else f"{job.label} is not in the plan."
            unplaced[job.id] = Unplaced(rule="cost", says=says)
    return Schedule(jobs=jobs, unplaced=unplaced)


def _times(
    loaded: Loaded,
    job: Job,
    rows: dict[tuple[int, int], Placement],
    bays: dict[int, tuple[str, str]],
) -> tuple[StepTime, ...]:
    days = loaded.problem.days
    tables = {table.id: table for table in loaded.problem.tables}
    units = {place.id for place in loaded.problem.places if place.units}
    found = []
    if job.begun is not None:
        found.append((job.begun.step, job.begun.place, -1, -1, job.begun.end, job.begun.unit))
    for step in job.steps:
        part = loaded.refs.parts[job.id, step.id]
        row = rows.get((part.stage.pk, part.part))
        if row is None:
            raise Refused(f"The plan has no day for {job.label}'s {step.label}. Pack again.")
        if row.first_day < days[0]:
            raise Refused(
                f"{job.label}'s {step.label} was to start on {row.first_day:%-d %b} and has not. Pack again."
            )
        place, name = bays.get(row.bay_id, ("", "")) if row.bay_id else (DOCK, "")
        option = option_in(step, place, row.regime)
        if option is None:
            raise Refused(f"{job.label}'s {step.label} can't be done where the plan has it. Pack again.")
        start = slots.slot_on_or_after(days, row.first_day)
        table = tables[step.options[option].table or ""]
        end = table.finish[start] if start < len(days) else None
        end = end or max(slots.slot_before(days, row.last_day) + 1, start + 1)
        found.append((step.id, place, option, start, end, name if place in units else None))
    starts = [one[3] for one in found[1:]] + [found[-1][4]]
    return tuple(
        StepTime(step=step, place=place, option=option, start=start, end=end, leaves=leaves, unit=unit)
        for (step, place, option, start, end, unit), leaves in zip(found, starts, strict=True)
    )
