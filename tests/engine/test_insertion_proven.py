"""Every boat taken out of a plan and put back costs what a one-boat CP-SAT model proves to be the least."""

from __future__ import annotations

import random

import pytest

from scheduling.engine.builds import mixed_order, settle
from scheduling.engine.finish import cp_solve
from scheduling.engine.insertion import State, compile_problem, insert
from scheduling.engine.problem import Problem
from tests.engine.random_yards import random_problem
from tests.engine.test_improve import example


def compare(told: Problem, seed: int, most: int) -> int:
    """Hold up to `most` boats of a plan in a drawn order against CP-SAT; how many were proven."""
    rng, compiled = random.Random(seed), compile_problem(told)
    state = State(compiled)
    if not all(settle(state, name) for name in mixed_order(compiled, rng)):
        return 0
    schedule, proven = state.schedule(), 0
    for name in rng.sample(sorted(state.times), min(most, len(state.times))):
        times = state.take(name)
        fit, drop = insert(state, name), compiled.jobs[name].drop_price
        assert fit is not None
        answer = cp_solve(told, hint=schedule, free={name}, seconds=60, workers=1, seed=1)
        if answer.status == "proven" and compiled.jobs[name].begun is None:
            assert answer.total == state.total + min(fit.cost - drop, 0), (seed, name)
            proven += 1
        state.put(name, times)
    return proven


def test_boats_of_random_yards_cost_what_is_proven() -> None:
    assert sum(compare(random_problem(seed, jobs=5, slots=24, places=3), seed, 3) for seed in range(6)) >= 8


@pytest.mark.slow
def test_two_hundred_boats_cost_what_is_proven(test_size: str) -> None:
    wanted = {"small": 12, "full": 40, "soak": 200}[test_size]
    proven, seed = 0, 0
    while proven < wanted:
        big = test_size == "soak" and seed < 4
        told = (
            example(40)
            if big
            else random_problem(seed, jobs=6, slots=30, places=3, facts_break=seed % 5 == 0)
        )
        proven += compare(told, seed, 10 if big else 4)
        seed += 1
