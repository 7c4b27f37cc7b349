"""Search: a complete first plan, never worse after, the same plan for the same seed and work."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from pathlib import Path

import pytest

from scheduling.engine.compiled import Compiled
from scheduling.engine.improve import APART, STAGES, Budget, first_plan, improve, start_search
from scheduling.engine.insertion import State, compile_problem, insert
from scheduling.engine.jsonio import from_json
from scheduling.engine.problem import Place, Problem
from scheduling.engine.walk import COUNTS, Walk
from tests.engine.random_yards import random_problem
from tests.engine.tiny import begun, broken, job, problem, step

EXAMPLES = Path(__file__).parent / "examples"


def example(boats: int) -> Problem:
    return from_json(Problem, json.loads((EXAMPLES / f"boats{boats}.json").read_text()))


def improved(compiled: Compiled, work: int, seed: int = 1) -> State:
    search = start_search(compiled)
    return improve(search, first_plan(compiled), random.Random(seed), Budget(0.0, work, lambda: False))


@pytest.mark.parametrize("facts_break", [False, True])
def test_the_first_plan_is_complete_and_lawful(facts_break: bool, test_size: str) -> None:
    for seed in range(20 if test_size == "small" else 60):
        told = random_problem(seed, jobs=7, slots=30, places=3, facts_break=facts_break)
        state = first_plan(compile_problem(told))
        assert broken(told, state.schedule()) == [], seed
        for each in told.jobs:  # one that has begun is somewhere until the end, or placed
            assert each.id in state.times or each.id in state.out or each.begun is None


def test_the_first_plan_puts_the_earliest_due_first() -> None:
    days = problem().days
    told = problem(
        job("late", step("one", 4, "a"), due=days[8]),
        job("soon", step("one", 4, "a"), due=days[4]),
        places=(Place(id="a"),),
    )
    times = first_plan(compile_problem(told)).times
    assert (times["soon"][0].start, times["late"][0].start) == (0, 4)


def test_a_boat_that_costs_more_than_to_leave_her_out_is_left_out() -> None:
    told = problem(job("she", step("one", 1, "a", price=99), drop_price=50))
    assert first_plan(compile_problem(told)).times == {}


def test_one_that_has_begun_and_is_left_out_keeps_others_out_of_her_place() -> None:
    told = problem(
        job("stuck", step("one", 5, "a", earliest=9), begun=begun("a", 2)),
        job("she", step("one", 2, "a", "b")),
        places=(Place(id="a"), Place(id="b", price=5)),
    )
    state = first_plan(compile_problem(told))
    assert state.out == {"stuck"}
    assert state.times["she"][0].place == "b"


def test_improvement_is_lawful_never_dearer_and_above_the_bound() -> None:
    for seed in range(12):
        told = random_problem(seed, jobs=8, slots=40, places=4)
        compiled = compile_problem(told)
        first, best = first_plan(compiled), improved(compiled, 60, seed)
        assert broken(told, best.schedule()) == [], seed
        assert start_search(compiled).bound <= best.total <= first.total


def test_alone_means_without_the_others_and_their_facts(test_size: str) -> None:
    for seed in range(10 if test_size == "small" else 25):
        told = random_problem(seed, jobs=6, slots=30, places=3, facts_break=True)
        search = start_search(compile_problem(told))
        for each in told.jobs:
            only = compile_problem(replace(told, jobs=(each,)))
            fit = insert(State(only), each.id)
            assert search.alone_cost(each.id) == min(fit.cost if fit else each.drop_price, each.drop_price)


def test_a_limit_leaves_away_only_what_costs_as_much(test_size: str) -> None:
    for seed in range(10 if test_size == "small" else 25):
        compiled = compile_problem(random_problem(seed, jobs=4, slots=30, places=3))
        for name in compiled.jobs:
            fit = insert(State(compiled), name)
            if fit is not None:
                assert insert(State(compiled), name, limit=fit.cost + 1) == fit
                assert insert(State(compiled), name, limit=fit.cost) is None


def test_one_seed_and_so_much_work_give_one_plan() -> None:
    compiled = compile_problem(random_problem(5, jobs=10, slots=60, places=4))
    assert improved(compiled, 150, seed=7).times == improved(compiled, 150, seed=7).times


def test_search_halves_what_could_be_avoided_on_the_yard_of_40_boats(test_size: str) -> None:
    compiled = compile_problem(example(40))
    search, first = start_search(compiled), first_plan(compiled)
    best = improved(compiled, 600 if test_size == "small" else 6000)
    assert best.total - search.bound <= (first.total - search.bound) / 2


def test_asked_to_stop_it_gives_what_it_has() -> None:
    compiled = compile_problem(example(12))
    search, first = start_search(compiled), first_plan(compiled)
    asked = iter([False] * 5 + [True] * 100)
    best = improve(search, first, random.Random(1), Budget(3600.0, None, lambda: next(asked)))
    assert best.total <= first.total


def test_several_walks_side_by_side_give_one_plan_for_one_seed_and_so_much_work(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("scheduling.engine.improve.WALK", 20)
    for seed in range(4):
        told = random_problem(seed, jobs=8, slots=40, places=4)
        compiled = compile_problem(told)
        one, other = improved(compiled, 600, seed), improved(compiled, 600, seed)
        assert one.times == other.times
        assert broken(told, one.schedule()) == [], seed
        assert start_search(compiled).bound <= one.total <= first_plan(compiled).total


def test_each_plan_told_is_cheaper_than_the_one_before() -> None:
    compiled = compile_problem(example(12))
    search, first, told = start_search(compiled), first_plan(compiled), [first_plan(compiled).total]
    best = improve(
        search,
        first,
        random.Random(1),
        Budget(0.0, 900, lambda: False),
        lambda state: told.append(state.total),
    )
    assert len(told) > 2
    assert told == sorted(set(told), reverse=True)
    assert told[-1] == best.total
    again = improve(
        search, best, random.Random(1), Budget(0.0, 40, lambda: False), lambda state: told.append(0)
    )
    assert (0 in told) == (again.total < best.total)


def test_the_dearest_walk_goes_on_from_the_cheapest(monkeypatch: pytest.MonkeyPatch) -> None:
    joined = []

    class Seen(Walk):
        def join(self, other: Walk) -> None:
            joined.append((self.current.total, other.current.total))
            super().join(other)
            assert (self.current, self.best) == (other.current, other.best)

    monkeypatch.setattr("scheduling.engine.improve.WALK", 40)
    monkeypatch.setattr("scheduling.engine.improve.Walk", Seen)
    improved(compile_problem(example(12)), 12 * 40 * 3)
    assert len(joined) == STAGES - APART
    assert all(dear >= cheap for dear, cheap in joined)
    assert any(dear > cheap for dear, cheap in joined)


def test_walks_make_no_more_insertions_than_they_may(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scheduling.engine.improve.WALK", 10)
    compiled = compile_problem(example(12))
    search = start_search(compiled)
    alone, work = search.tries, 700
    improve(search, first_plan(compiled), random.Random(1), Budget(0.0, work, lambda: False))
    assert work <= search.tries - alone <= work + max(COUNTS)
