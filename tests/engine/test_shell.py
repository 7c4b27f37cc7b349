"""The engine from the shell: solve, check, show; stopped, orphaned, cut short; wrong commands in one line."""

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from scheduling.engine.jsonio import from_json, schema_of, to_json
from scheduling.engine.problem import Place, Problem
from scheduling.engine.schedule import COST_KINDS, Result
from scheduling.engine.show import show
from scheduling.engine.solve import PHASES
from scheduling.engine.witness import check, cost
from tests.engine.tiny import begun, job, plan, problem, step

EXAMPLES = Path(__file__).parent / "examples"
ROOT = Path(__file__).parents[2]
ENGINE = [sys.executable, "-m", "scheduling.engine"]


def run(*args, stdin=b"", env=None):
    done = subprocess.run(
        [*ENGINE, *map(str, args)], input=stdin, capture_output=True, cwd=ROOT, env=env, timeout=120
    )
    return done.returncode, done.stdout.decode(), done.stderr.decode()


@pytest.fixture(scope="module")
def solved(tmp_path_factory):
    """The example of 3 boats and the Result that the shell gives for it."""
    out = tmp_path_factory.mktemp("solved") / "plan.json"
    code, said, errors = run("solve", EXAMPLES / "boats3.json", "--work", 40, "--workers", 1)
    assert (code, errors) == (0, "")
    out.write_text(said)
    return out


def example(boats=3):
    return from_json(Problem, json.loads((EXAMPLES / f"boats{boats}.json").read_text("utf-8")))


# --- solve, check, show -----------------------------------------------------------------------------------
def test_solve_prints_a_result_that_check_finds_clean(solved):
    result = from_json(Result, json.loads(solved.read_text()))
    assert check(example(), result.schedule) == []
    assert dict(result.cost) == cost(example(), result.schedule)
    assert result.total == sum(result.cost.values())
    assert run("check", EXAMPLES / "boats3.json", solved) == (0, "", "")


def test_the_same_seed_and_work_give_the_same_plan(solved):
    again = run("solve", "-", "--work", 40, "--workers", 1, stdin=(EXAMPLES / "boats3.json").read_bytes())[1]
    one, other = json.loads(solved.read_text()), json.loads(again)
    assert one["schedule"] == other["schedule"]


def test_check_names_each_breach_and_exits_1(solved, tmp_path):
    data = json.loads(solved.read_text())["schedule"]
    name, times = next(iter(data["jobs"].items()))
    times[-1]["place"] = "nowhere"
    broken = tmp_path / "broken.json"
    broken.write_text(json.dumps(data))
    code, said, errors = run("check", EXAMPLES / "boats3.json", broken)
    assert (code, errors) == (1, "")
    (breach,) = [json.loads(line) for line in said.splitlines()]
    assert (breach["rule"], breach["job"]) == ("chain", name)


def test_facts_alone_are_reported_and_not_refused(tmp_path):
    told = problem(job("x", step("peel", 1, "a")), places=(Place(id="a", limits={"length": 8}),))
    told = replace(told, jobs=(replace(told.jobs[0], size={"length": 9}),))
    files = tmp_path / "problem.json", tmp_path / "plan.json"
    files[0].write_text(json.dumps(to_json(told)))
    files[1].write_text(json.dumps(to_json(plan(told, x=[("a", 1)]))))
    assert run("check", *files)[0] == 1
    facts = replace(told, jobs=(replace(told.jobs[0], begun=begun("a", 1)),))
    files[0].write_text(json.dumps(to_json(facts)))
    files[1].write_text(json.dumps(to_json(plan(facts, x=[("a", 1)]))))
    code, said, _ = run("check", *files)
    assert code == 0
    assert json.loads(said)["fact"] is True


def test_show_draws_a_row_a_place_and_a_letter_a_boat(solved):
    code, said, errors = run("show", EXAMPLES / "boats3.json", solved)
    assert (code, errors) == (0, "")
    assert "Hardstanding" in said and "A  Avocet: " in said


def test_a_drawing_shows_work_waiting_closed_days_and_who_is_left_out():
    places = (
        Place(id="a", label="Bay", closed=((8, 10),)),
        Place(id="p", label="Pool", room=2, units=("p1", "p2")),
    )
    told = problem(
        job("x", step("peel", 2, "a"), step("coat", 1, "p"), label="Avocet"),
        job("y", step("dry", 3, "p")),
        job("z", step("dry", 3, "p")),
        places=places,
    )
    drawing = show(told, plan(told, x=[("a", 1), ("p", 5)], y=[("p", 4)]))
    assert drawing.splitlines() == [
        "        2Nov 9Nov",
        "Bay     .AAaa...//",
        "Pool p1 ....BBB...",
        "Pool p2 .....A....",
        "",
        "A  Avocet: 2026-11-03 to 2026-11-09",
        "B  y: 2026-11-06 to 2026-11-10",
        "C  z: left out (cost): it is cheaper to leave her out",
    ]


def test_the_schemas_beside_the_engine_are_those_of_its_classes():
    for name, cls in (("problem", Problem), ("plan", Result)):
        written = (ROOT / "scheduling" / "engine" / f"{name}.schema.json").read_text("utf-8")
        assert json.loads(written) == json.loads(json.dumps(schema_of(cls)))
        assert json.loads(run("schema", name)[1]) == json.loads(written)


def test_the_engine_needs_no_web_framework():
    code = (
        "import sys, scheduling.engine.__main__ as m; m.parser();"
        "print([n for n in ('django', 'celery', 'yard', 'ortools') if n in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"


# --- Lines, stop, parents ---------------------------------------------------------------------------------
def start(*args, **values):
    return subprocess.Popen(
        [*ENGINE, *map(str, args)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        **values,
    )


def test_lines_tell_each_better_plan_and_end_with_the_result():
    code, said, errors = run("solve", EXAMPLES / "boats3.json", "--lines", "--work", 40, "--workers", 1)
    lines = [json.loads(line) for line in said.splitlines()]
    assert (code, errors) == (0, "")
    assert [line["event"] for line in lines][:2] == ["phase", "plan"] and lines[-1]["event"] == "done"
    phases = [line["phase"] for line in lines if line["event"] == "phase"]
    assert phases == [phase for phase in PHASES if phase in phases]
    assert {"first plan", "search", "reasons"} <= set(phases)
    results = [from_json(Result, line["result"]) for line in lines if "result" in line]
    assert [each.total for each in results] == sorted((each.total for each in results), reverse=True)
    for each in results:
        assert check(example(), each.schedule) == []
        assert set(each.cost) == set(COST_KINDS) and sum(each.cost.values()) == each.total
    assert results[-1].bound is not None and results[-1].bound <= results[-1].total


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_stops_it_and_keeps_the_best(number):
    child = start("solve", EXAMPLES / "boats12.json", "--lines", "--seconds", 500)
    for line in child.stdout:
        if json.loads(line)["event"] == "plan":
            break
    child.send_signal(number)
    rest, errors = child.communicate(timeout=60)
    last = json.loads(rest.splitlines()[-1])
    assert (child.returncode, errors, last["event"]) == (0, "", "done")
    assert last["result"]["status"] == "stopped"
    assert check(example(12), from_json(Result, last["result"]).schedule) == []


@pytest.mark.skipif(sys.platform != "linux", reason="a parent's death is told by Linux alone")
def test_it_ends_when_the_process_that_started_it_dies():
    command = [*ENGINE, "solve", str(EXAMPLES / "boats12.json"), "--lines", "--seconds", "500"]
    code = (
        "import subprocess, sys, os;"
        f"c = subprocess.Popen({command!r},"
        " stdout=subprocess.PIPE, stderr=subprocess.DEVNULL);"
        "c.stdout.readline(); print(c.pid, flush=True); os._exit(0)"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, timeout=60)
    orphan = int(said.stdout)
    for _ in range(200):
        if not _runs(orphan):
            break
        time.sleep(0.05)
    assert not _runs(orphan)


def _runs(pid):
    """Whether it lives; a dead one that nobody has reaped yet does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def test_a_reader_that_has_seen_enough_is_no_failure(solved):
    child = start("show", EXAMPLES / "boats3.json", solved)
    child.stdout.close()
    assert child.wait(timeout=60) == 0
    assert child.stderr.read() == ""


def test_too_little_memory_is_said_in_one_line():
    code, said, errors = run("solve", EXAMPLES / "boats120.json", "--lines", "--memory", 120, "--seconds", 5)
    assert code == 3
    assert "memory" in errors and errors.count("\n") == 1
    assert not said or json.loads(said.splitlines()[-1])["event"] == "failed"


# --- Wrong commands ---------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("args", "why"),
    [
        (["solve", "there/is/none.json"], "there/is/none.json: can't be read: No such file or directory"),
        (["solve", "."], ".: can't be read: Is a directory"),
        (["solve"], "the following arguments are required: problem"),
        (["solve", "-", "--seconds", "nan"], "argument --seconds"),
        (["solve", "-", "--seconds", "-1"], "argument --seconds"),
        (["solve", "-", "--workers", "0"], "argument --workers"),
        (["sing"], "invalid choice: 'sing'"),
        ([], "the following arguments are required: command"),
    ],
)
def test_a_wrong_command_is_one_line_and_exit_2(args, why):
    code, said, errors = run(*args, env={**os.environ, "PYTHONWARNINGS": "default"})
    assert (code, said) == (2, "")
    assert why in errors and errors.count("\n") == 1
