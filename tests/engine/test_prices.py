"""Prices: whatever they are, what the jobs cost one by one at them is no more than any plan costs."""

from functools import partial

import numpy as np
import pytest

from scheduling.engine.airprices import air_lines
from scheduling.engine.climb import Climb
from scheduling.engine.compiled import compile_problem
from scheduling.engine.finish import cp_solve
from scheduling.engine.improve import first_plan, start_search
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.laneprices import pairs_of
from scheduling.engine.prices import bound_of
from scheduling.engine.problem import Air, Place, Resource
from scheduling.engine.schedule import AirPrices, BoundPrices, HandPrices, LanePrices
from scheduling.engine.solve import solve
from tests.engine.brute import cheapest
from tests.engine.columns import best_by_columns
from tests.engine.random_yards import lane_problem, random_problem, swapping_problem, tiny_problem
from tests.engine.test_improve import example
from tests.engine.tiny import begun, job, problem, step

QUICK = (0, 3, 5)  # seeds whose plans are tried in no time
SEEDS = {"small": 8, "full": 40, "soak": 400}


@pytest.mark.parametrize("seed", QUICK)
def test_no_prices_prove_more_than_the_cheapest_of_all_plans_costs(seed):
    told = tiny_problem(seed)
    hold_below(told, cheapest(told)[0], seed)


@pytest.mark.slow
@pytest.mark.parametrize(
    "yard",
    [
        tiny_problem,
        swapping_problem,
        lane_problem,
        partial(lane_problem, facts_break=True),
        partial(random_problem, jobs=5, slots=24, places=2),
        partial(random_problem, jobs=5, slots=24, places=2, facts_break=True),
    ],
)
def test_no_prices_prove_more_than_the_proven_optimum(yard, test_size):
    proven = 0
    for seed in range(SEEDS[test_size]):
        answer = cp_solve(yard(seed), hint=None, free=None, seconds=20, workers=1, seed=1)
        if answer.status == "proven":
            hold_below(yard(seed), answer.total, seed)
            proven += 1
    assert proven >= SEEDS[test_size] // 2


def hold_below(told, least, seed):
    climb = Climb(told, first_plan(compile_problem(told)).total)
    climb.go_on(15)
    assert climb.bound <= least
    assert bound_of(told, climb.told()) == climb.bound
    for prices in poor_prices(told, seed):
        assert bound_of(told, prices) <= least


@pytest.mark.parametrize("seed", QUICK)
def test_the_climb_comes_as_high_as_a_linear_programme_of_all_ways(seed):
    told = tiny_problem(seed)
    above = first_plan(compile_problem(told)).total
    climb = Climb(told, above)
    climb.go_on(40)
    value, bound = best_by_columns(told, above)
    assert bound < value + 1  # whole units
    assert climb.bound == pytest.approx(value, rel=0.01, abs=2)


def poor_prices(told, seed):
    """Prices that nobody looked for: small and large, in whole units and in parts, so large that none are."""
    rng, width = np.random.default_rng(seed), len(told.days)
    for most, parts in ((5, 1), (5, 1000), (5000, 1), (5000, 7), (10**18, 1)):
        yield BoundPrices(
            parts=parts,
            places={p.id: tuple(int(x) for x in rng.integers(0, most, width)) for p in told.places},
            resources={
                r.id: tuple(int(x) for x in rng.integers(0, most, width) * (rng.random(width) < 0.2))
                for r in told.resources
            },
            hands=tuple(
                HandPrices(skills=tuple(union), prices=tuple(int(x) for x in rng.integers(0, most, width)))
                for union in compile_problem(told).unions
            ),
            lanes=tuple(
                LanePrices(
                    front=told.places[front].id,
                    behind=told.places[behind].id,
                    comes=tuple(int(x) for x in rng.integers(0, most, width)),
                    goes=tuple(int(x) for x in rng.integers(0, most, width) * (rng.random(width) < 0.5)),
                )
                for front, behind in pairs_of(compile_problem(told))
            ),
            airs=tuple(
                AirPrices(
                    job=job_id,
                    air=air,
                    kind=kind,
                    makes=lines.get("tender", (0,) * width),
                    spoiled=lines.get("dirt", (0,) * width),
                )
                for (job_id, air, kind), lines in poor_lines(told, rng, most).items()
            ),
        )


def poor_lines(told, rng, most):
    """{(job, air, kind): {"dirt" or "tender": prices}} for each line of the air."""
    compiled, found = compile_problem(told), {}
    for job_id, row in air_lines(compiled).lines:
        what, where = compiled.rows[row]
        line = tuple(int(x) for x in rng.integers(0, most, len(told.days)))
        found.setdefault((job_id, *where), {})[what] = line
    return found


def test_prices_see_that_two_boats_want_one_bay_where_each_alone_does_not():
    """Either is three days late at 100 behind the other, over a week-end five."""
    days = problem().days
    told = problem(
        job("she", step("one", 3, "a"), due=days[2]),
        job("other", step("one", 3, "a"), due=days[2]),
        places=(Place(id="a"),),
    )
    assert start_search(compile_problem(told)).bound == 0
    climb = Climb(told, 500)
    climb.go_on(60)
    assert climb.bound == 500
    assert climb.prices().place.sum() > 0


@pytest.mark.parametrize(("movable", "least", "proven"), [(False, 500, 300), (True, 140, 140)])
def test_prices_see_that_nobody_comes_in_behind_her_who_stands_in_front(movable, least, proven):
    """One wants the front from Monday to Friday, the other the place behind on Tuesday and Wednesday; a day
    late costs 100. Whoever gives way is five days late, and to pull out who is in front for the other to come
    and to go costs 70 each. (By halves it would be three days.)
    """
    days = problem().days
    yard = problem(
        job("front", step("one", 5, "a", movable=movable), due=days[4]),
        job("behind", step("one", 2, "b"), earliest=1, due=days[2]),
        places=(Place(id="a", lane="door", depth=1), Place(id="b", lane="door", depth=2)),
        shunt_price=70,
    )
    assert start_search(compile_problem(yard)).bound == 0
    assert cheapest(yard)[0] == least
    climb = Climb(yard, 1000)
    climb.go_on(60)
    assert climb.bound == proven
    assert bound_of(yard, climb.told()) == proven


@pytest.mark.parametrize(("sanders", "proven"), [(1, 500), (2, 500), (4, 500)])
def test_prices_see_that_nobody_coats_in_the_dust_of_others(sanders, proven):
    """Each wants her own bay of one air from Monday to Wednesday; a day late costs 100.

    Who coats is five days late after those who sand, over a week-end, or they are after her.
    """
    due = problem().days[2]
    yard = problem(
        job("coats", step("one", 3, "p0", spoiled_by=("dust",)), due=due),
        *(
            job(f"sands {n}", step("one", 3, f"p{n}", makes=("dust",)), due=due)
            for n in range(1, sanders + 1)
        ),
        places=tuple(Place(id=f"p{n}", air="shed") for n in range(sanders + 1)),
        airs=(Air(id="shed"),),
    )
    assert start_search(compile_problem(yard)).bound == 0
    climb = Climb(yard, 1000)
    climb.go_on(60)
    assert climb.bound == proven
    assert bound_of(yard, climb.told()) == proven


def test_prices_ask_what_work_takes_whatever_else_asks_the_same_of_a_slot():
    """To hold one of two and use the other asks both of a slot, and so does using both."""
    yard = problem(
        job(
            "she",
            step("one", 1, "a", uses={"kit": 1}, holds={"kit": 1}),
            step("two", 1, "a", uses={"kit": 2}),
        ),
        places=(Place(id="a"),),
        resources=(Resource(id="kit", capacity=(2,) * len(problem().days)),),
    )
    prices = BoundPrices(resources={"kit": (10,) * len(yard.days)})
    spent = 10 * 2 * len(yard.days)
    assert bound_of(yard, prices) == max(40 - spent, 0)


@pytest.mark.parametrize(("movable", "least"), [(False, 800), (True, 70)])
def test_what_has_begun_in_front_of_a_lane_is_in_the_way_of_those_behind(movable, least):
    """Behind is who is due on the first Tuesday, after two days elsewhere. In front work goes on to slot 6.

    She comes out on the second Tuesday and is done on Wednesday: 8 days late at 100. To pull the other out
    for her on the first Monday costs 70.
    """
    yard = problem(
        job("front", begun=begun("a", 6, movable=movable)),
        job("behind", step("one", 2, "c"), begun=begun("b", 0), due=problem().days[1]),
        places=(Place(id="a", lane="door", depth=1), Place(id="b", lane="door", depth=2), Place(id="c")),
        shunt_price=70,
    )
    answer = cp_solve(yard, hint=None, free=None, seconds=20, workers=1, seed=1)
    assert bound_of(yard, BoundPrices()) == answer.total == least
    assert start_search(compile_problem(yard)).bound == 0


def test_a_yard_too_large_to_prove_is_told_the_bound_by_prices_that_anybody_can_work_out_again():
    yard = random_problem(1, jobs=14, slots=30, places=3)
    result = solve(yard, work=700, workers=1)
    assert result.bound_by == "prices"
    assert result.alone == start_search(compile_problem(yard)).bound < result.bound <= result.total
    kept = from_json(BoundPrices, to_json(result.prices))
    assert bound_of(yard, kept) == result.bound
    assert bound_of(yard, BoundPrices()) == result.alone


def test_prices_that_are_none_of_this_yard_are_refused():
    yard = problem(job("she", step("one", 3, "a")), places=(Place(id="a"),))
    row = (0,) * len(yard.days)
    for wrong in (
        BoundPrices(parts=0),
        BoundPrices(places={"b": row}),
        BoundPrices(places={"a": row[1:]}),
        BoundPrices(places={"a": (-1, *row[1:])}),
        BoundPrices(hands=(HandPrices(skills=("spray",), prices=row),)),
        BoundPrices(lanes=(LanePrices(front="a", behind="a", comes=row, goes=row),)),
        BoundPrices(airs=(AirPrices(job="she", air="shed", kind="dust", makes=(1, *row[1:]), spoiled=row),)),
    ):
        with pytest.raises(ValueError):
            bound_of(yard, wrong)


def test_prices_found_before_are_where_the_next_search_for_them_starts():
    yard = example(12)
    climb = Climb(yard, first_plan(compile_problem(yard)).total)
    climb.go_on(5)
    bound, tries = climb.bound, climb.tries
    assert bound_of(yard, climb.told()) == bound
    climb.go_on(5)
    assert climb.bound > bound
    assert climb.tries == 2 * tries
