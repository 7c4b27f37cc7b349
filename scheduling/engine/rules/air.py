"""Rule 5: no dust, grit or steam beside work that it spoils."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from scheduling.engine.problem import Option, Place
from scheduling.engine.rules.frame import Lit, Model, Piece
from scheduling.engine.rules.order import merged


@dataclass(frozen=True, slots=True)
class _Work:
    """A free piece that may make or be spoiled by something in an air."""

    piece: Piece
    lit: Lit


def air(model: Model) -> None:
    """What one job makes is in the air until it has settled; no work that it spoils is there then."""
    options = [option for job in model.problem.jobs for step in job.steps for option in step.options]
    options += [job.begun.option for job in model.problem.jobs if job.begun]
    kinds = sorted({kind for option in options for kind in option.makes})
    for body in model.problem.airs:
        if not body.split_day:
            for kind in kinds:
                _clear(model, body.id, body.settle, kind)


def _clear(model: Model, name: str, settle: int, kind: str) -> None:
    def makes(option: Option, place: Place) -> bool:
        return place.air == name and not option.own_air and kind in option.makes

    def spoiled(option: Option, place: Place) -> bool:
        return place.air == name and not option.own_air and kind in option.spoiled_by

    def free(of: Callable[[Option, Place], bool]) -> list[_Work]:
        works = [
            _Work(piece, model.taken(piece, lambda choice: of(choice.option, choice.place)))
            for job in model.jobs
            for piece in job.pieces
            if not piece.begun
        ]
        return [work for work in works if work.lit is not model.false]

    def known(of: Callable[[Option, Place], bool], tail: int) -> list[tuple[str, int, int]]:
        """(job, start, end) of what is fixed, and of what has begun of free jobs."""
        spans = [
            (piece.job.id, max(piece.start, 0), piece.end + tail)
            for piece in model.fixed
            if of(piece.option, piece.place)
        ]
        for job in model.jobs:
            if job.begun is not None and of(job.begun.choices[0].option, job.begun.choices[0].place):
                spans.append((job.job.id, 0, job.begun.end + tail))
        return spans

    makers, others = free(makes), free(spoiled)
    _apart(model, makers, settle, known(spoiled, 0))
    _apart(model, others, 0, known(makes, settle))
    for maker in makers:
        for other in others:
            if maker.piece.job is not other.piece.job:
                one = model.span(maker.piece.start, maker.piece.end, maker.lit, tail=settle)
                model.cp.add_no_overlap([one, model.span(other.piece.start, other.piece.end, other.lit)])


def _apart(model: Model, works: Iterable[_Work], tail: int, known: list[tuple[str, int, int]]) -> None:
    """Each of `works` apart from what is known of other jobs."""
    for work in works:
        name = work.piece.job.job.id
        spans = merged((start, end) for job, start, end in known if job != name and end > start)
        if spans:
            blocked = [model.cp.new_fixed_size_interval_var(a, b - a, "") for a, b in spans]
            mine = model.span(work.piece.start, work.piece.end, work.lit, tail=tail)
            model.cp.add_no_overlap([mine, *blocked])
