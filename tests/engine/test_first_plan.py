"""A first plan is there whatever the records say: those who have begun can always stay where they are."""

import random

import pytest

from scheduling.engine.builds import mixed_order
from scheduling.engine.compiled import compile_problem
from scheduling.engine.improve import Budget, first_plan, improve, start_search
from scheduling.engine.problem import Place
from scheduling.engine.witness import check
from tests.engine.random_yards import random_problem, tiny_problem
from tests.engine.tiny import job, problem, step


@pytest.mark.parametrize("seed", [2, *range(100, 130)])
def test_boats_that_have_begun_and_are_in_each_others_way_do_not_hold_up_the_first_plan(seed):
    """In the yard of seed 2 neither of two boats can go on once the other has been put in."""
    for told in (tiny_problem(seed), random_problem(seed, facts_break=True)):
        schedule = first_plan(compile_problem(told)).schedule()
        assert set(schedule.jobs) | set(schedule.unplaced) == {job.id for job in told.jobs}
        assert [breach for breach in check(told, schedule) if not breach.fact] == []


def test_the_search_begins_from_a_better_order_than_the_earliest_due_first():
    """Two boats want one bay: the one whose lateness is dear goes first, though she is due later."""
    days = problem().days
    told = problem(
        job("soon", step("one", 4, "a"), due=days[4], late_price=1),
        job("dear", step("one", 4, "a"), due=days[5], late_price=1000),
        places=(Place(id="a"),),
    )
    compiled = compile_problem(told)
    orders = {tuple(mixed_order(compiled, random.Random(seed))) for seed in range(20)}
    assert orders == {("soon", "dear"), ("dear", "soon")}
    search = start_search(compiled)
    begun_at = first_plan(compiled)
    best = improve(search, begun_at, random.Random(1), Budget(0.0, 30, lambda: False))
    assert best.times["dear"][0].start == 0
    assert best.total < begun_at.total


def test_a_drawn_order_has_every_boat_once():
    compiled = compile_problem(random_problem(3, jobs=9, slots=30, places=3))
    for seed in range(5):
        assert sorted(mixed_order(compiled, random.Random(seed))) == sorted(compiled.jobs)
