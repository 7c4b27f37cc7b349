"""A draft against the posted plan, and the boats that need the manager."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from scheduling.engine.closeness import Closeness, closeness
from scheduling.loading.winter import BoatWinter, Winter
from scheduling.models import Plan, Reasons
from scheduling.pages.reasons import Chain, Reader, chain_of
from scheduling.pages.sentences import waiting_for
from scheduling.pages.strips import drift

KINDS = {
    "late": "being late",
    "left_out": "boats left out",
    "moves": "moves",
    "shunts": "boats pulled out of lanes",
    "places": "bay days",
    "heat": "tents and heat",
    "extra": "overtime and outsiders",
    "breaks": "broken coating windows",
    "changes": "changes to the posted plan",
}
"""Kinds of cost as the manager says them."""

MOST_LINES = 80
"""Lines of chains on one page: those of the gravest boats; the page of each boat has hers."""

NO_ONE_THING = "No one bay, kit or hand more would bring her in sooner while the other boats stay as planned"
"""Said of a late boat for which lifting no rule helps."""


@dataclass(frozen=True)
class Moved:
    """A boat whose planned relaunch differs between two plans; no date means that the plan leaves her out."""

    boat: BoatWinter
    was: date | None
    now: date | None


@dataclass(frozen=True)
class CostLine:
    """One kind of cost [minor units], beside what it was."""

    says: str
    now: int
    was: int | None


@dataclass(frozen=True)
class Against:
    """A plan beside the one it would replace; `close` is what may be claimed of how good it is."""

    plan: Plan
    other: Plan | None
    moved: list[Moved]
    costs: list[CostLine]
    total: int
    was_total: int | None
    close: Closeness | None
    moves: int
    was_moves: int | None
    left_out: bool


@dataclass(frozen=True)
class Need:
    """A boat that needs a decision: a tag, a sentence, and why it is so."""

    boat: BoatWinter
    tag: str
    state: str
    says: str
    chain: Chain | None = None


def against(winter: Winter, plan: Plan, other: Plan | None) -> Against:
    """Lay a plan beside another."""
    moved = []
    for boat in winter.boats:
        was, now = boat.afloat_on(other), boat.afloat_on(plan)
        if other is not None and was != now:
            moved.append(Moved(boat, was, now))
    costs = [
        CostLine(says, int(plan.cost.get(kind, 0)), int(other.cost.get(kind, 0)) if other else None)
        for kind, says in KINDS.items()
        if plan.cost.get(kind) or (other and other.cost.get(kind))
    ]
    total = sum(int(value) for value in plan.cost.values())
    left_out = sum(plan.pk in boat.unplaced for boat in winter.boats)
    return Against(
        plan=plan,
        other=other,
        moved=moved,
        costs=costs,
        total=total,
        was_total=sum(int(value) for value in other.cost.values()) if other else None,
        close=closeness(total, plan.bound, plan.alone, left_out),
        moves=moves_in(winter, plan),
        was_moves=moves_in(winter, other) if other else None,
        left_out=left_out > 0,
    )


def moves_in(winter: Winter, plan: Plan) -> int:
    """How often a boat goes from one bay to another in a plan."""
    count = 0
    for boat in winter.boats:
        bays = [row.bay_id for row in boat.placed.get(plan.pk, []) if row.bay_id is not None]
        count += sum(1 for before, after in itertools.pairwise(bays) if before != after)
    return count


def needs(winter: Winter, plan: Plan | None) -> list[Need]:
    """Boats left out, then boats that miss their day with what keeps them, the latest first."""
    if plan is None:
        return []
    left_out, late = [], []
    for boat in winter.boats:
        if out := boat.unplaced.get(plan.pk):
            left_out.append(Need(boat, "left out", "risk", out.says))
            continue
        days = boat.late_days(plan)
        if days is not None and days > 0:
            says = plan.kept.get(str(boat.treatment.pk), {}).get("says") or NO_ONE_THING
            late.append((days, Need(boat, f"misses by {days} d", "risk", str(says))))
    late.sort(key=lambda pair: -pair[0])
    return left_out + [need for _, need in late]


def explained(reader: Reader, found: Sequence[Need], reasons: Mapping[int, Reasons]) -> list[Need]:
    """The same boats with why, from the reasons stored with the plan; whole chains as far as a page goes."""
    told, lines = [], 0
    for need in found:
        row = reasons.get(need.boat.treatment.pk)
        chain = chain_of(reader, need.boat, row.chain) if row else None
        if chain is not None:
            lines += len(chain.links)
            chain = chain if lines <= MOST_LINES else replace(chain, links=[])
        told.append(replace(need, chain=chain))
    return told


def held(winter: Winter) -> list[tuple[BoatWinter, str]]:
    """Boats that wait for somebody or something, each with for whom, the one waiting longest first."""
    found = [(boat.hold.from_on, boat, waiting_for(boat.hold)) for boat in winter.boats if boat.hold]
    return [(boat, says[:1].lower() + says[1:]) for _, boat, says in sorted(found, key=lambda one: one[0])]


def overtaken(winter: Winter, plan: Plan | None) -> list[tuple[BoatWinter, str]]:
    """Boats for which the plan is no longer true, with the reason."""
    return [(boat, why) for boat in winter.boats if (why := drift(boat, plan, winter.today))]
