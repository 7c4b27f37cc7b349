"""Moist air: vapour pressure, dew point, what heating does to the humidity, and slips of the pen in air
checks.

One Magnus formula serves for the dew point and its inverse, so that a phone which runs the same few lines
gets the same answer:

    saturation(t) = MAGNUS_PA * exp(MAGNUS_A * t / (MAGNUS_B_C + t))

with t in degrees C, over **water** at every temperature. Below a dew point of 0 degrees C what forms is
frost, at a temperature up to a degree or so higher (air at 5 degrees C and 50 % has its dew point at -4.57,
its frost point at -4.03); tables that go over to ice there disagree with this one, and may only be compared
above 0. No gate that asks for a hull of 5 degrees C or more can hang on the difference.
"""

from math import exp, log

from yard.trade.ranges import Doubt

MAGNUS_A = 17.625
MAGNUS_B_C = 243.04
MAGNUS_PA = 610.94
"""[-], [degrees C], [Pa] M. G. Lawrence, Bull. Amer. Meteor. Soc. 86 (2005) 225-233, doi
10.1175/BAMS-86-2-225; the third from memory. Within 0.4 % of the saturation pressure over water from -40 to
50 degrees C. Changed in the code only, and on the phone with it."""

COLDEST_C, HOTTEST_C = -40.0, 80.0
"""[degrees C] outside these a thermometer in a yard is wrong: the formula's own range, stretched for blankets
on a hull."""

LIKE_FAHRENHEIT_C = 45.0
"""[degrees C] above this a reading is more likely one in Fahrenheit: 45 is the greatest a hull may be heated
to, 45 degrees Fahrenheit a cold shed. 40 to 50, common practice."""

LIKE_SWAPPED_PCT = 30.0
"""[%] a humidity below this beside a temperature above LIKE_FAHRENHEIT_C reads like the two in each other's
place: air in a yard by the sea is never so dry unheated. 20 to 35, common practice."""

HULL_OVER_AIR_C = 25.0
"""[degrees C] that sun or lamps bring a hull above the air, and no more; 20 to 30, common practice."""


def _in_range(name: str, celsius: float) -> None:
    if COLDEST_C <= celsius <= HOTTEST_C:
        return
    hint = f" If it is in Fahrenheit, give {_from_fahrenheit(celsius):.1f}." if 80 < celsius <= 140 else ""
    raise ValueError(
        f"{name} of {celsius:g} degrees C cannot be: give one from {COLDEST_C:g} to {HOTTEST_C:g}.{hint}"
    )


def check_air(air_c: float, rh_pct: float) -> None:
    """Refuse air that cannot be.

    Raises:
        ValueError: the temperature [degrees C] is below -40 or above 80, or the humidity [%] outside 0 to
            100.
    """
    _in_range("An air temperature", air_c)
    if not 0 <= rh_pct <= 100:
        raise ValueError(f"A humidity of {rh_pct:g} % cannot be: give one from 0 to 100 %.")


def check_surface(celsius: float) -> None:
    """Refuse a hull temperature [degrees C] that cannot be.

    Raises:
        ValueError: it is below -40 or above 80.
    """
    _in_range("A hull temperature", celsius)


def _saturation_pa(celsius: float) -> float:
    return MAGNUS_PA * exp(MAGNUS_A * celsius / (MAGNUS_B_C + celsius))


def saturation_pa(t_c: float) -> float:
    """The greatest vapour pressure air at `t_c` [degrees C] can hold, over water [Pa].

    Raises:
        ValueError: `t_c` is below -40 or above 80.
    """
    _in_range("An air temperature", t_c)
    return _saturation_pa(t_c)


def vapour_pressure_pa(t_c: float, rh_pct: float) -> float:
    """The vapour pressure of air at `t_c` [degrees C] and `rh_pct` [%] [Pa].

    Raises:
        ValueError: the air cannot be, see `check_air`.
    """
    check_air(t_c, rh_pct)
    return _saturation_pa(t_c) * rh_pct / 100


def dew_point_c(air_c: float, rh_pct: float) -> float:
    """The temperature at which air at `air_c` [degrees C] and `rh_pct` [%] begins to wet a surface [degrees
    C].

    Raises:
        ValueError: the air cannot be, see `check_air`, or it holds no water at all (0 %).
    """
    check_air(air_c, rh_pct)
    if rh_pct == 0:
        raise ValueError("Air at 0 % humidity has no dew point: look at the meter and read it again.")
    gamma = log(rh_pct / 100) + MAGNUS_A * air_c / (MAGNUS_B_C + air_c)
    # At 100 % the two fractions cancel, but for the last bit.
    return min(air_c, MAGNUS_B_C * gamma / (MAGNUS_A - gamma))


def humidity_at_pct(dew_c: float, air_c: float) -> float:
    """The humidity of air at `air_c` whose dew point is `dew_c` [degrees C] [%]: the inverse of
    `dew_point_c`.

    Air cooled to its dew point or below stays at 100 % and gives up its water.

    Raises:
        ValueError: `air_c` is below -40 or above 80, or `dew_c` is no dew point.
    """
    _in_range("An air temperature", air_c)
    if not -MAGNUS_B_C < dew_c <= HOTTEST_C:
        raise ValueError(f"A dew point of {dew_c:g} degrees C cannot be: give one up to {HOTTEST_C:g}.")
    return min(100.0, 100 * _saturation_pa(dew_c) / _saturation_pa(air_c))


def humidity_after_heating_pct(outdoor_c: float, outdoor_rh_pct: float, heated_c: float) -> float:
    """The humidity of air from outdoors once it is heated to `heated_c` [degrees C], no water added [%].

    Heating leaves the dew point where it was. Air that is cooled instead stops at 100 %.

    Raises:
        ValueError: the air outdoors or the heated air cannot be, see `check_air`.
    """
    _in_range("An air temperature", heated_c)
    return min(100.0, 100 * vapour_pressure_pa(outdoor_c, outdoor_rh_pct) / _saturation_pa(heated_c))


def heated_to_c(air_c: float, rh_pct: float, wanted_rh_pct: float) -> float:
    """How warm air at `air_c` [degrees C] and `rh_pct` [%] must be for `wanted_rh_pct` [%], no water added
    [degrees C].

    Raises:
        ValueError: the air cannot be, see `check_air`, or one of the humidities is 0.
    """
    check_air(air_c, wanted_rh_pct)
    if wanted_rh_pct == 0 or rh_pct == 0:
        raise ValueError("No heating brings air to or from a humidity of 0 %: give one above 0.")
    level = log(vapour_pressure_pa(air_c, rh_pct) / (wanted_rh_pct / 100) / MAGNUS_PA)
    return MAGNUS_B_C * level / (MAGNUS_A - level)


def highest_humidity_pct(air_c: float, margin_c: float) -> float:
    """The dampest air at `air_c` that keeps its dew point `margin_c` below itself [degrees C] [%].

    That is the limit where the hull is as warm as the air; a colder hull asks for drier air.

    Raises:
        ValueError: `air_c` is below -40 or above 80, or `margin_c` is below 0 [degrees C].
    """
    if not margin_c >= 0:
        raise ValueError(f"A margin of {margin_c:g} degrees C cannot be: give 0 or more.")
    return humidity_at_pct(air_c - margin_c, air_c)


def doubts_about_air(air_c: float, rh_pct: float, surface_c: float | None = None) -> list[Doubt]:
    """What reads like a slip in an air check: Fahrenheit, a fraction for per cent, values in each other's
    place.

    Args:
        air_c: the air [degrees C].
        rh_pct: its humidity [%].
        surface_c: the hull [degrees C], if it was read.

    Returns:
        One doubt a field, to be asked about; nothing is changed.

    Raises:
        ValueError: a value cannot be at all, see `check_air`.
    """
    check_air(air_c, rh_pct)
    found = []
    readings = [("air_c", air_c)]
    if surface_c is not None:
        check_surface(surface_c)
        readings.append(("hull_c", surface_c))
    for field, celsius in readings:
        if celsius <= LIKE_FAHRENHEIT_C:
            continue
        if 1 < rh_pct < LIKE_SWAPPED_PCT:
            like = f"the humidity of {rh_pct:g} % and this in each other's place"
        else:
            like = f"Fahrenheit: {_from_fahrenheit(celsius):.1f} degrees C"
        found.append(Doubt(field, f"{celsius:g} degrees C? That reads like {like}. Say which."))
    if 0 < rh_pct <= 1:
        found.append(
            Doubt("rh_pct", f"{rh_pct:g} %? That reads like a fraction: {rh_pct * 100:g} %. Say which.")
        )
    # In Fahrenheit or in another field's place, the difference would say nothing.
    if surface_c is not None and not found and surface_c - air_c > HULL_OVER_AIR_C:
        over = surface_c - air_c
        found.append(
            Doubt(
                "hull_c",
                f"A hull {over:g} degrees C warmer than the air? That reads like hull and air in each "
                "other's place, unless lamps or blankets are on her. Say which.",
            )
        )
    return found


def _from_fahrenheit(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8
