"""Rest and hours of work, against the arithmetic of the Working Time Regulations and the night the clock
changes."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.average import average_week, worst_average
from yard.trade.rest import Breach, breaches, doubts_about_hand, earliest_start, next_start
from yard.trade.shifts import Shift, hours_between, shift_h

LONDON = ZoneInfo("Europe/London")
MONDAY = date(2027, 1, 4)


def at(day: date, clock: str) -> datetime:
    """A time in the yard."""
    hour, minute = (int(part) for part in clock.split(":"))
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=LONDON)


def shift(day: date, start: str, end: str, *breaks: float) -> Shift:
    """A shift by the yard's clock; one that ends earlier than it starts runs into the next day."""
    last = day if end > start else day + timedelta(days=1)
    return Shift(at(day, start), at(last, end), breaks)


def week(monday: date, days: int = 5, start: str = "08:00", end: str = "16:30") -> list[Shift]:
    """So many days in a row of the same hours, with half an hour for lunch."""
    return [shift(monday + timedelta(days=i), start, end, 30) for i in range(days)]


def only(found: list[Breach], rule: str) -> Breach:
    """The one breach there is."""
    assert [breach.rule for breach in found] == [rule]
    return found[0]


def test_five_ordinary_days_break_nothing() -> None:
    assert breaches(week(MONDAY)) == []
    assert breaches(week(MONDAY), under_18=True) == []
    assert breaches([]) == []


# --- Daily rest -------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("end", "under_18", "earliest"),
    [
        # 11 consecutive hours, 12 under 18: Working Time Regulations 1998, reg 10.
        ("22:00", False, "09:00"),
        ("22:00", True, "10:00"),
        ("16:30", False, "03:30"),
        ("06:30", False, "17:30"),  # a launch tide at 04:27, worked 03:30 to 06:30
    ],
)
def test_the_next_start_is_eleven_hours_after_going_home_twelve_under_18(
    end: str, under_18: bool, earliest: str
) -> None:
    assert f"{earliest_start(at(MONDAY, end), under_18=under_18):%H:%M}" == earliest


def test_a_tide_worked_before_dawn_moves_the_days_work_to_the_evening() -> None:
    tide, day = shift(MONDAY, "03:30", "06:30"), shift(MONDAY, "14:00", "17:00")
    breach = only(breaches([day, tide]), "daily rest")
    assert breach.next_start == at(MONDAY, "17:30")
    assert (breach.by, breach.unit) == (3.5, "h")
    assert breach.says == (
        "7.5 hours of rest after Mon 4 Jan 06:30, 11 are due: "
        "not before Mon 4 Jan 17:30, or rest that makes it up."
    )
    assert breaches([tide, shift(MONDAY, "17:30", "20:00")]) == []


@pytest.mark.parametrize(
    ("day", "earliest"),
    [
        (date(2027, 3, 27), "10:00"),  # forward: the night has an hour less, so the clock says later
        (date(2026, 10, 24), "08:00"),  # back: the night has an hour more
        (date(2027, 1, 9), "09:00"),
    ],
)
def test_rest_is_counted_by_elapsed_hours_over_the_clock_change(day: date, earliest: str) -> None:
    found = earliest_start(at(day, "22:00"))
    assert f"{found:%H:%M}" == earliest
    assert hours_between(at(day, "22:00"), found) == 11
    broken = breaches([shift(day, "18:00", "22:00"), shift(day + timedelta(days=1), "08:30", "12:00")])
    assert bool(broken) == (earliest > "08:30")


# --- Weekly rest ------------------------------------------------------------------------------------------
def test_a_free_sunday_is_a_weekly_rest() -> None:
    assert breaches(week(MONDAY, 6) + week(MONDAY + timedelta(days=7), 6)) == []


def test_seven_days_in_a_row_have_none_and_the_sentence_says_until_when_to_stay_at_home() -> None:
    breach = only(breaches(week(MONDAY, 7)), "weekly rest")
    sunday = MONDAY + timedelta(days=6)
    assert breach.day == sunday
    # 24 hours beside the daily 11.
    assert breach.next_start == at(sunday, "16:30") + timedelta(hours=35)
    assert breach.says.startswith("The 7 days from 4 Jan 2027 have 8 of 24 hours of weekly rest")


def test_the_weekly_rest_may_not_be_the_daily_rest_over_again() -> None:
    saturday, monday = MONDAY + timedelta(days=5), MONDAY + timedelta(days=7)
    late = [*week(MONDAY, 5), shift(saturday, "14:00", "22:00", 30)]
    assert breaches([*late, shift(monday, "09:00", "12:00")]) == []
    short = breaches([*late, shift(monday, "08:59", "12:00")])
    assert only(short, "weekly rest").by == pytest.approx(1 / 60)


def test_by_the_fortnight_two_days_in_one_week_make_up_for_none_in_the_other() -> None:
    shifts = week(MONDAY, 7) + week(MONDAY + timedelta(days=7), 5)
    assert only(breaches(shifts), "weekly rest").day == MONDAY + timedelta(days=6)
    assert breaches(shifts, fortnights_from=MONDAY) == []
    # The second Sunday alone is 31.5 hours until midnight.
    over = only(breaches(week(MONDAY, 13), fortnights_from=MONDAY), "weekly rest")
    assert over.by == 48 - 31.5


def test_under_18_a_week_has_two_days_of_rest() -> None:
    six = week(MONDAY, 6, "09:00", "15:30")
    assert only(breaches(six, under_18=True), "weekly rest").unit == "h"
    assert breaches(week(MONDAY, 5, "09:00", "15:30"), under_18=True) == []
    assert breaches(six, under_18=True, fortnights_from=MONDAY) != []


def test_after_six_days_the_seventh_is_kept_free() -> None:
    found, says = next_start(week(MONDAY, 6))
    assert found == at(MONDAY + timedelta(days=7), "03:30")
    assert "weekly rest in the week from 4 Jan" in says
    found, says = next_start(week(MONDAY, 5))
    assert found == at(MONDAY + timedelta(days=5), "03:30")
    assert says.startswith("11 hours of rest after Fri 8 Jan 16:30")
    tuesday_off = [one for one in week(MONDAY, 6) if one.start.date() != MONDAY + timedelta(days=1)]
    assert next_start(tuesday_off)[0] == at(MONDAY + timedelta(days=6), "03:30")


def test_where_no_shift_is_known_nobody_is_told_when_to_start() -> None:
    with pytest.raises(ValueError, match="No shift is given"):
        next_start([])


# --- Breaks, and the young --------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("end", "breaks", "under_18", "broken"),
    [
        # 20 minutes over 6 hours; under 18, 30 minutes over 4.5: reg 12.
        ("14:00", (), False, False),
        ("14:01", (), False, True),
        ("15:00", (20,), False, False),
        ("15:00", (10, 10), False, True),
        ("12:30", (), True, False),
        ("12:31", (), True, True),
        ("15:00", (20,), True, True),
        ("15:00", (30,), True, False),
    ],
)
def test_a_long_shift_has_a_break_in_one_piece(
    end: str, breaks: tuple[float, ...], under_18: bool, broken: bool
) -> None:
    found = breaches([shift(MONDAY, "08:00", end, *breaks)], under_18=under_18)
    assert [breach.rule for breach in found] == ["break"] * broken


def test_under_18_eight_hours_a_day_and_forty_a_week_and_no_opt_out() -> None:
    long = [shift(MONDAY + timedelta(days=i), "08:00", "17:00", 30) for i in range(5)]
    found = breaches(long, under_18=True, opted_out=True)
    assert [breach.rule for breach in found].count("young day") == 5
    assert [breach.by for breach in found if breach.rule == "young week"] == [2.5]
    assert breaches(long) == []


def test_under_18_nobody_works_a_night_tide() -> None:
    tide = shift(MONDAY, "03:30", "06:30")
    breach = only(breaches([tide], under_18=True), "young night")
    assert breach.by == 2.5
    late = breaches([shift(MONDAY, "20:00", "23:00")], under_18=True)
    assert only(late, "young night").by == 1


def test_an_opt_out_under_18_is_asked_about() -> None:
    (doubt,) = doubts_about_hand(under_18=True, opted_out=True)
    assert doubt.field == "opted_out_48h"
    assert not doubts_about_hand(under_18=False, opted_out=True)
    assert not doubts_about_hand(under_18=True, opted_out=False)


# --- The average week -------------------------------------------------------------------------------------
def worked(*weeks_of: tuple[int, float]) -> dict[date, float]:
    """Hours by day of so many weeks with so many hours each, worked from Monday to Friday."""
    per_week = [hours for count, hours in weeks_of for _ in range(count)]
    return {
        MONDAY + timedelta(days=7 * i + day): hours / 5
        for i, hours in enumerate(per_week)
        for day in range(5)
    }


@pytest.mark.parametrize(
    ("weeks", "total", "week_h", "passes"),
    [
        # Worked out by hand: 48 hours a week over 17 weeks.
        ([(17, 48.0)], 816, 48.00, True),
        ([(9, 56.0), (8, 38.0)], 808, 47.53, True),
        ([(10, 56.0), (7, 38.0)], 826, 48.59, False),
    ],
)
def test_the_week_averages_forty_eight_hours_over_seventeen_weeks(
    weeks: list[tuple[int, float]], total: float, week_h: float, passes: bool
) -> None:
    found = average_week(worked(*weeks), MONDAY)
    assert (found.hours, round(found.week_h, 2), found.passes) == (pytest.approx(total), week_h, passes)
    assert found.last == MONDAY + timedelta(days=118)
    assert worst_average(worked(*weeks)) == found


def test_leave_is_left_out_and_made_up_by_days_worked_after_the_period() -> None:
    # Reg 4(6), from memory: a week of leave would make 50 hours a week look like 47.06.
    hours = worked((20, 50.0))
    leave = {MONDAY + timedelta(days=i) for i in range(5)}
    kept = {day: h for day, h in hours.items() if day not in leave}
    assert average_week(kept, MONDAY).passes
    found = average_week(kept, MONDAY, excluded=leave)
    assert (found.hours, found.excluded, found.short_d, found.passes) == (pytest.approx(850), 5, 0, False)


def test_hours_written_on_a_day_of_leave_count_neither_in_the_period_nor_after_it() -> None:
    hours = worked((17, 40.0), (1, 60.0))
    after = MONDAY + timedelta(days=7 * 17)
    # One day of leave inside: its 8 hours go, the first 12 after come; if that is leave too, the next 12.
    assert average_week(hours, MONDAY, excluded={MONDAY}).hours == pytest.approx(680 - 8 + 12)
    hours[after] = 1.0
    assert average_week(hours, MONDAY, excluded={MONDAY}).hours == pytest.approx(680 - 8 + 1)
    assert average_week(hours, MONDAY, excluded={MONDAY, after}).hours == pytest.approx(680 - 8 + 12)


def test_leave_that_cannot_be_made_up_yet_is_said() -> None:
    hours = worked((17, 50.0))
    found = average_week(hours, MONDAY, excluded={MONDAY, MONDAY + timedelta(days=1)})
    assert found.short_d == 2
    assert found.says.endswith("2 days of leave not made up yet.")


def test_somebody_new_is_averaged_over_the_weeks_since_they_came() -> None:
    assert average_week(worked((4, 52.0)), MONDAY, weeks=4).week_h == pytest.approx(52)
    assert worst_average(worked((4, 52.0))) is None
    assert worst_average({}) is None
    with pytest.raises(ValueError, match="at least one week"):
        average_week({}, MONDAY, weeks=0)


def test_any_seventeen_weeks_in_a_row_count_and_an_opt_out_ends_it() -> None:
    shifts = [
        shift(MONDAY + timedelta(days=7 * i + day), "07:00", "17:30" if 4 <= i < 22 else "15:30", 30)
        for i in range(24)
        for day in range(5)
    ]
    assert breaches(shifts) == [only(breaches(shifts), "average week")]
    assert breaches(shifts, opted_out=True) == []


# --- Slips, and laws --------------------------------------------------------------------------------------
def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="has no time zone"):
        shift_h(Shift(datetime(2027, 1, 4, 8), datetime(2027, 1, 4, 16)))


@pytest.mark.parametrize(
    ("slip", "says"),
    [
        (Shift(at(MONDAY, "16:00"), at(MONDAY, "08:00")), "ends before it starts"),
        (Shift(at(MONDAY, "08:00"), at(MONDAY + timedelta(days=1), "16:00")), "lasts 32 hours"),
        (Shift(at(MONDAY, "08:00"), at(MONDAY, "09:00"), (60,)), "don't fit into the shift"),
        (Shift(at(MONDAY, "08:00"), at(MONDAY, "09:00"), (-5,)), "don't fit into the shift"),
    ],
)
def test_a_shift_that_cannot_be_is_refused_with_what_to_correct(slip: Shift, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        breaches([slip])


def test_shifts_that_overlap_and_fortnights_that_begin_on_no_monday_are_refused() -> None:
    with pytest.raises(ValueError, match="overlap on Mon 4 Jan 12:00"):
        breaches([shift(MONDAY, "12:00", "16:00"), shift(MONDAY, "08:00", "12:30")])
    with pytest.raises(ValueError, match="is no Monday"):
        breaches(week(MONDAY), fortnights_from=MONDAY + timedelta(days=1))


@st.composite
def rosters(draw: st.DrawFn) -> list[Shift]:
    """Shifts around both clock changes, with any rest between them."""
    found, now = [], datetime(*draw(st.sampled_from([(2026, 10, 22), (2027, 3, 25)])), tzinfo=UTC)
    for _ in range(draw(st.integers(1, 8))):
        start = now + timedelta(minutes=draw(st.integers(0, 3000)))
        now = start + timedelta(minutes=draw(st.integers(30, 900)))
        found.append(Shift(start.astimezone(LONDON), now.astimezone(LONDON)))
    return found


def gaps(shifts: list[Shift]) -> Iterator[float]:
    """Elapsed hours between shifts, reckoned in UTC."""
    for one, other in pairwise(shifts):
        yield (other.start.astimezone(UTC) - one.end.astimezone(UTC)) / timedelta(hours=1)


@settings(max_examples=60, deadline=None)
@given(rosters())
def test_a_daily_rest_is_broken_as_often_as_a_gap_is_shorter_than_eleven_hours(shifts: list[Shift]) -> None:
    found = [breach for breach in breaches(shifts) if breach.rule == "daily rest"]
    assert len(found) == sum(gap < 11 for gap in gaps(shifts))


@settings(max_examples=60, deadline=None)
@given(rosters())
def test_whoever_starts_when_told_breaks_no_rest_by_it(shifts: list[Shift]) -> None:
    start, _ = next_start(shifts)
    later = [*shifts, Shift(start, (start.astimezone(UTC) + timedelta(minutes=30)).astimezone(LONDON))]
    before = [breach for breach in breaches(shifts) if breach.rule == "daily rest"]
    assert [breach for breach in breaches(later) if breach.rule == "daily rest"] == before


@settings(max_examples=60, deadline=None)
@given(rosters())
def test_what_an_adult_may_not_nobody_under_18_may(shifts: list[Shift]) -> None:
    adult = {(one.rule, one.day) for one in breaches(shifts) if one.rule in ("daily rest", "break")}
    young = {(one.rule, one.day) for one in breaches(shifts, under_18=True)}
    assert adult <= young
