"""Every role at every address, with GET and with POST, in its own yard and in another's."""

from __future__ import annotations

import re
from collections.abc import Iterator
from http.cookies import SimpleCookie
from typing import Any

import pytest
from django.contrib import admin
from django.db import transaction
from django.http import HttpResponseBase
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.cast import TODAY, Cast, made_once
from tests.matrix_table import ADMIN, TABLE, Open, Page
from yard.models import Entry, User
from yard.roles import Actor

pytestmark = pytest.mark.reliability(1)
METHODS = ("get", "post")
Doors = dict[str, SimpleCookie]
PAGES = [(route, row) for route, row in TABLE.items() if isinstance(row, Page)]


@pytest.fixture(autouse=True)
def today(settings: Any) -> None:
    settings.SHEDTIDE_TODAY = TODAY


def routes(resolver: URLResolver, above: str = "") -> Iterator[str]:
    """Every route of the site as it is written in the address books."""
    for part in resolver.url_patterns:
        route = above + str(part.pattern)
        if isinstance(part, URLResolver):
            yield from routes(part, route)
        else:
            assert isinstance(part, URLPattern)
            yield route


def address(route: str, yard: str, objects: dict[str, Any]) -> str:
    """The route with its gaps filled."""
    given = {"yard": yard, **objects}
    return "/" + re.sub(r"<(?:\w+:)?(\w+)>", lambda gap: str(given[gap[1]]), route)


def logged_in(user: User) -> SimpleCookie:
    """What the browser of somebody logged in keeps."""
    client = Client()
    client.force_login(user)
    return client.cookies


@pytest.fixture(scope="module")
def doors(_cast_made: Cast, django_db_blocker: Any) -> Iterator[Doors]:
    """What the browsers of all keep who may come to the door of the cast's yard, by what they are there."""
    cast = _cast_made

    def make() -> Doors:
        gone = cast.account("gone", is_active=False)
        root = cast.account("root", is_superuser=True, is_staff=True)
        members = {role: actor.user for role, actor in cast.actors.items()}
        outside = {"stranger": cast.stranger, "other manager": cast.other_manager.user, "superuser": root}
        known = {"switched off": gone, **outside, **members}
        return {"nobody": SimpleCookie(), **{name: logged_in(user) for name, user in known.items()}}

    with made_once(make, django_db_blocker) as made:
        yield made


def knock(cookies: SimpleCookie, method: str, url: str, form: dict[str, Any]) -> HttpResponseBase:
    """Ask for an address and take back whatever that changed."""
    client = Client()
    client.cookies.update(cookies)
    with transaction.atomic():
        answer: HttpResponseBase = getattr(client, method)(url, form if method == "post" else {})
        transaction.set_rollback(True)
    return answer


def sent_to_log_in(answer: HttpResponseBase) -> bool:
    return answer.status_code == 302 and answer["Location"].startswith(reverse("login"))


def test_every_address_is_in_the_table_and_none_that_is_gone() -> None:
    found = {route for route in routes(get_resolver()) if not route.startswith(ADMIN)}
    assert found - set(TABLE) == set(), "add these to tests/matrix_table.py"
    assert set(TABLE) - found == set(), "take these out of tests/matrix_table.py"


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize(("route", "row"), PAGES, ids=[route for route, _ in PAGES])
def test_a_page_is_for_its_roles_in_its_yard(
    cast: Cast, doors: Doors, route: str, row: Page, method: str
) -> None:
    url, form = address(route, cast.yard.slug, row.mine(cast)), row.form(cast)
    wanted = row.get if method == "get" else row.post
    for name, cookies in doors.items():
        answer = knock(cookies, method, url, form)
        if wanted == 405:
            assert answer.status_code == 405, name
        elif name in ("nobody", "switched off"):
            assert sent_to_log_in(answer), name
        elif name in row.roles:
            assert (answer.status_code, sent_to_log_in(answer)) == (wanted, False), name
        elif name in cast.actors:
            assert answer.status_code == 403, name
        else:
            assert answer.status_code == 404, name


@pytest.mark.parametrize(("route", "row"), PAGES, ids=[route for route, _ in PAGES])
def test_an_object_of_another_yard_is_not_found(cast: Cast, doors: Doors, route: str, row: Page) -> None:
    objects, written = row.theirs(cast), Entry.objects.count()
    assert bool(objects) == ("<int:" in route), "say which object of another yard to try"
    if not objects:
        return
    for method, wanted in zip(METHODS, (row.get, row.post), strict=True):
        for role in row.roles if wanted != 405 else ():
            url = address(route, cast.yard.slug, objects)
            assert knock(doors[role], method, url, row.form(cast)).status_code == 404, role
    assert Entry.objects.count() == written


@pytest.mark.parametrize(("route", "row"), PAGES, ids=[route for route, _ in PAGES])
def test_a_page_does_not_change_what_another_site_makes_a_browser_send(
    cast: Cast, doors: Doors, route: str, row: Page
) -> None:
    client = Client(enforce_csrf_checks=True)
    client.cookies.update(doors[min(row.roles)])
    answer = client.post(address(route, cast.yard.slug, row.mine(cast)), row.form(cast))
    assert answer.status_code == 403


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("route", [route for route, row in TABLE.items() if isinstance(row, Open)])
def test_an_address_outside_any_yard_answers_everybody_alike(
    db: None, doors: Doors, route: str, method: str
) -> None:
    row = TABLE[route]
    assert isinstance(row, Open)
    stranger, known = (row.get, row.get_known) if method == "get" else (row.post, row.post_known)
    assert knock(doors["nobody"], method, f"/{route}", {}).status_code == stranger
    assert knock(doors["stranger"], method, f"/{route}", {}).status_code == (known or stranger)


def test_the_admin_site_shows_every_record_and_writes_none(cast: Cast, doors: Doors) -> None:
    root = doors["superuser"]
    ours = [model for model in admin.site._registry if model._meta.app_label in ("yard", "scheduling")]
    assert {model.__name__ for model in ours} >= {"Boat", "Entry", "Plan", "Pack"}
    for model in ours:
        name = f"admin:{model._meta.app_label}_{model._meta.model_name}"
        shown, added = reverse(f"{name}_changelist"), reverse(f"{name}_add")
        assert knock(root, "get", shown, {}).status_code == 200, name
        assert knock(root, "get", added, {}).status_code == 403, name
        assert knock(root, "post", added, {}).status_code == 403, name
        for other in ("nobody", "manager"):
            assert knock(doors[other], "get", shown, {})["Location"].startswith("/admin/login/"), name


def test_the_admin_site_shows_one_account_without_its_password_and_keeps_it(cast: Cast, doors: Doors) -> None:
    url = reverse("admin:yard_user_change", args=[cast.manager.user.pk])
    client = Client()
    client.cookies.update(doors["superuser"])
    page = client.get(url)
    assert page.status_code == 200 and cast.manager.user.password not in page.content.decode()
    assert client.post(url, {"username": "mine now"}).status_code == 403
    assert client.post(reverse("admin:yard_user_delete", args=[cast.manager.user.pk])).status_code == 403


def test_a_role_that_is_taken_away_is_gone_with_the_next_request(cast: Cast) -> None:
    client, url = Client(), f"/{cast.yard.slug}/wall/"
    client.force_login(cast.manager.user)
    assert client.get(url).status_code == 200
    cast.manager.user.memberships.update(ended_on=TODAY)
    assert client.get(url).status_code == 404


def test_the_table_knows_every_role_there_is(cast: Cast) -> None:
    assert {role for _, row in PAGES for role in row.roles} == set(cast.actors)
    assert all(isinstance(actor, Actor) for actor in cast.actors.values())
