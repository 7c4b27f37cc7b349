"""Rule 6 as the witness holds it: people by what each of them can do, resources, and trips.

Part of the witness, so it shares nothing with the search or the model: there every set of skills is counted,
here the minutes are dealt out to people.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import combinations

from scheduling.engine.problem import Resource
from scheduling.engine.reading import Piece, Yard, breach
from scheduling.engine.schedule import Breach


def short_of_hands(yard: Yard) -> Iterator[Breach]:
    """A breach for each slot in which nobody is left for some of the work."""
    can = {hand.id: set(hand.skills) for hand in yard.problem.hands}
    at_work: list[list[Piece]] = [[] for _ in yard.problem.days]
    for piece in yard.pieces:
        for slot in yard.open(piece):
            at_work[slot].append(piece)
    for slot, busy in enumerate(at_work):
        if not busy:
            continue
        demand: Counter[str] = Counter()
        facts: Counter[str] = Counter()
        for piece in busy:
            demand.update(piece.option.skills)
            if piece.step is None:
                facts.update(piece.option.skills)
        minutes = {hand.id: hand.minutes[slot] for hand in yard.problem.hands}
        if not can_be_staffed(demand, minutes, can):
            yield from _first_short_sets(yard, slot, demand, facts, busy)


def can_be_staffed(
    demand: Mapping[str, int], minutes: Mapping[str, int], can: Mapping[str, set[str]]
) -> bool:
    """Whether the `minutes` of each hand can be dealt out to the `demand` [min] by skill: a greatest flow."""
    spare = dict(minutes)
    given: Counter[tuple[str, str]] = Counter()  # [min] by (skill, hand)

    def give(skill: str, amount: int, seen: set[str]) -> int:
        """Find somebody for up to `amount`, if need be by finding somebody else for what they do now."""
        for hand, skills in can.items():
            if skill not in skills:
                continue
            got = min(amount, spare[hand])
            spare[hand] -= got
            for other in [] if got else sorted(demand.keys() - seen):
                if given[other, hand] > 0:
                    seen.add(other)
                    got = give(other, min(amount, given[other, hand]), seen)
                    given[other, hand] -= got
                    if got:
                        break
            given[skill, hand] += got
            if got:
                return got
        return 0

    for skill, amount in demand.items():
        left = amount
        while left:
            got = give(skill, left, {skill})
            if not got:
                return False
            left -= got
    return True


def _first_short_sets(
    yard: Yard, slot: int, demand: Counter[str], facts: Counter[str], busy: list[Piece]
) -> Iterator[Breach]:
    """The smallest set of skills that asks for too much, and the smallest of which facts alone do."""
    told = set()
    for size in range(1, len(demand) + 1):
        for skills in combinations(sorted(demand), size):
            there = sum(hand.minutes[slot] for hand in yard.problem.hands if set(skills) & set(hand.skills))
            asked, by_facts = sum(demand[s] for s in skills), sum(facts[s] for s in skills)
            for fact, amount, limit in (
                (True, by_facts, there),
                (False, asked, max(there, by_facts)),
            ):
                if amount > limit and fact not in told:
                    told.add(fact)
                    who = [p for p in busy if set(skills) & set(p.option.skills) and (p.step is None) is fact]
                    says = f"{' and '.join(skills)} on {yard.on(slot)}: {amount} min for {there}"
                    yield breach("hands", max(who, key=lambda piece: piece.start), says, slot, fact)


def short_of(
    yard: Yard, resource: Resource, trips: list[tuple[int, Piece, int]] | None = None
) -> Iterator[Breach]:
    """A breach for each slot in which more of the resource is used and held, with `trips`, than there is."""
    slots = range(len(yard.problem.days))
    used, facts = [0 for _ in slots], [0 for _ in slots]
    users: list[list[Piece]] = [[] for _ in slots]

    def take(slot: int, piece: Piece, amount: int) -> None:
        if amount:
            used[slot] += amount
            users[slot].append(piece)
            if piece.step is None and slot < piece.end:
                facts[slot] += amount

    for piece in yard.pieces:
        for slot in yard.open(piece):
            take(slot, piece, piece.option.uses.get(resource.id, 0))
        for slot in range(max(piece.start, 0), piece.lets_go):
            take(slot, piece, piece.option.holds.get(resource.id, 0))
    for slot, piece, amount in trips or []:
        used[slot] += amount
        users[slot].append(piece)
    for slot, there in enumerate(resource.capacity):
        if facts[slot] > there:
            begun = next(piece for piece in users[slot] if piece.step is None)
            yield breach("hands", begun, _too_much(yard, resource, slot, facts[slot]), slot, True)
        if used[slot] > max(there, facts[slot]):
            last = max(users[slot], key=lambda piece: piece.start)
            yield breach("hands", last, _too_much(yard, resource, slot, used[slot]), slot)


def _too_much(yard: Yard, resource: Resource, slot: int, amount: int) -> str:
    unit = f" {resource.unit}" if resource.unit else ""
    return f"{resource.label or resource.id} on {yard.on(slot)}: {amount}{unit} for {resource.capacity[slot]}"
