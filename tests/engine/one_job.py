"""Every way to place one job, by plain enumeration: what the insertion is held against."""

from __future__ import annotations

from collections.abc import Iterator

from scheduling.engine.problem import Job, Problem
from scheduling.engine.schedule import StepTime

Piece = tuple[str, str, int, int, int, str | None]  # step, place, option, start, end, unit


def ways(problem: Problem, job: Job) -> Iterator[tuple[StepTime, ...]]:
    """All chains of the job in order and within their waits; the witness says which of them are lawful."""
    tables = {table.id: table for table in problem.tables}

    def after(number: int, pieces: list[Piece], end: int) -> Iterator[list[Piece]]:
        if number == len(job.steps):
            yield pieces
            return
        step = job.steps[number]
        first, last = max(step.earliest, job.earliest), len(problem.days) - 1
        if pieces:
            first = max(first, end + step.wait_min)
            last = last if step.wait_max is None else min(last, end + step.wait_max)
        for which, option in enumerate(step.options):
            finish = tables[option.table or ""].finish
            for start in range(first, last + 1):
                done = finish[start]
                if done is not None:
                    for place in option.places:
                        piece = (step.id, place, which, start, done, None)
                        yield from after(number + 1, [*pieces, piece], done)

    begun = job.begun
    known: list[Piece] = [(begun.step, begun.place, -1, -1, begun.end, begun.unit)] if begun else []
    for pieces in after(0, known, begun.end if begun else 0):
        leaves = [start for _, _, _, start, _, _ in pieces[1:]] + [pieces[-1][4]]
        yield tuple(
            StepTime(step=s, place=p, option=o, start=a, end=e, leaves=gone, unit=unit)
            for (s, p, o, a, e, unit), gone in zip(pieces, leaves, strict=True)
        )
