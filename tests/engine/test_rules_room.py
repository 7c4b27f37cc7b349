"""Stand, fit and swaps in the model: the yard where each bites, and the same yard with the rule taken out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from scheduling.engine.problem import Place, Resource
from tests.engine.model import solved, starts, total
from tests.engine.tiny import begun, broken, job, plan, problem, step

ONE = (Place(id="a"),)
TUESDAY, WEDNESDAY, NEVER = date(2026, 11, 3), date(2026, 11, 4), date(2026, 12, 24)


def test_a_place_holds_as_many_boats_as_it_has_room_for():
    boats = [job(name, step("peel", 3, "a"), due=WEDNESDAY) for name in "xy"]
    # The second from slot 3 to 5, Monday 9: 5 days late. With room for two neither is.
    assert total(problem(*boats, places=ONE)) == 500
    assert total(problem(*boats, places=ONE), "stand") == 0
    assert total(problem(*boats, places=(Place(id="a", room=2),))) == 0


def test_waiting_takes_room():
    waits = job("x", step("peel", 1, "a", pin_start=0), step("coat", 1, "b", pin_start=4), due=NEVER)
    other = job("y", step("peel", 1, "a"), due=TUESDAY)
    # x stands in a until slot 4, so y peels on Friday 6: 3 days late.
    assert total(problem(waits, other)) == 300
    assert total(problem(waits, other), "stand") == 0


def test_a_boat_left_out_stands_in_her_place_to_the_end():
    stuck = job("x", step("coat", 5, "b", earliest=7), begun=begun("a", 1))
    other = job("y", step("peel", 1, "a"))
    # x can't be finished by slot 10 and stays in a, so y is left out as well.
    assert total(problem(stuck, other)) == 10000
    assert total(problem(stuck, other), "stand") == 5000


def test_two_boats_that_had_begun_in_one_place_stand_there_but_nobody_joins_them():
    first = job("x", step("wash", 1, "b"), begun=begun("a", 1), due=NEVER)
    second = job("y", step("wash", 1, "b"), begun=begun("a", 2), due=NEVER)
    third = job("z", step("peel", 1, "a"), due=date(2026, 11, 2))
    yard = problem(first, second, third, places=(Place(id="a"), Place(id="b", room=2)))
    # x goes at slot 1, y at slot 2, then z comes: Wednesday, 2 days late.
    assert total(yard) == 200
    assert total(yard, "stand") == 0


def test_in_a_crowded_place_what_had_begun_may_be_one_less_than_all():
    boats = [
        job(name, step("wash", 1, "b"), begun=begun("a", end), due=NEVER)
        for name, end in (("x", 1), ("y", 9))
    ]
    third = job("z", step("peel", 1, "a"), due=date(2026, 11, 2))
    yard = problem(*boats, third, places=(Place(id="a", room=1), Place(id="b", room=2)))
    # y stands in a until slot 9 and z has slot 9 itself, Friday 13: 11 days late. With room for two, 1 day.
    assert total(yard) == 1100
    pool = replace(yard, places=(Place(id="a", room=2), Place(id="b", room=2)))
    assert total(pool) == 100


def test_a_boat_that_comes_back_to_a_crowded_place_is_one_too_many():
    away = job("x", step("wash", 1, "b"), step("coat", 1, "a", pin_start=2), begun=begun("a", 1))
    stays = job("y", step("coat", 1, "a", pin_start=3), begun=begun("a", 1))
    told = problem(away, stays)
    # Two had begun in a. x goes to b in slot 1 and back in slot 2, with y still there: one is left out.
    assert broken(told, plan(told, x=[("b", 1), ("a", 2)], y=[("a", 3)])) == [("stand", "x", 2)]
    assert total(told) == 5000
    assert total(told, "stand") == 0


def test_no_boat_in_a_place_that_is_too_small_for_her():
    places = (Place(id="a", limits={"length": 10}), Place(id="b", limits={"length": 15}, price=3))
    yard = problem(job("x", step("peel", 2, "a", "b"), size={"length": 12}), places=places)
    # Two days in b at 3 a day; what a place does not limit or a boat does not have fits.
    assert total(yard) == 6
    assert total(yard, "fit") == 0


def test_where_she_stands_she_fits_but_not_when_she_comes_back():
    places = (Place(id="a", limits={"length": 10}), Place(id="b", price=3))
    stays = job("x", step("coat", 2, "a", "b"), begun=begun("a", 0), size={"length": 12}, due=NEVER)
    assert total(problem(stays, places=places)) == 0
    back = job("x", step("wash", 1, "b"), step("coat", 2, "a", "b"), begun=begun("a", 0), size={"length": 12})
    # A day of washing and two of coating in b.
    assert total(problem(back, places=places)) == 9
    assert total(problem(back, places=places), "fit") == 3


def swapping(*places: Place, **values: object):
    boats = [
        job(name, step("coat", 1, there), begun=begun(here, 1), due=NEVER, size={"length": 8})
        for name, here, there in (("x", "a", "b"), ("y", "b", "a"))
    ]
    told = {"move_price": 10, **values}
    return problem(*boats, places=(Place(id="a"), Place(id="b"), *places), **told)


def test_two_boats_that_change_places_need_a_free_place_and_a_trip_more():
    # Two relocations and one trip more: 3 x 10.
    assert total(swapping(Place(id="c"))) == 30
    assert total(swapping(Place(id="c"), swaps="free")) == 20


def test_without_a_free_place_nobody_swaps():
    assert total(swapping()) == 10000
    assert total(swapping(), "swaps") == 30
    assert total(swapping(swaps="free")) == 20
    assert total(swapping(Place(id="c", lane="l", depth=1))) == 10000
    assert total(swapping(Place(id="c", limits={"length": 7}))) == 10000
    assert total(swapping(Place(id="c", closed=((0, 10),)))) == 10000
    assert total(swapping(Place(id="c", closed=((0, 5), (6, 10))))) == 30


def test_the_free_place_has_no_boat_in_it_in_that_slot():
    stands = job("z", step("peel", 5, "c", pin_start=0), due=NEVER)
    yard = swapping(Place(id="c"))
    yard = replace(yard, jobs=(*yard.jobs, stands))
    answer = solved(yard)
    # They wait until z has left c in slot 5.
    assert answer.total == 30
    assert min(starts(answer)["x"][0][1], starts(answer)["y"][0][1]) >= 5


def test_the_trip_more_counts_against_the_mover():
    def mover(trips: int):
        return (Resource(id="m", capacity=(trips,) * 10),)

    assert total(swapping(Place(id="c"), resources=mover(3), mover="m")) == 30
    assert total(swapping(Place(id="c"), resources=mover(2), mover="m")) == 10000


def test_in_a_pool_that_is_not_full_a_change_of_places_is_no_swap():
    boats = [
        job(name, step("coat", 1, there), begun=begun(here, 1), due=NEVER)
        for name, here, there in (("x", "a", "b"), ("y", "b", "a"))
    ]
    third = job("z", step("coat", 1, "a"), begun=begun("a", 1), due=NEVER)
    pool = (Place(id="a", room=2), Place(id="b"))
    # a has one boat of two: x and y change places with a bay to spare.
    assert total(problem(*boats, places=pool, move_price=10)) == 20
    # With z in a until she has coated, nobody has a free place; after slot 2 she is gone and they may.
    answer = solved(problem(*boats, third, places=pool, move_price=10))
    assert answer.total == 20
    assert starts(answer)["x"][0][1] > starts(answer)["z"][0][1]
    until_the_end = replace(third, steps=(step("coat", 1, "a", pin_start=9),))
    assert total(problem(*boats, until_the_end, places=pool, move_price=10)) == 10000
    spare = (*pool, Place(id="c"))
    assert total(problem(*boats, until_the_end, places=spare, move_price=10)) == 30
