"""Addresses and fields with what nobody means: answered in words, never with a broken page.

A small run puts each oddity into every fifth place and leaves no place out; a full run puts all into all.
"""

from __future__ import annotations

from typing import TypeVar

import pytest
from django.test import Client

from tests.scheduling.full_winter import FullWinter
from yard.models import Stage, Treatment

ODD = [
    "0",
    "-1",
    "9223372036854775808",
    "٣",
    "0000-00-00",
    "9999-12-31",
    "0001-01-01",
    "2027-02-29",
    "\x00",
    "\u202e",
    "9" * 5000,
]
T = TypeVar("T")


def places(found: list[T], odd: str, test_size: str) -> list[T]:
    """The places to put this oddity into."""
    return found[ODD.index(odd) % 5 :: 5] if test_size == "small" else found


@pytest.fixture
def manager(full: FullWinter) -> Client:
    client = Client()
    client.force_login(full.cast.manager.user)
    return client


@pytest.mark.parametrize("odd", ODD, ids=range(len(ODD)))
def test_odd_questions_are_answered(manager: Client, odd: str, test_size: str) -> None:
    asked = [("wall", "from"), ("wall", "weeks"), ("wall", "plan"), ("today", "day"), ("desk", "q")]
    for address, name in places(asked, odd, test_size):
        assert manager.get(f"/quiet-creek/{address}/", {name: odd}).status_code == 200, name


@pytest.mark.parametrize("odd", ODD, ids=range(len(ODD)))
def test_odd_fields_are_refused_or_stored_but_break_nothing(
    manager: Client, odd: str, test_size: str
) -> None:
    stage = Stage.objects.get(treatment__boat__name="Gorse", kind="strip")
    treatment = Treatment.objects.get(boat__name="Clover")
    today = "/quiet-creek/today/stage"
    fields = (
        (f"{today}/{stage.pk}/hold/", ("reason", "whom", "note", "expected", "day", "key")),
        (f"{today}/{stage.pk}/done/", ("hours", "day", "key")),
        (f"{today}/{stage.pk}/move/", ("bay",)),
        (f"/quiet-creek/desk/promise/{treatment.pk}/", ("date", "kind", "how", "note")),
        ("/quiet-creek/wall/post/", ("number", "accept")),
    )
    asked = [(address, name) for address, names in fields for name in names]
    right = {"reason": "parts", "date": "1 Apr", "kind": "week", "how": "phone", "number": "2"}
    for address, name in places(asked, odd, test_size):
        assert manager.post(address, right | {name: odd}).status_code in (302, 409, 422), (address, name)


@pytest.mark.parametrize("number", [0, 2**63, 10**30])
def test_numbers_that_no_record_has_are_not_found(manager: Client, number: int) -> None:
    assert manager.get(f"/quiet-creek/boat/{number}/").status_code == 404
    assert manager.post(f"/quiet-creek/today/stage/{number}/start/").status_code == 404
    assert manager.post(f"/quiet-creek/desk/promise/{number}/").status_code == 404


def test_a_part_of_a_page_whose_session_is_over_makes_the_whole_page_new(full: FullWinter) -> None:
    answer = Client().get("/quiet-creek/wall/pack/", headers={"hx-request": "true"}, follow=True)
    assert answer.headers["HX-Refresh"] == "true"
