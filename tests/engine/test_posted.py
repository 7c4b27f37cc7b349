"""A Problem says itself where its steps are posted: a repair and a search need no other plan beside it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from scheduling.engine import witness
from scheduling.engine.__main__ import main
from scheduling.engine.jsonio import BadInput, from_json, to_json
from scheduling.engine.moves import moves
from scheduling.engine.postings import posted_of
from scheduling.engine.problem import Job, Place, Posted, Problem, Resource
from scheduling.engine.repair import Repair, as_frozen, repair, stand_on_posted
from scheduling.engine.schedule import Schedule
from scheduling.engine.solve import solve
from tests.engine.events import kit_out, seven
from tests.engine.test_repair import CHANGE, FROZEN, posted_yard
from tests.engine.test_solve import stop_after
from tests.engine.tiny import broken, job, plan, problem, step

HOIST = Resource(id="hoist", label="Hoist", capacity=(1,) * 10)


def told_of(seed: int) -> tuple[Problem, Schedule]:
    """A random yard whose Problem says all that its posted plan says; that plan."""
    told, posted = posted_yard(seed)
    jobs = tuple(replace(job, left_out=job.id in posted.unplaced) for job in told.jobs)
    return replace(told, jobs=jobs), posted


def a_lift_each(**values: Any) -> tuple[Problem, Schedule]:
    """Two boats, each lifted on a day of her own, then two days of work."""
    told = problem(
        job("she", step("lift", 1, "a", uses={"hoist": 1}), step("work", 2, "a")),
        job("other", step("lift", 1, "b", uses={"hoist": 1}), step("work", 2, "b")),
        resources=(HOIST,),
        change_price=CHANGE,
        **values,
    )
    posted = plan(told, she=[("a", 0), ("a", 1)], other=[("b", 1), ("b", 2)])
    return posted_into(told, posted), posted


def posted_into(told: Problem, posted: Schedule) -> Problem:
    """The Problem with the plan written into its steps."""
    return replace(told, jobs=tuple(_posted_job(job, posted) for job in told.jobs))


def _posted_job(job: Job, posted: Schedule) -> Job:
    at = {time.step: time for time in posted.jobs[job.id]}
    steps = tuple(
        replace(s, posted=Posted(place=at[s.id].place, start=at[s.id].start, option=0)) for s in job.steps
    )
    return replace(job, steps=steps)


# --- What the Problem says of the plan --------------------------------------------------------------------
def test_a_plan_written_into_the_steps_and_read_back_is_the_same_plan() -> None:
    left_out = 0
    for seed in range(12):
        told, posted = told_of(seed)
        again = posted_of(from_json(Problem, to_json(told)))
        assert again is not None
        assert again.jobs == posted.jobs, seed
        assert set(again.unplaced) == set(posted.unplaced), seed
        left_out += len(again.unplaced)
    assert left_out


def test_where_no_step_is_posted_there_is_nothing_to_mend_and_a_search_starts_from_nothing() -> None:
    told = problem(job("she", step("one", 2, "a")))
    assert posted_of(told) is None
    assert stand_on_posted(told) == (told, None)
    with pytest.raises(BadInput, match="nothing to repair"):
        repair(told)


def test_an_option_that_the_step_has_not_is_bad_input() -> None:
    told, _ = a_lift_each()
    data = to_json(told)
    data["jobs"][0]["steps"][1]["posted"]["option"] = 1
    with pytest.raises(BadInput, match=r"posted.option: the step has no option 1"):
        from_json(Problem, data)


# --- Repair -----------------------------------------------------------------------------------------------
def test_a_repair_of_the_problem_alone_is_the_repair_with_its_plan_and_moves_the_same() -> None:
    moved = 0
    for seed in range(2):
        told, posted = told_of(seed)
        for name, after in seven(told, posted, seed).items():
            one, other = repair(after, work=5), repair(after, posted, work=5)
            assert one.schedule.jobs == other.schedule.jobs, (seed, name)
            assert (one.moved, one.thawed, one.total) == (other.moved, other.thawed, other.total), (
                seed,
                name,
            )
            assert moves(as_frozen(after, one.thawed), one.schedule) == one.moved, (seed, name)
            moved += len(one.moved)
    assert moved


def test_a_plan_beside_itself_moves_nothing_and_one_that_is_posted_nowhere_neither() -> None:
    told, posted = told_of(3)
    assert moves(told, posted) == ()
    bare = problem(job("she", step("one", 2, "a")))
    assert moves(bare, plan(bare, she=[("a", 3)])) == ()


def test_with_nothing_happened_the_posted_plan_comes_back_and_nothing_is_tried() -> None:
    for seed in range(8):
        told, posted = told_of(seed)
        found = repair(replace(told, frozen=FROZEN), work=1000)
        assert (found.status, found.schedule.jobs, found.moved, found.tries) == (
            "kept",
            posted.jobs,
            (),
            0,
        ), seed


def test_the_managers_pin_holds_where_a_frozen_step_gives_way_to_a_fact() -> None:
    """Bay a is shut. Frozen there and not pinned she goes to b; pinned to a by the manager she stays out."""
    shut = (Place(id="a", closed=((0, 10),)), Place(id="b"))
    for pin, where in ((None, {"she": "b"}), ("a", {})):
        one = step("one", 2, "a", "b", pin_place=pin, posted=Posted(place="a", start=0))
        told = problem(job("she", one), places=shut, frozen=FROZEN)
        found = repair(told, work=5)
        assert {name: times[0].place for name, times in found.schedule.jobs.items()} == where
        assert broken(told, found.schedule) == broken(as_frozen(told, found.thawed), found.schedule) == []


# --- A search that goes on from it ------------------------------------------------------------------------
@pytest.fixture(scope="module")
def searched() -> list[tuple[str, Problem, Repair, Any]]:
    """Of a few events: the Problem that holds, the posted plan mended, and what a search finds."""
    found = []
    told, posted = told_of(3)
    events = seven(told, posted, 3)
    for name in ("9 days more drying", "a boat 9 days late", "a bay lost"):
        after = replace(events[name], frozen=FROZEN)
        frozen, mended = stand_on_posted(after)
        assert mended is not None
        found.append((name, frozen, mended, solve(after, work=5, workers=1, should_stop=stop_after(8))))
    return found


def test_a_search_is_never_dearer_than_the_posted_plan_mended(searched: list[Any]) -> None:
    for name, told, mended, result in searched:
        assert broken(told, result.schedule) == [], name
        assert result.total <= mended.total, name
        assert result.total == sum(witness.cost(told, result.schedule).values()), name


def test_frozen_steps_stay_where_they_are_posted_in_a_search_too_unless_a_fact_moves_them(
    searched: list[Any],
) -> None:
    stayed = 0
    for name, told, mended, result in searched:
        assert result.thawed == mended.thawed, name
        for each in told.jobs:
            at = {time.step: time for time in result.schedule.jobs.get(each.id, ())}
            for one in each.steps:
                if one.posted is None or one.posted.start >= FROZEN or each.id not in result.schedule.jobs:
                    continue
                same = (at[one.id].place, at[one.id].start) == (one.posted.place, one.posted.start)
                assert (
                    same
                    or (each.id, one.id) in result.thawed
                    or one.pin_start not in (None, one.posted.start)
                )
                stayed += same
    assert stayed > 10


def test_the_search_names_what_a_fact_moves_within_the_frozen_days() -> None:
    told, posted = a_lift_each(frozen=2)
    after = kit_out(told, posted, "hoist", 1, slots=1)  # hers can go ahead; the other's must wait a day
    result = solve(after, work=10, workers=1)
    assert result.thawed == (("other", "lift"),)
    starts = {name: [time.start for time in times] for name, times in result.schedule.jobs.items()}
    assert starts == {"she": [0, 1], "other": [2, 3]}


def test_a_step_beyond_the_frozen_days_moves_when_that_is_cheaper() -> None:
    days = problem().days
    told = problem(
        job("she", step("one", 2, "a"), due=days[2], late_price=900),
        job("other", step("one", 2, "a")),
        places=(Place(id="a"),),
        change_price=CHANGE,
    )
    late = posted_into(told, plan(told, she=[("a", 2)], other=[("a", 0)]))  # she is two days late: 1,800
    starts = {name: at[0].start for name, at in solve(late, work=20, workers=1).schedule.jobs.items()}
    assert starts == {"she": 0, "other": 2}
    kept = solve(replace(late, frozen=1), work=20, workers=1)  # the other's first day is frozen
    assert {name: at[0].start for name, at in kept.schedule.jobs.items()} == {"she": 2, "other": 0}


# --- From the shell ---------------------------------------------------------------------------------------
@pytest.fixture
def file(tmp_path: Path) -> Path:
    told, posted = a_lift_each(frozen=2)
    path = tmp_path / "problem.json"
    path.write_text(json.dumps(to_json(kit_out(told, posted, "hoist", 1, slots=1))), "utf-8")
    return path


def test_repair_prints_what_moves_and_why(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["repair", str(file), "--work", "20"]) == 0
    found = from_json(Repair, json.loads(capsys.readouterr().out))
    assert (found.status, found.thawed) == ("repaired", (("other", "lift"),))
    lift, work = found.moved
    assert [
        (each.job, each.was and each.was.start, each.now and each.now.start) for each in (lift, work)
    ] == [
        ("other", 1, 2),
        ("other", 2, 3),
    ]
    assert lift.reason.says == "there is no free Hoist for lift on Tue 3 Nov"


def test_repair_with_lines_says_each_plan_as_it_comes(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["repair", str(file), "--work", "20", "--lines"]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [line["event"] for line in (lines[0], lines[1], lines[-1])] == ["phase", "plan", "done"]
    assert lines[-1]["result"]["total"] <= lines[1]["result"]["total"]


def test_repair_of_a_problem_with_nothing_posted_is_bad_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "problem.json"
    path.write_text(json.dumps(to_json(problem(job("she", step("one", 2, "a"))))), "utf-8")
    assert main(["repair", str(path)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and "no step says where it is posted" in said
    assert main(["helps", str(path)]) == 2
    assert "name a plan" in capsys.readouterr().err


def test_check_holds_a_plan_to_the_frozen_days_but_for_what_its_file_says_a_fact_has_thawed(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["repair", str(file), "--work", "20"]) == 0
    mended = json.loads(capsys.readouterr().out)
    plan_file = tmp_path / "plan.json"
    plan_file.write_text(json.dumps(mended))
    assert main(["check", str(file), str(plan_file)]) == 0
    plan_file.write_text(json.dumps(mended["schedule"]))
    capsys.readouterr()
    assert main(["check", str(file), str(plan_file)]) == 1
    (breach,) = map(json.loads, capsys.readouterr().out.splitlines())
    assert (breach["rule"], breach["job"]) == ("pins", "other")
    assert "slot 1, not 2" in breach["says"]


def test_what_a_file_says_is_thawed_must_be_pairs(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan_file = tmp_path / "plan.json"
    plan_file.write_text(json.dumps({"schedule": {"jobs": {}}, "thawed": [["she"]]}))
    assert main(["check", str(file), str(plan_file)]) == 2
    said = capsys.readouterr().err
    assert said.startswith(f"{plan_file}: thawed[0]") and said.count("\n") == 1


def test_why_says_of_a_frozen_step_that_it_stays(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    days = problem().days
    told = problem(
        job("she", step("one", 2, "a"), due=days[2], late_price=900), places=(Place(id="a"),), frozen=3
    )
    files = [tmp_path / name for name in ("problem.json", "plan.json")]
    posted = plan(told, she=[("a", 2)])
    files[0].write_text(json.dumps(to_json(posted_into(told, posted))))
    files[1].write_text(json.dumps(to_json(posted)))
    assert main(["why", *map(str, files)]) == 0
    (why,) = map(json.loads, capsys.readouterr().out.splitlines())
    assert why["rule"] == "pins"


def test_to_pack_again_within_the_frozen_days_is_no_help_whether_the_plan_is_named_or_posted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """She is late behind the other, and both would be cheaper the other way round."""
    days = problem().days
    told = problem(
        job("she", step("one", 2, "a"), due=days[1], late_price=900),
        job("other", step("one", 2, "a")),
        places=(Place(id="a"),),
    )
    posted = plan(told, she=[("a", 2)], other=[("a", 0)])
    names = [str(tmp_path / "problem.json"), str(tmp_path / "plan.json")]
    Path(names[1]).write_text(json.dumps(to_json(posted)), "utf-8")
    for frozen, again in ((0, True), (4, False)):
        yard = replace(posted_into(told, posted), frozen=frozen)
        Path(names[0]).write_text(json.dumps(to_json(yard)), "utf-8")
        for command in (names, names[:1]):
            assert main(["helps", *command, "--work", "5"]) == 0
            said = [json.loads(line)["kind"] for line in capsys.readouterr().out.splitlines()]
            assert ("again" in said) == again, (frozen, command)
