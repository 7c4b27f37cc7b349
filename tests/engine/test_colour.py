"""Bays of a pool: one bay a stay, nobody moves who stands already, and never two boats in one."""

from __future__ import annotations

import pytest

from scheduling.engine.colour import colour
from scheduling.engine.problem import Place, Problem
from scheduling.engine.schedule import Schedule
from tests.engine.model import solved
from tests.engine.random_yards import random_problem
from tests.engine.tiny import begun, broken, job, plan, problem, step

POOL = (Place(id="p", room=2, units=("p1", "p2")), Place(id="b"))


def bays(told: Problem, schedule: Schedule) -> dict[str, list[str | None]]:
    return {name: [time.unit for time in times] for name, times in colour(told, schedule).jobs.items()}


def test_boats_that_stand_together_have_bays_of_their_own_and_a_bay_is_used_again():
    told = problem(*(job(name, step("peel", 3, "p")) for name in "xyz"), places=POOL)
    schedule = plan(told, x=[("p", 0)], y=[("p", 1)], z=[("p", 3)])
    assert bays(told, schedule) == {"x": ["p1"], "y": ["p2"], "z": ["p1"]}


def test_a_stay_keeps_its_bay_and_another_stay_may_have_another():
    told = problem(
        job("x", step("peel", 1, "p"), step("dry", 2, "p"), step("wash", 1, "b"), step("coat", 1, "p")),
        job("y", step("peel", 4, "p")),
        places=POOL,
    )
    schedule = plan(told, x=[("p", 1), ("p", 2), ("b", 4), ("p", 5)], y=[("p", 2)])
    assert bays(told, schedule) == {"x": ["p1", "p1", None, "p1"], "y": ["p2"]}


def test_what_had_begun_keeps_its_bay_for_the_whole_stay():
    told = problem(
        job("x", step("coat", 2, "p"), begun=begun("p", 2, unit="p2")),
        job("y", step("peel", 2, "p")),
        places=POOL,
    )
    assert bays(told, plan(told, x=[("p", 2)], y=[("p", 0)])) == {"x": ["p2", "p2"], "y": ["p1"]}


def test_what_had_begun_and_has_no_bay_gets_one_that_nobody_stands_in():
    told = problem(
        job("x", step("coat", 2, "p"), begun=begun("p", 2)),
        job("y", step("coat", 2, "p"), begun=begun("p", 2, unit="p1")),
        places=POOL,
    )
    assert bays(told, plan(told, x=[("p", 2)], y=[("p", 2)])) == {"x": ["p2", "p2"], "y": ["p1", "p1"]}


def test_a_boat_left_out_keeps_the_bay_she_stands_in():
    told = problem(
        job("x", step("coat", 2, "p"), begun=begun("p", 1, unit="p1")),
        job("y", step("peel", 2, "p")),
        places=POOL,
    )
    assert bays(told, plan(told, y=[("p", 5)])) == {"y": ["p2"]}


def test_a_bay_once_given_is_kept_if_it_is_free():
    told = problem(*(job(name, step("peel", 3, "p")) for name in "xy"), places=POOL)
    once = colour(told, plan(told, x=[("p", 0)], y=[("p", 1)]))
    alone = Schedule(jobs={"y": once.jobs["y"]}, unplaced=plan(told).unplaced)
    assert bays(told, alone) == {"y": ["p2"]}


def test_two_that_had_begun_in_one_bay_both_stay_there():
    told = problem(
        *(job(name, step("coat", 1, "p"), begun=begun("p", 1, unit="p1")) for name in "xy"), places=POOL
    )
    schedule = colour(told, plan(told, x=[("p", 1)], y=[("p", 1)]))
    assert {time.unit for times in schedule.jobs.values() for time in times} == {"p1"}
    assert broken(told, schedule) == []


def test_more_planned_stays_than_bays_are_refused():
    told = problem(*(job(name, step("peel", 3, "p")) for name in "xyz"), places=POOL)
    with pytest.raises(ValueError, match="no bay is free for z in slot 2"):
        colour(told, plan(told, x=[("p", 0)], y=[("p", 1)], z=[("p", 2)]))


def test_random_yards_are_coloured_without_a_breach_and_twice_the_same(test_size):
    named, problems = 0, 5 if test_size == "small" else 12
    for seed in range(problems):
        told = random_problem(seed, jobs=4, facts_break=seed % 4 == 0)
        schedule = colour(told, solved(told).schedule)
        assert broken(told, schedule) == []
        assert colour(told, schedule) == schedule
        pools = {place.id for place in told.places if place.units}
        times = [time for each in schedule.jobs.values() for time in each]
        assert all((time.unit is not None) == (time.place in pools) for time in times)
        named += sum(time.unit is not None for time in times)
    assert named > problems - 2
