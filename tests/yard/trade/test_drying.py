"""Drying by regime and temperature, against Arrhenius ratios worked out apart and the norms themselves."""

from math import log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.climate import MONTH_C, ROOF_WARMER_C
from yard.trade.drying import (
    BLANKETS,
    COLD,
    DRYING_ACTIVATION_KJ,
    REGIMES,
    TENT,
    TENT_C,
    WEATHER,
    RegimeNorm,
    days_to_dry,
    decay_a_day,
    rate_ratio,
)
from yard.trade.ranges import Range

JANUARY, APRIL = MONTH_C[0] + ROOF_WARMER_C, MONTH_C[3] + ROOF_WARMER_C


def worth(celsius: float, *, regime: str = COLD) -> float:
    """What a day is worth in days in a heated tent."""
    return decay_a_day(regime, celsius) / decay_a_day(TENT, TENT_C)


@pytest.mark.parametrize(
    ("activation_kj", "celsius", "ratio"),
    # exp(Ea/R (1/T20 - 1/T)) with R = 8.314462 J/(mol K), worked out apart.
    [
        (35, 5, 0.461),
        (35, 10, 0.602),
        (35, 15, 0.779),
        (35, 25, 1.272),
        (35, 30, 1.606),
        (35, 40, 2.502),
        (40, 5, 0.413),
        (40, 10, 0.560),
        (40, 20, 1.0),
        (40, 25, 1.317),
        (40, 30, 1.718),
        (45, 5, 0.369),
        (45, 10, 0.521),
        (45, 30, 1.839),
        (45, 40, 3.252),
    ],
)
def test_the_rate_at_a_temperature_is_by_arrhenius(
    activation_kj: float, celsius: float, ratio: float
) -> None:
    assert rate_ratio(celsius, 20, activation_kj) == pytest.approx(ratio, abs=1e-3)


def test_equivalent_days_add_up() -> None:
    # 30 d at 10 degrees and 30 d at 25 are worth 30 x 0.560 + 30 x 1.317 = 56.31 d at 20 degrees.
    worth = 30 * rate_ratio(10, 20, 40) + 30 * rate_ratio(25, 20, 40)
    assert worth == pytest.approx(56.31, abs=0.01)


def test_five_times_as_fast_at_70_degrees_as_at_20_is_an_activation_energy_within_the_range() -> None:
    # Saturation after about 50 d at 70 degrees and 250 d at 20: abstract, doi 10.2478/v10077-012-0013-4.
    assert rate_ratio(70, 20, 26.9) == pytest.approx(5, abs=0.02)
    assert 25 < 26.9 < DRYING_ACTIVATION_KJ < 50


@pytest.mark.parametrize(
    ("regime", "low", "high"),
    # Half-lives [d] of each regime: common practice, no source.
    [(WEATHER, 60, 90), (COLD, 40, 60), (TENT, 16, 27), (BLANKETS, 2, 4)],
)
def test_at_the_norms_own_temperature_a_half_is_left_after_its_half_life(
    regime: str, low: float, high: float
) -> None:
    norm = REGIMES[regime]
    assert (norm.half_life.low, norm.half_life.high) == (low, high)
    assert low < norm.half_life.likely < high
    assert decay_a_day(regime, norm.at_c) * norm.half_life.likely == pytest.approx(log(2))


def test_from_62_to_20_over_a_floor_of_12_takes_seventeen_weeks_at_a_half_life_of_45_days() -> None:
    # 2.6 half-lives: common practice's own arithmetic.
    norms = {COLD: RegimeNorm(Range(40, 45, 60), 10, "the yard's own")}
    assert log(50 / 8) / log(2) == pytest.approx(2.64, abs=0.01)
    assert log(50 / 8) / decay_a_day(COLD, 10, norms) / 7 == pytest.approx(17, abs=0.1)


def test_a_cold_shed_is_worth_less_in_january_than_in_april() -> None:
    assert worth(JANUARY, regime=COLD) < 0.85 * worth(APRIL, regime=COLD)


def test_a_day_in_a_tent_at_its_own_temperature_is_what_the_others_are_counted_in() -> None:
    assert worth(TENT_C, regime=TENT) == 1.0


@settings(max_examples=40, deadline=None)
@given(st.floats(0.1, 22))
def test_at_one_temperature_the_weather_dries_less_than_a_cold_shed(celsius: float) -> None:
    assert 0 < worth(celsius, regime=WEATHER) < worth(celsius, regime=COLD)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(sorted(REGIMES)), st.floats(-20, 60), st.floats(0, 20))
def test_warmer_never_dries_slower(regime: str, celsius: float, warmer: float) -> None:
    assert decay_a_day(regime, celsius) <= decay_a_day(regime, celsius + warmer)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from((WEATHER, COLD)), st.floats(-20, 60))
def test_no_day_outside_the_tent_is_worth_more_than_one_in_it(regime: str, celsius: float) -> None:
    assert worth(celsius, regime=regime) <= 1.0


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(sorted(REGIMES)), st.floats(-40, 0))
def test_frost_dries_nothing(regime: str, celsius: float) -> None:
    assert decay_a_day(regime, celsius) == 0
    assert worth(celsius, regime=regime) == 0


def test_a_day_under_blankets_is_worth_several_in_a_tent() -> None:
    assert worth(60, regime=BLANKETS) == pytest.approx(7)  # half-lives of 21 and 3 days


def test_the_yards_own_norms_rule() -> None:
    slower = {**REGIMES, COLD: REGIMES[COLD]._replace(half_life=Range(80, 100, 120))}
    assert decay_a_day(COLD, 8, slower) == pytest.approx(decay_a_day(COLD, 8) / 2)


def test_a_regime_or_half_life_that_cannot_be_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="'sauna': give one of blankets, cold, tent, weather"):
        decay_a_day("sauna", 20)
    with pytest.raises(ValueError, match="above zero"):
        decay_a_day(TENT, 20, {TENT: RegimeNorm(Range(0, 0, 0), 20, "a slip")})


def test_in_winter_a_day_in_a_cold_shed_is_worth_a_third_of_one_in_a_tent_and_the_weather_a_quarter() -> None:
    # Half-lives of 50 d at 10 degrees, 75 at 8, 21 in the tent, each scaled to 5 degrees with 40 kJ/mol.
    assert worth(5) == pytest.approx(21 / 50 * rate_ratio(5, 10, 40))
    assert worth(5) == pytest.approx(1 / 3, abs=0.03)
    assert worth(5, regime=WEATHER) == pytest.approx(1 / 4, abs=0.03)


def test_a_dose_is_done_on_the_day_that_brings_it_to_nothing() -> None:
    rates = [0.5, 0.5, 1.0, 1.0]
    assert days_to_dry(1.0, rates, 0) == 1  # 0.5 + 0.5
    assert days_to_dry(2.0, rates, 1) == 3  # 0.5 + 1 < 2 <= 0.5 + 1 + 1
    assert days_to_dry(2.0, rates, 3) is None  # one day is left
