"""Repair: what still fits stays, no boat moves without need, every move has a reason that is true."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace

import pytest

from scheduling.engine import witness
from scheduling.engine.colour import colour
from scheduling.engine.compiled import compile_problem
from scheduling.engine.improve import Budget, first_plan, improve, start_search
from scheduling.engine.insertion import insert
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.moved import Moved, Spot
from scheduling.engine.postings import Broken, posted_in, ways
from scheduling.engine.problem import Place, Problem, Resource
from scheduling.engine.repair import Repair, freeze, repair
from scheduling.engine.schedule import Schedule, StepTime
from scheduling.engine.solve import solve
from scheduling.engine.state import State
from tests.engine.events import boat_later, dries_longer, kit_out, seven
from tests.engine.random_yards import random_problem
from tests.engine.test_improve import example
from tests.engine.test_refit import clean
from tests.engine.tiny import begun, broken, job, plan, problem, step

FROZEN = 12  # [slots] in every second yard
CHANGE = 12  # [minor units] for each changed placement in the made-up yards


def posted_yard(seed: int, jobs: int = 7) -> tuple[Problem, Schedule]:
    """A random yard with a plan posted, its bays named."""
    told = replace(clean(random_problem(seed, jobs=jobs, slots=40, places=4)), change_price=CHANGE)
    posted = colour(told, first_plan(compile_problem(told)).schedule())
    return posted_in(told, posted), posted


def repaired(seeds: range, work: int = 30) -> Iterator[tuple[str, Problem, Schedule, Repair]]:
    """The seven events on random yards, repaired; frozen days in every second yard."""
    for seed in seeds:
        told, posted = posted_yard(seed)
        for name, after in seven(told, posted, seed).items():
            found = repair(after, posted, work=work, seed=seed, frozen=FROZEN * (seed % 2))
            frozen, _ = freeze(after, FROZEN * (seed % 2), found.thawed)
            yield f"{seed}: {name}", frozen, posted, found


@pytest.fixture(scope="module")
def seven_repairs(test_size: str) -> list[tuple[str, Problem, Schedule, Repair]]:
    return list(repaired(range(6 if test_size == "small" else 60)))


def total(told: Problem, schedule: Schedule) -> int:
    return sum(witness.cost(told, schedule).values())


def went_back(told: Problem, posted: Schedule, found: Repair, name: str) -> Schedule | None:
    """The repaired plan with one boat at her posted placements, all others as they are; bays unnamed."""
    way = ways(compile_problem(told), posted)[name]
    if way is None or isinstance(way, Broken):
        return None
    jobs = {**found.schedule.jobs, name: way}
    bare = {
        each: tuple(replace(t, unit=None if t.start >= 0 else t.unit) for t in times)
        for each, times in jobs.items()
    }
    out = {each: why for each, why in found.schedule.unplaced.items() if each != name}
    return Schedule(jobs=bare, unplaced=out)


def spot(at: Spot) -> tuple[str, int]:
    return at.place, at.start


def moved_jobs(found: Repair) -> dict[str, Moved]:
    """One move of each boat that changed a place or a start (not only her bay of a pool)."""
    return {
        each.job: each
        for each in found.moved
        if each.was and (not each.now or spot(each.was) != spot(each.now))
    }


# --- Nothing without need ---------------------------------------------------------------------------------
def test_without_an_event_the_posted_plan_comes_back_as_it_is_without_a_search() -> None:
    for seed in range(30):
        told, posted = posted_yard(seed)
        found = repair(told, posted, work=1000)
        assert (found.status, found.schedule, found.moved, found.tries) == ("kept", posted, (), 0), seed
        assert found.total == total(told, posted)


def test_an_event_that_touches_nobody_moves_nobody() -> None:
    told = problem(job("she", step("one", 2, "a")), job("other", step("one", 2, "b")), change_price=CHANGE)
    posted = plan(told, she=[("a", 0)], other=[("b", 0)])
    after = replace(told, places=(Place(id="a", closed=((5, 10),)), Place(id="b")))
    assert repair(after, posted).schedule == posted


def test_every_repair_keeps_all_rules_and_costs_what_the_witness_counts(
    seven_repairs: list[tuple[str, Problem, Schedule, Repair]],
) -> None:
    for name, told, _, found in seven_repairs:
        assert broken(told, found.schedule) == [], name
        assert found.total == total(told, found.schedule), name
        if not int(name.split(":")[0]) % 2:  # else what could be frozen again may have cost something
            assert found.total <= found.first_total, name
    assert sum(1 for *_, found in seven_repairs if found.status == "repaired") > len(seven_repairs) / 4


def test_no_boat_that_moved_can_go_back_alone_without_a_breach_or_a_higher_total(
    seven_repairs: list[tuple[str, Problem, Schedule, Repair]],
) -> None:
    tried = 0
    for name, told, posted, found in seven_repairs:
        for boat in moved_jobs(found):
            back = went_back(told, posted, found, boat)
            if back is not None and not broken(told, back):
                assert total(told, back) > found.total, (name, boat)
            tried += 1
    assert tried > 20


def test_all_that_moved_is_listed_and_nothing_else(
    seven_repairs: list[tuple[str, Problem, Schedule, Repair]],
) -> None:
    for name, told, posted, found in seven_repairs:
        listed = {(each.job, each.step) for each in found.moved}
        for each in told.jobs:
            was = {t.step: t for t in posted.jobs.get(each.id, ())}
            now = {t.step: t for t in found.schedule.jobs.get(each.id, ())}
            for one in each.steps:
                changed = where(was.get(one.id)) != where(now.get(one.id))
                assert changed == ((each.id, one.id) in listed), (name, each.id, one.id)


def where(time: StepTime | None) -> tuple[str, int, str | None] | None:
    return (time.place, time.start, time.unit) if time else None


# --- Reasons ----------------------------------------------------------------------------------------------
def test_the_reason_of_each_move_is_true(
    seven_repairs: list[tuple[str, Problem, Schedule, Repair]],
) -> None:
    causes = dict.fromkeys(("yard", "boat", "cost", "bay"), 0)
    for name, told, posted, found in seven_repairs:
        for boat, move in moved_jobs(found).items():
            reason, back = move.reason, went_back(told, posted, found, boat)
            causes[reason.cause] += 1
            assert reason.says, (name, boat)
            if back is None:
                assert reason.cause == "yard", (name, boat)
            elif reason.cause == "cost":
                assert broken(told, back) == [], (name, boat)
                assert total(told, back) - found.total == reason.saves > 0, (name, boat)
            else:
                assert reason.rule in {rule for rule, _, _ in broken(told, back)}, (name, boat)
                assert reason.cause == "yard" or reason.others or reason.rule == "stand", (name, boat)
    assert causes["yard"] > 5
    assert causes["boat"] > 1


def test_the_boat_that_takes_her_place_is_named() -> None:
    told = problem(
        job("first", step("dry", 2, "a", kind="dry", dries=True), label="Avocet"),
        job("next", step("one", 2, "a"), label="Bittern"),
        places=(Place(id="a"),),
        change_price=CHANGE,
        slots=20,
    )
    posted = plan(told, first=[("a", 0)], next=[("a", 2)])
    found = repair(dries_longer(told, posted, "first", days=3), posted, work=20)
    (moved,) = found.moved
    assert (moved.job, moved.was and moved.was.start, moved.now and moved.now.start) == ("next", 2, 5)
    assert (moved.reason.cause, moved.reason.rule, moved.reason.others) == ("boat", "stand", ("first",))
    assert moved.reason.says == "a is full on Wed 4 Nov: Avocet"


def test_the_yard_itself_is_the_reason_where_no_boat_has_a_part_in_it() -> None:
    told = problem(
        job("she", step("lift", 1, "a", uses={"hoist": 1})),
        resources=(Resource(id="hoist", label="Hoist", capacity=(1,) * 10),),
        change_price=CHANGE,
    )
    posted = plan(told, she=[("a", 2)])
    (moved,) = repair(kit_out(told, posted, "hoist", 2), posted, work=10).moved
    assert (moved.reason.cause, moved.reason.rule, moved.reason.what) == ("yard", "hands", "hoist")


# --- Money against disturbance ----------------------------------------------------------------------------
def test_what_moves_pays_for_its_changes() -> None:
    """Without a price of changes a plan for as many insertions is no dearer, and moves no less."""
    more = 0
    for seed in range(3):
        told, posted = posted_yard(seed)
        for after in seven(told, posted, seed).values():
            priced, free = (
                repair(after, posted, work=60),
                repair(replace(after, change_price=0), posted, work=60),
            )
            more += len(free.moved) - len(priced.moved)
    assert more > 0


def test_a_boat_with_no_way_makes_room_for_herself() -> None:
    """The other could be anywhere; she can be in one place only."""
    told = problem(
        job("she", step("one", 2, "a"), late_price=0, drop_price=90_000),
        job("other", step("one", 5, "a", "b")),
        places=(Place(id="a", closed=((7, 10),)), Place(id="b", price=1)),
        change_price=CHANGE,
    )
    posted = plan(told, she=[("a", 0)], other=[("a", 2)])
    found = repair(boat_later(told, posted, "she", days=3), posted, work=20)
    assert found.schedule.unplaced == {}
    assert {name: times[0].place for name, times in found.schedule.jobs.items()} == {"she": "a", "other": "b"}


def test_boats_make_room_for_each_other_in_a_row() -> None:
    """Only the first two days can be had: she needs a, the other b then, and the third c."""
    shut = ((2, 10),)
    told = problem(
        job("other", step("one", 2, "a", "b")),
        job("third", step("one", 2, "b", "c")),
        job("she", step("one", 2, "a")),
        places=(Place(id="a", closed=shut), Place(id="b", closed=shut), Place(id="c", closed=shut)),
        change_price=CHANGE,
    )
    posted = plan(told, other=[("a", 0)], third=[("b", 0)])
    told, posted = posted_in(told, posted), replace(posted, unplaced={})
    found = repair(told, posted, work=200)
    assert {name: times[0].place for name, times in found.schedule.jobs.items()} == {
        "other": "b",
        "third": "c",
        "she": "a",
    }


def test_a_new_boat_is_put_in_without_moving_more_than_pays() -> None:
    told, posted = posted_yard(3)
    new = replace(clean(random_problem(4, jobs=7, slots=40, places=4)).jobs[6], id="new", begun=None)
    told = replace(told, jobs=(*told.jobs, new))
    found = repair(told, posted, work=20)
    assert broken(told, found.schedule) == []
    assert {each.reason.cause for each in found.moved if each.job == "new"} == {"new"}


def test_who_has_not_moved_keeps_her_bay() -> None:
    kept = 0
    for seed in range(8):
        told, posted = posted_yard(seed)
        for name, after in seven(told, posted, seed).items():
            if name == "a bay lost":
                continue
            found = repair(after, posted, work=10)
            for each in found.moved:
                assert each.reason.cause != "bay" or each.reason.others, (seed, name, each)
            kept += sum(1 for times in found.schedule.jobs.values() for time in times if time.unit)
    assert kept > 50


# --- Frozen days ------------------------------------------------------------------------------------------
def test_frozen_placements_move_only_where_a_fact_forces_them(
    seven_repairs: list[tuple[str, Problem, Schedule, Repair]],
) -> None:
    forced = 0
    for name, _, _, found in seven_repairs:
        for boat, which in found.thawed:
            (move,) = [each for each in found.moved if (each.job, each.step) == (boat, which)]
            assert move.reason.cause in ("yard", "boat"), name
            assert move.reason.says
            forced += 1
        frozen = FROZEN * (int(name.split(":")[0]) % 2)
        for each in found.moved:
            if each.was and each.was.start < frozen and each.now and each.reason.cause != "bay":
                assert (each.job, each.step) in found.thawed, (name, each)
    assert forced


def test_no_thawed_placement_could_stay_with_the_others_where_they_are(
    seven_repairs: list[tuple[str, Problem, Schedule, Repair]],
) -> None:
    tried = 0
    for name, told, _, found in seven_repairs:
        for boat, which in found.thawed:
            state = State.of(compile_problem(pinned_again(told, boat, which)), found.schedule)
            state.take(boat) if boat in state.times else state.take_back(boat)
            assert insert(state, boat) is None, (name, boat, which)
            tried += 1
    assert tried


def pinned_again(told: Problem, boat: str, which: str) -> Problem:
    """The Problem with one step pinned where it was posted."""
    jobs = []
    for each in told.jobs:
        steps = tuple(
            replace(s, pin_place=s.posted.place, pin_start=s.posted.start)
            if (each.id, s.id) == (boat, which) and s.posted
            else s
            for s in each.steps
        )
        jobs.append(replace(each, steps=steps))
    return replace(told, jobs=tuple(jobs))


def test_a_frozen_placement_stays_though_moving_it_would_be_cheaper() -> None:
    told = problem(
        job("soon", step("one", 3, "a"), late_price=1),
        job("urgent", step("one", 3, "a"), due=problem().days[3], late_price=900),
        places=(Place(id="a"),),
        change_price=1,
    )
    posted = plan(told, soon=[("a", 2)], urgent=[("a", 5)])
    later = replace(told.jobs[1], earliest=6)
    after = replace(told, jobs=(told.jobs[0], later))
    assert repair(after, posted, work=40, frozen=3).schedule.jobs["soon"][0].start == 2


def test_a_fact_thaws_no_more_than_it_must() -> None:
    """Her first two stages are frozen; only the second can't be where it was."""
    told = problem(
        job("she", step("one", 1, "a"), step("two", 1, "a", uses={"hoist": 1})),
        resources=(Resource(id="hoist", capacity=(1,) * 10),),
        change_price=CHANGE,
    )
    posted = plan(told, she=[("a", 0), ("a", 1)])
    found = repair(kit_out(told, posted, "hoist", 1, slots=1), posted, work=20, frozen=3)
    assert found.thawed == (("she", "two"),)
    assert [time.start for time in found.schedule.jobs["she"]] == [0, 2]


def test_a_boat_that_stays_out_thaws_nothing() -> None:
    """Her place is shut for good: no frozen day that gives way would bring her in."""
    told = problem(
        job("she", step("one", 2, "a"), step("two", 2, "a")),
        job("other", step("one", 2, "b")),
        change_price=CHANGE,
    )
    posted = plan(told, she=[("a", 0), ("a", 2)], other=[("b", 0)])
    after = replace(told, places=(Place(id="a", closed=((0, 10),)), Place(id="b")))
    found = repair(after, posted, work=20, frozen=5)
    assert (list(found.schedule.unplaced), found.thawed) == (["she"], ())
    assert {(each.job, each.reason.says) for each in found.moved} == {("she", "a is closed on Mon 2 Nov")}


def test_a_search_may_still_bring_in_a_boat_that_a_repair_leaves_out_in_the_frozen_days() -> None:
    """Her place is shut; in a there is room for her once other goes to b, and third to c for other's sake."""
    shut = ((3, 10),)
    told = problem(
        job("she", step("one", 2, "a", "d")),
        job("other", step("one", 2, "a", "b")),
        job("third", step("one", 2, "b", "c")),
        places=tuple(Place(id=name, closed=shut if name != "d" else ((0, 10),)) for name in "abcd"),
        change_price=CHANGE,
        frozen=1,
    )
    posted = plan(told, she=[("d", 0)], other=[("a", 1)], third=[("b", 1)])
    after = posted_in(told, posted)
    assert list(repair(after, work=0).schedule.unplaced) == ["she"]
    result = solve(after, work=50, workers=1)
    assert (result.thawed, list(result.schedule.unplaced)) == ((("she", "one"),), [])


def test_of_two_frozen_boats_that_no_longer_fit_together_one_stays() -> None:
    kit = Resource(id="kit", capacity=(2,) * 10)
    told = problem(
        job("she", step("one", 2, "a", uses={"kit": 1})),
        job("other", step("one", 2, "b", uses={"kit": 1})),
        resources=(kit,),
        change_price=CHANGE,
    )
    posted = plan(told, she=[("a", 0)], other=[("b", 0)])
    found = repair(replace(told, resources=(replace(kit, capacity=(1,) * 10),)), posted, work=20, frozen=3)
    assert len(found.thawed) == 1
    (moved,) = found.moved
    assert (moved.reason.cause, len(moved.reason.others)) == ("boat", 1)


# --- As a run ---------------------------------------------------------------------------------------------
def larger_yard() -> tuple[Problem, Schedule]:
    told = replace(example(12), change_price=10_000)
    compiled = compile_problem(told)
    better = improve(
        start_search(compiled), first_plan(compiled), random.Random(1), Budget(0.0, 150, lambda: False)
    )
    posted = colour(told, better.schedule())
    return posted_in(told, posted), posted


def test_the_example_of_12_boats_is_repaired_after_each_event() -> None:
    told, posted = larger_yard()
    for name, after in seven(told, posted).items():
        found = repair(after, posted, work=15)
        assert broken(after, found.schedule) == [], name
        for boat in moved_jobs(found):
            back = went_back(after, posted, found, boat)
            assert back is None or broken(after, back) or total(after, back) > found.total, (name, boat)


def test_one_seed_and_so_much_work_give_one_repair() -> None:
    told, posted = posted_yard(5, jobs=10)
    after = seven(told, posted)["a bay lost"]
    one, two = (repair(after, posted, work=60, seed=3) for _ in range(2))
    assert (one.schedule, one.moved, one.tries) == (two.schedule, two.moved, two.tries)


def test_each_better_plan_is_told_and_asked_to_stop_it_gives_what_it_has() -> None:
    told, posted = larger_yard()
    after = seven(told, posted)["a bay lost"]
    heard: list[Repair] = []
    asked = iter([False] * 4 + [True] * 100)
    found = repair(after, posted, seconds=3600.0, on_better=heard.append, should_stop=lambda: next(asked))
    assert found.status == "stopped"
    totals = [each.total for each in heard] + [found.total]
    assert totals == sorted(totals, reverse=True)
    assert broken(after, found.schedule) == []


def test_a_repair_crosses_a_process_as_json() -> None:
    told, posted = posted_yard(5)
    found = repair(seven(told, posted, 5)["a bay lost"], posted, work=10)
    assert from_json(Repair, to_json(found)) == found


def test_where_facts_leave_no_other_way_everybody_is_put_in_anew() -> None:
    """She stands where she began and can't go on; the boat posted there has to go elsewhere."""
    told = problem(
        job("stuck", step("two", 1, "b"), begun=begun("a", 1)),
        job("she", step("one", 2, "a", "b")),
        change_price=CHANGE,
    )
    posted = plan(told, stuck=[("b", 1)], she=[("a", 2)])
    never = replace(told.jobs[0].steps[0], earliest=9, earliest_why="parts are missing")
    after = replace(told, jobs=(replace(told.jobs[0], steps=(never,)), told.jobs[1]))
    found = repair(after, posted, work=20)
    assert broken(after, found.schedule) == []
    assert {time.place for time in found.schedule.jobs["she"]} == {"b"}
