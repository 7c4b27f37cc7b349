"""A forecast of drying on a calendar: rounds to points, and the odds to days, across any change of regime.

`decays` [1/day] hold one value for each calendar day from the `first`, the day on which the fit begins:
what the days so far were worth by the regime's norm, then what the days to come are expected to be. A move
into heat, past or to come, is nothing but larger values from its day on.
"""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from itertools import accumulate
from typing import NamedTuple

from yard.trade.forecast import Drying, Point
from yard.trade.spots import Level


class DryDays(NamedTuple):
    """The days of a forecast, one for each of the odds asked for (None = never, or after the calendar's
    end), and the same in a sentence."""

    days: tuple[date | None, ...]
    says: str


def points_of(levels: Iterable[Level], first: date, decays: Sequence[float]) -> list[Point]:
    """The rounds as points: x is the sum of `decays` [1/day], one a calendar day from `first`, before each
    day.

    Raises ValueError for a round that lies before `first` or after the days told of.
    """
    sums = _sums(decays)
    points = []
    for level in levels:
        index = (level.day - first).days
        if not 0 <= index < len(sums):
            told = f"{len(decays)} from {_said(first)}"
            raise ValueError(f"The round of {_said(level.day)} lies outside the days told of: {told}.")
        points.append(Point(sums[index], level.value, level.noise))
    return points


def day_when(x_needed: float, decays: Sequence[float]) -> int | None:
    """Index of the first day before which the `decays` [1/day], one a calendar day, add up to `x_needed` [-].

    That is the day whose round can show it; len(decays) is the day after the last. None if they never do.
    """
    for index, so_far in enumerate(_sums(decays)):
        if so_far >= x_needed - 1e-9:
            return index
    return None


def forecast_days(
    drying: Drying,
    decays: Sequence[float],
    first: date,
    ps: Sequence[float] = (0.1, 0.5, 0.9),
    *,
    today: date | None = None,
) -> DryDays:
    """The day by which she is at her target with each of the odds `ps` [-], on a calendar.

    `decays` [1/day], one a calendar day from `first`, the day on which x is 0: what the days so far were
    worth, then what the days to come are expected to be, any change of regime in them. A day before `today`
    is given as today.
    """
    days: list[date | None] = []
    for p in ps:
        x = drying.quantile_x(p)
        index = None if x is None else day_when(x, decays)
        day = None if index is None else first + timedelta(days=index)
        days.append(max(day, today) if day and today else day)
    return DryDays(tuple(days), _sentence(drying, decays, first, ps, days))


def _sentence(
    drying: Drying, decays: Sequence[float], first: date, ps: Sequence[float], days: Sequence[date | None]
) -> str:
    named = [f"{10 * p:g} in 10 by {_said(day)}" for p, day in zip(ps, days, strict=True) if day]
    if len(named) == len(days):
        return f"Odds of being at her target: {', '.join(named)}."
    odds = 10 * drying.probability(sum(decays))
    at_end = f"{odds:.1f} in 10" if odds >= 0.1 else "under 0.1 in 10"
    end = _said(first + timedelta(days=len(decays)))
    first_named = next((day for day in days if day), None)
    if first_named is None:
        return f"Not before {end}: the odds of being at her target by then are {at_end}."
    return (
        f"Not before {_said(first_named)}. Odds of being at her target: {', '.join(named)};"
        f" no day up to {end} has better than {at_end}."
    )


def _said(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"


def _sums(decays: Sequence[float]) -> list[float]:
    if not all(decay >= 0 for decay in decays):
        raise ValueError("No day takes water into the boat: each decay a day is 0 or more.")
    return list(accumulate(decays, initial=0.0))
