"""One boat's drying as a picture: days and readings [points of her meter's scale] alone.

`scheduling.pages.drying_svg` draws them.
"""

from dataclasses import dataclass
from datetime import date

from scheduling.loading.boatdrying import AHEAD_D, DAY, ODDS, BoatDrying

LONGEST_D = 330
"""[calendar days] the longest time one drawing shows."""

BAND_LOOKS = 24
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
    length = (end - own.origin).days
    # Closer together at first, where it falls fastest.
    days = {own.origin + round(length * (look / BAND_LOOKS) ** 1.5) * DAY for look in range(BAND_LOOKS + 1)}
    days |= {one.first for one in (*drying.stood, *drying.ahead) if own.origin <= one.first <= end}
    days |= {drying.today} if own.origin <= drying.today <= end else set()
    told = sorted(days)
    xs = [_x_on(drying, own.origin, day) for day in told]
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


def _x_on(drying: BoatDrying, origin: date, day: date) -> float:
    """The expected decay up to the morning of a day [-]."""
    return drying.sums[min((day - origin).days, len(drying.sums) - 1)]
