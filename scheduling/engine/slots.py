"""Days and slots: the only place that knows what a slot is. Slot s is the day `days[s]`; spans are
half-open."""

import itertools
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import date


def slot_on_or_after(days: Sequence[date], day: date) -> int:
    """The first slot whose day is `day` or later; len(days) if there is none."""
    return bisect_left(days, day)


def slot_before(days: Sequence[date], day: date) -> int:
    """The last slot whose day is `day` or earlier; -1 if there is none."""
    return bisect_right(days, day) - 1


def first_day(days: Sequence[date], start: int) -> date:
    """The day on which work that starts in slot `start` starts. Raises ValueError before the axis."""
    if start < 0:
        raise ValueError("the slot is before the axis starts; the records know the day")
    return days[start]


def last_day(days: Sequence[date], end: int) -> date:
    """The last day of work that is finished before slot `end` (inclusive). Raises ValueError if nothing is
    on the axis."""
    if end < 1:
        raise ValueError("the work ended before the axis starts; the records know the day")
    return days[end - 1]


def leaves_on(days: Sequence[date], leaves: int) -> date:
    """The day she leaves the bay (exclusive): the day of slot `leaves`, or the day after the last slot."""
    return days[leaves] if leaves < len(days) else date.fromordinal(days[-1].toordinal() + 1)


def spans(days: Sequence[date]) -> list[int]:
    """[calendar days] that each slot stands for: from its day to the next slot's; 1 for the last."""
    return [(b - a).days for a, b in itertools.pairwise(days)] + [1]


def late_days(days: Sequence[date], due: date, end: int) -> int:
    """[calendar days] from `due` to the last day of work that ends before slot `end`; 0 if she is in time.

    Work that ended before the axis starts (`end` 0) is not late here: the records know the day.
    """
    return max(0, (days[end - 1] - due).days) if end else 0


def unplaced_late_days(days: Sequence[date], due: date) -> int:
    """[calendar days] that a job left out counts as late: until the last day of the axis, at least one."""
    return max(1, (days[-1] - due).days)
