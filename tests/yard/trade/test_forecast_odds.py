"""A forecast keeps its word with simulated boats, and its laws hold."""

from functools import cache
from math import exp, inf, log
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.yard.trade.test_forecast import A_DAY, FLOOR, HELD_UP, KNOWN, MIXED, NOISE, TARGET
from yard.trade.belief import Belief
from yard.trade.drying import TENT, WEATHER, decay_a_day
from yard.trade.forecast import Point, fit

# --- Calibration ------------------------------------------------------------------------------------------
RUNS = {"small": 500, "full": 2000, "soak": 2000}


def cut_normal(rng: np.random.Generator, mean: float, sd: float, least: float) -> float:
    while (value := rng.normal(mean, sd)) < least:
        pass
    return float(value)


@cache
def shares_by_then(count: int, change: int | None, runs: int) -> list[float]:
    """Shares of simulated boats dry at or before the 10, 50 and 90 % points, from `count` weekly readings.

    Without a change of regime the floor is known; with one, after so many days in the weather she is
    tented, and her floor is drawn.
    """
    rng = np.random.default_rng(20)
    least = 0.002 / A_DAY
    belief = KNOWN if change is None else HELD_UP
    cold, warm = decay_a_day(WEATHER, 7), decay_a_day(TENT, 28)
    on = [7 * week for week in range(count)]
    xs = [A_DAY * d if change is None else cold * min(d, change) + warm * max(0, d - change) for d in on]
    by = [0, 0, 0]
    for _ in range(runs):
        factor = cut_normal(rng, belief.factor, belief.spread, least)
        start = rng.normal(log(belief.start), belief.start_sd)
        floor = FLOOR if change is None else rng.normal(FLOOR, 3.0)
        points = [Point(x, floor + exp(start - factor * x) + rng.normal(0, NOISE), NOISE) for x in xs]
        dry_at = max(0.0, (start - log(TARGET - floor)) / factor) if floor < TARGET else inf
        drying = fit(points, belief, TARGET)
        for i, p in enumerate((0.1, 0.5, 0.9)):
            x = drying.quantile_x(p)
            by[i] += x is None or dry_at <= x
    return [count / runs for count in by]


@pytest.mark.parametrize("count", [3, 5, 8])
def test_of_simulated_boats_as_many_are_dry_by_a_day_as_its_odds_say(count: int, test_size: str) -> None:
    # True decays a day drawn from N(0.0154, 0.006) cut at 0.002, noise 1.5, the floor known.
    assert shares_by_then(count, None, RUNS[test_size]) == pytest.approx([0.1, 0.5, 0.9], abs=0.05)


@pytest.mark.parametrize("count", [3, 5, 8])
def test_so_they_are_across_a_move_into_heat_and_with_the_floor_unknown(count: int, test_size: str) -> None:
    # Three weeks in the weather, then the tent; the floor drawn from N(12, 3).
    assert shares_by_then(count, 21, RUNS[test_size]) == pytest.approx([0.1, 0.5, 0.9], abs=0.05)


# --- Laws -------------------------------------------------------------------------------------------------
boats = st.builds(
    lambda factor, start, noise, seed, count: [
        Point(0.1 * i, max(0.0, FLOOR + start * exp(-factor * 0.1 * i) + noise * wobble), noise)
        for i, wobble in enumerate(np.random.default_rng(seed).normal(0, 1, count))
    ],
    st.floats(0.0, 3.0),
    st.floats(1.0, 80.0),
    st.floats(0.3, 4.0),
    st.integers(0, 999),
    st.integers(0, 12),
)
beliefs = st.sampled_from((KNOWN, MIXED, HELD_UP))
odds = st.floats(0.02, 0.98)


def or_never(x: float | None) -> float:
    return inf if x is None else x


@settings(max_examples=80, deadline=None)
@given(boats, beliefs, odds, odds)
def test_better_odds_never_come_earlier(points: list[Point], belief: Belief, p: float, q: float) -> None:
    drying = fit(points, belief, TARGET)
    low, high = sorted((p, q))
    assert or_never(drying.quantile_x(low)) <= or_never(drying.quantile_x(high))


@settings(max_examples=80, deadline=None)
@given(boats, beliefs, odds, st.floats(10.0, 40.0), st.floats(0.0, 10.0))
def test_a_lower_target_is_never_met_earlier(
    points: list[Point], belief: Belief, p: float, target: float, lower: float
) -> None:
    higher = or_never(fit(points, belief, target).quantile_x(p))
    assert or_never(fit(points, belief, target - lower).quantile_x(p)) >= higher


@settings(max_examples=60, deadline=None)
@given(boats, beliefs, st.randoms(use_true_random=False))
def test_the_order_the_points_come_in_does_not_matter(
    points: list[Point], belief: Belief, chance: Random
) -> None:
    mixed_up = list(points)
    chance.shuffle(mixed_up)
    assert fit(mixed_up, belief, TARGET) == fit(points, belief, TARGET)


@settings(max_examples=60, deadline=None)
@given(boats, beliefs, odds)
def test_at_its_quantile_the_odds_are_those_asked_for(points: list[Point], belief: Belief, p: float) -> None:
    drying = fit(points, belief, TARGET)
    x = drying.quantile_x(p)
    if x is None:
        assert drying.probability(40.0) < p
    elif x > 0:
        assert drying.probability(x) == pytest.approx(p, abs=1e-6)
    else:
        assert drying.probability(0.0) >= p
