"""The witness: which rules a schedule breaks, and what it costs, counted anew.

Written from RULES.md alone, in plain Python, one function a rule. It shares no code with the insertion, the
model or their cost function, so that a mistake in one of them can't hide in the other.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator
from itertools import combinations

from scheduling.engine.problem import Job, Place, Problem
from scheduling.engine.reading import Stay, Yard, breach, name_of, read
from scheduling.engine.schedule import COST_KINDS, Breach, Schedule
from scheduling.engine.slots import late_days, spans
from scheduling.engine.staffing import short_of, short_of_hands


def check(problem: Problem, schedule: Schedule) -> list[Breach]:
    """Every breach of the nine rules; those with `fact` are the yard's own records, not the plan's doing."""
    yard = read(problem, schedule)
    found = list(yard.unread)
    for rule in RULES:
        found.extend(rule(yard))
    return found


def cost(problem: Problem, schedule: Schedule) -> dict[str, int]:
    """The cost by kind [minor units], all of COST_KINDS; a job that can't be read counts as left out."""
    yard = read(problem, schedule)
    days, length = problem.days, spans(problem.days)
    by_kind = dict.fromkeys(COST_KINDS, 0)
    for job in problem.jobs:
        pieces = yard.placed.get(job.id)
        if pieces is None:
            by_kind["left_out"] += job.drop_price
            continue
        by_kind["late"] += job.late_price * late_days(days, job.due, pieces[-1].end)
        for before, piece in zip((None, *pieces), pieces, strict=False):
            option, step = piece.option, piece.step
            by_kind["heat"] += option.stand_price * sum(length[max(piece.start, 0) : piece.leaves])
            if step is None:
                continue
            by_kind["extra"] += option.price
            up = before is not None and before.place == piece.place and before.option.rig == option.rig
            if option.rig is not None and not up:
                by_kind["heat"] += option.rig_price
            prices = yard.table(piece).price
            by_kind["breaks"] += prices[piece.start] if prices else 0
            if step.posted and (step.posted.place, step.posted.start) != (piece.place, piece.start):
                by_kind["changes"] += problem.change_price
    for stay in yard.stays:
        if stay.job.id in yard.placed:
            days_there = sum(length[max(stay.start, 0) : stay.end])
            by_kind["places"] += yard.places[stay.place].price * days_there
    trips = sum(1 for _ in yard.trips()) + sum(1 for _ in swap_cycles(yard))
    by_kind["moves"] = problem.move_price * trips
    by_kind["shunts"] = problem.shunt_price * sum(1 for _, _, _, movable in in_the_way(yard) if movable)
    return by_kind


# --- 1. Chain ---------------------------------------------------------------------------------------------
def chain(yard: Yard) -> Iterator[Breach]:
    """Steps in order, each as long as its table says, each wait within its least and greatest."""
    for pieces in yard.placed.values():
        for before, piece in zip((None, *pieces), pieces, strict=False):
            if piece.step is None:
                continue
            finish = yard.table(piece).finish[piece.start]
            if finish is not None and finish != piece.end:
                yield breach("chain", piece, f"ends at slot {piece.end}, its table says {finish}")
            if before is None:
                continue
            wait, step = piece.start - before.end, piece.step
            if wait < step.wait_min:
                yield breach(
                    "chain", piece, f"waits {wait} slots after {before.name}, at least {step.wait_min}"
                )
            elif step.wait_max is not None and wait > step.wait_max:
                yield breach(
                    "chain", piece, f"waits {wait} slots after {before.name}, at most {step.wait_max}"
                )


# --- 2. Stand ---------------------------------------------------------------------------------------------
def stand(yard: Yard) -> Iterator[Breach]:
    """No more boats in a place than it has room for, one in each bay of a pool, and room to swap."""
    by_place = defaultdict(list)
    for stay in yard.stays:
        by_place[stay.place].append(stay)
    for name, stays in by_place.items():
        place = yard.places[name]
        yield from _too_many(yard, place, stays)
        yield from _wrong_units(yard, place, stays)
    for slot, ring, boats in swap_cycles(yard):
        if not any(_free_for_swap(yard, place, slot, ring, boats) for place in yard.problem.places):
            says = f"{yard.on(slot)}: boats swap {', '.join(sorted(ring))}, and no place is free to do it"
            yield Breach(rule="stand", job=boats[0].id, slot=slot, says=says)


def _too_many(yard: Yard, place: Place, stays: list[Stay]) -> Iterator[Breach]:
    told: set[tuple[str, int]] = set()
    for slot in range(len(yard.problem.days)):
        here = [stay for stay in stays if slot in stay.fills]
        names = {(stay.job.id, stay.start) for stay in here}
        if len(here) <= place.room or names == told:
            continue
        told = names
        fact = all(stay.begun for stay in here)
        last = max(here, key=lambda stay: (not stay.begun, stay.start))
        labels = ", ".join(name_of(stay.job) for stay in here)
        says = f"{name_of(place)} has room for {place.room} on {yard.on(slot)}, but there are {labels}"
        yield Breach(rule="stand", job=last.job.id, slot=slot, says=says, fact=fact)


def _wrong_units(yard: Yard, place: Place, stays: list[Stay]) -> Iterator[Breach]:
    named = []
    for stay in stays:
        units = sorted({piece.unit for piece in stay.pieces if piece.unit is not None})
        for unit in [unit for unit in units if unit not in place.units]:
            fact = all(piece.step is None for piece in stay.pieces if piece.unit == unit)
            says = f"{name_of(stay.job)}: {name_of(place)} has no bay {unit!r}"
            yield Breach(rule="stand", job=stay.job.id, slot=max(stay.start, 0), says=says, fact=fact)
        if len(units) > 1:
            says = f"{name_of(stay.job)} changes her bay within one stay in {name_of(place)}"
            yield Breach(rule="stand", job=stay.job.id, slot=max(stay.start, 0), says=says)
        elif units:
            named.append((stay, units[0]))
    for (one, unit), (other, same) in combinations(named, 2):
        both = range(max(one.fills.start, other.fills.start), min(one.end, other.end))
        if unit == same and both:
            says = f"{name_of(one.job)} and {name_of(other.job)} are both in {unit}"
            fact = one.begun and other.begun
            yield Breach(rule="stand", job=other.job.id, slot=both[0], says=says, fact=fact)


def swap_cycles(yard: Yard) -> Iterator[tuple[int, set[str], list[Job]]]:
    """(slot, places, boats) of each set of full places among which boats go round."""
    if yard.problem.swaps == "free":
        return
    arrows = defaultdict(list)
    for slot, before, after in yard.trips():
        arrows[slot].append((before.place, after.place, after.job))
    for slot, moves in sorted(arrows.items(), key=lambda item: item[0]):
        inside = [
            move
            for move in moves
            if _full_both_sides(yard, move[0], slot) and _full_both_sides(yard, move[1], slot)
        ]
        reach = {start: _reach(start, inside) for start, _, _ in inside}
        rings = {
            frozenset(b for b in reach[a] if a in reach.get(b, ())) for a in reach if a in reach[a]
        }  # fmt: skip
        for ring in sorted(rings, key=sorted):
            yield slot, set(ring), [job for a, b, job in inside if a in ring and b in ring]


def _reach(start: str, moves: Collection[tuple[str, str, Job]]) -> set[str]:
    found: set[str] = set()
    todo = [start]
    while todo:
        here = todo.pop()
        for a, b, _ in moves:
            if a == here and b not in found:
                found.add(b)
                todo.append(b)
    return found


def _standing(yard: Yard, place: str, slot: int) -> int:
    return sum(1 for stay in yard.stays if stay.place == place and stay.start <= slot < stay.end)


def _full_both_sides(yard: Yard, place: str, slot: int) -> bool:
    room = yard.places[place].room
    return _standing(yard, place, slot - 1) >= room and _standing(yard, place, slot) >= room


def _free_for_swap(yard: Yard, place: Place, slot: int, ring: set[str], boats: list[Job]) -> bool:
    return (
        place.lane is None
        and place.id not in ring
        and not _closed(place, slot)
        and _standing(yard, place.id, slot) < place.room
        and any(not _too_big(boat, place) for boat in boats)
    )


# --- 3. Fit -----------------------------------------------------------------------------------------------
def fit(yard: Yard) -> Iterator[Breach]:
    """No boat is bigger than her place takes; where she stood already is a fact."""
    for stay in yard.stays:
        place = yard.places[stay.place]
        for name in _too_big(stay.job, place):
            size, limit = stay.job.size[name], place.limits[name]
            says = f"{name_of(stay.job)}: {name} {size}, {name_of(place)} takes {limit}"
            yield Breach(rule="fit", job=stay.job.id, slot=max(stay.start, 0), says=says, fact=stay.begun)


def _too_big(job: Job, place: Place) -> list[str]:
    return [name for name, limit in place.limits.items() if job.size.get(name, 0) > limit]


# --- 4. Lane ----------------------------------------------------------------------------------------------
def lane(yard: Yard) -> Iterator[Breach]:
    """Nobody comes or goes behind a boat that can't be pulled out of the way."""
    for slot, mover, blocker, movable in in_the_way(yard):
        if movable:
            continue
        where = yard.places[blocker.place].label or blocker.place
        who, whom = name_of(blocker.job), name_of(mover.job)
        says = f"{who} in {where} is in the way of {whom} on {yard.on(slot)} and can't be moved then"
        over = mover.begun and all(piece.step is None for piece in mover.pieces) and slot == mover.end
        works = blocker.begun and blocker.pieces[0].end > slot
        fact = over and works and mover.job.id in yard.placed and not mover.job.steps
        yield Breach(rule="lane", job=mover.job.id, slot=slot, says=says, fact=fact)


def in_the_way(yard: Yard) -> Iterator[tuple[int, Stay, Stay, bool]]:
    """(slot, the stay that comes or goes, the stay in front of it, whether that boat can be moved then)."""
    last = len(yard.problem.days)
    in_lanes = [
        (yard.places[stay.place], stay) for stay in yard.stays if yard.places[stay.place].lane is not None
    ]
    for deep, mover in in_lanes:
        for front, blocker in in_lanes:
            if (
                front.lane != deep.lane
                or blocker.job.id == mover.job.id
                or not (front.depth or 0) < (deep.depth or 0)
            ):
                continue
            for slot in (mover.start, mover.end):
                if 0 <= slot < last and blocker.start < slot < blocker.end:
                    piece = next(
                        (p for p in blocker.pieces if p.start <= slot < p.leaves), blocker.pieces[-1]
                    )
                    yield slot, mover, blocker, piece.option.movable


# --- 5. Air -----------------------------------------------------------------------------------------------
def air(yard: Yard) -> Iterator[Breach]:
    """No dust, grit or steam beside work it spoils, until it has settled."""
    airs = {air.id: air for air in yard.problem.airs}
    shared = defaultdict(list)
    for piece in yard.pieces:
        name = yard.places[piece.place].air
        if name is not None and not piece.option.own_air and not airs[name].split_day:
            shared[name].append(piece)
    for name, pieces in shared.items():
        makers = [piece for piece in pieces if piece.option.makes]
        spoiled = [piece for piece in pieces if piece.option.spoiled_by]
        for maker in makers:
            for other in spoiled:
                kinds = sorted(set(maker.option.makes) & set(other.option.spoiled_by))
                slot = max(maker.start, other.start, 0)
                if other.job.id == maker.job.id or not kinds:
                    continue
                if slot < min(maker.end + airs[name].settle, other.end):
                    who = name_of(maker.job)
                    says = f"is spoiled by {', '.join(kinds)} of {who} ({maker.name}) on {yard.on(slot)}"
                    fact = maker.step is None and other.step is None
                    yield breach("air", other, says, slot, fact)


# --- 6. Hands ---------------------------------------------------------------------------------------------
def hands(yard: Yard) -> Iterator[Breach]:
    """People for all the work, whatever each of them can do; resources and trips within what there is."""
    yield from short_of_hands(yard)
    trips = [(slot, after, 1) for slot, _, after in yard.trips()]
    trips += [(slot, mover.pieces[0], 2) for slot, mover, _, movable in in_the_way(yard) if movable]
    trips += [(slot, yard.placed[boats[0].id][-1], 1) for slot, _, boats in swap_cycles(yard)]
    for resource in yard.problem.resources:
        yield from short_of(yard, resource, trips if resource.id == yard.problem.mover else None)


# --- 7. Windows -------------------------------------------------------------------------------------------
def windows(yard: Yard) -> Iterator[Breach]:
    """Work starts when it can, not before she is there or it may; nobody stands in a closed place."""
    for pieces in yard.placed.values():
        for piece in pieces:
            if piece.step is None:
                continue
            if yard.table(piece).finish[piece.start] is None:
                yield breach("windows", piece, f"can't start on {yard.on(piece.start)}")
            if piece.start < piece.job.earliest:
                yield breach("windows", piece, f"starts before she is there ({yard.on(piece.job.earliest)})")
            if piece.start < piece.step.earliest:
                why = f": {piece.step.earliest_why}" if piece.step.earliest_why else ""
                yield breach("windows", piece, f"starts before {yard.on(piece.step.earliest)}{why}")
    for stay in yard.stays:
        place = yard.places[stay.place]
        slot = next((x for x in stay.fills if _closed(place, x)), None)
        if slot is not None:
            says = f"stands in {name_of(place)} on {yard.on(slot)}, when it is closed"
            yield breach("windows", stay.pieces[0], says, slot, stay.begun)


def _closed(place: Place, slot: int) -> bool:
    return any(start <= slot < end for start, end in place.closed)


# --- 8. Pins ----------------------------------------------------------------------------------------------
def pins(yard: Yard) -> Iterator[Breach]:
    """What is pinned stays where and when it is pinned. (What has begun was compared in the reading.)"""
    for pieces in yard.placed.values():
        for piece in pieces:
            if piece.step is None:
                continue
            if piece.step.pin_place not in (None, piece.place):
                yield breach("pins", piece, f"is pinned to {piece.step.pin_place}, not {piece.place}")
            if piece.step.pin_start not in (None, piece.start):
                yield breach("pins", piece, f"is pinned to slot {piece.step.pin_start}, not {piece.start}")


# --- 9. Gate ----------------------------------------------------------------------------------------------
def gate(yard: Yard) -> Iterator[Breach]:
    """Nothing is coated before signed dry is forecast."""
    for pieces in yard.placed.values():
        for piece in pieces:
            if (
                piece.step
                and piece.step.coats
                and piece.step.gate is not None
                and piece.start < piece.step.gate
            ):
                yield breach(
                    "gate", piece, f"coats before signed dry is forecast ({yard.on(piece.step.gate)})"
                )


RULES: list[Callable[[Yard], Iterator[Breach]]] = [chain, stand, fit, lane, air, hands, windows, pins, gate]
