"""Person-hours of a stage from areas and counts: the trade's norms, each with its range.

All figures are common practice for a cruising yacht of about 10 m with some 20 m2; a yard's own norms are the
demands of its scheme's stages, and stand beside these.
"""

from collections.abc import Mapping
from math import isfinite
from typing import NamedTuple

from yard.trade.ranges import Doubt, Range

COMMON = "common practice"
AREAS = ("peel", "coat", "antifoul")


class Norm(NamedTuple):
    """One part of a stage's work: `people` x `hours` [h each], for every m2 of `area` ("" = not by area), for
    every one of `each`, a name of `COUNTS` ("" = once), and where the figure comes from."""

    kind: str
    part: str
    area: str
    each: str
    people: int
    hours: Range
    source: str

    @property
    def unit(self) -> str:
        """What the person-hours are counted by, in words."""
        per = [f"m² to {self.area}"] if self.area else []
        per += [COUNTS[self.each].one] if self.each else []
        return "person-hours" + (f" per {' and '.join(per)}" if per else "")

    @property
    def person_hours(self) -> Range:
        """Person-hours in that unit."""
        return self.hours.times(self.people)


class Count(NamedTuple):
    """Something that is counted on a boat or in a stage: one of it in words, how many mostly, a source."""

    one: str
    mostly: Range
    source: str


class PartHours(NamedTuple):
    """A part of a stage's work and its person-hours [h]."""

    part: str
    hours: Range


class KindNorm(NamedTuple):
    """A stage kind's norms summed as a yard writes its own: person-hours once, and per m2 of each area."""

    kind: str
    fixed: Range
    per_m2: Mapping[str, Range]
    says: str
    source: str


class Beside(NamedTuple):
    """The yard's hours beside the trade's [h]: whether they lie within, and a sentence."""

    within: bool
    trade: Range
    says: str


NONE = Range(0.0, 0.0, 0.0)
ONE = Range(1.0, 1.0, 1.0)

COUNTS: Mapping[str, Count] = {
    "fittings": Count("through-hull fitting", Range(8, 8, 8), COMMON),
    "seacocks": Count("sea-cock", Range(4, 4, 4), COMMON),
    "rudders": Count("rudder", ONE, COMMON),
    "old_antifouling": Count("stripping of old antifouling", NONE, "only where it is counted"),
    "second_passes": Count("second pass", Range(0, 0.25, 1), COMMON + ": one hull in four"),
    "washes": Count("wash", Range(3, 4, 6), COMMON + "; the number stays open till readings agree"),
    "tents": Count("tent", ONE, COMMON),
    "rounds": Count("round of moisture readings", Range(6, 9, 14), COMMON + ": weekly"),
    "layers": Count("layer of laminate", NONE, "only where the peel went deep"),
    "wet_outs": Count("wet-out", ONE, COMMON),
    "coats": Count("coat", Range(4, 5, 6), COMMON),
    "first_coats": Count("first or second coat", Range(2, 2, 2), "counted from the coats"),
    "later_coats": Count("coat after the second", Range(2, 3, 4), "counted from the coats"),
    "antifoul_coats": Count("tie coat or coat of antifoul", Range(3, 3, 3), COMMON + ": a tie coat and two"),
}
"""How many of each there mostly are [-], taken where a boat's own are not given. A yard gives its own."""

FIRST_COATS = 2
"""[-] coats that go on rougher ground and take longer. Common practice."""

NORMS: tuple[Norm, ...] = (
    Norm("lift", "lift, jet-wash, chock", "", "", 2, Range(2, 2.5, 3), COMMON),
    Norm("strip", "fittings, log and anodes off", "", "fittings", 1, Range(0.5, 0.75, 1.25), COMMON),
    Norm(
        "strip",
        "seized sea-cocks freed or cut out",
        "",
        "seacocks",
        1,
        Range(0, 0.4, 2),
        COMMON + ": one in five is seized, 1 to 4 h each",
    ),
    Norm("strip", "rudder dropped in the slings", "", "rudders", 1, Range(4, 6, 8), COMMON),
    Norm("strip", "old antifouling off", "antifoul", "old_antifouling", 1, Range(0.3, 0.45, 0.6), COMMON),
    Norm("survey", "look and decide the depth", "", "", 1, Range(1.5, 2, 3), COMMON),
    Norm("peel", "set-up, test patch, sheets", "", "", 2, Range(2, 3, 4), COMMON),
    Norm(
        "peel",
        "cut clear panels",
        "peel",
        "",
        2,
        Range(0.10, 0.13, 0.17),
        COMMON + ": some ten square metres an hour at best, operator and a mate",
    ),
    Norm("peel", "props, edges, blade turns", "peel", "", 2, Range(0.10, 0.145, 0.18), COMMON),
    Norm("peel", "hand work at fittings, keel and waterline", "", "", 1, Range(6, 8, 10), COMMON),
    Norm("peel", "second pass", "peel", "second_passes", 2, Range(0.2, 0.275, 0.35), COMMON),
    Norm("blast", "sheet, collect, dispose", "", "", 1, Range(4, 6, 8), COMMON),
    Norm("blast", "blast lightly", "peel", "", 1, Range(0.1, 0.15, 0.2), COMMON + "; a contractor's day"),
    Norm("wash", "set up and clear away", "", "washes", 1, Range(0.75, 1, 1.25), COMMON),
    Norm("wash", "hot wash", "peel", "washes", 1, Range(0.05, 0.075, 0.1), COMMON),
    Norm("dry", "tent and heaters", "", "tents", 1, Range(6, 8, 10), COMMON),
    Norm("dry", "round of readings", "", "rounds", 1, Range(0.5, 0.6, 0.75), COMMON + ": 24 spots"),
    Norm("laminate", "laminate", "peel", "layers", 1, Range(1, 1.5, 2), COMMON),
    Norm("laminate", "wet-out", "coat", "wet_outs", 1, Range(0.12, 0.15, 0.18), COMMON),
    Norm("fair", "fill and sand, two to four cycles", "coat", "", 1, Range(0.8, 1.5, 2.5), COMMON),
    Norm("coat", "mask and unmask", "", "", 1, Range(3, 4, 5), COMMON),
    Norm("coat", "mix and clean, painter and mate", "", "coats", 2, Range(0.4, 0.5, 0.6), COMMON),
    Norm("coat", "first two coats", "coat", "first_coats", 1, Range(0.12, 0.15, 0.18), COMMON),
    Norm("coat", "later coats", "coat", "later_coats", 1, Range(0.08, 0.1, 0.12), COMMON),
    Norm("antifoul", "set up and clean", "", "", 1, Range(0.75, 1, 1.5), COMMON),
    Norm(
        "antifoul", "tie coat and antifoul", "antifoul", "antifoul_coats", 1, Range(0.06, 0.08, 0.1), COMMON
    ),
    Norm("refit", "fittings, log and anodes on", "", "fittings", 1, Range(0.5, 0.75, 1.25), COMMON),
    Norm("refit", "rudder hung", "", "rudders", 1, Range(4, 6, 8), COMMON),
    Norm("relaunch", "launch, look for leaks in the slings", "", "", 2, Range(1.75, 2, 2.5), COMMON),
)
"""The trade's norms. A yard changes its own in its scheme; these are changed in the code only."""

WITHOUT = ("cure", "mast", "wait", "other")
"""Kinds of stage that the trade has no norm for."""


def hours_for(
    kind: str, areas: Mapping[str, Range], counts: Mapping[str, float] | None = None
) -> list[PartHours]:
    """Person-hours [h] of each part of a stage of this kind; none for the kinds of `WITHOUT`.

    `areas`: "peel", "coat", "antifoul" -> [m2]; `counts`: names of `COUNTS` -> how many [-], where known.

    Raises:
        ValueError: an unknown kind or count, an area that the stage needs and is not given, or a value
            below zero.
    """
    known = known_counts(counts)
    return [
        PartHours(norm.part, _by(_by(norm.person_hours, known.get(norm.each, ONE)), _of(norm, areas)))
        for norm in norms_of(kind)
    ]


def hours_by_stage(kind: str, areas: Mapping[str, Range], counts: Mapping[str, float] | None = None) -> Range:
    """All person-hours [h] of a stage of this kind; arguments and errors as in `hours_for`."""
    total = NONE
    for part in hours_for(kind, areas, counts):
        total = total.plus(part.hours)
    return total


def norms_of(kind: str) -> tuple[Norm, ...]:
    """The norms of a kind of stage.

    Raises:
        ValueError: naming the kinds there are.
    """
    norms = tuple(norm for norm in NORMS if norm.kind == kind)
    if not norms and kind not in WITHOUT:
        kinds = ", ".join(dict.fromkeys([norm.kind for norm in NORMS] + list(WITHOUT)))
        raise ValueError(f"There is no stage kind “{kind}”; there are {kinds}.")
    return norms


def norm_for(kind: str, counts: Mapping[str, float] | None = None) -> KindNorm | None:
    """The trade's norm for a kind of stage, written as a yard writes its own; None where the trade has none.

    Errors as in `hours_for`.
    """
    norms = norms_of(kind)
    if not norms:
        return None
    known = known_counts(counts)
    fixed, per_m2 = NONE, dict[str, Range]()
    for norm in norms:
        hours = _by(norm.person_hours, known.get(norm.each, ONE))
        if norm.area:
            per_m2[norm.area] = per_m2.get(norm.area, NONE).plus(hours)
        else:
            fixed = fixed.plus(hours)
    per_m2 = {area: hours for area, hours in per_m2.items() if hours.high > 0}
    parts = [f"{_span(fixed)} person-hours"] if fixed.high > 0 else []
    parts += [f"{_span(hours)} per m² to {area}" for area, hours in per_m2.items()]
    sources = dict.fromkeys(norm.source for norm in norms)
    return KindNorm(kind, fixed, per_m2, f"The trade reckons {' and '.join(parts)}.", "; ".join(sources))


def beside(
    yard_hours: float, kind: str, areas: Mapping[str, Range], counts: Mapping[str, float] | None = None
) -> Beside:
    """The yard's own person-hours [h] for a stage beside the trade's; errors as in `hours_for`."""
    trade = hours_by_stage(kind, areas, counts)
    if trade.high == 0:
        return Beside(True, trade, f"The yard reckons {yard_hours:g} hours; the trade has no norm for it.")
    within = trade.low <= yard_hours <= trade.high
    how = "within that" if within else "less than that" if yard_hours < trade.low else "more than that"
    return Beside(
        within,
        trade,
        f"The trade reckons {_span(trade)} person-hours, mostly {_digits(trade.likely)};"
        f" the yard's {_digits(yard_hours)} are {how}.",
    )


def duration_d(hours: Range, people: int, hours_a_day: float) -> Range:
    """Working days [d] that person-hours [h] take so many people of `hours_a_day` [h] each.

    Raises:
        ValueError: nobody, or a day that has no hours or more than 24.
    """
    if people < 1:
        raise ValueError("Work needs one person at least.")
    if not 0 < hours_a_day <= 24:
        raise ValueError(f"A working day of {hours_a_day:g} hours cannot be; give one up to 24.")
    return hours.times(1 / (people * hours_a_day))


def doubts_about_counts(counts: Mapping[str, float]) -> list[Doubt]:
    """Counts far above what boats have: more than three times the most there mostly are."""
    return [
        Doubt(name, f"{value:g} of a {COUNTS[name].one}? Mostly there are up to {most:g}. Say which.")
        for name, value in counts.items()
        if value > 3 * (most := max(COUNTS[name].mostly.high, 1.0))
    ]


def known_counts(counts: Mapping[str, float] | None) -> dict[str, Range]:
    """All counts of `COUNTS`: those given, and what there mostly is of the others.

    Raises:
        ValueError: a count that is not one of them, or not a number from zero up.
    """
    given = dict(counts or {})
    for name, value in given.items():
        if name not in COUNTS:
            raise ValueError(f"There is no count “{name}”; there are {', '.join(COUNTS)}.")
        if not isfinite(value) or value < 0:
            raise ValueError(f"{value:g} {name.replace('_', ' ')} cannot be; give a number from nought up.")
    if "coats" in given:
        given.setdefault("first_coats", min(given["coats"], FIRST_COATS))
        given.setdefault("later_coats", given["coats"] - given["first_coats"])
    if given.get("later_coats", 0) < 0:
        raise ValueError("There are more first coats than coats.")
    mostly = {name: count.mostly for name, count in COUNTS.items()}
    return mostly | {name: Range(value, value, value) for name, value in given.items()}


def _of(norm: Norm, areas: Mapping[str, Range]) -> Range:
    """The area a norm is counted by [m2]; one where it is not by area."""
    if not norm.area:
        return ONE
    if norm.area not in areas:
        raise ValueError(f"“{norm.part}” is counted by the area to {norm.area}; give it.")
    area = areas[norm.area]
    if not 0 <= area.low <= area.likely <= area.high:
        raise ValueError(f"The area to {norm.area} must run from low to high, from nought up.")
    return area


def _by(one: Range, other: Range) -> Range:
    """Two ranges multiplied, low by low and high by high."""
    return Range(one.low * other.low, one.likely * other.likely, one.high * other.high)


def _span(hours: Range) -> str:
    return f"{_digits(hours.low)} to {_digits(hours.high)}"


def _digits(hours: float) -> str:
    """No more digits than are known."""
    return f"{hours:.0f}" if hours >= 10 else f"{hours:.2g}"
