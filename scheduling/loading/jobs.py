"""A treatment as a job: what has begun as a fact, what is left as steps, and when she is due."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduling.engine.problem import Begun, Job, Posted, Step
from scheduling.loading.facts import running_now, standing_still, waits_in
from scheduling.loading.places import DOCK, pence, size_of
from scheduling.loading.stages import Yard
from scheduling.loading.steps import Part, steps_of
from scheduling.models import Placement
from yard.models import Stage, Treatment
from yard.models.schemes import StageKind
from yard.models.treatments import Status, TreatmentState


@dataclass(frozen=True)
class Loading:
    """A job and what its steps stand for; no job where the records forbid one, with the sentence that says
    why."""

    job: Job | None
    parts: dict[str, Part]
    says: str = ""


def due_on(yard: Yard, treatment: Treatment) -> date:
    """Her promise in force, else the day she is wanted, else the season's last day."""
    promise = yard.records.promises.get(treatment.pk)
    if promise is not None:
        return promise.promised_on
    return treatment.wanted_on or yard.axis.last_day


def load_treatment(yard: Yard, treatment: Treatment, posted: dict[tuple[int, int], Placement]) -> Loading:
    """One treatment as a job."""
    stages = yard.records.stages.get(treatment.pk, [])
    waiting = [stage for stage in stages if stage.status == Status.WAITING]
    running = next((stage for stage in stages if stage.status == Status.RUNNING), None)
    here = treatment.state == TreatmentState.HERE
    if not stages:
        return Loading(None, {}, f"{treatment.boat.name} has no stages: open her treatment with a scheme.")
    if running is None and not waiting:
        return Loading(None, {}, f"{treatment.boat.name} has every stage done: say that she is afloat.")
    parts: dict[str, Part] = {}
    steps: list[Step] = []
    begun = None
    if running is not None:
        begun, more = running_now(yard, treatment, running, parts)
        steps += more
    elif here:
        begun = standing_still(yard, treatment, stages, parts)
    dries = any(stage.kind == StageKind.DRY for stage in stages)
    signed = treatment.pk in yard.records.signed_dry
    for stage in waiting:
        # Only the stage that comes next finds her where she stands today.
        waits = waits_in(yard, treatment, stage) if here and not steps and running is None else None
        made = steps_of(yard, treatment, stage, parts, standing=waits)
        if made is None:
            return Loading(None, {}, _no_option(treatment, stage))
        steps += made
    steps = [_gated(step, parts[step.id].stage, dries and not signed, begun, steps) for step in steps]
    steps = [_not_too_early(yard, treatment, step) for step in steps]
    steps = [_posted(yard, step, parts[step.id], posted) for step in steps]
    settings = yard.records.settings
    late = pence(settings.late_day_money) * treatment.weight_pct // 100
    job = Job(
        id=str(treatment.pk),
        label=treatment.boat.name,
        due=due_on(yard, treatment),
        late_price=late,
        drop_price=pence(settings.left_out_money) * treatment.weight_pct // 100,
        earliest=0 if here else yard.axis.at(treatment.arrives_on),
        size=size_of(treatment.boat),
        signed_dry=signed or not dries,
        begun=begun,
        left_out=treatment.pk in yard.records.left_out,
        steps=tuple(steps),
    )
    return Loading(job, parts)


def _no_option(treatment: Treatment, stage: Stage) -> str:
    where = stage.get_place_display()
    return (
        f"{treatment.boat.name} can't be planned: “{stage.name}” has no place {where} or no day it could "
        "start; look at the hoist, the scheme, the tide table and the outside days."
    )


def _gated(step: Step, stage: Stage, needs: bool, begun: Begun | None, steps: list[Step]) -> Step:
    """Coats need signed dry; where drying is behind her but nobody has signed, it is taken to be signed
    first thing."""
    if stage.kind != StageKind.COAT or not needs:
        return step
    drying = any(other.dries for other in steps) or bool(begun and begun.kind == StageKind.DRY)
    gate = begun.end if begun is not None and begun.kind == StageKind.DRY else None
    return replace(step, coats=True, gate=gate if drying else 0)


def _not_too_early(yard: Yard, treatment: Treatment, step: Step) -> Step:
    """She isn't put back in weeks before the day her owner was told; she stands ashore till then."""
    told = treatment.pk in yard.records.promises or treatment.wanted_on is not None
    if step.kind != StageKind.RELAUNCH or not told:
        return step
    due = due_on(yard, treatment)
    first = min(yard.axis.at(due - timedelta(days=yard.records.settings.early_days)), yard.axis.slots - 1)
    if first <= step.earliest:
        return step
    return replace(step, earliest=first, earliest_why=f"her owner expects her on {due:%a} {due.day} {due:%b}")


def _posted(yard: Yard, step: Step, part: Part, posted: dict[tuple[int, int], Placement]) -> Step:
    """Where the posted plan has the step."""
    row = posted.get((part.stage.pk, part.part))
    if row is None or row.first_day < yard.axis.days[0]:
        return step
    place = yard.places.place_of.get(row.bay_id) if row.bay_id else DOCK
    start = yard.axis.at(row.first_day)
    if place is None or start >= yard.axis.slots:
        return step
    bays = yard.places.bays.get(place, ())
    unit = next((yard.places.unit_of(bay) for bay in bays if bay.pk == row.bay_id), None)
    option = option_in(step, place, row.regime)
    return replace(step, posted=Posted(place=place, start=start, option=option, unit=unit))


def option_in(step: Step, place: str, regime: str) -> int | None:
    """The step's option in a place; of drying, in which way."""
    return next(
        (
            number
            for number, option in enumerate(step.options)
            if place in option.places and (not regime or option.label == regime)
        ),
        None,
    )
