"""Whole pieces of work: no plan is lost by counting them, and prices that count them prove more."""

import pytest

from scheduling.engine.climb import Climb
from scheduling.engine.compiled import compile_problem
from scheduling.engine.improve import first_plan
from scheduling.engine.prices import bound_of
from scheduling.engine.problem import Hand
from scheduling.engine.rounded import rounded
from scheduling.engine.witness import check, cost
from tests.engine.brute import cheapest
from tests.engine.random_yards import tiny_problem
from tests.engine.tiny import job, problem, step

SEEDS = {"small": 3, "full": 40, "soak": 400}


def climbed(told, rounds=30):
    climb = Climb(told, first_plan(compile_problem(told)).total)
    climb.go_on(rounds)
    return climb


def two_for_one_hand():
    """Two boats due on Monday, 100 a day late; each takes 300 of the 480 minutes of the one hand."""
    days = problem().days
    coats = {"skills": {"coat": 300}}
    return problem(
        job("one", step("coat", 1, "a", **coats), due=days[0]),
        job("other", step("coat", 1, "b", **coats), due=days[0]),
        hands=(Hand(id="she", skills=("coat",), minutes=(480,) * 10),),
    )


def test_a_hand_who_has_time_for_one_boat_and_a_half_has_time_for_one():
    """One of them is a day late: 100. By minutes alone 1.6 of the two are done on Monday: 40."""
    yard = two_for_one_hand()
    assert cheapest(yard)[0] == 100
    assert climbed(yard).bound <= 40
    assert climbed(rounded(yard)).bound == 100


def test_a_bound_that_counts_whole_pieces_can_be_worked_out_again_from_its_prices():
    yard = two_for_one_hand()
    climb = climbed(rounded(yard))
    assert bound_of(yard, climb.told()) == climb.bound


@pytest.mark.slow
def test_no_plan_is_lost_and_none_costs_less_than_the_bound(test_size):
    counted = 0
    for seed in range(SEEDS[test_size]):
        told = tiny_problem(seed)
        whole = rounded(told)
        counted += len(whole.resources) > len(told.resources)
        least, plan = cheapest(told)
        assert [breach for breach in check(whole, plan) if not breach.fact] == [], seed
        assert cost(whole, plan) == cost(told, plan), seed
        climb = climbed(whole, 15)
        assert climb.bound <= least, seed
        assert bound_of(told, climb.told()) == climb.bound, seed
    assert counted
