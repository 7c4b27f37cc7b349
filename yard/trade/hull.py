"""Areas and loads of a hull from what is written down about her, or from girths measured on her.

Three areas, never one: peel (the GRP of the body, the band above the waterline and a moulded keel), coat (the
same and the rudder), antifoul (all, a metal keel with it). So peel <= coat <= antifoul.
"""

from collections.abc import Mapping, Sequence
from math import ceil
from typing import NamedTuple

from yard.trade.appendages import MEASURED, band_m2, keel_m2, rudder_m2
from yard.trade.dims import SEA_T_M3, Dims, check_dims, check_girths, check_measured
from yard.trade.ranges import Range
from yard.trade.wetted import Point, delft, denny_mumford, in_delft_range, simpson_m2, trade_rule

DECLARED_FACTOR = 1.20
"""[-] planned load over declared displacement until she is weighed at lift-out: stores, water, growth.
Common practice; 1.15 to 1.25, changed in the code only."""

MIDSHIP = 0.72
"""[-] midship section coefficient of a cruising yacht's canoe body, 0.65 to 0.79; its cube root counts, so it
moves the area by 3 per cent at most. From memory; changed in the code only."""

BLOCK = 0.38
"""[-] block coefficient of a canoe body, by which a canoe draught that is not known is reckoned from the
displacement: 0.36 to 0.42 in four typical hulls. Common practice; changed in the code only."""

BWL_SHARE = 0.88
"""[-] waterline beam over greatest beam where not known, 0.82 to 0.94. Common practice."""

LWL_SHARE = {"motor": 0.88, "multihull": 0.93}
LWL_SHARE_SAIL = 0.84
"""[-] waterline length over length where not known, 0.78 to 0.92 for a sailing yacht, newer boats longer.
Common practice."""

BODY_SHARE = {"fin": 0.96, "long": 0.88, "bilge": 0.95, "lifting": 0.97, "none": 1.0}
"""[-] displaced volume of the canoe body over all of it, by keel; 0.85 to 1.0. Common practice; its square
root counts."""

SPREAD = {"measured": MEASURED, "delft": 0.10, "mumford": 0.15}
SPREAD_ESTIMATED = 0.05
"""[-] half width of a method's answer, and what each dimension that had to be estimated adds. Both formulas
lie within 1 to 10 per cent of the exact area of mathematical hulls of a yacht's proportions."""

GIRTHS_ERROR = {5: Range(0.97, 1.02, 1.07), 3: Range(0.95, 1.03, 1.12)}
"""[-] area over what Simpson's rule makes of at least so many girths. The rule leaves out the slope along the
hull (1 to 3 per cent) and loses 2 to 7 per cent where the ends were not measured: reckoned on mathematical
hulls."""


class Area(NamedTuple):
    """An area [m2], the method it comes from, a sentence, and what the dimensions alone would give [m2].

    `method`: "measured", "measured girths", "delft", "mumford" or "trade rule".
    """

    m2: Range
    method: str
    says: str
    by_dimensions: Range


class Parts(NamedTuple):
    """What the areas are put together from [m2]: body below the waterline, keels, rudder, band above it."""

    body: Range
    keel: Range
    rudder: Range
    band: Range


class Areas(NamedTuple):
    """The three areas work is counted by, the parts they come from, and what had to be assumed, in words."""

    peel: Area
    coat: Area
    antifoul: Area
    parts: Parts
    assumed: tuple[str, ...]


class _Shape(NamedTuple):
    """The dimensions, those not known put in by rule, and how many there were of these."""

    lwl: float
    bwl: float
    canoe: float
    estimated: tuple[str, ...]


def planned_load_kg(declared_t: float, weighed_t: float | None) -> int:
    """Load to plan a lift, a bay or a mover with [kg]: the weighed figure, else the declared one with its
    allowance."""
    return round(weighed_t * 1000) if weighed_t else ceil(declared_t * DECLARED_FACTOR * 1000)


def three_areas(
    dims: Dims,
    girths: Sequence[Point] = (),
    measured: Mapping[str, float] | None = None,
    girths_round_keel: bool | None = None,
) -> Areas:
    """The three areas of a boat, and which method each comes from.

    `girths`: (position aft of the fore end of the waterline [m], girth from waterline to waterline [m]), of
    one hull where she has two; three or more replace the dimensions, fewer are left out and said. They are
    taken round the keel (`girths_round_keel`) where it is a long one, else without keel and rudder.
    `measured`: "peel", "coat", "antifoul" -> area [m2]; each replaces all else for its area.

    Raises:
        ValueError: a dimension, girth or area that cannot be, with what to do.
    """
    typed = measured or {}
    check_dims(dims)
    check_girths(dims, girths)
    check_measured(typed)
    shape = _shape(dims)
    parts, method = _by_dimensions(dims, shape)
    assumed = shape.estimated
    by_dimensions = _sums(parts, _is_metal(dims))
    if len(girths) >= 3:
        parts, method, assumed = (
            _by_girths(dims, shape, parts, girths, girths_round_keel),
            "measured girths",
            (),
        )
    elif girths:
        assumed = (*assumed, f"{_counted(len(girths), 'girth')} left out: too few, measure five")
    keel: tuple[str, ...] = ()
    if dims.keel_is_metal is None and parts.keel.high > 0:
        keel = (f"her keel taken as {'metal' if _is_metal(dims) else 'moulded'}",)
    sums = _sums(parts, _is_metal(dims))

    def area(name: str, assumed: tuple[str, ...]) -> Area:
        return _area(sums[name], by_dimensions[name], method, typed.get(name), len(girths), assumed)

    # What her keel is made of changes nothing in what is antifouled.
    shell = (*assumed, *keel)
    return Areas(area("peel", shell), area("coat", shell), area("antifoul", assumed), parts, shell)


def _shape(dims: Dims) -> _Shape:
    """Put in by rule what is not written down."""
    estimated = []
    lwl = dims.lwl_m
    if lwl is None:
        share = LWL_SHARE.get(dims.hull_kind, LWL_SHARE_SAIL)
        lwl = share * dims.length_m
        estimated.append(f"waterline length taken as {share:g} of her length")
    bwl = dims.bwl_m
    if bwl is None:
        bwl = BWL_SHARE * dims.beam_m
        if dims.hull_kind != "multihull":
            estimated.append(f"waterline beam taken as {BWL_SHARE:g} of her beam")
    canoe = dims.canoe_draught_m
    if canoe is None:
        by_displacement = _body_volume(dims) / (BLOCK * lwl * bwl)
        # Two hulls are far narrower than her beam, so their draught is most of what is declared.
        two = dims.hull_kind == "multihull"
        canoe = 0.9 * dims.draught_m if two else min(by_displacement, 0.9 * dims.draught_m)
        estimated.append(
            f"canoe draught taken as {canoe:.2f} m {'' if two else 'from her displacement'}".rstrip()
        )
    return _Shape(lwl, bwl, canoe, tuple(estimated))


def _body_volume(dims: Dims) -> float:
    """Displaced volume of the canoe body [m3]."""
    return dims.displacement_t / SEA_T_M3 * BODY_SHARE.get(dims.keel_kind, BODY_SHARE["fin"])


def _by_dimensions(dims: Dims, shape: _Shape) -> tuple[Parts, str]:
    """The parts from the dimensions, and the method of the body.

    A formula needs two of waterline length, waterline beam and canoe draught written down; with less the
    trade's rule is as good. Two hulls have only Denny and Mumford's formula, which needs no beam.
    """
    keel, rudder = keel_m2(dims, shape.lwl, shape.canoe), rudder_m2(dims, shape.lwl)
    band = band_m2(dims, shape.lwl)
    guesses = len(shape.estimated)
    if dims.hulls == 1 and (dims.lwl_m is None or guesses > 1):
        rule = "motor" if dims.hull_kind == "motor" else dims.keel_kind
        total = trade_rule(rule, shape.lwl, dims.beam_m, dims.draught_m)
        if dims.lwl_m is None:
            total = Range(
                total.low * (1 - SPREAD_ESTIMATED), total.likely, total.high * (1 + SPREAD_ESTIMATED)
            )
        # The rule holds the appendages in it; a queer boat keeps at least half for her body.
        body = _less(total, min(keel.likely + rudder.likely, total.low / 2))
        return Parts(body, keel, rudder, band), "trade rule"
    volume = _body_volume(dims)
    sailing = dims.hull_kind not in ("motor", "multihull")
    if sailing and in_delft_range(shape.lwl, shape.bwl, shape.canoe, MIDSHIP):
        area, method = delft(shape.lwl, shape.bwl, shape.canoe, volume, MIDSHIP), "delft"
    else:
        area, method = denny_mumford(shape.lwl, shape.canoe, volume, dims.hulls), "mumford"
    return Parts(_about(area, SPREAD[method] + SPREAD_ESTIMATED * guesses), keel, rudder, band), method


def _is_metal(dims: Dims) -> bool:
    """Whether her keel is one that is never peeled."""
    return dims.keel_kind != "long" if dims.keel_is_metal is None else dims.keel_is_metal


def _by_girths(
    dims: Dims, shape: _Shape, parts: Parts, girths: Sequence[Point], round_keel: bool | None
) -> Parts:
    """The parts with the body from girths; where the tape went round the keel too, the keel is in them."""
    error = GIRTHS_ERROR[5 if len(girths) >= 5 else 3]
    body = error.times(dims.hulls * simpson_m2(with_ends(girths, shape.lwl, dims.hull_kind)))
    if dims.keel_kind == "long" if round_keel is None else round_keel:
        keel = min(parts.keel.likely, body.low / 2)
        return parts._replace(body=_less(body, keel), keel=Range(keel, keel, keel))
    return parts._replace(body=body)


def with_ends(girths: Sequence[Point], lwl_m: float, hull_kind: str) -> list[Point]:
    """The girths in order, with both ends of the waterline: no girth at the stem nor aft unless measured.

    A motor boat carries her last girth to the transom.
    """
    rows = sorted(girths)
    if rows[0][0] > 0:
        rows.insert(0, (0.0, 0.0))
    if rows[-1][0] < lwl_m:
        rows.append((lwl_m, rows[-1][1] if hull_kind == "motor" else 0.0))
    return rows


def _sums(parts: Parts, keel_is_metal: bool) -> dict[str, Range]:
    """The three areas from the parts; a metal keel is antifouled only."""
    shell = parts.body.plus(parts.band)
    peel = shell if keel_is_metal else shell.plus(parts.keel)
    coat = peel.plus(parts.rudder)
    return {"peel": peel, "coat": coat, "antifoul": coat.plus(parts.keel) if keel_is_metal else coat}


ADVICE = {
    "measured": "",
    "measured girths": "",
    "delft": "measure five girths to know better",
    "mumford": "measure five girths to know better",
    "trade rule": "write down her waterline length, waterline beam and canoe draught, or measure five girths",
}
HOW = {
    "measured": "as measured",
    "delft": "Delft formula from her dimensions",
    "mumford": "Denny and Mumford's formula from her dimensions",
    "trade rule": "the trade's rule from length, beam and draught",
}


def _area(
    m2: Range, by_dimensions: Range, method: str, typed: float | None, girths: int, assumed: tuple[str, ...]
) -> Area:
    """One area with its sentence; a typed one replaces what was reckoned, which is still said."""
    if typed is not None:
        m2, method, assumed = _about(typed, SPREAD["measured"]), "measured", ()
    how = HOW.get(method) or f"from {_counted(girths, 'measured girth')}"
    if method.startswith("measured"):
        how += f" (her dimensions alone would give {_digits(by_dimensions.likely)} m²)"
    says = f"{in_words(m2)}, {'; '.join(part for part in (how, *assumed, ADVICE[method]) if part)}."
    return Area(m2, method, says, by_dimensions)


def in_words(m2: Range) -> str:
    """An area as "18 m² ± 10 %"; as "18 m² (15 to 24)" where it reaches further to one side."""
    if m2.likely == 0:
        return "0 m²"
    up, down = (100 * abs(end / m2.likely - 1) for end in (m2.high, m2.low))
    if abs(up - down) > 5:
        return f"{_digits(m2.likely)} m² ({_digits(m2.low)} to {_digits(m2.high)})"
    return f"{_digits(m2.likely)} m² ± {max(up, down):.0f} %"


def _digits(value: float) -> str:
    """No more digits than are known."""
    return f"{value:.0f}" if value >= 10 else f"{value:.1f}"


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _about(value: float, share: float) -> Range:
    """A value give or take a share of it."""
    return Range(value * (1 - share), value, value * (1 + share))


def _less(whole: Range, part: float) -> Range:
    """A range with a fixed part taken off."""
    return Range(whole.low - part, whole.likely - part, whole.high - part)
