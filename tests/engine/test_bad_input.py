"""Files that are not what they should be: one line that names the file and the place in it, exit 2."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from scheduling.engine.__main__ import main
from scheduling.engine.jsonio import GREATEST, from_json
from scheduling.engine.schedule import Result

ROOT = Path(__file__).parents[2]
BOATS3 = ROOT / "tests" / "engine" / "examples" / "boats3.json"
DATA = json.loads(BOATS3.read_text("utf-8"))
SLOTS = len(DATA["days"])
LANE = next(i for i, place in enumerate(DATA["places"]) if place.get("lane"))
POOL = next(i for i, place in enumerate(DATA["places"]) if place.get("room", 1) > 1)
TRUE = json.dumps(DATA).encode()
BEGUN = {"step": "was", "place": "hard", "end": 3, "option": {"places": ["hard"]}}


def changed(change):
    """The example of 3 boats as JSON, with one thing wrong."""
    data = json.loads(TRUE)
    change(data)
    return json.dumps(data).encode()


def to(value, *path):
    """Another value at a place in the file."""

    def change(data):
        for key in path[:-1]:
            data = data[key]
        data[path[-1]] = value

    return changed(change)


def without(*path):
    def change(data):
        for key in path[:-1]:
            data = data[key]
        del data[path[-1]]

    return changed(change)


def again(group):
    """The first of a group a second time, at its end."""
    return changed(lambda data: data[group].append(data[group][0]))


def falling(data):
    data["tables"][0] |= {"waiting": True, "finish": [9, None, None, 8] + [None] * (SLOTS - 4)}


STEP = ("jobs", 0, "steps", 1)
OPTION = (*STEP, "options", 0)

NO_JSON = {
    "nothing": (b"", "is not JSON: line 1, column 1"),
    "other words": (b"days: []", "is not JSON: line 1, column 1"),
    "zeros": (b"\0" * 50, "is not JSON: line 1, column 1"),
    "not UTF-8": (b'{"name": "\xff"}', "is not UTF-8 at byte 10"),
    "UTF-16": (json.dumps(DATA).encode("utf-16"), "is not UTF-8 at byte 0"),
    "cut short": (TRUE[:2000], "is not JSON: line 1"),
    "two of them": (TRUE * 2, "Extra data"),
    "lines cut short": (b'{"event":"phase"}\n{"event":"plan","resu', "is not JSON: line 2"),
    "a key twice": (b'{"format": 1, "name": "a", "name": "b"}', "has the key 'name' twice in one object"),
    "endless brackets": (b"[" * 100_000, "brackets within brackets"),
    "a list": (b"[]", "the file: must be an object, not a list"),
    "a number": (b"12", "the file: must be an object, not 12"),
    "null": (b"null", "the file: must be an object, not null"),
}
WRONG = {
    "another format": (to(2, "format"), "format: must be one of 1, not 2"),
    "yes for the format": (to(True, "format"), "format: must be one of 1, not true"),
    "a fraction for the format": (to(1.0, "format"), "format: must be one of 1, not 1.0"),
    "no days": (without("days"), "days: is missing"),
    "no slot": (to([], "days"), "days: there is no slot"),
    "a day twice": (to(DATA["days"][2], "days", 3), f"days[3]: {DATA['days'][2]} is not after"),
    "days that fall": (to(DATA["days"][1], "days", 3), f"days[3]: {DATA['days'][1]} is not after"),
    "a day that is none": (to("2026-02-30", "days", 0), "days[0]: must be a day"),
    "a day otherwise written": (to("20261102", "days", 0), "days[0]: must be a day like"),
    "a week for a day": (to("2026-W45-1", "days", 0), "days[0]: must be a day like"),
    "an instant for a day": (to("2026-11-02T08:00", "days", 0), "days[0]: must be a day like"),
    "the end of time": (
        to("9999-12-31", "days", SLOTS - 1),
        f"days[{SLOTS - 1}]: must be a day of",
    ),
    "a promise long ago": (to("0001-01-01", "jobs", 0, "due"), "jobs[0].due: must be a day of the years"),
    "no steps": (without("jobs", 1, "steps"), "jobs[1].steps: is missing"),
    "a stray key": (to("red", "jobs", 0, "colour"), "jobs[0].colour: is not a key that belongs here"),
    "a negative wait": (to(-1, *STEP, "wait_min"), "jobs[0].steps[1].wait_min: must not be negative"),
    "a negative price": (to(-5, "places", 0, "price"), "places[0].price: must not be negative"),
    "a negative length": (to({"length_mm": -1}, "jobs", 0, "size"), "jobs[0].size['length_mm']: must not be"),
    "negative minutes": (to(-4, "hands", 0, "minutes", 4), "hands[0].minutes: must not be negative"),
    "a negative depth": (to(-3, "places", LANE, "depth"), f"places[{LANE}].depth: must not be negative"),
    "a pin before the axis": (to(-1, *STEP, "pin_start"), "jobs[0].steps[1].pin_start: must not be negative"),
    "posted before the axis": (
        to({"place": "hard", "start": -4}, *STEP, "posted"),
        "jobs[0].steps[1].posted.start: must not be negative",
    ),
    "closed before the axis": (
        to([[-5, 3]], "places", 0, "closed"),
        "places[0].closed: must not be",
    ),
    "closed backwards": (
        to([[5, 3]], "places", 0, "closed"),
        "places[0].closed: finish 3 is not",
    ),
    "closed thrice": (
        to([[1, 2, 3]], "places", 0, "closed"),
        "places[0].closed[0]: must have 2 items",
    ),
    "room for nobody": (to(0, "places", LANE, "room"), f"places[{LANE}].room"),
    "two bays of one name": (
        to(["H1"] * DATA["places"][POOL]["room"], "places", POOL, "units"),
        f"places[{POOL}].units: two bays have one name",
    ),
    "a lane without a depth": (to("east", "places", POOL, "lane"), "depth: goes with a lane"),
    "an unknown place": (
        to(["moon"], "jobs", 2, "steps", 0, "options", 0, "places"),
        "jobs[2].steps[0].options[0].places: there is no place 'moon'",
    ),
    "an unknown place to be pinned in": (
        to("moon", *STEP, "pin_place"),
        "steps[1]: there is no place",
    ),
    "an unknown table": (to("moon", *OPTION, "table"), "steps[1].options[0].table: there is no table 'moon'"),
    "an unknown resource": (to({"moon": 1}, *OPTION, "uses"), "options[0]: there is no resource 'moon'"),
    "an unknown air": (to("moon", "places", 0, "air"), "places[0].air: there is no air 'moon'"),
    "an unknown calendar": (to("moon", "tables", 0, "open"), "tables[0].open: there is no calendar 'moon'"),
    "an unknown mover": (to("moon", "mover"), "mover: there is no resource 'moon'"),
    "unknown things that are fixed": (
        to([DATA["places"][0]["id"], DATA["resources"][0]["id"], "moon"], "fixed"),
        "fixed[2]: there is no resource or place 'moon'",
    ),
    "an unknown place to be posted in": (
        to({"place": "moon", "start": 3}, *STEP, "posted"),
        "steps[1]: there is no place 'moon'",
    ),
    "an unknown option to be posted in": (
        to({"place": "hard", "start": 3, "option": 99}, *STEP, "posted"),
        "steps[1].posted.option: the step has no option 99",
    ),
    "an unknown bay": (
        to({**BEGUN, "unit": "moon"}, "jobs", 0, "begun"),
        "begun.unit: 'hard' has no bay",
    ),
    "begun past the end": (to({**BEGUN, "end": SLOTS + 1}, "jobs", 0, "begun"), "jobs[0].begun.end"),
    "begun by a table": (
        to({**BEGUN, "option": {"places": ["hard"], "table": "x"}}, "jobs", 0, "begun"),
        "jobs[0].begun.option.table",
    ),
    "begun elsewhere": (
        to({**BEGUN, "option": {"places": ["west"]}}, "jobs", 0, "begun"),
        "jobs[0].begun.option.places: must be the place she is in",
    ),
    "finish before start": (to(3, "tables", 0, "finish", 5), "tables[0].finish[5]: finish 3 is not after"),
    "finish past the last slot": (to(SLOTS + 1, "tables", 0, "finish", 5), "tables[0].finish[5]"),
    "a waiting table that falls": (changed(falling), "tables[0].finish[3]: 8 is earlier than"),
    "a row too short": (without("hands", 0, "minutes", 0), "hands[0].minutes: has"),
    "half open": (to(2, "calendars", "work", 7), "calendars['work'][7]: must be 1 for open or 0"),
    "a boat twice": (again("jobs"), "jobs[3].id: 'b1' is there twice"),
    "a place twice": (again("places"), f"places[{len(DATA['places'])}].id: 'hard' is there twice"),
    "a table twice": (again("tables"), "is there twice"),
    "a boat without a name": (to("", "jobs", 0, "id"), "jobs[0].id: is empty"),
    "a step twice": (
        to(DATA["jobs"][0]["steps"] * 2, "jobs", 0, "steps"),
        "jobs[0].steps: two steps",
    ),
    "no options": (to([], *STEP, "options"), "jobs[0].steps[1].options: is empty"),
    "nowhere": (to([], *OPTION, "places"), "jobs[0].steps[1].options[0].places: is empty"),
    "less than the least": (
        changed(lambda data: data["jobs"][0]["steps"][1].update(wait_min=5, wait_max=2)),
        "jobs[0].steps[1].wait_max: 2 is less than wait_min 5",
    ),
    "coats on a wet hull": (
        to([{**DATA["jobs"][1]["steps"][0], "coats": True, "dries": False}], "jobs", 1, "steps"),
        "jobs[1].steps[0]: coats, but nothing before it leads to signed dry",
    ),
    "no number": (to(float("nan"), "jobs", 0, "late_price"), "jobs[0].late_price: must be a whole number"),
    "no end": (to(float("inf"), "jobs", 0, "late_price"), "jobs[0].late_price: must be a whole number"),
    "more than a fraction holds": (
        to("HERE", "move_price").replace(b'"HERE"', b"1e999"),
        "move_price: must be a whole number, not inf",
    ),
    "half a penny": (to(0.5, "move_price"), "move_price: must be a whole number, not 0.5"),
    "a fraction in a row": (to(4.0, "hands", 0, "minutes", 4), "hands[0].minutes[4]: must be a whole number"),
    "yes for a number": (to(True, "move_price"), "move_price: must be a whole number, not true"),
    "yes in a row": (
        to(True, "hands", 0, "minutes", 4),
        "minutes[4]: must be a whole number, not true",
    ),
    "a number for yes": (to(1, "jobs", 0, "signed_dry"), "jobs[0].signed_dry: must be true or false, not 1"),
    "a number for text": (to(3, "jobs", 0, "label"), "jobs[0].label: must be text, not 3"),
    "text for a number": (to("12", "jobs", 0, "late_price"), "jobs[0].late_price: must be a whole number"),
    "one too big": (to(GREATEST + 1, "move_price"), f"move_price: {GREATEST + 1} is beyond {GREATEST}"),
    "too big": (to(10**30, "jobs", 0, "drop_price"), "jobs[0].drop_price: 1"),
    "too small": (to(-(10**30), "jobs", 0, "drop_price"), "jobs[0].drop_price: -1"),
    "too big in a row": (
        to(10**12, "hands", 0, "minutes", 2),
        "minutes[2]: 1000000000000 is beyond",
    ),
    "thousands of digits": (to(10**4000, "move_price"), "move_price: 1"),
    "text for a list": (to("none", "jobs"), "jobs: must be a list, not 'none'"),
    "null for a list": (to(None, "places"), "places: must be a list, not null"),
    "lists in lists": (to([[[[]]]], "mover"), "mover: must be text, not a list"),
    "swaps of another kind": (to(["cost"], "swaps"), "swaps: must be one of cost, free, not a list"),
    "a lone surrogate": (to("\ud800", "mover"), "mover: there is no resource"),
    "a name of two lines": (to("a\nb\x1b[2J", "mover"), r"mover: there is no resource 'a\nb\x1b[2J'"),
}
BAD = NO_JSON | WRONG


def told(capsys, *args):
    """The exit code and the one line on stderr, with nothing on stdout."""
    code = main(list(map(str, args)))
    said, errors = capsys.readouterr()
    assert said == ""
    assert errors.endswith("\n") and len(errors.splitlines()) == 1
    return code, errors


@pytest.mark.parametrize("name", BAD)
def test_a_bad_problem_is_one_line_that_names_the_file_and_the_place_in_it(name, tmp_path, capsys):
    raw, place = BAD[name]
    file = tmp_path / "problem.json"
    file.write_bytes(raw)
    for command in ("check", "show"):
        code, errors = told(capsys, command, file, file)
        assert code == 2
        assert errors.startswith(f"{file}: ") and place in errors


@pytest.mark.parametrize("name", ["nothing", "endless brackets", "thousands of digits", "a lone surrogate"])
def test_solve_says_the_same_and_nothing_else(name):
    raw, place = BAD[name]
    done = subprocess.run(
        [sys.executable, "-m", "scheduling.engine", "solve", "-"], input=raw, capture_output=True, cwd=ROOT
    )
    assert (done.returncode, done.stdout) == (2, b"")
    errors = done.stderr.decode()
    assert errors.startswith("stdin: ") and place in errors
    assert errors.count("\n") == 1


def test_a_mark_at_the_head_of_the_file_does_no_harm(tmp_path, capsys):
    file, plan = tmp_path / "problem.json", tmp_path / "plan.json"
    file.write_bytes(b"\xef\xbb\xbf" + TRUE)
    plan.write_text("{}")
    assert main(["check", str(file), str(plan)]) == 1  # it is read; nobody is in this plan
    assert "neither placed nor left out" in capsys.readouterr().out


def test_what_a_plan_costs_may_be_more_than_any_number_of_its_problem():
    dear = {"format": 1, "status": "found", "schedule": {}, "cost": {"late": 10**12}, "total": 10**12}
    assert from_json(Result, dear).total == 10**12


# --- Files that can't be read -----------------------------------------------------------------------------
def test_a_file_that_is_not_there_or_is_none_is_named(tmp_path, capsys):
    assert told(capsys, "check", tmp_path / "none.json", "-") == (
        2,
        f"{tmp_path}/none.json: can't be read: No such file or directory\n",
    )
    assert told(capsys, "show", tmp_path, "-") == (2, f"{tmp_path}: can't be read: Is a directory\n")
    assert told(capsys, "check", "a\0b", "-")[0] == 2
    code, errors = told(capsys, "check", "a" * 5000, "-")
    assert code == 2 and "File name too long" in errors


def test_a_file_that_is_not_ours_to_read_is_named(tmp_path, capsys, monkeypatch):
    def refuse(self):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)  # root may read everything
    code, errors = told(capsys, "check", tmp_path / "problem.json", "-")
    assert (code, errors) == (2, f"{tmp_path}/problem.json: can't be read: Permission denied\n")


# --- Plans ------------------------------------------------------------------------------------------------
TIME = {"step": "dry1", "place": "hard", "option": 0, "start": 0, "end": 1, "leaves": 1}
BAD_PLANS = {
    **NO_JSON,
    "a number for a step": ({"b1": [{"step": 1}]}, "schedule.jobs['b1'][0].step: must be text, not 1"),
    "no place": ({"b1": [{"step": "dry1"}]}, "schedule.jobs['b1'][0].place: is missing"),
    "one for all": ({"b1": TIME}, "schedule.jobs['b1']: must be a list, not an object"),
    "a start without end": ({"b1": [{**TIME, "start": 10**30}]}, "schedule.jobs['b1'][0].start: 1"),
    "a fraction of a slot": ({"b1": [{**TIME, "end": 0.5}]}, "jobs['b1'][0].end: must be a whole number"),
}


@pytest.mark.parametrize("name", BAD_PLANS)
def test_a_bad_plan_is_one_line_too(name, tmp_path, capsys):
    raw, place = BAD_PLANS[name]
    file = tmp_path / "plan.json"
    file.write_bytes(raw if isinstance(raw, bytes) else json.dumps({"schedule": {"jobs": raw}}).encode())
    for command in ("check", "show"):
        code, errors = told(capsys, command, BOATS3, file)
        assert code == 2
        assert errors.startswith(f"{file}: ") and place in errors


def test_a_rule_that_is_none_is_no_reason(tmp_path, capsys):
    file = tmp_path / "plan.json"
    for rule in ("weather", ["chain"], None):
        file.write_text(json.dumps({"unplaced": {"b1": {"rule": rule, "says": "rain"}}}))
        code, errors = told(capsys, "check", BOATS3, file)
        assert code == 2 and "unplaced['b1'].rule: must be one of chain" in errors


OTHER_PLANS = {
    "an unknown boat": ({"nobody": []}, "there is no job 'nobody'"),
    "nobody": ({}, "Avocet is neither placed nor left out"),
    "an unknown step": ({"b1": [{**TIME, "step": "paint"}]}, "Avocet has the steps ['paint']"),
    "slots far off": ({"b1": [{**TIME, "start": 10**8, "end": 10**8}]}, "Avocet has the steps ['dry1']"),
}


@pytest.mark.parametrize("name", OTHER_PLANS)
def test_a_plan_for_another_problem_breaks_the_chain_and_is_not_drawn(name, tmp_path, capsys):
    jobs, says = OTHER_PLANS[name]
    file = tmp_path / "plan.json"
    file.write_text(json.dumps({"jobs": jobs}))
    assert main(["check", str(BOATS3), str(file)]) == 1
    breaches = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert says in "; ".join(breach["says"] for breach in breaches if breach["rule"] == "chain")
    code, errors = told(capsys, "show", BOATS3, file)
    assert code == 2
    assert errors.startswith(f"{file}: is no plan for this problem: ")
