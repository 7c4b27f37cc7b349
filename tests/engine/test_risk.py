"""How sure a plan is: places and order kept, what is drawn drawn, and what a date hangs on."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from scheduling.engine.draws import drawn
from scheduling.engine.handovers import pieces_of
from scheduling.engine.jsonio import BadInput, from_json, to_json
from scheduling.engine.problem import Air, Hand, Place, Problem, Resource, Table
from scheduling.engine.risk import Risk, winters
from scheduling.engine.schedule import Schedule
from scheduling.engine.spreads import Spread
from scheduling.engine.winter import replayed
from tests.engine.agree import differences, example, planned
from tests.engine.spread_yards import lognormal, with_spreads
from tests.engine.tiny import begun, job, plan, problem, step

DRYING = Spread(cases=(500, 1000, 1500, 2000), label="drying")
SLOTS = 20


def drying(amount: int, **values: Any) -> Table:
    """The table "dry": so many slots of drying, each worth 10."""
    ends = tuple(s + amount if s + amount <= SLOTS else None for s in range(SLOTS))
    return Table(id="dry", finish=ends, worth="day", amount=10 * amount, **values)


def yard(*jobs: Any, amount: int = 4, spread: Spread = DRYING, **values: Any) -> Problem:
    """Twenty slots; places a and b; the tables of `tiny` and the one for drying."""
    tables = (*problem(slots=SLOTS).tables, drying(amount))
    worths = {"day": (10,) * SLOTS}
    return problem(
        *jobs, **{"slots": SLOTS, "tables": tables, "worths": worths, "spreads": {"dry": spread}} | values
    )


def ends_of(told: Problem, schedule: Schedule, name: str) -> list[int]:
    """The slots before which a job may be done, by her twenty dots."""
    days = [*told.days]
    boat = winters(told, schedule, runs=400).boats[name]
    return sorted({days.index(day) + 1 for day in boat.dots if day is not None})


# --- What a winter keeps ----------------------------------------------------------------------------------
@pytest.mark.parametrize("boats", [3, 12])
def test_where_nothing_is_drawn_and_the_last_day_was_told_the_plan_comes_out_exactly(boats: int) -> None:
    told = example(boats)
    last = {each.id: each.steps[-1].id for each in told.jobs}
    told = replace(
        told,
        jobs=tuple(
            replace(each, steps=tuple(replace(s, told=s.id == last[each.id]) for s in each.steps))
            for each in told.jobs
        ),
    )
    boats_ = winters(told, planned(told), runs=3).boats
    assert len(boats_) == boats
    for one in boats_.values():
        assert {one.likely, one.safe, *one.dots} == {one.planned}


def test_a_boat_waits_for_her_bay_until_the_one_before_her_has_left_it() -> None:
    told = yard(
        _dries("wet", "a"),
        job("next", step("works", 2, "a"), earliest=4),
    )
    schedule = plan(told, wet=[("a", 0)], next=[("a", 4)])
    assert ends_of(told, schedule, "wet") == [2, 4, 6, 8]
    assert ends_of(told, schedule, "next") == [6, 8, 10]  # she is not there before slot 4


def test_of_a_pool_a_boat_takes_whichever_bay_is_free() -> None:
    """She is planned into the bay of the wet boat; the other one leaves hers at slot 2."""
    pool = Place(id="pool", room=2, units=("u", "v"))
    told = yard(
        _dries("wet", "pool"),
        job("other", step("works", 2, "pool")),
        job("next", step("works", 1, "pool")),
        places=(pool,),
    )
    schedule = plan(told, wet=[("pool", 0)], other=[("pool", 0)], next=[("pool", 4)])
    bays = {"wet": "u", "other": "v", "next": "u"}
    jobs = {name: (replace(times[0], unit=bays[name]),) for name, times in schedule.jobs.items()}
    schedule = replace(schedule, jobs=jobs)
    assert ends_of(told, schedule, "next") == [3]


def test_what_her_date_hangs_on_is_the_drying_of_the_boat_before_her() -> None:
    told = yard(_dries("wet", "a"), _dries("dry", "b"), job("next", step("works", 2, "a")))
    schedule = plan(told, wet=[("a", 0)], dry=[("b", 0)], next=[("a", 4)])
    [hang] = winters(told, schedule).boats["next"].hangs
    assert (hang.kind, hang.job, hang.what) == ("amount", "wet", "drying")
    assert hang.share_pct > 80
    assert hang.days > 2


def test_a_date_may_hang_on_an_answer_on_the_weather_and_on_the_winter() -> None:
    common = Spread(cases=DRYING.cases, common="winter", share_pct=100)
    hoist = Resource(id="hoist", label="the hoist", capacity=(9,) * SLOTS, lost=(300,) * SLOTS)
    told = yard(
        job("held", replace(step("peel", 1, "a", until=(0, 9)), label="Peel")),
        _dries("wet", "b"),
        job("lifted", step("lift", 1, "c", uses={"hoist": 1})),
        places=(Place(id="a"), Place(id="b"), Place(id="c")),
        resources=(hoist,),
        spread=common,
    )
    boats = winters(told, plan(told, held=[("a", 0)], wet=[("b", 0)], lifted=[("c", 0)])).boats
    found = {name: [(h.kind, h.job, h.what) for h in boats[name].hangs] for name in boats}
    assert found == {
        "held": [("hold", "held", "Peel")],
        "wet": [("common", "", "winter")],
        "lifted": [("weather", "", "the hoist")],
    }


def test_a_day_that_others_were_told_is_never_early() -> None:
    her = replace(_dries("she", "a"), steps=(*_dries("she", "a").steps, step("lift", 1, "b")))
    told = yard(her)
    early = plan(told, she=[("a", 0), ("b", 4)])
    assert min(ends_of(told, early, "she")) == 3
    firm = replace(told, jobs=(replace(her, steps=(her.steps[0], replace(her.steps[1], told=True))),))
    assert min(ends_of(firm, early, "she")) == 5


def test_a_kit_is_handed_over_in_the_order_of_the_plan() -> None:
    kit = Resource(id="kit", capacity=(1,) * SLOTS)
    told = yard(
        _dries("first", "a", uses={"kit": 1}),
        job("second", step("works", 1, "b", uses={"kit": 1})),
        resources=(kit,),
    )
    schedule = plan(told, first=[("a", 0)], second=[("b", 4)])
    assert ends_of(told, schedule, "second") == [3, 5, 7, 9]
    two = replace(told, resources=(replace(kit, capacity=(2,) * SLOTS),))
    assert ends_of(two, schedule, "second") == [1]


def test_people_are_handed_over_in_the_order_of_the_plan() -> None:
    told = yard(
        _dries("first", "a", skills={"wash": 480}),
        job("second", step("works", 1, "b", skills={"wash": 480})),
        hands=(Hand(id="one", skills=("wash",), minutes=(480,) * SLOTS),),
    )
    schedule = plan(told, first=[("a", 0)], second=[("b", 4)])
    assert ends_of(told, schedule, "second") == [3, 5, 7, 9]


def test_dust_and_coats_in_one_air_keep_their_order() -> None:
    told = yard(
        _dries("dusty", "a", makes=("dust",)),
        job("coated", step("coats", 1, "b", spoiled_by=("dust",))),
        airs=(Air(id="shed", settle=1),),
        places=(Place(id="a", air="shed"), Place(id="b", air="shed")),
    )
    schedule = plan(told, dusty=[("a", 0)], coated=[("b", 5)])
    assert ends_of(told, schedule, "coated") == [4, 6, 8, 10]


@pytest.mark.parametrize("movable", [False, True])
def test_who_is_behind_in_a_lane_waits_for_one_in_front_who_cannot_be_moved(movable: bool) -> None:
    told = yard(
        _dries("front", "a", movable=movable),
        job("behind", step("works", 1, "b")),
        places=(Place(id="a", lane="row", depth=1), Place(id="b", lane="row", depth=2)),
    )
    schedule = plan(told, front=[("a", 0)], behind=[("b", 4)])
    assert ends_of(told, schedule, "behind") == ([1] if movable else [3, 5, 7, 9])


def test_two_who_swap_places_in_one_slot_do_not_wait_for_ever() -> None:
    told = yard(
        job("one", step("first", 2, "a"), step("then", 2, "b")),
        job("two", step("first", 2, "b"), step("then", 2, "a")),
    )
    schedule = plan(told, one=[("a", 0), ("b", 2)], two=[("b", 0), ("a", 2)])
    boats = winters(told, schedule, runs=5).boats
    assert [boats[name].safe for name in ("one", "two")] == [told.days[3]] * 2


# --- What is drawn ----------------------------------------------------------------------------------------
def test_all_parts_of_her_drying_share_one_draw() -> None:
    part = _dries("she", "a").steps[0]
    told = yard(job("she", part, replace(part, id="more")))
    schedule = plan(told, she=[("a", 0), ("a", 4)])
    assert ends_of(told, schedule, "she") == [4, 8, 12, 16]


def test_what_is_common_to_a_winter_moves_all_boats_together() -> None:
    def together(share_pct: int) -> float:
        spread = replace(DRYING, common="winter", share_pct=share_pct)
        told = yard(_dries("one", "a"), _dries("two", "b"), spread=spread)
        pieces = pieces_of(told, plan(told, one=[("a", 0)], two=[("b", 0)]))
        ends = replayed(told, pieces, drawn(told, pieces, 500, 1)).rows[1::2]
        return float(np.corrcoef(ends)[0, 1])

    assert together(100) == pytest.approx(1)
    assert 0.35 < together(50) < 0.65
    assert abs(together(0)) < 0.15


def test_weather_stops_every_lift_of_that_day() -> None:
    hoist = Resource(id="hoist", capacity=(9,) * SLOTS, lost=(0, 0, 0, 1000, 1000, *(0,) * 15))
    lift = step("lift", 1, "a", uses={"hoist": 1}, earliest=3)
    other = replace(lift, options=(replace(lift.options[0], places=("b",)),))
    told = yard(job("one", lift), job("two", other), resources=(hoist,))
    schedule = plan(told, one=[("a", 3)], two=[("b", 3)])
    assert ends_of(told, schedule, "one") == ends_of(told, schedule, "two") == [6]


def test_a_hold_ends_in_one_of_its_cases() -> None:
    told = yard(job("she", step("peel", 1, "a", earliest=5, until=(2, 5, 9))))
    schedule = plan(told, she=[("a", 5)])
    assert ends_of(told, schedule, "she") == [3, 6, 10]


def test_what_has_begun_is_drawn_from_what_is_left_of_it() -> None:
    was = replace(begun("a", 4, kind="dry"), worth="day", amount=40, spread="dry")
    told = yard(job("she", step("coats", 1, "a", coats=True, gate=4), begun=was))
    schedule = plan(told, she=[("a", 4)])
    assert ends_of(told, schedule, "she") == [3, 5, 7, 9]
    held = replace(was, spread=None, until=(0, 3))
    told = replace(told, jobs=(replace(told.jobs[0], begun=held),))
    assert ends_of(told, schedule, "she") == [5, 8]


def test_where_she_waits_counts_but_a_least_is_left() -> None:
    late = replace(drying(4), before="day", least=10, finish=(4, *(s + 1 for s in range(1, 20))))
    told = yard(_dries("she", "a", earliest=3), tables=(*problem(slots=SLOTS).tables, late))
    assert ends_of(told, plan(told, she=[("a", 3)]), "she") == [4, 6, 8]


@pytest.mark.parametrize(("anew", "end"), [(None, None), (0, 7), (6, 13)])
def test_who_misses_the_last_visit_asks_for_another(anew: int | None, end: int | None) -> None:
    visits = Table(
        id="visit",
        finish=(1, 2, *(None,) * 18),
        worth="day" if anew is not None else None,
        amount=10 if anew is not None else 0,
        anew=anew,
    )
    told = yard(
        job("she", step("waits", 1, "a", until=(6,)), step("blast", 1, "a")),
        tables=(*problem(slots=SLOTS).tables, visits),
    )
    her = told.jobs[0]
    blast = replace(her.steps[1], options=(replace(her.steps[1].options[0], table="visit"),))
    told = replace(told, jobs=(replace(her, steps=(her.steps[0], blast)),))
    boat = winters(told, plan(told, she=[("a", 0), ("a", 1)]), runs=5).boats["she"]
    assert boat.safe == (None if end is None else told.days[end])


def test_who_is_asked_again_comes_with_as_many_as_ever() -> None:
    """The blaster is there in slots 0 and 1 for one boat a day. Two boats are held until slot 5: the first
    asks him, from slot 6 on, to come again three slots later; the other has him the day after."""
    visits = Table(id="visit", finish=(1, 2, *(None,) * 18), worth="day", amount=10, anew=3)
    blaster = Resource(id="blaster", capacity=(1, 1, *(0,) * 18))
    blast = {place: step("blast", 1, place, uses={"blaster": 1}) for place in ("a", "b")}
    told = yard(
        *(
            job(
                name,
                step("waits", 1, place, until=(5,)),
                replace(blast[place], options=(replace(blast[place].options[0], table="visit"),)),
            )
            for name, place in (("one", "a"), ("two", "b"))
        ),
        tables=(*problem(slots=SLOTS).tables, visits),
        resources=(blaster,),
    )
    schedule = plan(told, one=[("a", 0), ("a", 1)], two=[("b", 0), ("b", 1)])
    boats = winters(told, schedule, runs=5).boats
    assert [boats[name].safe for name in ("one", "two")] == [told.days[9], told.days[10]]
    assert differences(told, schedule, 5) == []


def test_a_day_beyond_the_axis_is_none() -> None:
    told = yard(_dries("she", "a", earliest=15), spread=Spread(cases=(1000, 2000)))
    boat = winters(told, plan(told, she=[("a", 15)]), runs=100).boats["she"]
    assert (boat.safe, boat.dots[0], boat.dots[-1]) == (None, told.days[18], None)


def test_the_odds_are_those_of_her_due_day() -> None:
    told = yard(replace(_dries("she", "a"), due=problem(slots=SLOTS).days[5]))
    boat = winters(told, plan(told, she=[("a", 0)]), runs=4000).boats["she"]
    assert abs(boat.odds_pct - 75) <= 3
    assert (boat.likely, boat.safe) == (told.days[5], told.days[7])


def test_one_seed_gives_one_outcome_that_goes_through_json() -> None:
    told = with_spreads(example(3))
    schedule = planned(told)
    risk = winters(told, schedule, runs=50, seed=4)
    assert winters(told, schedule, runs=50, seed=4) == risk
    assert winters(told, schedule, runs=50, seed=5) != risk
    assert from_json(Risk, json.loads(json.dumps(to_json(risk)))) == risk


def test_boats_left_out_and_boats_with_nothing_left_to_do_have_no_dates() -> None:
    told = yard(
        job("out", step("works", 1, "a"), begun=begun("a", 2)),
        job("afloat", begun=begun("b", 0)),
    )
    assert winters(told, plan(told, afloat=[]), runs=2).boats == {}


# --- The file ---------------------------------------------------------------------------------------------
def test_a_problem_with_spreads_goes_through_json() -> None:
    told = with_spreads(example(3))
    assert from_json(Problem, json.loads(json.dumps(to_json(told)))) == told


@pytest.mark.parametrize(
    ("at", "value", "says"),
    [
        (("worths", "work"), [1], "worths['work']: has 1 entries for 189 slots"),
        (("spreads", "dry b1", "cases"), [], "spreads['dry b1'].cases: there is none"),
        (("spreads", "dry b1", "cases"), [2, 1], "spreads['dry b1'].cases[1]: 1 is below 2"),
        (("spreads", "dry b1", "share_pct"), 101, "share_pct: must be 0 to 100"),
        (("jobs", 0, "steps", 0, "spread"), "none", "jobs[0].steps[0].spread: there is no spread 'none'"),
        (("jobs", 0, "steps", 0, "until"), [190], "jobs[0].steps[0].until: 190 is past the last slot"),
        (("jobs", 0, "begun", "worth"), "none", "jobs[0].begun.worth: there is no worth 'none'"),
        (("tables", 1, "worth"), "none", "tables[1]: there is no worth 'none'"),
        (("tables", 1, "amount"), 0, "tables[1].amount: goes with a worth"),
        (("resources", 4, "lost"), [0], "resources[4].lost: has 1 entries for 189 slots"),
        (("resources", 4, "lost"), [1001] * 189, "resources[4].lost: odds of 1001 are above 1000"),
    ],
)
def test_what_is_wrong_is_named_with_its_place(at: tuple[Any, ...], value: Any, says: str) -> None:
    data = to_json(with_spreads(example(3)))
    here = data
    for key in at[:-1]:
        here = here[key]
    here[at[-1]] = value
    with pytest.raises(BadInput) as error:
        from_json(Problem, data)
    assert says in str(error.value)


def test_cases_of_a_spread_are_about_one() -> None:
    cases = lognormal(0.3)
    assert cases[0] < 600 < 1000 < 1700 < cases[-1]
    assert sum(case < 1000 for case in cases) == len(cases) // 2


def _dries(name: str, place: str, **values: Any) -> Any:
    """A job that only dries, by the table "dry" and the spread "dry"."""
    of_step = {key: values.pop(key) for key in ("earliest",) if key in values}
    dries = step("dries", 0, place, spread="dry", kind="dry", **of_step, **values)
    option = replace(dries.options[0], table="dry")
    return job(name, replace(dries, options=(option,)))
