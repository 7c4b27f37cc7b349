"""Swaps, part of rule 2, added lazily: cycles that a solution shows are counted in the next model.

Two kinds. A *ring* goes through places that hold one boat each, and held no more when the axis started: they
are full both sides whenever the ring is there, so it is counted for every slot at once. In a *crowd* a pool
(or an overfull place) is part of the cycle, and whether it is full depends on the others: what counts there
is that the arrows of that slot, and which of their places are full, are exactly those that were found. Exact
in the limit, since each solution either has its cycles counted or brings one that was not known.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from scheduling.engine.cost import rings, standing_out, stays_of
from scheduling.engine.problem import Problem
from scheduling.engine.rules.frame import Expr, Lit, Model
from scheduling.engine.rules.room import fits, keep_room
from scheduling.engine.schedule import Schedule


@dataclass(frozen=True, slots=True, order=True)
class Arrow:
    """A step of a job that starts elsewhere than the piece before."""

    job: str
    step: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Ring:
    """A cycle through places of one boat each, whatever the slot."""

    arrows: frozenset[Arrow]


@dataclass(frozen=True, slots=True)
class Crowd:
    """Cycles in which a pool takes part, in one slot."""

    slot: int
    arrows: frozenset[Arrow]  # all of that slot
    full: frozenset[str]  # those of their places that are full both sides
    parts: frozenset[frozenset[Arrow]]  # the cycles


def cycles_of(problem: Problem, schedule: Schedule) -> set[Ring | Crowd]:
    """The swap cycles of a schedule, as they are to be counted."""
    if problem.swaps == "free":
        return set()
    index = {place.id: i for i, place in enumerate(problem.places)}
    room = {place.id: place.room for place in problem.places}
    begun = Counter(job.begun.place for job in problem.jobs if job.begun)
    arrows: dict[int, list[Arrow]] = defaultdict(list)
    stays = []
    for job in problem.jobs:
        times = schedule.jobs.get(job.id)
        stays += stays_of(job.id, times if times is not None else standing_out(problem, job))
        for one, two in pairwise(times or ()):
            if one.place != two.place:
                arrows[two.start].append(Arrow(job.id, two.step, one.place, two.place))

    def full(place: str, slot: int) -> bool:
        here = [stay for stay in stays if stay.place == place]
        return all(sum(1 for s in here if s.start <= x < s.end) >= room[place] for x in (slot - 1, slot))

    found: set[Ring | Crowd] = set()
    for slot, there in arrows.items():
        names = {arrow.before for arrow in there} & {arrow.after for arrow in there}
        if len(names) < 2:
            continue
        touched = {name for arrow in there for name in (arrow.before, arrow.after)}
        filled = frozenset(name for name in touched if full(name, slot))
        inside = [arrow for arrow in there if {arrow.before, arrow.after} <= filled]
        crowded = set()
        for part in rings([(index[arrow.before], index[arrow.after]) for arrow in inside]):
            mine = frozenset(a for a in inside if index[a.before] in part and index[a.after] in part)
            if all(room[arrow.before] == 1 and begun[arrow.before] <= 1 for arrow in mine):
                found.add(Ring(mine))
            else:
                crowded.add(mine)
        if crowded:
            found.add(Crowd(slot, frozenset(there), filled, frozenset(crowded)))
    return found


def swaps(model: Model) -> None:
    """Each cycle found so far takes one trip more, and a free place to do it."""
    for cycle in model.cycles:
        if isinstance(cycle, Ring):
            _ring(model, cycle)
        else:
            _crowd(model, cycle)


def _ring(model: Model, ring: Ring) -> None:
    ends = [_arrow(model, arrow) for arrow in sorted(ring.arrows)]
    first = ends[0][0]
    ways = [lit.negated() for _, lit in ends]
    for slot, _ in ends[1:]:
        ways += _elsewhen(model, first, slot)
    model.cp.add_bool_or([*ways, _swap(model, ring.arrows, first)])


def _crowd(model: Model, crowd: Crowd) -> None:
    ways: list[Lit] = []
    for arrow in crowd.arrows:
        slot, lit = _arrow(model, arrow)
        ways += [lit.negated(), *_elsewhen(model, slot, crowd.slot)]
    known = {(arrow.job, arrow.step) for arrow in crowd.arrows}
    for free in model.jobs:
        for piece in free.pieces[1:]:
            if piece.step is not None and (free.job.id, piece.step.id) not in known:
                also = model.new_lit()
                model.cp.add_implication(also, piece.moved)
                model.need(piece.start == crowd.slot, also)
                ways.append(also)
    for name in sorted({name for arrow in crowd.arrows for name in (arrow.before, arrow.after)}):
        counts = [_standing(model, name, slot) for slot in (crowd.slot - 1, crowd.slot)]
        room = model.places[name].room
        other = [model.new_lit()] if name not in crowd.full else [model.new_lit() for _ in counts]
        for i, count in enumerate(counts):
            if name in crowd.full:
                model.need(count <= room - 1, other[i])
            else:
                model.need(count >= room, other[0])
        ways += other
    for part in sorted(crowd.parts, key=sorted):
        model.cp.add_bool_or([*ways, _swap(model, part, crowd.slot)])


def _swap(model: Model, arrows: Iterable[Arrow], slot: Expr) -> Lit:
    """A literal: the trip is made and paid, and a place is free in that slot for one of the boats."""
    swap = model.new_lit()
    model.trips.append((slot, 1, swap))
    model.costs["moves"].append(model.problem.move_price * swap)
    ring = {arrow.before for arrow in arrows}
    names = {arrow.job for arrow in arrows}
    boats = [job for job in model.problem.jobs if job.id in names]
    aside = []
    for place in model.problem.places:
        if place.lane is None and place.id not in ring and any(fits(boat.size, place) for boat in boats):
            lit = model.new_lit()
            shut = {x for start, end in place.closed for x in range(start, end)}
            model.within(slot, [x for x in range(model.slots) if x not in shut], lit)
            keep_room(model, place, [(slot, lit)])
            aside.append(lit)
    model.cp.add_bool_or([swap.negated(), *aside])
    return swap


def _elsewhen(model: Model, one: Expr, other: Expr) -> Iterator[Lit]:
    """Literals of which none can hold where the two slots are one."""
    for apart in (one <= other - 1, one >= other + 1):
        lit = model.new_lit()
        model.need(apart, lit)
        yield lit


def _arrow(model: Model, arrow: Arrow) -> tuple[Expr, Lit]:
    """(slot, literal) of an arrow."""
    for free in model.jobs:
        if free.job.id == arrow.job:
            for before, piece in pairwise(free.pieces):
                if piece.step is not None and piece.step.id == arrow.step:
                    here, there = model.at(before, arrow.before), model.at(piece, arrow.after)
                    return piece.start, model.both(here, there)
    fixed = next(p for p in model.fixed if (p.job.id, p.step) == (arrow.job, arrow.step))
    return fixed.start, model.true


def _standing(model: Model, place: str, slot: int) -> Expr:
    """How many stand in `place` in `slot`; before the axis, how many stood there when it started."""
    if slot < 0:
        return sum(1 for job in model.problem.jobs if job.begun and job.begun.place == place)
    count: Expr = sum(1 for p in model.fixed if p.place.id == place and p.start <= slot < p.leaves)
    for start, leaves, lit in model.standing(place):
        here, later, gone = model.new_lit(), model.new_lit(), model.new_lit()
        model.cp.add_implication(here, lit)
        model.need(start <= slot, here)
        model.need(leaves >= slot + 1, here)
        model.need(start >= slot + 1, later)
        model.need(leaves <= slot, gone)
        model.cp.add_bool_or([here, lit.negated(), later, gone])
        count = count + here
    return count
