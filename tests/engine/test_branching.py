"""Plans parted in two: no plan is lost, and what all parts prove together is more than prices alone prove."""

import json
from functools import partial

import pytest

from scheduling.engine.branching import Branching, Cut, Half, coin, with_cut
from scheduling.engine.climb import Climb
from scheduling.engine.compiled import compile_problem
from scheduling.engine.finish import cp_solve
from scheduling.engine.improve import first_plan
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.prices import bound_of
from scheduling.engine.proving import Task, prove, prove_with_another
from scheduling.engine.rounded import rounded
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


def shared(told):
    """Parts of a yard as soon as there is something to share."""
    parts = parted(told, 0)[1]
    parts.go_on(1000, lambda: len(parts.open) > 1)
    assert len(parts.open) > 1
    return parts


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
            keeps = Half(cut, inside).keeps
            yard = with_cut(climb.dual.compiled.problem, cut, inside)
            half = climb.parted(yard, cut.job, keeps, climb.above)
            assert half.value >= climb.value, (cut, inside)
            assert half.value == half.dual.value(half.best)[0], "and what it proves is worked out whole"


def test_a_part_proves_the_same_whether_or_not_arrays_were_kept():
    """Of a job who may do less than before nothing is known any more; of all others everything."""
    told = random_problem(1, jobs=4, slots=24, places=2)
    climb = Climb(told, first_plan(compile_problem(told)).total)
    climb.go_on(20)
    for cut in cuts(told):
        yard, keeps = with_cut(climb.dual.compiled.problem, cut, True), Half(cut, True).keeps
        kept = climb.parted(yard, cut.job, keeps, climb.above)
        kept.go_on(5)
        compiled, climb.compiled = climb.compiled, None
        anew = climb.parted(yard, cut.job, keeps, climb.above)
        anew.go_on(5)
        climb.compiled = compiled
        assert kept.value == anew.value, cut


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
            if parts.plan is not None:
                assert breaches(yard(seed), parts.plan) == []
                assert sum(cost(yard(seed), parts.plan).values()) >= answer.total
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


@pytest.mark.parametrize(("jobs", "seed", "all_of_it"), ((4, 2, True), (5, 2, True), (4, 0, False)))
def test_two_who_each_look_at_half_of_the_parts_prove_together_what_one_proves(jobs, seed, all_of_it):
    """The optimum is in one of both halves; `all_of_it` where prices see all that it costs."""
    told = random_problem(seed, jobs=jobs, slots=24, places=2)
    answer = cp_solve(told, hint=None, free=None, seconds=20, workers=1, seed=1)
    parts = shared(told)
    task = Task(problem=told, above=first_plan(compile_problem(told)).total, seed=2, parts=parts.leave_half())
    task = from_json(Task, json.loads(json.dumps(to_json(task))))
    other = prove(task, lambda: False)
    parts.go_on(1000)
    bound, alone = min(parts.bound, other.bound), parted(told, 1000)[1].bound
    assert max(bound, alone) <= answer.total
    plans = [plan for plan in (parts.plan, other.schedule) if plan is not None]
    least = min(sum(cost(told, plan).values()) for plan in plans)
    assert not all_of_it or alone == bound == least == answer.total


def test_with_no_time_for_its_half_the_other_one_claims_what_prices_alone_prove():
    told = random_problem(0, jobs=4, slots=24, places=2)
    parts = shared(told)
    climb = parts.climb
    task = Task(problem=told, above=climb.above // climb.parts, seed=2, parts=parts.leave_half())
    assert prove(task, lambda: True).bound <= climb.bound


def in_two_processes(monkeypatch):
    """(the yard, what two processes prove of it and what prices alone do), shared as soon as it is parted."""
    monkeypatch.setattr("scheduling.engine.proving.SPLIT", 2)
    told = random_problem(2, jobs=4, slots=24, places=2)
    above = first_plan(compile_problem(told)).total
    climb = Climb(rounded(told), above)
    climb.go_on(30)
    proof = prove_with_another(told, Branching(climb), 60, lambda: False, lambda _: None, lambda: above)
    return told, proof, climb.bound


@pytest.mark.slow
def test_two_processes_prove_a_yard_of_few_boats(monkeypatch):
    told, proof, alone = in_two_processes(monkeypatch)
    answer = cp_solve(told, hint=None, free=None, seconds=20, workers=1, seed=1)
    assert alone < proof.bound == answer.total == sum(cost(told, proof.schedule).values())
    assert breaches(told, proof.schedule) == []


def test_if_the_other_process_fails_no_more_is_claimed_than_prices_prove(monkeypatch):
    asked = []
    monkeypatch.setattr("scheduling.engine.proving.Prover.proof", lambda self, stop: asked.append(self))
    _, proof, alone = in_two_processes(monkeypatch)
    assert len(asked) == 1
    assert proof.bound == alone


def test_what_plans_cost_is_a_multiple_of_their_coin():
    for seed in range(20):
        told = random_problem(seed, jobs=3, slots=24, places=2)
        assert first_plan(compile_problem(told)).total % coin(told) == 0
    assert coin(two_for_one_hand()) == 100


def test_a_yard_of_few_boats_is_told_the_bound_that_its_parts_prove(monkeypatch):
    """One that is too large for CP-SAT: of this one it is said so, that the test takes no time."""
    monkeypatch.setattr("scheduling.engine.asked.FEW_JOBS", 0)
    yard = random_problem(7, jobs=5, slots=24, places=2)
    result = solve(yard, work=4_000, workers=1, seed=1)
    assert result.bound_by == "branching"
    assert bound_of(yard, result.prices) < result.bound < result.total
