"""Rule 4: nobody comes or goes behind a boat that can't be pulled out; pulling her out costs.

A piece of a stay is in the way from the slot it starts in, or after it where the stay begins with it, until
she leaves. Events are points that may touch what is in the way, but not lie within it. A piece that goes on
with a stay reaches back over the slot it starts in, into the piece before: so odd and even pieces have
constraints of their own.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scheduling.engine.problem import Place
from scheduling.engine.rules.fixed import Fixed
from scheduling.engine.rules.frame import Expr, FreeJob, Lit, Model


@dataclass(frozen=True, slots=True)
class _Event:
    """A job comes to a place in a lane, or goes from it."""

    job: FreeJob | None  # None: it is fixed
    place: Place
    slot: Expr
    lit: Lit
    over: bool = False  # a fact: what had begun ends, and the job with it


@dataclass(frozen=True, slots=True)
class _Blocker:
    """A free job stands in a place in a lane, in one piece (or for good, if it is left out)."""

    job: FreeJob
    number: int  # of the piece
    place: Place
    start: Expr
    first: Lit  # the stay begins with it
    leaves: Expr
    movable: bool
    lit: Lit
    fact_until: int = 0


def lane(model: Model) -> None:
    """Events and what is in front of them: never a boat that can't be moved, at a price one that can."""
    fixed = [piece for piece in model.fixed if piece.place.lane is not None]
    events, blockers = [*_events(model), *_fixed_events(model, fixed)], list(_blockers(model))
    for event in events:
        _past_fixed(model, event, fixed)
    for front in model.problem.places:
        here = [blocker for blocker in blockers if blocker.place is front]
        behind = [event for event in events if here and _behind(event.place, front)]
        begun = sum(1 for job in model.problem.jobs if job.begun and job.begun.place == front.id)
        one_by_one = [event for event in behind if event.over or begun > front.room]
        for event in one_by_one:
            for blocker in here:
                if blocker.job is not event.job:
                    _pass(model, event, blocker)
        _keep_clear(model, [event for event in behind if event not in one_by_one], here)


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
        for number, piece in enumerate(free.pieces):
            if piece.begun:
                choice, until = piece.choices[0], int(piece.end)
                if choice.place.lane is not None:
                    for leaves, lit in ((piece.leaves, free.placed), (model.slots, free.placed.negated())):
                        movable = choice.option.movable
                        yield _Blocker(free, 0, choice.place, -1, model.false, leaves, movable, lit, until)
                continue
            for key, lit in model.amounts(piece, lambda c: c.place.lane and (c.place.id, c.option.movable)):
                place, movable = model.places[key[0]], key[1]
                first = model.unless(model.at(piece, place.id), piece.same.get(place.id, model.false))
                yield _Blocker(free, number, place, piece.start, first, piece.leaves, movable, lit)


def _keep_clear(model: Model, events: Sequence[_Event], blockers: Sequence[_Blocker]) -> None:
    """No event within a stay in one place; at a price, if the boat can be moved."""
    spans: dict[tuple[bool, int], list[Any]] = {}
    for blocker in blockers:
        here = spans.setdefault((blocker.movable, blocker.number % 2), [])
        first, later = model.both(blocker.lit, blocker.first), model.unless(blocker.lit, blocker.first)
        if first is not model.false:
            here.append(model.span(blocker.start, blocker.leaves, first))
        if later is not model.false:
            lead = 0 if isinstance(blocker.start, int) else 1
            here.append(model.span(blocker.start, blocker.leaves, later, lead=lead))
    points: dict[bool, list[Any]] = {False: [], True: []}
    for event in events:
        points[False].append(model.cp.new_optional_fixed_size_interval_var(event.slot, 0, event.lit, ""))
        if any(blocker.movable for blocker in blockers):
            clear, hit = model.new_lit(), _hit(model, event.slot)
            model.cp.add_bool_or([event.lit.negated(), clear, hit])
            points[True].append(model.cp.new_optional_fixed_size_interval_var(event.slot, 0, clear, ""))
    for (movable, _), here in spans.items():
        if here and events:
            model.cp.add_no_overlap([*here, *points[movable]])


def _pass(model: Model, event: _Event, blocker: _Blocker) -> None:
    """The event is not after she came and before she goes; or she is moved."""
    if event.over and blocker.fact_until > event.slot and not blocker.movable:
        return
    before, after = model.new_lit(), model.new_lit()
    model.need(event.slot <= blocker.start, before)
    model.need(event.slot <= blocker.start - 1, before, blocker.first.negated())
    model.need(event.slot >= blocker.leaves, after)
    ways = [event.lit.negated(), blocker.lit.negated(), before, after]
    model.cp.add_bool_or([*ways, _hit(model, event.slot)] if blocker.movable else ways)


def _hit(model: Model, slot: Expr, many: int = 1) -> Lit:
    """A literal: so many boats are pulled out and put back, at their price and two trips each."""
    hit = model.new_lit()
    model.costs["shunts"].append(many * model.problem.shunt_price * hit)
    model.trips.append((slot, 2 * many, hit))
    return hit


def _past_fixed(model: Model, event: _Event, fixed: Sequence[Fixed]) -> None:
    """The event in a slot in which nobody fixed is in the way, or all who are can be moved, at the price."""
    hard, soft = np.zeros(model.slots + 1, dtype=np.int64), np.zeros(model.slots + 1, dtype=np.int64)
    for piece in fixed:
        if not _behind(event.place, piece.place):
            continue
        begins = piece.start + 1 if piece.begun or piece.comes else piece.start
        if piece.option.movable:
            soft[begins : piece.leaves] += 1
        else:  # when a job is over, what else had begun is no breach of the plan
            hard[max(begins, piece.end if event.over and piece.begun else 0) : piece.leaves] += 1
    if event.job is None:
        model.fixed_trips[event.slot] += 2 * int(soft[event.slot])
        return
    for many in sorted(set(soft.tolist()) - {0}):
        hit = _hit(model, event.slot, many)
        model.within(event.slot, np.flatnonzero(soft != many).tolist(), event.lit, hit.negated())
    if hard.any():
        model.within(event.slot, np.flatnonzero(hard == 0).tolist(), event.lit)


def _fixed_events(model: Model, fixed: Sequence[Fixed]) -> Iterator[_Event]:
    for piece in fixed:
        if piece.comes:
            yield _Event(None, piece.place, piece.start, model.true)
        if piece.goes and piece.leaves < model.slots:
            over = piece.begun and not piece.job.steps
            yield _Event(None, piece.place, piece.leaves, model.true, over)
