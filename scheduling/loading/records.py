"""What a plan needs of a season's records, read in a fixed number of queries, however many boats there
are."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.db.models import Q

from scheduling.models import Board, Pin, Placement, Unplaced
from yard.models import (
    Air,
    Bay,
    DayRule,
    DrySigned,
    Hoist,
    Hold,
    Kit,
    LiftsSold,
    OutsideDay,
    Person,
    PersonSkill,
    Promise,
    Season,
    Shed,
    Sling,
    Stage,
    StageDemand,
    Stay,
    Stoppage,
    TideWater,
    Treatment,
    WorkingWeek,
    YardSettings,
)
from yard.models.tides import waters_of
from yard.models.treatments import OPEN_STATES, Status

K = TypeVar("K")
V = TypeVar("V")


@dataclass(frozen=True)
class Records:
    """Rows of one yard and season; `today` is the yard's day."""

    season: Season
    settings: YardSettings
    today: date
    zone: ZoneInfo
    day_rules: list[DayRule]
    sheds: list[Shed]
    airs: list[Air]
    bays: list[Bay]
    kits: list[Kit]
    hoists: list[Hoist]
    slings: list[Sling]
    lifts_sold: list[LiftsSold]
    outside_days: list[OutsideDay]
    people: list[Person]
    skills: dict[int, list[str]]  # person: names of skills
    weeks: dict[int, list[WorkingWeek]]  # person
    stoppages: list[Stoppage]
    waters: list[TideWater]
    treatments: list[Treatment]
    stages: dict[int, list[Stage]]  # treatment, in order, without the dropped
    demands: dict[int, list[StageDemand]]  # stage
    holds: dict[int, Hold]  # stage: its open hold
    stays: dict[int, Stay]  # treatment: where she stands
    promises: dict[int, Promise]  # treatment: the one in force
    signed_dry: frozenset[int]  # treatments
    pins: dict[int, Pin]  # stage
    posted: list[Placement]
    left_out: frozenset[int]  # treatments that the posted plan leaves out


def gather(season: Season, today: date) -> Records:
    """Read everything the plan of `season` depends on."""
    yard = season.yard
    open_now = Q(treatment__season=season, treatment__state__in=OPEN_STATES)
    skills: dict[int, list[str]] = defaultdict(list)
    for has in PersonSkill.objects.of(yard).select_related("skill").order_by("skill__name"):
        skills[has.person_id].append(has.skill.name)
    board = Board.objects.filter(season=season).first()
    posted = board.posted_id if board else None
    return Records(
        season=season,
        settings=YardSettings.objects.get(yard=yard),
        today=today,
        zone=ZoneInfo(yard.timezone),
        day_rules=list(DayRule.objects.of(yard)),
        sheds=list(Shed.objects.of(yard).filter(retired_on=None)),
        airs=list(Air.objects.of(yard).filter(retired_on=None)),
        bays=list(Bay.objects.of(yard).filter(retired_on=None).select_related("shed", "air", "lane")),
        kits=list(Kit.objects.of(yard).filter(retired_on=None)),
        hoists=list(Hoist.objects.of(yard).filter(retired_on=None)),
        slings=list(Sling.objects.of(yard).filter(retired_on=None)),
        lifts_sold=list(LiftsSold.objects.of(yard)),
        outside_days=list(OutsideDay.objects.of(yard)),
        people=list(Person.objects.of(yard).filter(retired_on=None)),
        skills=dict(skills),
        weeks=_grouped(WorkingWeek.objects.of(yard).order_by("from_on"), "person_id"),
        stoppages=list(
            Stoppage.objects.of(yard).filter(Q(last_day=None) | Q(last_day__gte=today), called_off_on=None)
        ),
        waters=list(waters_of(yard)),
        treatments=list(
            Treatment.objects.of(yard)
            .filter(season=season, state__in=OPEN_STATES)
            .select_related("boat", "scheme")
            .prefetch_related("boat__girths")
            .order_by("arrives_on", "id")
        ),
        stages=_grouped(
            Stage.objects.of(yard)
            .filter(open_now)
            .exclude(status=Status.DROPPED)
            .select_related("sheet")
            .order_by("position"),
            "treatment_id",
        ),
        demands=_grouped(
            StageDemand.objects.of(yard)
            .filter(stage__treatment__season=season, stage__treatment__state__in=OPEN_STATES)
            .select_related("skill"),
            "stage_id",
        ),
        holds=_one_each(Hold.objects.of(yard).filter(until_on=None), "stage_id"),
        stays=_one_each(Stay.objects.of(yard).filter(open_now, until_on=None), "treatment_id"),
        promises=_one_each(Promise.objects.of(yard).filter(open_now, superseded=False), "treatment_id"),
        signed_dry=frozenset(
            DrySigned.objects.of(yard)
            .filter(open_now, superseded=False)
            .values_list("treatment_id", flat=True)
        ),
        pins=_one_each(Pin.objects.of(yard).filter(lifted_at=None), "stage_id"),
        posted=list(Placement.objects.filter(plan_id=posted)) if posted else [],
        left_out=frozenset(
            Unplaced.objects.filter(plan_id=posted).values_list("treatment_id", flat=True) if posted else ()
        ),
    )


def _grouped(rows: Iterable[V], key: str) -> dict[int, list[V]]:
    found: dict[int, list[V]] = defaultdict(list)
    for row in rows:
        found[getattr(row, key)].append(row)
    return dict(found)


def _one_each(rows: Iterable[Any], key: str) -> dict[int, Any]:
    return {getattr(row, key): row for row in rows}
