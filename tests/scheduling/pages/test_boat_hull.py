"""The hull on a boat's page: which areas, by which method, and whether her next lift may be."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from scheduling.loading.hoists import certified_until
from tests.scheduling.test_loading import TODAY
from yard.models import Boat, Girth, Hoist, Membership, Role, Season, User


@pytest.fixture
def text_of(season: Season, settings: Any) -> Any:
    settings.SHEDTIDE_TODAY = TODAY
    user = User.objects.create_user("the manager")
    Membership.objects.create(yard=season.yard, user=user, role=Role.MANAGER)
    client = Client()
    client.force_login(user)

    def text(boat: str) -> str:
        found = Boat.objects.get(yard=season.yard, name=boat)
        answer = client.get(f"/{season.yard.slug}/boat/{found.pk}/")
        assert answer.status_code == 200
        return " ".join(answer.content.decode().split())

    return text


def test_the_three_areas_stand_there_with_the_method_they_come_from(text_of: Any) -> None:
    text = text_of("Fieldfare")
    assert "<strong>To peel:</strong>" in text
    assert "Delft formula from her dimensions; measure five girths to know better." in text
    assert "Her keel taken as metal." in text


def test_measured_girths_replace_the_dimensions_and_a_measured_area_replaces_both(
    season: Season, text_of: Any
) -> None:
    boat = Boat.objects.get(yard=season.yard, name="Fieldfare")
    for position, girth in ((1, 1.7), (2.5, 2.9), (4.4, 3.4), (6.5, 3.1), (8, 2.0)):
        Girth.objects.create(boat=boat, position_m=Decimal(str(position)), girth_m=Decimal(str(girth)))
    assert "girths" in text_of("Fieldfare")
    Boat.objects.filter(pk=boat.pk).update(peel_m2=Decimal("21.5"))
    assert "measured" in text_of("Fieldfare").split("<strong>To coat")[0]


def test_dimensions_that_no_hull_has_are_said_and_hide_no_page(season: Season, text_of: Any) -> None:
    Boat.objects.filter(yard=season.yard, name="Fieldfare").update(weighed_t=Decimal("90"))
    assert "is more than the water she could push aside" in text_of("Fieldfare").replace("&#x27;", "'")


def test_a_lift_too_heavy_for_the_hoist_is_refused_with_the_figures(season: Season, text_of: Any) -> None:
    assert "these figures allow it" in text_of("Fieldfare")
    Hoist.objects.of(season.yard).update(safe_load_t=Decimal("6"))
    text = text_of("Fieldfare")
    assert "Not to be lifted." in text
    assert "85% of the travelling hoist" in text
    assert "Only a new lift plan by the competent person changes this." in text


def test_the_caution_about_tides_and_lifts_is_always_there(text_of: Any) -> None:
    assert "Heights of tide are for planning only" in text_of("Sorrel")


def test_gear_may_be_used_to_the_end_of_its_certificate_and_on_where_the_examiner_comes_in_time() -> None:
    until = date(2027, 3, 5)
    assert certified_until(until, [], accessory=False) == until
    assert certified_until(until, [date(2027, 3, 2)], accessory=False) == date(2028, 3, 2)
    assert certified_until(until, [date(2027, 3, 2)], accessory=True) == date(2027, 9, 2)
    assert certified_until(until, [date(2027, 3, 6)], accessory=False) == until  # too late
    assert certified_until(None, [date(2027, 3, 2)], accessory=False) is None
