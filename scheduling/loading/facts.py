"""What has begun, as facts: where she stands, the stage she is in, and what is left of it."""

from dataclasses import replace
from datetime import timedelta
from math import ceil

from scheduling.engine.problem import Begun, Option, Step
from scheduling.loading.airs import TENT
from scheduling.loading.dry_stages import doses_left, drying_options, tent_option
from scheduling.loading.places import DOCK
from scheduling.loading.stages import (
    WORKING_TO_CALENDAR,
    Claims,
    Yard,
    claims_of,
    length_days,
    norm_days,
)
from scheduling.loading.steps import Part, held_until, steps_of
from scheduling.loading.tables import AddsUp, Stand
from yard.models import Bay, Stage, Treatment
from yard.models.schemes import Movable, StageKind
from yard.models.treatments import Status
from yard.trade.calendar import days_between
from yard.trade.drying import days_to_dry


def _where(yard: Yard, treatment: Treatment) -> tuple[str, Bay | None]:
    """The place she stands in, and her bay; at the dock if she stands in none."""
    stay = yard.records.stays.get(treatment.pk)
    bay = next((bay for bay in yard.records.bays if stay and bay.pk == stay.bay_id), None)
    return (yard.places.place_of[bay.pk], bay) if bay else (DOCK, None)


def standing_still(yard: Yard, treatment: Treatment, stages: list[Stage], parts: dict[str, Part]) -> Begun:
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


def running_now(
    yard: Yard, treatment: Treatment, stage: Stage, parts: dict[str, Part]
) -> tuple[Begun, list[Step]]:
    """The stage she is in, with what is left of it; the parts of it still to come are steps."""
    place, bay = _where(yard, treatment)
    demands = yard.records.demands.get(stage.pk, [])
    hold_end, _ = held_until(yard, yard.records.holds.get(stage.pk))
    more: list[Step] = []
    if stage.kind == StageKind.DRY:
        doses, end, option, left = _drying_now(yard, treatment, stage, place, bay)
        part = min(doses)
        label = stage.name if stage.parts == 1 else f"{stage.name} {part} of {stage.parts}"
        number = 0 if stage.parts == 1 else part
        later = {other: dose for other, dose in doses.items() if other > part}
        if later:
            more = steps_of(yard, treatment, stage, parts, later) or []
    else:
        length = length_days(yard, stage, treatment, demands)
        left_slots = _left(yard, stage, treatment, length)
        end = _end_of_work(yard, hold_end, left_slots)
        left = yard.tables.working(left_slots)
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
        worth=left.worth,
        amount=left.amount,
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
) -> tuple[dict[int, float], int, Option, AddsUp]:
    """The doses left by part, the slot before which the part she is in ends, what that holds, and its amount.

    A drying stage that may be tented, in a bay where a tent can stand, is taken to be in one.
    """
    tented = bool(stage.tented and bay and bay.tent_size)
    air = yard.places.air_rows[bay.air_id] if bay else None
    if stage.done_pct:
        done = norm_days(stage, treatment) * WORKING_TO_CALENDAR * stage.done_pct / 100
    else:
        since = days_between(stage.started_on or yard.axis.today, yard.axis.days[0] - timedelta(days=1))
        done = sum(yard.tables.airs.rate_on(air, day, tented=tented) for day in since)
    doses = doses_left(yard, stage, treatment, done)
    dose = doses[min(doses)]
    demands = yard.records.demands.get(stage.pk, [])
    option: Option | None
    if tented:
        option = tent_option(yard, stage, treatment, demands, place, dose)
    else:
        found = drying_options(yard, stage, treatment, demands, dose)
        option = next((o for o in found if place in o.places and o.label != TENT), None)
    if option is None:
        option = Option(places=(place,), movable=False)
    done_on = days_to_dry(dose, yard.tables.rates(air, tented=tented), 0)
    end = (
        yard.axis.slots if done_on is None else yard.axis.at(yard.axis.days[0] + timedelta(days=done_on + 1))
    )
    fact = replace(option, places=(place,), table=None, price=0, rig_price=0)
    return doses, end, fact, yard.tables.dried(dose, air, tented=tented)


def waits_in(yard: Yard, treatment: Treatment, stage: Stage) -> Stand | None:
    """Where she dries while a stage of drying waits to be begun: None until her rounds say how wet she is."""
    if treatment.pk not in yard.hulls:
        return None
    _, bay = _where(yard, treatment)
    return Stand(yard.places.air_rows[bay.air_id] if bay else None, tented=False)
