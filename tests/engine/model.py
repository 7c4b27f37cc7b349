"""The CP-SAT model in tests: one worker, all jobs free, some rules taken out."""

from __future__ import annotations

from scheduling.engine.finish import CpAnswer, cp_solve
from scheduling.engine.problem import Problem
from scheduling.engine.rules import RULES
from scheduling.engine.schedule import Schedule


def solved(problem: Problem, *without: str) -> CpAnswer:
    """The best schedule under the table of contents less the rules named."""
    assert set(without) <= {rule.__name__ for rule in RULES}
    rules = [rule for rule in RULES if rule.__name__ not in without]
    return cp_solve(problem, hint=None, free=None, seconds=60, workers=1, seed=1, rules=rules)


def total(problem: Problem, *without: str) -> int | None:
    """What the best schedule costs."""
    return solved(problem, *without).total


def starts(answer: CpAnswer) -> dict[str, list[tuple[str, int]]]:
    """(place, start) of each planned piece, by job placed."""
    schedule = answer.schedule or Schedule()
    return {
        job: [(time.place, time.start) for time in times if time.option >= 0]
        for job, times in schedule.jobs.items()
    }
