"""The runner sees every child end, keeps the best it found, and says in one sentence what went wrong."""

import json
import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from pathlib import Path

import pytest

from scheduling.engine.jsonio import to_json
from scheduling.engine.problem import Posted
from scheduling.runner import ROOT, Outcome, Task, run
from tests.engine.tiny import job, problem, step

FAKE = Path(__file__).with_name("fake_engine.py")


def play(act: str, *, stop_after_plan: bool = False, seconds: float = 30, **options) -> tuple[Outcome, list]:
    """Let the fake engine act; stop it, if so asked, once it has shown a plan."""
    heard: list = []

    def should_stop() -> bool:
        return stop_after_plan and any(line["event"] == "plan" for line in heard)

    outcome = run(
        "[1,2,3]",
        seconds=seconds,
        workers=1,
        seed=1,
        work=None,
        on_line=heard.append,
        should_stop=should_stop,
        command=(sys.executable, str(FAKE), act),
        grace=options.pop("grace", 0.5),
        **options,
    )
    return outcome, heard


def alive(pid: int) -> bool:
    """Tell whether a process runs; one that is dead and not yet reaped does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except FileNotFoundError:
        return False


def gone(pid: int) -> bool:
    """Wait for a process that was killed to be gone."""
    for _ in range(200):
        if not alive(pid):
            return True
        time.sleep(0.025)
    return False


def test_a_run_that_ends_by_itself_is_done_and_its_lines_come_as_they_are_said() -> None:
    outcome, heard = play("done")
    assert (outcome.ended, outcome.why) == ("done", "")
    assert outcome.result is not None and outcome.result["total"] == len("[1,2,3]")
    assert [line["event"] for line in heard] == ["phase", "plan", "done"]
    assert outcome.first_plan_s == 0.1


def test_helps_are_handed_over_as_the_engine_ends_with_them() -> None:
    outcome, heard = play("helps")
    assert (outcome.ended, outcome.first_plan_s) == ("done", None)
    assert [line["event"] for line in heard[1:]] == ["progress", "help", "progress", "help", "done"]
    assert outcome.result is not None and [each["what"] for each in outcome.result["helps"]] == [
        "coat",
        "fair",
    ]


def test_helps_that_were_found_before_the_child_died_are_kept() -> None:
    outcome, _ = play("helps, then killed")
    assert outcome.ended == "stopped" and "killed from outside" in outcome.why
    assert outcome.result is not None and [each["what"] for each in outcome.result["helps"]] == [
        "fair",
        "coat",
    ]


@pytest.mark.parametrize("task", ["solve", "repair", "helps"])
def test_the_child_is_told_its_task(task: Task) -> None:
    outcome, _ = play("task", task=task)
    assert outcome.result is not None and outcome.result["helps"] == [task, "-"]


@pytest.mark.parametrize("task", ["solve", "repair", "helps"])
def test_the_engine_itself_knows_all_it_is_told_with_a_task(task: Task) -> None:
    told = problem(job("she", step("one", 2, "a", posted=Posted(place="a", start=0))))
    outcome = run(
        json.dumps(to_json(told)),
        task=task,
        seconds=5,
        workers=2,
        seed=1,
        work=1,
        on_line=lambda _: None,
        should_stop=lambda: False,
    )
    assert (outcome.ended, outcome.why) == ("done", "")


def test_stop_is_a_signal_and_the_child_that_hears_it_hands_over_its_best() -> None:
    outcome, _ = play("obey", stop_after_plan=True, grace=20)
    assert outcome.ended == "stopped"
    assert outcome.result is not None and outcome.result["status"] == "stopped"


def test_a_child_that_does_not_hear_stop_is_killed_and_its_best_is_kept_all_the_same() -> None:
    outcome, _ = play("deaf", stop_after_plan=True)
    assert outcome.ended == "stopped"
    assert outcome.result is not None and outcome.result["total"] == 700
    assert outcome.why == "Stopped. The best found until then is kept."


def test_a_child_that_overruns_its_time_is_ended_and_its_best_kept() -> None:
    outcome, _ = play("deaf", seconds=0, overrun=0.5)
    assert outcome.ended == "stopped" and outcome.result is not None
    assert outcome.why.startswith("The engine overran its time")


@pytest.mark.parametrize(
    ("act", "says"),
    [
        ("killed", "killed from outside"),
        ("crash", "The engine died (Segmentation fault)."),
        ("memory", "The engine ran out of memory."),
        ("bad input", "The engine can't read the problem: jobs[0].steps: is missing"),
        ("garbled", "no line of its protocol: { this is no line"),
        ("nothing of the kind", "The engine ended without a plan (exit 0)."),
    ],
)
def test_a_failure_has_its_reason_in_one_sentence(act: str, says: str) -> None:
    outcome, _ = play(act)
    assert outcome.ended == "failed" and outcome.result is None
    assert says in outcome.why


def test_a_child_that_overruns_with_nothing_found_has_failed() -> None:
    outcome, _ = play("deaf before a plan", seconds=0, overrun=0.3)
    assert (outcome.ended, outcome.why) == ("failed", "The engine overran its time and was ended.")


def test_a_child_that_is_killed_after_it_found_a_plan_leaves_that_plan() -> None:
    outcome, _ = play("killed after a plan")
    assert outcome.ended == "stopped"
    assert outcome.result is not None and outcome.result["total"] == 700
    assert "killed from outside" in outcome.why


def test_a_child_that_gives_up_after_it_found_a_plan_leaves_that_plan_and_its_reason() -> None:
    outcome, _ = play("gives up")
    assert outcome.ended == "stopped" and outcome.result is not None
    assert outcome.why.startswith("The engine ran out of memory")


def test_what_the_witness_refuses_is_a_failure_that_hands_on_the_schedule_and_its_breaches() -> None:
    outcome, _ = play("refused")
    assert outcome.ended == "failed" and outcome.result is None
    assert outcome.refused is not None and outcome.refused["total"] == 700
    assert [breach["rule"] for breach in outcome.breaches] == ["stand"]


def test_helpers_of_a_child_that_died_are_ended_and_do_not_hold_up_the_run() -> None:
    outcome, heard = play("orphans")
    assert outcome.ended == "failed"
    assert gone(int(heard[-1]["phase"].split()[1]))


def test_an_exception_in_a_listener_ends_the_child_and_is_passed_on() -> None:
    pids: list[int] = []

    def raise_once_started(line: object) -> None:
        pids.extend(children())
        raise RuntimeError("the database is gone")

    with pytest.raises(RuntimeError):
        run(
            "{}", seconds=30, workers=1, seed=1, work=None, on_line=raise_once_started,
            should_stop=lambda: False, command=(sys.executable, str(FAKE), "deaf"),
        )  # fmt: skip
    assert pids and not any(alive(pid) for pid in pids)


def children() -> list[int]:
    """The processes that this one has started and not yet reaped."""
    return [
        int(stat.split()[0])
        for stat in (p.read_text() for p in _stats())
        if int(stat.rpartition(")")[2].split()[1]) == os.getpid()
    ]


def _stats():
    for path in Path("/proc").glob("[0-9]*/stat"):
        if path.exists():
            yield path


def test_no_zombie_and_no_thread_is_left_behind() -> None:
    before, threads = set(children()), threading.active_count()
    for act in ("done", "killed", "orphans"):
        play(act)
    assert set(children()) == before
    assert threading.active_count() == threads


def test_the_child_is_nice_bounded_in_memory_alone_in_its_session_and_knows_no_secret(monkeypatch) -> None:
    monkeypatch.setenv("SECRET_KEY", "not for children")
    monkeypatch.setenv("DATABASE_URL", "postgres://nowhere/nothing")
    _, heard = play("limits", nice=7, memory_mb=700)
    expected = [min(os.nice(0) + 7, 19), 700 * 2**20, True, []]
    assert json.loads(heard[1]["phase"]) == expected


@pytest.mark.reliability(7)
def test_the_child_dies_with_the_process_that_started_it(tmp_path: Path) -> None:
    note = tmp_path / "pid"
    parent = tmp_path / "parent.py"
    parent.write_text(
        textwrap.dedent(f"""
        import sys; sys.path.insert(0, {str(ROOT)!r})
        from pathlib import Path
        from scheduling.runner import run
        def note(line):
            import glob, os
            me = [s for s in map(read, glob.glob("/proc/[0-9]*/stat")) if s and s[1] == os.getpid()]
            Path({str(note)!r}).write_text(str(me[0][0]))
        def read(path):
            try:
                text = Path(path).read_text()
            except OSError:
                return None
            return int(text.split()[0]), int(text.rpartition(")")[2].split()[1])
        run("{{}}", seconds=600, workers=1, seed=1, work=None, on_line=note, should_stop=lambda: False,
            command=(sys.executable, {str(FAKE)!r}, "deaf before a plan"))
        """)
    )
    with subprocess.Popen([sys.executable, str(parent)]) as process:
        for _ in range(400):
            if note.exists() and note.read_text():
                break
            time.sleep(0.025)
        child = int(note.read_text())
        assert alive(child)
        process.send_signal(signal.SIGKILL)
    assert gone(child)
