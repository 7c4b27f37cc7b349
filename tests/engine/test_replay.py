"""Drawn winters replayed fast, and by a slow plain replay that was written from the rules alone."""

from __future__ import annotations

from datetime import date

import pytest

from scheduling.engine.handovers import pieces_of
from scheduling.engine.problem import Place, Resource
from scheduling.engine.risk import winters
from tests.engine import replay as slow
from tests.engine.agree import differences, example, planned
from tests.engine.random_yards import random_problem
from tests.engine.spread_yards import with_some_spreads, with_spreads
from tests.engine.tiny import job, plan, problem, step


@pytest.mark.parametrize("boats", [3, 12])
def test_the_slow_replay_of_the_same_winters_is_the_same_to_the_day(boats: int) -> None:
    told = with_spreads(example(boats))
    assert differences(told, planned(told), 20) == []


def test_the_slow_replay_agrees_on_random_yards(test_size: str) -> None:
    for seed in range(30 if test_size == "small" else 300):
        told = with_some_spreads(random_problem(seed, jobs=6, slots=40, places=3), seed)
        assert differences(told, planned(told), 8) == [], seed


def test_who_waits_for_boats_that_change_round_goes_on_waiting() -> None:
    """On Thursday two boats change bays, and a third gets the tent that one of them gives back then."""
    told = problem(
        job("third", step("dry", 2, "pad", holds={"tent": 1})),
        job("one", step("dry", 3, "a", holds={"tent": 1}), step("fair", 2, "b")),
        job("two", step("dry", 3, "b"), step("fair", 2, "a")),
        places=tuple(Place(id=name) for name in ("a", "b", "pad")),
        resources=(Resource(id="tent", capacity=(1,) * 10),),
        swaps="free",
    )
    schedule = plan(told, third=[("pad", 3)], one=[("a", 0), ("b", 3)], two=[("b", 0), ("a", 3)])
    pieces = {(piece.job.id, piece.time.step): piece for piece in pieces_of(told, schedule)}
    gives_back = 2 * pieces["one", "fair"].index  # the moment she starts elsewhere
    assert pieces["third", "dry"].waits == [(gives_back, 0)]
    assert differences(told, schedule, 8) == []


@pytest.mark.slow
def test_winters_that_the_slow_replay_draws_itself_give_the_same_dates_within_a_day() -> None:
    told = with_spreads(example(12))
    schedule = planned(told)
    fast = winters(told, schedule, runs=8000)
    plain = slow.replay(told, schedule, runs=300, seed=2)
    assert plain.keys() == fast.boats.keys()
    for name, boat in fast.boats.items():
        ends = [day or date.max for day in plain[name]]
        for pct, day in ((60, boat.likely), (90, boat.safe)):
            at = told.days.index(day) if day else len(told.days)
            by_after = sum(end <= told.days[min(at + 1, len(told.days) - 1)] for end in ends)
            by_before = sum(end < told.days[max(at - 1, 0)] for end in ends)
            assert by_before / 3 - 7 < pct < by_after / 3 + 7, (name, pct)  # 300 winters: 2.5 standard errors
