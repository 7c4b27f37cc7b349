"""Tides by cosine between official waters: heights, windows, hours, lifts, pressure."""

import itertools
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.ranges import Doubt
from yard.trade.tides import (
    CAUTION,
    PRESSURE_ALLOWANCE_M,
    Floating,
    Water,
    Window,
    floating,
    height_by_pressure_m,
    height_m,
    lifting_hours,
    lifts_in,
    need_m,
    pressure_allowance_m,
    windows,
    windows_in,
    within,
)

LOW = datetime(2027, 3, 22, 6, tzinfo=UTC)
RISE = timedelta(hours=6, minutes=12)
WATERS = [Water(LOW, 0.9), Water(LOW + RISE, 5.3), Water(LOW + 2 * RISE, 0.9)]
LONDON = ZoneInfo("Europe/London")


def test_the_water_needed_is_draught_clearance_and_sill() -> None:
    assert need_m(1.8, clearance_m=0.5, sill_m=1.5) == pytest.approx(3.8)
    assert need_m(1.8, clearance_m=0.5, sill_m=-0.4) == pytest.approx(1.9), "a dock bottom below datum"
    assert need_m(1.8, clearance_m=0.5, sill_m=1.5, allowance_m=0.2) == pytest.approx(4.0)


@pytest.mark.parametrize("draught", [-1.8, float("nan")])
def test_a_draught_below_nought_is_refused(draught: float) -> None:
    with pytest.raises(ValueError, match="m cannot be; write it in metres"):
        need_m(draught, clearance_m=0.5, sill_m=1.5)


@pytest.mark.parametrize(
    ("sixth", "height", "twelfths"),
    [
        # The rule of twelfths, 1, 2, 3, 3, 2, 1 of the range an hour (seamanship books): low 0.9, high 5.3.
        (0, 0.9, 0.9),
        (1, 1.195, 1.267),
        (2, 2.0, 2.0),
        (3, 3.1, 3.1),
        (4, 4.2, 4.2),
        (5, 5.005, 4.933),
        (6, 5.3, 5.3),
    ],
)
def test_the_cosine_stays_near_the_rule_of_twelfths(sixth: int, height: float, twelfths: float) -> None:
    found = height_m(*WATERS[:2], LOW + RISE * sixth / 6)
    assert found == pytest.approx(height, abs=1e-3)
    assert found == pytest.approx(twelfths, abs=0.0735)  # 1.7 per cent of the range


def test_a_window_around_high_water() -> None:
    # acos(1 - 2 (3.8 - 0.9) / 4.4) / pi of 372 min before and after high water: 147.7 min each, 295 in all.
    (window,) = windows(WATERS, 3.8)
    assert window.minutes == 295
    assert window.start + (window.end - window.start) / 2 == LOW + RISE


def test_no_window_where_high_water_is_too_low_and_all_day_where_low_water_is_enough() -> None:
    assert windows(WATERS, 5.4) == []
    (window,) = windows(WATERS, 0.5)
    assert (window.start, window.end) == (WATERS[0].at, WATERS[-1].at)


def test_a_water_that_only_just_reaches_gives_no_window() -> None:
    assert windows(WATERS, 5.3) == []


def test_a_window_is_cut_to_working_hours() -> None:
    (window,) = windows(WATERS, 3.8)
    part = within(window, LOW + RISE, LOW + 2 * RISE)
    assert part is not None
    assert part.minutes == 147
    assert within(window, LOW, LOW + timedelta(hours=1)) is None


@pytest.mark.parametrize("kinds", [(None,) * 4, (True, False, True, False)])
def test_no_window_goes_over_a_low_water_that_is_missing(kinds: tuple[bool | None, ...]) -> None:
    heights = [5.3, 0.9, 5.2, 1.0]
    waters = [Water(LOW + n * RISE, h, k) for n, (h, k) in enumerate(zip(heights, kinds, strict=True))]
    whole = windows(waters, 3.8)
    holed = windows([waters[0], *waters[2:]], 3.8)
    assert [window.minutes for window in whole] == [147, 289]
    assert [window.minutes for window in holed] == [145], (
        # acos(1 - 2 (5.2 - 3.8) / 4.2) / pi of 372 min
        "only the ebb after the second high water is known"
    )


def test_no_height_is_known_over_a_hole_of_more_than_a_tide() -> None:
    waters = [Water(LOW, 5.3, True), Water(LOW + 3 * RISE, 0.9, False), Water(LOW + 4 * RISE, 5.3, True)]
    (window,) = windows(waters, 3.8)
    assert window.start > LOW + 3 * RISE


def test_one_tide_a_day_is_a_tide() -> None:
    day = timedelta(hours=12, minutes=24)
    waters = [Water(LOW, 0.2, False), Water(LOW + day, 3.0, True), Water(LOW + 2 * day, 0.2, False)]
    (window,) = windows(waters, 1.6)
    assert window.minutes == 744


@pytest.mark.parametrize(
    ("waters", "message"),
    [
        ([WATERS[1], WATERS[0]], "sort the table by time"),
        ([WATERS[0], WATERS[0]], "sort the table by time"),
        ([Water(datetime(2027, 3, 22, 6), 0.9), WATERS[1]], "lacks a time zone"),
    ],
)
def test_waters_out_of_order_or_without_a_zone_are_refused(waters: list[Water], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        windows(waters, 3.8)


@pytest.mark.parametrize(
    ("hpa", "mean", "adds", "allowance"),
    [
        # Tide tables' notes on weather: 1 mb = 0.01 m, mean 1016 in the south and 1011 in the north.
        (1036, 1016, -0.20, 0.20),
        (1016, 1016, 0.0, 0.0),
        (1043, 1014, -0.29, 0.29),
        (986, 1016, 0.30, 0.0),
        (1001, 1011, 0.10, 0.0),
    ],
)
def test_a_hectopascal_is_a_centimetre_and_low_pressure_is_not_counted_on(
    hpa: float, mean: float, adds: float, allowance: float
) -> None:
    assert height_by_pressure_m(hpa, mean_hpa=mean) == pytest.approx(adds)
    assert pressure_allowance_m(hpa, mean_hpa=mean) == pytest.approx(allowance)


def test_without_a_pressure_the_usual_allowance_is_kept() -> None:
    assert pressure_allowance_m() == PRESSURE_ALLOWANCE_M == 0.2


@pytest.mark.parametrize("hpa", [29.92, 101.3, 760, float("nan")])  # inches and millimetres of mercury, kPa
def test_pressure_in_another_unit_is_refused(hpa: float) -> None:
    with pytest.raises(ValueError, match="is no pressure at sea level; write it like 1014"):
        pressure_allowance_m(hpa)


@pytest.mark.parametrize(
    ("day", "work_to", "start", "end"),
    [
        # Latitude 50.5, longitude -4, clock times to some minutes; the sun against test_daylight.py.
        (date(2027, 6, 21), time(16, 30), (7, 30), (16, 30)),  # the day's work lies in daylight
        (date(2026, 12, 21), time(16, 30), (8, 16), (16, 14)),  # dark at both ends
        (date(2027, 6, 21), None, (7, 30), (21, 30)),  # until sunset
    ],
)
def test_lifting_hours_are_working_hours_in_daylight(
    day: date, work_to: time | None, start: tuple[int, int], end: tuple[int, int]
) -> None:
    hours = lifting_hours(
        day, work_from=time(7, 30), work_to=work_to, zone=LONDON, latitude=50.5, longitude=-4.0
    )
    assert hours is not None
    for found, (hour, minute) in ((hours.start, start), (hours.end, end)):
        local = found.astimezone(LONDON)
        assert abs(local.hour * 60 + local.minute - hour * 60 - minute) <= 3


def test_a_day_worked_only_in_the_dark_has_no_lifting_hours() -> None:
    hours = lifting_hours(
        date(2026, 12, 21), work_from=time(18), work_to=time(22), zone=LONDON, latitude=50.5, longitude=-4.0
    )
    assert hours is None


def test_windows_fall_into_hours_in_parts() -> None:
    (window,) = windows(WATERS, 3.8)
    noon = LOW + RISE
    hours = [
        Window(LOW - 2 * RISE, LOW - RISE),
        Window(LOW, noon - timedelta(hours=1)),
        Window(noon, noon + timedelta(hours=1)),
    ]
    assert [part.minutes for part in windows_in([window], hours)] == [87, 60]


@pytest.mark.parametrize(("minutes", "lifts"), [(60, 4), (73, 4), (74, 3), (295, 1), (296, 0)])
def test_lifts_in_a_window_are_whole_ones(minutes: float, lifts: int) -> None:
    (window,) = windows(WATERS, 3.8)
    assert lifts_in(window, minutes) == lifts


@pytest.mark.parametrize("minutes", [0, -60, float("nan")])
def test_a_lift_of_no_minutes_is_refused(minutes: float) -> None:
    with pytest.raises(ValueError, match="write how long one takes"):
        lifts_in(Window(LOW, LOW + RISE), minutes)


def ask(draught: float, hours: list[Window] | None = None, waters: list[Water] | None = None) -> Floating:
    return floating(
        WATERS if waters is None else waters,
        draught,
        clearance_m=0.5,
        sill_m=1.5,
        minutes_a_lift=60,
        allowance_m=0.0,
        hours=hours,
        doubts=[Doubt("time", "A water may be missing.")],
    )


@pytest.mark.parametrize(
    ("draught", "hours", "waters", "says"),
    [
        (1.8, None, None,
         "1 window, the longest of 295 min: she needs 3.80 m of tide: draught 1.80, clearance 0.50, dock "
         "bottom +1.50, pressure 0.00."),
        (3.4, None, None,
         "She never floats: she needs 5.40 m of tide: draught 3.40, clearance 0.50, dock bottom +1.50, "
         "pressure 0.00; the highest water of the table is 5.30 m."),
        (1.8, [Window(LOW, LOW + timedelta(hours=1))], None,
         "No window falls into these hours: she needs 3.80 m of tide: draught 1.80, clearance 0.50, dock "
         "bottom +1.50, pressure 0.00."),
        (1.8, None, [],
         "There is no tide table for these days: she needs 3.80 m of tide: draught 1.80, clearance 0.50, "
         "dock bottom +1.50, pressure 0.00."),
    ],
)  # fmt: skip
def test_whether_she_floats_is_said_with_what_decided_it_and_always_with_the_caution(
    draught: float, hours: list[Window] | None, waters: list[Water] | None, says: str
) -> None:
    found = ask(draught, hours, waters)
    assert found.says == says
    assert found.caution == CAUTION
    assert found.doubts == (Doubt("time", "A water may be missing."),)
    assert "planning only" in CAUTION
    assert "competent person" in CAUTION


def test_an_allowance_for_pressure_is_kept_unless_another_is_given() -> None:
    found = floating(WATERS, 1.8, clearance_m=0.5, sill_m=1.5, minutes_a_lift=60)
    assert found.need_m == pytest.approx(4.0)
    assert found.lifts == (4,)


# --- Laws -------------------------------------------------------------------------------------------------
LAWS = settings(max_examples=60, deadline=None)
TABLES = st.lists(
    st.tuples(st.floats(-1, 2), st.floats(2.5, 9), st.integers(300, 430), st.integers(300, 430)),
    min_size=2,
    max_size=12,
).map(
    lambda days: [
        Water(LOW + timedelta(minutes=sum(r + f for _, _, r, f in days[:n]) + (r if high else 0)), h, high)
        for n, (low, top, r, f) in enumerate(days)
        for h, high in ((low, False), (top, True))
    ]
)


def total(found: list[Window]) -> float:
    return sum((window.end - window.start).total_seconds() for window in found)


@LAWS
@given(TABLES, st.floats(0, 9), st.floats(0, 3))
def test_a_deeper_draught_never_has_a_longer_window(waters: list[Water], need: float, more: float) -> None:
    shallow, deep = windows(waters, need), windows(waters, need + more)
    assert total(deep) <= total(shallow) + 1e-3
    slack = timedelta(milliseconds=1)
    assert all(any(s.start - slack <= d.start and d.end <= s.end + slack for s in shallow) for d in deep)


@LAWS
@given(TABLES, st.floats(0, 4), st.floats(0, 2), st.floats(0, 2), st.integers(10, 200))
def test_more_clearance_never_gives_more_lifts_and_lifts_fit_into_their_window(
    waters: list[Water], draught: float, clearance: float, more: float, minutes: int
) -> None:
    less, wary = (
        floating(waters, draught, clearance_m=keel, sill_m=0.5, minutes_a_lift=minutes)
        for keel in (clearance, clearance + more)
    )
    assert sum(wary.lifts) <= sum(less.lifts)
    for window, lifts in zip(less.windows, less.lifts, strict=True):
        assert lifts * minutes <= (window.end - window.start).total_seconds() / 60


@LAWS
@given(TABLES, st.floats(0, 9))
def test_the_water_stands_high_enough_within_windows_and_at_their_ends(
    waters: list[Water], need: float
) -> None:
    for window in windows(waters, need):
        for share in (0.0, 0.3, 0.7, 1.0):
            at = window.start + share * (window.end - window.start)
            pair = next((b, a) for b, a in itertools.pairwise(waters) if b.at <= at <= a.at)
            assert height_m(*pair, at) >= need - 1e-4
