"""A coating campaign over the calendar, coat by coat: when the last coat is on, and which windows broke.

The clock of a working day: the night's bloom is washed off first thing, a coat goes on at `MORNING_H`; a
second one, or the coat after half a day of abrading, at `AFTERNOON_H`. A coat goes on over the last one when
that has had its least overcoat time. Past the greatest one the hull is washed and abraded first: a **break**,
which takes half a day to a day and has its price. That is all: that campaigns had better start on a Monday
comes out of the prices of weekends in warm air.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from yard.trade.curing import DAY_FROM_H, DAY_TO_H, GENERIC, CoatingSheet, checked, counted_rate, rate
from yard.trade.ranges import Range

MORNING_H = 9.0
"""[h of the clock] the day's first coat goes on: work from 8, an hour to wash off the bloom. Common practice;
the yard's."""

AFTERNOON_H = 16.5
"""[h of the clock] a second coat goes on, two hours before someone who stays till 18:30 goes home. Common
practice; the yard's."""

BREAK_D = Range(0.5, 0.5, 1.0)
"""[working days] to wash and abrade a hull whose overcoat window is broken. Common practice; the yard's."""

HALF_A_DAY = 0.5
"""[working days] a break may take at most for the coat to go on the same afternoon."""

TINY_H = 1e-9
"""[h] by which a window may be missed through rounding alone."""


class Campaign(NamedTuple):
    """Coats over the calendar, as day indices.

    `first` and `last` are the days of the first and last coat, `coat_days` one for each coat, `breaks` the
    day each break is made good (wash and abrade). `cold_days` are working days lost because hull or night
    were too cold, `green_days` those lost because the coat before had not had its least overcoat time.
    `price` [minor units of money] is that of the breaks.
    """

    first: int
    last: int
    coat_days: tuple[int, ...]
    breaks: tuple[int, ...]
    cold_days: int
    green_days: int
    price: int

    @property
    def says(self) -> str:
        """The campaign in words, and what made it longer."""
        days = self.last - self.first + 1
        said = [
            f"{_count(len(self.coat_days), 'coat')} within {_count(days, 'calendar day')}",
            f"the overcoat window breaks {_times(len(self.breaks))}, so wash and abrade"
            if self.breaks
            else "no overcoat window breaks",
        ]
        if self.cold_days:
            said.append(f"{_count(self.cold_days, 'working day')} too cold to coat")
        if self.green_days:
            said.append(f"{_count(self.green_days, 'working day')} waiting for the coat before to set")
        return "; ".join(said) + "."


class _Next(NamedTuple):
    """The coat after a coat: its spot, the day its break is made good (or none), days lost before it."""

    spot: int
    abraded: int | None
    cold: int
    green: int


def campaign(
    first: int,
    *,
    coats: int,
    coats_a_day: int,
    workable: Sequence[bool],
    day_c: Sequence[float],
    night_c: Sequence[float],
    sheet: CoatingSheet = GENERIC,
    breaks_allowed: int = 99,
    break_d: float = BREAK_D.likely,
    break_price: int = 0,
) -> Campaign | None:
    """The campaign whose first coat goes on on day `first`; None where that day takes no coat, more windows
    break than are allowed, or the season ends before the last coat.

    The sequences have one value for each calendar day: whether coaters work, and the hull's temperature by
    day and in the night after it [degrees C]. `coats_a_day` is 1 or 2; two need a hull of the sheet's
    `two_from_c` and the least overcoat time between morning and afternoon. A break takes `break_d` [working
    days]: with half a day or less the coat goes on the same afternoon, with more on the next day that takes
    one; an abraded coat stays good till then. Each costs `break_price` [minor units].

    Raises:
        ValueError: if the sequences differ in length, a day is not on the calendar, or a count or the sheet
            can't be true.
    """
    return campaign_table(
        (first,),
        coats=coats,
        coats_a_day=coats_a_day,
        workable=workable,
        day_c=day_c,
        night_c=night_c,
        sheet=sheet,
        breaks_allowed=breaks_allowed,
        break_d=break_d,
        break_price=break_price,
    )[0]


def campaign_table(
    starts: Sequence[int],
    *,
    coats: int,
    coats_a_day: int,
    workable: Sequence[bool],
    day_c: Sequence[float],
    night_c: Sequence[float],
    sheet: CoatingSheet = GENERIC,
    breaks_allowed: int = 99,
    break_d: float = BREAK_D.likely,
    break_price: int = 0,
) -> list[Campaign | None]:
    """`campaign` for each of `starts`, sharing what they have in common: where the next coat goes depends on
    the one before only."""
    days = len(workable)
    if not len(day_c) == len(night_c) == days:
        raise ValueError("Give one value a calendar day: workable, day and night differ in length.")
    if coats < 1:
        raise ValueError(f"{coats} coats: a campaign has at least one.")
    if coats_a_day not in (1, 2):
        raise ValueError(f"{coats_a_day} coats a day: one or two.")
    if not 0 < break_d <= 1:
        raise ValueError(f"{break_d} days for a wash and abrade: more than none, one at most.")
    if any(not 0 <= start < days for start in starts):
        raise ValueError("A start lies outside the calendar that was given.")
    checked(sheet)
    takes = _days_that_take_a_coat(workable, day_c, night_c, sheet)
    after = _next_coats(workable, takes, day_c, night_c, sheet, coats_a_day == 2, break_d <= HALF_A_DAY)
    return [
        _followed(start, after, coats, breaks_allowed, break_price) if takes[start] else None
        for start in starts
    ]


def keeps_from_coating(
    workable: bool, day_c: float, night_c: float, sheet: CoatingSheet = GENERIC
) -> str | None:
    """What keeps a day from taking a coat, with the figure that decides: nobody coats, the hull by day or the
    night after it [degrees C]; None where it takes one."""
    if not workable:
        return "Nobody coats that day."
    if day_c < _coldest_hull(sheet):
        return f"The hull is at {day_c:.1f} degrees C: a coat needs {_coldest_hull(sheet):.1f}."
    if night_c < sheet.night_from_c:
        return f"The night after falls to {night_c:.1f} degrees C: a coat needs {sheet.night_from_c:.1f}."
    return None


def _followed(
    start: int, after: Callable[[int], _Next | None], coats: int, breaks_allowed: int, break_price: int
) -> Campaign | None:
    spot = 2 * start
    coat_days, breaks, cold, green = [start], [], 0, 0
    for _ in range(coats - 1):
        found = after(spot)
        if found is None:
            return None
        spot = found.spot
        coat_days.append(spot // 2)
        cold += found.cold
        green += found.green
        if found.abraded is not None:
            breaks.append(found.abraded)
            if len(breaks) > breaks_allowed:
                return None
    return Campaign(start, spot // 2, tuple(coat_days), tuple(breaks), cold, green, len(breaks) * break_price)


def _next_coats(
    workable: Sequence[bool],
    takes: Sequence[bool],
    day_c: Sequence[float],
    night_c: Sequence[float],
    sheet: CoatingSheet,
    two_a_day: bool,
    same_afternoon: bool,
) -> Callable[[int], _Next | None]:
    """A function from the spot of one coat to the next coat, remembered. Spots are 2 x day, + 1 in the
    afternoon."""
    cured = _at_spots(day_c, night_c, lambda c: counted_rate(c, sheet))
    # The far end of the window counts cold hours too: nothing says that a cold film stays open.
    aged = _at_spots(day_c, night_c, lambda c: rate(c, sheet))
    least, greatest = sheet.recoat_min_h_20 - TINY_H, sheet.recoat_max_h_20 + TINY_H
    twice = [two_a_day and ok and c >= sheet.two_from_c for ok, c in zip(takes, day_c, strict=True)]
    known: dict[int, _Next | None] = {}

    def fits(spot: int, later: int) -> bool:
        return cured[later] - cured[spot] >= least and aged[later] - aged[spot] <= greatest

    def find(spot: int) -> _Next | None:
        today = spot // 2
        if spot == 2 * today and twice[today] and fits(spot, spot + 1):
            return _Next(spot + 1, None, 0, 0)
        abraded: int | None = None
        cold = green = 0
        for day in range(today + 1, len(workable)):
            morning = 2 * day
            if not workable[day]:
                continue
            if cured[morning] - cured[spot] < least:
                if twice[day] and fits(spot, morning + 1):
                    return _Next(morning + 1, None, cold, green)
                green += 1
            elif abraded is None and aged[morning] - aged[spot] > greatest:
                abraded = day
                if same_afternoon and takes[day]:
                    return _Next(morning + 1, abraded, cold, green)
            elif takes[day]:
                return _Next(morning, abraded, cold, green)
            else:
                cold += 1
        return None

    def after(spot: int) -> _Next | None:
        if spot not in known:
            known[spot] = find(spot)
        return known[spot]

    return after


def _days_that_take_a_coat(
    workable: Sequence[bool], day_c: Sequence[float], night_c: Sequence[float], sheet: CoatingSheet
) -> list[bool]:
    """For each day whether coaters work, the hull is warm enough, and the night after it is."""
    hull, night = _coldest_hull(sheet), sheet.night_from_c
    return [
        bool(ok) and by_day >= hull and by_night >= night
        for ok, by_day, by_night in zip(workable, day_c, night_c, strict=True)
    ]


def _coldest_hull(sheet: CoatingSheet) -> float:
    return max(sheet.coat_from_c, sheet.least_c)


def _at_spots(
    day_c: Sequence[float], night_c: Sequence[float], worth: Callable[[float], float]
) -> list[float]:
    """What has been counted since the first day by each day's morning and afternoon coat [h at 20 degrees
    C]."""
    rates = {c: worth(c) for c in {*day_c, *night_c}}
    day_h, night_h = DAY_TO_H - DAY_FROM_H, 24.0 - DAY_TO_H + DAY_FROM_H
    total = 0.0
    found: list[float] = []
    for by_day, by_night in zip(day_c, night_c, strict=True):
        fast, slow = rates[by_day], rates[by_night]
        found += (total + (MORNING_H - DAY_FROM_H) * fast, total + (AFTERNOON_H - DAY_FROM_H) * fast)
        total += day_h * fast + night_h * slow
    return found


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times")
