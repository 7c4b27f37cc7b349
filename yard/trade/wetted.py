"""Wetted area of a hull: the published formulas from her dimensions, and girths put together by Simpson's
rule.

Lengths [m], displaced volume [m3], areas [m2]. `canoe_draught` is the draught of the body without its keel.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import cbrt, sqrt

from yard.trade.ranges import Range

TRADE_RULE = {
    "fin": Range(0.425, 0.5, 0.575),
    "long": Range(0.64, 0.75, 0.86),
    "bilge": Range(0.52, 0.65, 0.78),
    "lifting": Range(0.48, 0.6, 0.72),
    "motor": Range(0.5, 0.6, 1.0),
}
"""[-] share of waterline length x (beam + draught) that is wetted, by keel; appendages included. The trade's
rule for buying antifouling, from memory: fin 0.5, long 0.75, motor boat 1.0, plus or minus 15 per cent.
Bilge and lifting keels put between, plus or minus 20 per cent, by common practice. The 1.0 of a motor boat
over-orders: formulas give 0.56 to 0.62, so it stands here as the high end. Changed in the code only."""

DELFT_LENGTH_TO_BEAM = (2.73, 5.0)
DELFT_BEAM_TO_DRAUGHT = (2.46, 19.4)
DELFT_MIDSHIP = (0.646, 0.79)
"""[-] what the hulls of the Delft series span: waterline length to waterline beam, waterline beam to canoe
draught, midship section coefficient. From memory."""

Point = tuple[float, float]
"""(position [m], girth [m])."""

UNEQUAL = 2.0
"""[-] two neighbouring spacings more unequal than this are joined by straight lines: past it a parabola gives
one of the girths a weight below zero. Follows from the rule itself."""


def delft(lwl: float, bwl: float, canoe_draught: float, volume: float, midship: float) -> float:
    """Wetted area [m2] of a sailing yacht's canoe body; `midship` is its section coefficient [-].

    Keuning's equation for the Delft systematic yacht hull series (1998, eq. 6); Larsson and Eliasson,
    Principles of Yacht Design.
    """
    return (1.97 + 0.171 * bwl / canoe_draught) * cbrt(0.65 / midship) * sqrt(volume * lwl)


def in_delft_range(lwl: float, bwl: float, canoe_draught: float, midship: float) -> bool:
    """Whether these proportions lie within the hulls that the Delft series was made of."""
    return (
        DELFT_LENGTH_TO_BEAM[0] <= lwl / bwl <= DELFT_LENGTH_TO_BEAM[1]
        and DELFT_BEAM_TO_DRAUGHT[0] <= bwl / canoe_draught <= DELFT_BEAM_TO_DRAUGHT[1]
        and DELFT_MIDSHIP[0] <= midship <= DELFT_MIDSHIP[1]
    )


def denny_mumford(lwl: float, canoe_draught: float, volume: float, hulls: int = 1) -> float:
    """Wetted area [m2] of `hulls` equal hulls that share the displaced `volume`; appendages not included.

    Denny and Mumford's formula for displacement ships: Principles of Naval Architecture.
    """
    return hulls * 1.7 * lwl * canoe_draught + volume / canoe_draught


def taylor(lwl: float, volume: float) -> float:
    """Wetted area [m2] of a ship: Taylor's formula with its mean coefficient (Rawson and Tupper)."""
    return 2.6 * sqrt(volume * lwl)


def holtrop(
    lwl: float,
    bwl: float,
    draught: float,
    volume: float,
    midship: float,
    waterplane: float,
    bulb: float = 0.0,
) -> float:
    """Wetted area [m2] of a ship with midship and waterplane coefficients [-] and a `bulb` section [m2].

    Holtrop and Mennen, International Shipbuilding Progress 29 (1982); the coefficients are from memory.
    """
    block = volume / (lwl * bwl * draught)
    shape = (
        0.453
        + 0.4425 * block
        - 0.2862 * midship
        - 0.003467 * bwl / draught
        + 0.3696 * waterplane
    )  # fmt: skip
    return lwl * (2 * draught + bwl) * sqrt(midship) * shape + 2.38 * bulb / block


def trade_rule(keel: str, lwl: float, beam: float, draught: float) -> Range:
    """Wetted area [m2] with appendages by the rule antifouling is bought by; an unknown keel is a fin."""
    return TRADE_RULE.get(keel, TRADE_RULE["fin"]).times(lwl * (beam + draught))


def simpson_m2(girths: Sequence[Point]) -> float:
    """Area [m2] under the girths, given as (position [m], girth [m]) at rising positions, by Simpson's rule.

    Spacings may differ. A last interval without a partner is taken from the parabola through the last three
    girths. Only between the first and the last position: ends are for the caller to give.

    Raises:
        ValueError: fewer than two girths, or positions that do not rise.
    """
    if len(girths) < 2:
        raise ValueError("An area needs at least two girths; measure five.")
    if any(b[0] <= a[0] for a, b in pairwise(girths)):
        raise ValueError("Give the girths in order from the stem aft, each position once.")
    area = sum(_pair(*girths[i : i + 3]) for i in range(0, len(girths) - 2, 2))
    if len(girths) % 2 == 0:
        area += _last(girths)
    return area


def _pair(a: Point, b: Point, c: Point) -> float:
    """Two intervals under one parabola, or under two straight lines where the spacings are too unequal."""
    h, k = b[0] - a[0], c[0] - b[0]
    if max(h, k) > UNEQUAL * min(h, k):
        return h * (a[1] + b[1]) / 2 + k * (b[1] + c[1]) / 2
    return (h + k) / 6 * (a[1] * (2 - k / h) + b[1] * (h + k) ** 2 / (h * k) + c[1] * (2 - h / k))


def _last(girths: Sequence[Point]) -> float:
    """The interval left over at the aft end."""
    b, c = girths[-2:]
    k = c[0] - b[0]
    if len(girths) == 2:
        return k * (b[1] + c[1]) / 2
    a = girths[-3]
    h = b[0] - a[0]
    if max(h, k) > UNEQUAL * min(h, k):
        return k * (b[1] + c[1]) / 2
    return (
        c[1] * k * (2 * k + 3 * h) / (6 * (h + k))
        + b[1] * k * (k + 3 * h) / (6 * h)
        - a[1] * k**3 / (6 * h * (h + k))
    )
