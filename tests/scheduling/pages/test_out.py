"""Who and what is out: entered with a few words, ended when it is over, and never deleted."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.test import Client

from scheduling.pages.out import near_day
from tests.cast import TODAY, Cast, HoistFactory, KitFactory, PersonFactory
from tests.scheduling.pages.test_moves import words
from yard.models import Bay, Stoppage

OUT = "/quiet-creek/wall/out/"
TUESDAY = date(2026, 11, 24)


@pytest.fixture
def manager(cast: Cast, settings: Any) -> Client:
    settings.SHEDTIDE_TODAY = TODAY
    client = Client()
    client.force_login(cast.manager.user)
    return client


def sent(manager: Client, subject: str, **typed: str) -> Any:
    return manager.post(OUT, {"subject": subject, "kind": "", "first_day": "Tue 24 Nov"} | typed)


def test_a_person_ill_today_and_tomorrow_takes_a_name_and_a_day(cast: Cast, manager: Client) -> None:
    person = PersonFactory(yard=cast.yard, name="Robin Hale")
    assert sent(manager, f"person.{person.pk}", last_day="25 Nov").status_code == 302
    row = Stoppage.objects.get()
    assert (row.person, row.kind, row.why) == (person, "ill", "ill")
    assert (row.first_day, row.last_day) == (TUESDAY, date(2026, 11, 25))
    said = words(manager.get(OUT).content)
    assert "Saved: Robin Hale, ill, from Tue 24 Nov to Wed 25 Nov." in said
    assert "Robin Hale out now" in said


def test_a_hoist_is_broken_and_a_bay_closed_unless_something_else_is_said(
    cast: Cast, manager: Client
) -> None:
    hoist, bay = HoistFactory(yard=cast.yard), Bay.objects.filter(yard=cast.yard)[0]
    sent(manager, f"hoist.{hoist.pk}", why="gearbox")
    sent(manager, f"bay.{bay.pk}")
    sent(manager, "yard", kind="cold", last_day="30 Nov")
    rows = Stoppage.objects.order_by("pk")
    assert [(row.kind, row.why, row.last_day) for row in rows] == [
        ("other", "gearbox", None),
        ("closed", "closed", None),
        ("cold", "a cold spell", date(2026, 11, 30)),
    ]
    said = words(manager.get(OUT).content)
    assert "Gearbox, from Tue 24 Nov until told." in said
    assert "The whole yard out now" in said


def test_only_some_of_a_kit_can_be_out(cast: Cast, manager: Client) -> None:
    kit = KitFactory(yard=cast.yard, name="tent L", count=2)
    assert sent(manager, f"kit.{kit.pk}", count="1").status_code == 302
    assert "1 of tent L out now" in words(manager.get(OUT).content)
    refused = sent(manager, f"kit.{kit.pk}", count="3")
    assert refused.status_code == 422 and "There are only 2 of tent L." in words(refused.content)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"subject": ""}, "Choose one of the list."),
        ({"subject": "person.999"}, "Choose one of the list."),
        ({"first_day": "soon"}, "Type a day like 27 3 2027"),
        ({"last_day": "23 Nov"}, "Last day must not come before first day."),
        ({"count": "two"}, "Type a whole number"),
        ({"count": "1"}, "Only of a kit can some be out and some not."),
        ({"kind": "tired"}, "Choose one of the list."),
    ],
)
def test_each_field_says_what_is_wrong_and_nothing_typed_is_lost(
    cast: Cast, manager: Client, typed: dict[str, str], says: str
) -> None:
    given = {"subject": "yard", "kind": "", "first_day": "24 Nov", "why": "storm warning"} | typed
    page = manager.post(OUT, given)
    assert page.status_code == 422 and not Stoppage.objects.exists()
    assert says in words(page.content)
    assert 'value="storm warning"' in page.content.decode()


def test_who_is_back_was_out_until_the_day_before(cast: Cast, manager: Client) -> None:
    row = Stoppage.objects.create(yard=cast.yard, kind="closed", first_day="2026-11-20", why="floor")
    done = manager.post(f"{OUT}{row.pk}/back/", {"version": row.version, "on": "Tue 24 Nov"})
    assert done.status_code == 302
    row.refresh_from_db()
    assert row.last_day == date(2026, 11, 23)
    assert "nothing is known ahead" in words(manager.get(OUT).content)


def test_nobody_is_back_before_they_were_out_and_two_who_end_it_at_once_are_told(
    cast: Cast, manager: Client
) -> None:
    row = Stoppage.objects.create(yard=cast.yard, kind="closed", first_day="2026-11-24", why="floor")
    back = f"{OUT}{row.pk}/back/"
    early = manager.post(back, {"version": row.version, "on": "24 Nov"})
    assert early.status_code == 422 and "It is out from Tue 24 Nov: give a later day." in words(early.content)
    assert manager.post(back, {"version": row.version, "on": "27 Nov"}).status_code == 302
    assert manager.post(back, {"version": row.version, "on": "28 Nov"}).status_code == 409


def test_a_mistake_is_called_off_and_is_out_no_more(cast: Cast, manager: Client) -> None:
    row = Stoppage.objects.create(yard=cast.yard, kind="closed", first_day="2027-01-11", why="floor")
    page = manager.get(OUT)
    assert "Call it off" in words(page.content)
    done = manager.post(f"{OUT}{row.pk}/off/", {"version": row.version})
    assert done.status_code == 302
    said = words(manager.get(OUT).content)
    assert "Called off: The whole yard, closed (floor), from Mon 11 Jan until told." in said
    assert "nothing is known ahead" in said
    row.refresh_from_db()
    assert row.called_off_on == TODAY and row.first_day == date(2027, 1, 11)


def test_of_two_who_call_it_off_and_end_it_at_once_the_second_is_told(cast: Cast, manager: Client) -> None:
    row = Stoppage.objects.create(yard=cast.yard, kind="closed", first_day="2026-11-20", why="floor")
    assert manager.post(f"{OUT}{row.pk}/off/", {"version": row.version}).status_code == 302
    late = manager.post(f"{OUT}{row.pk}/back/", {"version": row.version, "on": "24 Nov"})
    assert late.status_code == 422 and "It was called off on 24 Nov 2026" in words(late.content)
    assert manager.post(f"{OUT}{row.pk}/off/", {"version": ""}).status_code == 422


def test_a_day_refused_further_down_is_said_at_the_head_with_a_way_to_its_field(
    cast: Cast, manager: Client
) -> None:
    row = Stoppage.objects.create(yard=cast.yard, kind="closed", first_day="2026-11-20", why="floor")
    html = manager.post(f"{OUT}{row.pk}/back/", {"version": row.version, "on": "soon"}).content.decode()
    head, _, form = html.partition('<section class="screen"')
    assert f'<a href="#on-{row.pk}">The whole yard: Type a day like' in head
    assert 'value="soon"' in form and form.count('role="alert"') == 0


@pytest.mark.parametrize(("field", "typed"), [("last_day", "23 Nov"), ("count", "1"), ("count", "0")])
def test_what_is_refused_stands_at_its_field(cast: Cast, manager: Client, field: str, typed: str) -> None:
    page = manager.post(OUT, {"subject": "yard", "kind": "", "first_day": "24 Nov", field: typed})
    assert page.status_code == 422 and f'id="{field}-wrong"' in page.content.decode()


def test_nought_of_a_kit_is_no_way_to_say_all_of_it(cast: Cast, manager: Client) -> None:
    kit = KitFactory(yard=cast.yard, name="tent L", count=2)
    refused = sent(manager, f"kit.{kit.pk}", count="0")
    assert "Type how many are out, at least 1; leave it empty if all are." in words(refused.content)
    assert not Stoppage.objects.exists()


def test_another_yard_s_people_are_not_on_the_list(cast: Cast, manager: Client) -> None:
    PersonFactory(yard=cast.other_yard, name="Not Ours")
    assert "Not Ours" not in words(manager.get(OUT).content)


def test_a_day_without_a_year_is_the_next_one_or_one_that_has_just_been() -> None:
    assert near_day("20 Nov", TUESDAY) == date(2026, 11, 20)
    assert near_day("24 Nov", TUESDAY) == TUESDAY
    assert near_day("26 Nov", TUESDAY) == date(2026, 11, 26)
    assert near_day("3 Mar", TUESDAY) == date(2027, 3, 3)
    assert near_day("20 11 2027", TUESDAY) == date(2027, 11, 20)
