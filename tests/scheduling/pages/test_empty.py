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


@pytest.mark.parametrize(
    ("role", "side", "says"),
    [
        ("manager", "wall", "No boat is in this season yet"),
        ("crew", "today", "The manager posts it on the Wall."),
        ("office", "desk", "Boats come in with the yard"),
    ],
)
def test_a_season_without_boats_says_on_each_side_what_comes_first(
    cast: Cast, role: str, side: str, says: str
) -> None:
    assert says in page(cast, role, side)


def test_a_yard_without_a_season_says_so_and_does_not_break(cast: Cast) -> None:
    Season.objects.all().delete()
    for role, side in (("manager", "wall"), ("crew", "today"), ("office", "desk")):
        assert "no season yet" in page(cast, role, side), side
