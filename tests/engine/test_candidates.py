"""What a yard might have more of: only what can be had, from the day on which it can."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduling.engine.candidates import candidates
from scheduling.engine.insertion import insert
from scheduling.engine.more import Relaxation, with_more
from scheduling.engine.problem import Air, Hand, Option, Place, Resource, Table
from scheduling.engine.relaxing import state_in
from tests.engine.short_yards import saturday_yard, tent_yard, visit_yard
from tests.engine.tiny import job, plan, problem, step


def test_one_more_hand_is_for_the_rest_of_a_month_after_the_frozen_days() -> None:
    told = problem(
        job("one", step("coat", 2, "a", skills={"coat": 480})),
        slots=25,
        frozen=4,
        hands=(Hand(id="h", skills=("coat",), minutes=(480,) * 25),),
    )
    spans = [(t.start, t.until, t.says) for t in candidates(told, plan(told)) if t.kind == "hand"]
    # From Monday the 2nd of November: 21 working days, of which four are frozen.
    assert spans == [
        (4, 21, "one more hand for coat in November"),
        (21, 25, "one more hand for coat in December"),
    ]


def test_nobody_works_on_a_saturday_after_a_closed_friday() -> None:
    told = saturday_yard()
    short = replace(told, hands=(replace(told.hands[0], minutes=(60, 60, 60, 60, 0, *(60,) * 5)),))
    assert [t.what for t in candidates(told, plan(told)) if t.kind == "day"] == ["2026-11-07"]
    assert [t for t in candidates(short, plan(short)) if t.kind == "day"] == []


def test_who_comes_on_the_friday_does_not_come_on_the_saturday_too() -> None:
    told = replace(visit_yard(anew=1), frozen=0, calendars={"crew": (1,) * 10})
    tables = tuple(replace(t, open="crew") if t.anew else t for t in told.tables)
    saturday = Relaxation(kind="day", what="2026-11-07", amount=1, start=5, until=6, says="")
    wider = with_more(replace(told, tables=tables), saturday)
    (visits,) = [t for t in wider.tables if t.anew]
    assert [s for s, end in enumerate(visits.finish) if end is not None] == [4, 8]  # as before, one day on


@pytest.mark.parametrize(
    ("anew", "frozen", "says"),
    [
        (2, 0, "one more day of the surveyor: Wed 4 Nov"),
        (1, 3, "one more day of the surveyor: Thu 5 Nov"),
        (None, 1, "a lift day on Tue 3 Nov with a hired crane"),
        (4, 0, None),  # asked today he comes no sooner than he does
    ],
)
def test_a_day_more_is_one_for_which_somebody_can_still_be_asked(
    anew: int | None, frozen: int, says: str | None
) -> None:
    told = replace(visit_yard(anew), frozen=frozen)
    found = [t for t in candidates(told, plan(told, she=[("a", 0), ("a", 4)])) if t.kind == "lift day"]
    assert [thing.says for thing in found] == ([says] if says else [])
    for thing in found:
        wider = with_more(told, thing)
        assert wider.resources[0].capacity[thing.start] == 1
        assert wider.tables[-1].finish[thing.start] == thing.start + 1


def test_one_more_boat_a_day_is_only_for_the_days_on_which_somebody_comes() -> None:
    told = visit_yard(anew=2)
    (thing,) = [t for t in candidates(told, plan(told)) if t.kind == "kit"]
    assert thing.says == "one more boat a day for the surveyor"
    assert with_more(told, thing).resources[0].capacity == (0, 0, 0, 0, 2, 0, 0, 2, 0, 0)


def test_there_is_no_second_dock_no_more_room_for_tents_and_no_heat_on_open_ground() -> None:
    told = replace(
        tent_yard(),
        airs=(Air(id="shed"), Air(id="sky")),
        places=(Place(id="a", air="sky"), Place(id="b", air="shed"), Place(id="dock")),
    )
    wet = Table(id="tide", finish=(1, *(None,) * 8, 10))
    lift = Option(places=("dock",), table="tide")
    both = Option(places=("b",), table="1")
    more = job(
        "x", replace(step("lift", 1, "dock"), options=(lift,)), replace(step("dry", 1, "b"), options=(both,))
    )
    told = replace(told, tables=(*told.tables, wet), jobs=(*told.jobs, more))

    def found(fixed: tuple[str, ...]) -> set[tuple[str, str]]:
        things = candidates(replace(told, fixed=fixed), plan(told))
        return {(t.kind, t.what) for t in things if t.kind in ("bay", "fitted", "kit")}

    assert found(()) == {("bay", "a"), ("bay", "b"), ("kit", "tent")}
    assert found(("tent",)) == {("bay", "a"), ("bay", "b")}


@pytest.mark.parametrize("frozen", [0, 3])
def test_a_bay_is_fitted_out_as_another_is_for_what_starts_after_the_frozen_days(frozen: int) -> None:
    told = problem(
        job("she", step("peel", 1, "a", "b"), step("dry", 2, "b")),
        job("other", step("dry", 5, "b")),
        airs=(Air(id="shed"),),
        places=(Place(id="a", air="shed"), Place(id="b", air="shed")),
        frozen=frozen,
    )
    (thing,) = [t for t in candidates(told, plan(told)) if t.kind == "fitted"]
    assert (thing.says, thing.start) == ("a fitted out like b", frozen)
    state = state_in(told, with_more(told, thing), plan(told, other=[("b", 0)]))
    state.take_back("she")
    fit = insert(state, "she", hurry=True)
    assert fit is not None
    assert [(t.place, t.start) for t in fit.times] == [("a", 0), ("a", max(frozen, 1))]


def test_of_a_kit_that_is_used_by_the_hour_one_more_is_a_whole_one() -> None:
    peel = step("peel", 1, "a", uses={"peel": 270})
    heat = step("heat", 1, "a", holds={"heater": 3, "power": 9000})
    told = problem(
        job("she", peel, heat),
        resources=(
            Resource(id="peel", label="peel kit", capacity=(540,) * 10, one=540),
            Resource(id="heater", label="heater", capacity=(3,) * 10),
            Resource(id="power", label="power in C", unit="W", capacity=(9000,) * 10),
        ),
    )
    kits = [(t.amount, t.says) for t in candidates(told, plan(told)) if t.kind == "kit"]
    assert kits == [(540, "one more peel kit"), (3, "3 more: heater"), (9000, "9 kW more power in C")]


def test_where_all_days_left_are_frozen_nothing_can_be_had_any_more() -> None:
    told = tent_yard()
    (tent,) = [t for t in candidates(replace(told, frozen=9), plan(told)) if t.kind == "kit"]
    assert tent.start == 9
    assert candidates(replace(told, frozen=10), plan(told)) == ()
