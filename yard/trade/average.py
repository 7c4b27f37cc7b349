"""The average week: hours over 17 weeks, leave left out.

Source: Working Time Regulations 1998, regs 4 and 5 (figures seen on public pages that quote them, numbers of
regulations and the rule for leave from memory). The law's figures: nobody changes them here.
"""

from collections.abc import Collection, Mapping
from datetime import date, timedelta
from typing import NamedTuple

REFERENCE_WEEKS = 17
"""[weeks] over which the week is averaged (reg 4; 26 or 52 only by an agreement that this does not know)."""
AVERAGE_WEEK_H = 48.0
"""[h] that the average week may have without an opt-out in writing (regs 4 and 5)."""


class Average(NamedTuple):
    """The average week over a reference period from `first` to `last`.

    `hours` [h] counts the period without its `excluded` days, made up by as many days worked after it (reg
    4(6), from memory); `short_d` [d] are those that are not known yet.
    """

    first: date
    last: date
    hours: float
    excluded: int
    short_d: int
    week_h: float
    passes: bool
    says: str


def average_week(
    hours: Mapping[date, float], first: date, *, excluded: Collection[date] = (), weeks: int = REFERENCE_WEEKS
) -> Average:
    """The average week from `first` over so many `weeks` [weeks], from hours worked by day [h].

    Leave and sickness would water the average down; so hours on `excluded` days are left out and made up by
    as many days worked next after the period. Somebody newly employed is averaged over the `weeks` since
    they came (reg 4(4), from memory).

    Raises:
        ValueError: if there is no week to average over.
    """
    if weeks < 1:
        raise ValueError("An average needs at least one week: give the weeks.")
    last = first + timedelta(days=7 * weeks - 1)
    left_out = {day for day in excluded if first <= day <= last}
    total = sum(h for day, h in hours.items() if first <= day <= last and day not in left_out)
    after = sorted(day for day, h in hours.items() if day > last and h > 0 and day not in excluded)
    made_up = after[: len(left_out)]
    total += sum(hours[day] for day in made_up)
    short, week_h = len(left_out) - len(made_up), total / weeks
    passes = round(week_h, 6) <= AVERAGE_WEEK_H
    says = (
        f"{total:g} hours in {weeks} weeks from {first:%-d %b %Y}, {week_h:.2f} a week: "
        f"{'within' if passes else 'over'} {AVERAGE_WEEK_H:g}."
    )
    if short:
        says += f" {short} day{'s' if short > 1 else ''} of leave not made up yet."
    return Average(first, last, total, len(left_out), short, week_h, passes, says)


def worst_average(
    hours: Mapping[date, float], *, excluded: Collection[date] = (), weeks: int = REFERENCE_WEEKS
) -> Average | None:
    """The highest average of any period of so many `weeks` [weeks] in a row, from the first day worked to the
    end of the week last worked in; None if that is shorter than one period."""
    if not hours:
        return None
    first, last = min(hours), max(hours)
    sunday = last + timedelta(days=6 - last.weekday())
    kept, starts = frozenset(excluded), (sunday - first).days + 2 - 7 * weeks
    found = (
        average_week(hours, first + timedelta(days=i), excluded=kept, weeks=weeks) for i in range(starts)
    )
    return max(found, key=lambda average: average.week_h, default=None)
