"""Areas and loads of a hull from what is written down about her."""

from math import ceil

DECLARED_FACTOR = 1.20
"""[-] planned load over declared displacement until she is weighed at lift-out: stores, water, growth.
Common practice;
1.15 to 1.25, changed in the code only."""

SQUARE_M_PER_BOX = {"fin": 0.5, "long": 0.75, "bilge": 0.65, "lifting": 0.6, "motor": 1.0}
"""[-] share of waterline length x (beam + draught) that is wetted, by keel; appendages included, plus or
minus 15 to 20 per cent.
Rule of thumb of the trade, from memory; bilge and lifting keels put between by common practice."""

PEEL_SHARE = 0.85
"""[-] peeled area over wetted area: metal keels are never peeled, a band above the waterline is; 0.7 to 1.0.
Common practice."""


def planned_load_kg(declared_t: float, weighed_t: float | None) -> int:
    """Load to plan a lift, a bay or a mover with [kg]: the weighed figure, else the declared one with its
    allowance."""
    return round(weighed_t * 1000) if weighed_t else ceil(declared_t * DECLARED_FACTOR * 1000)


def wetted_area_m2(keel_kind: str, lwl_m: float, beam_m: float, draught_m: float) -> float:
    """Wetted area [m2], appendages included, by the trade's rule; an unknown keel counts as a fin keel."""
    return SQUARE_M_PER_BOX.get(keel_kind, SQUARE_M_PER_BOX["fin"]) * lwl_m * (beam_m + draught_m)


def areas_m2(
    wetted_m2: float, *, peel: float | None, coat: float | None, antifoul: float | None
) -> dict[str, float]:
    """The three areas [m2] that work is counted by; a measured one (not None) is taken before the rule."""
    return {
        "peel": peel or wetted_m2 * PEEL_SHARE,
        "coat": coat or wetted_m2 * PEEL_SHARE,
        "antifoul": antifoul or wetted_m2,
    }
