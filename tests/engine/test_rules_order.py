"""Chain, windows, pins and gate in the model: the yard where each bites, and with the rule taken out.

Slots 0 to 4 are Monday 2 to Friday 6 November, 5 to 9 the week after. A day late costs 100, left out 5000.
"""

from __future__ import annotations

from datetime import date

from scheduling.engine.problem import Option, Place, Step, Table
from tests.engine.model import solved, starts, total
from tests.engine.tiny import begun, job, problem, step


def test_a_step_waits_its_least_wait_after_the_one_before():
    yard = problem(job("x", step("peel", 2, "a"), step("coat", 1, "b", wait_min=3), due=date(2026, 11, 4)))
    # 2 slots, 3 of waiting, 1: the last is slot 5, Monday 9 November, 5 days after Wednesday 4: 5 x 100.
    assert total(yard) == 500
    assert total(yard, "chain") == 0


def test_a_step_does_not_wait_longer_than_its_greatest_wait():
    places = (Place(id="a"), Place(id="b", closed=((2, 6),)))
    steps = (step("peel", 2, "a", pin_start=0), step("coat", 1, "b", wait_max=3))
    # She has peeled at slot 2 and may coat until slot 5, when b is closed: left out. A wait of 4 would do.
    assert total(problem(job("x", *steps), places=places)) == 5000
    assert total(problem(job("x", *steps), places=places), "chain") == 0
    longer = (steps[0], step("coat", 1, "b", wait_max=4))
    assert total(problem(job("x", *longer), places=places)) == 0


def test_the_wait_after_what_has_begun_counts_from_its_forecast_end():
    yard = problem(job("x", step("coat", 1, "a", wait_min=1), begun=begun("a", 2), due=date(2026, 11, 2)))
    # Begun until slot 2, waits slot 2, coats in slot 3, Thursday: 3 days late.
    assert total(yard) == 300


def test_the_end_is_what_the_table_says_and_a_later_start_may_finish_earlier():
    table = Table(id="odd", finish=(6, 3, None, 5, None, None, None, None, None, None))
    dry = Step(id="dry", options=(Option(places=("a",), table="odd"),))
    yard = problem(job("x", dry, due=date(2026, 11, 2)), tables=(table,))
    answer = solved(yard)
    # From slot 1 she is finished in slot 2, Wednesday: 2 days late; from slot 0 it would be 7.
    assert (answer.total, starts(answer)) == (200, {"x": [("a", 1)]})


def test_nothing_starts_before_she_is_there_or_before_the_step_may():
    late = problem(job("x", step("peel", 2, "a", earliest=1), due=date(2026, 11, 3)))
    # From slot 1 to 2: Wednesday, a day after Tuesday 3.
    assert total(late) == 100
    assert total(late, "windows") == 0
    away = problem(job("x", step("peel", 2, "a"), earliest=2, due=date(2026, 11, 3)))
    assert total(away) == 200
    assert total(away, "windows") == 0


def test_no_planned_stay_fills_a_closed_slot():
    yard = problem(
        job("x", step("peel", 2, "a"), due=date(2026, 11, 4)),
        places=(Place(id="a", closed=((1, 2), (2, 3))),),
    )
    # Slot 0 alone is too short, so from slot 3 to 4, Friday: 2 days late.
    assert total(yard) == 200
    assert total(yard, "windows") == 0


def test_waiting_fills_slots_too():
    places = (Place(id="a", closed=((3, 5),)), Place(id="b"))
    yard = problem(
        job("x", step("peel", 2, "a"), step("coat", 1, "b", pin_start=4), due=date(2026, 11, 30)),
        places=places,
    )
    # Wherever she peels in a before slot 3, she would wait there until slot 4: left out.
    assert total(yard) == 5000
    assert total(yard, "windows") == 0


def test_a_boat_that_stands_in_a_closed_place_may_go_on_there_but_not_come_back():
    places = (Place(id="a", closed=((0, 6),)), Place(id="b"))
    stays = job("x", step("coat", 1, "a"), begun=begun("a", 1), due=date(2026, 11, 3))
    assert starts(solved(problem(stays, places=places))) == {"x": [("a", 1)]}
    back = job("x", step("wash", 1, "b"), step("coat", 1, "a"), begun=begun("a", 1), due=date(2026, 11, 3))
    # Back in a from slot 6, Tuesday 10: 7 days late.
    assert total(problem(back, places=places)) == 700
    # Were a open, she would coat in slot 2, Wednesday: 1 day late.
    assert total(problem(back, places=places), "windows") == 100


def test_a_pinned_step_is_where_and_when_it_is_pinned():
    places = (Place(id="a"), Place(id="b", price=3))
    there = problem(job("x", step("peel", 2, "a", "b", pin_place="b")), places=places)
    # Two days in b at 3 a day.
    assert total(there) == 6
    assert total(there, "pins") == 0
    then = problem(job("x", step("peel", 2, "a", pin_start=4), due=date(2026, 11, 3)))
    # Slots 4 and 5: Monday 9, 6 days after Tuesday 3.
    assert total(then) == 600
    assert total(then, "pins") == 0


def test_nothing_is_coated_before_its_gate():
    yard = problem(job("x", step("coat", 1, "a", coats=True, gate=3), signed_dry=True, due=date(2026, 11, 3)))
    # Thursday 5, two days after Tuesday 3.
    assert total(yard) == 200
    assert total(yard, "gate") == 0


def test_a_gate_is_nothing_to_a_step_that_does_not_coat():
    yard = problem(job("x", step("wash", 1, "a", gate=3), due=date(2026, 11, 3)))
    assert total(yard) == 0
