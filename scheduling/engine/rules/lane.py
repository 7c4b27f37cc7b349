"""Rule 4: nobody comes or goes behind a boat that can't be pulled out; pulling her out costs.

A piece of a stay is in the way from its start (from the slot after it, where the stay begins with it) until
she leaves. So there is one test for each pair of an event and a piece, and the slot at which one piece of a stay
follows another is not missed.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from scheduling.engine.problem import Place
from scheduling.engine.rules.frame import Expr, Fixed, FreeJob, Lit, Model, Row


@dataclass(frozen=True, slots=True)
class _Event:
    """A free job comes to a place in a lane, or goes from it."""

    job: FreeJob
    place: Place
    slot: Expr
    lit: Lit
    over: bool = False  # a fact: what had begun ends, and the job with it


@dataclass(frozen=True, slots=True)
class _Blocker:
    """A free job stands in a place in a lane, in one step (or for good, if it is left out)."""

    job: FreeJob
    place: Place
    start: Expr
    first: Lit  # the stay begins with it
    leaves: Expr
    movable: bool
    lit: Lit
    fact_until: int = 0


def lane(model: Model) -> None:
    """Events and what is in front of them: never a boat that can't be moved, at a price one that can."""
    events, blockers = list(_events(model)), list(_blockers(model))
    fixed = [piece for piece in model.fixed if piece.place.lane is not None]
    deep = [event.place for event in events] + [piece.place for piece in fixed]
    rows = {place.id: _in_front(model, fixed, place) for place in deep}
    for event in events:
        _past_fixed(model, event, fixed, *rows[event.place.id])
        for blocker in blockers:
            if blocker.job is not event.job and _behind(event.place, blocker.place):
                fact = event.over and blocker.fact_until > event.slot
                _pass(model, event.slot, event.lit, blocker, fact)
    for piece in fixed:
        for slot in _fixed_events(model, piece):
            for blocker in blockers:
                if _behind(piece.place, blocker.place):
                    _pass(model, slot, model.true, blocker, _over(piece) and blocker.fact_until > slot)
            model.fixed_trips[slot] += 2 * int(rows[piece.place.id][1][slot])


def _behind(deep: Place, front: Place) -> bool:
    return deep.lane == front.lane and (front.depth or 0) < (deep.depth or 0)


def _events(model: Model) -> Iterator[_Event]:
    for free in model.jobs:
        for i, piece in enumerate(free.pieces):
            after = free.pieces[i + 1] if i + 1 < len(free.pieces) else None
            for place in {c.place.id: c.place for c in piece.choices if c.place.lane is not None}.values():
                here = model.at(piece, place.id)
                if not piece.begun:
                    comes = model.unless(here, piece.same.get(place.id, model.false))
                    yield _Event(free, place, piece.start, comes)
                if after is not None:
                    here = model.both(here, free.placed)
                    goes = model.unless(here, after.same.get(place.id, model.false))
                    yield _Event(free, place, piece.leaves, goes)
                elif piece.begun:
                    yield _Event(free, place, piece.leaves, free.placed, over=True)
                else:
                    yield _Event(free, place, piece.leaves, here)


def _blockers(model: Model) -> Iterator[_Blocker]:
    for free in model.jobs:
        for piece in free.pieces:
            if piece.begun:
                choice, until = piece.choices[0], int(piece.end)
                if choice.place.lane is not None:
                    movable = choice.option.movable
                    for leaves, lit in ((piece.leaves, free.placed), (model.slots, free.placed.negated())):
                        yield _Blocker(free, choice.place, 0, model.false, leaves, movable, lit, until)
                continue
            for key, lit in model.amounts(piece, lambda c: c.place.lane and (c.place.id, c.option.movable)):
                place, movable = model.places[key[0]], key[1]
                first = model.unless(model.at(piece, place.id), piece.same.get(place.id, model.false))
                yield _Blocker(free, place, piece.start, first, piece.leaves, movable, lit)


def _pass(model: Model, slot: Expr, lit: Lit, blocker: _Blocker, fact: bool) -> None:
    """The event is not after she came and before she goes; or she is moved."""
    if fact and not blocker.movable:
        return
    before, after = model.new_lit(), model.new_lit()
    model.need(slot <= blocker.start, before)
    if blocker.first is not model.true:
        model.need(slot <= blocker.start - 1, before, blocker.first.negated())
    model.need(slot >= blocker.leaves, after)
    ways = [lit.negated(), blocker.lit.negated(), before, after]
    if blocker.movable:
        hit = model.new_lit()
        ways.append(hit)
        model.costs["shunts"].append(model.problem.shunt_price * hit)
        model.trips.append((slot, 2, hit))
    model.cp.add_bool_or(ways)


def _in_front(model: Model, fixed: list[Fixed], deep: Place) -> tuple[Row, Row]:
    """In each slot, how many fixed boats are in front of that place who can't be moved, and who can."""
    hard, soft = np.zeros(model.slots + 1, dtype=np.int64), np.zeros(model.slots + 1, dtype=np.int64)
    for piece in fixed:
        if _behind(deep, piece.place):
            row = soft if piece.option.movable else hard
            row[max(piece.start, -1) + int(piece.begun or piece.comes) : piece.leaves] += 1
    return hard, soft


def _past_fixed(model: Model, event: _Event, fixed: list[Fixed], hard: Row, soft: Row) -> None:
    """The event in a slot in which nobody fixed is in the way, or all who are can be moved, at the price."""
    if event.over:  # facts, but for those who stand on after their own work
        hard = hard.copy()
        for piece in fixed:
            if piece.begun and not piece.option.movable and _behind(event.place, piece.place):
                hard[: piece.end] -= 1
    for many in sorted(set(soft.tolist()) - {0}):
        hit = model.new_lit()
        model.within(event.slot, np.flatnonzero(soft != many).tolist(), event.lit, hit.negated())
        model.costs["shunts"].append(many * model.problem.shunt_price * hit)
        model.trips.append((event.slot, 2 * many, hit))
    if hard.any():
        model.within(event.slot, np.flatnonzero(hard == 0).tolist(), event.lit)


def _fixed_events(model: Model, piece: Fixed) -> Iterator[int]:
    if piece.comes:
        yield piece.start
    if piece.goes and piece.leaves < model.slots:
        yield piece.leaves


def _over(piece: Fixed) -> bool:
    return piece.begun and not piece.job.steps
