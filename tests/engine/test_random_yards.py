"""Random small yards through the search: no plan breaks a rule, and both counts of its cost agree."""

import random

import pytest

from scheduling.engine.compiled import compile_problem
from scheduling.engine.cost import cost_of
from scheduling.engine.improve import Budget, first_plan, improve, start_search
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import RULES
from scheduling.engine.witness import check, cost
from tests.engine.random_yards import random_problem

PROBLEMS = {"small": 60, "full": 500, "soak": 5000}
WORK = 60  # insertions for each problem


def yard(seed):
    """Of three sizes; every fifth has records that break rules of their own accord."""
    jobs, slots, places = ((4, 25, 3), (6, 40, 4), (10, 60, 6))[seed % 3]
    return random_problem(seed, jobs=jobs, slots=slots, places=places, facts_break=seed % 5 == 4)


@pytest.mark.slow
@pytest.mark.parametrize("part", range(10))
def test_no_plan_of_a_random_yard_breaks_a_rule(part, test_size):
    placed = jobs = 0
    for seed in range(part, PROBLEMS[test_size], 10):
        told = yard(seed)
        search, first = start_search(compile_problem(told)), first_plan(compile_problem(told))
        budget = Budget(seconds=1e9, work=WORK, should_stop=lambda: False)
        best = improve(search, first, random.Random(seed), budget)
        for state in (first, best):
            schedule = state.schedule()
            assert [breach for breach in check(told, schedule) if not breach.fact] == [], seed
            counted = cost(told, schedule)
            assert counted == cost_of(told, schedule), seed
            assert sum(counted.values()) == state.total, seed
        assert best.total <= first.total, seed
        placed, jobs = placed + len(best.schedule().jobs), jobs + len(told.jobs)
    assert placed > jobs / 2  # a yard that leaves everybody out would break no rule


def test_a_seed_makes_one_yard_and_another_seed_another():
    assert random_problem(1) == random_problem(1)
    assert random_problem(1) != random_problem(2)


def test_random_yards_go_out_and_come_in_unchanged():
    for seed in range(30):
        told = yard(seed)
        assert from_json(Problem, to_json(told)) == told


def test_without_a_rule_a_random_yard_has_nothing_of_it():
    for seed in range(20):
        bare = random_problem(seed, rules=())
        assert not any(place.lane or place.air or place.limits or place.closed for place in bare.places)
        steps = [step for job in bare.jobs for step in job.steps]
        assert all(step.gate is None and step.pin_place is None and step.pin_start is None for step in steps)
    for rule, has in {
        "lane": lambda told: any(place.lane for place in told.places),
        "air": lambda told: any(place.air for place in told.places),
        "fit": lambda told: any(place.limits for place in told.places),
        "pins": lambda told: any(s.pin_place or s.pin_start for job in told.jobs for s in job.steps),
        "gate": lambda told: any(s.gate is not None for job in told.jobs for s in job.steps),
        "chain": lambda told: any(s.wait_max is not None for job in told.jobs for s in job.steps),
    }.items():
        others = [other for other in RULES if other != rule]
        assert any(has(random_problem(seed)) for seed in range(20)), rule
        assert not any(has(random_problem(seed, rules=others)) for seed in range(20)), rule
