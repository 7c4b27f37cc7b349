"""Why a boat is not finished earlier: the one rule that keeps her, in words of the yard."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from scheduling.engine.explain import held_up, kept_by
from scheduling.engine.improve import first_plan, settle
from scheduling.engine.insertion import State, compile_problem
from scheduling.engine.problem import Air, Hand, Place, Problem, Resource, Table
from scheduling.engine.schedule import Kept
from scheduling.engine.slots import late_days
from tests.engine.random_yards import random_problem
from tests.engine.tiny import job, lengths, plan, problem, step


def kept(told: Problem, name: str = "she", **others: object) -> Kept | None:
    """What keeps `name`, with the others as planned and her put in where she is cheapest."""
    state, schedule = State(compile_problem(told)), plan(told, **others)
    for other, times in schedule.jobs.items():
        if other in others:
            state.put(other, times)
    settle(state, name)
    return held_up(state, name)


def said(found: Kept | None) -> tuple[str, str, int]:
    assert found is not None
    return found.rule, found.says, found.days


def test_a_boat_in_her_place() -> None:
    told = problem(
        job("she", step("one", 2, "a")),
        job("other", step("one", 4, "a"), label="Turnstone"),
        places=(Place(id="a", label="H6"),),
    )
    assert said(kept(told, other=[("a", 0)])) == (
        "stand",
        "waits for H6 until Fri 6 Nov: Turnstone stands there",
        6,
    )


def test_no_place_that_is_free_takes_her() -> None:
    told = problem(
        job("she", step("one", 2, "a", "b", kind="heat"), size={"length": 14}),
        job("other", step("one", 4, "b")),
        places=(Place(id="a", label="H1", limits={"length": 12}), Place(id="b", label="H2")),
    )
    found = kept(told, other=[("b", 0)])
    assert found is not None and found.rule in ("stand", "fit")
    small = replace(told.places[1], limits={"length": 9})
    alone = problem(*told.jobs[:1], places=(told.places[0], small))
    assert said(kept(alone))[:2] == (
        "fit",
        "no free place for heat takes her length 14; H1 takes length 12",
    )


def test_hours_kits_and_trips() -> None:
    told = problem(
        job("she", step("one", 1, "a", kind="coats", skills={"coat": 300})),
        job("other", step("one", 3, "b", skills={"coat": 300})),
        hands=(Hand(id="h", skills=("coat",), minutes=(480,) * 10),),
    )
    assert said(kept(told, other=[("b", 0)])) == (
        "hands",
        "too few hours of coat for coats before Thu 5 Nov",
        3,
    )
    told = problem(
        job("she", step("one", 1, "a", kind="drying", holds={"tent": 1})),
        resources=(Resource(id="tent", label="tent L", capacity=(0, 0, 1, 1, 1, 1, 1, 1, 1, 1)),),
    )
    assert said(kept(told)) == ("hands", "tent L: none free for drying before Wed 4 Nov", 2)
    told = problem(
        job("she", step("one", 1, "a"), step("two", 1, "b")),
        resources=(Resource(id="t", capacity=(0, 0, 0, 1, 1, 1, 1, 1, 1, 1)),),
        mover="t",
    )
    assert said(kept(told)) == ("hands", "no trip is left on Tue 3 Nov", 2)


def test_dust_beside_her() -> None:
    told = problem(
        job("she", step("one", 1, "a", kind="the coat", spoiled_by=("dust",))),
        job("other", step("one", 2, "b", makes=("dust",))),
        airs=(Air(id="hall", settle=1),),
        places=(Place(id="a", air="hall"), Place(id="b", air="hall")),
    )
    assert said(kept(told, other=[("b", 0)])) == (
        "air",
        "the coat waits for the dust of others until Thu 5 Nov",
        3,
    )


def test_a_boat_in_front_of_her() -> None:
    told = problem(
        job("she", step("one", 2, "deep")),
        job("other", step("one", 4, "front", movable=False), label="Avocet"),
        places=(Place(id="front", label="C4", lane="l", depth=1), Place(id="deep", lane="l", depth=2)),
    )
    rule, says, days = said(kept(told, other=[("front", 1)]))
    assert (rule, says) == ("lane", "Avocet in C4 is in the way on Wed 4 Nov")
    assert days > 0


def test_tides_pins_waits_and_signed_dry() -> None:
    tide = Table(id="tide", finish=(None,) * 6 + (7, 8, 9, 10))
    launch = step("one", 1, "a", kind="relaunch")
    told = problem(job("she", launch), tables=(*lengths(10), tide))
    (option,) = launch.options
    launch = step("one", 1, "a", kind="relaunch")
    object.__setattr__(launch, "options", (type(option)(places=("a",), table="tide"),))
    told = problem(job("she", launch), tables=(*lengths(10), tide))
    assert said(kept(told)) == ("windows", "relaunch has no window before Tue 10 Nov", 8)
    told = problem(
        job("she", step("one", 1, "a", kind="survey", earliest=3, earliest_why="the surveyor comes"))
    )
    assert said(kept(told)) == ("windows", "survey can't start before Thu 5 Nov: the surveyor comes", 3)
    told = problem(job("she", step("one", 1, "a", kind="peel", pin_start=4)))
    assert said(kept(told)) == ("pins", "peel is pinned to Fri 6 Nov", 4)
    told = problem(job("she", step("one", 1, "a", kind="coat", coats=True, gate=5)))
    assert said(kept(told)) == ("gate", "coat waits for signed dry, forecast for Mon 9 Nov", 7)
    told = problem(job("she", step("one", 1, "a"), step("two", 1, "a", kind="coat", wait_min=2)))
    assert said(kept(told)) == ("chain", "coat waits 2 working days after what comes before it", 2)


def test_of_several_full_places_the_one_she_has_no_other_for_is_named() -> None:
    # She may wash anywhere, and the pad is full all week; only H6 is heated, and it is taken until slot 8.
    told = problem(
        job("she", step("wash", 1, "pad", "yard"), step("fair", 2, "h6")),
        job("one", step("one", 5, "pad"), label="Mallow"),
        job("two", step("two", 5, "h6"), step("more", 3, "h6"), label="Turnstone"),
        places=(
            Place(id="pad", label="P1"),
            Place(id="yard", label="S1", price=7),
            Place(id="h6", label="H6"),
        ),
    )
    found = kept(told, one=[("pad", 0)], two=[("h6", 0), ("h6", 5)])
    assert said(found) == ("stand", "waits for H6 until Thu 12 Nov: Turnstone stands there", 9)


def test_two_rules_that_keep_her_together_are_both_said() -> None:
    # Place a is taken and the peel hand is away, both until slot 4: neither alone lets her start earlier.
    told = problem(
        job("she", step("peel", 2, "a", skills={"peel": 60}, label="Peel")),
        job("other", step("one", 4, "a"), label="Turnstone"),
        places=(Place(id="a", label="H6"),),
        hands=(Hand(id="kit", skills=("peel",), minutes=(0,) * 4 + (480,) * 6),),
    )
    rule, says, days = said(kept(told, other=[("a", 0)]))
    assert (rule, days) == ("stand", 6)
    assert "Turnstone stands there; and too few hours of peel" in says


def test_a_boat_that_would_be_late_in_an_empty_yard_is_told_so() -> None:
    told = problem(
        job("she", step("one", 5, "a"), step("two", 2, "a"), due=date(2026, 11, 6)),
    )
    # Five days and two: slots 0 to 6, done on Tuesday 10 November, due on Friday the 6th.
    assert said(kept(told)) == (
        "chain",
        "even with the yard to herself she would not be done before Tue 10 Nov",
        0,
    )


def test_nothing_keeps_a_boat_that_comes_first() -> None:
    assert kept(problem(job("she", step("one", 2, "a")))) is None


def test_late_and_left_out_boats_are_explained_and_the_plan_is_left_as_it_is() -> None:
    explained = 0
    for seed in range(15):
        told = random_problem(seed, jobs=6, slots=30, places=2)
        state = first_plan(compile_problem(told))
        before = state.schedule()
        found = kept_by(state)
        assert state.schedule() == before
        for name, why in found.items():
            each = state.compiled.jobs[name]
            times = state.times.get(name)
            assert times is None or late_days(told.days, each.due, times[-1].end) > 0
            assert why.days > 0 or "to herself" in why.says
            assert why.says and "None" not in why.says
            explained += 1
    assert explained > 20


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_boat_can_be_asked_about(seed: int) -> None:
    state = first_plan(compile_problem(random_problem(seed, jobs=5, slots=30, places=3)))
    for name in state.compiled.jobs:
        found = held_up(state, name)
        assert found is None or found.says
