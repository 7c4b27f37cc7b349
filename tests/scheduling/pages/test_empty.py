"""Empty states: what each side says before there is anything to show."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests.cast import TODAY, Cast
from yard.models import Season


@pytest.fixture(autouse=True)
def today(settings: Any) -> None:
    settings.SHEDTIDE_TODAY = TODAY


def page(cast: Cast, role: str, side: str) -> str:
    client = Client()
    client.force_login(cast.actors[role].user)
    return client.get(f"/quiet-creek/{side}/").content.decode()


def test_the_wall_of_an_empty_season_says_what_to_do_first(cast: Cast) -> None:
    text = page(cast, "manager", "wall")
    assert "Nothing is planned yet." in text
    assert "First plan" in text
    assert "Pack the sheds" in text


def test_without_a_posted_plan_the_crew_are_told_who_posts_it(cast: Cast) -> None:
    assert "The manager posts it on the Wall." in page(cast, "crew", "today")


def test_without_a_posted_plan_the_office_is_told_where_it_comes_from(cast: Cast) -> None:
    assert "the manager posts one on the Wall" in page(cast, "office", "desk")


def test_a_yard_without_a_season_says_so_and_does_not_break(cast: Cast) -> None:
    Season.objects.all().delete()
    for role, side in (("manager", "wall"), ("crew", "today"), ("office", "desk")):
        assert "no season yet" in page(cast, role, side), side
