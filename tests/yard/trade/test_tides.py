"""Tides by cosine between official waters."""

from datetime import UTC, datetime, timedelta

import pytest

from yard.trade.tides import Water, height_m, need_m, windows, within

LOW = datetime(2027, 3, 22, 6, tzinfo=UTC)
RISE = timedelta(hours=6, minutes=12)
WATERS = [Water(LOW, 0.9), Water(LOW + RISE, 5.3), Water(LOW + 2 * RISE, 0.9)]


def test_the_water_needed_is_draught_clearance_and_sill() -> None:
    assert need_m(1.8, clearance_m=0.5, sill_m=1.5) == pytest.approx(3.8)


@pytest.mark.parametrize(
    ("sixth", "height"), [(0, 0.9), (1, 1.195), (2, 2.0), (3, 3.1), (4, 4.2), (5, 5.005), (6, 5.3)]
)
def test_the_cosine_stays_near_the_rule_of_twelfths(sixth: int, height: float) -> None:
    # The rule of twelfths gives 0.9, 1.267, 2.0, 3.1, 4.2, 4.933, 5.3: the cosine is within 0.073 m of it.
    assert height_m(*WATERS[:2], LOW + RISE * sixth / 6) == pytest.approx(height, abs=1e-3)


def test_a_window_around_high_water() -> None:
    # acos(1 - 2 (3.8 - 0.9) / 4.4) / pi of 372 min before and after high water: 147.7 min each, 295 in all.
    (window,) = windows(WATERS, 3.8)
    assert window.minutes == 295
    assert window.start + (window.end - window.start) / 2 == LOW + RISE


def test_no_window_where_high_water_is_too_low_and_all_day_where_low_water_is_enough() -> None:
    assert windows(WATERS, 5.4) == []
    (window,) = windows(WATERS, 0.5)
    assert (window.start, window.end) == (WATERS[0].at, WATERS[-1].at)


def test_a_window_is_cut_to_working_hours() -> None:
    (window,) = windows(WATERS, 3.8)
    part = within(window, LOW + RISE, LOW + 2 * RISE)
    assert part is not None
    assert part.minutes == 147
    assert within(window, LOW, LOW + timedelta(hours=1)) is None
