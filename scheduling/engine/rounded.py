"""The same yard with what is counted in minutes or kilowatts counted in whole pieces of work, too.

A hand of 480 minutes who coats for 300 has time for one boat and no more; by minutes alone prices would let
one and a half be coated. For any m, work that takes a of c takes floor(m a) of floor(m c) (rounding after
Gomory 1958 and Chvatal 1973): no plan is lost, and bounds by prices come closer.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from scheduling.engine.compiled import compile_problem
from scheduling.engine.problem import Job, Option, Problem, Resource

PIECES = 3
"""In up to so many pieces some work is cut; more adds rows and next to nothing to a bound (measured)."""


@dataclass(frozen=True, slots=True)
class _Count:
    """What one thing is counted in, with what each size takes of it."""

    resource: Resource
    of: Callable[[Option], tuple[int, int]]  # [of the thing] that work uses, and that she holds
    pieces: dict[int, int]


def rounded(problem: Problem) -> Problem:
    """A Problem with the same plans at the same cost, and more resources than it needs."""
    counts = _counts(problem)

    def option(old: Option) -> Option:
        uses, holds = dict(old.uses), dict(old.holds)
        for count in counts:
            used, held = (count.pieces.get(amount, 0) for amount in count.of(old))
            uses |= {count.resource.id: used} if used else {}
            holds |= {count.resource.id: held} if held else {}
        return replace(old, uses=uses, holds=holds)

    def job(old: Job) -> Job:
        begun = old.begun and replace(old.begun, option=option(old.begun.option))
        steps = tuple(replace(step, options=tuple(map(option, step.options))) for step in old.steps)
        return replace(old, begun=begun, steps=steps)

    more = tuple(count.resource for count in counts)
    return replace(problem, resources=problem.resources + more, jobs=tuple(map(job, problem.jobs)))


def _counts(problem: Problem) -> list[_Count]:
    compiled, found = compile_problem(problem), list[_Count]()
    options = [option for job in problem.jobs for step in job.steps for option in step.options]
    options += [job.begun.option for job in problem.jobs if job.begun]
    for (kind, what), line in zip(compiled.rows, compiled.plain.tolist(), strict=True):
        if kind == "resource":
            of = _of_resource(what)
        elif kind == "skills":
            of = _of_skills(what)
        else:
            continue
        sizes = sorted({amount for option in options for amount in of(option) if amount})
        known: set[tuple[tuple[int, ...], tuple[int, ...]]] = set()
        for size in sizes:
            for number in range(1, PIECES + 1):
                pieces = tuple(size_ * number // size for size_ in sizes)
                room = tuple(amount * number // size for amount in line)
                closer = any(
                    piece * amount > size_ * whole
                    for piece, size_ in zip(pieces, sizes, strict=True)
                    for amount, whole in set(zip(line, room, strict=True))
                )
                if closer and (pieces, room) not in known:
                    known.add((pieces, room))
                    name = (
                        f"{kind} {what if kind == 'resource' else sorted(what)} in {Fraction(size, number)}"
                    )
                    found.append(
                        _Count(Resource(id=name, capacity=room), of, dict(zip(sizes, pieces, strict=True)))
                    )
    return found


def _of_resource(name: str) -> Callable[[Option], tuple[int, int]]:
    return lambda option: (option.uses.get(name, 0), option.holds.get(name, 0))


def _of_skills(union: frozenset[str]) -> Callable[[Option], tuple[int, int]]:
    return lambda option: (sum(amount for skill, amount in option.skills.items() if skill in union), 0)
