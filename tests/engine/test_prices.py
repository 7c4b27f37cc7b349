"""Prices: whatever they are, what the jobs cost one by one at them is no more than any plan costs."""

import numpy as np
import pytest

from scheduling.engine.compiled import compile_problem
from scheduling.engine.finish import cp_solve
from scheduling.engine.improve import first_plan, start_search
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.prices import Dual, bound_of, priced_bound, told
from scheduling.engine.problem import Place
from scheduling.engine.schedule import BoundPrices, HandPrices
from scheduling.engine.solve import solve
from tests.engine.random_yards import random_problem
from tests.engine.test_improve import example
from tests.engine.tiny import job, problem, step


@pytest.mark.parametrize("facts_break", [False, True])
def test_no_bound_by_prices_is_above_the_proven_optimum(facts_break, test_size):
    proven = 0
    for seed in range(8 if test_size == "small" else 40):
        told = random_problem(seed, jobs=5, slots=24, places=2, facts_break=facts_break)
        compiled = compile_problem(told)
        answer = cp_solve(told, hint=None, free=None, seconds=20, workers=1, seed=1)
        if answer.status != "proven":
            continue
        proven += 1
        bound, _, _ = priced_bound(compiled, first_plan(compiled).total, 25)
        assert bound <= answer.total, seed
        dual, rng = Dual(compiled), np.random.default_rng(seed)
        for scale in (5, 50, 5000):
            place = rng.random(dual.room.shape) * scale
            row = rng.random(dual.spare.shape) * (rng.random(dual.spare.shape) < 0.1) * scale
            assert dual.value(place, row)[0] <= answer.total, seed
    assert proven


def test_prices_see_that_two_boats_want_one_bay_where_each_alone_does_not():
    """Either is three days late at 100 behind the other, over a week-end five."""
    days = problem().days
    told = problem(
        job("she", step("one", 3, "a"), due=days[2]),
        job("other", step("one", 3, "a"), due=days[2]),
        places=(Place(id="a"),),
    )
    compiled = compile_problem(told)
    assert start_search(compiled).bound == 0
    bound, prices, _ = priced_bound(compiled, 500, 60)
    assert 0 < bound <= 500
    assert prices.place.sum() > 0


def test_a_yard_too_large_to_prove_is_told_the_bound_by_prices():
    told = example(40)
    result = solve(told, work=2400, workers=1)
    assert result.bound_by == "prices"
    assert start_search(compile_problem(told)).bound < result.bound <= result.total


def test_anybody_can_work_out_the_bound_again_from_the_prices_kept_with_the_plan():
    yard = example(40)
    result = solve(yard, work=2400, workers=1)
    assert result.prices is not None
    kept = from_json(BoundPrices, to_json(result.prices))
    assert bound_of(yard, kept) == result.bound
    assert bound_of(yard, BoundPrices()) == start_search(compile_problem(yard)).bound


def test_prices_that_are_none_of_this_yard_are_refused():
    yard = problem(job("she", step("one", 3, "a")), places=(Place(id="a"),))
    row = (0,) * len(yard.days)
    for wrong in (
        BoundPrices(places={"b": row}),
        BoundPrices(places={"a": row[1:]}),
        BoundPrices(places={"a": (-1, *row[1:])}),
        BoundPrices(hands=(HandPrices(skills=("spray",), prices=row),)),
    ):
        with pytest.raises(ValueError):
            bound_of(yard, wrong)


def test_prices_found_before_are_where_the_next_search_for_them_starts():
    compiled = compile_problem(example(12))
    above = first_plan(compiled).total
    bound, prices, _ = priced_bound(compiled, above, 30)
    assert priced_bound(compiled, above, 1, start=prices)[0] == bound
    assert bound_of(compiled.problem, told(compiled, prices)) == bound
