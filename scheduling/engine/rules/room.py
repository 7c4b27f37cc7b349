"""Rules 2 and 3: room in the places, and boats that fit there."""

from collections.abc import Mapping, Sequence

import numpy as np

from scheduling.engine.problem import Place
from scheduling.engine.rules.frame import Expr, FreeJob, Lit, Model


def stand(model: Model) -> None:
    """In each slot no more stays in a place than it has room for.

    Stays that had begun may be more by themselves, but no planned stay begins before they are few enough.
    """
    for place in model.problem.places:
        keep_room(model, place)


def keep_room(model: Model, place: Place, also: Sequence[tuple[Expr, Lit]] = ()) -> None:
    """Room in `place` for all that stand there, and for one more in each slot of `also` (slot, literal)."""
    begun = sum(1 for job in model.problem.jobs if job.begun and job.begun.place == place.id)
    if begun > place.room:
        _after_the_crowd(model, place, begun, also)
        return
    taken = np.zeros(model.slots, dtype=np.int64)
    for piece in model.fixed:
        if piece.place.id == place.id:
            taken[max(piece.start, 0) : piece.leaves] += 1
    spans = [model.span(start, leaves, lit) for start, leaves, lit in model.standing(place.id)]
    spans += [model.slot(slot, lit) for slot, lit in also]
    if spans:
        model.limit(place.room - taken, [(span, 1) for span in spans])


def _after_the_crowd(model: Model, place: Place, begun: int, also: Sequence[tuple[Expr, Lit]]) -> None:
    """Planned stays come from some slot on at which no more than `room` of those that had begun are left."""
    calm = model.new_int(0, model.slots)
    taken = np.zeros(model.slots, dtype=np.int64)
    ends: list[Expr] = []
    for known in model.fixed:
        if known.place.id == place.id and not known.stands_on:
            taken[known.start : known.leaves] += 1
            model.need(calm <= known.start)
        elif known.stands_on and known.goes and known.place.id == place.id:
            ends.append(known.leaves)
    spans = []
    for free in model.jobs:
        if free.begun is not None and free.begun.choices[0].place.id == place.id:
            ends.append(_begun_stay_end(model, free))
        for piece in free.pieces:
            lit = model.one_of([choice.planned for choice in piece.choices if choice.place.id == place.id])
            if lit is not model.false:
                model.need(piece.start >= calm, lit)
                spans.append(model.span(piece.start, piece.leaves, lit))
    for slot, lit in also:
        model.need(calm <= slot, lit)
        spans.append(model.slot(slot, lit))
    gone = [model.new_lit() for _ in ends]
    model.cp.add(sum(gone) >= begun - place.room)
    for end, lit in zip(ends, gone, strict=True):
        model.need(calm >= end, lit)
        model.need(calm <= end, lit.negated())
        spans.append(model.span(calm, end, lit.negated()))
    model.limit(place.room - taken, [(span, 1) for span in spans])


def _begun_stay_end(model: Model, free: FreeJob) -> Expr:
    """Where the stay ends that had begun before the axis; a job left out stands to the end of it."""
    end = model.new_int(0, model.slots)
    model.need(end == model.slots, free.placed.negated())
    for i, (piece, stands) in enumerate(zip(free.pieces, free.stands_on, strict=True)):
        last = i + 1 == len(free.pieces)
        given = [free.placed, stands] if last else [free.placed, stands, free.stands_on[i + 1].negated()]
        model.need(end == piece.leaves, *given)
    return end


def fit(model: Model) -> None:
    """No boat in a place that is too small for her, but where she stands when the axis starts."""
    for free in model.jobs:
        for piece in free.pieces:
            for choice in piece.choices:
                if not fits(free.job.size, choice.place):
                    model.need(choice.planned == 0)


def fits(size: Mapping[str, int], place: Place) -> bool:
    """Whether a boat of that size is within the limits of the place."""
    return all(size.get(name, 0) <= limit for name, limit in place.limits.items())
