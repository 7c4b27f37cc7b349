"""A treatment as a job: what has begun as a fact, what is left as steps, and when she is due."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from math import ceil, floor

from scheduling.engine.problem import Begun, Job, Option, Posted, Step
from scheduling.loading.axis import UNTIL_TOLD_DAYS
from scheduling.loading.places import DOCK, pence, size_of
from scheduling.loading.stages import (
    TENT,
    WORKING_TO_CALENDAR,
    Claims,
    Yard,
    claims_of,
    drying_options,
    length_days,
    norm_days,
    options_of,
    tent_option,
)
from scheduling.models import Placement
from yard.models import Air, Bay, Hold, Stage, Treatment
from yard.models.schemes import Movable, StageKind
from yard.models.treatments import Status, TreatmentState
from yard.trade.calendar import days_between
from yard.trade.drying import days_to_dry

MET = 1e-6


@dataclass(frozen=True)
class Part:
    """Which stage (and part of it) a step stands for; `fact` = she is in it, or stands after it, already."""

    stage: Stage
    part: int
    label: str
    fact: bool = False


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
        begun, more = _running(yard, treatment, running, parts)
        steps += more
    elif here:
        begun = _standing(yard, treatment, stages, parts)
    dries = any(stage.kind == StageKind.DRY for stage in stages)
    signed = treatment.pk in yard.records.signed_dry
    for stage in waiting:
        made = _steps(yard, treatment, stage, parts)
        if made is None:
            return Loading(None, {}, _no_option(treatment, stage))
        steps += made
    steps = [_gated(step, parts[step.id].stage, dries and not signed, begun, steps) for step in steps]
    steps = [_not_too_early(yard, treatment, step) for step in steps]
    steps = [_posted(yard, step, parts[step.id], posted, begun) for step in steps]
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
        steps=tuple(steps),
    )
    return Loading(job, parts)


def _no_option(treatment: Treatment, stage: Stage) -> str:
    where = stage.get_place_display()
    return (
        f"{treatment.boat.name} can't be planned: “{stage.name}” has no place {where} or no day it could "
        "start; look at the hoist, the scheme, the tide table and the outside days."
    )


def _steps(
    yard: Yard, treatment: Treatment, stage: Stage, parts: dict[str, Part], first: int = 1
) -> list[Step] | None:
    """The steps of a stage that waits, one a part; from part `first` on."""
    options = options_of(yard, stage, treatment, yard.records.demands.get(stage.pk, []))
    if not options:
        return None
    hold = yard.records.holds.get(stage.pk)
    earliest, why = _held_until(yard, hold)
    pin = yard.records.pins.get(stage.pk)
    steps = []
    for part in range(first, stage.parts + 1):
        step_id = str(stage.pk) if stage.parts == 1 else f"{stage.pk}.{part}"
        label = stage.name if stage.parts == 1 else f"{stage.name} {part} of {stage.parts}"
        parts[step_id] = Part(stage, 0 if stage.parts == 1 else part, label)
        alone = part == first
        steps.append(
            Step(
                id=step_id,
                label=label,
                kind=stage.kind,
                options=options,
                wait_min=_slots(stage.wait_min_d, ceil) if alone else 0,
                wait_max=_slots(stage.wait_max_d, floor) if alone and stage.wait_max_d is not None else None,
                earliest=earliest if alone else 0,
                earliest_why=why if alone else "",
                dries=stage.kind == StageKind.DRY,
                pin_place=yard.places.place_of.get(pin.bay_id) if pin and pin.bay_id else None,
                pin_start=yard.axis.at(pin.first_day) if pin and pin.first_day and alone else None,
            )
        )
    return steps


def _slots(days: Decimal, rounding: Callable[[float], int]) -> int:
    """Calendar days [d] between two stages as slots."""
    return rounding(float(days) / WORKING_TO_CALENDAR)


def _held_until(yard: Yard, hold: Hold | None) -> tuple[int, str]:
    """The slot until which a hold keeps a stage, and for whom she waits."""
    if hold is None:
        return 0, ""
    until = hold.expected_on or yard.axis.today + timedelta(days=UNTIL_TOLD_DAYS)
    return min(yard.axis.at(until), yard.axis.slots - 1), hold.whom or hold.get_reason_display()


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


def _posted(
    yard: Yard, step: Step, part: Part, posted: dict[tuple[int, int], Placement], begun: Begun | None
) -> Step:
    """Where the posted plan has the step; inside the frozen days it stays there, unless a fact has overrun
    it."""
    row = posted.get((part.stage.pk, part.part))
    if row is None or row.first_day < yard.axis.days[0]:
        return step
    place = yard.places.place_of.get(row.bay_id) if row.bay_id else DOCK
    start = yard.axis.at(row.first_day)
    if place is None or start >= yard.axis.slots:
        return step
    step = replace(step, posted=Posted(place=place, start=start))
    overrun = begun is not None and begun.end > start
    if start < yard.records.settings.frozen_days and not overrun and start >= step.earliest:
        step = replace(step, pin_place=step.pin_place or place, pin_start=start)
    return step


def _where(yard: Yard, treatment: Treatment) -> tuple[str, Bay | None]:
    """The place she stands in, and her bay; at the dock if she stands in none."""
    stay = yard.records.stays.get(treatment.pk)
    bay = next((bay for bay in yard.records.bays if stay and bay.pk == stay.bay_id), None)
    return (yard.places.place_of[bay.pk], bay) if bay else (DOCK, None)


def _standing(yard: Yard, treatment: Treatment, stages: list[Stage], parts: dict[str, Part]) -> Begun:
    """She is here and no stage of hers runs: she stands where she is."""
    done = [stage for stage in stages if stage.status == Status.DONE]
    stage = done[-1] if done else stages[0]
    place, bay = _where(yard, treatment)
    step_id = f"{stage.pk}.stands"
    parts[step_id] = Part(stage, 0, stage.name, fact=True)
    return Begun(
        step=step_id,
        label=f"stands after {stage.name}" if done else "stands",
        kind=stage.kind if stage.kind != StageKind.DRY else "stands",
        place=place,
        unit=yard.places.unit_of(bay) if bay else None,
        end=0,
        option=Option(places=(place,), movable=stage.movable != Movable.NO),
    )


def _running(
    yard: Yard, treatment: Treatment, stage: Stage, parts: dict[str, Part]
) -> tuple[Begun, list[Step]]:
    """The stage she is in, with what is left of it; the parts of it still to come are steps."""
    place, bay = _where(yard, treatment)
    demands = yard.records.demands.get(stage.pk, [])
    hold_end, _ = _held_until(yard, yard.records.holds.get(stage.pk))
    more: list[Step] = []
    if stage.kind == StageKind.DRY:
        part, end, option = _drying_now(yard, treatment, stage, place, bay)
        label = stage.name if stage.parts == 1 else f"{stage.name} {part} of {stage.parts}"
        number = 0 if stage.parts == 1 else part
        if part < stage.parts:
            more = _steps(yard, treatment, stage, parts, first=part + 1) or []
    else:
        length = length_days(yard, stage, treatment, demands)
        left_slots = _left(yard, stage, treatment, length)
        end = _end_of_work(yard, hold_end, left_slots)
        claims = claims_of(yard, stage, treatment, demands, length)
        option = _as_fact(stage, place, claims)
        label, number = stage.name, 0
    step_id = f"{stage.pk}.now"
    parts[step_id] = Part(stage, number, label, fact=True)
    begun = Begun(
        step=step_id,
        label=label,
        kind=stage.kind,
        place=place,
        unit=yard.places.unit_of(bay) if bay else None,
        end=min(max(end, 1), yard.axis.slots),
        option=option,
    )
    return begun, more


def _left(yard: Yard, stage: Stage, treatment: Treatment, length: int) -> int:
    """Working days left of a running stage: what is said of it, else its norm less the days since it
    started."""
    if stage.done_pct:
        return max(1, ceil(length * (100 - stage.done_pct) / 100))
    if stage.started_on is None:
        return length
    before = [
        day
        for day in days_between(stage.started_on, yard.axis.days[0] - timedelta(days=1))
        if yard.records.settings.open_weekdays[day.weekday()] == "1"
    ]
    return max(1, length - len(before))


def _end_of_work(yard: Yard, first: int, left: int) -> int:
    """The slot after `left` ordinary working days from slot `first` on."""
    for slot in range(first, yard.axis.slots):
        left -= yard.axis.crew[slot]
        if left <= 0:
            return slot + 1
    return yard.axis.slots


def _as_fact(stage: Stage, place: str, claims: Claims) -> Option:
    return Option(
        places=(place,),
        skills=claims.skills,
        uses={name: amount for name, amount in claims.uses.items() if not name.startswith("outside:")},
        holds=claims.holds,
        makes=tuple(stage.makes.split()),
        spoiled_by=tuple(stage.spoiled_by.split()),
        movable=stage.movable != Movable.NO,
    )


def _drying_now(
    yard: Yard, treatment: Treatment, stage: Stage, place: str, bay: Bay | None
) -> tuple[int, int, Option]:
    """The part of drying she is in, the slot before which it ends, and what it holds.

    A drying stage that may be tented, in a bay where a tent can stand, is taken to be in one.
    """
    tented = bool(stage.tented and bay and bay.tent_size)
    air: Air | None = None if tented or bay is None else yard.places.air_rows[bay.air_id]
    total = norm_days(stage, treatment) * WORKING_TO_CALENDAR
    dose = total / stage.parts
    if stage.done_pct:
        done = total * stage.done_pct / 100
    else:
        since = days_between(stage.started_on or yard.axis.today, yard.axis.days[0] - timedelta(days=1))
        done = sum(yard.tables.rate_on(air, day.month) for day in since)
    part = min(stage.parts, int(done / dose + MET) + 1)
    left = max(part * dose - done, 0.2)
    demands = yard.records.demands.get(stage.pk, [])
    if tented:
        option = tent_option(yard, stage, treatment, demands, place, dose)
    else:
        option = next(
            (
                o
                for o in drying_options(yard, stage, treatment, demands, dose)
                if place in o.places and o.label != TENT
            ),
            None,
        )
    if option is None:
        option = Option(places=(place,), movable=False)
    done_on = days_to_dry(left, yard.tables.rates(air), 0)
    end = (
        yard.axis.slots if done_on is None else yard.axis.at(yard.axis.days[0] + timedelta(days=done_on + 1))
    )
    return part, end, replace(option, places=(place,), table=None, price=0, rig_price=0)
