"""Rules 1, 7, 8 and 9: what one job's steps need of each other and of the calendar."""

from collections.abc import Iterable
from itertools import pairwise

from scheduling.engine.rules.frame import Model, Piece


def chain(model: Model) -> None:
    """Steps in order, each within its least and greatest wait after the one before."""
    for free in model.jobs:
        for before, piece in pairwise(free.pieces):
            if piece.step is None:
                continue
            model.need(piece.start >= before.end + piece.step.wait_min, free.placed)
            if piece.step.wait_max is not None:
                model.need(piece.start <= before.end + piece.step.wait_max, free.placed)


def windows(model: Model) -> None:
    """Nothing starts before she is there or it may, and no planned stay fills a closed slot of its place.

    (That a table lets nothing start in a slot is in its modes, see `frame`.)
    """
    for free in model.jobs:
        for piece in free.pieces:
            if piece.step is not None:
                model.need(piece.start >= max(free.job.earliest, piece.step.earliest), free.placed)
                for place in {choice.place.id for choice in piece.choices if choice.place.closed}:
                    _keep_out(model, piece, place)


def _keep_out(model: Model, piece: Piece, name: str) -> None:
    planned = model.one_of([choice.planned for choice in piece.choices if choice.place.id == name])
    closed = merged(model.places[name].closed)
    if planned is not model.false:
        shut = [model.cp.new_fixed_size_interval_var(a, b - a, "") for a, b in closed]
        model.cp.add_no_overlap([model.span(piece.start, piece.leaves, planned), *shut])


def merged(spans: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """The same slots as spans that are in order and do not touch."""
    out: list[tuple[int, int]] = []
    for start, end in sorted(spans):
        if out and start <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], end))
        else:
            out.append((start, end))
    return out


def pins(model: Model) -> None:
    """What is pinned is where and when it is pinned; what has begun is there already."""
    for free in model.jobs:
        for piece in free.pieces:
            if piece.step is None:
                continue
            for choice in piece.choices:
                if piece.step.pin_place not in (None, choice.place.id):
                    model.need(choice.lit == 0)
            if piece.step.pin_start is not None:
                model.need(piece.start == piece.step.pin_start, free.placed)


def gate(model: Model) -> None:
    """A step that coats starts at or after its gate."""
    for free in model.jobs:
        for piece in free.pieces:
            if piece.step is not None and piece.step.coats and piece.step.gate is not None:
                model.need(piece.start >= piece.step.gate, free.placed)
