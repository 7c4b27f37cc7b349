"""How fast wet laminate dries where: a half-life by regime, one Arrhenius factor by temperature, and the days
that a dose of drying takes.

What is left of the water above its floor falls by one half in a **half-life**. By how much its natural
logarithm falls on a day is that day's **decay** [1/day]. A **dose** of drying is counted in days in a heated
tent: a boat that needs 42 days in the tent has a dose of 42. Elsewhere a day is worth less, under heat
blankets more.
"""

from collections.abc import Mapping, Sequence
from math import exp, isfinite, log
from typing import NamedTuple

from yard.trade.ranges import Range

GAS_CONSTANT = 8.314462
"""[J/(mol K)] CODATA."""

DRYING_ACTIVATION_KJ = 40.0
"""[kJ/mol] activation energy of moisture diffusion through glass/polyester; range 25 to 50, from memory,
beside 27 implied by the times of saturation at 20 and 70 degrees published under
doi 10.2478/v10077-012-0013-4. Changed in the code only."""

TENT_C = 28.0
"""[degrees C] air in a heated tent round the hull; 20 to 30, at most 35 on solid laminate. Common
practice."""

WEATHER, COLD, TENT, BLANKETS = "weather", "cold", "tent", "blankets"


class RegimeNorm(NamedTuple):
    """What a yard expects of drying in one regime: half-life [d], the temperature it is meant at [degrees C],
    where it comes from.

    The temperature is that of the air, under blankets that of the hull's skin.
    """

    half_life: Range
    at_c: float
    source: str


REGIMES: Mapping[str, RegimeNorm] = {
    WEATHER: RegimeNorm(Range(60.0, 75.0, 90.0), 8.0, "common practice, in a mild winter outdoors"),
    COLD: RegimeNorm(Range(40.0, 50.0, 60.0), 10.0, "common practice, in a mild winter under a roof"),
    TENT: RegimeNorm(Range(16.0, 21.0, 27.0), TENT_C, "common practice, heated and dehumidified"),
    BLANKETS: RegimeNorm(Range(2.0, 3.0, 4.0), 60.0, "common practice; the temperature is from memory"),
}
"""Half-lives by regime, each a setting of the yard. A shed kept mild is a cold shed at its own temperature.

The temperatures are from memory: the mean of October to April outdoors on a mild western coast, two degrees
more under a roof, the tent's own, and the skin under a vacuum blanket, whose manual rules."""


def rate_ratio(temperature_c: float, reference_c: float, activation_kj: float) -> float:
    """How much faster a process runs at `temperature_c` than at `reference_c` [degrees C], by Arrhenius
    [-]."""
    return exp(
        activation_kj * 1000 / GAS_CONSTANT * (1 / (reference_c + 273.15) - 1 / (temperature_c + 273.15))
    )


def decay_a_day(regime: str, temperature_c: float, norms: Mapping[str, RegimeNorm] = REGIMES) -> float:
    """By how much the logarithm of what is left above the floor falls on one day [1/day]; frost: 0.

    `temperature_c` [degrees C] of the air, under blankets of the hull's skin. A day in the weather or in a
    shed, however warm, is never worth more than one in the tent at its own temperature: there the air is
    dried too.
    Raises ValueError for a regime that `norms` does not hold, or a half-life that is not above zero.
    """
    if temperature_c <= 0:
        return 0.0
    decay = _at_norm(regime, norms) * rate_ratio(temperature_c, norms[regime].at_c, DRYING_ACTIVATION_KJ)
    if regime in (WEATHER, COLD) and TENT in norms:
        return min(decay, _at_norm(TENT, norms))
    return decay


def _at_norm(regime: str, norms: Mapping[str, RegimeNorm]) -> float:
    """The decay at the temperature the regime's norm is meant at [1/day]."""
    if regime not in norms:
        known = ", ".join(sorted(norms))
        raise ValueError(f"There is no norm for drying in {regime!r}: give one of {known}.")
    likely = norms[regime].half_life.likely
    if not (isfinite(likely) and likely > 0):
        raise ValueError(f"The half-life in {regime!r} is {likely} days: give one above zero.")
    return log(2) / likely


def days_to_dry(dose: float, rates: Sequence[float], first: int) -> int | None:
    """Index of the day on whose evening `dose` [days in a tent] is done, starting on day `first`; None if it
    never is.

    `rates` holds what each calendar day is worth [days in a tent].
    """
    left = dose - 1e-9
    for day in range(first, len(rates)):
        left -= rates[day]
        if left <= 0:
            return day
    return None
