"""The witness finds each of the nine rules broken where it is broken, and nowhere else."""

from dataclasses import replace

import pytest

from scheduling.engine.problem import Air, Hand, Place, Resource
from scheduling.engine.schedule import Schedule, StepTime, Unplaced
from scheduling.engine.witness import check
from tests.engine.tiny import begun, broken, facts, job, lengths, plan, problem, step


# --- 1. Chain ---------------------------------------------------------------------------------------------
def test_a_step_waits_at_least_and_at_most_as_long_as_it_says():
    told = problem(job("x", step("peel", 2, "a"), step("coat", 1, "a", wait_min=1, wait_max=3)))
    # peel is [1, 3); coat may start at 3 + 1 = 4 to 3 + 3 = 6
    assert broken(told, plan(told, x=[("a", 1), ("a", 4)])) == []
    assert broken(told, plan(told, x=[("a", 1), ("a", 6)])) == []
    assert broken(told, plan(told, x=[("a", 1), ("a", 3)])) == [("chain", "x", 3)]
    assert broken(told, plan(told, x=[("a", 1), ("a", 7)])) == [("chain", "x", 7)]


def test_a_step_starts_after_the_one_before_has_finished():
    told = problem(job("x", step("peel", 3, "a"), step("coat", 1, "b")))
    assert broken(told, plan(told, x=[("a", 1), ("b", 4)])) == []
    assert broken(told, plan(told, x=[("a", 1), ("b", 3)])) == [("chain", "x", 3)]


def test_work_is_as_long_as_its_table_says():
    told = problem(job("x", step("peel", 2, "a")))
    short = StepTime(step="peel", place="a", option=0, start=1, end=2, leaves=2)
    assert broken(told, Schedule(jobs={"x": (short,)})) == [("chain", "x", 1)]


def test_the_wait_counts_from_what_has_begun():
    told = problem(job("x", step("coat", 1, "a", wait_max=1), begun=begun("a", 2)))
    assert broken(told, plan(told, x=[("a", 3)])) == []
    assert broken(told, plan(told, x=[("a", 4)])) == [("chain", "x", 4)]


# --- 2. Stand ---------------------------------------------------------------------------------------------
def test_one_boat_in_a_bay_and_waiting_takes_room():
    told = problem(job("x", step("peel", 2, "a"), step("coat", 1, "b")), job("y", step("peel", 2, "a")))
    # x works in a in [0, 2) and stands there until she is in b from 5: a is free from 5
    assert broken(told, plan(told, x=[("a", 0), ("b", 5)], y=[("a", 5)])) == []
    assert broken(told, plan(told, x=[("a", 0), ("b", 5)], y=[("a", 4)])) == [("stand", "y", 4)]


def test_a_pool_takes_as_many_boats_as_it_has_room():
    pool = Place(id="a", room=2, units=("a1", "a2"))
    told = problem(*(job(name, step("dry", 3, "a")) for name in "xyz"), places=(pool,))
    assert broken(told, plan(told, x=[("a", 0)], y=[("a", 1)], z=[("a", 3)])) == []
    assert broken(told, plan(told, x=[("a", 0)], y=[("a", 1)], z=[("a", 2)])) == [("stand", "z", 2)]


def test_two_boats_in_one_bay_of_a_pool_break_stand():
    pool = Place(id="a", room=2, units=("a1", "a2"))
    told = problem(*(job(name, step("dry", 3, "a")) for name in "xy"), places=(pool,))
    schedule = plan(told, x=[("a", 0)], y=[("a", 1)])

    def bays(x: str, y: str) -> Schedule:
        named = {"x": x, "y": y}
        return replace(schedule, jobs={n: (replace(t[0], unit=named[n]),) for n, t in schedule.jobs.items()})

    assert broken(told, bays("a1", "a2")) == []
    assert broken(told, bays("a1", "a1")) == [("stand", "y", 1)]
    assert broken(told, bays("a1", "a3")) == [("stand", "y", 1)]


def test_a_boat_left_out_that_stands_in_the_yard_keeps_her_place():
    told = problem(job("x", step("coat", 1, "b"), begun=begun("a", 1)), job("y", step("peel", 1, "a")))
    assert broken(told, plan(told, x=[("b", 3)], y=[("a", 3)])) == []
    assert broken(told, plan(told, y=[("a", 3)])) == [("stand", "y", 3)]


def test_two_boats_swap_full_bays_only_with_a_free_place():
    swap = (
        job("x", step("peel", 2, "a"), step("coat", 2, "b")),
        job("y", step("peel", 2, "b"), step("coat", 2, "a")),
    )
    starts = {"x": [("a", 0), ("b", 2)], "y": [("b", 0), ("a", 2)]}
    two = problem(*swap)
    assert broken(two, plan(two, **starts)) == [("stand", "x", 2)]
    places = (*two.places, Place(id="pad"))
    assert broken(replace(two, places=places), plan(two, **starts)) == []
    assert broken(replace(two, swaps="free"), plan(two, **starts)) == []
    # a day between them, and nobody swaps: a is empty in slot 2
    later = {"x": [("a", 0), ("b", 3)], "y": [("b", 0), ("a", 3)]}
    assert broken(two, plan(two, **later)) == [("stand", "x", 3)]
    gone = problem(job("x", step("peel", 2, "a"), step("coat", 2, "b")), job("y", step("peel", 2, "b")))
    assert broken(gone, plan(gone, x=[("a", 0), ("b", 2)], y=[("b", 0)])) == []


@pytest.mark.parametrize(
    ("pad", "why"),
    [
        (Place(id="pad", lane="door", depth=1), "in a lane"),
        (Place(id="pad", closed=((2, 3),)), "closed on the day"),
        (Place(id="pad", limits={"length": 8}), "too small for either"),
    ],
)
def test_a_swap_needs_a_free_place_that_serves(pad, why):
    swap = (
        job("x", step("peel", 2, "a"), step("coat", 2, "b"), size={"length": 9}),
        job("y", step("peel", 2, "b"), step("coat", 2, "a"), size={"length": 9}),
    )
    told = problem(*swap, places=(Place(id="a"), Place(id="b"), pad))
    starts = {"x": [("a", 0), ("b", 2)], "y": [("b", 0), ("a", 2)]}
    assert broken(told, plan(told, **starts)) == [("stand", "x", 2)], why


def test_boats_that_have_begun_make_a_swap_in_the_first_slot():
    told = problem(
        job("x", step("coat", 2, "b"), begun=begun("a", 0)),
        job("y", step("coat", 2, "a"), begun=begun("b", 0)),
    )
    assert broken(told, plan(told, x=[("b", 0)], y=[("a", 0)])) == [("stand", "x", 0)]


# --- 3. Fit -----------------------------------------------------------------------------------------------
def test_no_boat_is_bigger_than_her_place_takes():
    places = (Place(id="a", limits={"length": 10, "load": 9000}),)
    told = problem(job("x", step("peel", 1, "a"), size={"length": 10, "beam": 4}), places=places)
    assert broken(told, plan(told, x=[("a", 2)])) == []
    big = replace(told, jobs=(replace(told.jobs[0], size={"length": 11}),))
    assert broken(big, plan(big, x=[("a", 2)])) == [("fit", "x", 2)]


def test_a_boat_too_big_for_the_bay_she_is_in_is_a_fact():
    places = (Place(id="a", limits={"length": 10}), Place(id="b"))
    told = problem(job("x", step("coat", 1, "a"), size={"length": 12}, begun=begun("a", 1)), places=places)
    stays = plan(told, x=[("a", 3)])
    assert broken(told, stays) == []
    assert facts(told, stays) == [("fit", "x", 0)]


# --- 4. Lane ----------------------------------------------------------------------------------------------
def lane_of_two(*, movable: bool = False):
    places = (Place(id="front", lane="door", depth=1), Place(id="deep", lane="door", depth=2))
    return problem(
        job("x", step("dry", 4, "front", movable=movable)), job("y", step("peel", 2, "deep")), places=places
    )


@pytest.mark.parametrize(
    ("start", "breaches"),
    [
        (0, []),  # y comes at 0 and goes at 2, x stands in front in [2, 6): a border is no obstacle
        (1, [("lane", "y", 3)]),  # y goes at 3, and 2 < 3 < 6
        (2, [("lane", "y", 4)]),
        (3, [("lane", "y", 3), ("lane", "y", 5)]),  # comes at 3 and goes at 5
        (4, [("lane", "y", 4)]),  # goes at 6, when x has gone, too
        (6, []),
    ],
)
def test_nobody_comes_or_goes_behind_a_boat_that_cannot_be_moved(start, breaches):
    told = lane_of_two()
    assert broken(told, plan(told, x=[("front", 2)], y=[("deep", start)])) == breaches


def test_a_boat_in_front_that_can_be_moved_is_pulled_out_for_two_trips():
    told = lane_of_two(movable=True)
    inside = plan(told, x=[("front", 2)], y=[("deep", 3)])
    assert broken(told, inside) == []
    trips = (Resource(id="mover", capacity=(2, 2, 2, 2, 2, 1, 2, 2, 2, 2)),)
    # two trips at slot 3 (of 2) and two at slot 5 (of 1)
    assert broken(replace(told, resources=trips, mover="mover"), inside) == [("hands", "y", 5)]


def test_the_step_she_is_in_says_whether_she_can_be_moved():
    places = (Place(id="front", lane="door", depth=1), Place(id="deep", lane="door", depth=2))
    wet = step("coat", 2, "front", movable=False)
    told = problem(
        job("x", step("dry", 2, "front"), wet, step("cure", 2, "front")),
        job("y", step("peel", 3, "deep")),
        places=places,
    )
    # x dries in [0, 2), is wet in [2, 4), cures in [4, 6); y comes at `start` and goes three later
    when = {"x": [("front", 0), ("front", 2), ("front", 4)]}
    assert broken(told, plan(told, **when, y=[("deep", 1)])) == []
    assert broken(told, plan(told, **when, y=[("deep", 2)])) == [("lane", "y", 2)]


# --- 5. Air -----------------------------------------------------------------------------------------------
def one_air(*, settle: int = 1, split_day: bool = False, own_air: bool = False):
    places = (Place(id="a", air="hall"), Place(id="b", air="hall"))
    airs = (Air(id="hall", settle=settle, split_day=split_day),)
    dust = step("fair", 2, "a", makes=("dust",))
    return problem(
        job("x", dust),
        job("y", step("coat", 2, "b", spoiled_by=("dust", "steam"), own_air=own_air)),
        places=places,
        airs=airs,
    )


@pytest.mark.parametrize(
    ("start", "breaches"),
    [
        (1, []),  # coat [1, 3), dust [3, 5)
        (2, [("air", "y", 3)]),
        (4, [("air", "y", 4)]),
        (5, [("air", "y", 5)]),  # the dust has gone, but it settles in slot 5
        (6, []),
    ],
)
def test_no_dust_beside_work_it_spoils_until_it_has_settled(start, breaches):
    told = one_air()
    assert broken(told, plan(told, x=[("a", 3)], y=[("b", start)])) == breaches


def test_a_tent_is_an_air_of_its_own_and_a_split_day_parts_dust_from_coat():
    for told in (one_air(own_air=True), one_air(split_day=True)):
        assert broken(told, plan(told, x=[("a", 3)], y=[("b", 3)])) == []


def test_her_own_dust_spoils_nothing_of_hers():
    places = (Place(id="a", air="hall"),)
    steps = (step("fair", 1, "a", makes=("dust",)), step("coat", 1, "a", spoiled_by=("dust",)))
    told = problem(job("x", *steps), places=places, airs=(Air(id="hall", settle=2),))
    assert broken(told, plan(told, x=[("a", 0), ("a", 1)])) == []


# --- 6. Hands ---------------------------------------------------------------------------------------------
def test_one_person_is_not_sold_twice_under_two_skills():
    crew = (
        Hand(id="both", skills=("grind", "coat"), minutes=(480,) * 10),
        Hand(id="coater", skills=("coat",), minutes=(120,) * 10),
    )
    told = problem(
        job("x", step("peel", 1, "a", skills={"grind": 300})),
        job("y", step("coat", 1, "b", skills={"coat": 300})),
        hands=crew,
    )
    # grind 300 of 480 and coat 300 of 600 look well, and together 600 of 600 is just enough
    assert broken(told, plan(told, x=[("a", 2)], y=[("b", 2)])) == []
    away = replace(told, hands=(crew[0], replace(crew[1], minutes=(120, 120, 119, *[120] * 7))))
    assert broken(away, plan(away, x=[("a", 2)], y=[("b", 2)])) == [("hands", "x", 2)]
    assert broken(away, plan(away, x=[("a", 2)], y=[("b", 3)])) == []


def test_people_are_asked_for_on_open_slots_only():
    crew = (Hand(id="ann", skills=("grind",), minutes=(480, 480, 0, 480, 480, 480, 480, 480, 480, 480)),)
    table = replace(lengths(10)[0], id="work", finish=(3, 4, None, *range(5, 11), None), open="work")
    told = problem(
        job("x", step("peel", 1, "a", skills={"grind": 480})),
        hands=crew,
        calendars={"work": (1, 1, 0, 1, 1, 1, 1, 1, 1, 1)},
        tables=(*lengths(10)[1:], replace(table, id="1")),
    )
    # [1, 4) has the closed slot 2, on which Ann is away
    assert broken(told, plan(told, x=[("a", 1)])) == []
    always = replace(told, tables=tuple(replace(t, open=None) for t in told.tables))
    assert broken(always, plan(always, x=[("a", 1)])) == [("hands", "x", 2)]


def test_a_tent_is_held_until_she_leaves_it():
    tents = (Resource(id="tent", capacity=(1,) * 10),)
    told = problem(
        job("x", step("dry", 2, "a", holds={"tent": 1}), step("coat", 1, "a")),
        job("y", step("dry", 2, "b", holds={"tent": 1})),
        resources=tents,
    )
    # x dries in [0, 2) but keeps the tent until she is coated at 4
    assert broken(told, plan(told, x=[("a", 0), ("a", 4)], y=[("b", 4)])) == []
    assert broken(told, plan(told, x=[("a", 0), ("a", 4)], y=[("b", 3)])) == [("hands", "y", 3)]


def test_the_mover_makes_so_many_trips_a_day():
    told = problem(
        job("x", step("peel", 1, "a"), step("coat", 1, "b")),
        resources=(Resource(id="mover", capacity=(1, 1, 0, 1, 1, 1, 1, 1, 1, 1)),),
        mover="mover",
    )
    assert broken(told, plan(told, x=[("a", 0), ("b", 3)])) == []
    assert broken(told, plan(told, x=[("a", 0), ("b", 2)])) == [("hands", "x", 2)]


def test_a_swap_takes_one_trip_more():
    swap = (
        job("x", step("peel", 2, "a"), step("coat", 2, "b")),
        job("y", step("peel", 2, "b"), step("coat", 2, "a")),
    )
    places = (Place(id="a"), Place(id="b"), Place(id="pad"))
    trips = (Resource(id="mover", capacity=(3,) * 10),)
    told = problem(*swap, places=places, resources=trips, mover="mover")
    starts = {"x": [("a", 0), ("b", 2)], "y": [("b", 0), ("a", 2)]}
    assert broken(told, plan(told, **starts)) == []
    two = replace(told, resources=(Resource(id="mover", capacity=(2,) * 10),))
    assert [rule for rule, _, _ in broken(two, plan(two, **starts))] == ["hands"]


def test_what_facts_use_beyond_what_there_is_does_not_refuse_the_plan():
    told = problem(
        job("x", step("coat", 1, "a"), begun=begun("a", 2, skills={"coat": 600})),
        job("y", step("peel", 1, "b", skills={"coat": 60})),
        hands=(Hand(id="ann", skills=("coat",), minutes=(480,) * 10),),
    )
    fine = plan(told, x=[("a", 2)], y=[("b", 2)])
    assert broken(told, fine) == []
    assert facts(told, fine) == [("hands", "x", 0), ("hands", "x", 1)]
    # 660 minutes where the facts use 600 of 480: y is too much, x is a fact
    assert broken(told, plan(told, x=[("a", 2)], y=[("b", 1)])) == [("hands", "y", 1)]


# --- 7. Windows -------------------------------------------------------------------------------------------
def test_work_starts_when_its_table_lets_it():
    tide = replace(lengths(10)[0], finish=tuple(s + 1 if s % 4 == 1 else None for s in range(10)))
    told = problem(job("x", step("launch", 1, "a")), tables=(tide,))
    assert broken(told, plan(told, x=[("a", 5)])) == []
    assert broken(told, plan(told, x=[("a", 6)])) == [("windows", "x", 6)]


def test_nothing_starts_before_she_is_there_or_before_it_may():
    told = problem(job("x", step("peel", 1, "a"), step("coat", 1, "a", earliest=5), earliest=2))
    assert broken(told, plan(told, x=[("a", 2), ("a", 5)])) == []
    assert broken(told, plan(told, x=[("a", 1), ("a", 5)])) == [("windows", "x", 1)]
    assert broken(told, plan(told, x=[("a", 2), ("a", 4)])) == [("windows", "x", 4)]


def test_nobody_stands_in_a_closed_place_but_who_stood_there_already():
    places = (Place(id="a", closed=((3, 5),)), Place(id="b"))
    told = problem(job("x", step("dry", 2, "a")), places=places)
    assert broken(told, plan(told, x=[("a", 1)])) == []
    assert broken(told, plan(told, x=[("a", 5)])) == []
    assert broken(told, plan(told, x=[("a", 2)])) == [("windows", "x", 3)]
    there = problem(job("x", step("dry", 2, "a"), begun=begun("a", 1)), places=places)
    assert broken(there, plan(there, x=[("a", 2)])) == []


# --- 8. Pins ----------------------------------------------------------------------------------------------
def test_what_is_pinned_stays_where_and_when_it_is_pinned():
    told = problem(job("x", step("peel", 1, "a", "b", pin_place="b"), step("coat", 1, "b", pin_start=4)))
    assert broken(told, plan(told, x=[("b", 0), ("b", 4)])) == []
    assert broken(told, plan(told, x=[("a", 0), ("b", 4)])) == [("pins", "x", 0)]
    assert broken(told, plan(told, x=[("b", 0), ("b", 5)])) == [("pins", "x", 5)]


def test_what_has_begun_is_where_and_when_it_is():
    told = problem(job("x", step("coat", 1, "b"), begun=begun("a", 2)))
    right = plan(told, x=[("b", 2)])
    assert broken(told, right) == []
    for change in ({"place": "b"}, {"start": 0}, {"end": 1}, {"option": 0}):
        first, second = right.jobs["x"]
        moved = Schedule(jobs={"x": (replace(first, **change), second)})
        assert broken(told, moved) == [("pins", "x", 0)]


# --- 9. Gate ----------------------------------------------------------------------------------------------
def test_nothing_is_coated_before_signed_dry_is_forecast():
    told = problem(job("x", step("coat", 1, "a", coats=True, gate=4), signed_dry=True))
    assert broken(told, plan(told, x=[("a", 4)])) == []
    assert broken(told, plan(told, x=[("a", 3)])) == [("gate", "x", 3)]
    other = problem(job("x", step("fair", 1, "a", gate=4)))
    assert broken(other, plan(other, x=[("a", 3)])) == []


# --- What can't be read -----------------------------------------------------------------------------------
def time(**values):
    whole = {"step": "peel", "place": "a", "option": 0, "start": 1, "end": 3, "leaves": 3}
    return StepTime(**(whole | values))


@pytest.mark.parametrize(
    "schedule",
    [
        Schedule(),
        Schedule(jobs={"x": ()}),
        Schedule(jobs={"x": (time(), time())}),
        Schedule(jobs={"x": (time(step="coat"),)}),
        Schedule(jobs={"x": (time(place="moon"),)}),
        Schedule(jobs={"x": (time(option=7),)}),
        Schedule(jobs={"x": (time(option=-1),)}),
        Schedule(jobs={"x": (time(start=-1),)}),
        Schedule(jobs={"x": (time(start=99, end=101, leaves=101),)}),
        Schedule(jobs={"x": (time(start=4, end=2, leaves=2),)}),
        Schedule(jobs={"x": (time(end=10**30, leaves=10**30),)}),
        Schedule(jobs={"x": (time(leaves=5),)}),
        Schedule(jobs={"x": (time(),)}, unplaced={"x": Unplaced(rule="cost", says="dear")}),
        Schedule(jobs={"x": (time(),), "ghost": (time(),)}),
        Schedule(jobs={"x": (time(),)}, unplaced={"ghost": Unplaced(rule="cost", says="dear")}),
    ],
)
def test_a_plan_that_makes_no_sense_breaks_the_chain_and_nothing_falls_over(schedule):
    told = problem(job("x", step("peel", 2, "a")))
    found = check(told, schedule)
    assert {breach.rule for breach in found} == {"chain"}
    assert all(breach.says for breach in found)
