"""A yard sees what is its own: records, actors, and the guard in front of pages."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime

import pytest
from django.apps import apps
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.db import models
from django.http import Http404, HttpRequest, HttpResponse
from django.test import RequestFactory

from tests.cast import TODAY, Cast, open_hold
from tests.yard.test_models import treatment_of
from yard.actions.rounds import record_round, sign_dry
from yard.models import Bay, Membership, Spot, Stay, Yard
from yard.models.base import Record
from yard.roles import Actor, actor_for, memberships_of, side, yard_today

SCOPED = [model for model in apps.get_models() if issubclass(model, Record)]
WITHOUT_A_YARD = {"User", "Yard", "Delivery", "Beat"}


def keys_between_yards() -> Iterator[tuple[type[Record], models.ForeignKey[object, object]]]:
    """Each key from a record of a yard to another record of a yard."""
    for model in SCOPED:
        for field in model._meta.concrete_fields:
            if field.is_relation and issubclass(field.related_model, Record):
                yield model, field


def strangers() -> list[str]:
    """Rows whose keys lead into another yard."""
    found = []
    for model, field in keys_between_yards():
        for row in model.objects.filter(**{f"{field.name}__isnull": False}):
            target = getattr(row, field.name)
            if target.home() != row.home():
                found.append(f"{model.__name__} {row.pk}: {field.name}")
    return found


def test_every_record_of_ours_belongs_to_a_yard_or_says_why_not() -> None:
    ours = {m.__name__ for m in apps.get_models() if m._meta.app_label in ("yard", "scheduling")}
    assert ours - {m.__name__ for m in SCOPED} == WITHOUT_A_YARD


@pytest.mark.parametrize("model", SCOPED, ids=lambda model: model.__name__)
def test_the_path_to_the_yard_leads_to_a_yard(model: type[Record]) -> None:
    at: type[models.Model] = model
    for step in model.yard_path.split("__"):
        field = at._meta.get_field(step)
        assert not field.null, f"{model.__name__} could lose its yard at {step}"
        at = field.related_model
    assert at is Yard


@pytest.mark.parametrize("model", SCOPED, ids=lambda model: model.__name__)
def test_each_record_can_be_asked_for_one_yard(cast: Cast, model: type[Record]) -> None:
    mine, all_rows = model.objects.of(cast.yard), model.objects.all()
    theirs = model.objects.of(cast.other_yard)
    assert set(mine) | set(theirs) == set(all_rows)
    assert not set(mine) & set(theirs)


def test_no_key_leads_from_one_yard_into_another(cast: Cast) -> None:
    treatment = treatment_of(cast)
    Stay.objects.create(yard=cast.yard, treatment=treatment, bay=cast.bay, from_on=TODAY)
    open_hold(treatment.stages.all()[0])
    record_round(cast.crew, treatment=treatment, meter=cast.meter, readings={"P1": 40})
    sign_dry(cast.manager, treatment=treatment, by=cast.crew.person, signed_on=TODAY, note="by the surveyor")
    assert strangers() == []


def test_the_walk_over_keys_finds_a_key_that_leads_astray(cast: Cast) -> None:
    bay = Bay.objects.create(
        yard=cast.other_yard, shed=cast.shed, air=cast.air, name="X", length_m=1, beam_m=1, load_t=1
    )
    assert strangers() == [f"Bay {bay.pk}: shed", f"Bay {bay.pk}: air"]


def test_a_spot_belongs_to_the_yard_of_its_boat(cast: Cast) -> None:
    assert Spot.objects.of(cast.yard).count() == 3
    assert Spot.objects.of(cast.other_yard).count() == 0


# --- Who somebody is --------------------------------------------------------------------------------------
def test_a_member_acts_in_the_yard_with_role_person_and_day(cast: Cast, settings: object) -> None:
    settings.SHEDTIDE_TODAY = TODAY  # type: ignore[attr-defined]
    who = actor_for(cast.crew.user, "quiet-creek")
    assert who == Actor(cast.crew.user, cast.yard, "crew", cast.crew.person, TODAY)


def test_an_actor_costs_one_query(cast: Cast, django_assert_num_queries: object) -> None:
    with django_assert_num_queries(1):  # type: ignore[operator]
        actor_for(cast.crew.user, "quiet-creek")


def test_nobody_acts_in_a_yard_they_have_no_open_membership_in(cast: Cast) -> None:
    superuser = cast.account("root", is_superuser=True, is_staff=True)
    for user in (cast.stranger, cast.other_manager.user, superuser, AnonymousUser()):
        assert actor_for(user, "quiet-creek") is None
    Membership.objects.filter(user=cast.manager.user).update(ended_on=TODAY)
    assert actor_for(cast.manager.user, "quiet-creek") is None


def test_an_account_that_is_switched_off_acts_nowhere(cast: Cast) -> None:
    cast.manager.user.is_active = False
    assert actor_for(cast.manager.user, "quiet-creek") is None


def test_a_retired_yard_is_entered_by_nobody(cast: Cast) -> None:
    Yard.objects.filter(pk=cast.yard.pk).update(retired_on=TODAY)
    assert actor_for(cast.manager.user, "quiet-creek") is None
    assert memberships_of(cast.manager.user) == []


def test_an_account_sees_the_yards_it_may_enter(cast: Cast) -> None:
    Membership.objects.create(yard=cast.other_yard, user=cast.office.user, role="crew")
    assert [(m.yard.slug, m.role) for m in memberships_of(cast.office.user)] == [
        ("far-creek", "crew"),
        ("quiet-creek", "office"),
    ]


@pytest.mark.parametrize(
    ("zone", "day"),
    [
        ("Europe/London", date(2027, 6, 1)),
        ("UTC", date(2027, 5, 31)),
        ("America/New_York", date(2027, 5, 31)),
    ],
)
def test_today_is_the_day_by_the_yards_own_clock(
    monkeypatch: pytest.MonkeyPatch, settings: object, zone: str, day: date
) -> None:
    class Clock(datetime):
        @classmethod
        def now(cls, tz: object = None) -> datetime:
            return datetime(2027, 5, 31, 23, 30, tzinfo=UTC).astimezone(tz)  # type: ignore[arg-type]

    settings.SHEDTIDE_TODAY = None  # type: ignore[attr-defined]
    monkeypatch.setattr("yard.roles.datetime", Clock)
    assert yard_today(Yard(timezone=zone)) == day


# --- The guard --------------------------------------------------------------------------------------------
@side("manager", "crew")
def page(request: HttpRequest, who: Actor, number: int) -> HttpResponse:
    return HttpResponse(f"{who.role} {number}")


def ask(user: object, yard: str = "quiet-creek") -> HttpResponse:
    request = RequestFactory().get(f"/{yard}/page/7?day=1")
    request.user = user  # type: ignore[assignment]
    return page(request, yard=yard, number=7)  # type: ignore[return-value]


def test_a_page_gets_the_actor_as_its_second_argument(cast: Cast) -> None:
    assert ask(cast.manager.user).content == b"manager 7"
    assert ask(cast.crew.user).content == b"crew 7"


def test_nobody_logged_in_is_sent_to_log_in_and_back_also_for_yards_that_do_not_exist(cast: Cast) -> None:
    for yard in ("quiet-creek", "no-creek"):
        answer = ask(AnonymousUser(), yard)
        assert answer.status_code == 302
        assert answer["Location"] == f"/login/?next=/{yard}/page/7%3Fday%3D1"


def test_another_yard_is_not_found_whether_it_exists_or_not(cast: Cast) -> None:
    for user, yard in (
        (cast.other_manager.user, "quiet-creek"),
        (cast.manager.user, "far-creek"),
        (cast.manager.user, "no-creek"),
        (cast.stranger, "quiet-creek"),
    ):
        with pytest.raises(Http404):
            ask(user, yard)


def test_the_wrong_role_is_refused(cast: Cast) -> None:
    with pytest.raises(PermissionDenied):
        ask(cast.office.user)


def test_a_page_must_be_for_known_roles() -> None:
    for roles in ((), ("admiral",)):
        with pytest.raises(ValueError, match="a page is for some of"):
            side(*roles)
