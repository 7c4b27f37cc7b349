"""What a Problem says of the posted plan: each step's day and bay, what is frozen, who is left out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from scheduling.actions.plans import post_plan
from scheduling.actions.reading import schedule_of
from scheduling.engine.postings import posted_of
from scheduling.engine.repair import repair
from scheduling.loading import load
from scheduling.models import Board, Plan, Unplaced
from tests.cast import BoatFactory, Cast
from tests.scheduling.test_moves import searched
from yard.actions.treatments import open_treatment
from yard.models import Scheme, Treatment, YardSettings


@pytest.fixture
def posted(winter: Cast, board: Callable[[], Board]) -> Plan:
    """The small winter's plan, posted: each boat in a bay of her own from 1 December."""
    plan = searched(winter)
    return post_plan(winter.manager, board=board(), version=board().version, plan=plan)


def test_each_step_says_the_day_the_option_and_the_bay_in_which_it_is_posted(
    winter: Cast, posted: Plan
) -> None:
    loaded = load(winter.season)
    (pool,) = {
        place for place, bays in loaded.refs.bays.items() if {bay.name for bay in bays} == {"H1", "H2", "H3"}
    }
    for job in loaded.problem.jobs:
        wash, fair = job.steps
        assert wash.posted is not None and fair.posted is not None
        assert (wash.posted.place, wash.posted.option) == (pool, 0)
        assert loaded.problem.days[wash.posted.start] == date(2026, 12, 1)  # two days of washing
        assert loaded.problem.days[fair.posted.start] == date(2026, 12, 3)
        assert wash.posted.unit == fair.posted.unit
        assert (wash.pin_start, fair.pin_start) == (None, None)
    assert {job.steps[0].posted.unit for job in loaded.problem.jobs} == {"H1", "H2", "H3"}


def test_the_posted_plan_of_the_problem_is_the_stored_one(winter: Cast, posted: Plan) -> None:
    loaded = load(winter.season)
    found = posted_of(loaded.problem)
    assert found is not None and found == schedule_of(loaded, posted)
    assert repair(loaded.problem).status == "kept"


def test_the_frozen_days_are_the_yard_s_setting(winter: Cast, posted: Plan) -> None:
    YardSettings.objects.filter(yard=winter.yard).update(frozen_days=7)
    assert load(winter.season).problem.frozen == 7


def test_a_boat_that_the_posted_plan_leaves_out_is_not_new(winter: Cast, posted: Plan) -> None:
    for name in ("Dodder", "Elder"):
        open_treatment(
            winter.manager,
            boat=BoatFactory(yard=winter.yard, owner=winter.owner, name=name),
            scheme=Scheme.objects.get(yard=winter.yard, name="short"),
            season=winter.season,
            arrives_on=winter.manager.today,
        )
    out = Treatment.objects.get(boat__name="Dodder")
    Unplaced.objects.create(plan=posted, treatment=out, rule="cost", says="It is cheaper to leave her out.")
    left_out = {job.label: job.left_out for job in load(winter.season).problem.jobs}
    assert left_out == dict.fromkeys(("Alder", "Bramble", "Clover", "Elder"), False) | {"Dodder": True}


def test_a_stage_whose_posted_day_is_over_is_posted_nowhere(winter: Cast, posted: Plan) -> None:
    loaded = load(winter.season, today=date(2026, 12, 1) + timedelta(days=1))
    assert [[step.posted is not None for step in job.steps] for job in loaded.problem.jobs] == [
        [False, True]
    ] * 3
