"""What is wrong or doubtful with a table of high and low waters, water by water."""

import itertools
from collections.abc import Iterator, Sequence
from datetime import timedelta
from statistics import median
from typing import NamedTuple

from yard.trade.ranges import Doubt
from yard.trade.tides import LIKELY_GAP, LONGEST_GAP, Water

HIGHEST_M = 15.0
"""[m] a higher water is taken for feet: the greatest spring tides of Europe stay under it (from memory), and
only the heads of one or two bays of the world go over. Changed in the code only."""

LOWEST_M = -2.0
"""[m] a lower water reads like a slip: datums lie near the lowest tide, and a low water seldom more than a
metre under. Common practice, changed in the code only."""

FOOT_M = 0.3048
"""[m/ft] international yard and pound agreement of 1959, exact."""

LEAST_GAP = timedelta(hours=1)
"""[h] two waters nearer than this cannot both be right. Common practice, changed in the code only."""

STAND = 0.2
"""[-] a step between two waters smaller than this share of the table's median one is called a stand: the
smallest neaps of ordinary tides have 0.3 (a year of harmonics on an open coast). Changed in the code only."""


class WaterDoubt(NamedTuple):
    """A doubt about the water at `number` in the table, from nought; `other` is the one it does not
    go with, if any."""

    number: int
    other: int | None
    doubt: Doubt


def impossible(waters: Sequence[Water]) -> list[WaterDoubt]:
    """What cannot be, in a table in order of time: each water once, with a sentence that says what to do."""
    first: dict[int, WaterDoubt] = {}
    step = _median_step(waters)
    for found in itertools.chain(_too_high(waters), _too_near(waters), _wrong_way(waters, step)):
        first.setdefault(found.number, found)
    return [first[number] for number in sorted(first)]


def doubts_about_waters(waters: Sequence[Water]) -> list[WaterDoubt]:
    """What could be meant, but reads like a slip or makes heights between waters unsound: missing waters,
    double high or low waters, stands, waters far below datum; of a table in order of time."""
    found = [*_too_low(waters), *_missing(waters), *_double(waters), *_stands(waters, _median_step(waters))]
    return sorted(found, key=lambda doubt: doubt.number)


def _name(water: Water) -> str:
    return {True: "high water", False: "low water", None: "water"}[water.is_high]


def _median_step(waters: Sequence[Water]) -> float:
    """[m] the middle one of the steps from each water to the next of the other kind."""
    steps = [
        abs(after.height_m - before.height_m)
        for before, after in itertools.pairwise(waters)
        if before.is_high is None or before.is_high != after.is_high
    ]
    return median(steps) if steps else 0.0


def _too_high(waters: Sequence[Water]) -> Iterator[WaterDoubt]:
    for index, water in enumerate(waters):
        if not water.height_m <= HIGHEST_M:
            metres = water.height_m * FOOT_M
            says = (
                f"{water.height_m:g} m is higher than any tide here; that reads like feet ({metres:.2f} m). "
                "Write metres, or call the column height_ft."
            )
            yield WaterDoubt(index, None, Doubt("height_m", says))


def _too_near(waters: Sequence[Water]) -> Iterator[WaterDoubt]:
    for index, (before, after) in enumerate(itertools.pairwise(waters)):
        gap = after.at - before.at
        if gap < LEAST_GAP:
            minutes = gap.total_seconds() / 60
            says = f"It is only {minutes:.0f} min after the water before it; correct it, or take one out."
            yield WaterDoubt(index + 1, index, Doubt("time", says))


def _wrong_way(waters: Sequence[Water], step: float) -> Iterator[WaterDoubt]:
    """A high water that isn't above the low water beside it; and one of two highs in six hours that must be a
    low."""
    for index, (before, after) in enumerate(itertools.pairwise(waters)):
        if before.is_high is None or after.is_high is None or after.at - before.at > LONGEST_GAP:
            continue
        if before.is_high != after.is_high:
            high, low = (before, after) if before.is_high else (after, before)
            if high.height_m <= low.height_m:
                for at, other, water in ((index, index + 1, after), (index + 1, index, before)):
                    says = (
                        f"This {_name(waters[at])} of {waters[at].height_m:g} m is not "
                        f"{'above' if waters[at].is_high else 'below'} the {_name(water)} beside it, of "
                        f"{water.height_m:g} m; are high and low, or the two heights, swapped?"
                    )
                    yield WaterDoubt(at, other, Doubt("water", says))
        elif after.at - before.at <= LIKELY_GAP and abs(after.height_m - before.height_m) > step / 2:
            odd = (before.height_m < after.height_m) == before.is_high  # the lower of two highs
            at, other = (index, index + 1) if odd else (index + 1, index)
            says = (
                f"Two {_name(before)}s stand next to each other, and this one of {waters[at].height_m:g} m "
                f"is far from the other's {waters[other].height_m:g} m; is it a {_turned(before)}?"
            )
            yield WaterDoubt(at, other, Doubt("water", says))


def _turned(water: Water) -> str:
    return "low water" if water.is_high else "high water"


def _too_low(waters: Sequence[Water]) -> Iterator[WaterDoubt]:
    for index, water in enumerate(waters):
        if water.height_m < LOWEST_M:
            says = f"{water.height_m:g} m is far below datum; is the sign meant, and the datum right?"
            yield WaterDoubt(index, None, Doubt("height_m", says))


def _missing(waters: Sequence[Water]) -> Iterator[WaterDoubt]:
    for index, (before, after) in enumerate(itertools.pairwise(waters)):
        gap = after.at - before.at
        hours = gap.total_seconds() / 3600
        if gap > LONGEST_GAP:
            says = f"{hours:.1f} h without a water before it: the table has a hole, and no heights there."
        elif gap > LIKELY_GAP and before.is_high is not None and before.is_high == after.is_high:
            says = f"No {_turned(after)} in the {hours:.1f} h before it: one is missing, and heights with it."
        elif gap > LIKELY_GAP:
            says = f"{hours:.1f} h without a water before it: is one missing?"
        else:
            continue
        yield WaterDoubt(index + 1, index, Doubt("time", says))


def _double(waters: Sequence[Water]) -> Iterator[WaterDoubt]:
    """Two high waters (or two low ones) of one tide: the next but one, or the next, too soon after."""
    last: dict[bool, int] = {}
    for index, water in enumerate(waters):
        if water.is_high is None:
            continue
        before = last.get(water.is_high)
        if before is not None and water.at - waters[before].at <= LIKELY_GAP:
            hours = (water.at - waters[before].at).total_seconds() / 3600
            says = (
                f"Two {_name(water)}s within {hours:.1f} h: a double {_name(water)} or unequal tides. "
                "Heights between waters are not sound there; enter what the yard knows."
            )
            yield WaterDoubt(index, before, Doubt("time", says))
        last[water.is_high] = index


def _stands(waters: Sequence[Water], step: float) -> Iterator[WaterDoubt]:
    for index, (before, after) in enumerate(itertools.pairwise(waters)):
        change = abs(after.height_m - before.height_m)
        if after.at - before.at <= LIKELY_GAP and change < STAND * step:
            says = (
                f"The water changes by only {change:.2f} m from the one before it: a stand. Heights "
                "between the two are not sound; enter what the yard knows."
            )
            yield WaterDoubt(index + 1, index, Doubt("height_m", says))
