"""What a stage uses up, from areas and counts: blades, resin, filler, antifoul, abrasive, each in a range.

Amounts are for buying by: the low end is what one hull in ten gets by with, the high end what one in ten goes
past. A yard that counts its own keeps its own figures.
"""

from collections.abc import Mapping
from math import ceil
from typing import NamedTuple

from yard.trade import film
from yard.trade.curing import GENERIC, CoatingSheet
from yard.trade.labour import known_counts, norms_of
from yard.trade.ranges import Range

COMMON = "common practice"

PAIRS_A_M2 = Range(0.10, 0.125, 0.15)
"""[pairs/m2] two-edged blades worn out by one pass over usual gelcoat: two or three pairs a hull of 20 m2.
Common practice, no source; the yard's own count replaces it."""

ONCE_OVER = Range(0.0, 0.0, 0.0)
"""[-] no second pass."""

HARDNESS: Mapping[str, Range] = {
    "soft": Range(0.7, 0.8, 0.9),
    "usual": Range(1.0, 1.0, 1.0),
    "hard": Range(1.2, 1.5, 2.0),
    "antifouled": Range(1.5, 2.0, 3.0),
}
"""[-] blades against usual gelcoat: soft and blistered, usual, hard or painted with epoxy before, old
antifouling left on. Common practice."""

GRIT_KG_M2 = Range(8.0, 12.0, 20.0)
"""[kg/m2] blasting abrasive, free of silica, for a light blast. Common practice; the contractor's figure
replaces it."""

LAMINATING_KG_M2 = Range(0.6, 0.9, 1.2)
"""[kg/m2] resin in one layer of laminate put on by hand, by the weight of its glass. Common practice."""

GLASS_OVERLAP = Range(1.10, 1.15, 1.25)
"""[-] glass cut over area covered: overlaps and offcuts. Common practice."""

FILL_MM = Range(0.4, 0.7, 1.3)
"""[mm] filler that stays on, as a mean over the whole area. Common practice; spread 1 : 3 like the hours."""

FILLER_KG_L = 0.9
"""[kg/l] epoxy filler as mixed, 0.6 light to 1.2 dense. Common practice; the product's sheet rules."""

SANDED_AWAY = Range(1.15, 1.25, 1.35)
"""[-] filler spread over filler that stays. Common practice."""

DISCS_A_M2 = Range(0.3, 0.5, 0.8)
"""[discs/m2] sanding discs of 150 mm for one cycle of fill and sand. Common practice."""

CYCLES = Range(2.0, 3.0, 4.0)
"""[-] cycles of fill and sand. Common practice."""

TIE_M2_L = Range(6.0, 8.0, 10.0)
ANTIFOUL_M2_L = Range(8.0, 10.0, 12.0)
"""[m2/l] what a litre of tie coat or antifoul covers, losses included. Common practice; the product's sheet
rules."""


class Store(NamedTuple):
    """Something used up: name, unit ("" = pieces), how much, a sentence, and where the figure comes from."""

    name: str
    unit: str
    amount: Range
    says: str
    source: str


def stores_for(
    kind: str,
    areas: Mapping[str, Range],
    counts: Mapping[str, float] | None = None,
    *,
    sheet: CoatingSheet = GENERIC,
    hardness: str = "usual",
) -> list[Store]:
    """What a stage of this kind uses up; nothing for kinds that use nothing worth counting.

    `areas`: "peel", "coat", "antifoul" -> [m2]; `counts`: those of `labour.COUNTS`, where known; `sheet` of
    the epoxy; `hardness` one of `HARDNESS`.

    Raises:
        ValueError: an unknown kind, count or hardness, or an area the stage needs and is not given.
    """
    norms_of(kind)
    known = known_counts(counts)
    if kind == "peel":
        return [blades(_needed(areas, "peel"), hardness, known["second_passes"])]
    if kind == "blast":
        return [_by_area("blasting abrasive", "kg", _needed(areas, "peel"), GRIT_KG_M2, "a light blast")]
    if kind == "laminate":
        wet_out = known["wet_outs"]
        made = [resin(_needed(areas, "coat"), wet_out, sheet, ground="peeled")] if wet_out.high else []
        return [*made, *_laminate(areas, known["layers"])] if known["layers"].high else made
    if kind == "fair":
        return [filler(_needed(areas, "coat")), discs(_needed(areas, "coat"))]
    if kind == "coat":
        return [resin(_needed(areas, "coat"), known["coats"], sheet)]
    if kind == "antifoul":
        return antifoul(_needed(areas, "antifoul"), known["antifoul_coats"])
    return []


def blades(peel_m2: Range, hardness: str = "usual", second_passes: Range = ONCE_OVER) -> Store:
    """Two-edged blades [pairs] for the area to peel [m2], once over and `second_passes` [-] more.

    Raises:
        ValueError: a hardness that is not one of `HARDNESS`.
    """
    if hardness not in HARDNESS:
        raise ValueError(f"There is no hardness “{hardness}”; there are {', '.join(HARDNESS)}.")
    passes = Range(1.0, 1.0, 1.0).plus(second_passes)
    pairs = _by(_by(_by(peel_m2, PAIRS_A_M2), HARDNESS[hardness]), passes)
    how = "old antifouling left on" if hardness == "antifouled" else f"{hardness} gelcoat"
    return _store("two-edged blades", "pairs", pairs, how, COMMON + ", no source")


def resin(coat_m2: Range, coats: Range, sheet: CoatingSheet = GENERIC, ground: str = "faired") -> Store:
    """Epoxy [l] for so many coats [-] on the area to coat [m2], at the sheet's solids and film.

    `ground` says what is lost: "faired", or "peeled" for a wet-out on open laminate.
    """
    loss = film.LOSS[ground]
    litres = Range(
        *(
            film.litres(area, sheet.film_um, 1, sheet.solids_pct, lost) * times
            for area, lost, times in zip(coat_m2, loss, coats, strict=True)
        )
    )
    how = f"{_span(coats)} × {sheet.film_um:.0f} µm dry, {sheet.solids_pct:.0f} % solids, losses included"
    return _store("wet-out epoxy" if ground == "peeled" else "epoxy", "l", litres, how, sheet.source)


def filler(coat_m2: Range, spread_mm: Range = FILL_MM, kg_l: float = FILLER_KG_L) -> Store:
    """Epoxy filler [kg] for the area to coat [m2] at a mean `spread_mm` [mm] that stays on it."""
    # 1 mm on 1 m2 is 1 l.
    kilos = _by(_by(coat_m2, spread_mm), SANDED_AWAY).times(kg_l)
    how = f"{_span(spread_mm)} mm over all, sanding away included"
    return _store("filler", "kg", kilos, how, COMMON)


def discs(coat_m2: Range, cycles: Range = CYCLES) -> Store:
    """Sanding discs [-] for so many cycles [-] of fill and sand on the area to coat [m2]."""
    amount = _by(_by(coat_m2, DISCS_A_M2), cycles)
    return _store("sanding discs", "", amount, f"150 mm, {_span(cycles)} cycles", COMMON)


def antifoul(antifoul_m2: Range, coats: Range) -> list[Store]:
    """Tie coat and antifoul [l] for the area to antifoul [m2]; the first of `coats` [-] is the tie coat."""
    tie = Range(*(min(number, 1.0) for number in coats))
    rest = Range(*(number - first for number, first in zip(coats, tie, strict=True)))
    named = (("tie coat", tie, TIE_M2_L), ("antifoul", rest, ANTIFOUL_M2_L))
    return [
        _store(name, "l", _by(_by(antifoul_m2, number), _inverse(covers)), _coats(number), COMMON)
        for name, number, covers in named
        if number.high > 0
    ]


def whole(amount: Range, pack: float = 1.0) -> Range:
    """So many whole packs of `pack` units each [-]: what has to be bought.

    Raises:
        ValueError: a pack that holds nothing.
    """
    if not pack > 0:
        raise ValueError("A pack holds more than nothing; give its size.")
    # A pack is not opened for a rounding error.
    return Range(*(float(ceil(value / pack - 1e-9)) for value in amount))


def _laminate(areas: Mapping[str, Range], layers: Range) -> list[Store]:
    peel = _by(_needed(areas, "peel"), layers)
    how = f"{_span(layers)} layer{'' if layers.high == 1 else 's'}"
    return [
        _by_area("laminating resin", "kg", peel, LAMINATING_KG_M2, how),
        _by_area("glass", "m²", peel, GLASS_OVERLAP, f"{how}, overlaps included"),
    ]


def _needed(areas: Mapping[str, Range], name: str) -> Range:
    if name not in areas:
        raise ValueError(f"This stage is counted by the area to {name}; give it.")
    return areas[name]


def _by_area(name: str, unit: str, m2: Range, per_m2: Range, how: str) -> Store:
    return _store(name, unit, _by(m2, per_m2), how, COMMON)


def _store(name: str, unit: str, amount: Range, how: str, source: str) -> Store:
    of = f"{unit} of " if unit else ""
    says = f"{amount.low:.3g} to {amount.high:.3g} {of}{name}, mostly {amount.likely:.3g} ({how})."
    return Store(name, unit, amount, says, source)


def _by(one: Range, other: Range) -> Range:
    """Two ranges multiplied, low by low and high by high."""
    return Range(one.low * other.low, one.likely * other.likely, one.high * other.high)


def _inverse(covers: Range) -> Range:
    """Litres a square metre from square metres a litre: what covers least uses most."""
    return Range(1 / covers.high, 1 / covers.likely, 1 / covers.low)


def _coats(number: Range) -> str:
    return f"{_span(number)} coat{'' if number.high == 1 else 's'}"


def _span(number: Range) -> str:
    return f"{number.low:g}" if number.low == number.high else f"{number.low:g} to {number.high:g}"
