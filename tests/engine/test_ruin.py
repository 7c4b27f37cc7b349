"""Which boats are taken out together: where the plan has them now, and the nearer the bigger the yard."""

from __future__ import annotations

import random

from scheduling.engine.builds import first_plan
from scheduling.engine.compiled import Compiled, compile_problem
from scheduling.engine.insertion import State
from scheduling.engine.problem import Place, Resource
from scheduling.engine.ruin import Ruin
from tests.engine.tiny import job, plan, problem, step


def ruin_of(compiled: Compiled, state: State) -> Ruin:
    ruin = Ruin(compiled, dict.fromkeys(compiled.jobs, ()), dict.fromkeys(compiled.jobs, 0))
    ruin.see(state)
    return ruin


def widest(count: int) -> int:
    """[days] that three boats taken out together are apart at most, of so many in one bay, a day each."""
    told = problem(
        *(job(f"b{n}", step("one", 1, "a", earliest=n)) for n in range(count)),
        slots=count + 5,
        places=(Place(id="a"),),
    )
    compiled = compile_problem(told)
    state = first_plan(compiled, [f"b{n}" for n in range(count)])
    ruin, rng, apart = ruin_of(compiled, state), random.Random(1), []
    for _ in range(200):
        starts = [state.times[name][0].start for name in ruin.about_one_time(state, rng, 3)]
        apart.append(max(starts) - min(starts))
    return max(apart)


def test_the_bigger_the_yard_the_nearer_in_time_are_those_taken_out() -> None:
    """Among 40 boats up to ten days count as nothing by chance, among 160 two and a half."""
    assert widest(160) <= 6 < widest(40)


def test_a_boat_that_was_moved_is_looked_for_where_she_is_now() -> None:
    """Three in one bay, one after the other: she was the first, and is then the last."""
    told = problem(*(job(name, step("one", 1, "a")) for name in ("she", "two", "three")))
    compiled, rng = compile_problem(told), random.Random(1)
    state = State(compiled)
    for name, times in plan(told, she=[("a", 0)], two=[("a", 1)], three=[("a", 2)]).jobs.items():
        state.put(name, times)
    ruin = ruin_of(compiled, state)
    assert {frozenset(ruin.in_turn(state, rng, 2)) for _ in range(40)} == {
        frozenset({"she", "two"}),
        frozenset({"two", "three"}),
        frozenset({"she", "two", "three"}),
    }
    state.take("she")
    state.put("she", plan(told, she=[("a", 5)]).jobs["she"])
    ruin.see(state, ["she"])
    assert {frozenset(ruin.in_turn(state, rng, 2)) for _ in range(40)} == {
        frozenset({"two", "three"}),
        frozenset({"three", "she"}),
        frozenset({"she", "two", "three"}),
    }


def test_a_boat_left_out_is_no_neighbour() -> None:
    told = problem(*(job(name, step("one", 1, "a")) for name in ("she", "other", "out")))
    compiled, rng = compile_problem(told), random.Random(1)
    state = State(compiled)
    for name, times in plan(told, she=[("a", 0)], other=[("a", 1)]).jobs.items():
        state.put(name, times)
    ruin = ruin_of(compiled, state)
    assert all(set(ruin.about_one_time(state, rng, 3)) == {"she", "other"} for _ in range(20))


def test_those_who_use_the_same_kit_are_taken_out_together() -> None:
    kit = Resource(id="kit", capacity=(1,) * 10)
    told = problem(
        job("she", step("one", 2, "a", uses={"kit": 1}), late_price=0),
        job("user", step("one", 2, "b", uses={"kit": 1}), late_price=0),
        job("idle", step("one", 2, "b"), late_price=0),
        resources=(kit,),
    )
    compiled, rng = compile_problem(told), random.Random(1)
    state = State(compiled)
    for name, times in plan(told, she=[("a", 0)], user=[("b", 2)], idle=[("b", 4)]).jobs.items():
        state.put(name, times)
    found = [ruin_of(compiled, state).at_one_row(state, rng, 3) for _ in range(30)]
    assert {frozenset(names) for names in found if names} == {frozenset({"she", "user"})}
