"""From a Problem to a Result: nothing is returned that the witness refuses, and nothing found is lost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from scheduling.engine import solve as solving
from scheduling.engine import witness
from scheduling.engine.asked import Asked
from scheduling.engine.best import Best
from scheduling.engine.insertion import compile_problem
from scheduling.engine.problem import Place, Problem
from scheduling.engine.schedule import Kept, Result, Schedule, WitnessRefused
from scheduling.engine.solve import solve
from scheduling.engine.state import State
from tests.engine.random_yards import random_problem
from tests.engine.test_improve import example
from tests.engine.tiny import broken, job, problem, step


def test_a_plan_that_costs_no_more_than_each_boat_alone_is_proven() -> None:
    told = problem(job("she", step("one", 2, "a")), job("other", step("one", 2, "b")))
    result = solve(told, work=10, workers=1)
    assert (result.status, result.total, result.bound, result.bound_by) == ("proven", 0, 0, "each boat alone")


def test_cp_sat_proves_small_yards_where_the_sum_of_each_alone_does_not() -> None:
    days = problem().days
    told = problem(
        job("she", step("one", 3, "a"), due=days[2]),
        job("other", step("one", 3, "a"), due=days[2]),
        places=(Place(id="a"),),
    )
    result = solve(told, work=200, workers=1)
    assert (result.status, result.total, result.bound) == ("proven", 500, 500)  # Wednesday to Monday


def test_the_result_says_what_the_witness_counts_and_why_boats_are_late() -> None:
    told = example(12)
    result = solve(told, work=100, workers=1, should_stop=stop_after(20))
    assert broken(told, result.schedule) == []
    assert dict(result.cost) == witness.cost(told, result.schedule)
    assert result.total == sum(result.cost.values()) <= result.first_total
    assert result.bound is not None and result.bound <= result.total
    assert result.status == "stopped"
    assert result.tries > 0


def stop_after(looks: int) -> Callable[[], bool]:
    left = iter(range(looks))
    return lambda: next(left, None) is None


def test_each_better_plan_is_told_as_it_comes() -> None:
    told: list[Result] = []
    result = solve(example(40), work=200, workers=1, on_better=told.append)
    assert told[0].total == result.first_total
    totals = [each.total for each in told] + [result.total]
    assert totals == sorted(totals, reverse=True)


def test_a_boat_left_out_is_named_with_the_rule_that_keeps_her_out() -> None:
    told = problem(
        job("she", step("one", 2, "a"), size={"length": 14}), places=(Place(id="a", limits={"length": 9}),)
    )
    result = solve(told, work=10, workers=1)
    assert result.schedule.unplaced["she"].rule == "fit"
    assert (result.late_jobs, result.late_days) == (1, 1)


def test_a_plan_that_breaks_a_rule_is_never_returned(monkeypatch: pytest.MonkeyPatch) -> None:
    def spoil(told: Problem, schedule: Schedule) -> Schedule:
        ((name, times),) = schedule.jobs.items()
        return replace(schedule, jobs={name: (replace(times[0], place="b"),)})

    monkeypatch.setattr(solving, "colour", spoil)
    with pytest.raises(WitnessRefused) as refused:
        solve(problem(job("she", step("one", 2, "a"))), work=10, workers=1)
    assert refused.value.breaches
    assert refused.value.schedule.jobs["she"][0].place == "b"


def test_a_schedule_becomes_a_state_again() -> None:
    for seed in range(10):
        told = random_problem(seed, jobs=6, slots=30, places=3)
        result = solve(told, work=20, workers=1, seed=seed, should_stop=stop_after(10))
        assert State.of(compile_problem(told), result.schedule).total == result.total


def test_a_search_goes_on_from_the_plan_it_is_given() -> None:
    told = example(12)
    good = solve(told, work=300, workers=1, should_stop=stop_after(60))
    again = solve(told, work=20, workers=1, start=good.schedule, should_stop=stop_after(1))
    assert again.total <= good.total < again.first_total


def test_a_plan_that_breaks_a_rule_is_nothing_to_start_from() -> None:
    told = problem(job("she", step("one", 2, "a")))
    good = solve(told, work=10, workers=1).schedule
    bad = replace(good, jobs={"she": (replace(good.jobs["she"][0], place="b"),)})
    assert solve(told, work=10, workers=1, start=bad).schedule.jobs == good.jobs


@pytest.mark.served
def test_a_second_process_searches_with_another_seed_and_its_better_plan_is_taken() -> None:
    told = example(40)
    alone = [solve(told, work=150, workers=1, seed=seed).total for seed in (3, 4)]
    both = solve(told, work=150, workers=2, seed=3)
    assert both.total == min(alone)


def test_a_boat_that_can_be_in_no_plan_is_left_out_for_that_reason() -> None:
    told = problem(
        job("she", step("coat", 1, "a", skills={"spray": 60}), label="Tern"),
        job("other", step("one", 2, "b")),
    )
    out = solve(told, work=10, workers=1).schedule.unplaced
    assert {name: (each.rule, each.says) for name, each in out.items()} == {
        "she": ("hands", "Tern, coat: needs spray, which nobody in the yard can do")
    }


def test_better_plans_of_a_big_yard_are_told_as_seldom_as_telling_takes_long(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """To tell one takes three of these seconds: the next is told a minute later, not after one second."""
    now, told = [0.0], list[float]()
    she = problem(job("she", step("one", 2, "a")))
    asked = Asked(
        problem=she, seconds=600, workers=1, seed=1, work=None, proof=True, should_stop=lambda: False
    )
    run = solving._Run(asked, lambda _: told.append(now[0]), lambda _: None)
    empty = State.of(compile_problem(run.problem), Schedule(jobs={}, unplaced={})).schedule()
    run.best = Best(run.problem, empty, 0)
    checked = run._checked

    def slow(schedule: Schedule, kept: dict[str, Kept]) -> Result:
        now[0] += 3
        return checked(schedule, kept)

    monkeypatch.setattr(run, "_checked", slow)
    monkeypatch.setattr(asked, "passed", lambda: now[0])
    run._tell(empty, always=True)
    while now[0] < 70:
        now[0] += 1
        run._tell(empty)
    assert told == [3, 63]
