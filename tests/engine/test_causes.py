"""Why a date moved: back along what a boat waits for, to the step at which time was lost or won."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from scheduling.engine.causes import Cause, cause_of
from scheduling.engine.problem import Hand, Problem
from scheduling.engine.risk import winters
from scheduling.engine.schedule import Schedule
from tests.engine.test_risk import SLOTS, _dries, yard
from tests.engine.tiny import job, plan, step


def caused(was: Problem, now: Problem, schedule: Schedule, name: str, *, later: bool = True) -> Cause:
    """Why a job's day moved between two forecasts of one plan."""
    before = {
        job: {one.step: one.when for one in own}
        for job, own in winters(was, schedule, runs=100).moments.items()
    }
    return cause_of(before, winters(now, schedule, runs=100).moments, name, later=later)


def told(cause: Cause) -> tuple[str, str, str]:
    return cause.kind, cause.job, cause.step


def waits_for_wet(amount: int = 4, **values: Any) -> Problem:
    """One boat dries in bay a, the next one works there after her."""
    return yard(_dries("wet", "a"), job("next", step("works", 2, "a"), **values), amount=amount)


AFTER_HER = plan(waits_for_wet(), wet=[("a", 0)], next=[("a", 4)])


def test_the_cause_is_the_drying_of_the_boat_whose_bay_she_waits_for() -> None:
    cause = caused(waits_for_wet(4), waits_for_wet(6), AFTER_HER, "next")
    assert told(cause) == ("length", "wet", "dries")
    assert 3.5 <= cause.days <= 5.5  # in the later half 1.5 to 2 times 2 slots more, over a weekend at most
    cause = caused(waits_for_wet(6), waits_for_wet(4), AFTER_HER, "next", later=False)
    assert told(cause) == ("length", "wet", "dries")
    assert -5.5 <= cause.days <= -3.5


def test_a_boat_that_comes_later_is_a_cause_of_her_own() -> None:
    cause = caused(waits_for_wet(), waits_for_wet(earliest=14), AFTER_HER, "next")
    assert told(cause) == ("arrival", "next", "works")


def test_an_answer_that_comes_later_is_the_cause() -> None:
    def held(*cases: int) -> Problem:
        return yard(job("she", replace(step("peel", 1, "a"), until=cases), step("works", 1, "a")))

    schedule = plan(held(), she=[("a", 0), ("a", 1)])
    assert told(caused(held(0, 4), held(6, 9), schedule, "she")) == ("held", "she", "peel")


def test_people_who_are_away_are_the_cause() -> None:
    def with_hand(away: int) -> Problem:
        minutes = (*(0,) * away, *(480,) * (SLOTS - away))
        hand = Hand(id="one", skills=("wash",), minutes=minutes)
        return yard(job("she", step("wash", 1, "a", skills={"wash": 480})), hands=(hand,))

    schedule = plan(with_hand(0), she=[("a", 0)])
    assert told(caused(with_hand(0), with_hand(5), schedule, "she")) == ("hours", "she", "wash")


def test_where_nothing_keeps_a_step_it_was_to_have_begun() -> None:
    problem = waits_for_wet()
    moments = winters(problem, AFTER_HER, runs=100).moments
    before = {
        job: {one.step: replace(one.when, start=one.when.start - 2, end=one.when.end - 2) for one in own}
        for job, own in moments.items()
    }
    assert told(cause_of(before, moments, "next", later=True)) == ("begin", "wet", "dries")


def test_a_step_that_was_not_known_before_is_the_cause() -> None:
    before = {
        "next": {one.step: one.when for one in winters(waits_for_wet(), AFTER_HER, runs=100).moments["next"]}
    }
    moments = winters(waits_for_wet(6), AFTER_HER, runs=100).moments
    assert told(cause_of(before, moments, "next", later=True)) == ("new", "wet", "dries")
