"""The months outdoors, power cuts and cold spells, against the sums worked out apart."""

from math import e, inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from yard.trade.air import humidity_after_heating_pct
from yard.trade.climate import (
    COLD_SPELL_COOLER_C,
    SHED_HOLD_H,
    SHED_LIFT_C,
    TENT_HOLD_H,
    TENT_LIFT_C,
    after_cut_c,
    cut,
    hours_above,
    hours_to_warm,
    in_cold_spell_c,
    mean_over_cut_c,
    outdoors,
)

FEW = settings(max_examples=150, deadline=None)
HOURS = st.floats(0.01, 100)
HOLDS = st.floats(0.5, 40)
COLD = st.floats(-10, 14)
WARM = st.floats(15, 35)


def test_every_month_outdoors_is_too_damp_or_too_cold_for_coats_in_winter_and_dries_once_heated() -> None:
    for month in (11, 12, 1, 2, 3):
        air = outdoors(month)
        assert air.mean_c < 10
        assert air.mean_c - air.dew_c < 3
        assert humidity_after_heating_pct(air.mean_c, air.rh_pct, 20) < 45


def test_july_is_warmer_than_january_and_each_dew_point_is_below_its_air() -> None:
    assert outdoors(7).mean_c > outdoors(1).mean_c + 8
    assert all(outdoors(month).dew_c < outdoors(month).mean_c for month in range(1, 13))


@pytest.mark.parametrize("month", [0, 13])
def test_there_is_no_other_month(month: int) -> None:
    with pytest.raises(ValueError, match=f"no month {month}"):
        outdoors(month)


@pytest.mark.parametrize(
    ("hours", "left"),
    # Newton's law of cooling: after one holding time 1/e of the lift is left, after ln 2 of them half.
    [(0, 1), (2, 1 / e), (2 * 0.693147, 0.5), (6, 1 / e**3)],
)
def test_heated_air_falls_as_newton_says(hours: float, left: float) -> None:
    assert after_cut_c(28, 6, hours, 2) == pytest.approx(6 + 22 * left, abs=1e-4)


def test_a_cut_of_eight_hours_costs_a_tent_more_than_a_shed() -> None:
    # By hand, the mean lift of the tent: 22 x 2/8 x (1 - e^-4) = 5.40; of the shed: 10 x 12/8 x (1 - e^-2/3)
    # = 7.30.
    tent = cut(28, 6, 8, TENT_HOLD_H.likely)
    shed = cut(16, 6, 8, SHED_HOLD_H.likely)
    assert tent.lost_c == pytest.approx(22 - 5.40, abs=0.01)
    assert shed.lost_c == pytest.approx(10 - 7.30, abs=0.01)
    assert tent.says == "8 h without heat: from 28.0 to 6.4 degrees C, on average 16.6 colder than before."


def test_a_cut_in_weather_as_warm_as_the_air_costs_nothing() -> None:
    assert cut(18, 20, 5, 2).lost_c < 0
    assert cut(18, 20, 5, 2).says == "5 h without heat cost nothing: it is 20.0 degrees C outside."


@FEW
@given(WARM, COLD, HOURS, HOLDS)
def test_the_mean_over_a_cut_is_the_integral_of_the_fall(
    inside: float, outside: float, hours: float, hold: float
) -> None:
    area, _ = quad(lambda h: after_cut_c(inside, outside, h, hold), 0, hours)
    assert mean_over_cut_c(inside, outside, hours, hold) == pytest.approx(area / hours, abs=1e-6)


@FEW
@given(WARM, COLD, HOURS, HOLDS)
def test_a_longer_cut_leaves_colder_air_but_never_colder_than_outside(
    inside: float, outside: float, hours: float, hold: float
) -> None:
    end = after_cut_c(inside, outside, hours, hold)
    assert outside <= after_cut_c(inside, outside, hours + 1, hold) <= end <= inside
    assert end <= mean_over_cut_c(inside, outside, hours, hold) + 1e-9


@FEW
@given(WARM, COLD, st.floats(0.01, 0.99), HOLDS)
def test_the_air_is_at_its_least_when_its_hours_are_over(
    inside: float, outside: float, share: float, hold: float
) -> None:
    least = outside + (inside - outside) * share
    hours = hours_above(inside, outside, least, hold)
    assert after_cut_c(inside, outside, hours, hold) == pytest.approx(least, abs=1e-6)


def test_hours_above_at_its_edges() -> None:
    assert hours_above(20, 12, 12, 2) == inf
    assert hours_above(11, 5, 12, 2) == 0
    assert hours_above(12, 5, 12, 2) == 0
    assert mean_over_cut_c(20, 5, 0, 2) == 20


@FEW
@given(WARM, COLD, st.floats(0.5, 24), HOLDS)
def test_heaters_need_longer_after_a_longer_cut(
    inside: float, outside: float, hours: float, hold: float
) -> None:
    lift = inside - outside + 3
    short = hours_to_warm(after_cut_c(inside, outside, hours, hold), inside, outside, lift, hold)
    long = hours_to_warm(after_cut_c(inside, outside, hours + 1, hold), inside, outside, lift, hold)
    assert 0 <= short <= long < inf


def test_warming_again_at_its_edges() -> None:
    # Half the way to what the heaters can do takes ln 2 holding times.
    assert hours_to_warm(10, 20, 10, 20, 2) == pytest.approx(2 * 0.693147, abs=1e-4)
    assert hours_to_warm(20, 18, 5, 20, 2) == 0
    assert hours_to_warm(10, 20, 5, 15, 2) == inf


@pytest.mark.parametrize(
    ("set_c", "outside_c", "lift_c", "has_c"),
    [(28, 6, 22, 28), (28, -1, 22, 21), (16, 2, 10, 12), (16, 20, 10, 20), (16, 16, 0, 16)],
)
def test_heated_air_in_a_cold_spell_has_what_its_heaters_can_lift(
    set_c: float, outside_c: float, lift_c: float, has_c: float
) -> None:
    assert in_cold_spell_c(set_c, outside_c, lift_c) == has_c


def test_a_january_cold_spell_takes_warmth_from_tent_and_shed() -> None:
    outside = outdoors(1).mean_c - COLD_SPELL_COOLER_C.likely
    assert in_cold_spell_c(28, outside, TENT_LIFT_C.likely) < 28
    assert in_cold_spell_c(16, outside, SHED_LIFT_C.likely) < 10


def test_times_and_lifts_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="cut of -1 h"):
        after_cut_c(20, 5, -1, 2)
    with pytest.raises(ValueError, match="cut of nan h"):
        mean_over_cut_c(20, 5, float("nan"), 2)
    with pytest.raises(ValueError, match="holding time of 0 h"):
        hours_above(20, 5, 12, 0)
    with pytest.raises(ValueError, match="lift the air by -2 degrees C"):
        in_cold_spell_c(20, 5, -2)
