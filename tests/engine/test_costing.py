"""What one thing more costs, by the yard's own prices and no others."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduling.engine.candidates import candidates
from scheduling.engine.costing import price_of, taken_of
from scheduling.engine.helps import helps
from scheduling.engine.more import Relaxation, with_more
from scheduling.engine.problem import Hand, Resource
from scheduling.engine.relaxing import state_in
from tests.engine.short_yards import FRIDAY, saturday_yard, tent_yard
from tests.engine.tiny import job, plan, problem, step


@pytest.mark.parametrize(
    ("a_day", "price", "clear"), [(None, None, True), (99, 495, True), (140, 700, False)]
)
def test_a_kit_costs_the_days_on_which_more_of_it_is_used_than_there_was(
    a_day: int | None, price: int | None, clear: bool
) -> None:
    told = tent_yard()
    told = replace(told, resources=(replace(told.resources[0], one_price=a_day),))
    schedule = plan(told, one=[("a", 0)], two=[("b", 5)])
    # The second tent saves 700 and stands for the five days from Monday to Friday.
    (tent,) = [h for h in helps(told, schedule, work=20) if h.kind == "kit"]
    assert (tent.says, tent.taken, tent.price, tent.clear) == ("one more tent L", 5, price, clear)


def test_a_hand_is_paid_the_hours_that_the_others_do_not_have() -> None:
    told = problem(
        job("one", step("coat", 2, "a", skills={"coat": 300}), due=FRIDAY),
        job("two", step("coat", 2, "b", skills={"coat": 240}), due=FRIDAY),
        hands=(Hand(id="h", skills=("coat", "fair"), minutes=(480,) * 10),),
        hour_price=600,
    )
    hand = next(t for t in candidates(told, plan(told)) if t.kind == "hand")
    wider = with_more(told, hand)
    both = state_in(told, wider, plan(told, one=[("a", 0)], two=[("b", 0)]))
    after = state_in(told, wider, plan(told, one=[("a", 0)], two=[("b", 2)]))
    # At once they ask for 540 minutes a day on two days, of which she who is there has 480.
    assert taken_of(told, hand, [after, both]) == 2 * 60
    assert taken_of(told, hand, [after]) == 0
    assert price_of(told, hand, 2 * 60) == 2 * 600


def test_whoever_of_the_others_can_do_it_does_it_first() -> None:
    told = problem(
        job("one", step("fair", 1, "a", skills={"fair": 480})),
        job("two", step("coat", 1, "b", skills={"coat": 300})),
        hands=(
            Hand(id="h", skills=("coat", "fair"), minutes=(480,) * 10),
            Hand(id="i", skills=("coat",), minutes=(200,) * 10),
        ),
    )
    hand = next(t for t in candidates(told, plan(told)) if t.what == "coat")
    both = state_in(told, with_more(told, hand), plan(told, one=[("a", 0)], two=[("b", 0)]))
    # The fairing takes the first all day; of 300 minutes of coating the second has 200.
    assert taken_of(told, hand, [both]) == 100


def test_a_saturday_costs_the_hours_that_are_worked_on_it() -> None:
    told = replace(saturday_yard(), hour_price=120)
    found = helps(told, plan(told, she=[("a", 0)]), work=10)
    # One hour of fairing on the Saturday; it saves two days.
    (day,) = [each for each in found if each.kind == "day"]
    assert (day.taken, day.price, day.saves_low, day.clear) == (60, 120, 200, True)


def test_three_more_cost_three_times_as_much_as_one() -> None:
    kit = Resource(id="heater", label="heater", capacity=(3,) * 10, one_price=250)
    drill = Resource(id="drill", label="drill", capacity=(540,) * 10, one=540, one_price=100)
    told = problem(
        job("she", step("heat", 1, "a", holds={"heater": 3}, uses={"drill": 600})), resources=(kit, drill)
    )
    three, two = (t for t in candidates(told, plan(told)) if t.kind == "kit")
    assert price_of(told, three, 4) == 3 * 4 * 250
    assert price_of(told, two, 4) == 2 * 4 * 100  # 600 minutes a day are more than one of them has


def test_a_later_promise_costs_a_call_and_a_bay_what_nobody_has_said() -> None:
    told = tent_yard()
    later = Relaxation(kind="promise", what="one", amount=7, start=0, until=10, says="")
    bay = Relaxation(kind="bay", what="a", amount=1, start=0, until=10, says="")
    assert (price_of(told, later, 0), price_of(told, bay, 0)) == (0, None)
    assert price_of(told, replace(bay, price=5), 0) == 5
