"""What is believed of a boat before her rounds: the norm, the yard's finished boats, and diffusion."""

from math import exp, log, sqrt
from statistics import mean, stdev

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm as normal

from yard.trade.belief import BOAT_SPREAD, LEAST_SPREAD, TENTH, prior
from yard.trade.diffusion import half_life_d
from yard.trade.drying import BLANKETS, COLD, REGIMES, TENT, WEATHER, decay_a_day
from yard.trade.forecast import Point, finished_factor, fit
from yard.trade.ranges import Range

HALF_LIVES = (28, 35, 41, 45, 52, 60, 74)
"""[d] of seven boats in one yard: their decays have a mean of 0.01587 and a deviation of 0.00521 a day."""


def test_one_in_ten_lies_below_a_ranges_low() -> None:
    assert normal.ppf(0.9) == pytest.approx(TENTH, abs=1e-12)


def test_the_spread_from_boat_to_boat_is_that_of_seven_half_lives() -> None:
    decays = [log(2) / days for days in HALF_LIVES]
    assert mean(decays) == pytest.approx(0.01587, abs=1e-5)
    assert stdev(decays) == pytest.approx(0.00521, abs=1e-5)
    assert stdev(decays) / mean(decays) == pytest.approx(BOAT_SPREAD, abs=0.005)


@pytest.mark.parametrize("regime", [WEATHER, COLD, TENT, BLANKETS])
def test_without_history_the_norm_is_believed_with_the_boats_spread_and_its_own(regime: str) -> None:
    low, _, high = REGIMES[regime].half_life
    own = log(high / low) / 2 / normal.ppf(0.9)
    belief = prior(REGIMES[regime])
    assert belief.factor == 1
    assert belief.spread == pytest.approx(sqrt(BOAT_SPREAD**2 + own**2))
    assert belief.says.startswith("No finished boats yet: a half-life of")


def test_finished_boats_are_added_to_as_many_boats_as_the_norm_counts_for() -> None:
    # The tent's range of 16 to 27 d is a deviation of ln(27/16)/2.563 = 0.2042; (0.33/0.2042)² = 2.61 boats.
    belief = prior(REGIMES[TENT], [0.8, 0.7, 0.9])
    assert belief.factor == pytest.approx((2.61 * 1 + 2.4) / 5.61, abs=1e-3)
    between = (2.61 * 0.33**2 + 0.02) / 4.61
    assert belief.spread == pytest.approx(sqrt(between * (1 + 1 / 5.61)), abs=1e-3)
    assert "3 finished boats of this yard" in belief.says
    assert "counted as 2.6 boats" in belief.says


def test_many_finished_boats_leave_nothing_of_the_norm() -> None:
    history = [0.5, 0.7] * 200
    belief = prior(REGIMES[COLD], history)
    assert belief.factor == pytest.approx(0.6, abs=0.01)
    assert belief.spread == pytest.approx(stdev(history), abs=0.01)


def test_a_slow_yards_next_boat_is_believed_slow_from_its_finished_boats_own_rounds() -> None:
    # Simulated: factors about 0.6 with a spread of 0.1, weekly readings with noise 1.5, floors about 12.
    rng = np.random.default_rng(7)
    norm = REGIMES[TENT]
    weekly = 7 * decay_a_day(TENT, norm.at_c)
    history = []
    for _ in range(20):
        factor, floor = rng.normal(0.6, 0.1), rng.normal(12, 3)
        xs = [weekly * week for week in range(int(2.5 / factor / weekly) + 1)]
        rounds = [Point(x, floor + 50 * exp(-factor * x) + rng.normal(0, 1.5), 1.5) for x in xs]
        said = finished_factor(rounds, prior(norm))
        assert said is not None
        history.append(said)
    belief = prior(norm, history)
    assert belief.factor == pytest.approx(0.63, abs=0.06)  # the norm still counts for 2.6 of 22.6 boats
    assert belief.spread < 0.25 < prior(norm).spread


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.2, 3.0), min_size=1, max_size=12))
def test_the_belief_lies_between_the_norm_and_the_finished_boats(history: list[float]) -> None:
    belief = prior(REGIMES[TENT], history)
    low, high = sorted((1.0, mean(history)))
    assert low - 1e-9 <= belief.factor <= high + 1e-9
    assert belief.spread >= LEAST_SPREAD
    assert prior(REGIMES[TENT], history[::-1]).factor == pytest.approx(belief.factor)


def test_with_no_history_diffusion_draws_the_norm_a_little_in_logarithms() -> None:
    norm = REGIMES[TENT]
    sheet = half_life_d(4, norm.at_c)
    belief = prior(norm, wet_mm=4)
    believed = norm.half_life.likely / belief.factor
    own, unsure = log(27 / 16) / 2 / TENTH, log(9) / 2 / TENTH  # deviations of the two logarithms
    weight = own**-2 / (own**-2 + unsure**-2)
    assert log(believed) == pytest.approx(weight * log(21) + (1 - weight) * log(sheet.likely), abs=1e-9)
    assert norm.half_life.likely < believed < sheet.likely
    assert belief.spread < prior(norm).spread
    assert "diffusion gives 4 mm of wet laminate" in belief.says


def test_thicker_wet_laminate_is_believed_to_dry_slower_but_the_yards_own_boats_rule() -> None:
    assert prior(REGIMES[TENT], wet_mm=6).factor < prior(REGIMES[TENT], wet_mm=3).factor
    assert prior(REGIMES[TENT], [0.9], wet_mm=6) == prior(REGIMES[TENT], [0.9])


def test_her_own_dry_topsides_are_her_floor_and_the_meters_scale_is_kept_to() -> None:
    assert prior(REGIMES[TENT]).floor == 12
    assert prior(REGIMES[TENT], reference=9.5).floor == 9.5
    small = prior(REGIMES[TENT], scale=(0, 30))
    assert (small.start, small.floor, small.floor_sd) == pytest.approx((15, 3.6, 0.9))
    assert prior(REGIMES[TENT], start=38).start == 38
    shifted = prior(REGIMES[TENT], scale=(5, 105))
    assert (shifted.start, shifted.floor, shifted.floor_sd) == pytest.approx((50, 17, 3))


def test_a_fit_begun_again_low_after_a_wash_goes_by_her_first_round() -> None:
    washed = fit([Point(0.0, 20.0, 1.5)], prior(REGIMES[TENT], reference=12, held_up=0.0), 17.0)
    assert exp(washed.lines[2].a) == pytest.approx(20 - 12, abs=0.7)


def test_what_cannot_be_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="finished boat's factor"):
        prior(REGIMES[TENT], [0.9, 0.0])
    with pytest.raises(ValueError, match="off the meter's scale"):
        prior(REGIMES[TENT], reference=31, scale=(0, 30))
    with pytest.raises(ValueError, match="runs from low to high"):
        prior(REGIMES[TENT], scale=(10, 10))
    with pytest.raises(ValueError, match="above the floor"):
        prior(REGIMES[TENT], start=0)
    with pytest.raises(ValueError, match="low, likely and high rise"):
        prior(REGIMES[TENT]._replace(half_life=Range(27, 21, 16)))
