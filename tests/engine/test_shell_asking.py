"""The engine asked from the shell why things are so and what would help."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

import scheduling.engine.__main__ as shell
from scheduling.engine.__main__ import main
from scheduling.engine.jsonio import to_json
from scheduling.engine.problem import Resource
from scheduling.engine.schedule import Schedule, WitnessRefused
from tests.engine.tiny import job, plan, problem, step

FRIDAY = date(2026, 11, 6)


@pytest.fixture
def files(tmp_path: Path) -> list[str]:
    told = problem(
        job("one", step("dry", 5, "a", holds={"tent": 1}), due=FRIDAY),
        job("two", step("dry", 5, "b", holds={"tent": 1}), due=FRIDAY),
        job("three", step("dry", 5, "b", holds={"tent": 1}), due=FRIDAY),
        resources=(Resource(id="tent", label="tent L", capacity=(1,) * 10),),
    )
    schedule = plan(told, one=[("a", 0)], two=[("b", 5)])
    names = []
    for name, value in (("problem", told), ("plan", schedule)):
        path = tmp_path / f"{name}.json"
        path.write_text(json.dumps(to_json(value)), "utf-8")
        names.append(str(path))
    return names


def lines(capsys: pytest.CaptureFixture[str], *command: str) -> list[Any]:
    assert main(command) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_why_says_a_reason_for_each_step_or_the_chain_of_one_boat(
    files: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    said = lines(capsys, "why", *files)
    assert [(each["job"], each["kind"]) for each in said] == [("one", "today"), ("two", "resource")]
    chain = lines(capsys, "why", *files, "--boat", "two")
    assert [each["job"] for each in chain] == ["two", "one"]
    assert [each["says"] for each in lines(capsys, "why", *files, "--fewest")] == ["one more tent L"]


def test_helps_come_as_lines_with_progress_and_all_at_the_end(
    files: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    said = lines(capsys, "helps", *files, "--work", "5", "--lines")
    assert said[0] == {"event": "phase", "phase": "looking for what is short"}
    assert {each["event"] for each in said[1:]} == {"help", "progress", "done"}
    assert len(said[-1]["result"]["helps"]) == sum(1 for each in said if each["event"] == "help")
    assert lines(capsys, "helps", *files, "--work", "5") == said[-1]["result"]["helps"]


def test_a_boat_that_is_not_there_is_bad_input(files: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["why", *files, "--boat", "nobody"]) == 2
    assert "has no job 'nobody'" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["repair", "helps"])
def test_what_thinks_in_one_process_does_not_ask_for_how_many(
    command: str, files: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        main([command, files[0], "--workers", "2"])
    assert "unrecognized arguments: --workers 2" in capsys.readouterr().err


def test_a_posted_plan_that_the_witness_refuses_helps_nobody(
    files: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_: object) -> None:
        raise WitnessRefused([], Schedule())

    monkeypatch.setattr(shell, "stand_on_posted", refuse)
    assert main(["helps", files[0], "--lines"]) == 3
    said = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert (said[-1]["event"], said[-1]["why"]) == ("failed", "The witness refused the plan.")
