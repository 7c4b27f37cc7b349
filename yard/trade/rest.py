"""Rest and working hours: what a roster may ask of somebody, and from when they may start again.

Source: Working Time Regulations 1998 (Great Britain; SR 2016/49 for Northern Ireland is alike in all this).
Figures seen on public pages that quote them; numbers of regulations, and what is marked so below, from
memory. They are the law's, not the yard's: nobody changes them here. A contract or a workforce agreement may
be stricter, and the competent person decides. Night workers (average 8 h in 24) are not reckoned here.

Whatever lies between two shifts is rest, counted by elapsed hours. A week runs from Monday (regs 11(4) and
(6), from memory).
"""

from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import NamedTuple

from yard.trade.average import AVERAGE_WEEK_H, worst_average
from yard.trade.ranges import Doubt
from yard.trade.shifts import (
    Shift,
    hours_after,
    hours_between,
    hours_by_day,
    in_order,
    midnight,
    overlap_h,
    spoken,
)

NIGHT = (22, 6)
"""[o'clock] from when to when nobody under 18 works, unless a contract says 23 to 7 (reg 7, from memory)."""


class Rules(NamedTuple):
    """What somebody of an age is owed: hours [h], the break [min]; None where the law sets no such limit.

    The weekly rest lies beside `beside_h` [h] of daily rest, in one piece with it.
    """

    daily_rest_h: float
    weekly_rest_h: float
    beside_h: float
    break_min: float
    break_after_h: float
    most_day_h: float | None
    most_week_h: float | None


ADULT = Rules(11.0, 24.0, 11.0, 20.0, 6.0, None, None)
"""Regs 10(1), 11(1), 12(1). The weekly rest may not overlap the daily rest, so together they
make 35 hours in one piece (reg 11(7), from memory)."""
UNDER_18 = Rules(12.0, 48.0, 0.0, 30.0, 4.5, 8.0, 40.0)
"""Regs 10(2), 11(3), 12(4) and 5A. No average and no opt-out."""


class Breach(NamedTuple):
    """A rule that a roster breaks: on which day, by how much [unit], in words, and from when she or he may
    start again, where waiting mends it."""

    rule: str
    day: date
    by: float
    unit: str
    says: str
    next_start: datetime | None = None


def rules_for(*, under_18: bool) -> Rules:
    """The rules by age."""
    return UNDER_18 if under_18 else ADULT


def earliest_start(end: datetime, *, under_18: bool = False) -> datetime:
    """When somebody who went home at `end` may start again, by the same clock: after the daily rest."""
    return hours_after(end, rules_for(under_18=under_18).daily_rest_h)


def next_start(shifts: Iterable[Shift], *, under_18: bool = False) -> tuple[datetime, str]:
    """When somebody may start again after these shifts, with the reason: the daily rest, or the weekly rest
    where the week has had none and nothing but waiting leaves room for it.

    Raises:
        ValueError: if there are no shifts, or as `in_order`.
    """
    known = in_order(shifts)
    if not known:
        raise ValueError("No shift is given: from when somebody may start needs the last one.")
    rules, end = rules_for(under_18=under_18), known[-1].end
    daily = hours_after(end, rules.daily_rest_h)
    monday = _monday(end)
    closes = midnight(monday + timedelta(days=7), end)
    before = _weekly_rests(known, monday, 7, rules)[:-1]
    if max(before) >= rules.weekly_rest_h or hours_between(daily, closes) >= rules.weekly_rest_h:
        return daily, f"{rules.daily_rest_h:g} hours of rest after {spoken(end)}: not before {spoken(daily)}."
    weekly = hours_after(end, rules.weekly_rest_h + rules.beside_h)
    return weekly, (
        f"No {rules.weekly_rest_h:g} hours of weekly rest in the week from {monday:%-d %b}: "
        f"not before {spoken(weekly)}."
    )


def breaches(
    shifts: Iterable[Shift],
    *,
    under_18: bool = False,
    opted_out: bool = False,
    excluded: Collection[date] = (),
    fortnights_from: date | None = None,
) -> list[Breach]:
    """Everything that a person's shifts break, by day.

    Args:
        opted_out: out of the average week, in writing; counts nothing under 18.
        excluded: days of leave or sickness, which the average leaves out.
        fortnights_from: the Monday from which the yard gives weekly rest by the fortnight: one piece of 48
            hours or two of 24, instead of 24 a week. Not under 18.

    Raises:
        ValueError: as `in_order`, or if `fortnights_from` is no Monday.
    """
    rules, known = rules_for(under_18=under_18), in_order(shifts)
    found = [*_daily_rest(known, rules), *_breaks(known, rules)]
    found += _weekly_rest(known, rules, None if under_18 else fortnights_from)
    if under_18:
        found += _young(known, rules)
    elif not opted_out and known:
        worst = worst_average(hours_by_day(known), excluded=excluded)
        if worst and not worst.passes:
            over = worst.week_h - AVERAGE_WEEK_H
            found.append(Breach("average week", worst.last, over, "h", worst.says))
    return sorted(found, key=lambda breach: (breach.day, breach.rule))


def doubts_about_hand(*, under_18: bool, opted_out: bool) -> list[Doubt]:
    """What reads like a slip in what is known of a person."""
    if under_18 and opted_out:
        return [Doubt("opted_out_48h", "Nobody under 18 can opt out of the week's hours: take it out?")]
    return []


# --- One rule each ----------------------------------------------------------------------------------------
def _daily_rest(shifts: Sequence[Shift], rules: Rules) -> list[Breach]:
    """Too little rest between one shift and the next."""
    found = []
    for one, other in pairwise(shifts):
        rest = hours_between(one.end, other.start)
        if rest < rules.daily_rest_h:
            free = hours_after(one.end, rules.daily_rest_h)
            says = (
                f"{rest:.3g} hours of rest after {spoken(one.end)}, {rules.daily_rest_h:g} are due: "
                f"not before {spoken(free)}, or rest that makes it up."
            )
            found.append(Breach("daily rest", other.start.date(), rules.daily_rest_h - rest, "h", says, free))
    return found


def _breaks(shifts: Sequence[Shift], rules: Rules) -> list[Breach]:
    """No break long enough in a shift that needs one."""
    found = []
    for shift in shifts:
        elapsed, longest = hours_between(shift.start, shift.end), max(shift.breaks, default=0.0)
        if elapsed > rules.break_after_h and longest < rules.break_min:
            says = (
                f"{elapsed:.3g} hours on {shift.start:%-d %b} without a break of {rules.break_min:g} "
                f"minutes: over {rules.break_after_h:g} hours it is due."
            )
            found.append(Breach("break", shift.start.date(), rules.break_min - longest, "min", says))
    return found


def _weekly_rest(shifts: Sequence[Shift], rules: Rules, fortnights_from: date | None) -> list[Breach]:
    """Weeks, or fortnights, without their rest."""
    if fortnights_from and fortnights_from.weekday() != 0:
        raise ValueError(f"{fortnights_from:%-d %b %Y} is no Monday: give the Monday of a fortnight.")
    days, due = (14, 2 * rules.weekly_rest_h) if fortnights_from else (7, rules.weekly_rest_h)
    spans: dict[date, Shift] = {}
    for shift in shifts:
        first = _monday(shift.start)
        if fortnights_from:
            first -= timedelta(days=(first - fortnights_from).days % days)
        spans[first] = shift
    found = []
    for first, last in spans.items():
        rests = _weekly_rests(shifts, first, days, rules)
        had = sum(rest for rest in rests if rest >= rules.weekly_rest_h) or max(rests)
        if had >= due:
            continue
        free = hours_after(last.end, rules.weekly_rest_h + rules.beside_h)
        says = (
            f"The {days} days from {first:%-d %b %Y} have {had:.3g} of {due:g} hours of weekly rest, each "
            f"piece {rules.weekly_rest_h:g} or more beside the daily rest: not before {spoken(free)}."
        )
        found.append(Breach("weekly rest", last.start.date(), due - had, "h", says, free))
    return found


def _young(shifts: Sequence[Shift], rules: Rules) -> list[Breach]:
    """What is over a young hand's day or week, or in the night."""
    found: list[Breach] = []
    weeks: dict[date, float] = {}
    most_day, most_week = rules.most_day_h or 0.0, rules.most_week_h or 0.0
    for day, hours in hours_by_day(shifts).items():
        monday = day - timedelta(days=day.weekday())
        weeks[monday] = weeks.get(monday, 0.0) + hours
        if hours > most_day:
            says = f"{hours:.3g} hours on {day:%-d %b}: under 18, {most_day:g} a day."
            found.append(Breach("young day", day, hours - most_day, "h", says))
    for monday, hours in weeks.items():
        if hours > most_week:
            says = f"{hours:.3g} hours in the week from {monday:%-d %b}: under 18, {most_week:g} a week."
            found.append(Breach("young week", monday, hours - most_week, "h", says))
    for shift in shifts:
        if (night_h := _night_h(shift)) > 0:
            says = (
                f"{night_h:.3g} hours at night on {shift.start:%-d %b}: "
                f"under 18, none from {NIGHT[0]}:00 to 0{NIGHT[1]}:00."
            )
            found.append(Breach("young night", shift.start.date(), night_h, "h", says))
    return found


def _night_h(shift: Shift) -> float:
    """Hours of a shift between the evening and the morning of `NIGHT`, by the shift's own clock [h]."""
    total = 0.0
    for offset in (-1, 0, 1):
        day = shift.start.date() + timedelta(days=offset)
        opens = midnight(day, shift.start).replace(hour=NIGHT[0])
        closes = midnight(day + timedelta(days=1), shift.start).replace(hour=NIGHT[1])
        total += overlap_h(shift.start, shift.end, opens, closes)
    return total


def _weekly_rests(shifts: Sequence[Shift], first: date, days: int, rules: Rules) -> list[float]:
    """Hours of weekly rest before, between and after the shifts, as far as they lie in a span of days [h].

    A rest may reach over the span's edge, where the daily rest beside it may lie. Before the first shift and
    after the last, nobody is known to be at work.
    """
    opens = midnight(first, shifts[0].start)
    closes = midnight(first + timedelta(days=days), shifts[0].start)
    far = timedelta(days=60)
    begins = [min(opens, shifts[0].start) - far, *(shift.end for shift in shifts)]
    ends = [*(shift.start for shift in shifts), max(closes, shifts[-1].end) + far]
    return [
        max(0.0, min(overlap_h(begin, end, opens, closes), hours_between(begin, end) - rules.beside_h))
        for begin, end in zip(begins, ends, strict=True)
    ]


def _monday(at: datetime) -> date:
    """The Monday of the week in which somebody is at work then."""
    return at.date() - timedelta(days=at.weekday())
