"""Closeness: what may be said of a plan beside the best there can be."""

from scheduling.engine.closeness import Closeness, closeness
from scheduling.engine.problem import Place
from scheduling.engine.solve import solve
from tests.engine.tiny import job, problem, step


def test_the_gap_is_what_is_above_the_bound_in_money_and_of_all_money():
    """Of 10,000 at most 500 can be saved: 5 %. 4,000 are above each boat alone, 3,500 of them for good."""
    found = closeness(10_000, 9_500, 6_000, left_out=0)
    assert found == Closeness(gap=500, gap_pct=5.0, avoidable=4_000, unavoidable_pct=87.5)


def test_a_plan_that_costs_as_much_as_each_boat_alone_has_nothing_to_save():
    found = closeness(6_000, 6_000, 6_000, left_out=0)
    assert found == Closeness(gap=0, gap_pct=0.0, avoidable=0, unavoidable_pct=100.0)


def test_a_plan_that_costs_nothing_is_no_share_of_anything():
    found = closeness(0, 0, 0, left_out=0)
    assert found == Closeness(gap=0, gap_pct=0.0, avoidable=0, unavoidable_pct=100.0)


def test_of_an_overfull_yard_nothing_is_claimed():
    assert closeness(10_000, 9_500, 6_000, left_out=1) is None


def test_without_a_bound_or_with_one_above_the_plan_nothing_is_claimed():
    assert closeness(10_000, None, 6_000, left_out=0) is None
    assert closeness(10_000, 10_001, 6_000, left_out=0) is None


def test_without_what_each_boat_costs_alone_only_the_gap_is_said():
    found = closeness(10_000, 9_500, None, left_out=0)
    assert found == Closeness(gap=500, gap_pct=5.0, avoidable=None, unavoidable_pct=None)


def test_a_result_keeps_what_each_boat_would_cost_alone():
    """Two boats want one bay for three days each: alone neither is late, together one is, at 100 a day."""
    days = problem().days
    told = problem(
        job("she", step("one", 3, "a"), due=days[2]),
        job("other", step("one", 3, "a"), due=days[2]),
        places=(Place(id="a"),),
    )
    result = solve(told, work=20, workers=1)
    assert result.alone == 0 < result.total
    found = closeness(result.total, result.bound, result.alone, len(result.schedule.unplaced))
    assert found is not None
    assert (found.gap, found.avoidable, found.unavoidable_pct) == (0, result.total, 100.0)
