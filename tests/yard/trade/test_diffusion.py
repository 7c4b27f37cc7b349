"""Water leaving a plane sheet, against published values, other solutions of the equation, and its laws."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import erfc

from yard.trade.diffusion import (
    BY_SHORT_TIMES,
    DIFFUSIVITY_C,
    DIFFUSIVITY_M2_S,
    days_to_lose,
    diffusivity_m2_s,
    dt_l2_at,
    half_life_d,
    long_series,
    short_series,
    slow_mode_a_day,
    uptake,
)


@pytest.mark.parametrize(
    ("dt_l2", "share"),
    # J. Crank, The Mathematics of Diffusion (1975), chapter 4: the series for long times, 400 terms of it.
    [
        (0.01, 0.1128),
        (0.04, 0.2257),
        (0.10, 0.3568),
        (0.20, 0.5041),
        (0.40, 0.6979),
        (0.60, 0.8156),
        (1.00, 0.9313),
        (2.00, 0.9942),
    ],
)
def test_the_share_that_has_left_is_that_of_cranks_series(dt_l2: float, share: float) -> None:
    assert uptake(dt_l2) == pytest.approx(share, abs=1e-4)
    assert uptake(dt_l2) == pytest.approx(long_series(dt_l2, 400), abs=1e-4)


@pytest.mark.parametrize(
    ("dt_l2", "first_short", "first_long"),
    # The one-term forms of ASTM D5229 (from memory): 2√(Dt/πl²) for short times, 1 - 8/π² exp(-π²Dt/4l²) for
    # long ones, worked out apart.
    [(0.01, 0.1128, 0.2092), (0.10, 0.3568, 0.3667), (0.40, 0.7136, 0.6979), (0.60, 0.8740, 0.8156)],
)
def test_one_term_of_each_series_is_the_common_rule(
    dt_l2: float, first_short: float, first_long: float
) -> None:
    assert short_series(dt_l2, 0) == pytest.approx(first_short, abs=1e-4)
    assert long_series(dt_l2, 1) == pytest.approx(first_long, abs=1e-4)


def test_a_sheet_open_on_both_faces_takes_half_its_thickness() -> None:
    # Published in the documentation of polykin, an independent library: half-thickness 0.2 mm, 100 s,
    # D = 1e-10 m²/s.
    assert uptake(1e-10 * 100 / 0.2e-3**2) == pytest.approx(0.562233541762138, abs=1e-12)


@pytest.mark.parametrize("dt_l2", [0.02, 0.1, 0.3, 1.0])
def test_the_diffusion_equation_solved_on_a_grid_gives_the_same(dt_l2: float) -> None:
    # scipy.integrate.solve_ivp on 400 cells of a sheet with one open and one shut face, all wet at first.
    cells = 400
    step = 1 / cells

    def change(_: float, wet: np.ndarray) -> np.ndarray:
        gradient = np.empty(cells + 1)
        gradient[0] = 2 * wet[0] / step  # the open face stands at zero, half a cell away
        gradient[1:-1] = np.diff(wet) / step
        gradient[-1] = 0.0
        return np.diff(gradient) / step

    band = np.eye(cells) + np.eye(cells, k=1) + np.eye(cells, k=-1)
    found = solve_ivp(
        change,
        (0, dt_l2),
        np.ones(cells),
        method="BDF",
        rtol=1e-6,
        atol=1e-8,
        jac_sparsity=band,
    )
    assert uptake(dt_l2) == pytest.approx(1 - found.y[:, -1].mean(), abs=1e-4)


@pytest.mark.parametrize("dt_l2", [0.03, 0.15, 0.5])
def test_the_series_for_short_times_is_that_of_the_error_function(dt_l2: float) -> None:
    # ierfc by scipy.special.erfc.
    n = np.arange(1, 20)
    x = n / np.sqrt(dt_l2)
    ierfc = np.exp(-(x**2)) / np.sqrt(np.pi) - x * erfc(x)
    by_scipy = 2 * np.sqrt(dt_l2) * (1 / np.sqrt(np.pi) + 2 * ((-1.0) ** n * ierfc).sum())
    assert short_series(dt_l2) == pytest.approx(by_scipy, abs=1e-12)


def test_both_series_agree_where_one_takes_over_from_the_other() -> None:
    assert short_series(BY_SHORT_TIMES) == pytest.approx(long_series(BY_SHORT_TIMES), abs=1e-12)


@pytest.mark.parametrize(
    ("share", "dt_l2"),
    # Worked out apart; 0.19673 is the classic 0.049 of Dt/h² for two open faces (Crank).
    [(0.50, 0.19673), (0.90, 0.84809), (0.95, 1.1290), (0.99, 1.7813)],
)
def test_the_time_by_which_a_share_has_left(share: float, dt_l2: float) -> None:
    assert dt_l2_at(share) == pytest.approx(dt_l2, abs=1e-4)
    assert dt_l2_at(share) == pytest.approx(brentq(lambda t: uptake(t) - share, 1e-9, 10), abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 0.9999))
def test_the_time_found_for_a_share_gives_that_share_back(share: float) -> None:
    assert uptake(dt_l2_at(share)) == pytest.approx(share, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 5.0), st.floats(1e-6, 1.0))
def test_more_has_left_later(dt_l2: float, later: float) -> None:
    assert 0 <= uptake(dt_l2) <= uptake(dt_l2 + later) <= 1


@pytest.mark.parametrize(
    ("days", "share"),
    # 4 mm wet, one open face, D = 1e-12 m²/s: Crank's series.
    [(7, 0.2194), (14, 0.3103), (28, 0.4387), (60, 0.6355), (90, 0.7557)],
)
def test_four_millimetres_of_wet_laminate_lose_a_half_in_about_five_weeks(days: float, share: float) -> None:
    assert uptake(1e-12 * days * 86_400 / 0.004**2) == pytest.approx(share, abs=1e-4)


@pytest.mark.parametrize(
    ("diffusivity", "wet_mm", "half", "nine_tenths"),
    # Crank's series, inverted apart; whole days.
    [
        (3e-13, 2, 30, 131),
        (3e-13, 4, 121, 524),
        (3e-13, 6, 273, 1178),
        (3e-13, 10, 759, 3272),
        (1e-12, 2, 9, 39),
        (1e-12, 4, 36, 157),
        (1e-12, 6, 82, 353),
        (1e-12, 10, 228, 982),
        (2e-12, 2, 5, 20),
        (2e-12, 4, 18, 79),
        (2e-12, 6, 41, 177),
        (2e-12, 10, 114, 491),
    ],
)
def test_days_until_a_half_and_nine_tenths_have_left(
    diffusivity: float, wet_mm: float, half: int, nine_tenths: int
) -> None:
    assert round(days_to_lose(0.5, wet_mm, diffusivity)) == half
    assert round(days_to_lose(0.9, wet_mm, diffusivity)) == nine_tenths


@pytest.mark.parametrize(
    ("wet_mm", "a_day", "half_life"),
    # π²D/4l² with D = 1e-12 m²/s, worked out by hand.
    [(4, 0.013324, 52.02), (3, 0.023687, 29.26)],
)
def test_the_slow_mode_has_a_half_life(wet_mm: float, a_day: float, half_life: float) -> None:
    assert slow_mode_a_day(wet_mm, 1e-12) == pytest.approx(a_day, abs=1e-6)
    assert np.log(2) / slow_mode_a_day(wet_mm, 1e-12) == pytest.approx(half_life, abs=0.01)


def test_late_drying_is_the_slow_mode_alone() -> None:
    a_day = 1e-12 * 86_400 / 0.004**2
    left, a_day_later = 1 - uptake(200 * a_day), 1 - uptake(201 * a_day)
    assert np.log(left / a_day_later) == pytest.approx(slow_mode_a_day(4, 1e-12), rel=1e-6)


def test_diffusivity_is_known_within_three_times_either_way_and_heat_makes_it_faster() -> None:
    # 5e-13 m²/s, three times less or more, at 20 to 25 degrees C: from memory.
    assert diffusivity_m2_s(DIFFUSIVITY_C) == DIFFUSIVITY_M2_S
    cold, warm = diffusivity_m2_s(10), diffusivity_m2_s(28)
    assert cold.likely < DIFFUSIVITY_M2_S.likely < warm.likely
    assert warm.high / warm.likely == pytest.approx(3)
    assert warm.likely / warm.low == pytest.approx(3)


def test_the_half_life_of_a_wet_laminate_is_a_range() -> None:
    # 52.02 d at D = 1e-12 m²/s is 104.04 d at half of it, a third and three times of that either way.
    assert half_life_d(4, DIFFUSIVITY_C) == pytest.approx((104.04 / 3, 104.04, 104.04 * 3), rel=1e-3)


@settings(max_examples=40, deadline=None)
@given(st.floats(0.5, 20), st.floats(0.1, 5), st.floats(1, 40), st.floats(0.5, 10))
def test_thicker_dries_slower_and_warmer_dries_faster(
    wet_mm: float, more_mm: float, celsius: float, warmer: float
) -> None:
    assert half_life_d(wet_mm + more_mm, celsius).likely > half_life_d(wet_mm, celsius).likely
    assert half_life_d(wet_mm, celsius + warmer).likely < half_life_d(wet_mm, celsius).likely


def test_what_cannot_be_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="Dt/l²"):
        uptake(-0.1)
    with pytest.raises(ValueError, match="share of the water"):
        dt_l2_at(1.0)
    with pytest.raises(ValueError, match="at most 100 mm"):
        half_life_d(0, 20)
    with pytest.raises(ValueError, match="diffusivity"):
        days_to_lose(0.5, 4, 0)
