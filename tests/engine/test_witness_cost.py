"""The witness counts each kind of cost as reckoned by hand; days and slots agree on every day of a season."""

import random
from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations

import pytest

from scheduling.engine import slots
from scheduling.engine.problem import Place, Posted
from scheduling.engine.schedule import COST_KINDS, Breach
from scheduling.engine.staffing import can_be_staffed
from scheduling.engine.witness import check, cost
from tests.engine.tiny import begun, job, lengths, plan, problem, step


def costs(told, schedule):
    """What is not nought."""
    counted = cost(told, schedule)
    assert tuple(counted) == COST_KINDS
    return {kind: amount for kind, amount in counted.items() if amount}


def test_late_days_are_calendar_days_from_due_to_the_last_day_of_work():
    told = problem(job("x", step("peel", 2, "a"), due=date(2026, 11, 5), late_price=100))
    # [2, 4): last day is slot 3, Thursday 5 November: in time
    assert costs(told, plan(told, x=[("a", 2)])) == {}
    # [4, 6): last day is slot 5, Monday 9 November: 4 days, the weekend counts
    assert costs(told, plan(told, x=[("a", 4)])) == {"late": 400}


def test_a_move_is_paid_when_she_changes_her_place_and_a_swap_once_more():
    told = problem(job("x", step("peel", 1, "a"), step("fair", 1, "a"), step("coat", 1, "b")), move_price=7)
    assert costs(told, plan(told, x=[("a", 0), ("a", 1), ("b", 3)])) == {"moves": 7}
    swap = problem(
        job("x", step("peel", 2, "a"), step("coat", 2, "b")),
        job("y", step("peel", 2, "b"), step("coat", 2, "a")),
        move_price=7,
    )
    starts = {"x": [("a", 0), ("b", 2)], "y": [("b", 0), ("a", 2)]}
    assert costs(swap, plan(swap, **starts)) == {"moves": 21}  # two boats, and one of them once more
    free = replace(swap, swaps="free")
    assert costs(free, plan(free, **starts)) == {"moves": 14}


def test_swaps_that_share_a_pool_are_one_swap():
    places = (Place(id="a"), Place(id="pool", room=2), Place(id="b"), Place(id="pad"))
    told = problem(
        job("w", step("peel", 2, "a"), step("coat", 2, "pool")),
        job("x", step("peel", 2, "pool"), step("coat", 2, "a")),
        job("y", step("peel", 2, "b"), step("coat", 2, "pool")),
        job("z", step("peel", 2, "pool"), step("coat", 2, "b")),
        places=places,
        move_price=1,
    )
    starts = {
        "w": [("a", 0), ("pool", 2)],
        "x": [("pool", 0), ("a", 2)],
        "y": [("b", 0), ("pool", 2)],
        "z": [("pool", 0), ("b", 2)],
    }
    assert check(told, plan(told, **starts)) == []
    assert costs(told, plan(told, **starts)) == {"moves": 5}


def test_each_boat_in_the_way_of_each_coming_and_going_is_paid():
    places = tuple(Place(id=f"d{n}", lane="door", depth=n) for n in (1, 2, 3))
    told = problem(
        job("x", step("dry", 5, "d1")),
        job("y", step("dry", 5, "d2")),
        job("z", step("peel", 2, "d3")),
        places=places,
        shunt_price=11,
    )
    # z comes at 3 behind x [1, 6) and y [2, 7): two, and goes at 5: two;
    # y comes at 2 behind x: one, and goes at 7, when x has gone
    assert costs(told, plan(told, x=[("d1", 1)], y=[("d2", 2)], z=[("d3", 3)])) == {"shunts": 55}


def test_a_place_is_paid_for_every_calendar_day_she_stands_there():
    places = (Place(id="a", price=3), Place(id="b", price=10))
    told = problem(job("x", step("peel", 2, "a"), step("coat", 1, "b")), places=places)
    # a for slots 3 to 5: Thursday, Friday (stands for three days), Monday = 5 days; b for Tuesday = 1 day
    assert costs(told, plan(told, x=[("a", 3), ("b", 6)])) == {"places": 25}
    # the last slot of the axis stands for one day, though it is a Friday
    assert costs(told, plan(told, x=[("a", 7), ("b", 9)])) == {"places": 16}


def test_what_has_begun_is_paid_from_the_first_slot_and_not_for_a_job_left_out():
    places = (Place(id="a", price=3), Place(id="b"))
    told = problem(job("x", step("coat", 1, "b"), begun=begun("a", 2, stand_price=2)), places=places)
    # a for slots 0 and 1: 2 days at 3 for the place and 2 for heat
    assert costs(told, plan(told, x=[("b", 2)])) == {"places": 6, "heat": 4}
    assert costs(told, plan(told)) == {"left_out": 5000}


def test_heat_is_paid_by_the_day_until_the_next_step_and_a_rig_when_it_is_set_up():
    tent = {"rig": "tent", "rig_price": 50, "stand_price": 4}
    told = problem(
        job("x", step("dry", 2, "a", **tent), step("coat", 1, "a", "b", **tent), step("cure", 1, "a", "b"))
    )
    # a tent for slots 0 to 3 (4 days); the coat has it at once: one rig, and the cure has none
    assert costs(told, plan(told, x=[("a", 0), ("a", 3), ("a", 4)])) == {"heat": 4 * 4 + 50}
    # in b it is set up again
    assert costs(told, plan(told, x=[("a", 0), ("b", 3), ("b", 4)])) == {"heat": 4 * 4 + 100}


def test_a_rig_that_has_begun_is_up_already():
    tent = {"rig": "tent", "rig_price": 50}
    told = problem(job("x", step("coat", 1, "a", "b", **tent), begun=begun("a", 1, **tent)))
    assert costs(told, plan(told, x=[("a", 1)])) == {}
    assert costs(told, plan(told, x=[("b", 1)])) == {"heat": 50}


def test_options_and_broken_windows_cost_extra():
    table = replace(lengths(10)[1], price=(0, 0, 0, 90, 0, 0, 0, 0, 0, 0))
    told = problem(job("x", step("coat", 2, "a", price=30)), tables=(table,))
    assert costs(told, plan(told, x=[("a", 2)])) == {"extra": 30}
    assert costs(told, plan(told, x=[("a", 3)])) == {"extra": 30, "breaks": 90}


def test_a_change_is_paid_for_each_step_that_leaves_its_posted_place_or_start():
    told = problem(
        job("x", step("peel", 1, "a", posted=Posted(place="a", start=1)), step("coat", 1, "a", "b")),
        job("y", step("coat", 1, "a", "b", posted=Posted(place="b", start=4))),
        change_price=9,
    )
    assert costs(told, plan(told, x=[("a", 1), ("b", 2)], y=[("b", 4)])) == {}
    assert costs(told, plan(told, x=[("a", 2), ("b", 3)], y=[("a", 4)])) == {"changes": 18}


def test_a_job_that_cannot_be_read_counts_as_left_out():
    told = problem(job("x", step("peel", 1, "a")), job("y", step("peel", 1, "b"), drop_price=70))
    schedule = plan(told, x=[("a", 1)])
    assert costs(told, replace(schedule, unplaced={})) == {"left_out": 70}


# --- People -----------------------------------------------------------------------------------------------
def test_minutes_can_be_dealt_out_just_when_no_set_of_skills_asks_for_too_much():
    """Hall's theorem, both ways, on 500 small crews."""
    rng = random.Random(3)
    skills = ("a", "b", "c", "d")
    yes = 0
    for _ in range(500):
        can = {f"h{i}": set(rng.sample(skills, rng.randint(1, 3))) for i in range(rng.randint(1, 4))}
        minutes = {hand: rng.choice((0, 60, 240, 480)) for hand in can}
        demand = {skill: rng.choice((0, 0, 60, 120, 300)) for skill in skills}
        halls = all(
            sum(demand[s] for s in some) <= sum(minutes[h] for h in can if can[h] & set(some))
            for n in range(1, 5)
            for some in combinations(skills, n)
        )
        yes += halls
        assert can_be_staffed(demand, minutes, can) == halls
    assert 100 < yes < 400


# --- Days and slots ---------------------------------------------------------------------------------------
def season():
    """Working days from September to June, a holiday left away and an odd Saturday put in."""
    every = [date(2026, 9, 1) + timedelta(days=n) for n in range(300)]
    return [d for d in every if (d.weekday() < 5 and d != date(2026, 12, 25)) or d == date(2027, 3, 27)]


@pytest.mark.parametrize("length", [1, 2, 5])
def test_days_and_slots_agree_on_every_day_of_a_season(length):
    days = season()
    for start in range(len(days) - length):
        end = start + length
        first, last = slots.first_day(days, start), slots.last_day(days, end)
        assert slots.slot_on_or_after(days, first) == start
        assert slots.slot_before(days, last) + 1 == end
        leaves = slots.leaves_on(days, end)
        assert leaves > last and slots.slot_on_or_after(days, leaves) == end
        assert slots.late_days(days, first, end) == (last - first).days
        assert sum(slots.spans(days)[start:end]) == (leaves - first).days


def test_a_day_off_belongs_to_the_slot_before_it():
    days = season()
    christmas = date(2026, 12, 25)
    assert days[slots.slot_before(days, christmas)] == date(2026, 12, 24)
    assert days[slots.slot_on_or_after(days, christmas)] == date(2026, 12, 28)
    assert sum(slots.spans(days)) == (days[-1] - days[0]).days + 1


def test_before_and_after_the_axis():
    days = season()
    with pytest.raises(ValueError, match="before the axis"):
        slots.first_day(days, -1)
    with pytest.raises(ValueError, match="before the axis"):
        slots.last_day(days, 0)
    assert slots.leaves_on(days, len(days)) == days[-1] + timedelta(days=1)
    assert slots.late_days(days, days[0] - timedelta(days=9), 0) == 0
    assert slots.unplaced_late_days(days, days[-1]) == 1


def test_a_breach_says_what_where_and_when():
    told = problem(job("x", step("dry", 3, "a"), label="Avocet"), job("y", step("dry", 3, "a"), label="Teal"))
    assert check(told, plan(told, x=[("a", 3)], y=[("a", 4)])) == [
        Breach(
            rule="stand", job="y", slot=4, says="a has room for 1 on 6 Nov 2026, but there are Avocet, Teal"
        )
    ]
