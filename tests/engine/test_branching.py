"""Plans parted in two: no plan is lost, and what all parts prove together is more than prices alone prove."""

from functools import partial

import pytest

from scheduling.engine.branching import Branching, Cut, with_cut
from scheduling.engine.climb import Climb
from scheduling.engine.compiled import compile_problem
from scheduling.engine.finish import cp_solve
from scheduling.engine.improve import first_plan
from scheduling.engine.prices import bound_of
from scheduling.engine.solve import solve
from scheduling.engine.witness import check, cost
from tests.engine.brute import cheapest
from tests.engine.random_yards import lane_problem, random_problem, swapping_problem, tiny_problem
from tests.engine.test_rounded import two_for_one_hand

SEEDS = {"small": 4, "full": 40, "soak": 400}


def parted(told, rounds):
    climb = Climb(told, first_plan(compile_problem(told)).total)
    climb.go_on(30)
    parts = Branching(climb)
    parts.go_on(rounds)
    return climb, parts


def cuts(told):
    for job in told.jobs:
        for number, step in enumerate(job.steps):
            yield from (Cut(job.id, number, before=slot) for slot in (1, 3, 6))
            places = {name for option in step.options for name in option.places}
            yield from (Cut(job.id, number, place=name) for name in sorted(places))


def breaches(told, plan):
    return [breach for breach in check(told, plan) if not breach.fact]


def test_one_hand_for_two_boats_is_proven_to_make_one_late_where_prices_mix_both_days():
    """Whichever waits is a day late: 100. By minutes alone 1.6 of the two are done on Monday: 40."""
    yard = two_for_one_hand()
    climb, parts = parted(yard, 200)
    assert climb.bound <= 40
    assert (parts.bound, parts.done) == (100, True)


@pytest.mark.parametrize("seed", (0, 3, 5))  # whose plans are tried in no time
def test_a_plan_is_in_one_half_of_every_cut_at_the_same_cost(seed):
    told = tiny_problem(seed)
    least, plan = cheapest(told)
    for cut in cuts(told):
        fine = []
        for inside in (True, False):
            half = with_cut(told, cut, inside)
            times = plan.jobs.get(cut.job)
            fine.append(breaches(half, plan) == [])
            assert fine[-1] == (times is None or cut.has(times, inside)), (cut, inside)
            assert not fine[-1] or sum(cost(half, plan).values()) == least
        assert any(fine)


@pytest.mark.parametrize("seed", range(4))
def test_at_the_same_prices_a_part_proves_no_less_than_the_whole(seed):
    """Also where a part has left an air, and who shared it with others need not care any more."""
    told = random_problem(seed, jobs=3, slots=24, places=2)
    climb = Climb(told, first_plan(compile_problem(told)).total)
    climb.go_on(20)
    for cut in cuts(told):
        for inside in (True, False):
            keeps = partial(_kept, cut, inside)
            yard = with_cut(climb.dual.compiled.problem, cut, inside)
            half = climb.parted(yard, cut.job, keeps, climb.above)
            assert half.value >= climb.value, (cut, inside)


def _kept(cut, inside, way):
    return bool(way.times) and cut.has(way.times, inside)


@pytest.mark.slow
def test_no_parts_prove_more_than_the_proven_optimum(test_size):
    closer = 0
    for yard in (
        lane_problem,
        swapping_problem,
        partial(random_problem, jobs=5, slots=24, places=2),
        partial(random_problem, jobs=5, slots=24, places=2, facts_break=True),
    ):
        for seed in range(SEEDS[test_size]):
            answer = cp_solve(yard(seed), hint=None, free=None, seconds=20, workers=1, seed=1)
            climb, parts = parted(yard(seed), 150)
            assert answer.status == "proven"
            assert climb.bound <= parts.bound <= answer.total, seed
            closer += parts.bound > climb.bound
    assert closer >= SEEDS[test_size] // 2


def test_a_cheaper_plan_than_what_was_said_to_be_one_is_not_ruled_out():
    """Told of a plan at 99 the parts prove that there is none below it, and claim no more."""
    yard = two_for_one_hand()
    climb = Climb(yard, 99)
    climb.go_on(30)
    parts = Branching(climb)
    parts.go_on(200)
    assert (parts.bound, parts.done) == (99, True)


def test_a_yard_of_few_boats_is_told_the_bound_that_its_parts_prove(monkeypatch):
    """One that is too large for CP-SAT: of this one it is said so, that the test takes no time."""
    monkeypatch.setattr("scheduling.engine.solve.FEW_JOBS", 0)
    yard = random_problem(7, jobs=5, slots=24, places=2)
    result = solve(yard, work=4_000, workers=1, seed=1)
    assert result.bound_by == "branching"
    assert bound_of(yard, result.prices) < result.bound < result.total
