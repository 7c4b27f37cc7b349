"""Cure and overcoat windows, against Arrhenius equivalents worked out apart and integrated numerically."""

from math import exp, inf, isinf, nan, pi, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from yard.trade.curing import (
    GENERIC,
    SHEET_RANGES,
    CoatingSheet,
    checked,
    counted_rate,
    doubling_hours_at_20,
    doubts_about_sheet,
    hours_at_20,
    hours_needed,
    night_and_day_at_20,
    overcoat_window,
    rate,
    tacky_window,
)

TO_5 = GENERIC._replace(least_c=5.0)
"""A sheet that lets cold hours count, so that the equivalents below 10 degrees can be seen."""

CELSIUS = (5, 8, 10, 12, 15, 20, 25, 30)


def with_activation(kj: float) -> CoatingSheet:
    return TO_5._replace(activation_kj=kj)


@pytest.mark.parametrize(
    ("activation_kj", "row"),
    [
        # Hours worth 24 at 20 degrees C, worked out apart: 24 / exp(Ea/R (1/293.15 - 1/T)), R = 8.314462.
        (50, (72.6, 57.6, 49.5, 42.7, 34.3, 24, 17.0, 12.2)),
        (55, (81.0, 62.9, 53.2, 45.2, 35.5, 24, 16.4, 11.4)),
        (60, (90.5, 68.6, 57.3, 47.9, 36.8, 24, 15.9, 10.7)),
    ],
)
def test_hours_that_are_worth_a_day_at_20(activation_kj: float, row: tuple[float, ...]) -> None:
    sheet = with_activation(activation_kj)
    found = [hours_needed(24, celsius, sheet) for celsius in CELSIUS]
    assert found == pytest.approx(row, abs=0.051)
    assert [hours_at_20(h, c, sheet) for h, c in zip(found, CELSIUS, strict=True)] == pytest.approx([24] * 8)


def test_hours_that_are_worth_a_day_at_20_by_the_doubling_rule() -> None:
    # The handbook's rule of thumb, from memory: 24 x 2^((20 - T) / 10).
    row = (67.9, 55.1, 48.0, 41.8, 33.9, 24, 17.0, 12.0)
    found = [24 / doubling_hours_at_20(1, celsius, TO_5) for celsius in CELSIUS]
    assert found == pytest.approx(row, abs=0.051)


def test_the_doubling_rule_stands_for_47_8_kj_between_10_and_20_degrees() -> None:
    assert rate(10, with_activation(47.8)) == pytest.approx(doubling_hours_at_20(1, 10), rel=2e-3)


def test_a_night_is_worth_less_than_the_mean_of_day_and_night_says() -> None:
    # Worked out apart: 12 h at 18 and 12 h at 8 degrees are 14.86 h at 20; their mean of 13 says 13.82.
    assert night_and_day_at_20(24, 18, 8, TO_5) == pytest.approx(14.86, abs=0.005)
    assert hours_at_20(24, 13, TO_5) == pytest.approx(13.82, abs=0.005)


@pytest.mark.parametrize(("mean_c", "swing_c", "share"), [(15, 3, 0.02), (18, 4, 0.02), (14, 2, 0.02)])
def test_two_levels_stand_for_a_sinusoidal_day(mean_c: float, swing_c: float, share: float) -> None:
    # scipy's adaptive quadrature of the Arrhenius rate over a sine; the levels are the means of its halves,
    # mean +- 2/pi x swing. Tolerance 2 %: the levels miss the curve within each half.
    def rate_at(hour: float) -> float:
        kelvin = mean_c + swing_c * sin(2 * pi * hour / 24) + 273.15
        return exp(55_000 / 8.314462 * (1 / 293.15 - 1 / kelvin))

    integral, error = quad(rate_at, 0, 24)
    assert error < 1e-6
    level = 2 / pi * swing_c
    assert night_and_day_at_20(24, mean_c + level, mean_c - level) == pytest.approx(integral, rel=share)
    assert night_and_day_at_20(24, mean_c + level, mean_c - level) < integral


def test_nothing_counts_below_the_least_temperature_of_the_product() -> None:
    assert hours_at_20(100, 9.9) == 0
    assert doubling_hours_at_20(100, 9.9) == 0
    assert isinf(hours_needed(24, 9.9))
    assert hours_needed(0, 9.9) == 0
    assert hours_at_20(100, 9.9, TO_5) > 0
    assert hours_at_20(100, 14, GENERIC._replace(least_c=15)) == 0


def test_outdoors_nothing_counts_below_ten_degrees_whatever_the_sheet_says() -> None:
    assert hours_at_20(100, 9.9, TO_5, outdoors=True) == 0
    assert hours_at_20(100, 10, TO_5, outdoors=True) == hours_at_20(100, 10, TO_5)
    assert night_and_day_at_20(24, 12, 8, TO_5, outdoors=True) == hours_at_20(12, 12, TO_5)


class TestWindows:
    def test_at_a_steady_20_degrees_the_window_is_that_of_the_sheet(self) -> None:
        window = overcoat_window(9, 20, 20)
        assert window == pytest.approx((6, 36))
        assert window.says == "The next coat may go on from 6.0 to 36.0 h after this one."

    def test_both_ends_move_together_with_the_temperature(self) -> None:
        # 53.2 h at 10 degrees are worth 24 h at 20.
        cold = overcoat_window(9, 10, 10)
        assert cold.opens_h == pytest.approx(6 * 53.2 / 24, abs=0.02)
        assert cold.closes_h / cold.opens_h == pytest.approx(36 / 6)

    def test_day_and_night_are_counted_apart(self) -> None:
        # By hand, put on at 18:00 at 20 by day and 10 (24/53.2 = 0.451) by night: 2 h by day, then
        # (6 - 2) / 0.451 = 8.87 h of night. Its end: 2 + 12 x 0.451 = 7.41 by 08:00; + 12 + 5.41 = 24.83 by
        # the next; 11.17 h more by day.
        window = overcoat_window(18, 20, 10)
        assert window.opens_h == pytest.approx(2 + 8.87, abs=0.01)
        assert window.closes_h == pytest.approx(2 + 12 + 24 + 11.17, abs=0.03)

    def test_before_the_morning_it_is_still_night(self) -> None:
        # At 6:00: 2 h of night at 10 degrees are worth 0.90; 5.10 h by day at 20.
        assert overcoat_window(6, 20, 10).opens_h == pytest.approx(2 + 5.10, abs=0.01)

    @settings(max_examples=60)
    @given(st.floats(0, 24), st.floats(10, 30), st.floats(10, 30))
    def test_a_window_closes_when_what_has_been_counted_says_so(
        self, started: float, day_c: float, night_c: float
    ) -> None:
        # The rate integrated hour by hour in small steps comes to the sheet's hours, within a step.
        for least, hours in zip((6, 36), overcoat_window(started, day_c, night_c), strict=True):
            steps, total = 2000, 0.0
            for step in range(steps):
                clock = (started + hours * (step + 0.5) / steps) % 24
                total += hours / steps * rate(day_c if 8 <= clock < 20 else night_c)
            assert total == pytest.approx(least, abs=4 * hours / steps * max(rate(day_c), rate(night_c)))

    def test_a_coat_too_cold_to_cure_never_opens_but_its_window_closes_all_the_same(self) -> None:
        # Cautious: nothing says that a cold film stays open to the next coat.
        window = overcoat_window(9, 8, 8)
        assert window.opens_h == inf
        assert window.closes_h == pytest.approx(36 * 62.9 / 24, rel=1e-3)
        assert window.says.startswith("Too cold")

    def test_a_tie_coat_goes_on_while_the_last_epoxy_is_thumb_tacky(self) -> None:
        assert tacky_window(9, 20, 20) == pytest.approx((2, 8))
        # 24 h at 20 are 35.5 at 15: the window moves out to 2.96 and 11.8 h.
        assert tacky_window(8, 15, 15) == pytest.approx((2 * 35.5 / 24, 8 * 35.5 / 24), abs=0.02)

    def test_a_sheet_without_a_least_time_opens_at_once(self) -> None:
        assert overcoat_window(9, 20, 20, GENERIC._replace(recoat_min_h_20=0)).opens_h == 0


@settings(max_examples=100)
@given(st.floats(0, 500), st.floats(-20, 40), st.floats(0, 20), st.floats(30, 90))
def test_a_warmer_product_never_needs_more_hours(hours: float, cold: float, more: float, kj: float) -> None:
    sheet = GENERIC._replace(activation_kj=kj)
    assert hours_needed(hours, cold + more, sheet) <= hours_needed(hours, cold, sheet)


@settings(max_examples=100)
@given(st.floats(10, 35), st.floats(10, 35), st.floats(0, 300), st.floats(0, 300))
def test_hours_of_cure_add_up_and_averaging_never_counts_more(
    day_c: float, night_c: float, one: float, two: float
) -> None:
    both = night_and_day_at_20(one + two, day_c, night_c)
    apart = night_and_day_at_20(one, day_c, night_c) + night_and_day_at_20(two, day_c, night_c)
    assert both == pytest.approx(apart)
    assert hours_at_20(one, (day_c + night_c) / 2) <= night_and_day_at_20(one, day_c, night_c) + 1e-9


class TestSheets:
    def test_the_generic_sheet_lies_within_its_own_ranges(self) -> None:
        for name, found in SHEET_RANGES.items():
            assert found.low <= getattr(checked(GENERIC), name) == found.likely <= found.high
        assert doubts_about_sheet(GENERIC) == []

    @pytest.mark.parametrize(
        ("changes", "says"),
        [
            ({"activation_kj": 0}, "activation_kj is 0"),
            ({"film_um": nan}, "film_um is nan"),
            ({"recoat_min_h_20": 40}, "recoat_min_h_20 must lie between 0 and recoat_max_h_20"),
            ({"tacky_min_h_20": -1}, "tacky_min_h_20"),
            ({"solids_pct": 101}, "solids_pct must lie"),
        ],
    )
    def test_what_cannot_be_is_refused_by_name(self, changes: dict[str, float], says: str) -> None:
        with pytest.raises(ValueError, match=says):
            checked(GENERIC._replace(**changes))  # type: ignore[arg-type]

    @pytest.mark.parametrize(
        ("changes", "field", "says"),
        [
            ({"least_c": 50}, "least_c", "reads like Fahrenheit: 10.0"),
            ({"solids_pct": 0.65}, "solids_pct", "reads like a share: 65 per cent"),
            ({"film_um": 5}, "film_um", "100 to 150 um"),
            ({"cure_h_20": 6}, "cure_h_20", "reads like days"),
        ],
    )
    def test_what_reads_like_a_slip_of_units_is_asked_about(
        self, changes: dict[str, float], field: str, says: str
    ) -> None:
        (doubt,) = doubts_about_sheet(GENERIC._replace(**changes))  # type: ignore[arg-type]
        assert doubt.field == field
        assert says in doubt.says


def test_what_cannot_be_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match="is no temperature"):
        counted_rate(nan)
    with pytest.raises(ValueError, match="is no temperature"):
        rate(-300)
    with pytest.raises(ValueError, match="-1 hours of cure"):
        hours_at_20(-1, 20)
    with pytest.raises(ValueError, match="hours of cure"):
        hours_needed(-1, 20)
    with pytest.raises(ValueError, match="no hour of the clock"):
        overcoat_window(25, 20, 20)
