"""A quote is what inserting the boat by hand gives; moving others is never dearer, else nothing changes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from scheduling.engine import witness
from scheduling.engine.colour import colour
from scheduling.engine.finish import cp_solve
from scheduling.engine.improve import first_plan
from scheduling.engine.insertion import compile_problem, insert
from scheduling.engine.jsonio import BadInput, from_json, to_json
from scheduling.engine.postings import posted_in
from scheduling.engine.problem import Job, Place, Problem, Resource, Table
from scheduling.engine.quote import Quotes, Standing, quote, quotes
from scheduling.engine.schedule import Schedule, Unplaced
from scheduling.engine.state import State
from tests.engine.random_yards import random_problem
from tests.engine.test_improve import example
from tests.engine.test_refit import clean
from tests.engine.tiny import broken, job, plan, problem, step

CHANGE = 12  # [minor units]


def yards(
    seeds: range, jobs: int = 6, slots: int = 40, more: int = 1
) -> Iterator[tuple[Problem, Schedule, list[Job]]]:
    """Random yards with a plan posted, and boats that have not begun and are not in it."""
    for seed in seeds:
        told = replace(
            clean(random_problem(seed, jobs=jobs + more, slots=slots, places=3)), change_price=CHANGE
        )
        inside = [each for each in told.jobs if each.begun is not None]
        others = [each for each in told.jobs if each.begun is None]
        enquiries = others[:more]
        told = replace(told, jobs=(*inside, *others[more:]))
        posted = colour(told, first_plan(compile_problem(told)).schedule())
        yield posted_in(told, posted), posted, enquiries


def with_all(told: Problem, enquiries: list[Job]) -> Problem:
    return replace(told, jobs=(*told.jobs, *enquiries))


def total(told: Problem, schedule: Schedule) -> int:
    return sum(witness.cost(told, schedule).values())


def rise(told: Problem, posted: Schedule, enquiry: Job, schedule: Schedule) -> int:
    """What the witness says the plan with her costs more than the posted one."""
    return total(with_all(told, [enquiry]), schedule) - total(told, posted)


# --- Without moving others --------------------------------------------------------------------------------
def test_a_quote_is_what_inserting_her_by_hand_gives() -> None:
    fits = 0
    for told, posted, (enquiry,) in yards(range(40)):
        found = quote(Standing.of(told, posted), enquiry)
        out = replace(posted, unplaced={**posted.unplaced, enquiry.id: Unplaced(rule="cost", says="")})
        by_hand = insert(State.of(compile_problem(with_all(told, [enquiry])), out), enquiry.id)
        assert found.fits == (by_hand is not None), told.name
        if by_hand is not None:
            assert (found.cost_rise, found.bound) == (by_hand.cost, by_hand.cost), told.name
            assert [(t.place, t.start) for t in found.times] == [(t.place, t.start) for t in by_hand.times]
            assert found.end == told.days[by_hand.times[-1].end - 1]
            fits += 1
    assert fits > 20


def test_every_quote_keeps_all_rules_costs_what_it_says_and_changes_nothing_posted() -> None:
    for told, posted, (enquiry,) in yards(range(40)):
        found = quotes(Standing.of(told, posted), [enquiry])
        assert broken(with_all(told, [enquiry]), found.schedule) == [], told.name
        for name, times in posted.jobs.items():
            assert found.schedule.jobs[name] == times, told.name
        assert found.quotes[0].moved == ()
        if found.quotes[0].fits:
            assert rise(told, posted, enquiry, found.schedule) == found.cost_rise, told.name
        else:
            assert found.quotes[0].out is not None
            assert found.quotes[0].out.says


def test_a_quote_is_never_cheaper_than_the_proven_optimum_with_the_others_where_they_are(
    test_size: str,
) -> None:
    compared = 0
    for told, posted, (enquiry,) in yards(range(6 if test_size == "small" else 60), jobs=3, slots=25):
        found = quotes(Standing.of(told, posted), [enquiry])
        whole = with_all(told, [enquiry])
        if not found.quotes[0].fits:
            continue
        answer = cp_solve(whole, hint=found.schedule, free={enquiry.id}, seconds=60, workers=1, seed=1)
        assert answer.status == "proven"
        least = min(answer.total or 0, total(told, posted) + enquiry.drop_price)
        assert min(found.cost_rise, enquiry.drop_price) == least - total(told, posted), told.name
        compared += 1
    assert compared


def test_any_number_of_quotes_leave_the_standing_plan_as_it_is() -> None:
    told, posted, enquiries = next(yards(range(7, 8), more=3))
    standing = Standing.of(told, posted)
    left, times = standing.state.left.copy(), dict(standing.state.times)
    first = [quote(standing, each) for each in enquiries]
    quotes(standing, enquiries, moving=True, work=20)
    again = [quote(standing, each) for each in enquiries]
    assert [(q.cost_rise, q.times) for q in first] == [(q.cost_rise, q.times) for q in again]
    assert (standing.state.left == left).all()
    assert standing.state.times == times


def test_a_boat_that_brings_skills_dirt_and_tables_of_her_own_is_quoted_too() -> None:
    """The arrays of the yard know none of them, so they are made anew."""
    told = problem(job("other", step("one", 2, "a")))
    standing = Standing.of(told, plan(told, other=[("a", 0)]))
    long = Table(id="long", finish=(7, 8, 9, *(None,) * 7))
    dry = step("dry", 1, "b")
    she = job("she", replace(dry, options=(replace(dry.options[0], table="long"),)))
    assert quote(standing, she, tables=[long]).end == told.days[6]
    no_hand = job("third", step("coat", 1, "b", skills={"spray": 60}))
    found = quote(standing, no_hand)
    assert (found.fits, found.out and found.out.rule) == (False, "hands")


def test_a_boat_that_is_not_of_this_yard_is_refused_by_name() -> None:
    told = problem(job("other", step("one", 2, "a")))
    standing = Standing.of(told, plan(told, other=[("a", 0)]))
    with pytest.raises(BadInput, match="there is no place 'moon'"):
        quote(standing, job("she", step("one", 1, "moon")))
    with pytest.raises(BadInput, match="'other' is there twice"):
        quote(standing, job("other", step("one", 1, "a")))


def test_what_keeps_a_boat_out_is_said() -> None:
    told = problem(job("other", step("one", 2, "a")), places=(Place(id="a", limits={"length": 9}),))
    standing = Standing.of(told, plan(told, other=[("a", 0)]))
    found = quote(standing, job("she", step("one", 1, "a"), size={"length": 12}))
    assert (found.fits, found.out and found.out.rule) == (False, "fit")


def test_a_bay_is_named_only_where_one_is_free_all_the_while() -> None:
    """Two bays: one is free first, the other after; without somebody changing bays she has none."""
    pool = Place(id="p", room=2, units=("1", "2"))
    told = problem(job("one", step("w", 3, "p")), job("two", step("w", 3, "p")), places=(pool,))
    both = plan(told, one=[("p", 0)], two=[("p", 3)])
    one, two = both.jobs["one"][0], both.jobs["two"][0]
    she = job("she", step("w", 5, "p", earliest=0), due=told.days[4])
    apart = Schedule(jobs={"one": (replace(one, unit="1"),), "two": (replace(two, unit="2"),)})
    beside = Schedule(jobs={"one": (replace(one, unit="1"),), "two": (replace(two, unit="1"),)})
    assert quote(Standing.of(told, apart), she).times[0].unit is None
    assert quote(Standing.of(told, beside), she).times[0].unit == "2"


# --- Several together -------------------------------------------------------------------------------------
def test_boats_quoted_together_are_not_in_each_others_way() -> None:
    for told, posted, enquiries in yards(range(20), more=3):
        standing = Standing.of(told, posted)
        found = quotes(standing, enquiries)
        whole = with_all(told, enquiries)
        assert broken(whole, found.schedule) == [], told.name
        out = sum(each.drop_price for each in enquiries if each.id not in found.schedule.jobs)
        assert total(whole, found.schedule) - out - total(told, posted) == found.cost_rise, told.name
        fit = [each for each in found.quotes if each.fits]
        assert sum(each.cost_rise for each in fit) == found.cost_rise


# --- Moving others ----------------------------------------------------------------------------------------
def test_moving_others_is_never_dearer_and_keeps_all_rules() -> None:
    cheaper = 0
    for told, posted, (enquiry,) in yards(range(20)):
        standing = Standing.of(told, posted)
        still, moved = quote(standing, enquiry), quotes(standing, [enquiry], moving=True, work=40)
        (found,) = moved.quotes
        assert broken(with_all(told, [enquiry]), moved.schedule) == [], told.name
        assert found.fits or not still.fits, told.name
        if found.fits:
            assert rise(told, posted, enquiry, moved.schedule) == found.cost_rise, told.name
            assert set(moved.schedule.jobs) >= set(posted.jobs), told.name
        if still.fits:
            assert found.cost_rise <= still.cost_rise, told.name
            cheaper += found.cost_rise < still.cost_rise
            assert found.bound <= still.cost_rise, told.name
    assert cheaper


def test_what_moves_for_her_is_named_with_its_reason() -> None:
    """She must have place a at once; the other is almost as well off in b."""
    told = problem(
        job("other", step("one", 5, "a", "b"), label="Avocet", due=problem().days[4]),
        places=(Place(id="a"), Place(id="b", price=1)),
        change_price=CHANGE,
    )
    posted = plan(told, other=[("a", 0)])
    she = job("she", step("one", 2, "a"), due=told.days[1], label="Bittern")
    found = quote(Standing.of(told, posted), she, moving=True, work=20)
    (moved,) = found.moved
    assert (moved.job, moved.now and moved.now.place) == ("other", "b")
    assert (moved.reason.cause, moved.reason.others) == ("boat", ("she",))
    assert (found.late_days, found.cost_rise) == (0, CHANGE + 7)  # five working days are a week there


def test_nobody_is_left_out_for_her_sake() -> None:
    told = problem(
        job("other", step("one", 5, "a"), drop_price=10, late_price=0), places=(Place(id="a"),), slots=10
    )
    posted = plan(told, other=[("a", 5)])
    she = job("she", step("one", 5, "a", earliest=4), late_price=0, drop_price=90_000)
    found = quotes(Standing.of(told, posted), [she], moving=True, work=20)
    assert "other" in found.schedule.jobs


def test_frozen_placements_do_not_move_for_an_enquiry() -> None:
    told = problem(
        job("other", step("one", 5, "a", "b")),
        places=(Place(id="a"), Place(id="b", price=1)),
        change_price=0,
    )
    posted = plan(told, other=[("a", 0)])
    she = job("she", step("one", 2, "a"), due=told.days[1])
    found = quote(Standing.of(told, posted, frozen=3), she, moving=True, work=20)
    assert found.moved == ()
    assert found.times[0].start == 5


def test_the_frozen_days_of_the_problem_hold_for_an_enquiry_unless_others_are_named() -> None:
    told = problem(
        job("other", step("one", 5, "a", "b")),
        places=(Place(id="a"), Place(id="b", price=1)),
        change_price=0,
        frozen=3,
    )
    posted = plan(told, other=[("a", 0)])
    she = job("she", step("one", 2, "a"), due=told.days[1])
    kept = quote(Standing.of(told, posted), she, moving=True, work=20)
    assert (kept.moved, kept.times[0].start) == ((), 5)
    free = quote(Standing.of(told, posted, frozen=0), she, moving=True, work=20)
    assert ([moved.job for moved in free.moved], free.times[0].start) == (["other"], 0)


def test_the_first_answer_is_told_before_others_are_searched() -> None:
    told, posted, enquiries = next(yards(range(3, 4)))
    heard: list[Quotes] = []
    found = quotes(Standing.of(told, posted), enquiries, moving=True, work=30, on_better=heard.append)
    assert heard[0].cost_rise >= found.cost_rise


def test_a_quote_crosses_a_process_as_json() -> None:
    told, posted, enquiries = next(yards(range(3, 4)))
    found = quotes(Standing.of(told, posted), enquiries, moving=True, work=30)
    assert from_json(Quotes, to_json(found)) == found


def test_one_more_boat_in_the_example_of_12_boats() -> None:
    told = replace(example(12), change_price=10_000)
    posted = colour(told, first_plan(compile_problem(told)).schedule())
    enquiry = replace(next(each for each in told.jobs if each.begun is None), id="new")
    found = quotes(Standing.of(told, posted), [enquiry])
    assert found.quotes[0].fits
    assert broken(with_all(told, [enquiry]), found.schedule) == []


def test_hours_of_a_kit_are_counted_with_what_is_posted() -> None:
    kit = Resource(id="kit", capacity=(1,) * 10)
    told = problem(job("other", step("one", 2, "a", uses={"kit": 1})), resources=(kit,))
    standing = Standing.of(told, plan(told, other=[("a", 0)]))
    found = quote(standing, job("she", step("one", 1, "b", uses={"kit": 1})))
    assert found.times[0].start == 2
