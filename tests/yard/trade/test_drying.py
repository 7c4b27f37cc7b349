"""Drying by temperature, against Arrhenius ratios worked out apart."""

import pytest

from yard.trade.drying import DRYING_ACTIVATION_KJ, days_to_dry, drying_rate, rate_ratio


@pytest.mark.parametrize(
    ("celsius", "ratio"),
    [(5, 0.413), (10, 0.560), (20, 1.0), (25, 1.317), (30, 1.718)],
)
def test_the_rate_at_a_temperature_is_by_arrhenius(celsius: float, ratio: float) -> None:
    # exp(Ea/R (1/T20 - 1/T)) with Ea = 40 kJ/mol and R = 8.314462 J/(mol K), worked out by hand.
    assert rate_ratio(celsius, 20, DRYING_ACTIVATION_KJ) == pytest.approx(ratio, abs=1e-3)


def test_equivalent_days_add_up() -> None:
    # 30 d at 10 degrees and 30 d at 25 are worth 30 x 0.560 + 30 x 1.317 = 56.31 d at 20 degrees.
    worth = 30 * rate_ratio(10, 20, 40) + 30 * rate_ratio(25, 20, 40)
    assert worth == pytest.approx(56.31, abs=0.01)


def test_a_cold_shed_is_worth_about_a_quarter_of_a_tent_and_the_open_air_less() -> None:
    assert 0.2 < drying_rate(5) < 0.3
    assert drying_rate(5, open_air=True) < drying_rate(5)
    assert drying_rate(-2) == 0


def test_a_dose_is_done_on_the_day_that_brings_it_to_nothing() -> None:
    rates = [0.5, 0.5, 1.0, 1.0]
    assert days_to_dry(1.0, rates, 0) == 1  # 0.5 + 0.5
    assert days_to_dry(2.0, rates, 1) == 3  # 0.5 + 1 < 2 <= 0.5 + 1 + 1
    assert days_to_dry(2.0, rates, 3) is None  # one day is left
