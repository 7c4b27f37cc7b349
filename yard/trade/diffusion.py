"""Water leaving a wet laminate through its one open face: the plane sheet, which gives a prior where a yard
has no boats to go by.

The sheet is as thick as the laminate is wet [mm]; its far face is shut. Time comes as Dt/l² [-]:
diffusivity [m²/s] times time [s] over the square of the wet thickness [m²]. For a sheet open at both faces,
l is half of it.
"""

from collections.abc import Callable
from math import erfc, exp, isfinite, log, pi, sqrt

from yard.trade.drying import DRYING_ACTIVATION_KJ, rate_ratio
from yard.trade.ranges import Range

DAY_S = 86_400.0
"""[s] in a day."""

DIFFUSIVITY_M2_S = Range(5e-13 / 3, 5e-13, 5e-13 * 3)
"""[m²/s] of water through the thickness of glass/polyester at `DIFFUSIVITY_C`; three times less or more,
within 1e-13 to 2e-12, from memory. Changed in the code only."""

DIFFUSIVITY_C = 22.5
"""[degrees C] that the diffusivity is meant at: the middle of 20 to 25, from memory."""

BY_SHORT_TIMES = 0.2
"""[-] Dt/l² up to which the series for short times is summed, above it the one for long: there both need
but a few terms. Any value from 0.1 to 1 gives the same to ten digits."""


def uptake(dt_l2: float) -> float:
    """The share of the water that has left (or entered) the sheet by Dt/l² [-].

    J. Crank, The Mathematics of Diffusion, 2nd edition, Oxford 1975, chapter 4: the series for short or for
    long times. Raises ValueError for a time below zero.
    """
    if not dt_l2 >= 0:
        raise ValueError(f"Time comes as Dt/l², zero or above: {dt_l2} is not.")
    if dt_l2 == 0:
        return 0.0
    return short_series(dt_l2) if dt_l2 <= BY_SHORT_TIMES else long_series(dt_l2)


def short_series(dt_l2: float, terms: int = 12) -> float:
    """Crank's series for short times, `terms` of it after the first [-]: 2√(Dt/l²) (1/√π + 2 Σ (-1)ⁿ
    ierfc)."""
    root = sqrt(dt_l2)
    reflected = sum((-1.0) ** n * _ierfc(n / root) for n in range(1, terms + 1))
    return 2 * root * (1 / sqrt(pi) + 2 * reflected)


def long_series(dt_l2: float, terms: int = 12) -> float:
    """Crank's series for long times, `terms` of it [-]: 1 - 8/π² Σ exp(-(2n+1)²π²/4 Dt/l²)/(2n+1)²."""
    odd = range(1, 2 * terms, 2)
    return 1 - 8 / pi**2 * sum(exp(-(n**2) * pi**2 / 4 * dt_l2) / n**2 for n in odd)


def _ierfc(x: float) -> float:
    """The integral of the complementary error function from x to infinity [-]."""
    return exp(-x * x) / sqrt(pi) - x * erfc(x)


def dt_l2_at(share: float) -> float:
    """Dt/l² [-] by which that share of the water has left; the inverse of `uptake`.

    Raises ValueError unless the share is from 0 to below 1.
    """
    if not 0 <= share < 1:
        raise ValueError(f"A share of the water that has left is from 0 to below 1: {share} is not.")
    # The slow mode alone leaves 8/π² exp(-π²/4 Dt/l²); less than 1 - share is left a little later than this.
    late = max(0.0, 4 / pi**2 * log(8 / pi**2 / (1 - share))) + 1.0
    return _root(lambda dt_l2: uptake(dt_l2) - share, 0.0, late)


def _root(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function crosses zero between `low` and `high`, by halving."""
    for _ in range(80):
        middle = (low + high) / 2
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return high


def diffusivity_m2_s(temperature_c: float) -> Range:
    """Diffusivity of water in wet laminate at a temperature [degrees C], by Arrhenius [m²/s]."""
    return DIFFUSIVITY_M2_S.times(rate_ratio(temperature_c, DIFFUSIVITY_C, DRYING_ACTIVATION_KJ))


def days_to_lose(share: float, wet_mm: float, diffusivity: float) -> float:
    """Days until that share of the water has left through one face [d].

    `wet_mm` [mm] of wet laminate, `diffusivity` [m²/s]. Raises ValueError for a share, thickness or
    diffusivity that cannot be.
    """
    return dt_l2_at(share) / _dt_l2_a_day(wet_mm, diffusivity)


def slow_mode_a_day(wet_mm: float, diffusivity: float) -> float:
    """By how much the logarithm of the water left falls a day once the surface is dry: π²D/4l² [1/day].

    `wet_mm` [mm] of wet laminate, `diffusivity` [m²/s]. Raises ValueError for a thickness or diffusivity that
    cannot be.
    """
    return pi**2 / 4 * _dt_l2_a_day(wet_mm, diffusivity)


def _dt_l2_a_day(wet_mm: float, diffusivity: float) -> float:
    if not (isfinite(wet_mm) and 0 < wet_mm <= 100):
        raise ValueError(f"A laminate is wet to a depth above 0 and at most 100 mm: {wet_mm} is not.")
    if not (isfinite(diffusivity) and diffusivity > 0):
        raise ValueError(f"A diffusivity is above zero [m²/s]: {diffusivity} is not.")
    return diffusivity * DAY_S / (wet_mm / 1000) ** 2


def half_life_d(wet_mm: float, temperature_c: float) -> Range:
    """Half-life of the water in `wet_mm` [mm] of wet laminate with one open face, at a temperature [degrees
    C].

    Low, likely and high [d] by the range of the diffusivity. Raises ValueError for a thickness that cannot
    be.
    """
    slow, likely, fast = diffusivity_m2_s(temperature_c)
    low, middle, high = (log(2) / slow_mode_a_day(wet_mm, value) for value in (fast, likely, slow))
    return Range(low, middle, high)
