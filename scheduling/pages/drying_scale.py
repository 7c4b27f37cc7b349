"""Where days, readings and words go in the drawing of a boat's drying."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import ceil, floor

from scheduling.loading.drypicture import DryPicture
from yard.templatetags.days import MONTHS, shortday

LETTER = 0.56
"""[-] the mean width of a letter, in sizes of the letters; a little more than sans serifs have."""

STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500)


@dataclass(frozen=True)
class Shape:
    """The size of a drawing, in its own units; `letters` is the size of its letters."""

    name: str
    width: int
    height: int
    letters: int = 13
    left: int = 30
    right: int = 10

    @property
    def top(self) -> int:
        """Where the field of readings begins, under two rows of words."""
        return 3 * self.letters + 6

    @property
    def foot(self) -> int:
        """Where it ends, over the days, the strip and its words."""
        return self.height - 6 * self.letters - 12


WIDE, NARROW = Shape("wide", 760, 430), Shape("narrow", 300, 400)


@dataclass(frozen=True)
class Scale:
    """Days and readings to places in a drawing, never outside its field."""

    shape: Shape
    first: date
    last: date
    low: float
    high: float

    def x(self, day: date) -> float:
        """Where a day is."""
        share = (day - self.first).days / max(1, (self.last - self.first).days)
        field = self.shape.width - self.shape.left - self.shape.right
        return round(self.shape.left + field * min(max(share, 0.0), 1.0), 1)

    def y(self, reading: float) -> float:
        """Where a reading is; higher ones are further up."""
        share = (reading - self.low) / (self.high - self.low)
        return round(self.shape.foot - (self.shape.foot - self.shape.top) * min(max(share, 0.0), 1.0), 1)


def scale_of(picture: DryPicture, shape: Shape) -> Scale:
    """The scale that holds every round and spot, the target and the dry topside, on round figures and within
    the meter's own.

    A band that reaches further is cut off: it must not press the rounds together.
    """
    told = [mark.value for mark in (*picture.marks, *picture.hollow)]
    told += [value for _, value in picture.spots]
    told += [held for held in (picture.target, picture.topside) if held is not None]
    told += [edge.middle for edge in picture.band]
    step = step_of(max(told) - min(told))
    least, most = picture.scale
    low = max(step * floor((min(told) - 0.3 * step) / step), min(least, step * floor(min(told) / step)))
    high = min(step * ceil((max(told) + 0.5 * step) / step), max(most, step * ceil(max(told) / step)))
    figures = max((f"{figure:g}" for figure in (low, high)), key=len)
    roomy = replace(shape, left=max(shape.left, ceil(width_of(figures, shape)) + 8))
    return Scale(roomy, picture.first, picture.last, low, high)


def step_of(width: float) -> int:
    """The round step that parts so wide a scale in six at most [units]."""
    return next((step for step in STEPS if width <= 6 * step), STEPS[-1])


def apart(wanted: Sequence[float], widths: Sequence[float], least: float, most: float) -> list[float]:
    """Middles of words near the wanted ones, left to right, that don't overlap and lie between two edges.

    Where there is no room for all, the last ones keep within the edge and overlap.
    """
    middles: list[float] = []
    edge = least
    for want, width in zip(wanted, widths, strict=True):
        middles.append(max(want, edge + width / 2))
        edge = middles[-1] + width / 2
    edge = most
    for index in reversed(range(len(middles))):
        middles[index] = min(middles[index], edge - widths[index] / 2)
        edge = middles[index] - widths[index] / 2
    return [round(max(middle, least + width / 2), 1) for middle, width in zip(middles, widths, strict=True)]


def ticks(first: date, last: date) -> list[tuple[date, str]]:
    """Days marked along the foot: the first of each month, or each second Monday where few months show."""
    days = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    if len(days) > 75:
        return [(day, f"1 {MONTHS[day.month - 1][:3]}") for day in days if day.day == 1]
    mondays = [day for day in days if day.weekday() == 0]
    return [(day, shortday(day)) for day in mondays[::2]]


def width_of(words: str, shape: Shape) -> float:
    """About how wide words are."""
    return LETTER * shape.letters * len(words)
