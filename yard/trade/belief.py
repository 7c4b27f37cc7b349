"""What is believed of a boat's drying before her own rounds speak: the regime's norm, drawn to the boats the
yard has finished, or, where there are none, to what diffusion says of her laminate.

A boat's **factor** is how many times as fast as the norm she dries: 1 is the norm's likely half-life, 0.5
takes twice as long.
"""

from collections.abc import Sequence
from math import exp, isfinite, log, sqrt
from typing import NamedTuple

from yard.trade.diffusion import half_life_d
from yard.trade.drying import RegimeNorm

TENTH = 1.2815515655446004
"""[-] how many standard deviations the low and the high of a range, one in ten each, lie from the middle of a
normal distribution."""

BOAT_SPREAD = 0.33
"""[-] standard deviation of the factor from boat to boat in one regime where the yard has no finished boats
to tell: 0.2 to 0.45. Common practice: half-lives of 28, 35, 41, 45, 52, 60 and 74 days in one yard are as
many factors with a mean of 1 and a deviation of 0.33."""

LEAST_SPREAD = 0.1
"""[-] the spread of the factor is never believed to be less, however alike the finished boats. Common
practice."""

LEAST_DOUBT = 0.05
"""[-] of a norm's logarithm: one typed without a range is held to be out by so much all the same. Common
practice."""

START_SHARE, START_SD = 0.5, 1.0
"""How far above the floor the first reading is expected, as a share of the meter's scale [-], and the
standard deviation of its logarithm [-]: 0.5 where her first round is still to come and she is fresh from the
peel, 1 for a fit that begins again after a wash, low or high. Common practice; her first round settles
it."""

FLOOR_SHARE, FLOOR_SD_SHARE = 0.12, 0.03
"""What the meter reads on sound dry laminate, and its standard deviation, as shares of its scale [-]; 0.08 to
0.16. Common practice; the boat's own dry topsides rule."""

OWN_FLOOR_SD_SHARE = 0.015
"""Standard deviation of the floor where her own dry topsides were read, as a share of the meter's scale [-]:
what one reading is off by; 0.01 to 0.03. Common practice."""

HELD_UP = 0.02
"""[-] how likely it is, before her rounds speak, that what is left in the laminate (glycols, acids) holds her
readings up well above her floor, so that waiting won't dry her; 0 to 0.1. Common practice: a few boats in a
hundred, after the washing is done."""


class Belief(NamedTuple):
    """What is believed of one boat before her rounds are read.

    factor [-] and its standard deviation `spread`; `start`: the reading above the floor where the fit
    begins [points of the scale], `start_sd` of its logarithm [-]; `floor`: what she will read when nothing
    is left, and its standard deviation [points of the scale]; `held_up`: how likely her readings stay well
    above it [-]; `says`: where it all comes from.
    """

    factor: float
    spread: float
    start: float
    start_sd: float
    floor: float
    floor_sd: float
    held_up: float = HELD_UP
    says: str = ""


def prior(
    norm: RegimeNorm,
    history: Sequence[float] = (),
    *,
    wet_mm: float | None = None,
    scale: tuple[float, float] = (0.0, 100.0),
    reference: float | None = None,
    start: float | None = None,
    start_sd: float = START_SD,
    held_up: float = HELD_UP,
) -> Belief:
    """What to believe of a boat in a regime, given the factors of the yard's `history`: its finished boats
    there.

    Empirical Bayes: the norm counts as so many boats as would know the mean as well as its own range does,
    and the finished boats are added to them. With no history, `wet_mm` [mm] of wet laminate draws the norm
    to what the plane sheet gives, in logarithms and by how sure each is. `scale`: the meter's lowest
    and greatest reading; `reference`: the reading of her own dry topsides; `start`: how far above her floor
    the first reading is expected [points of the scale], `start_sd` of its logarithm [-].

    Raises ValueError for a value that cannot be.
    """
    if not all(isfinite(factor) and factor > 0 for factor in history):
        raise ValueError(
            "A finished boat's factor is above zero: leave out the boats whose rounds give none."
        )
    lowest, greatest = scale
    width = greatest - lowest
    if not (isfinite(width) and width > 0):
        raise ValueError(f"A meter's scale runs from low to high: {lowest:g} to {greatest:g} does not.")
    if reference is not None and not lowest <= reference <= greatest:
        raise ValueError(
            f"The dry topsides read {reference:g}, off the meter's scale of {lowest:g} to {greatest:g}."
        )
    if start is not None and not 0 < start <= width:
        raise ValueError(
            f"The first reading lies above the floor, within the scale: {start:g} more does not."
        )
    factor, spread, says = _factor(norm, history, wet_mm)
    return Belief(
        factor,
        spread,
        START_SHARE * width if start is None else start,
        start_sd,
        lowest + FLOOR_SHARE * width if reference is None else reference,
        (FLOOR_SD_SHARE if reference is None else OWN_FLOOR_SD_SHARE) * width,
        held_up,
        says,
    )


def _factor(norm: RegimeNorm, history: Sequence[float], wet_mm: float | None) -> tuple[float, float, str]:
    """The factor expected, its standard deviation, and why in words."""
    low, likely, high = norm.half_life
    if not 0 < low <= likely <= high:
        raise ValueError(
            f"A half-life's low, likely and high rise from above zero: {low}, {likely}, {high} do not."
        )
    centre, doubt = 1.0, max(log(high / low) / (2 * TENTH), LEAST_DOUBT)
    said = f"a half-life of {low:g} to {high:g} days, likely {likely:g} ({norm.source})"
    if wet_mm is not None and not history:
        sheet = half_life_d(wet_mm, norm.at_c)
        unsure = log(sheet.high / sheet.low) / (2 * TENTH)
        share = doubt**2 / (doubt**2 + unsure**2)
        centre = exp(share * log(likely / sheet.likely))
        doubt *= sqrt(1 - share)
        said += (
            f", drawn to the {sheet.likely:.0f} days that diffusion gives {wet_mm:g} mm of wet laminate:"
            f" {likely / centre:.0f} days"
        )
    as_boats = (BOAT_SPREAD / doubt) ** 2
    count = len(history)
    if not count:
        return centre, sqrt(BOAT_SPREAD**2 + doubt**2), f"No finished boats yet: {said}."
    mean = sum(history) / count
    apart = sum((factor - mean) ** 2 for factor in history)
    factor = (as_boats * centre + count * mean) / (as_boats + count)
    between = (as_boats * BOAT_SPREAD**2 + apart) / (as_boats + count - 1)
    spread = max(LEAST_SPREAD, sqrt(between * (1 + 1 / (as_boats + count))))
    boats = "1 finished boat" if count == 1 else f"{count} finished boats"
    return (
        factor,
        spread,
        f"{boats} of this yard, and the norm, {said}, counted as {as_boats:.1f} boats:"
        f" {likely / factor:.0f} days.",
    )
