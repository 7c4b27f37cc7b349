"""Cure and overcoat windows, against Arrhenius equivalents worked out apart."""

import pytest

from yard.trade.curing import hours_at_20, night_and_day_at_20, window_is_broken


@pytest.mark.parametrize(("celsius", "hours"), [(10, 53.2), (12, 45.2), (15, 35.5), (25, 16.4), (30, 11.4)])
def test_hours_that_are_worth_a_day_at_20(celsius: float, hours: float) -> None:
    # Ea = 55 kJ/mol: 24 h at 20 degrees take 24 / exp(55000/R (1/293.15 - 1/T)) hours.
    assert hours_at_20(hours, celsius) == pytest.approx(24, abs=0.1)


def test_nothing_counts_below_ten_degrees() -> None:
    assert hours_at_20(100, 9.9) == 0


def test_a_night_is_worth_less_than_the_mean_of_day_and_night_says() -> None:
    # Half of 24 h at 18 and half at 11 degrees; the rate is convex, so the mean of 14.5 counts too little.
    assert night_and_day_at_20(24, 18, 11) > hours_at_20(24, 14.5)


def test_a_weekend_in_warm_air_breaks_the_overcoat_window_and_a_night_does_not() -> None:
    assert not window_is_broken(24, 16, 12)
    assert window_is_broken(72, 16, 12)
