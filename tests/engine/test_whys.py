"""Why a stage does not start a slot earlier: told rule by rule, and true: without that reason it could."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from itertools import groupby, pairwise

import pytest

from scheduling.engine.chains import chain, chains
from scheduling.engine.improve import first_plan
from scheduling.engine.insertion import compile_problem
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.problem import Air, Hand, Option, Place, Posted, Problem, Resource, Table
from scheduling.engine.schedule import Schedule
from scheduling.engine.slots import late_days
from scheduling.engine.whys import Why, whys
from scheduling.engine.witness import check, cost
from tests.engine.lifting import lift, wished
from tests.engine.random_yards import random_problem
from tests.engine.tiny import begun, job, lengths, plan, problem, step


def sound(told: Problem, schedule: Schedule) -> bool:
    return not [b for b in check(told, schedule) if not b.fact]


def test_without_its_reasons_and_with_no_fewer_a_stage_can_start_a_slot_earlier() -> None:
    tried: Counter[str] = Counter()
    for seed in (*range(40), 102, 169):
        told = random_problem(seed, jobs=5, slots=24, places=4)
        schedule = first_plan(compile_problem(told)).schedule()
        total = sum(cost(told, schedule).values())
        found = whys(told, schedule)
        steps = sum(1 for times in schedule.jobs.values() for t in times if t.option >= 0)
        assert len({(why.job, why.step) for why in found}) == steps
        for _, group in groupby(found, key=lambda why: (why.job, why.step)):
            reasons = sorted(group, key=lambda each: each.kind == "job")  # a boat gone frees all she has
            time = next(t for t in schedule.jobs[reasons[0].job] if t.step == reasons[0].step)
            start = time.start - 1
            if start < 0:
                assert [why.kind for why in reasons] == ["today"]
                continue
            _, earlier = wished(told, schedule, reasons[0], start)
            if reasons[0].rule == "cost":
                assert sound(told, earlier), (seed, reasons)
                more = sum(cost(told, earlier).values()) - total
                assert more == reasons[0].amount
                assert (more > 0) == (reasons[0].kind != "free")
                tried[reasons[0].kind] += 1
                continue
            assert not sound(told, earlier), (seed, reasons)
            if reasons[0].kind == "begun":
                continue
            yard, plan, gone = told, earlier, set()
            for i, why in enumerate(reasons):
                gone.add(why.who if why.kind == "job" else "")
                if why.kind == "job" and why.who not in {job.id for job in yard.jobs}:
                    continue
                done = lift(yard, plan, why, start)
                if done is None:
                    break
                yard, plan = done
                others = [w for w in reasons[i + 1 :] if w.kind != "job" or w.who not in gone]
                assert sound(yard, plan) == (not others), (seed, reasons, i, check(yard, plan))
            else:
                tried.update(why.kind for why in reasons)
    assert len(tried) > 8  # kinds of reasons


# --- rule by rule -------------------------------------------------------------------------------------------
def why(told: Problem, who: str, which: str, **starts: object) -> tuple[str, str, str, str, str, str]:
    """(rule, kind, who, target kind, target, words) of the one reason of a step of a plan that is sound."""
    schedule = plan(told, **starts)
    assert sound(told, schedule), check(told, schedule)
    (found,) = [w for w in whys(told, schedule) if (w.job, w.step) == (who, which)]
    assert found.start == next(t.start for t in schedule.jobs[who] if t.step == which) - 1 or found.kind in (
        "today",
        "window",
    )
    return found.rule, found.kind, found.who, found.target_kind, found.target, found.says


def test_the_stage_before_and_its_least_wait() -> None:
    told = problem(job("she", step("one", 2, "a", kind="fair"), step("two", 1, "a", kind="coat")))
    assert why(told, "she", "two", she=[("a", 0), ("a", 2)]) == (
        "chain",
        "step",
        "one",
        "step",
        "one",
        "coat follows fair, which lasts until Tue 3 Nov",
    )
    told = problem(job("she", step("one", 2, "a", kind="fair"), step("two", 1, "a", kind="coat", wait_min=1)))
    assert why(told, "she", "two", she=[("a", 0), ("a", 3)])[5] == (
        "coat waits 1 working day after fair, which lasts until Tue 3 Nov"
    )


def test_the_stage_after_that_must_follow_soon() -> None:
    told = problem(
        job("she", step("one", 2, "a", kind="coat"), step("two", 1, "b", kind="tie coat", wait_max=1)),
        job("other", step("one", 4, "b")),
    )
    assert why(told, "she", "one", she=[("a", 1), ("b", 4)], other=[("b", 0)])[:3] == ("chain", "step", "two")


def test_what_has_begun() -> None:
    told = problem(job("she", step("one", 2, "a", kind="wash"), begun=begun("a", 3, kind="dry")))
    found = why(told, "she", "one", she=[("a", 3)])
    assert found == ("chain", "begun", "was", "step", "was", "wash follows dry, which lasts until Wed 4 Nov")


def test_another_boat_in_her_place() -> None:
    told = problem(
        job("she", step("one", 2, "a")),
        job("other", step("one", 4, "a"), label="Turnstone"),
        places=(Place(id="a", label="H6"),),
    )
    assert why(told, "she", "one", she=[("a", 4)], other=[("a", 0)]) == (
        "stand",
        "job",
        "other",
        "job",
        "other",
        "waits for H6 until Fri 6 Nov: Turnstone stands there",
    )


def test_a_full_pool_is_said_with_who_leaves_first() -> None:
    told = problem(
        job("she", step("one", 2, "pad")),
        job("one", step("one", 4, "pad"), label="Pintail"),
        job("two", step("one", 5, "pad"), label="Knot"),
        places=(Place(id="pad", label="P1–P2", room=2, units=("P1", "P2")),),
    )
    assert why(told, "she", "one", she=[("pad", 4)], one=[("pad", 0)], two=[("pad", 0)])[5] == (
        "P1 and P2 are both taken until Fri 6 Nov, when Pintail leaves"
    )


def test_no_place_to_change_round() -> None:
    told = problem(
        job("she", step("one", 2, "a"), step("two", 1, "b")),
        job("other", step("one", 2, "b"), step("two", 1, "a")),
        job("third", step("one", 3, "c")),
        places=(Place(id="a"), Place(id="b"), Place(id="c")),
    )
    # From slot 3 on c is free to change round; before, each waits for the other.
    schedule = plan(told, she=[("a", 0), ("b", 3)], other=[("b", 0), ("a", 3)], third=[("c", 0)])
    assert sound(told, schedule)
    found = [w for w in whys(told, schedule) if (w.job, w.step) == ("she", "two")]
    assert [(w.rule, w.who) for w in found] == [("stand", "other")]


@pytest.mark.parametrize(
    ("size", "limits", "says"),
    [
        ({"length": 14}, {"length": 12}, "length 14; it takes length 12"),
        (
            {"beam_mm": 4300, "length_mm": 14_000},
            {"length_mm": 12_000, "beam_mm": 4000},
            "beam 4.30 m and length 14.00 m; it takes beam 4.00 m and length 12.00 m",
        ),
    ],
)
def test_her_size_where_another_place_would_be_free(
    size: dict[str, int], limits: dict[str, int], says: str
) -> None:
    # Her own place is full and she would have to pay for it with a hand she has not: b lacks only size.
    told = problem(
        job("she", step("one", 2, "a", "b", skills={"peel": 60}), size=size),
        job("other", step("one", 4, "a", skills={"peel": 60})),
        places=(Place(id="a", label="H1"), Place(id="b", label="H2", air="x", limits=limits)),
        airs=(Air(id="x"),),
        hands=(Hand(id="h", skills=("peel",), minutes=(120,) * 10),),
    )
    beside = job("beside", step("one", 4, "c", makes=("dust",)))
    option = replace(told.jobs[0].steps[0].options[0], spoiled_by=("dust",))
    she = replace(told.jobs[0], steps=(replace(told.jobs[0].steps[0], options=(option,)),))
    told = replace(
        told,
        jobs=(she, told.jobs[1], beside),
        airs=(Air(id="x"), Air(id="y")),
        places=(
            replace(told.places[0], air="y"),
            told.places[1],
            Place(id="c", air="y"),
        ),
    )
    assert why(told, "she", "one", she=[("a", 4)], other=[("a", 0)], beside=[("c", 0)]) == (
        "fit",
        "size",
        "b",
        "place",
        "b",
        f"she is too big for H2: {says}",
    )


def test_a_boat_in_front_of_her_in_the_lane() -> None:
    told = problem(
        job("she", step("one", 2, "deep")),
        job("other", step("one", 4, "front", movable=False), label="Avocet"),
        places=(Place(id="front", label="C4", lane="l", depth=1), Place(id="deep", lane="l", depth=2)),
    )
    assert why(told, "she", "one", she=[("deep", 5)], other=[("front", 1)]) == (
        "lane",
        "job",
        "other",
        "job",
        "other",
        "Avocet in C4 is in the way on Fri 6 Nov",
    )


def test_dust_beside_her_work() -> None:
    told = problem(
        job("she", step("one", 1, "a", kind="the coat", spoiled_by=("dust",))),
        job("other", step("one", 2, "b", makes=("dust",)), label="Knot"),
        airs=(Air(id="hall", settle=1),),
        places=(Place(id="a", air="hall"), Place(id="b", air="hall")),
    )
    assert why(told, "she", "one", she=[("a", 3)], other=[("b", 0)]) == (
        "air",
        "job",
        "other",
        "job",
        "other",
        "the coat waits for the dust of Knot until Thu 5 Nov",
    )


def test_hours_kits_and_trips() -> None:
    told = problem(
        job("she", step("one", 1, "a", kind="coats", skills={"coat": 300})),
        job("other", step("one", 3, "b", skills={"coat": 300}), label="Knot"),
        hands=(Hand(id="h", skills=("coat",), minutes=(480,) * 10),),
    )
    assert why(told, "she", "one", she=[("a", 3)], other=[("b", 0)]) == (
        "hands",
        "hand",
        "coat",
        "skills",
        "coat",
        "too few hours of coat for coats before Thu 5 Nov, Knot needs them",
    )
    told = problem(
        job("she", step("one", 1, "a", kind="drying", holds={"tent": 1})),
        resources=(Resource(id="tent", label="tent L", capacity=(0, 0, *(1,) * 8)),),
    )
    assert why(told, "she", "one", she=[("a", 2)])[1:] == (
        "resource",
        "tent",
        "resource",
        "tent",
        "tent L: none free for drying before Wed 4 Nov",
    )
    told = problem(
        job("she", step("one", 1, "a"), step("two", 1, "b")),
        resources=(Resource(id="t", capacity=(0, 0, 0, *(1,) * 7)),),
        mover="t",
    )
    assert why(told, "she", "two", she=[("a", 0), ("b", 3)])[1:] == (
        "resource",
        "t",
        "resource",
        "t",
        "no trip is left on Wed 4 Nov",
    )


def test_tides_holds_arrivals_pins_and_signed_dry() -> None:
    tide = Table(id="tide", finish=(1, *(None,) * 5, 7, 8, 9, 10))
    launch = replace(step("one", 1, "a", kind="relaunch"), options=(Option(places=("a",), table="tide"),))
    told = problem(job("she", launch), tables=(*lengths(10), tide))
    assert why(told, "she", "one", she=[("a", 6)]) == (
        "windows",
        "window",
        "tide",
        "table",
        "tide",
        "relaunch has no window between Mon 2 Nov and Tue 10 Nov",
    )
    told = problem(
        job("she", step("one", 1, "a", kind="survey", earliest=3, earliest_why="the surveyor comes"))
    )
    assert why(told, "she", "one", she=[("a", 3)]) == (
        "windows",
        "hold",
        "one",
        "step",
        "one",
        "survey can't start before Thu 5 Nov: the surveyor comes",
    )
    told = problem(job("she", step("one", 1, "a"), earliest=2))
    assert why(told, "she", "one", she=[("a", 2)])[1:5] == ("arrival", "she", "job", "she")
    told = problem(job("she", step("one", 1, "a")), places=(Place(id="a", label="H1", closed=((0, 2),)),))
    assert why(told, "she", "one", she=[("a", 2)])[1:] == (
        "closed",
        "a",
        "place",
        "a",
        "H1 is closed until Wed 4 Nov",
    )
    told = problem(job("she", step("one", 1, "a", kind="peel", pin_start=4)))
    assert why(told, "she", "one", she=[("a", 4)]) == (
        "pins",
        "pin",
        "one",
        "step",
        "one",
        "peel is pinned to Fri 6 Nov",
    )
    told = problem(job("she", step("one", 1, "a", kind="coat", coats=True, gate=5), signed_dry=True))
    assert why(told, "she", "one", she=[("a", 5)]) == (
        "gate",
        "gate",
        "one",
        "step",
        "one",
        "coat waits for signed dry, forecast for Mon 9 Nov",
    )


def test_it_would_cost_more_or_as_much_and_the_price_of_a_change() -> None:
    dear = (Place(id="a", label="H1", price=50), Place(id="b", price=10), Place(id="c"))
    launch = step("launch", 1, "c", earliest=6)
    told = problem(job("she", step("one", 1, "b"), step("two", 1, "a"), launch), places=dear)
    starts = [("b", 0), ("a", 4), ("c", 6)]
    found = next(w for w in whys(told, plan(told, she=starts)) if w.step == "two")
    # A day in H1 (50) for a day in b (10).
    assert (found.rule, found.kind, found.amount) == ("cost", "money", 40)
    assert found.says == "two could start on Thu 5 Nov, but it would cost more"
    told = problem(job("she", step("one", 1, "a")))
    assert why(told, "she", "one", she=[("a", 4)])[:2] == ("cost", "free")
    posted = Posted(place="a", start=4)
    told = problem(job("she", step("one", 1, "a", posted=posted)), change_price=5)
    assert why(told, "she", "one", she=[("a", 4)])[:2] == ("cost", "posted")
    assert why(told, "she", "one", she=[("a", 0)])[:2] == ("windows", "today")


def test_two_reasons_that_bind_together_are_both_told() -> None:
    told = problem(
        job("she", step("one", 2, "a", earliest=4, earliest_why="the surveyor")),
        job("other", step("one", 4, "a")),
        places=(Place(id="a"),),
    )
    found = [w for w in whys(told, plan(told, she=[("a", 4)], other=[("a", 0)])) if w.job == "she"]
    assert [w.kind for w in found] == ["hold", "job"]


def test_reasons_can_go_to_another_process_and_come_back() -> None:
    told = random_problem(2, jobs=5, slots=24, places=3)
    for each in whys(told, first_plan(compile_problem(told)).schedule()):
        assert from_json(Why, to_json(each)) == each


# --- chains -------------------------------------------------------------------------------------------------
def test_the_chain_goes_from_her_relaunch_over_the_boat_in_her_place_to_whom_that_boat_waits_for() -> None:
    told = problem(
        job("she", step("dry", 2, "a"), step("launch", 1, "b", kind="relaunch"), due=date(2026, 11, 4)),
        job("other", step("dry", 2, "a"), step("fair", 1, "c", earliest=4, earliest_why="her owner")),
        places=(Place(id="a"), Place(id="b"), Place(id="c")),
    )
    schedule = plan(told, she=[("a", 4), ("b", 6)], other=[("a", 0), ("c", 4)])
    assert sound(told, schedule)
    found = chain(told, schedule, "she")
    assert [(w.job, w.step, w.kind) for w in found] == [
        ("she", "launch", "step"),
        ("she", "dry", "job"),
        ("other", "fair", "hold"),
    ]


def test_a_missed_tide_is_followed_to_what_made_her_miss_it() -> None:
    tide = Table(id="tide", finish=(None, None, 3, *(None,) * 5, 9, None))
    launch = replace(step("launch", 1, "b"), options=(Option(places=("b",), table="tide"),))
    told = problem(
        job("she", step("dry", 3, "a"), launch, due=date(2026, 11, 4)), tables=(*lengths(10), tide)
    )
    found = chain(told, plan(told, she=[("a", 0), ("b", 8)]), "she")
    assert [(w.step, w.kind) for w in found] == [("launch", "window"), ("launch", "step"), ("dry", "today")]


def test_a_boat_left_out_is_told_who_stands_where_she_would_go() -> None:
    told = problem(
        job("she", step("one", 2, "a")),
        job("other", step("one", 5, "a"), step("two", 5, "a", earliest=5, earliest_why="parts")),
        places=(Place(id="a", label="H1"),),
    )
    found = chain(told, plan(told, other=[("a", 0), ("a", 5)]), "she")
    assert [(w.job, w.kind) for w in found][:1] == [("she", "job")]
    assert "H1 is not free again this season" in found[0].says


def test_every_late_or_left_out_boat_has_a_chain_whose_links_hang_together(test_size: str) -> None:
    seen, problems = 0, 10 if test_size == "small" else 30
    for seed in range(problems):
        told = random_problem(seed, jobs=6, slots=26, places=3)
        schedule = first_plan(compile_problem(told)).schedule()
        together = chains(told, schedule, [each.id for each in told.jobs])
        for each in told.jobs:
            times = schedule.jobs.get(each.id)
            if times is not None and not late_days(told.days, each.due, times[-1].end):
                continue
            found = chain(told, schedule, each.id)
            assert found == together[each.id]
            if times is not None and times[-1].option < 0:
                assert not found
                continue
            assert found and found[0].job == each.id
            for one, two in pairwise(found):
                goes_on = (two.job == one.job) or (two.job, two.step) == (one.by, one.by_step)
                assert goes_on, (seed, one, two)
            seen += 1
    assert seen > problems * 2 / 3


def test_chains_end_at_the_stop() -> None:
    told = problem(job("she", step("one", 2, "a")), job("other", step("one", 2, "b")))
    schedule = plan(told, she=[("a", 2)], other=[("b", 2)])
    asked = iter([False, True])
    assert list(chains(told, schedule, ["other", "she"], lambda: next(asked))) == ["other"]
