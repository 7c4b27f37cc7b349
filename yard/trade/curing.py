"""Overcoat windows and cure by temperature: one Arrhenius factor, and what a night or a weekend costs a
coating campaign."""

from yard.trade.drying import rate_ratio

CURING_ACTIVATION_KJ = 55.0
"""[kJ/mol] epoxide with primary amine, 55 to 60: Thermochimica Acta 447 (2006) 167-177. The product's sheet
rules."""

RECOAT_MAX_H_20 = 36.0
"""[h] the longest wait between two coats of solvent-free epoxy at 20 degrees C without wash and abrade; 24
to 48, from memory.
The product's sheet rules."""

LEAST_C = 10.0
"""[degrees C] below this nothing counts towards cure; 10 to 12 for barrier coats. Common practice."""


def hours_at_20(hours: float, temperature_c: float) -> float:
    """What `hours` [h] at `temperature_c` [degrees C] are worth at 20 degrees C [h]; nothing below the least
    temperature."""
    if temperature_c < LEAST_C:
        return 0.0
    return hours * rate_ratio(temperature_c, 20.0, CURING_ACTIVATION_KJ)


def night_and_day_at_20(hours: float, day_c: float, night_c: float) -> float:
    """What `hours` [h] of half day at `day_c`, half night at `night_c` [degrees C] are worth at 20 degrees C
    [h].

    Averaging the temperature first would count too little: the rate is not linear.
    """
    return hours_at_20(hours / 2, day_c) + hours_at_20(hours / 2, night_c)


def window_is_broken(gap_h: float, day_c: float, night_c: float) -> bool:
    """Whether `gap_h` [h] between two coats, at these temperatures [degrees C], is past the overcoat
    window."""
    return night_and_day_at_20(gap_h, day_c, night_c) > RECOAT_MAX_H_20
