"""A stage of drying: how much of it is left, in which parts, and where each can be done."""

from dataclasses import replace
from math import ceil

from scheduling.engine.problem import Option
from scheduling.loading.airs import TENT
from scheduling.loading.places import DOCK, pence
from scheduling.loading.resources import kit_id
from scheduling.loading.stages import (
    WORKING_TO_CALENDAR,
    Yard,
    allowed_places,
    by_air,
    claims_of,
    norm_days,
    plain_option,
    visit_calendar,
)
from scheduling.loading.tables import LEAST_DOSE, Stand
from yard.models import Air, Stage, StageDemand, Treatment
from yard.models.schemes import PlaceNeed

MET = 1e-6


def doses_left(yard: Yard, stage: Stage, treatment: Treatment, done: float = 0.0) -> dict[int, float]:
    """What is left of a stage of drying [days in a tent], by part, the first part still to come first.

    Her own rounds say it where some can be used, at the odds the yard books for a date of her kind; else the
    norm says it, less what is `done`.
    """
    norm = norm_days(stage, treatment) * WORKING_TO_CALENDAR
    each = norm / stage.parts
    own = yard.hulls.get(treatment.pk)
    if own is None:
        behind = min(stage.parts - 1, int(done / each + MET))
        first = max((behind + 1) * each - done, LEAST_DOSE)
        return {behind + 1: first, **dict.fromkeys(range(behind + 2, stage.parts + 1), each)}
    left = own.dose_left(booked(yard, treatment))
    if left is None:
        # No day is sure enough: the longest the scheme knows, from now. Her page says that she has stalled.
        left = float(stage.days_high) * WORKING_TO_CALENDAR
    count = min(stage.parts, max(1, ceil(left / each - MET)))
    parts = range(stage.parts - count + 1, stage.parts + 1)
    return dict.fromkeys(parts, max(left / count, LEAST_DOSE))


def booked(yard: Yard, treatment: Treatment) -> float:
    """The odds [-] at which her drying is booked: by the kind of date her owner was told, else wants."""
    promise = yard.records.promises.get(treatment.pk)
    kind = promise.kind if promise else treatment.wanted_kind
    return float(getattr(yard.records.settings, f"book_{kind}_pct")) / 100


def drying_options(
    yard: Yard,
    stage: Stage,
    treatment: Treatment,
    demands: list[StageDemand],
    dose: float,
    standing: Stand | None = None,
) -> tuple[Option, ...]:
    """Drying of `dose` [days in a tent]: as she stands in each air, and in a tent wherever one can be put
    up. Till then she dries where she is `standing`."""
    options = []
    calendar = visit_calendar(yard, demands)
    untented = [] if stage.place == PlaceNeed.HEAT and stage.tented else allowed_places(yard, stage.place)
    for air, group in by_air(yard, untented).items():
        table = yard.tables.drying(dose, air, calendar, standing=standing)
        claims = claims_of(yard, stage, treatment, demands, _slots_of(yard, dose, air, tented=False))
        option = plain_option(stage, claims, group, table)
        if option is not None:
            options.append(replace(option, label=yard.tables.airs.regime(air)))
    if stage.tented:
        for place in yard.places.places:
            if place.id == DOCK:
                continue
            option = tent_option(yard, stage, treatment, demands, place.id, dose, standing, calendar)
            if option is not None:
                options.append(option)
    return tuple(options)


def tent_option(
    yard: Yard,
    stage: Stage,
    treatment: Treatment,
    demands: list[StageDemand],
    place: str,
    dose: float,
    standing: Stand | None = None,
    calendar: str = "",
) -> Option | None:
    """Drying in a tent in one place: the tent, its heaters and dehumidifiers and their power are held; it is
    an air of its own."""
    bay = yard.places.first(place)
    air = yard.places.air_rows[bay.air_id]
    if not bay.tent_size or kit_id("tent", bay.tent_size) not in yard.resources.ids:
        return None
    calendar = calendar or visit_calendar(yard, demands)
    table = yard.tables.drying(dose, air, calendar, tented=True, standing=standing)
    if table is None:
        return None
    holds: dict[str, int] = {kit_id("tent", bay.tent_size): 1}
    watts = 0.0
    for kit in yard.records.kits:
        count = {"S": kit.for_tent_s, "M": kit.for_tent_m, "L": kit.for_tent_l}[bay.tent_size]
        if count:
            holds[kit_id(kit.kind)] = count
            watts += count * float(kit.kw) * 1000
    circuit, tents = f"power:air:{bay.air_id}", f"tents:air:{bay.air_id}"
    for power in (circuit, f"power:shed:{bay.shed_id}"):
        if power in yard.resources.ids:
            holds[power] = round(watts)
            break
    if tents in yard.resources.ids:
        holds[tents] = 1
    claims = claims_of(yard, stage, treatment, demands, _slots_of(yard, dose, air, tented=True))
    kits = [kit for kit in yard.records.kits if kit.kind == "tent" and kit.size == bay.tent_size]
    rigging_h = float(kits[0].set_h + kits[0].strike_h) if kits else 0.0
    return Option(
        places=(place,),
        table=table,
        label=TENT,
        skills=claims.skills,
        uses=claims.uses,
        holds={**claims.holds, **holds},
        stand_price=pence(yard.records.settings.heat_day_money),
        rig=TENT,
        rig_price=round(rigging_h * pence(yard.records.settings.overtime_hour_money)),
        makes=tuple(stage.makes.split()),
        spoiled_by=tuple(stage.spoiled_by.split()),
        own_air=True,
        movable=False,
    )


def _slots_of(yard: Yard, dose: float, air: Air, *, tented: bool) -> int:
    """About how many working days a dose takes, to spread its visits over: at the mean rate over the axis."""
    rates = yard.tables.rates(air, tented=tented)
    mean = sum(rates) / len(rates)
    return max(1, round(dose / max(mean, 0.02) / WORKING_TO_CALENDAR))
