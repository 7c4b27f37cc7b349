"""Rule 6: people, resources and trips."""

from collections.abc import Callable, Iterable, Sequence
from itertools import combinations
from typing import Any

import numpy as np

from scheduling.engine.problem import Option, Resource
from scheduling.engine.rules.frame import Model, Row

Amount = Callable[[Option], int]


def hands(model: Model) -> None:
    """For every set of skills, the demand on them is at most the minutes of those who have any of them."""
    options = [choice.option for job in model.jobs for piece in job.pieces for choice in piece.choices]
    wanted = {skill for option in options for skill, amount in option.skills.items() if amount}
    also = {skill for job in model.problem.jobs if job.begun for skill in job.begun.option.skills}
    also |= {skill for piece in model.fixed for skill in piece.option.skills}
    facts = {skill: _facts(model, _skills([skill])) for skill in wanted | also}
    taken = {skill: _taken(model, _skills([skill])) for skill in wanted | also}
    for skills, capacity in _sets(model, sorted(wanted | also), facts):
        if skills & wanted:
            used = sum((taken[skill] for skill in skills), np.zeros(model.slots, dtype=np.int64))
            _hold(model, capacity - used, _skills(skills))


def _skills(names: Iterable[str]) -> Amount:
    return lambda option: sum(option.skills.get(name, 0) for name in names)


def _nothing(_: Option) -> int:
    return 0


def _sets(model: Model, skills: Sequence[str], facts: dict[str, Row]) -> list[tuple[frozenset[str], Row]]:
    """(skills, minutes there are) of each set that says something of its own.

    A set that falls into parts with no hand in common says nothing; nor does one within a bigger set that has
    no more minutes. Facts may use more than there is: then there is what they use.
    """
    minutes = {hand.id: np.array(hand.minutes, dtype=np.int64) for hand in model.problem.hands}
    can = {skill: {hand.id for hand in model.problem.hands if skill in hand.skills} for skill in skills}
    found: list[tuple[frozenset[str], Row]] = []
    for size in range(len(skills), 0, -1):
        for names in combinations(skills, size):
            if not _joined(names, can):
                continue
            who = set().union(*(can[name] for name in names))
            there = sum((minutes[hand] for hand in who), np.zeros(model.slots, dtype=np.int64))
            there = np.maximum(there, sum(facts[name] for name in names))
            chosen = frozenset(names)
            if not any(chosen < bigger and bool((limit <= there).all()) for bigger, limit in found):
                found.append((chosen, there))
    return found


def _joined(names: Sequence[str], can: dict[str, set[str]]) -> bool:
    """Whether hands join the skills of the set into one."""
    reached, rest = set(can[names[0]]), list(names[1:])
    while rest:
        near = [name for name in rest if can[name] & reached]
        if not near:
            return False
        reached.update(*(can[name] for name in near))
        rest = [name for name in rest if name not in near]
    return True


def resources(model: Model) -> None:
    """Of every resource what is used and held is at most what there is; trips count against the mover."""
    for free in model.jobs:
        model.trips += [(piece.start, 1, piece.moved) for piece in free.pieces[1:]]
    for resource in model.problem.resources:
        _resource(model, resource)


def _resource(model: Model, resource: Resource) -> None:
    def works(option: Option) -> int:
        return option.uses.get(resource.id, 0)

    def stands(option: Option) -> int:
        return option.holds.get(resource.id, 0)

    facts = _facts(model, works, stands)
    capacity = np.maximum(np.array(resource.capacity, dtype=np.int64), facts)
    left = capacity - _taken(model, works, stands)
    trips = resource.id == model.problem.mover
    _hold(model, left - model.fixed_trips if trips else left, works, stands, trips=trips)


def _facts(model: Model, works: Amount, stands: Amount = _nothing) -> Row:
    """What has begun demands and holds in each slot, whether or not it is in the plan."""
    row = np.zeros(model.slots, dtype=np.int64)
    for job in model.problem.jobs:
        if job.begun is not None:
            row[: job.begun.end] += works(job.begun.option) + stands(job.begun.option)
    return row


def _taken(model: Model, works: Amount, stands: Amount = _nothing) -> Row:
    """What facts and fixed jobs demand and hold in each slot."""
    row = _facts(model, works, stands)
    for piece in model.fixed:
        if piece.begun:
            row[piece.end : piece.lets_go] += stands(piece.option)
            continue
        row[piece.start : piece.leaves] += stands(piece.option)
        calendar = model.tables[piece.option.table or ""].open
        amount = works(piece.option)
        if amount and calendar is not None:
            row[piece.start : piece.end] += amount * np.array(
                model.problem.calendars[calendar][piece.start : piece.end], dtype=np.int64
            )
        else:
            row[piece.start : piece.end] += amount
    return row


def _hold(model: Model, left: Row, works: Amount, stands: Amount = _nothing, *, trips: bool = False) -> None:
    """What free jobs demand, hold and are moved is within what is `left` in each slot.

    Work demands nothing in slots that its calendar has closed, so slots are parted by which calendars are
    open in them, and each part has a limit of its own on what can demand anything there.
    """
    demands: list[tuple[Any, int, str | None]] = []  # (interval, amount, calendar)
    for job in model.jobs:
        for piece in job.pieces:
            for amount, lit in model.amounts(piece, lambda choice: stands(choice.option)):
                if piece.begun:  # until its end it is a fact; then only a placed job goes on holding
                    demands.append((model.span(piece.end, piece.leaves, job.placed), amount, None))
                else:
                    demands.append((model.span(piece.start, piece.leaves, lit), amount, None))
            if piece.begun:
                continue
            asks = model.amounts(
                piece, lambda choice: (works(choice.option), _calendar(model, choice.option))
            )
            for (amount, calendar), lit in asks:
                if amount:
                    demands.append((model.span(piece.start, piece.end, lit), amount, calendar))
    demands += [(model.slot(at, lit), amount, None) for at, amount, lit in model.trips if trips]
    calendars = sorted({calendar for _, _, calendar in demands if calendar is not None})
    for part, opened in _parts(model, calendars):
        here = [
            (span, amount) for span, amount, calendar in demands if calendar is None or calendar in opened
        ]
        if here:
            model.limit(left, here, part)


def _calendar(model: Model, option: Option) -> str | None:
    """The calendar that the demands follow, None if it is always open."""
    name = model.tables[option.table or ""].open
    return None if name is None or all(model.problem.calendars[name]) else name


def _parts(model: Model, calendars: Sequence[str]) -> list[tuple[Row, set[str]]]:
    """(1 for each slot of the part, the calendars open in it) of each part of the axis."""
    rows = np.array([model.problem.calendars[name] for name in calendars], dtype=bool).reshape(
        -1, model.slots
    )
    parts: dict[tuple[bool, ...], Row] = {}
    for slot in range(model.slots):
        key = tuple(bool(is_open) for is_open in rows[:, slot])
        parts.setdefault(key, np.zeros(model.slots, dtype=np.int64))[slot] = 1
    return [
        (row, {name for name, is_open in zip(calendars, key, strict=True) if is_open})
        for key, row in parts.items()
    ]
