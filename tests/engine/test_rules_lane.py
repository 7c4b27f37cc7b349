"""Lane in the model: borders, the seam within a stay, boats that can be moved and boats that can't."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from scheduling.engine.problem import Place, Resource
from tests.engine.model import total
from tests.engine.tiny import begun, job, problem, step

NEVER = date(2026, 12, 24)
PLACES = (Place(id="front", lane="l", depth=1), Place(id="back", lane="l", depth=2), Place(id="c"))


def yard(front, back, **values: object):
    return problem(front, back, places=PLACES, **{"shunt_price": 7, **values})


def in_front(start: int, length: int, movable: bool = False):
    return job("f", step("peel", length, "front", pin_start=start, movable=movable), due=NEVER)


def behind(start: int, length: int):
    return job("b", step("dry", length, "back", pin_start=start), due=NEVER)


@pytest.mark.parametrize(
    ("front", "back", "passes"),
    [
        ((0, 4), (0, 4), True),  # both come and both go in one slot
        ((0, 4), (4, 2), True),  # she comes when the other goes
        ((2, 2), (0, 5), True),  # she comes before and goes after
        ((0, 4), (2, 4), False),  # she comes while the other stands there
        ((1, 4), (0, 3), False),  # she goes then
    ],
)
def test_nobody_comes_or_goes_strictly_within_a_stay_in_front(front, back, passes: bool):
    told = yard(in_front(*front), behind(*back))
    assert total(told) == (0 if passes else 5000)
    assert total(told, "lane") == 0


def test_a_boat_that_can_be_moved_is_moved_at_a_price_and_two_trips():
    told = yard(in_front(0, 4, movable=True), behind(2, 3))
    # She comes in slot 2, within [0, 4), and goes in slot 5, after it: one pair, 7.
    assert total(told) == 7
    assert total(told, "lane") == 7  # the cost function counts the pair all the same
    mover = {"mover": "m", "resources": (Resource(id="m", capacity=(2,) * 10),)}
    assert total(yard(in_front(0, 4, movable=True), behind(2, 3), **mover)) == 7
    mover["resources"] = (Resource(id="m", capacity=(1,) * 10),)
    assert total(yard(in_front(0, 4, movable=True), behind(2, 3), **mover)) == 5000


def test_the_seam_between_two_pieces_of_one_stay_lets_nobody_through():
    for movable, cost in ((False, 5000), (True, 7)):
        steps = (
            step("peel", 2, "front", pin_start=0, movable=movable),
            step("dry", 2, "front", pin_start=2, movable=movable),
        )
        # The stay is [0, 4); she comes in slot 2, where one piece ends and the next starts, and goes in 4.
        assert total(yard(job("f", *steps, due=NEVER), behind(2, 2))) == cost


def test_whether_she_can_be_moved_is_said_by_the_piece_of_that_slot():
    steps = (
        step("dry", 2, "front", pin_start=0, movable=True),
        step("coat", 2, "front", pin_start=2, movable=False),
    )
    assert total(yard(job("f", *steps, due=NEVER), behind(1, 3))) == 7
    assert total(yard(job("f", *steps, due=NEVER), behind(2, 2))) == 5000
    assert total(yard(job("f", *steps, due=NEVER), behind(3, 2))) == 5000


def test_a_boat_that_had_begun_is_in_the_way_from_slot_0():
    front = job("f", step("coat", 1, "c", pin_start=3), begun=begun("front", 1, movable=False), due=NEVER)
    assert total(yard(front, behind(0, 3))) == 5000
    assert total(yard(front, behind(3, 3))) == 0


def test_a_boat_left_out_is_in_the_way_to_the_end():
    stuck = job("f", step("coat", 5, "c", earliest=7), begun=begun("front", 1, movable=False))
    assert total(yard(stuck, behind(3, 3))) == 10000
    movable = replace(stuck, begun=begun("front", 1, movable=True))
    # She is pulled out as the other comes, and as she goes: 2 x 7.
    assert total(yard(movable, behind(3, 3))) == 5014


def test_two_boats_in_front_are_two_pairs():
    places = (*PLACES[:1], Place(id="middle", lane="l", depth=2), Place(id="back", lane="l", depth=3))
    boats = [
        job(name, step("dry", 5, place, pin_start=0, movable=True), due=NEVER)
        for name, place in (("f", "front"), ("m", "middle"))
    ]
    told = problem(*boats, behind(2, 4), places=places, shunt_price=7)
    # She comes in slot 2 behind both and goes in slot 6, when both are gone; both came in slot 0 and go in 5.
    assert total(told) == 14


def test_what_goes_at_its_forecast_end_past_work_that_had_begun_is_a_fact():
    over = job("b", begun=begun("back", 2), due=NEVER)
    works = job("f", step("coat", 1, "front"), begun=begun("front", 4, movable=False), due=NEVER)
    # b has no step left and goes in slot 2 though f works until slot 4: the yard's records say so.
    assert total(yard(works, over)) == 0
    stands = job(
        "f", step("coat", 1, "front", pin_start=4), begun=begun("front", 1, movable=False), due=NEVER
    )
    # f's work is over in slot 1 but she is to stand there: b is left out, or f.
    assert total(yard(stands, over)) == 5000
