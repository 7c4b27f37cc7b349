"""What the database itself refuses of plans, placements, pins and packs."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, models, transaction
from django.utils import timezone

from scheduling import models as records
from scheduling.models import Board, Pack, Pin, Placement, Plan, Reasons, Unplaced
from tests.cast import TODAY, Cast, SeasonFactory
from tests.yard.test_models import refuses, set_, treatment_of
from yard.models.base import WrittenOnceError

NOW = timezone.now()


@pytest.fixture
def new(cast: Cast) -> dict[str, Any]:
    """What every plan of the season is made of."""
    return {"yard": cast.yard, "season": cast.season, "made_by": "hand", "made_at": NOW}


@pytest.fixture
def plan(new: dict[str, Any]) -> Plan:
    return Plan.objects.create(**new, number=1)


def a_pack(cast: Cast, **fields: Any) -> Pack:
    return Pack.objects.create(
        yard=cast.yard, **{"season": cast.season, "asked_at": NOW, "seconds": 10, **fields}
    )


def place(plan: Plan, cast: Cast, **fields: Any) -> Placement:
    treatment = treatment_of(cast) if not plan.season.treatments.exists() else plan.season.treatments.get()
    values = {"first_day": TODAY, "last_day": TODAY, "leaves_on": TODAY + timedelta(days=1), **fields}
    return Placement.objects.create(plan=plan, stage=treatment.stages.all()[0], **{"bay": cast.bay, **values})


# --- Plans -----------------------------------------------------------------------------------------------
def test_one_plan_is_posted_and_not_replaced(new: dict[str, Any], plan: Plan) -> None:
    set_(plan, posted_at=NOW)
    second = Plan.objects.create(**new, number=2, parent=plan)
    refuses(set_, second, posted_at=NOW)
    set_(plan, replaced_at=NOW)
    set_(second, posted_at=NOW)


def test_only_a_posted_plan_is_replaced(plan: Plan) -> None:
    refuses(set_, plan, replaced_at=NOW)


def test_a_plans_number_is_its_own_in_the_season(cast: Cast, new: dict[str, Any], plan: Plan) -> None:
    refuses(Plan.objects.create, **new, number=1)
    Plan.objects.create(**{**new, "season": SeasonFactory(yard=cast.yard)}, number=1)


def test_a_plan_never_changes_but_for_being_posted_and_replaced(cast: Cast, plan: Plan) -> None:
    plan.cost = {"late days": 0}
    with pytest.raises(WrittenOnceError):
        plan.save()
    with pytest.raises(WrittenOnceError):
        Plan.objects.update(late_days=0)
    plan.posted_at, plan.posted_by = NOW, cast.manager.user
    plan.save(update_fields=["posted_at", "posted_by"])
    Plan.objects.filter(pk=plan.pk).update(replaced_at=NOW)
    assert Plan.objects.get().cost == {}


def test_a_plan_that_is_thrown_away_takes_its_placements_along(cast: Cast, plan: Plan) -> None:
    place(plan, cast)
    treatment = treatment_of(cast, state="afloat")
    Unplaced.objects.create(plan=plan, treatment=treatment, rule="fit", says="Too long.")
    Reasons.objects.create(plan=plan, treatment=treatment)
    plan.delete()
    assert not any(part.objects.exists() for part in (Placement, Unplaced, Reasons))


def test_a_plan_another_came_from_or_the_board_points_at_stays(new: dict[str, Any], plan: Plan) -> None:
    child = Plan.objects.create(**new, number=2, parent=plan)
    Board.objects.create(season=plan.season, draft=child)
    for kept in (plan, child):
        with pytest.raises(models.ProtectedError):
            kept.delete()


# --- Placements ------------------------------------------------------------------------------------------
def test_she_leaves_the_bay_after_her_last_day_of_work_there(cast: Cast, plan: Plan) -> None:
    refuses(place, plan, cast, leaves_on=TODAY)
    refuses(place, plan, cast, last_day=date(2026, 11, 23))
    assert place(plan, cast).leaves_on == date(2026, 11, 25)


def test_each_part_of_a_stage_is_placed_once_a_plan(cast: Cast, plan: Plan) -> None:
    place(plan, cast, part=1, label="dry 1 of 2", regime="weather")
    place(plan, cast, part=2, label="dry 2 of 2", regime="tent")
    refuses(place, plan, cast, part=2)
    refuses(place, plan, cast, part=3, regime="sun")


def test_a_placement_is_moved_by_making_another_plan(cast: Cast, plan: Plan) -> None:
    placement = place(plan, cast)
    placement.bay = cast.next_bay
    with pytest.raises(WrittenOnceError):
        placement.save()
    with pytest.raises(WrittenOnceError):
        plan.placements.all().delete()
    with pytest.raises(WrittenOnceError):
        plan.placements.update(bay=cast.next_bay)


# --- Pins ------------------------------------------------------------------------------------------------
def test_a_pin_names_a_bay_or_a_day_and_a_stage_has_one(cast: Cast) -> None:
    stage = treatment_of(cast).stages.all()[0]
    new = {"yard": cast.yard, "stage": stage, "by": cast.manager.user}
    refuses(Pin.objects.create, **new)
    pin = Pin.objects.create(**new, bay=cast.bay)
    refuses(Pin.objects.create, **new, first_day=TODAY)
    set_(pin, lifted_at=NOW)
    Pin.objects.create(**new, first_day=TODAY)


# --- Packs -----------------------------------------------------------------------------------------------
def test_the_packer_works_once_at_a_time_on_a_season(cast: Cast) -> None:
    first = a_pack(cast)
    for state in ("queued", "working"):
        refuses(a_pack, cast, state=state)
    a_pack(cast, season=SeasonFactory(yard=cast.yard))
    set_(first, state="failed", reason="The planner was switched off.")
    a_pack(cast, state="working")


def test_a_pack_is_done_with_its_plan_and_fails_with_its_reason(cast: Cast, plan: Plan) -> None:
    refuses(a_pack, cast, state="done")
    refuses(a_pack, cast, state="failed")
    refuses(a_pack, cast, state="failed", reason="x", plan=plan)
    refuses(a_pack, cast, state="queued", plan=plan)
    a_pack(cast, state="done", plan=plan)
    a_pack(cast, state="failed", reason="The plan broke rule 2.")


def test_a_mended_plan_may_be_none_and_what_would_help_never_is_one(cast: Cast, plan: Plan) -> None:
    for state in ("done", "stopped"):
        refuses(a_pack, cast, kind="helps", state=state, plan=plan)
        a_pack(cast, kind="helps", state=state)
        a_pack(cast, kind="repair", state=state)
        a_pack(cast, kind="repair", state=state, plan=plan)
    refuses(a_pack, cast, kind="guess", state="queued")


def test_a_pack_is_tried_three_times_at_most(cast: Cast) -> None:
    pack = a_pack(cast)
    set_(pack, tries=3)
    refuses(set_, pack, tries=4)


def test_every_planning_key_protects_but_those_of_parts_that_die_with_their_whole() -> None:
    die = {"Board.season", "Forecast.plan", "Placement.plan", "Reasons.plan"}
    die |= {"Reckoning.season", "Unplaced.plan"}
    for model in vars(records).values():
        if isinstance(model, type) and issubclass(model, models.Model):
            for field in model._meta.local_fields:
                if field.is_relation:
                    name = f"{model.__name__}.{field.name}"
                    wanted = models.CASCADE if name in die else models.PROTECT
                    assert field.remote_field.on_delete is wanted, name


def test_a_refusal_of_the_database_leaves_the_transaction_usable(cast: Cast) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        a_pack(cast, seconds=0)
    assert a_pack(cast).state == "queued"
