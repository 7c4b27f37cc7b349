"""What the database itself refuses, whoever writes."""

from __future__ import annotations

from datetime import date
from uuid import uuid4

import pytest
from django.db import IntegrityError, models, transaction
from django.db.models import ProtectedError
from django.utils import timezone

from tests.cast import (
    BayFactory,
    BoatFactory,
    Cast,
    KitFactory,
    PersonFactory,
    SeasonFactory,
    StageNormFactory,
)
from yard import models as records
from yard.actions.treatments import copy_stages
from yard.models import (
    Air,
    Bay,
    Boat,
    Delivery,
    Demand,
    Hold,
    Lane,
    Membership,
    Promise,
    Scheme,
    Stage,
    Stay,
    Stoppage,
    Treatment,
    User,
    YardSettings,
)
from yard.models.base import Record

DAY = date(2026, 11, 2)


def treatment_of(cast: Cast, boat: Boat | None = None, **fields: object) -> Treatment:
    """An open treatment with its stages, stored past all actions."""
    treatment = Treatment.objects.create(
        yard=cast.yard,
        boat=boat or cast.boat,
        scheme=cast.scheme,
        arrives_on=DAY,
        **{"season": cast.season, "state": "here", "arrived_on": DAY, **fields},
    )
    copy_stages(treatment)
    return treatment


def refuses(write: object, *args: object, **kwargs: object) -> str:
    """The database's own words when it refuses a write."""
    with pytest.raises(IntegrityError) as refusal, transaction.atomic():
        write(*args, **kwargs)  # type: ignore[operator]
    return str(refusal.value)


def set_(record: models.Model, **fields: object) -> None:
    """Write past every check but the database's."""
    type(record)._base_manager.filter(pk=record.pk).update(**fields)


def test_a_bay_holds_one_boat_at_a_time(cast: Cast) -> None:
    first, second = treatment_of(cast), treatment_of(cast, BoatFactory(yard=cast.yard))
    stay = Stay.objects.create(yard=cast.yard, treatment=first, bay=cast.bay, from_on=DAY)
    refuses(Stay.objects.create, yard=cast.yard, treatment=second, bay=cast.bay, from_on=DAY)
    set_(stay, until_on=DAY)
    Stay.objects.create(yard=cast.yard, treatment=second, bay=cast.bay, from_on=DAY)


def test_a_boat_stands_in_one_bay_at_a_time(cast: Cast) -> None:
    treatment = treatment_of(cast)
    Stay.objects.create(yard=cast.yard, treatment=treatment, bay=cast.bay, from_on=DAY)
    refuses(Stay.objects.create, yard=cast.yard, treatment=treatment, bay=cast.next_bay, from_on=DAY)


def test_a_stay_does_not_end_before_it_began(cast: Cast) -> None:
    stay = Stay.objects.create(yard=cast.yard, treatment=treatment_of(cast), bay=cast.bay, from_on=DAY)
    refuses(set_, stay, until_on=date(2026, 11, 1))


def test_only_one_stage_of_a_treatment_runs(cast: Cast) -> None:
    first, second, *_ = treatment_of(cast).stages.all()
    set_(first, status="running", started_on=DAY)
    refuses(set_, second, status="running", started_on=DAY)


@pytest.mark.parametrize(
    "wrong",
    [
        {"status": "running"},
        {"status": "done", "started_on": DAY},
        {"status": "done", "finished_on": DAY},
        {"status": "done", "started_on": DAY, "finished_on": date(2026, 11, 1)},
        {"status": "waiting", "started_on": DAY},
        {"status": "running", "started_on": DAY, "finished_on": DAY},
        {"status": "asleep"},
    ],
    ids=str,
)
def test_dates_fit_the_status_of_a_stage_even_where_one_is_missing(
    cast: Cast, wrong: dict[str, object]
) -> None:
    stage = treatment_of(cast).stages.all()[0]
    refuses(set_, stage, **wrong)


def test_a_stage_that_is_done_has_both_its_dates(cast: Cast) -> None:
    stage = treatment_of(cast).stages.all()[0]
    set_(stage, status="done", started_on=DAY, finished_on=DAY)
    assert Stage.objects.get(pk=stage.pk).finished_on == DAY


def test_a_boat_has_one_open_treatment_a_season_and_any_number_of_closed_ones(cast: Cast) -> None:
    treatment_of(cast, state="cancelled")
    treatment_of(cast, state="afloat")
    treatment_of(cast)
    refuses(treatment_of, cast, state="expected")
    treatment_of(cast, season=SeasonFactory(yard=cast.yard))


def test_a_boat_that_is_here_has_arrived(cast: Cast) -> None:
    refuses(treatment_of, cast, arrived_on=None)


def test_names_differ_by_more_than_their_case(cast: Cast) -> None:
    refuses(BayFactory, yard=cast.yard, air=cast.air, name="h1")
    BayFactory(yard=cast.other_yard, name="H1")


def test_two_boats_of_one_name_have_two_owners(cast: Cast) -> None:
    refuses(BoatFactory, yard=cast.yard, name="TEASEL", owner=cast.owner)
    BoatFactory(yard=cast.yard, name="Teasel")
    refuses(BoatFactory, yard=cast.yard, name="teasel")


def test_a_boat_is_longer_than_wide(cast: Cast) -> None:
    refuses(BoatFactory, yard=cast.yard, length_m=3, beam_m=3)


def test_a_lane_and_the_place_in_it_go_together(cast: Cast) -> None:
    lane = Lane.objects.create(shed=cast.shed, name="1")
    refuses(set_, cast.bay, lane=lane)
    refuses(set_, cast.bay, lane_place=1)
    refuses(set_, cast.bay, lane=lane, lane_place=0)
    set_(cast.bay, lane=lane, lane_place=1)
    refuses(set_, cast.next_bay, lane=lane, lane_place=1)


def test_heated_air_says_its_warmth_and_no_other_air_does(cast: Cast) -> None:
    refuses(Air.objects.create, shed=cast.shed, name="cold", kind="heated")
    refuses(Air.objects.create, shed=cast.shed, name="cold", kind="unheated", day_c=5)


def test_a_stoppage_has_at_most_one_subject(cast: Cast) -> None:
    new = {"yard": cast.yard, "kind": "closed", "first_day": DAY, "why": "painting"}
    Stoppage.objects.create(**new)
    Stoppage.objects.create(**new, bay=cast.bay)
    refuses(Stoppage.objects.create, **new, bay=cast.bay, shed=cast.shed)
    refuses(Stoppage.objects.create, **new, bay=cast.bay, count=1)
    Stoppage.objects.create(**new, kit=KitFactory(yard=cast.yard), count=1)


def test_an_account_has_one_open_role_a_yard_and_a_person_one_account(cast: Cast) -> None:
    refuses(Membership.objects.create, yard=cast.yard, user=cast.manager.user, role="crew")
    refuses(
        Membership.objects.create, yard=cast.yard, user=cast.stranger, role="crew", person=cast.crew.person
    )
    Membership.objects.filter(user=cast.crew.user).update(ended_on=DAY)
    Membership.objects.create(yard=cast.yard, user=cast.crew.user, role="office")


def test_an_account_is_found_by_its_name_in_any_case_and_there_is_one(cast: Cast) -> None:
    assert User.objects.get_by_natural_key("Manager") == cast.manager.user
    refuses(User.objects.create_user, username="MANAGER")


def test_the_likely_date_is_surer_to_be_missed_than_the_safe_one(cast: Cast) -> None:
    settings = YardSettings.objects.get(yard=cast.yard)
    refuses(set_, settings, likely_pct=90)
    refuses(set_, settings, safe_pct=100)


def test_a_demand_demands_something(cast: Cast) -> None:
    norm = StageNormFactory(scheme=cast.scheme, position=60)
    for nothing in (
        {},
        {"kit_kind": "tent"},
        {"held": True},
        {"hours_per_m2": 1},
        {"hours_fixed": -1},
        {"hours_fixed": 1, "every_d": 0},
    ):
        refuses(Demand.objects.create, scheme_stage=norm, **nothing)
    Demand.objects.create(scheme_stage=norm, kit_kind="tent", held=True)
    Demand.objects.create(scheme_stage=norm, lifts=1)


def test_norms_run_from_low_to_high(cast: Cast) -> None:
    refuses(StageNormFactory, scheme=cast.scheme, position=60, days_low=2, days_likely=1, days_high=3)
    refuses(StageNormFactory, scheme=cast.scheme, position=60, wait_min_d=2, wait_max_d=1)
    refuses(StageNormFactory, scheme=cast.scheme, position=60, kind="polish")


def test_a_stage_is_held_once_at_a_time(cast: Cast) -> None:
    stage = treatment_of(cast).stages.all()[0]
    hold = Hold.objects.create(stage=stage, from_on=DAY, reason="owner")
    refuses(Hold.objects.create, stage=stage, from_on=DAY, reason="parts")
    set_(hold, until_on=DAY)
    Hold.objects.create(stage=stage, from_on=DAY, reason="parts")


def test_one_promise_is_in_force_and_those_it_replaced_are_kept(cast: Cast) -> None:
    new = {"treatment": treatment_of(cast), "kind": "week", "said_on": DAY, "how": "phone"}
    first = Promise.objects.create(**new, promised_on=date(2027, 4, 1))
    refuses(Promise.objects.create, **new, promised_on=date(2027, 4, 8))
    Promise.objects.filter(pk=first.pk).update(superseded=True)
    Promise.objects.create(**new, promised_on=date(2027, 4, 8), replaces=first)
    assert Promise.objects.count() == 2


def test_a_key_is_taken_once_by_an_account_and_again_by_another(cast: Cast) -> None:
    new = {"key": uuid4(), "action": "x", "body_sha256": "", "answer": {}, "received_at": timezone.now()}
    Delivery.objects.create(user=cast.crew.user, **new)
    refuses(Delivery.objects.create, user=cast.crew.user, **new)
    Delivery.objects.create(user=cast.manager.user, **new)


def test_nothing_is_deleted_that_something_points_at(cast: Cast) -> None:
    for wanted in (cast.bay.shed, cast.boat.owner, cast.yard, cast.manager.user):
        with pytest.raises(ProtectedError):
            wanted.delete()


DIE_WITH_THEIR_PARENT = {
    "PersonSkill.person",
    "WorkingWeek.person",
    "AirMonth.air",
    "Lane.shed",
    "TideWater.table",
    "SchemeStage.scheme",
    "Demand.scheme_stage",
    "StageDemand.stage",
}


def test_every_key_protects_but_those_of_parts_that_die_with_their_whole() -> None:
    for model in vars(records).values():
        if not (isinstance(model, type) and issubclass(model, models.Model)):
            continue
        for field in model._meta.local_fields:
            if not field.is_relation:
                continue
            name, rule = f"{model.__name__}.{field.name}", field.remote_field.on_delete
            if name == "Entry.delivery":
                assert rule is models.SET_NULL  # the history outlives what phones sent
            elif name in DIE_WITH_THEIR_PARENT:
                assert rule is models.CASCADE, name
            else:
                assert rule is models.PROTECT, name


def test_every_rule_of_the_records_has_a_sentence_and_a_name_of_its_own() -> None:
    names = []
    for model in vars(records).values():
        if isinstance(model, type) and issubclass(model, Record):
            for rule in model._meta.constraints:
                names.append(rule.name)
                sentence = rule.get_violation_error_message()
                assert sentence.endswith(".") and "is violated" not in sentence, rule.name
                assert len(rule.name) <= 63, f"PostgreSQL would cut {rule.name}"
    assert len(names) == len(set(names))


def test_a_scheme_takes_its_stages_along_and_a_treatment_keeps_its_copy(cast: Cast) -> None:
    spare = Scheme.objects.create(yard=cast.yard, name="spare")
    StageNormFactory(scheme=spare)
    spare.delete()
    treatment = treatment_of(cast)
    cast.scheme.stages.all().delete()
    assert treatment.stages.count() == 5


def test_a_bay_is_refused_a_limit_of_nothing(cast: Cast) -> None:
    refuses(set_, cast.bay, length_m=0)
    set_(cast.bay, height_m=None)
    assert Bay.objects.get(pk=cast.bay.pk).height_m is None


def test_a_person_is_once_in_a_yard(cast: Cast) -> None:
    refuses(PersonFactory, yard=cast.yard, name="hand")
