"""What can't be is said by name, before any solving, and never of a job that some plan places."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from scheduling.engine.contradictions import Contradiction, contradictions, unplaceable
from scheduling.engine.problem import Hand, Option, Place, Problem, Resource, Step, Table
from scheduling.engine.schedule import Unplaced
from tests.engine.model import solved
from tests.engine.random_yards import random_problem
from tests.engine.tiny import begun, job, lengths, problem, step

SMALL = Place(id="a", label="Bay 1", limits={"length_mm": 10000, "load_kg": 9000})
BIGGER = Place(id="b", label="Bay 2", limits={"length_mm": 12500, "load_kg": 20000})


def one(*steps: Step, places: tuple[Place, ...] = (SMALL, BIGGER), **values: object) -> Problem:
    of_job = {key: values.pop(key) for key in ("size", "begun", "earliest") if key in values}
    return problem(job("x", *steps, label="Tern", **of_job), places=places, **values)


def said(told: Problem) -> tuple[str, str, str]:
    """(step, rule, sentence) of the only contradiction, which keeps the job out of every plan."""
    (found,) = contradictions(told)
    assert isinstance(found, Contradiction)
    assert found.job not in solved(told).schedule.jobs
    return found.step, found.rule, found.says


def test_a_yard_without_contradictions_says_nothing():
    assert contradictions(one(step("peel", 2, "a"), step("coat", 1, "b"))) == []


def test_no_place_is_big_enough():
    told = one(step("heat", 2, "a", "b"), size={"length_mm": 14600})
    says = "Tern, heat: length 14.60 m, and of the places for it the biggest, Bay 2, takes length 12.50 m"
    assert said(told) == ("heat", "fit", says)
    heavy = one(step("heat", 2, "a"), size={"load_kg": 9500})
    says = "Tern, heat: load 9.50 t, and of the places for it the biggest, Bay 1, takes load 9.00 t"
    assert said(heavy) == ("heat", "fit", says)


def test_where_she_stands_she_may_be_too_big():
    assert contradictions(one(step("heat", 2, "a"), begun=begun("a", 1), size={"length_mm": 14600})) == []


def test_no_day_on_which_it_can_start():
    table = Table(id="tide", finish=(None,) * 10)
    launch = Step(id="launch", options=(Option(places=("a",), table="tide"),))
    says = "Tern, launch: there is no day on which it can start and be finished in time"
    assert said(one(launch, tables=(table,))) == ("launch", "windows", says)


def test_a_skill_that_nobody_has():
    told = one(
        step("coat", 1, "a", skills={"spray": 60}),
        hands=(Hand(id="h", skills=("fair",), minutes=(480,) * 10),),
    )
    assert said(told) == ("coat", "hands", "Tern, coat: needs spray, which nobody in the yard can do")


def test_more_than_there_ever_is():
    hand = Hand(id="h", skills=("coat",), minutes=(480,) * 10)
    told = one(step("coat", 1, "a", skills={"coat": 500}), hands=(hand,))
    says = "Tern, coat: needs 500 min of coat a day, and there is never more than 480"
    assert said(told) == ("coat", "hands", says)
    tents = Resource(id="tent", label="tents", capacity=(1, 2) * 5)
    told = one(step("dry", 1, "a", holds={"tent": 2}, uses={"tent": 1}), resources=(tents,))
    says = "Tern, dry: needs 3 tents, and there is never more than 2"
    assert said(told) == ("dry", "hands", says)
    told = one(step("dry", 2, "a", holds={"tent": 2}), resources=(tents,))
    says = "Tern, dry: there is no span of days with enough of all it needs"
    assert said(told) == ("dry", "hands", says)


def test_demands_in_closed_slots_are_no_demands():
    table = Table(id="over", finish=(3,) + (None,) * 9, open="work")
    option = Option(places=("a",), table="over", uses={"kit": 1})
    told = one(
        Step(id="peel", options=(option,)),
        tables=(*lengths(10), table),
        calendars={"work": (1, 0, 1) + (1,) * 7},
        resources=(Resource(id="kit", capacity=(1, 0) + (1,) * 8),),
    )
    assert contradictions(told) == []
    assert said(replace(told, calendars={"work": (1,) * 10}))[1] == "hands"


def test_a_pin_to_a_place_that_does_not_do():
    told = one(step("heat", 2, "a", "b", pin_place="a"), size={"length_mm": 12000})
    says = "Tern, heat: is pinned to Bay 1, which takes length 10.00 m, and she has length 12.00 m"
    assert said(told) == ("heat", "pins", says)
    elsewhere = one(step("heat", 2, "a", pin_place="b"))
    assert said(elsewhere) == ("heat", "pins", "Tern, heat: can't be done in Bay 2, where it is pinned")
    closed = one(step("heat", 2, "a", "b", pin_place="a"), places=(replace(SMALL, closed=((0, 10),)), BIGGER))
    says = "Tern, heat: is pinned to Bay 1, which is closed whenever it could be done"
    assert said(closed) == ("heat", "pins", says)


def test_every_place_is_closed():
    told = one(step("heat", 3, "a"), places=(replace(SMALL, closed=((2, 4), (6, 8))), BIGGER))
    assert said(told) == (
        "heat",
        "windows",
        "Tern, heat: every place for it is closed whenever it could be done",
    )


@pytest.mark.parametrize(
    ("pin", "values", "says"),
    [
        (1, {"earliest": 3}, "is pinned to 3 Nov 2026, before 5 Nov 2026"),
        (
            2,
            {"coats": True, "gate": 4},
            "is pinned to 4 Nov 2026, before signed dry is forecast (6 Nov 2026)",
        ),
        (9, {}, "is pinned to 13 Nov 2026, when it can't start"),
        (12, {}, "is pinned to a day after 13 Nov 2026, when it can't start"),
    ],
)
def test_a_pinned_start_that_does_not_do(pin: int, values: dict[str, object], says: str):
    told = one(step("coat", 2, "a", pin_start=pin, **values))
    assert said(told) == ("coat", "pins", f"Tern, coat: {says}")


def test_a_gate_an_arrival_or_an_earliest_start_after_the_last_start():
    gated = one(step("coat", 2, "a", coats=True, gate=9))
    says = "signed dry is forecast for 13 Nov 2026, but 12 Nov 2026 is the last day on which it can start"
    assert said(gated) == ("coat", "gate", f"Tern, coat: {says}")
    waits = one(step("coat", 2, "a", earliest=10, earliest_why="the surveyor comes"))
    says = "waits until a day after 13 Nov 2026 (the surveyor comes), but 12 Nov 2026 is the last day"
    assert said(waits) == ("coat", "windows", f"Tern, coat: {says} on which it can start")
    away = one(step("coat", 2, "a"), earliest=9)
    says = "she is there on 13 Nov 2026, but 12 Nov 2026 is the last day on which it can start"
    assert said(away) == ("coat", "windows", f"Tern, coat: {says}")


def test_the_season_ends_before_the_chain_does():
    told = one(*(step(name, 4, "a") for name in ("peel", "dry", "coat")))
    # 4 + 4 slots of 10 leave 2: on Thursday 12 she could coat, on Monday 9 she would have had to.
    says = "what comes before takes until 12 Nov 2026, but 10 Nov 2026 is the last day on which it can start"
    assert said(told) == ("coat", "chain", f"Tern, coat: {says}")


def test_steps_whose_waits_never_meet():
    told = one(step("peel", 1, "a", pin_start=0), step("coat", 1, "a", wait_max=2, earliest=5))
    assert said(told)[:2] == ("coat", "chain")


def test_each_step_says_its_own_and_the_chain_is_quiet_then():
    told = one(step("peel", 1, "a", pin_start=12), step("heat", 1, "a"), size={"length_mm": 11000})
    assert [(each.step, each.rule) for each in contradictions(told)] == [("peel", "fit"), ("heat", "fit")]


def test_a_job_is_kept_out_by_the_first_of_its_contradictions():
    told = one(step("peel", 1, "a", pin_start=12), step("heat", 1, "a"), size={"length_mm": 11000})
    told = replace(told, jobs=(*told.jobs, job("y", step("peel", 1, "a"))))
    first = contradictions(told)[0]
    assert unplaceable(told) == {"x": Unplaced(rule="fit", says=first.says)}


def test_no_job_that_a_plan_places_has_a_contradiction(test_size: str):
    found = 0
    for seed in range({"small": 8, "full": 100, "soak": 500}[test_size]):
        told = random_problem(seed, jobs=4, facts_break=seed % 5 == 0)
        named = {each.job for each in contradictions(told)}
        found += len(named)
        assert not named & solved(told).schedule.jobs.keys()
    assert found


def test_days_are_told_as_the_yard_writes_them():
    told = problem(job("x", step("coat", 1, "a", pin_start=0, earliest=2)), slots=10)
    assert told.days[0] == date(2026, 11, 2)
    assert contradictions(told)[0].says == "x, coat: is pinned to 2 Nov 2026, before 4 Nov 2026"
