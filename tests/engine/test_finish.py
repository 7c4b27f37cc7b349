"""CP-SAT as a whole: its answers pass the witness, cost what they say, and agree with the insertion."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from datetime import date

import pytest

from scheduling.engine.compiled import compile_problem
from scheduling.engine.cost import cost_of
from scheduling.engine.finish import build, cp_solve
from scheduling.engine.insertion import insert
from scheduling.engine.problem import Place, Problem
from scheduling.engine.rules import RULES
from scheduling.engine.schedule import Schedule, Unplaced
from scheduling.engine.state import State
from scheduling.engine.witness import check, cost
from tests.engine.model import solved, starts
from tests.engine.random_yards import random_problem
from tests.engine.tiny import job, problem, step

CASES = {"small": 10, "full": 200, "soak": 2000}
LEFT_OUT = Unplaced(rule="cost", says="")


def nobody(told: Problem) -> Schedule:
    return Schedule(unplaced={each.id: LEFT_OUT for each in told.jobs})


def breaches(told: Problem, schedule: Schedule | None) -> list[str]:
    assert schedule is not None
    return [breach.says for breach in check(told, schedule) if not breach.fact]


def proven(told: Problem, **values: object):
    given = {"hint": None, "free": None, "seconds": 60, "workers": 1, "seed": 1} | values
    answer = cp_solve(told, **given)
    assert answer.status == "proven"
    assert breaches(told, answer.schedule) == []
    assert answer.total == sum(cost(told, answer.schedule).values())
    return answer


def test_random_yards_are_proven_keep_every_rule_and_cost_what_the_witness_counts(test_size: str):
    for seed in range(CASES[test_size]):
        told = random_problem(seed, jobs=3 + seed % 2, facts_break=seed % 5 == 0)
        answer = proven(told)
        assert answer.bound == answer.total, seed
        assert cost_of(told, answer.schedule) == cost(told, answer.schedule), seed


def crowd(told: Problem, one: str) -> State:
    """A plan without `one`: all others put in in turn; if she has begun, she stands in her place."""
    state = State(compile_problem(told))
    for each in told.jobs:
        state.leave_out(each.id)
    for each in told.jobs:
        if each.id != one:
            state.take_back(each.id)
            fit = insert(state, each.id)
            if fit is not None:
                state.put(each.id, fit.times)
            else:
                state.leave_out(each.id)
    return state


def test_with_one_job_free_it_finds_what_the_insertion_finds(test_size: str):
    placed = 0
    for seed in range(CASES[test_size]):
        told = random_problem(1000 + seed, jobs=5, places=4, facts_break=seed % 4 == 0)
        one = told.jobs[seed % len(told.jobs)].id
        state = crowd(told, one)
        without = state.schedule()
        state.take_back(one)
        fit = insert(state, one)
        least = sum(cost_of(told, without).values())
        if fit is not None:
            state.put(one, fit.times)
            placed += 1
            least = min(least, sum(cost_of(told, state.schedule()).values()))
        assert proven(told, hint=without, free={one}).total == least, (seed, one)
    assert placed > CASES[test_size] // 2


def test_the_hint_is_kept_where_nothing_is_cheaper_and_bettered_where_something_is():
    told = random_problem(8, jobs=4)
    best = proven(told)
    again = proven(told, hint=best.schedule)
    assert (again.total, again.bound) == (best.total, best.total)
    assert proven(told, hint=nobody(told)).total == best.total


def test_jobs_that_are_not_free_stay_as_they_are_and_bound_nothing():
    boats = [job(name, step("peel", 3, "a"), due=date(2026, 11, 4)) for name in "xy"]
    told = problem(*boats, places=(Place(id="a"),))
    first = proven(told, hint=nobody(told), free={"y"})
    assert starts(first) == {"y": [("a", 0)]}
    second = proven(told, hint=first.schedule, free={"x"})
    # y keeps slots 0 to 2; x from 3 to 5, Monday 9: 5 days late.
    assert (starts(second), second.total, second.bound) == ({"x": [("a", 3)], "y": [("a", 0)]}, 500, None)


def test_free_jobs_need_a_schedule_for_the_others():
    with pytest.raises(ValueError, match="free"):
        cp_solve(random_problem(1), hint=None, free={"j0"}, seconds=1, workers=1, seed=1)


def test_a_hint_that_breaks_a_rule_is_not_an_answer():
    boats = [job(name, step("peel", 3, "a")) for name in "xy"]
    tight = problem(*boats, places=(Place(id="a"),))
    both_at_once = solved(tight, "stand").schedule
    assert breaches(tight, both_at_once)
    answer = proven(tight, hint=both_at_once)
    assert answer.schedule != both_at_once


def test_stopped_at_once_it_still_gives_back_the_hint():
    told = random_problem(3, jobs=4)
    hint = proven(told).schedule
    worse = replace(hint, jobs={}, unplaced={each.id: LEFT_OUT for each in told.jobs})
    answer = cp_solve(
        told,
        hint=worse,
        free=None,
        seconds=60,
        workers=1,
        seed=1,
        should_stop=lambda: True,
        deterministic=0.0,
    )
    assert answer.status in ("stopped", "proven")
    assert breaches(told, answer.schedule) == []
    assert answer.total is not None
    assert answer.total <= sum(cost_of(told, worse).values())


def test_one_worker_with_a_given_amount_of_work_gives_one_answer():
    told = random_problem(11, jobs=6, slots=30)
    answers = [
        cp_solve(told, hint=None, free=None, seconds=600, workers=2, seed=5, deterministic=0.1)
        for _ in range(2)
    ]
    assert answers[0] == answers[1] and answers[0].schedule is not None


def test_the_models_are_well_formed_and_every_rule_is_in_the_table_of_contents():
    names = {rule.__name__ for rule in RULES}
    assert names == {
        "chain", "stand", "swaps", "fit", "lane", "air", "hands", "resources", "windows", "pins", "gate"
    }  # fmt: skip
    for seed in range(10):
        assert build(random_problem(seed)).cp.validate() == ""


def test_the_engine_loads_without_ortools_until_it_is_needed():
    modules = "scheduling.engine.contradictions, scheduling.engine.colour"
    code = f"import sys, {modules}; print('ortools' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "False"
