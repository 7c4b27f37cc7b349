"""How fast wet laminate dries: one Arrhenius factor by temperature, and days that a dose of drying takes.

A **dose** of drying is counted in days in a heated tent: a boat that needs 42 days in the tent has a dose of
42. Elsewhere a
day is worth less, by the temperature of the air she stands in.
"""

from collections.abc import Sequence
from math import exp

GAS_CONSTANT = 8.314462
"""[J/(mol K)] CODATA."""

DRYING_ACTIVATION_KJ = 40.0
"""[kJ/mol] activation energy of moisture diffusion through glass/polyester; range 25 to 50, from memory,
beside 27 implied by
the times of saturation at 20 and 70 degrees published under doi 10.2478/v10077-012-0013-4. Changed in the
code only."""

TENT_C = 28.0
"""[degrees C] air in a heated tent round the hull; 20 to 30, at most 35 on solid laminate. Common
practice."""

OPEN_AIR_SHARE = 0.7
"""[-] what a day in the open is worth beside a day at the same temperature under a roof (rain and damp air);
0.5 to 0.9, from
half-lives of 60 to 90 days in the weather against 40 to 60 in a cold shed. Common practice."""


def rate_ratio(temperature_c: float, reference_c: float, activation_kj: float) -> float:
    """How much faster a process runs at `temperature_c` than at `reference_c` [degrees C], by Arrhenius
    [-]."""
    return exp(
        activation_kj * 1000 / GAS_CONSTANT * (1 / (reference_c + 273.15) - 1 / (temperature_c + 273.15))
    )


def drying_rate(temperature_c: float, *, open_air: bool = False) -> float:
    """What one day at `temperature_c` [degrees C] is worth in days in a heated tent [-]. Frost dries
    nothing."""
    if temperature_c <= 0:
        return 0.0
    share = OPEN_AIR_SHARE if open_air else 1.0
    return min(1.0, rate_ratio(temperature_c, TENT_C, DRYING_ACTIVATION_KJ) * share)


def days_to_dry(dose: float, rates: Sequence[float], first: int) -> int | None:
    """Index of the day on whose evening `dose` [days in a tent] is done, starting on day `first`; None if it
    never is.

    `rates` [-] holds one value for each calendar day, as `drying_rate` gives it.
    """
    left = dose - 1e-9
    for day in range(first, len(rates)):
        left -= rates[day]
        if left <= 0:
            return day
    return None
