"""A Problem checks itself, goes out to JSON and comes in unchanged; the examples are what makes them."""

import json
from dataclasses import replace
from datetime import date

import pytest
from jsonschema import Draft202012Validator

from scheduling.engine.jsonio import BadInput, from_json, schema_of, to_json
from scheduling.engine.problem import Air, Begun, Hand, Option, Place, Problem, Resource, Step, Table
from scheduling.engine.schedule import COST_KINDS, Kept, Result, Schedule, StepTime, Unplaced
from tests.engine.make_examples import FOLDER, SIZES, make, text
from tests.engine.tiny import begun, job, lengths, problem, step

OPTION = Option(places=("a",), table="1")
EXAMPLES = [*SIZES[:-1], pytest.param(SIZES[-1], marks=pytest.mark.slow)]


# --- Examples ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize("boats", EXAMPLES)
def test_the_example_files_are_what_makes_them(boats):
    written = (FOLDER / f"boats{boats}.json").read_text("utf-8")
    assert written == text(make(boats))
    told = from_json(Problem, json.loads(written))
    assert told == make(boats)
    assert len(told.jobs) == boats
    assert len(written) < 15_000 * boats


@pytest.mark.parametrize("boats", EXAMPLES)
def test_an_example_keeps_the_schema(boats):
    data = json.loads((FOLDER / f"boats{boats}.json").read_text("utf-8"))
    assert list(Draft202012Validator(schema_of(Problem)).iter_errors(data)) == []
    del data["jobs"][0]["due"]
    assert len(list(Draft202012Validator(schema_of(Problem)).iter_errors(data))) == 1


@pytest.mark.parametrize("span", [[3], [3, 5], [3, 5, 7]])
def test_the_schema_too_takes_a_pair_for_a_span_and_nothing_else(span):
    data = json.loads((FOLDER / "boats3.json").read_text("utf-8"))
    data["places"][0]["closed"] = [span]
    errors = list(Draft202012Validator(schema_of(Problem)).iter_errors(data))
    assert [list(error.path) for error in errors] == ([] if len(span) == 2 else [["places", 0, "closed", 0]])


@pytest.mark.parametrize("boats", EXAMPLES[1:])
def test_an_example_has_what_makes_a_winter_hard(boats):
    told = make(boats)
    steps = [each for boat in told.jobs for each in boat.steps]
    assert any(place.lane for place in told.places) and any(place.closed for place in told.places)
    assert {"dust", "grit"} <= {kind for each in steps for option in each.options for kind in option.makes}
    assert any(each.pin_place for each in steps) and any(each.earliest for each in steps)
    assert any(boat.begun for boat in told.jobs) and any(each.gate for each in steps)
    assert all(0 in hand.minutes[:100] for hand in told.hands if hand.id != "yard")
    assert any(None in table.finish[:100] for table in told.tables if table.id.startswith("tide"))
    four = [boat for boat in told.jobs if sum(each.kind == "dry" for each in boat.steps) == 4]
    assert all(len(each.options) == 3 for boat in four for each in boat.steps if each.kind == "dry")


def test_drying_is_quicker_in_spring_and_in_a_tent():
    tables = {table.id: table for table in make(12).tables}
    days = make(12).days
    january, april = (next(s for s, d in enumerate(days) if d >= date(2027, m, 4)) for m in (1, 4))

    def takes(regime, start):
        return days[tables[f"dry {regime} 8"].finish[start]] - days[start]

    assert takes("weather", january) > takes("shed", january) > takes("tent", january)
    assert takes("shed", january) > takes("shed", april)


# --- Out and in -------------------------------------------------------------------------------------------
def test_a_result_goes_out_and_comes_in_unchanged():
    time = StepTime(step="peel", place="a", option=0, start=1, end=3, leaves=4, unit="a1")
    schedule = Schedule(
        jobs={"x": (time,)}, unplaced={"y": Unplaced(rule="lane", says="a boat is in the way")}
    )
    result = Result(
        status="found",
        schedule=schedule,
        cost=dict.fromkeys(COST_KINDS, 3),
        total=27,
        kept={"x": Kept(rule="air", says="dust", days=4, step="peel")},
        seconds=1.5,
    )
    assert from_json(Result, json.loads(json.dumps(to_json(result)))) == result


def test_what_is_at_its_default_is_left_out_but_the_format():
    data = to_json(problem(job("x", step("peel", 1, "a"))))
    assert data["format"] == 1 and "airs" not in data and "move_price" not in data
    assert data["jobs"][0]["steps"] == [{"id": "peel", "options": [{"places": ["a"], "table": "1"}]}]


# --- What a Problem refuses -------------------------------------------------------------------------------
PARTS = {
    "settle: must not be negative": lambda: Air(id="a", settle=-1),
    "price: must not be negative": lambda: Place(id="a", price=-1),
    "depth: goes with a lane": lambda: Place(id="a", lane="door"),
    "room: a place in a lane": lambda: Place(id="a", lane="door", depth=1, room=2),
    "units: 1 names for room 2": lambda: Place(id="a", room=2, units=("a1",)),
    "closed: finish 3 is not after start 3": lambda: Place(id="a", closed=((3, 3),)),
    "capacity: must not be negative": lambda: Resource(id="r", capacity=(1, -1)),
    "minutes: must not be negative": lambda: Hand(id="h", skills=(), minutes=(-1,)),
    "finish 2 is not after its start 2": lambda: Table(id="t", finish=(1, 2, 2)),
    "3 is earlier than for an earlier start": lambda: Table(id="t", finish=(4, 3), waiting=True),
    "skills['coat']: must not be negative": lambda: Option(places=("a",), skills={"coat": -1}),
    "wait_max: 1 is less than wait_min 2": lambda: Step(id="s", options=(OPTION,), wait_min=2, wait_max=1),
    "option.table: what has begun has no": lambda: Begun(step="s", place="a", option=OPTION),
    "steps: a job needs at least one": lambda: job("x"),
    "steps: two steps have one id": lambda: job("x", step("peel", 1, "a"), step("peel", 1, "a")),
    "steps[0]: coats, but nothing before": lambda: job("x", step("coat", 1, "a", coats=True)),
}


@pytest.mark.parametrize("why", PARTS)
def test_a_part_refuses_what_makes_no_sense(why):
    with pytest.raises(BadInput) as refused:
        PARTS[why]()
    assert why in str(refused.value)


ONE = problem(job("x", step("peel", 1, "a")))
WHOLES = {
    "days: there is no slot": {"days": ()},
    "days[1]: 2026-11-02 is not after": {"days": (ONE.days[0],) * 2 + ONE.days[2:]},
    "has 1 entries for 10 slots": {"resources": (Resource(id="r", capacity=(1,)),)},
    "11 is past the last slot 10": {"tables": (Table(id="1", finish=(None,) * 9 + (11,)),)},
    "places[1].id: 'a' is there twice": {"places": (Place(id="a"), Place(id="a"))},
    "places[0].air: there is no air 'hall'": {"places": (Place(id="a", air="hall"),)},
    "lane 'door' has 1 twice": {"places": tuple(Place(id=i, lane="door", depth=1) for i in "ab")},
    "tables[0].open: there is no calendar 'work'": {"tables": (replace(lengths(10)[0], open="work"),)},
    "mover: there is no resource 'crane'": {"mover": "crane"},
    "options[0].places: there is no place 'moon'": {"jobs": (job("x", step("peel", 1, "moon")),)},
    "options[0].places: is empty": {"jobs": (job("x", step("peel", 1)),)},
    "there is no table '9'": {"jobs": (job("x", step("peel", 9, "a")),)},
    "there is no resource 'tent'": {"jobs": (job("x", step("peel", 1, "a", holds={"tent": 1})),)},
    "jobs[0].steps[0].options: is empty": {"jobs": (job("x", Step(id="peel", options=())),)},
    "steps[0]: there is no place 'moon'": {"jobs": (job("x", step("peel", 1, "a", pin_place="moon")),)},
    "begun.end: 11 is past the last slot": {"jobs": (job("x", begun=begun("a", 11)),)},
}


@pytest.mark.parametrize("why", WHOLES)
def test_a_problem_refuses_parts_that_do_not_fit_together(why):
    with pytest.raises(BadInput) as refused:
        replace(ONE, **WHOLES[why])
    assert why in str(refused.value)
