"""A first plan is there whatever the records say: those who have begun can always stay where they are."""

import pytest

from scheduling.engine.compiled import compile_problem
from scheduling.engine.improve import first_plan
from scheduling.engine.witness import check
from tests.engine.random_yards import random_problem, tiny_problem


@pytest.mark.parametrize("seed", [2, *range(100, 130)])
def test_boats_that_have_begun_and_are_in_each_others_way_do_not_hold_up_the_first_plan(seed):
    """In the yard of seed 2 neither of two boats can go on once the other has been put in."""
    for told in (tiny_problem(seed), random_problem(seed, facts_break=True)):
        schedule = first_plan(compile_problem(told)).schedule()
        assert set(schedule.jobs) | set(schedule.unplaced) == {job.id for job in told.jobs}
        assert [breach for breach in check(told, schedule) if not breach.fact] == []
