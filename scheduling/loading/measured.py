"""What was measured on the hulls and where they stood meanwhile, read in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q

from scheduling.loading.airs import Airs, norms_of
from yard.models import AirMonth, DrySigned, Reading, RegimeNorm, Stage, Stay, Stoppage, WashRecord, Yard
from yard.models.schemes import StageKind
from yard.models.treatments import Status
from yard.models.yards import WEATHER_KINDS
from yard.trade.rounds import RoundRead

HISTORY_D = 1100
"""[calendar days] how far back boats that were signed dry tell how fast hulls dry here: three winters.
Common practice; older meters and heaters tell little. Changed in the code only."""

OPENS = (StageKind.PEEL, StageKind.BLAST, StageKind.WASH)
"""Kinds of work that open the laminate and wash it out."""


@dataclass(frozen=True)
class Hull:
    """One treatment's rounds and all that bears on them."""

    rounds: tuple[RoundRead, ...]
    scale: tuple[float, float]
    references: frozenset[str]
    spots: frozenset[str]
    excused: frozenset[str]
    washes: tuple[date, ...]
    stays: tuple[Stay, ...]
    heats: tuple[Stage, ...]  # stages of drying that have begun
    closed: bool  # peeling, blasting or washing has not even begun: readings say nothing of what it leaves
    signed_on: date | None


@dataclass(frozen=True)
class Measured:
    """Hulls by treatment: those asked for, and those signed dry in the last winters; and the yard's airs."""

    hulls: dict[int, Hull]
    airs: Airs


def measured(yard: Yard, treatments: Sequence[int], today: date) -> Measured:
    """Read the hulls of `treatments`, and of all that were signed dry within `HISTORY_D`."""
    since = Q(signed_on__gte=today - timedelta(days=HISTORY_D))
    rows = DrySigned.objects.of(yard).filter(since | Q(treatment__in=treatments), superseded=False)
    signed = {row.treatment_id: row for row in rows}
    wanted = sorted({*treatments, *signed})
    months: dict[int, dict[int, float]] = defaultdict(dict)
    for row in AirMonth.objects.of(yard):
        months[row.air_id][row.month] = float(row.mean_c)
    airs = Airs(
        dict(months),
        norms_of(RegimeNorm.objects.of(yard)),
        list(Stoppage.objects.of(yard).filter(kind__in=WEATHER_KINDS, called_off_on=None)),
        today,
    )
    readings: dict[int, dict[tuple[date, str, str], dict[str, float]]] = defaultdict(
        lambda: defaultdict(dict)
    )
    scales: dict[int, tuple[float, float]] = {}
    references: dict[int, set[str]] = defaultdict(set)
    found = (
        Reading.objects.of(yard)
        .filter(superseded=False, round__superseded=False, round__treatment__in=wanted)
        .order_by("round__day_on", "spot__walk_order")
        .values_list(
            "round__treatment_id",
            "round__day_on",
            "round__meter__name",
            "round__mode",
            "round__meter__scale_low",
            "round__meter__scale_high",
            "spot__code",
            "spot__is_reference",
            "value",
        )
    )
    for treatment, day, meter, mode, low, high, code, reference, value in found:
        readings[treatment][day, meter, mode][code] = float(value)
        scales[treatment] = (float(low), float(high))
        if reference:
            references[treatment].add(code)
    washes: dict[int, list[date]] = defaultdict(list)
    for treatment, day in (
        WashRecord.objects.of(yard)
        .filter(superseded=False, stage__treatment__in=wanted)
        .order_by("day_on")
        .values_list("stage__treatment_id", "day_on")
    ):
        washes[treatment].append(day)
    stays: dict[int, list[Stay]] = defaultdict(list)
    for stay in (
        Stay.objects.of(yard)
        .filter(treatment__in=wanted)
        .select_related("bay__air", "bay__shed")
        .order_by("from_on", "id")
    ):
        stays[stay.treatment_id].append(stay)
    heats: dict[int, list[Stage]] = defaultdict(list)
    closed: set[int] = set()
    for stage in Stage.objects.of(yard).filter(treatment__in=wanted, kind__in=(StageKind.DRY, *OPENS)):
        if stage.kind != StageKind.DRY and stage.status == Status.WAITING:
            closed.add(stage.treatment_id)
        elif stage.kind == StageKind.DRY and stage.started_on is not None:
            heats[stage.treatment_id].append(stage)
    hulls = {}
    for treatment in wanted:
        rounds = tuple(
            RoundRead(day, figures, meter, mode)
            for (day, meter, mode), figures in readings[treatment].items()
        )
        signature = signed.get(treatment)
        hulls[treatment] = Hull(
            rounds=rounds,
            scale=scales.get(treatment, (0.0, 100.0)),
            references=frozenset(references[treatment]),
            spots=frozenset(spot for one in rounds for spot in one.readings) - references[treatment],
            excused=frozenset(one["spot"] for one in signature.excused) if signature else frozenset(),
            washes=tuple(washes[treatment]),
            stays=tuple(stays[treatment]),
            heats=tuple(heats[treatment]),
            closed=treatment in closed,
            signed_on=signature.signed_on if signature else None,
        )
    return Measured(hulls, airs)
