"""One boat's drying as her page shows it: what was read, where she stood, what is forecast and planned.

Days and readings [points of her meter's scale] alone. `scheduling.pages.drying_svg` draws them, and
`scheduling.pages.drying_words` says them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate

from scheduling.loading.airs import Airs
from scheduling.loading.drying import (
    HullDrying,
    Standing,
    decays_of,
    histories,
    hull_drying,
    standings,
    target_of,
    used_of,
)
from scheduling.loading.measured import Hull, Measured
from scheduling.loading.winter import BoatWinter, Winter
from yard.models import DrySigned, Stage, StageKind, Status, Treatment
from yard.trade.calendar import days_between
from yard.trade.drydays import forecast_days
from yard.trade.rounds import Used, hull_readings, level

DAY = timedelta(days=1)

ODDS = (0.1, 0.5, 0.9)
"""[-] the odds whose days are shown, and the edges and middle of the band."""

AHEAD_D = 300
"""[calendar days] how far ahead she is forecast; later days are of no use to a winter's plan."""

LONGEST_D = 330
"""[calendar days] the longest time one drawing shows."""

BAND_LOOKS = 30
"""[-] days on which the band is reckoned, beside those on which her regime changes."""


@dataclass(frozen=True)
class Mark:
    """The level of one round; `why` says why the forecast leaves it out."""

    day: date
    value: float
    why: str = ""


@dataclass(frozen=True)
class Edge:
    """The readings she is at or below with each of `ODDS`, on one day."""

    day: date
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class Span:
    """Days, both inclusive, in one bay and regime; `planned` where the posted plan says so."""

    first: date
    last: date
    bay: str
    regime: str
    planned: bool


@dataclass(frozen=True)
class DryPicture:
    """What is drawn, on the days from `first` to `last`. `odds` are days by which she is dry; None is never.

    Without a forecast `band` and `odds` are empty. `coat_on` is the day of the first coat, as it was or as
    planned.
    """

    name: str
    meter: str
    scale: tuple[float, float]
    today: date
    first: date
    last: date
    marks: tuple[Mark, ...]
    hollow: tuple[Mark, ...]
    spots: tuple[tuple[date, float], ...]
    band: tuple[Edge, ...]
    target: float | None
    topside: float | None
    washes: tuple[date, ...]
    spans: tuple[Span, ...]
    odds: tuple[tuple[float, date | None], ...]
    coat_on: date | None
    signed_on: date | None


@dataclass(frozen=True)
class Row:
    """One round as the table shows it; `figures` are the hull's readings, topside and excused
    spots apart."""

    day: date
    meter: str
    mode: str
    figures: tuple[float, ...]
    topside: tuple[float, ...]
    why: str  # left out because; empty where it counts

    @property
    def level(self) -> float | None:
        """The reading that 90 % of them are at or below."""
        return level(self.figures) if self.figures else None

    @property
    def mean(self) -> float | None:
        """Their mean."""
        return sum(self.figures) / len(self.figures) if self.figures else None


@dataclass(frozen=True)
class BoatDrying:
    """All that her page tells of her drying on one day.

    `stood` runs from her first round to today, `ahead` from tomorrow; the plan has her dry up to
    `planned_until`, after that she is taken to stay as she is then. `odds_at_coat` [-]: that she is dry on
    the day planned for the first coat. `own` is None where nothing can be forecast.
    """

    today: date
    hull: Hull
    used: Used | None
    own: HullDrying | None
    target: float | None
    target_is_hers: bool  # from her own dry topside, not a figure of hers or her scheme's
    stood: tuple[Standing, ...]
    ahead: tuple[Standing, ...]
    planned_until: date | None
    days: tuple[date | None, ...]
    coat_on: date | None
    coat_begun: bool
    odds_at_coat: float | None
    signature: DrySigned | None
    rows: tuple[Row, ...]
    sums: tuple[float, ...]  # expected decay [-] up to each morning from the day the fit begins


def boat_drying(
    winter: Winter, boat: BoatWinter, found: Measured, signature: DrySigned | None = None
) -> BoatDrying:
    """Put together what was measured on one boat, her forecast, and where the posted plan has her dry.

    `found` is what `measured` read for her treatment; `signature` in force, if she is signed dry.
    """
    today, treatment = winter.today, boat.treatment
    hull = found.hulls[treatment.pk]
    used = used_of(hull)
    own = hull_drying(treatment, found, histories(found), winter.settings, today)
    rows = rows_of(hull, used)
    stood = standings(hull, found.airs, rows[0].day if rows else today, today)
    ahead, until = places_ahead(winter, boat, stood[-1], found.airs, today + AHEAD_D * DAY)
    coat = next((stage for stage in boat.stages if stage.kind == StageKind.COAT), None)
    coat_on = _begins(winter, boat, coat)
    days: tuple[date | None, ...] = ()
    odds_at_coat: float | None = None
    sums: list[float] = []
    if own is not None:
        decays = (
            *decays_of(standings(hull, found.airs, own.origin, today), found.airs),
            *decays_of(ahead, found.airs),
        )
        sums = list(accumulate(decays, initial=0.0))
        if signature is None:
            days = forecast_days(own.drying, decays, own.origin, ODDS, today=today).days
            if coat_on and today < coat_on:
                odds_at_coat = own.drying.probability(_x_on(coat_on, own.origin, sums))
    return BoatDrying(
        today=today,
        hull=hull,
        used=used,
        own=own,
        target=target_of(treatment, used.reference if used else None, winter.settings),
        target_is_hers=not _given(treatment),
        stood=stood,
        ahead=ahead,
        planned_until=until,
        days=days,
        coat_on=coat_on,
        coat_begun=bool(coat and coat.started_on),
        odds_at_coat=odds_at_coat,
        signature=signature,
        rows=rows,
        sums=tuple(sums),
    )


def rows_of(hull: Hull, used: Used | None) -> tuple[Row, ...]:
    """Her rounds in order of day, each with the reason why the forecast leaves it out."""
    kept = {point.day for point in used.points} if used else set()
    why = {out.day: out.why for out in used.left_out} if used else {}
    aside = hull.references | hull.excused
    latest = max(hull.rounds, key=lambda one: one.day, default=None)
    rows = []
    for one in sorted(hull.rounds, key=lambda one: (one.day, one.meter, one.mode)):
        alike = latest is not None and (one.meter, one.mode) == (latest.meter, latest.mode)
        rows.append(
            Row(
                day=one.day,
                meter=one.meter,
                mode=one.mode,
                figures=tuple(hull_readings(one, aside).values()),
                topside=tuple(value for spot, value in one.readings.items() if spot in hull.references),
                why="" if alike and one.day in kept else why.get(one.day, "Another meter or mode."),
            )
        )
    return tuple(rows)


def places_ahead(
    winter: Winter, boat: BoatWinter, now: Standing, airs: Airs, last: date
) -> tuple[tuple[Standing, ...], date | None]:
    """Where she dries from tomorrow to `last`, and the day up to which the posted plan says so.

    Up to the plan's last day of drying she stands where its placements have her; in between, and from then
    on, as she stood before.
    """
    plan = winter.posted
    rows = boat.placed.get(plan.pk, []) if plan else []
    drying = {stage.pk for stage in boat.stages if stage.kind == StageKind.DRY}
    until = max(
        (row.last_day for row in rows if row.stage_id in drying and row.last_day > winter.today),
        default=None,
    )
    found: list[Standing] = []
    bay, regime = now.bay, now.regime
    for day in days_between(winter.today + DAY, last):
        at = [row for row in rows if row.bay_id and row.first_day <= day < row.leaves_on]
        if until is not None and day <= until and at:
            bay = winter.bays.get(at[-1].bay_id or 0)
            regime = at[-1].regime or airs.regime(bay.air if bay else None)
        if found and (found[-1].bay, found[-1].regime) == (bay, regime):
            found[-1] = Standing(found[-1].first, day, bay, regime)
        else:
            found.append(Standing(day, day, bay, regime))
    return tuple(found), until


# --- The picture ------------------------------------------------------------------------------------------
def picture_of(drying: BoatDrying, name: str) -> DryPicture | None:
    """What is drawn of the boat of that name; None where no round counts."""
    used = drying.used
    if used is None or not used.points or drying.hull.closed:
        return None
    first, last = _bounds(drying)
    counted = {row.day: row for row in drying.rows if not row.why}
    latest = used.points[-1].day
    like = counted[latest]
    return DryPicture(
        name=name,
        meter=like.meter,
        scale=drying.hull.scale,
        today=drying.today,
        first=first,
        last=last,
        marks=tuple(Mark(point.day, point.value) for point in used.points if point.day >= first),
        hollow=tuple(
            Mark(row.day, row.level, row.why)
            for row in drying.rows
            if row.why
            and row.level is not None
            and first <= row.day
            # On another meter's scale, or at another depth, her reading is another.
            and (row.meter, row.mode) == (like.meter, like.mode)
        ),
        spots=tuple(
            (row.day, value)
            for row in counted.values()
            if len(row.figures) > 1 and row.day >= first
            for value in row.figures
        ),
        band=_band(drying, last),
        target=drying.target,
        topside=used.reference,
        washes=tuple(day for day in drying.hull.washes if first <= day <= last),
        spans=_spans(drying, first, last),
        odds=tuple(zip(ODDS, drying.days, strict=True)) if drying.days else (),
        coat_on=drying.coat_on if drying.coat_on and first <= drying.coat_on <= last else None,
        signed_on=drying.signature.signed_on if drying.signature else None,
    )


def _bounds(drying: BoatDrying) -> tuple[date, date]:
    """First and last day drawn: from her first round or wash to the last day that matters, and a few more."""
    today, points = drying.today, drying.used.points if drying.used else ()
    begun = [row.day for row in drying.rows] + list(drying.hull.washes)
    if drying.signature:
        signed = drying.signature.signed_on
        ends = [signed, points[-1].day]
        if drying.coat_on and drying.coat_on <= signed + 4 * 7 * DAY:
            ends.append(drying.coat_on)
    else:
        ends = [today + 14 * DAY, *(day for day in drying.days if day)]
        ends += [day for day in (drying.coat_on, drying.planned_until) if day]
    last = max(ends)
    first = max(min(begun) - 2 * DAY, last - LONGEST_D * DAY)
    return first, min(last + max(3, (last - first).days // 25) * DAY, today + AHEAD_D * DAY)


def _band(drying: BoatDrying, last: date) -> tuple[Edge, ...]:
    """The readings expected from where the fit begins to the last day drawn, or to the day she was signed."""
    own = drying.own
    if own is None:
        return ()
    end = min(last, drying.signature.signed_on if drying.signature else last)
    if end <= own.origin:
        return ()
    step = max(1, (end - own.origin).days // BAND_LOOKS)
    days = {*days_between(own.origin, end)[::step], end}
    days |= {one.first for one in (*drying.stood, *drying.ahead) if own.origin <= one.first <= end}
    days |= {drying.today} if own.origin <= drying.today <= end else set()
    told = sorted(days)
    xs = [_x_on(day, own.origin, drying.sums) for day in told]
    low, middle, high = ODDS
    lower, upper = own.drying.band(xs, low, middle), own.drying.band(xs, middle, high)
    return tuple(
        Edge(day, at_low, at_middle, at_high)
        for day, (at_low, at_middle), (_, at_high) in zip(told, lower, upper, strict=True)
    )


def _spans(drying: BoatDrying, first: date, last: date) -> tuple[Span, ...]:
    """Where she stood, to today or the day she was signed; where the plan has her dry, to its last day of
    drying."""
    signed = drying.signature.signed_on if drying.signature else None
    until = signed or drying.planned_until or drying.today
    return tuple(
        Span(
            max(one.first, first),
            min(one.last, last, until),
            one.bay.name if one.bay else "",
            one.regime,
            one.first > drying.today,
        )
        for one in (*drying.stood, *(() if signed else drying.ahead))
        if one.last >= first and one.first <= min(last, until)
    )


def _x_on(day: date, origin: date, sums: Sequence[float]) -> float:
    """The expected decay up to the morning of a day [-]."""
    return sums[min((day - origin).days, len(sums) - 1)]


def _begins(winter: Winter, boat: BoatWinter, stage: Stage | None) -> date | None:
    """The day a stage began, else the day the posted plan begins it."""
    if stage is None:
        return None
    if stage.status != Status.WAITING:
        return stage.started_on
    return boat.first_day(winter.posted, stage)


def _given(treatment: Treatment) -> bool:
    """Whether her target is a figure of her own or of her scheme."""
    return treatment.target_reading is not None or treatment.scheme.target_reading is not None
