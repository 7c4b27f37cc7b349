"""A stage's options: where it can be done, how long it takes there, what it demands and holds."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil

from scheduling.engine.problem import Option
from scheduling.loading.axis import Axis
from scheduling.loading.drying import HullDrying
from scheduling.loading.places import DOCK, Places, pence
from scheduling.loading.records import Records
from scheduling.loading.resources import LIFTS, Resources, TideWindows, kit_id, outside_id
from scheduling.loading.tables import CREW, Tables
from yard.models import Air, Stage, StageDemand, Treatment
from yard.models.places import AirKind
from yard.models.schemes import Movable, PlaceNeed, StageKind
from yard.models.treatments import Wetness
from yard.trade.curing import GENERIC, CoatingSheet

WORKING_TO_CALENDAR = 7 / 5
"""Norms of waiting stages are working days; drying and cure go on at weekends, so a norm of 5 stands for 7
calendar days."""


@dataclass(frozen=True)
class Yard:
    """What options are made of."""

    records: Records
    axis: Axis
    places: Places
    resources: Resources
    tides: TideWindows
    tables: Tables
    areas: Mapping[int, dict[str, float]]  # treatment: what hours are counted by [m2]
    hulls: Mapping[int, HullDrying]  # treatment: what her own rounds say


def norm_days(stage: Stage, treatment: Treatment) -> float:
    """Working days [d] a stage takes in all: drying by how wet she is, the rest the likely figure."""
    if stage.kind == StageKind.DRY:
        by = {Wetness.LOW: stage.days_low, Wetness.MID: stage.days_likely, Wetness.HIGH: stage.days_high}
        return float(by[Wetness(treatment.wetness)])
    return float(stage.days_likely)


def demand_hours(demand: StageDemand, areas: dict[str, float], days: float) -> float:
    """Person-hours (or kit-hours) [h] a demand comes to over a whole stage of `days` working days [d].

    Hours are for the whole stage, or for each visit where visits are counted by `times` or `every_d`
    calendar days.
    """
    hours = float(demand.hours_fixed) + float(demand.hours_per_m2) * areas.get(demand.area, 0.0)
    if demand.times:
        return hours * demand.times
    if demand.every_d:
        return hours * max(1.0, days * WORKING_TO_CALENDAR / float(demand.every_d))
    return hours


def length_days(yard: Yard, stage: Stage, treatment: Treatment, demands: Iterable[StageDemand]) -> int:
    """Whole working days of a stage: its norm, or longer where its people need longer for the hours."""
    days = norm_days(stage, treatment)
    areas = yard.areas[treatment.pk]
    for demand in demands:
        if demand.skill is not None and not demand.times and not demand.every_d:
            a_day = min(
                demand.people * yard.resources.day_minutes,
                max(yard.resources.there(demand.skill.name), default=0) or yard.resources.day_minutes,
            )
            days = max(days, demand_hours(demand, areas, days) * 60 / a_day)
    return max(1, ceil(days - 1e-9))


@dataclass(frozen=True)
class Claims:
    """What an option asks for in each open slot, and holds."""

    skills: dict[str, int]
    uses: dict[str, int]
    holds: dict[str, int]


def claims_of(
    yard: Yard, stage: Stage, treatment: Treatment, demands: Iterable[StageDemand], slots: int
) -> Claims:
    """Spread a stage's demands evenly over its `slots` of work [min, pieces, lifts]."""
    skills: dict[str, int] = defaultdict(int)
    uses: dict[str, int] = defaultdict(int)
    holds: dict[str, int] = defaultdict(int)
    areas, days = yard.areas[treatment.pk], norm_days(stage, treatment)
    for demand in demands:
        if demand.lifts:
            uses[LIFTS] += demand.lifts
        minutes = ceil(demand_hours(demand, areas, days) * 60 / slots)
        if demand.skill is not None and minutes:
            skills[demand.skill.name] += minutes
        if demand.kit_kind and demand.held:
            holds[kit_id(demand.kit_kind)] += demand.kit_count * yard.resources.day_minutes
        elif demand.kit_kind and minutes:
            uses[kit_id(demand.kit_kind)] += minutes
    if stage.outside_who:
        uses[outside_id(stage.outside_who)] += 1
    return Claims(dict(skills), dict(uses), dict(holds))


def allowed_places(yard: Yard, need: str) -> list[str]:
    """The places where a stage with this need may be done without a tent."""
    if need == PlaceNeed.DOCK:
        return [DOCK] if yard.records.hoists else []
    found = []
    for place in yard.places.places:
        if place.id == DOCK:
            continue
        bay = yard.places.first(place.id)
        suits = {
            PlaceNeed.ANY: True,
            PlaceNeed.AWAY_OK: True,
            PlaceNeed.ROOF: bay.air.kind != AirKind.OPEN,
            PlaceNeed.HEAT: bay.air.kind == AirKind.HEATED,
            PlaceNeed.PAD: bay.air.kind == AirKind.OPEN and bay.shed.drained,
            PlaceNeed.OUTSIDE: bay.air.kind == AirKind.OPEN,
        }
        if suits[PlaceNeed(need)]:
            found.append(place.id)
    return found


def by_air(yard: Yard, places: Iterable[str]) -> dict[Air, list[str]]:
    """Places grouped by the air they are in."""
    groups: dict[int, list[str]] = defaultdict(list)
    for place in places:
        groups[yard.places.first(place).air_id].append(place)
    return {yard.places.air_rows[pk]: found for pk, found in groups.items()}


def options_of(
    yard: Yard, stage: Stage, treatment: Treatment, demands: list[StageDemand]
) -> tuple[Option, ...]:
    """All ways to do a stage that is not one of drying, from its start."""
    length = length_days(yard, stage, treatment, demands)
    claims = claims_of(yard, stage, treatment, demands, length)
    places = allowed_places(yard, stage.place)
    options = []
    if stage.kind == StageKind.COAT:
        for air, group in by_air(yard, places).items():
            table = yard.tables.campaign(
                _coats(stage, length),
                stage.coats_a_day,
                air,
                sheet_of(stage),
                breaks_allowed=stage.breaks_allowed,
                break_price=pence(stage.break_money),
            )
            options.append(plain_option(stage, claims, group, table))
    elif stage.kind == StageKind.CURE:
        hours_20 = norm_days(stage, treatment) * 24
        for air, group in by_air(yard, places).items():
            table = yard.tables.curing(hours_20, air, sheet_of(stage))
            options.append(plain_option(stage, claims, group, table))
    else:
        options.append(plain_option(stage, claims, places, _work_table(yard, stage, treatment, length)))
    return tuple(option for option in options if option is not None)


def sheet_of(stage: Stage) -> CoatingSheet:
    """What the product's sheet says of her epoxy, as the yard entered it; else the generic one."""
    row = stage.sheet
    if row is None:
        return GENERIC
    return CoatingSheet(
        least_c=float(row.least_c),
        activation_kj=float(row.activation_kj),
        cure_h_20=float(row.cure_h_20),
        recoat_min_h_20=float(row.recoat_min_h_20),
        recoat_max_h_20=float(row.recoat_max_h_20),
        tacky_min_h_20=float(row.tacky_min_h_20),
        tacky_max_h_20=float(row.tacky_max_h_20),
        solids_pct=float(row.solids_pct),
        film_um=float(row.film_um),
        source=row.source or row.name,
    )


def _coats(stage: Stage, length: int) -> int:
    """Coats of a campaign; more where its people need more days for the hours than the coats take."""
    coats = stage.coats or length
    return length * stage.coats_a_day if length * stage.coats_a_day >= coats + stage.coats_a_day else coats


def _work_table(yard: Yard, stage: Stage, treatment: Treatment, length: int) -> str | None:
    if stage.tide:
        draught = float(treatment.boat.draught_m)
        least = min((hoist.minutes_a_lift for hoist in yard.records.hoists), default=0)
        water = [minutes >= least for minutes in yard.tides.minutes(draught)]
        return yard.tables.on_slots(f"tide {draught:.2f} m", water)
    if stage.outside_who:
        rows = {r.id: r.capacity for r in yard.resources.resources}
        days = rows.get(outside_id(stage.outside_who), (0,) * yard.axis.slots)
        return yard.tables.outside(stage.outside_who, length, [count > 0 for count in days])
    return yard.tables.crew(length, visit_calendar(yard, yard.records.demands.get(stage.pk, [])))


def visit_calendar(yard: Yard, demands: Iterable[StageDemand]) -> str:
    """The calendar of a stage's demands: working days; where all are visits, only those on which they can be
    made.

    A visit can wait for the day after, so a day on which its people or its kit are out stops no weeks of
    waiting.
    """
    needed = set()
    for demand in demands:
        if demand.held:
            continue
        if not demand.times and not demand.every_d:
            return CREW
        if demand.skill is not None:
            needed.add(demand.skill.name)
        if demand.kit_kind:
            needed.add(kit_id(demand.kit_kind))
    out = {name: [not there for there in yard.resources.there(name)] for name in needed}
    closed = [any(row[slot] for row in out.values() if row) for slot in range(yard.axis.slots)]
    return yard.tables.without(closed)


def plain_option(stage: Stage, claims: Claims, places: list[str], table: str | None) -> Option | None:
    """One option in places that are alike to the stage; None where there is no place or no start."""
    if table is None or not places:
        return None
    return Option(
        places=tuple(places),
        table=table,
        skills=claims.skills,
        uses=claims.uses,
        holds=claims.holds,
        makes=tuple(stage.makes.split()),
        spoiled_by=tuple(stage.spoiled_by.split()),
        movable=stage.movable != Movable.NO,
    )
