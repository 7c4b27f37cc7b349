"""Hands in the model: sets of skills, resources used and held, trips, closed slots and overdrawn facts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from scheduling.engine.problem import Hand, Option, Place, Resource, Step, Table
from tests.engine.model import total
from tests.engine.tiny import begun, job, lengths, problem, step

MONDAY, TUESDAY, NEVER = date(2026, 11, 2), date(2026, 11, 3), date(2026, 12, 24)
WIDE = (Place(id="a", room=9), Place(id="b", room=9))


def hand(name: str, *skills: str, minutes: tuple[int, ...] = (480,) * 10) -> Hand:
    return Hand(id=name, skills=skills, minutes=minutes)


def kit(*capacity: int) -> Resource:
    return Resource(id="kit", capacity=capacity if len(capacity) > 1 else capacity * 10)


def yard(*jobs, **values: object):
    return problem(*jobs, **{"places": WIDE, **values})


def test_one_person_of_two_skills_is_not_sold_twice():
    peel = job("x", step("peel", 1, "a", skills={"peel": 300}), due=MONDAY)
    coat = job("y", step("coat", 1, "a", skills={"coat": 300}), due=MONDAY)
    # 600 min of peeling and coating for 480: the second on Tuesday, a day late.
    assert total(yard(peel, coat, hands=(hand("h", "peel", "coat"),))) == 100
    assert total(yard(peel, coat, hands=(hand("h", "peel", "coat"),)), "hands") == 0
    assert total(yard(peel, coat, hands=(hand("h", "peel", "coat"), hand("i", "coat")))) == 0


def test_three_skills_in_a_row_are_a_set_though_no_hand_has_all():
    jobs = [job(s, step(s, 1, "a", skills={s: 320}), due=MONDAY) for s in ("peel", "coat", "wash")]
    hands = (hand("h", "peel", "coat"), hand("i", "coat", "wash"))
    # Any two of 320 min are within 960, all three are not within 2 x 400.
    assert total(yard(*jobs, hands=hands)) == 0
    short = tuple(replace(each, minutes=(400,) * 10) for each in hands)
    assert total(yard(*jobs, hands=short)) == 100


def test_a_skill_that_nobody_has_keeps_her_out():
    assert total(yard(job("x", step("coat", 1, "a", skills={"coat": 1})), hands=(hand("h", "peel"),))) == 5000


def test_an_absence_is_no_minutes_in_that_slot():
    told = yard(
        job("x", step("coat", 2, "a", skills={"coat": 60}), due=TUESDAY),
        hands=(hand("h", "coat", minutes=(480, 0, 480, 480, 480, 480, 480, 480, 480, 480)),),
    )
    # From slot 2 to 3, Thursday: 2 days late.
    assert total(told) == 200
    assert total(told, "hands") == 0


def test_demands_count_in_open_slots_only():
    opened = (1, 0, 1, 1, 1, 1, 1, 1, 1, 1)
    table = Table(id="2+", finish=(3, None, 4, 5, 6, 7, 8, 9, 10, None), open="work")
    work = Option(places=("a",), table="2+", skills={"coat": 480}, uses={"kit": 1})
    coats = job("x", Step(id="coat", options=(work,)), due=date(2026, 11, 4))
    told = {
        "calendars": {"work": opened},
        "tables": (*lengths(10), table),
        "hands": (hand("h", "coat", minutes=(480, 0, 480, 480, 480, 480, 480, 480, 480, 480)),),
        "resources": (kit(1, 0, 1, 1, 1, 1, 1, 1, 1, 1),),
    }
    # Work in slots 0 and 2; slot 1 is closed, so that nobody is there and there is no kit is nothing to her.
    assert total(yard(coats, **told)) == 0
    away = {**told, "hands": (hand("h", "coat", minutes=(480, 480, 0, 480, 480, 480, 480, 480, 480, 480)),)}
    # Slot 2 is open and nobody is there: from slot 3 to 4, Friday, 2 days late.
    assert total(yard(coats, **away)) == 200
    other = job("y", step("wash", 1, "a", pin_start=1, uses={"kit": 1}), due=NEVER)
    free_then = {**told, "resources": (kit(1),)}
    # What works without a calendar may use the kit in the slot that is closed to the first.
    assert total(yard(coats, other, **free_then)) == 0
    pinned = job("y", step("wash", 1, "a", pin_start=2, uses={"kit": 1}), due=NEVER)
    # In slot 2 both want it: the coat goes from slot 3 to 4.
    assert total(yard(coats, pinned, **free_then)) == 200


def test_what_is_used_and_held_is_within_what_there_is():
    holds = job(
        "x", step("dry", 1, "a", pin_start=0, holds={"kit": 1}), step("coat", 1, "a", pin_start=3), due=NEVER
    )
    uses = job("y", step("peel", 1, "b", uses={"kit": 1}), due=MONDAY)
    # Held until the next step starts in slot 3, though she is dry in slot 1: Thursday, 3 days late.
    assert total(yard(holds, uses, resources=(kit(1),))) == 300
    assert total(yard(holds, uses, resources=(kit(1),)), "resources") == 0
    assert total(yard(holds, uses, resources=(kit(2),))) == 0


def test_what_had_begun_holds_until_she_goes_on_and_left_out_until_its_forecast_end():
    held = begun("a", 1, holds={"kit": 1})
    goes_on = job("x", step("coat", 1, "a", pin_start=3), begun=held, due=NEVER)
    uses = job("y", step("peel", 1, "b", uses={"kit": 1}), due=MONDAY)
    assert total(yard(goes_on, uses, resources=(kit(1),))) == 300
    stuck = job("x", step("coat", 5, "a", earliest=7), begun=held, due=NEVER)
    # Left out she lets go in slot 1, Tuesday: 5000 and a day late.
    assert total(yard(stuck, uses, resources=(kit(1),))) == 5100


def test_where_facts_use_more_than_there_is_the_plan_gets_nothing_but_is_not_broken():
    busy = [
        job(name, step("wash", 1, "b"), begun=begun("a", 2, uses={"kit": 1}, skills={"peel": 300}), due=NEVER)
        for name in "xy"
    ]
    told = {"resources": (kit(1),), "hands": (hand("h", "peel", "coat"),)}
    assert total(yard(*busy, **told)) == 0
    uses = job("z", step("peel", 1, "b", uses={"kit": 1}), due=MONDAY)
    # Two kits are in use until slot 2: Wednesday, 2 days late; the same for a coat by the overdrawn hand.
    assert total(yard(*busy, uses, **told)) == 200
    coats = job("z", step("coat", 1, "b", skills={"coat": 60}), due=MONDAY)
    assert total(yard(*busy, coats, **told)) == 200


def test_trips_are_within_what_the_mover_can_do_in_a_slot():
    moved = [
        job(name, step("coat", 1, "b"), begun=begun("a", 0), due=MONDAY, late_price=100)
        for name in ("x", "y")
    ]
    mover = {"mover": "kit", "resources": (kit(1),)}
    # One goes on Monday, the other on Tuesday; trips are not counted where there is no mover.
    assert total(yard(*moved, **mover)) == 100
    assert total(yard(*moved, **mover), "resources") == 0
    assert total(yard(*moved, resources=(kit(1),))) == 0
    first = job("z", step("peel", 1, "b", pin_start=0, uses={"kit": 1}), due=NEVER)
    # What uses the mover counts with the trips: Tuesday and Wednesday, 1 + 2 days late.
    assert total(yard(*moved, first, **mover)) == 300
