"""When she will be dry: a worked example to its digits, scipy, simulated boats, a forecast's laws."""

from math import exp, log

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm as normal

from yard.trade.belief import Belief
from yard.trade.forecast import Drying, Line, Point, finished_factor, fit

A_DAY, SPREAD_A_DAY = 0.0154, 0.006  # [1/day] a half-life of 45 d, and its spread from boat to boat
READINGS = (62, 55, 50, 44.5, 41, 36.5, 34)  # weekly, on a scale of 0 to 100, noise 1.5
FLOOR, TARGET, NOISE = 12.0, 20.0, 1.5

MIXED = Belief(1.0, SPREAD_A_DAY / A_DAY, 50.0, 0.5, FLOOR, 3.0, held_up=0.0)
KNOWN = MIXED._replace(floor_sd=1e-9)
HELD_UP = MIXED._replace(held_up=0.02)


def weekly(readings: tuple[float, ...], a_day: float = A_DAY) -> list[Point]:
    return [Point(7 * a_day * week, reading, NOISE) for week, reading in enumerate(readings)]


def example(count: int, belief: Belief = KNOWN) -> Drying:
    return fit(weekly(READINGS[:count]), belief, TARGET)


def days(drying: Drying, *ps: float) -> list[float | None]:
    return [None if (x := drying.quantile_x(p)) is None else x / A_DAY for p in ps]


# --- The worked example -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("count", "a_day", "sd", "tenth", "half", "nine_tenths"),
    # Worked out apart with scipy (conjugate normal fit, brentq), to the digits given.
    [
        (1, 0.01540, 0.00600, 79.3, 119.0, 237.7),
        (2, 0.01820, 0.00443, 77.0, 100.2, 144.3),
        (3, 0.01867, 0.00302, 81.8, 97.6, 121.7),
        (4, 0.01954, 0.00222, 82.5, 93.4, 108.0),
        (5, 0.01935, 0.00173, 85.6, 94.3, 105.2),
        (7, 0.01959, 0.00122, 87.2, 93.2, 100.2),
    ],
)
def test_each_reading_narrows_the_days(
    count: int, a_day: float, sd: float, tenth: float, half: float, nine_tenths: float
) -> None:
    drying = example(count)
    assert drying.factor * A_DAY == pytest.approx(a_day, abs=5.1e-6)
    assert drying.factor_sd * A_DAY == pytest.approx(sd, abs=5.1e-6)
    assert days(drying, 0.1, 0.5, 0.9) == pytest.approx([tenth, half, nine_tenths], abs=0.051)


def test_four_readings_give_the_line_and_the_odds_of_a_day() -> None:
    # ln(62 - 12) = 3.91202 with weight (50/1.5)² = 1111.11, and so on; a 3.904908, 0.0195405 a day.
    left = [reading - FLOOR for reading in READINGS[:4]]
    assert [log(one) for one in left] == pytest.approx([3.91202, 3.76120, 3.63759, 3.48124], abs=5.1e-6)
    assert [(one / NOISE) ** 2 for one in left] == pytest.approx(
        [1111.11, 821.78, 641.78, 469.44], abs=0.0051
    )
    drying = example(4)
    line = drying.lines[2]
    assert line.a == pytest.approx(3.904908, abs=5.1e-7)
    assert line.factor * A_DAY == pytest.approx(0.0195405, abs=5.1e-8)
    assert drying.probability(90 * A_DAY) == pytest.approx(0.3575, abs=5.1e-5)
    assert drying.probability(100 * A_DAY) == pytest.approx(0.7346, abs=5.1e-5)


def test_not_knowing_the_floor_widens_the_days() -> None:
    # The floor mixed over 8, 10, 12, 14, 16, by how likely and how well each fits all seven readings.
    drying = example(7, MIXED)
    assert [line.floor for line in drying.lines] == pytest.approx([8, 10, 12, 14, 16])
    assert sum(line.weight for line in drying.lines) == pytest.approx(1)
    assert days(drying, 0.1, 0.5, 0.9) == pytest.approx([84.4, 93.8, 108.2], abs=0.051)


def test_with_nothing_believed_the_line_is_that_of_least_squares() -> None:
    # Plain least squares through the logarithms of all seven: 0.019685 a day, day 92.79.
    t = 7.0 * np.arange(7)
    slope, start = np.polyfit(t, np.log(np.array(READINGS) - FLOOR), 1)
    assert -slope == pytest.approx(0.019685, abs=5.1e-7)
    assert (start - log(TARGET - FLOOR)) / -slope == pytest.approx(92.79, abs=0.0051)
    # With noise in step with what is left, every point weighs the same and the two are one.
    even = [Point(A_DAY * day, y, (y - FLOOR) / 100) for day, y in zip(t, READINGS, strict=True)]
    drying = fit(even, KNOWN._replace(spread=1e4, start_sd=1e4), TARGET)
    assert drying.factor * A_DAY == pytest.approx(0.019685, abs=5.1e-7)
    assert days(drying, 0.5) == pytest.approx([92.79], abs=0.0051)


@pytest.mark.parametrize("belief", [KNOWN, MIXED, HELD_UP])
@pytest.mark.parametrize("count", [1, 4, 7])
def test_the_fit_and_its_quantiles_are_those_of_scipy(count: int, belief: Belief) -> None:
    # numpy.linalg for the conjugate fit, scipy.stats.norm and scipy.optimize.brentq for the days.
    drying = example(count, belief)
    x = 7 * A_DAY * np.arange(count)
    y = np.array(READINGS[:count])
    fits = []
    for line in drying.lines:
        far = y - line.floor >= 3 * NOISE
        a = np.column_stack([np.ones(count), -x])[far]
        w = np.diag(((y - line.floor)[far] / NOISE) ** 2)
        before = np.diag([belief.start_sd**-2, belief.spread**-2])
        cov = np.linalg.inv(before + a.T @ w @ a)
        mean = cov @ (before @ [log(belief.start), belief.factor] + a.T @ w @ np.log((y - line.floor)[far]))
        assert [line.a, line.factor] == pytest.approx(list(mean))
        assert [line.var_a, line.cov, line.var_factor] == pytest.approx([cov[0, 0], cov[0, 1], cov[1, 1]])
        fits.append((line.weight, line.floor, mean, cov))

    def odds(at: float) -> float:
        total = 0.0
        for weight, floor, mean, cov in fits:
            if floor < TARGET:
                row = np.array([1, -at])
                total += weight * normal.cdf((log(TARGET - floor) - row @ mean) / np.sqrt(row @ cov @ row))
        return float(total)

    for p in (0.1, 0.5, 0.9):
        assert drying.quantile_x(p) == pytest.approx(brentq(lambda at, p=p: odds(at) - p, 0, 30), abs=1e-7)


# --- The floor --------------------------------------------------------------------------------------------
def test_a_reading_within_three_noises_of_the_floor_counts_nothing_in_the_line() -> None:
    without = fit(weekly(READINGS), KNOWN, TARGET).lines[2]
    near = fit([*weekly(READINGS), Point(2.0, FLOOR + 2.9 * NOISE, NOISE)], KNOWN, TARGET).lines[2]
    assert near[2:] == without[2:]
    far = fit([*weekly(READINGS), Point(2.0, FLOOR + 3.1 * NOISE, NOISE)], KNOWN, TARGET).lines[2]
    assert far[2:] != without[2:]


def test_a_reading_under_a_floor_speaks_against_it() -> None:
    low = fit([Point(4.0, 9.0, NOISE)], MIXED, TARGET)
    weights = [line.weight for line in low.lines]
    assert weights[0] + weights[1] > 0.9  # the floors 8 and 10, of 8 to 16
    assert low.floor_high < 12


def test_her_own_dry_topsides_move_the_day() -> None:
    dry, damp = (fit(weekly(READINGS), MIXED._replace(floor=floor), TARGET) for floor in (10.0, 14.0))
    assert days(dry, 0.5)[0] < days(damp, 0.5)[0]  # type: ignore[operator]


def test_a_boat_that_stops_falling_well_above_her_target_is_not_promised_a_day() -> None:
    stopped = (62, 50, 42, 38, 36, 35.5, 35.4, 35.3)
    drying = fit(weekly(stopped, a_day=0.033), HELD_UP, 17.0)
    assert drying.floor_high > 30
    assert days(drying, 0.1, 0.5, 0.9) == [None, None, None]
    falling = fit(weekly(READINGS), HELD_UP, 17.0)
    assert falling.floor_high < 17


def test_a_target_at_or_under_every_floor_is_never_reached() -> None:
    lowest = 8.0  # of the floors 8 to 16
    assert fit(weekly(READINGS), MIXED, lowest).probability(30.0) == 0
    assert days(fit(weekly(READINGS), MIXED, lowest - 1), 0.1, 0.9) == [None, None]


def test_before_any_round_what_is_believed_speaks_alone() -> None:
    drying = fit([], KNOWN, TARGET)
    assert (drying.factor, drying.factor_sd) == pytest.approx((1.0, SPREAD_A_DAY / A_DAY))
    assert days(drying, 0.5) == pytest.approx([log(50 / 8) / A_DAY])


def test_the_floors_high_point_lies_where_nine_in_ten_of_its_weight_is_below() -> None:
    # Floors 8 to 16 two apart, each a stretch of two, weights 0.120, 0.234, 0.292, 0.234, 0.120: of the last,
    # from 15 on, 0.020 of 0.120 is needed.
    assert fit([], MIXED, TARGET).floor_high == pytest.approx(15 + 2 * 0.0199 / 0.1201, abs=0.01)
    assert fit([], KNOWN, TARGET).floor_high == pytest.approx(FLOOR, abs=1e-6)


# --- The band ---------------------------------------------------------------------------------------------
def test_on_one_floor_the_band_is_that_of_a_lognormal() -> None:
    drying = example(4)
    line = drying.lines[2]
    for x, (low, high) in zip((0.5, 1.5), drying.band((0.5, 1.5)), strict=True):
        mean, sd = line.left(x)
        assert low == pytest.approx(FLOOR + exp(mean + normal.ppf(0.1) * sd), abs=1e-5)
        assert high == pytest.approx(FLOOR + exp(mean + normal.ppf(0.9) * sd), abs=1e-5)


def test_the_band_crosses_the_target_where_the_odds_say() -> None:
    drying = example(5, HELD_UP)
    early, late = drying.quantile_x(0.1), drying.quantile_x(0.9)
    assert early is not None and late is not None
    assert drying.band([early])[0][0] == pytest.approx(TARGET, abs=1e-4)
    assert drying.band([late])[0][1] == pytest.approx(TARGET, abs=1e-4)


# --- Finished boats ---------------------------------------------------------------------------------------
@pytest.mark.parametrize("factor", [0.5, 1.0, 1.6])
def test_a_finished_boats_rounds_say_her_factor_whatever_was_believed(factor: float) -> None:
    readings = tuple(FLOOR + 50 * exp(-factor * 7 * A_DAY * week) for week in range(16))
    assert finished_factor(weekly(readings), HELD_UP) == pytest.approx(factor, rel=0.06)
    believed_fast = HELD_UP._replace(factor=3.0, spread=0.1)
    assert finished_factor(weekly(readings), believed_fast) == pytest.approx(factor, rel=0.06)


def test_a_finished_boat_with_too_little_to_go_by_says_nothing() -> None:
    assert finished_factor(weekly(READINGS[:2]), MIXED) is None  # two points
    assert finished_factor(weekly((16, 15, 15, 14)), MIXED) is None  # all near the floor
    assert finished_factor([Point(0.001 * i, 60 - i / 9, NOISE) for i in range(4)], MIXED) is None  # a moment
    assert finished_factor(weekly((40, 45, 52, 60)), MIXED) is None  # she grew wetter


# --- Bad input --------------------------------------------------------------------------------------------
def test_what_cannot_be_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="noise above zero"):
        fit([Point(0.1, 40, 0)], MIXED, TARGET)
    with pytest.raises(ValueError, match="x of 0 or more"):
        fit([Point(-0.1, 40, 1)], MIXED, TARGET)
    with pytest.raises(ValueError, match="standard deviations above zero"):
        fit([], MIXED._replace(spread=0.0), TARGET)
    with pytest.raises(ValueError, match="needs a target"):
        fit([], MIXED, float("nan"))
    with pytest.raises(ValueError, match="between 0 and 1"):
        example(4).quantile_x(1.0)
    with pytest.raises(ValueError, match="between 0 and 1"):
        example(4).band([1.0], 0.0, 0.9)
    with pytest.raises(ValueError, match="being held up"):
        fit([], MIXED._replace(held_up=1.0), TARGET)


def test_a_line_is_a_plain_value() -> None:
    assert Line(12, 1.0, log(50), 1.0, 0.01, 0.0, 0.01).below(0.0, 62) == pytest.approx(0.5)
