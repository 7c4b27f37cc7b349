"""The cost in the model, one kind at a time, equal to what the cost function and the witness count."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from scheduling.engine.cost import cost_of
from scheduling.engine.problem import Option, Place, Posted, Step, Table
from scheduling.engine.witness import cost
from tests.engine.model import solved
from tests.engine.tiny import begun, job, lengths, problem, step

NEVER = date(2026, 12, 24)


def paid(told) -> dict[str, int]:
    """What the best schedule costs by kind, kinds of no cost left away; all three counts agree."""
    answer = solved(told)
    assert answer.status == "proven"
    by_kind = cost_of(told, answer.schedule)
    assert by_kind == cost(told, answer.schedule)
    assert sum(by_kind.values()) == answer.total == answer.bound
    return {kind: amount for kind, amount in by_kind.items() if amount}


def test_late_days_are_calendar_days():
    told = problem(job("x", step("peel", 2, "a", pin_start=4), due=date(2026, 11, 6)))
    # Friday and Monday: from Friday 6 to Monday 9 are 3 days of 100.
    assert paid(told) == {"late": 300}


def test_leaving_her_out_is_taken_where_it_is_cheaper():
    dear = job("x", step("peel", 2, "a", pin_start=4), due=date(2026, 11, 6), drop_price=299)
    assert paid(problem(dear)) == {"left_out": 299}
    assert paid(problem(replace(dear, drop_price=301))) == {"late": 300}


def test_a_relocation_is_paid_and_coming_and_going_are_not():
    told = problem(job("x", step("peel", 1, "a"), step("coat", 1, "b"), step("fit", 1, "b")), move_price=40)
    assert paid(told) == {"moves": 40}


def test_a_place_costs_by_the_calendar_day_its_slots_stand_for():
    told = problem(
        job("x", step("peel", 2, "a", pin_start=3), step("coat", 1, "b", pin_start=6)),
        places=(Place(id="a", price=5), Place(id="b")),
    )
    # She stands in a on Thursday, Friday with the weekend, and Monday: 5 days of 5.
    assert paid(told) == {"places": 25}
    left = problem(
        job("x", step("coat", 1, "b", pin_start=6), begun=begun("a", 2)),
        places=(Place(id="a", price=5), Place(id="b")),
    )
    # What had begun from slot 0 to 6: Monday to Sunday and Monday, 8 days.
    assert paid(left) == {"places": 40}


def test_standing_in_a_step_costs_by_the_day_too():
    told = problem(
        job(
            "x",
            step("dry", 2, "a", pin_start=3, stand_price=2),
            step("coat", 1, "a", pin_start=6, stand_price=9),
        )
    )
    # 5 days of 2 until the coat, then a Tuesday of 9.
    assert paid(told) == {"heat": 19}


def test_a_rig_is_set_up_once_while_she_stays_under_it():
    def tent(name: str, *places: str, rig: str = "tent", **values: object):
        return step(name, 1, *places, rig=rig, rig_price=6, **values)

    assert paid(problem(job("x", tent("dry", "a"), tent("coat", "a")))) == {"heat": 6}
    assert paid(problem(job("x", tent("dry", "a"), tent("coat", "b")))) == {"heat": 12}
    assert paid(problem(job("x", tent("dry", "a"), tent("coat", "a", rig="frame")))) == {"heat": 12}
    assert paid(problem(job("x", tent("dry", "a"), step("wash", 1, "a"), tent("coat", "a")))) == {"heat": 12}
    # It is up where she had begun in it.
    assert paid(problem(job("x", tent("coat", "a", "b"), begun=begun("a", 1, rig="tent")))) == {}


def test_the_cheaper_option_is_taken_until_time_is_worth_more():
    slow = Option(places=("a",), table="5")
    fast = Option(places=("a",), table="1", price=250)
    dry = Step(id="dry", options=(slow, fast))
    # Slow she is finished on Friday 6: 2 days late is 200, 3 days 300.
    assert paid(problem(job("x", dry, due=date(2026, 11, 4)))) == {"late": 200}
    assert paid(problem(job("x", dry, due=date(2026, 11, 3)))) == {"extra": 250}


def test_a_broken_window_is_paid_by_the_start():
    table = Table(
        id="coats", finish=(2, 3, 4, 5, 6, 7, 8, 9, 10, None), price=(150, 150, 0, 0, 90, 0, 0, 0, 0, 0)
    )
    coat = Step(id="coat", options=(Option(places=("a",), table="coats"),))
    tables = (*lengths(10), table)
    # In time for 150, or from slot 2 to 3, Thursday 5, a day late or two.
    assert paid(problem(job("x", coat, due=date(2026, 11, 4)), tables=tables)) == {"late": 100}
    assert paid(problem(job("x", coat, due=date(2026, 11, 3)), tables=tables)) == {"breaks": 150}


def test_a_step_that_leaves_its_posted_place_or_start_is_a_change():
    def posted(place: str, start: int, **values: object):
        told = step("peel", 1, "a", "b", posted=Posted(place=place, start=start), **values)
        return problem(job("x", told, due=NEVER), change_price=8)

    assert paid(posted("b", 7)) == {}
    assert paid(posted("b", 7, pin_place="a")) == {"changes": 8}
    assert paid(posted("b", 7, pin_start=6)) == {"changes": 8}
    assert paid(posted("b", 99)) == {"changes": 8}


def test_a_boat_whose_work_is_done_costs_nothing_but_her_place_until_she_goes():
    told = problem(
        job(
            "x", begun=begun("a", 2, price=50, rig="tent", rig_price=9, stand_price=1), due=date(2026, 11, 1)
        ),
        places=(Place(id="a", price=5),),
    )
    # Monday and Tuesday: 2 x 5 for the place, 2 x 1 in the step, 2 days late.
    assert paid(told) == {"late": 200, "places": 10, "heat": 2}
    before = problem(job("x", begun=begun("a", 0), due=date(2026, 10, 1)))
    assert paid(before) == {}
