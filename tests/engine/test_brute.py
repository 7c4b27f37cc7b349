"""The engine finds the best plan there is, as trying everything does, on small problems where rules bite."""

from functools import cache
from itertools import islice

import pytest

from scheduling.engine.finish import cp_solve
from scheduling.engine.schedule import RULES
from scheduling.engine.solve import solve
from scheduling.engine.witness import check, cost
from tests.engine.brute import bites, cheapest
from tests.engine.random_yards import tiny_problem
from tests.engine.tiny import job, plan, problem, step

pytestmark = pytest.mark.slow

PROBLEMS = {"small": 40, "full": 200, "soak": 1000}
BITES = 20  # of 200 problems, for each rule


def found_breaches(told, schedule):
    return [breach for breach in check(told, schedule) if not breach.fact]


def test_the_brute_force_finds_what_is_seen_at_once():
    """Two boats of five slots for one bay, due on the last day, slot 9: both fit, in either order."""
    told = problem(job("x", step("dry", 5, "a")), job("y", step("dry", 5, "a")))
    assert cheapest(told)[0] == 0
    assert cheapest(problem(*told.jobs, job("z", step("dry", 1, "a"), drop_price=70)))[0] == 70
    # were she let into a full bay, nobody would be left out
    three = problem(*told.jobs, job("z", step("dry", 1, "a"), drop_price=70))
    assert cheapest(three, without=frozenset({"stand"}))[0] == 0
    assert check(told, plan(told, x=[("a", 0)], y=[("a", 5)])) == []


@pytest.mark.parametrize("part", range(10))
def test_the_model_costs_what_trying_everything_costs(part, test_size):
    for seed in range(part, PROBLEMS[test_size], 10):
        told = tiny_problem(seed)
        least, _ = cheapest(told)
        found = cp_solve(told, hint=None, free=None, seconds=60, workers=1, seed=1)
        assert found.status == "proven", seed
        assert found_breaches(told, found.schedule) == [], seed
        assert (found.total, sum(cost(told, found.schedule).values())) == (least, least), seed


@pytest.mark.parametrize("part", range(4))
def test_the_whole_engine_gives_the_best_plan_and_a_true_bound(part, test_size):
    for seed in range(part, PROBLEMS[test_size] // 5, 4):
        told = tiny_problem(seed)
        least, _ = cheapest(told)
        result = solve(told, seconds=5, workers=1)
        assert (result.status, result.total) == ("proven", least), seed
        assert result.bound is None or result.bound <= least, seed
        assert found_breaches(told, result.schedule) == [], seed


@cache
def best_of(seed):
    told = tiny_problem(seed)
    return told, cheapest(told)


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_bites_in_at_least_a_tenth_of_the_problems(rule, test_size):
    if test_size == "small":
        pytest.skip("minutes: with TEST_SIZE=full")
    bitten = (seed for seed in range(PROBLEMS["full"]) if bites(best_of(seed)[0], rule, best_of(seed)[1]))
    assert len(list(islice(bitten, BITES))) == BITES
