"""Shifts: from when to when somebody was or will be at work, and the hours that makes.

A shift runs from coming to going home, with its breaks inside; whatever lies between two shifts is rest. Its
times carry the yard's zone, by whose clock days and weeks are told apart; hours are elapsed hours, also over
the night in which the clock changes.
"""

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import NamedTuple


class Shift(NamedTuple):
    """One spell at work, with time zone; `breaks` are those taken away from work, each in one piece [min]."""

    start: datetime
    end: datetime
    breaks: tuple[float, ...] = ()


def shift_h(shift: Shift) -> float:
    """Hours worked in a shift: from start to end by the instant, less its breaks [h].

    Raises:
        ValueError: if a time has no zone, the end isn't after the start, it lasts over a day, or its breaks
            fill it.
    """
    for at in (shift.start, shift.end):
        if at.utcoffset() is None:
            raise ValueError(f"{at:%-d %b %Y %H:%M} has no time zone: give the yard's.")
    elapsed = hours_between(shift.start, shift.end)
    if elapsed <= 0:
        raise ValueError(f"The shift of {spoken(shift.start)} ends before it starts: correct one of the two.")
    if elapsed > 24:
        raise ValueError(f"The shift of {spoken(shift.start)} lasts {elapsed:g} hours: correct its end.")
    if any(minutes < 0 for minutes in shift.breaks) or sum(shift.breaks) / 60 >= elapsed:
        raise ValueError(f"The breaks of {spoken(shift.start)} don't fit into the shift: correct them.")
    return elapsed - sum(shift.breaks) / 60


def in_order(shifts: Iterable[Shift]) -> list[Shift]:
    """The shifts of one person by their start.

    Raises:
        ValueError: if two overlap, or as `shift_h`.
    """
    found = list(shifts)
    for shift in found:
        shift_h(shift)
    found.sort(key=lambda shift: shift.start.astimezone(UTC))
    for one, other in pairwise(found):
        if hours_between(one.end, other.start) < 0:
            raise ValueError(f"Two shifts overlap on {spoken(other.start)}: correct one of them.")
    return found


def hours_by_day(shifts: Iterable[Shift]) -> dict[date, float]:
    """Hours worked by day [h]; a shift counts on the day on which it starts."""
    hours: dict[date, float] = {}
    for shift in shifts:
        day = shift.start.date()
        hours[day] = hours.get(day, 0.0) + shift_h(shift)
    return hours


# --- Instants ---------------------------------------------------------------------------------------------
def hours_between(one: datetime, other: datetime) -> float:
    """Elapsed hours from one instant to another [h]. Within one zone, Python itself counts by the clock."""
    return (other.astimezone(UTC) - one.astimezone(UTC)).total_seconds() / 3600


def overlap_h(start: datetime, end: datetime, opens: datetime, closes: datetime) -> float:
    """Elapsed hours that two spans have in common; none where they are apart [h]."""
    first = max(start.astimezone(UTC), opens.astimezone(UTC))
    return max(0.0, hours_between(first, min(end.astimezone(UTC), closes.astimezone(UTC))))


def hours_after(at: datetime, hours: float) -> datetime:
    """The instant so many elapsed `hours` [h] later, by the same clock."""
    return (at.astimezone(UTC) + timedelta(hours=hours)).astimezone(at.tzinfo)


def midnight(day: date, like: datetime) -> datetime:
    """The beginning of a day by the clock of another time."""
    return datetime(day.year, day.month, day.day, tzinfo=like.tzinfo)


def spoken(at: datetime) -> str:
    """A time as people write it."""
    return f"{at:%a %-d %b %H:%M}"
