"""Water over the dock: heights between official high and low waters by cosine, and windows for a draught.

For planning only. The official table is the harbour's; wind and pressure move the water by decimetres. Not
sound where the tide
has double high waters or a stand; there the yard enters what it knows.
"""

import itertools
from collections.abc import Sequence
from datetime import datetime, timedelta
from math import acos, cos, pi
from typing import NamedTuple


class Water(NamedTuple):
    """One high or low water: `at` an aware instant, `height_m` [m] above the datum of the table."""

    at: datetime
    height_m: float


class Window(NamedTuple):
    """From and until when the water is high enough; aware instants."""

    start: datetime
    end: datetime

    @property
    def minutes(self) -> int:
        """[min] how long it lasts."""
        return int((self.end - self.start).total_seconds() // 60)


def need_m(draught_m: float, *, clearance_m: float, sill_m: float) -> float:
    """Height of tide [m above datum] that floats `draught_m` [m] with `clearance_m` under the keel over a
    sill `sill_m` above datum."""
    return draught_m + clearance_m + sill_m


def height_m(before: Water, after: Water, at: datetime) -> float:
    """Height [m] at `at`, between one water and the next, by cosine."""
    share = (at - before.at) / (after.at - before.at)
    return before.height_m + (after.height_m - before.height_m) * (1 - cos(pi * share)) / 2


def windows(waters: Sequence[Water], need: float) -> list[Window]:
    """When the water stands at `need` [m] or higher, from waters in order of time, high and low in turn."""
    found: list[Window] = []
    start: datetime | None = None
    for before, after in itertools.pairwise(waters):
        low, high = sorted((before.height_m, after.height_m))
        if start is None and before.height_m >= need:
            start = before.at
        if low < need <= high and low != high:
            share = acos(1 - 2 * (need - before.height_m) / (after.height_m - before.height_m)) / pi
            crossing = before.at + share * (after.at - before.at)
            if after.height_m > before.height_m:
                start = crossing
            elif start is not None:
                found.append(Window(start, crossing))
                start = None
    if start is not None and waters:
        found.append(Window(start, waters[-1].at))
    return found


def within(window: Window, first: datetime, last: datetime) -> Window | None:
    """The part of `window` between two instants, if there is any."""
    start, end = max(window.start, first), min(window.end, last)
    return Window(start, end) if end - start > timedelta(0) else None
