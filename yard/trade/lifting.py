"""Whether a boat may be lifted: her planned load against hoist and slings, certificates, wind and width.

Every figure is shown, whichever way it goes. Nobody overrides a refusal here: only a new lift plan by the
competent person changes what is planned with, and he decides on the day whatever these figures say.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from yard.trade.gear import (
    YARD_WIND,
    Hoist,
    Line,
    SlingPair,
    Wind,
    WindLimit,
    certificate,
    leg_factor,
    wind_limit,
)
from yard.trade.hull import DECLARED_FACTOR, planned_load_kg
from yard.trade.ranges import Doubt

HOIST_SHARE = 0.85
"""[-] share of a marked safe load that is planned with. Common practice; 0.80 to 0.90, the yard's setting."""

HEAVY_SHARE = 0.60
"""[-] share of her load on the heavier pair of slings, until it is known. Common practice: never half."""

HEAVY_SHARE_MOTOR = 0.65
"""[-] the same of motor boats, whose engines stand aft. Common practice."""

SIDE_M = 0.15
"""[m] a side between her and the hoist's legs. Common practice; 0.10 to 0.25, changed in the code only."""

TOO_NEAR = 1e-6
"""[-] what rounding of figures may make of equal ones."""

PLAN = "Only a new lift plan by the competent person changes this."


@dataclass(frozen=True)
class Lift:
    """Whether she may be lifted by these figures, all of them, and one sentence."""

    allowed: bool
    figures: tuple[Line, ...]
    says: str

    @property
    def refused_by(self) -> tuple[Line, ...]:
        """The figures that refuse."""
        return tuple(line for line in self.figures if not line.holds)


def heavy_share(*, motor: bool = False, known: float | None = None) -> float:
    """Share of her load on the heavier pair [-]: the known one, else what is planned with; never half each.

    Raises:
        ValueError: for a known share that isn't above a half and below the whole.
    """
    if known is None:
        return HEAVY_SHARE_MOTOR if motor else HEAVY_SHARE
    if not 0.5 < known < 1:
        raise ValueError(
            f"A heavier share of {known:g} cannot be; write it over 0.5 and under 1, or leave it out: no "
            "hull hangs half and half."
        )
    return known


def greatest_beam_m(inside_width_m: float) -> float:
    """Widest boat [m] that goes between legs `inside_width_m` [m] apart."""
    return inside_width_m - 2 * SIDE_M


def may_lift(
    *,
    day: date,
    declared_t: float,
    weighed_t: float | None,
    beam_m: float,
    hoist: Hoist,
    slings: Sequence[SlingPair],
    share: float = HOIST_SHARE,
    motor: bool = False,
    known_share: float | None = None,
    heavy_pair: str | None = None,
    yard_wind: WindLimit = YARD_WIND,
    high_sides: bool = True,
    wind: Wind | None = None,
) -> Lift:
    """Hold a lift against everything that limits it; every figure comes back, also those that hold.

    `declared_t` and `weighed_t` are hers [t]; `share` is the yard's of what gear is marked for [-];
    `known_share` the heavier pair's of her load, if known [-], and `heavy_pair` the name of the pair it hangs
    in; else either pair must bear it. Without `wind` the limit is told, to be looked
    at on the day.

    Raises:
        ValueError: for figures that cannot be.
    """
    _sane(declared_t, weighed_t, beam_m, share, wind)
    load = planned_load_kg(declared_t, weighed_t)
    heavy = heavy_share(motor=motor, known=known_share)
    figures = [
        _hoist_line(load, declared_t, weighed_t, hoist, share),
        *_sling_lines(load, heavy, slings, share, heavy_pair),
        certificate(hoist.name, hoist.certificate_until, day),
        *(certificate(pair.name, pair.certificate_until, day) for pair in _strongest(slings)),
        _width_line(beam_m, hoist),
        *_wind_lines(wind, wind_limit(yard_wind, hoist.manual, high_sides=high_sides)),
    ]
    refusing = [line for line in figures if not line.holds]
    if refusing:
        says = f"Not to be lifted. {' '.join(line.says for line in refusing)} {PLAN}"
    else:
        warnings = " ".join(line.says for line in figures if line.warns)
        says = (
            f"These figures allow the lift of {load / 1000:.2f} t; the competent person decides. {warnings}"
        )
    return Lift(not refusing, tuple(figures), says.strip())


def doubts_about_load(declared_t: float, weighed_t: float | None) -> list[Doubt]:
    """What of her loads [t] reads like a slip: kilograms, or a weighed figure far from the declared one."""
    doubts = [
        Doubt(field, f"{tonnes:g} t? That reads like kilograms: {tonnes / 1000:.2f} t. Say which.")
        for field, tonnes in (("displacement_t", declared_t), ("weighed_t", weighed_t))
        if tonnes is not None and tonnes > 200
    ]
    if weighed_t is not None and not doubts and not 0.85 <= weighed_t / declared_t <= 1.5:
        says = (
            f"She weighed {weighed_t:g} t and was declared as {declared_t:g} t; boats mostly "
            "weigh 5 to 25 per cent more than declared. Is it her, and was the load cell set to nought?"
        )
        doubts.append(Doubt("weighed_t", says))
    return doubts


def _sane(declared_t: float, weighed_t: float | None, beam_m: float, share: float, wind: Wind | None) -> None:
    for what, value in (("declared load", declared_t), ("weighed load", weighed_t), ("beam", beam_m)):
        if value is not None and not value > 0:
            raise ValueError(f"A {what} of {value:g} cannot be; write what it is, above 0.")
    if not 0 < share <= 1:
        raise ValueError(f"A share of {share:g} of the safe load cannot be; write it like 0.85.")
    if wind is not None and not 0 <= wind.mean_kn <= wind.gust_kn:
        raise ValueError(
            f"Gusts of {wind.gust_kn:g} kn under a mean of {wind.mean_kn:g} cannot be; look at the two again."
        )


def _strongest(slings: Sequence[SlingPair]) -> list[SlingPair]:
    """The two pairs she hangs in."""
    return sorted(slings, key=_upright_kg, reverse=True)[:2]


def _upright_kg(pair: SlingPair) -> float:
    """What a pair takes at its angle [kg]: less than it is marked for, as its legs pull aslant."""
    return pair.safe_load_kg * leg_factor(0) / leg_factor(pair.angle_deg)


def _hoist_line(load: int, declared_t: float, weighed_t: float | None, hoist: Hoist, share: float) -> Line:
    limit = hoist.safe_load_kg * share
    source = (
        f"weighed {weighed_t:.2f} t"
        if weighed_t
        else f"declared {declared_t:.2f} t × {DECLARED_FACTOR:.2f} until she is weighed"
    )
    return _load_line(
        f"load on {hoist.name}",
        load,
        limit,
        f"planned load {load / 1000:.2f} t ({source})",
        f"{share:.0%} of the {hoist.name}'s {hoist.safe_load_kg / 1000:.2f} t",
    )


def _sling_lines(
    load: int, heavy: float, slings: Sequence[SlingPair], share: float, heavy_pair: str | None
) -> list[Line]:
    pairs = _strongest(slings)
    if len(pairs) < 2:
        says = f"She hangs in two pairs of slings; of the hoist's there are {len(pairs)} entered."
        return [Line("slings", False, float(len(pairs)), 2.0, "pairs", says)]
    if heavy_pair is not None and heavy_pair not in {pair.name for pair in pairs}:
        names = " or ".join(pair.name for pair in pairs)
        raise ValueError(f"“{heavy_pair}” is not a pair she hangs in; write {names}, or leave it out.")
    lines = []
    for pair in pairs:
        part = 1 - heavy if heavy_pair not in (None, pair.name) else heavy
        why = "may hang in either pair" if heavy_pair is None else "as rigged"
        aslant = (
            f" with legs {pair.angle_deg:g}° apart (× {leg_factor(pair.angle_deg):.3f} a leg)"
            if pair.angle_deg
            else ""
        )
        lines.append(
            _load_line(
                f"load on {pair.name}",
                load * part,
                _upright_kg(pair) * share,
                f"{part:.0%} of her load, {load * part / 1000:.2f} t, {why}",
                f"{share:.0%} of the {pair.name}'s {pair.safe_load_kg / 1000:.2f} t{aslant}",
            )
        )
    return lines


def _load_line(name: str, figure: float, limit: float, what: str, of: str) -> Line:
    holds = figure <= limit * (1 + TOO_NEAR)
    apart = abs(limit - figure) / 1000
    told = f"{apart:.2f} t under" if holds else f"{apart:.2f} t over"
    says = f"{what[0].upper()}{what[1:]}: {told} {of} ({limit / 1000:.2f} t)."
    return Line(name, holds, figure, limit, "kg", says)


def _width_line(beam_m: float, hoist: Hoist) -> Line:
    needs = beam_m + 2 * SIDE_M
    holds = needs <= hoist.inside_width_m + TOO_NEAR
    says = (
        f"Beam {beam_m:.2f} m and {SIDE_M:.2f} m a side need {needs:.2f} m; "
        f"the {hoist.name} is {hoist.inside_width_m:.2f} m wide inside."
    )
    return Line("width", holds, needs, hoist.inside_width_m, "m", says)


def _wind_lines(wind: Wind | None, limit: WindLimit) -> list[Line]:
    if wind is None:
        says = f"Look at the wind on the day: mean {limit.mean_kn:g} kn, gusts {limit.gust_kn:g} kn at most."
        return [Line("wind", True, 0.0, limit.gust_kn, "kn", says, warns=True)]
    return [
        Line(
            name,
            figure <= most,
            figure,
            most,
            "kn",
            f"{word} {figure:g} kn; at most {most:g} kn is lifted in.",
        )
        for name, word, figure, most in (
            ("mean wind", "Mean wind", wind.mean_kn, limit.mean_kn),
            ("gusts", "Gusts of", wind.gust_kn, limit.gust_kn),
        )
    ]
