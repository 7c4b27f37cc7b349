"""How the cost of the best plan may change when one thing changes in the yard: both sides proven.

The yards are small: skills that people share, lanes with boats in the way, rings of boats among full places,
records that break rules of their own accord.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import timedelta
from functools import cache

import pytest

from scheduling.engine.compiled import compile_problem
from scheduling.engine.finish import cp_solve
from scheduling.engine.improve import start_search
from scheduling.engine.problem import Problem
from scheduling.engine.reading import read
from scheduling.engine.schedule import Schedule
from scheduling.engine.witness import check, cost, swap_cycles
from tests.engine import relations as r
from tests.engine.model import total
from tests.engine.random_yards import lane_problem, random_problem, swapping_problem

ROUNDS = {"small": 1, "full": 6, "soak": 55}  # yards for each relation
NEVER = 10**9  # [minor units] what a yard costs in which no plan keeps the rules


def yard(seed: int) -> Problem:
    """Two or three boats: anyhow, in one lane, or in a ring; every fourth yard has facts that break rules."""
    breaks = seed % 4 == 3
    if seed % 3 == 2:
        return swapping_problem(seed, slots=14)
    if seed % 3 == 1:
        return lane_problem(seed, facts_break=breaks)
    jobs, slots, places = ((2, 16, 2), (3, 14, 2), (2, 20, 3))[seed // 3 % 3]
    return random_problem(seed, jobs=jobs, slots=slots, places=places, facts_break=breaks)


def proven(
    told: Problem, workers: int = 1, seed: int = 1, hint: Schedule | None = None
) -> tuple[int, Schedule]:
    """What the best plan costs as the witness counts it, and the plan."""
    found = cp_solve(told, hint=hint, free=None, seconds=60, workers=workers, seed=seed)
    if found.status == "nothing":
        return NEVER, Schedule()
    assert found.status == "proven"
    assert found.schedule is not None
    assert lawful(told, found.schedule)
    paid = sum(cost(told, found.schedule).values())
    assert found.total == found.bound == paid
    return paid, found.schedule


def lawful(told: Problem, plan: Schedule) -> bool:
    return all(breach.fact for breach in check(told, plan))


@cache
def best(seed: int) -> tuple[Problem, int, Schedule]:
    told = yard(seed)
    least, plan = proven(told)
    assert least < NEVER
    return told, least, plan


def changed(change: r.Change, rounds: int) -> list[tuple[int, Problem]]:
    """(seed, changed problem) of the first yards in which there is something to change so."""
    found: list[tuple[int, Problem]] = []
    for seed in range(40 + 4 * rounds):
        told, _, plan = best(seed)
        other = change(told, plan, random.Random(seed))
        if other is not None:
            found.append((seed, other))
        if len(found) == rounds:
            return found
    raise AssertionError("too few yards in which there is something to change")


def compared(change: r.Change, rounds: int, holds: Callable[[int, int], bool]) -> None:
    for seed, other in changed(change, rounds):
        before, after = best(seed)[1], proven(other)[0]
        assert holds(before, after), (seed, before, after)


SAME = [
    r.in_another_order,
    r.renamed,
    r.later_by(r.A_WEEK),
    r.later_by(r.A_SEASON),
    r.a_bay_that_is_never_open,
    r.a_boat_already_launched,
    r.pinned_where_she_is,
    r.posted_where_she_is,
]
MORE = [
    r.a_bay_more,
    r.more_of_a_kit_in_a_slot,
    r.a_hand_more,
    r.longer_hours,
    r.one_more_day_to_start_on,
    r.a_later_promise,
    r.a_pin_less,
    r.an_earlier_gate,
    r.no_greatest_wait,
    r.a_bigger_bay,
    r.no_lane,
    r.free_swaps,
    r.sand_till_noon,
]
LESS = [
    r.a_bay_closed,
    r.a_kit_out_for_days,
    r.a_person_away,
    r.a_pin_elsewhere,
    r.a_place_forbidden,
    r.a_later_arrival,
    r.longer_work,
    r.slower_drying,
    r.dust_that_settles_later,
]


@pytest.fixture
def rounds(test_size: str) -> int:
    return ROUNDS[test_size]


@pytest.mark.slow
@pytest.mark.parametrize("change", SAME)
def test_the_best_plan_costs_the_same(change: r.Change, rounds: int) -> None:
    compared(change, rounds, lambda before, after: before == after)


@pytest.mark.slow
@pytest.mark.parametrize("change", MORE)
def test_with_more_of_something_it_is_never_dearer(change: r.Change, rounds: int) -> None:
    compared(change, rounds, lambda before, after: after <= before)


@pytest.mark.slow
@pytest.mark.parametrize("change", LESS)
def test_with_less_of_something_it_is_never_cheaper(change: r.Change, rounds: int) -> None:
    compared(change, rounds, lambda before, after: after >= before)


@pytest.mark.slow
def test_a_boat_less_is_never_dearer(rounds: int) -> None:
    compared(r.a_boat_less, rounds, lambda before, after: after <= before)


@pytest.mark.slow
def test_a_boat_more_costs_at_most_what_it_costs_to_leave_her_out(rounds: int) -> None:
    for seed, other in changed(r.a_boat_more, rounds):
        before, after = best(seed)[1], proven(other)[0]
        assert before <= after <= before + other.jobs[-1].drop_price, seed


@pytest.mark.slow
@pytest.mark.parametrize("days", [3, -3])
def test_three_days_at_a_due_date_are_worth_three_late_days_at_most(days: int, rounds: int) -> None:
    for seed in range(rounds):
        told, before, _ = best(seed)
        job = random.Random(seed).choice(told.jobs)
        after = proven(r.with_job(told, job, due=job.due + timedelta(days=days)))[0]
        assert 0 <= (before - after) * days <= 9 * job.late_price, seed


@pytest.mark.slow
def test_all_prices_doubled_double_the_cost(rounds: int) -> None:
    compared(r.all_prices_doubled, rounds, lambda before, after: after == 2 * before)


@pytest.mark.slow
@pytest.mark.parametrize(("workers", "seed"), [(1, 7), (2, 1)])
def test_another_seed_or_two_workers_find_a_plan_as_cheap(workers: int, seed: int, rounds: int) -> None:
    for number in range(rounds):
        told, before, _ = best(number)
        assert proven(told, workers, seed)[0] == before, number


@pytest.mark.slow
def test_told_what_each_boat_costs_alone_the_model_finds_the_same(rounds: int) -> None:
    for seed in range(rounds):
        told, before, _ = best(seed)
        search = start_search(compile_problem(told))
        alone = {job.id: search.alone_cost(job.id) for job in told.jobs}
        again = cp_solve(told, hint=None, free=None, seconds=60, workers=1, seed=1, alone=alone)
        assert (again.status, again.total, again.bound) == ("proven", before, before), seed


@pytest.mark.slow
def test_solved_again_from_its_best_plan_a_yard_costs_the_same(rounds: int) -> None:
    for seed in range(rounds):
        told, before, plan = best(seed)
        assert proven(told, hint=plan)[0] == before, seed


@pytest.mark.slow
def test_a_best_plan_is_none_the_dearer_for_one_boat_placed_anew_among_the_others(rounds: int) -> None:
    for seed in range(rounds):
        told, before, plan = best(seed)
        free = {random.Random(seed).choice(told.jobs).id}
        again = cp_solve(told, hint=plan, free=free, seconds=60, workers=1, seed=1)
        assert (again.status, again.total) == ("proven", before), seed


@pytest.mark.slow
def test_no_plan_costs_less_than_each_boat_alone(rounds: int) -> None:
    for seed in range(rounds * 4):
        told, least, _ = best(seed)
        assert start_search(compile_problem(told)).bound <= least, seed


# --- Without solving twice --------------------------------------------------------------------------------
@pytest.mark.parametrize("change", MORE)
def test_a_plan_of_the_narrower_yard_is_a_plan_of_the_wider_and_costs_no_more(change: r.Change) -> None:
    for seed, wider in changed(change, 2):
        _, before, plan = best(seed)
        assert lawful(wider, plan), seed
        assert sum(cost(wider, plan).values()) <= before, seed


def test_the_yards_hold_what_goes_wrong() -> None:
    """Boats in the way, swaps, facts that break rules, boats left out and skills that people share."""
    lanes = swaps = facts = out = shared = 0
    for seed in range(24):
        told, least, plan = best(seed)
        lanes += total(told, "lane") < least  # without that rule she would cost less
        swaps += any(True for _ in swap_cycles(read(told, plan)))
        facts += bool(check(told, plan))
        out += bool(plan.unplaced)
        skills = [skill for hand in told.hands for skill in hand.skills]
        shared += len(set(skills)) < len(skills)
    assert min(lanes, swaps, facts, out) >= 3, (lanes, swaps, facts, out)
    assert shared == 24
