"""Water over the dock: heights between official high and low waters by cosine, and windows for a draught.

For planning only, as `CAUTION` says wherever windows are shown. The official table is the harbour's; wind and
pressure move the water by decimetres. Not sound where the tide has double high waters or a stand: there
`yard.trade.tidetable` finds doubts, and the yard enters what it knows.

How far the cosine is from the tide's own curve, both by harmonics over a year (the tests work it out): on an
open coast 0.06 m in the root mean square and 0.36 m at worst, windows of a high level within 8 minutes at
their start and 15 at their end, at mean level 12 and 20; where two unequal tides run a day 0.05 m and 0.22 m
between waters that are not doubted, and up to a metre between those that are.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from math import acos, cos, pi
from typing import NamedTuple

from yard.trade.daylight import sunrise_and_sunset
from yard.trade.ranges import Doubt

CAUTION = (
    "Heights of tide are for planning only: they come from the table the yard entered, and wind and pressure "
    "move the water by decimetres. Look at the water and the harbour's own table before a lift; the "
    "competent person decides."
)
"""Shown wherever windows are shown. The tables themselves say that predictions are for average weather."""

M_PER_HPA = 0.01
"""[m/hPa] the water falls for each hectopascal of pressure over the mean. Source: tide tables' notes on
weather, 1 mb = 0.01 m, seldom over 0.3 m in all; changed in the code only."""

MEAN_HPA = 1014.0
"""[hPa] mean pressure at the yard. Tide tables' notes: 1016 in the south of Britain to 1011 in the north of
Scotland; the yard may give its own."""

PRESSURE_ALLOWANCE_M = 0.20
"""[m] kept for high pressure where no pressure is given: 20 hPa over the mean, an ordinary winter high. An
allowance, not a forecast. Common practice; 0.0 to 0.3, the manager's."""

LIKELY_GAP = timedelta(hours=9)
"""[h] above this between two waters, one may be missing: ordinary tides have 5 to 8, ebbs in rivers up to 9.
Common practice, changed in the code only."""

LONGEST_GAP = timedelta(hours=17)
"""[h] above this no height is known: a high and a low water at least are missing (12.4 + 6.2 h). Where one
tide runs a day, up to 16.4 in a year of harmonics; changed in the code only."""


class Water(NamedTuple):
    """One high or low water: `at` an aware instant, `height_m` [m] above the datum of the table, and which it
    is, where that was said."""

    at: datetime
    height_m: float
    is_high: bool | None = None


class Window(NamedTuple):
    """From and until when the water is high enough; aware instants."""

    start: datetime
    end: datetime

    @property
    def minutes(self) -> int:
        """[min] how long it lasts, begun minutes left out."""
        return int((self.end - self.start).total_seconds() // 60)


@dataclass(frozen=True)
class Floating:
    """When a draught floats over the dock's bottom: the height needed [m above datum], the windows within the
    hours asked for, lifts in each, what is doubtful, one sentence, and the caution to show with them."""

    need_m: float
    windows: tuple[Window, ...]
    lifts: tuple[int, ...]
    doubts: tuple[Doubt, ...]
    says: str
    caution: str = CAUTION


def pressure_allowance_m(hpa: float | None = None, *, mean_hpa: float = MEAN_HPA) -> float:
    """Height [m] to keep for the air's pressure `hpa` [hPa] over the mean; none given: the usual allowance.

    Never below zero: low pressure lifts the water, but nobody counts on it.

    Raises:
        ValueError: for what is no pressure at sea level in hectopascals.
    """
    if hpa is None:
        return PRESSURE_ALLOWANCE_M
    return max(0.0, -height_by_pressure_m(hpa, mean_hpa=mean_hpa))


def height_by_pressure_m(hpa: float, *, mean_hpa: float = MEAN_HPA) -> float:
    """What the pressure `hpa` [hPa] adds to the table's heights [m]: above zero when it is low.

    Raises:
        ValueError: for what is no pressure at sea level in hectopascals.
    """
    for value in (hpa, mean_hpa):
        if not 900 <= value <= 1085:
            raise ValueError(f"{value:g} hPa is no pressure at sea level; write it like 1014.")
    return (mean_hpa - hpa) * M_PER_HPA


def need_m(draught_m: float, *, clearance_m: float, sill_m: float, allowance_m: float = 0.0) -> float:
    """Height of tide [m above datum] that floats `draught_m` [m] with `clearance_m` under the keel over a
    dock bottom `sill_m` above datum (below zero where it lies under), with an allowance for pressure [m].

    Raises:
        ValueError: for a draught, clearance or allowance below zero.
    """
    for what, value in (("draught", draught_m), ("clearance", clearance_m), ("allowance", allowance_m)):
        if not value >= 0:
            raise ValueError(f"A {what} of {value:g} m cannot be; write it in metres, 0 or more.")
    return draught_m + clearance_m + sill_m + allowance_m


def height_m(before: Water, after: Water, at: datetime) -> float:
    """Height [m] at `at`, between one water and the next, by cosine."""
    share = (at - before.at) / (after.at - before.at)
    return before.height_m + (after.height_m - before.height_m) * (1 - cos(pi * share)) / 2


def windows(waters: Sequence[Water], need: float) -> list[Window]:
    """When the water stands at `need` [m] or higher, from waters in order of time, high and low in turn.

    Where waters are missing no height is known, and a window ends at the last water before.

    Raises:
        ValueError: for waters that are not in order of time, or without a time zone.
    """
    found: list[Window] = []
    start: datetime | None = None
    for before, after, known in _pairs(waters):
        low, high = sorted((before.height_m, after.height_m))
        if start is None and before.height_m >= need:
            start = before.at
        if not known:
            if start is not None:
                found.append(Window(start, before.at))
            start = None
        elif low < need <= high:
            share = acos(1 - 2 * (need - before.height_m) / (after.height_m - before.height_m)) / pi
            crossing = before.at + share * (after.at - before.at)
            if after.height_m > before.height_m:
                start = crossing
            elif start is not None:
                found.append(Window(start, crossing))
                start = None
    if start is not None:
        found.append(Window(start, waters[-1].at))
    return [window for window in found if window.end > window.start]


def _pairs(waters: Sequence[Water]) -> Iterator[tuple[Water, Water, bool]]:
    """Each water with the next, and whether the height between them is known: not over two highs (or lows)
    with half a tide missing between them, nor over a longer hole."""
    for number, (before, after) in enumerate(itertools.pairwise(waters)):
        gap = _gap(before, after)
        known = gap <= LIKELY_GAP or (gap <= LONGEST_GAP and _turns(waters, number))
        yield before, after, known


def _gap(before: Water, after: Water) -> timedelta:
    if before.at.tzinfo is None or after.at.tzinfo is None:
        raise ValueError(f"The water at {before.at:%d/%m/%Y %H:%M} lacks a time zone; say by which clock.")
    gap = after.at - before.at
    if gap <= timedelta(0):
        raise ValueError(
            f"The water at {after.at:%d/%m/%Y %H:%M} is not after the one before; sort the table by time."
        )
    return gap


def _turns(waters: Sequence[Water], number: int) -> bool:
    """Whether a water and the next are a high and a low, as they say or by the waters before and after."""
    before, after = waters[number], waters[number + 1]
    if before.is_high is not None and after.is_high is not None:
        return before.is_high != after.is_high
    up = after.height_m > before.height_m
    outer = ((number - 1, before, up), (number + 2, after, not up))
    return all(
        (waters[at].height_m > inner.height_m) == higher
        for at, inner, higher in outer
        if 0 <= at < len(waters)
    )


def within(window: Window, first: datetime, last: datetime) -> Window | None:
    """The part of `window` between two instants, if there is any."""
    start, end = max(window.start, first), min(window.end, last)
    return Window(start, end) if end - start > timedelta(0) else None


def lifting_hours(
    day: date,
    *,
    work_from: time,
    work_to: time | None,
    zone: tzinfo,
    latitude: float,
    longitude: float,
) -> Window | None:
    """The hours of a day in which there is work and daylight at a position [degrees]; None if there are none.

    `work_to` None asks until sunset: a launch may go on after hours, but never in the dark.
    """
    rise, fall = sunrise_and_sunset(day, latitude, longitude)
    opens = datetime.combine(day, work_from, zone)
    closes = datetime.combine(day, work_to, zone) if work_to is not None else fall
    return within(Window(rise, fall), opens, closes)


def windows_in(open_windows: Sequence[Window], hours: Sequence[Window]) -> list[Window]:
    """The parts of windows that fall into hours; both in order of time."""
    found: list[Window] = []
    first = 0
    for span in hours:
        while first < len(open_windows) and open_windows[first].end <= span.start:
            first += 1
        for window in itertools.islice(open_windows, first, None):
            if window.start >= span.end:
                break
            part = within(window, span.start, span.end)
            if part is not None:
                found.append(part)
    return found


def lifts_in(window: Window, minutes_a_lift: float) -> int:
    """How many lifts [-] a window has time for at `minutes_a_lift` [min] each, from slings under to slings
    clear.

    Raises:
        ValueError: for minutes that are not above zero.
    """
    if not minutes_a_lift > 0:
        raise ValueError(f"A lift of {minutes_a_lift:g} min cannot be; write how long one takes, like 60.")
    return int(window.minutes // minutes_a_lift)


def floating(
    waters: Sequence[Water],
    draught_m: float,
    *,
    clearance_m: float,
    sill_m: float,
    minutes_a_lift: float,
    allowance_m: float = PRESSURE_ALLOWANCE_M,
    hours: Sequence[Window] | None = None,
    doubts: Sequence[Doubt] = (),
) -> Floating:
    """When a draught [m] floats, within `hours` where they are given, with lifts and a sentence.

    `doubts` are what `tidetable.doubts_about_waters` found; they go along, for nobody reads windows without
    them.

    Raises:
        ValueError: as `need_m`, `windows` and `lifts_in` do.
    """
    need = need_m(draught_m, clearance_m=clearance_m, sill_m=sill_m, allowance_m=allowance_m)
    found = windows(waters, need)
    if hours is not None:
        found = windows_in(found, hours)
    lifts = tuple(lifts_in(window, minutes_a_lift) for window in found)
    parts = (
        f"she needs {need:.2f} m of tide: draught {draught_m:.2f}, clearance {clearance_m:.2f}, dock bottom "
        f"{sill_m:+.2f}, pressure {allowance_m:.2f}"
    )
    highest = max((water.height_m for water in waters), default=None)
    if found:
        longest = max(window.minutes for window in found)
        says = f"{_count(len(found), 'window')}, the longest of {longest} min: {parts}."
    elif highest is None:
        says = f"There is no tide table for these days: {parts}."
    elif highest < need:
        says = f"She never floats: {parts}; the highest water of the table is {highest:.2f} m."
    else:
        says = f"No window falls into these hours: {parts}."
    return Floating(need, tuple(found), lifts, tuple(doubts), says)


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
