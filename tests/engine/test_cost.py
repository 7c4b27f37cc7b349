"""One cost function for search and model: each kind counted as the rules say and the witness counts."""

from __future__ import annotations

import random

import pytest

from scheduling.engine import witness
from scheduling.engine.cost import change_row, cost_of, late_row, rings
from scheduling.engine.improve import first_plan
from scheduling.engine.insertion import compile_problem
from scheduling.engine.problem import Place, Posted, Problem, Table
from scheduling.engine.schedule import COST_KINDS
from tests.engine.random_yards import random_problem
from tests.engine.tiny import begun, job, lengths, plan, problem, step


def paid(told: Problem, **starts: object) -> dict[str, int]:
    """The kinds that cost anything, as both count them."""
    schedule = plan(told, **starts)
    cost = cost_of(told, schedule)
    assert cost == witness.cost(told, schedule)
    assert tuple(cost) == COST_KINDS
    return {kind: amount for kind, amount in cost.items() if amount}


def test_late_days_are_calendar_days() -> None:
    told = problem(job("she", step("one", 2, "a"), due=problem().days[3], late_price=100))
    assert paid(told, she=[("a", 4)]) == {"late": 400}  # Thursday to Monday
    assert late_row(told, told.jobs[0])[:8] == [0, 0, 0, 0, 0, 100, 400, 500]


def test_standing_costs_the_weekend_too() -> None:
    told = problem(job("she", step("one", 2, "a", stand_price=3)), places=(Place(id="a", price=10),))
    assert paid(told, she=[("a", 4)]) == {"places": 40, "heat": 12}  # Friday to Monday: four days


def test_a_tent_is_paid_for_once_while_it_stays_up() -> None:
    tent = {"rig": "tent", "rig_price": 50}
    told = problem(job("she", *(step(name, 1, "a", "b", **tent) for name in ("one", "two", "three"))))
    assert paid(told, she=[("a", 0), ("a", 1), ("b", 2)]) == {"heat": 100}


def test_what_has_begun_has_its_tent_up_already() -> None:
    tent = {"rig": "tent", "rig_price": 50}
    told = problem(job("she", step("one", 1, "a", **tent), begun=begun("a", 2, **tent)))
    assert paid(told, she=[("a", 2)]) == {}


def test_moves_options_windows_and_changes() -> None:
    dear = Table(id="dear", finish=lengths(10)[0].finish, price=(0, 8) + (0,) * 8)
    first = step("one", 1, "a", price=5, posted=Posted(place="a", start=0))
    told = problem(
        job("she", first, step("two", 1, "b", posted=Posted(place="b", start=2))),
        tables=(*lengths(10), dear),
        move_price=30,
        change_price=7,
    )
    assert paid(told, she=[("a", 0), ("b", 2)]) == {"moves": 30, "extra": 5}
    assert paid(told, she=[("a", 1), ("b", 2)]) == {"moves": 30, "extra": 5, "changes": 7}
    assert change_row(told, told.jobs[0], 1, "b")[:4] == [7, 7, 0, 7]
    assert change_row(told, told.jobs[0], 1, "a")[:4] == [7, 7, 7, 7]


def test_each_boat_pulled_out_of_the_way_is_paid_for() -> None:
    lane = tuple(Place(id=name, lane="l", depth=i + 1) for i, name in enumerate("abc"))
    told = problem(
        job("deep", step("one", 2, "c")),
        job("front", step("one", 5, "a")),
        job("middle", step("one", 5, "b")),
        places=lane,
        shunt_price=9,
    )
    plans = {"front": [("a", 0)], "middle": [("b", 0)], "deep": [("c", 1)]}
    assert paid(told, **plans) == {"shunts": 36}  # both of them, when she comes and when she goes


def test_changing_round_takes_one_move_more_than_there_are_boats() -> None:
    told = problem(
        job("one", step("1", 2, "a"), step("2", 2, "b")),
        job("two", step("1", 2, "b"), step("2", 2, "a")),
        places=(Place(id="a"), Place(id="b"), Place(id="c")),
        move_price=10,
    )
    plans = {"one": [("a", 0), ("b", 2)], "two": [("b", 0), ("a", 2)]}
    assert paid(told, **plans) == {"moves": 30}


def test_places_that_share_a_boat_in_a_cycle_are_one_cycle() -> None:
    assert rings([(0, 1), (1, 0), (1, 2), (2, 1), (3, 4)]) == [frozenset({0, 1, 2})]
    assert rings([(0, 1), (1, 2)]) == []


def test_a_boat_left_out_costs_her_drop_price_only() -> None:
    told = problem(job("she", step("one", 1, "b"), begun=begun("a", 2, stand_price=9), drop_price=77))
    assert paid(told) == {"left_out": 77}


@pytest.mark.parametrize("facts_break", [False, True])
def test_the_witness_counts_the_same_for_random_plans(facts_break: bool) -> None:
    for seed in range(40):
        told = random_problem(seed, jobs=6, slots=30, places=3, facts_break=facts_break)
        order = [each.id for each in told.jobs]
        random.Random(seed).shuffle(order)
        schedule = first_plan(compile_problem(told), order).schedule()
        assert cost_of(told, schedule) == witness.cost(told, schedule), seed
