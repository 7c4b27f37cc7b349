"""The air outdoors by month, and heated air that loses its heat: a power cut, a cold spell.

Heated air falls towards the air round it as a cup of tea does, exponentially: after its **holding time** 37 %
of the lift is left, after three holding times 5 %.
"""

from math import exp, inf, log
from typing import NamedTuple

from yard.trade.air import dew_point_c
from yard.trade.ranges import Range

MONTH_C = (6.0, 6.0, 7.5, 9.0, 12.0, 14.5, 16.5, 16.5, 15.0, 12.0, 9.0, 7.0)
"""[degrees C] mean air outdoors by month, January first, where the yard has entered none: a mild western
coast. Plus or minus 2; from memory. The yard enters its own."""

MONTH_RH = (87.0, 85.0, 83.0, 80.0, 79.0, 80.0, 81.0, 82.0, 83.0, 85.0, 87.0, 88.0)
"""[%] mean humidity outdoors by month, January first, of the same coast. Plus or minus 5; from memory. The
yard enters its own."""

ROOF_WARMER_C = 2.5
"""[degrees C] that an unheated shed is warmer than outdoors where the yard has entered no months. 1 to 4,
common practice."""

TENT_HOLD_H = Range(1.0, 2.0, 4.0)
"""[h] holding time of a heated tent round a hull: thin sheet, little air; the hull's own warmth is all that
holds it. Common practice; the yard's own after it has timed a cut."""

SHED_HOLD_H = Range(6.0, 12.0, 24.0)
"""[h] holding time of a heated, lined shed with its doors shut and a concrete floor. Common practice; the
yard's own after it has timed a cut."""

TENT_LIFT_C = Range(15.0, 22.0, 30.0)
"""[degrees C] the most a tent's heaters lift it above the air round it. Common practice; from the heaters'
power where it is known."""

SHED_LIFT_C = Range(6.0, 10.0, 15.0)
"""[degrees C] the most a heated shed's heaters lift it above outdoors. Common practice; the yard's own after
a cold spell."""

COLD_SPELL_COOLER_C = Range(4.0, 7.0, 10.0)
"""[degrees C] by which a cold spell of a week is below its month's mean. From memory; the yard sets it."""


class Outdoors(NamedTuple):
    """A month's mean air outdoors: temperature [degrees C], humidity [%], dew point [degrees C]."""

    mean_c: float
    rh_pct: float
    dew_c: float


def outdoors(month: int) -> Outdoors:
    """The air outdoors in a month (1 to 12) where the yard has entered none.

    Raises:
        ValueError: there is no such month.
    """
    if not 1 <= month <= 12:
        raise ValueError(f"There is no month {month}: give 1 for January to 12 for December.")
    mean_c, rh_pct = MONTH_C[month - 1], MONTH_RH[month - 1]
    return Outdoors(mean_c, rh_pct, dew_point_c(mean_c, rh_pct))


class Cut(NamedTuple):
    """What some hours without heat do to an air.

    `end_c` is its temperature when the heat comes back, `mean_c` its mean over the cut [degrees C], `lost_c`
    how far that mean is below the temperature before [degrees C]; hours x `lost_c` are the degree-hours lost.
    """

    end_c: float
    mean_c: float
    lost_c: float
    says: str


def after_cut_c(inside_c: float, outside_c: float, hours: float, hold_h: float) -> float:
    """Heated air after `hours` [h] without heat [degrees C]: exponential towards the air round it.

    Args:
        inside_c: the air when the heat goes off [degrees C].
        outside_c: the air round it, taken as steady [degrees C].
        hours: how long it has been off [h].
        hold_h: the holding time [h], such as TENT_HOLD_H.likely.

    Raises:
        ValueError: `hours` is below 0, or `hold_h` is not above 0.
    """
    _check_times(hours, hold_h)
    return outside_c + (inside_c - outside_c) * exp(-hours / hold_h)


def mean_over_cut_c(inside_c: float, outside_c: float, hours: float, hold_h: float) -> float:
    """The mean of `after_cut_c` over a cut of `hours` [h] [degrees C]; `inside_c` for a cut of no length.

    Raises:
        ValueError: `hours` is below 0, or `hold_h` is not above 0.
    """
    _check_times(hours, hold_h)
    if hours == 0:
        return inside_c
    return outside_c + (inside_c - outside_c) * hold_h / hours * (1 - exp(-hours / hold_h))


def cut(inside_c: float, outside_c: float, hours: float, hold_h: float) -> Cut:
    """What a power cut of `hours` [h] costs an air in warmth; arguments as for `after_cut_c`.

    Raises:
        ValueError: `hours` is below 0, or `hold_h` is not above 0.
    """
    end_c = after_cut_c(inside_c, outside_c, hours, hold_h)
    mean_c = mean_over_cut_c(inside_c, outside_c, hours, hold_h)
    if outside_c >= inside_c:
        says = f"{hours:g} h without heat cost nothing: it is {outside_c:.1f} degrees C outside."
    else:
        says = (
            f"{hours:g} h without heat: from {inside_c:.1f} to {end_c:.1f} degrees C, on average "
            f"{inside_c - mean_c:.1f} colder than before."
        )
    return Cut(end_c, mean_c, inside_c - mean_c, says)


def hours_above(inside_c: float, outside_c: float, least_c: float, hold_h: float) -> float:
    """How long heated air stays at `least_c` [degrees C] or above once the heat is off [h].

    With the dew point + margin for `least_c` it says how long after a cut the air itself keeps its margin.
    Infinite where it is that warm outside; 0 where the air is colder already.

    Raises:
        ValueError: `hold_h` is not above 0.
    """
    _check_times(0, hold_h)
    if inside_c < least_c:
        return 0.0
    if outside_c >= least_c:
        return inf
    return hold_h * log((inside_c - outside_c) / (least_c - outside_c))


def hours_to_warm(
    from_c: float, set_c: float, outside_c: float, greatest_lift_c: float, hold_h: float
) -> float:
    """How long the heaters take, full on, from `from_c` to `set_c` [degrees C] [h]; infinite if they never
    do.

    Args:
        from_c: the air when the heat comes on [degrees C].
        set_c: what it is set to [degrees C].
        outside_c: the air round it, taken as steady [degrees C].
        greatest_lift_c: the most the heaters hold it above that [degrees C].
        hold_h: the holding time [h].

    Raises:
        ValueError: `hold_h` is not above 0, or `greatest_lift_c` is below 0.
    """
    _check_times(0, hold_h)
    _check_lift(greatest_lift_c)
    if from_c >= set_c:
        return 0.0
    top_c = outside_c + greatest_lift_c
    if top_c <= set_c:
        return inf
    return hold_h * log((top_c - from_c) / (top_c - set_c))


def in_cold_spell_c(set_c: float, outside_c: float, greatest_lift_c: float) -> float:
    """What heated air really has [degrees C]: what it is set to, or as much as its heaters lift it.

    Args:
        set_c: what it is set to [degrees C].
        outside_c: the air round it [degrees C].
        greatest_lift_c: the most the heaters hold it above that [degrees C], such as TENT_LIFT_C.likely.

    Raises:
        ValueError: `greatest_lift_c` is below 0.
    """
    _check_lift(greatest_lift_c)
    return max(outside_c, min(set_c, outside_c + greatest_lift_c))


def _check_times(hours: float, hold_h: float) -> None:
    if not hours >= 0:
        raise ValueError(f"A cut of {hours:g} h cannot be: give 0 h or more.")
    if not hold_h > 0:
        raise ValueError(f"A holding time of {hold_h:g} h cannot be: give more than 0 h.")


def _check_lift(lift_c: float) -> None:
    if not lift_c >= 0:
        raise ValueError(f"Heaters that lift the air by {lift_c:g} degrees C cannot be: give 0 or more.")
