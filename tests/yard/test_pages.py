"""The door: log-in, everybody to their own side, and days and money as people write them."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.test import Client

from tests.cast import PASSWORD, TODAY, Cast
from yard.models import Membership
from yard.templatetags.days import about, day, days_of, longday, money, shortday, word
from yard.trade.cautions import CAUTIONS, DEFER, cautions_for


@pytest.fixture(autouse=True)
def today(settings: Any) -> None:
    settings.SHEDTIDE_TODAY = TODAY


@pytest.mark.parametrize(("role", "side"), [("manager", "wall"), ("crew", "today"), ("office", "desk")])
def test_after_log_in_everybody_comes_to_their_own_side(cast: Cast, role: str, side: str) -> None:
    client = Client()
    page = client.post("/login/", {"username": role.upper(), "password": PASSWORD}, follow=True)
    assert page.redirect_chain[-1][0] == f"/quiet-creek/{side}/"
    text = page.content.decode()
    assert "Tuesday 24 November 2026" in text
    assert "Quiet Creek" in text
    assert "Log out" in text


def test_a_wrong_password_is_answered_in_words_and_keeps_the_name(cast: Cast) -> None:
    page = Client().post("/login/", {"username": "crew", "password": "wrong"})
    text = page.content.decode()
    assert "do not belong together" in text
    assert 'value="crew"' in text
    assert "wrong" not in text.replace('id="wrong"', "").replace('describedby="wrong"', "")


def test_the_bar_offers_the_sides_of_the_role_and_no_other(cast: Cast) -> None:
    for role, sides in (("manager", {"wall", "today", "desk"}), ("office", set()), ("crew", set())):
        client = Client()
        client.force_login(cast.actors[role].user)
        text = client.get("/", follow=True).content.decode()
        bar = text[text.index("<header") : text.index("</header>")]
        assert {side for side in ("wall", "today", "desk") if f'href="/quiet-creek/{side}/"' in bar} == sides


def test_logging_out_is_a_form_and_ends_the_session(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.crew.user)
    assert client.post("/logout/").status_code == 302
    assert client.get("/quiet-creek/today/").status_code == 302


def test_somebody_with_two_yards_is_asked_which(cast: Cast) -> None:
    Membership.objects.create(user=cast.manager.user, yard=cast.other_yard, role="crew")
    client = Client()
    client.force_login(cast.manager.user)
    text = client.get("/").content.decode()
    assert 'href="/quiet-creek/wall/"' in text
    assert 'href="/far-creek/today/"' in text


def test_somebody_without_a_yard_is_told_whom_to_ask(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.stranger)
    assert "Ask a manager" in client.get("/").content.decode()


def test_the_wrong_side_and_what_is_not_there_are_answered_in_words(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.office.user)
    refused = client.get("/quiet-creek/wall/")
    assert (refused.status_code, "not your side" in refused.content.decode()) == (403, True)
    missing = client.get("/far-creek/desk/")
    assert (missing.status_code, "nothing at this address" in missing.content.decode()) == (404, True)


def test_a_shared_phone_keeps_no_page_of_the_yard_after_log_out(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.crew.user)
    assert client.get("/quiet-creek/today/").headers["Cache-Control"] == "no-store"


# --- Days and money ---------------------------------------------------------------------------------------
def test_days_are_written_as_people_write_them() -> None:
    on = date(2027, 5, 14)
    assert (day(on), shortday(on), longday(on)) == ("Fri 14 May", "14 May", "Friday 14 May 2027")
    assert (day(None), shortday(None), longday(None)) == ("", "", "")


def test_numbers_of_days_and_words() -> None:
    assert (days_of(1), days_of(5), word("mast_crane")) == ("1 day", "5 days", "mast crane")


@pytest.mark.parametrize(
    ("minor", "currency", "says"),
    [
        (802000, "GBP", "£8,020"),
        (149, "EUR", "€1"),
        (-12000, "GBP", "−£120"),
        (5000, "NOK", "NOK 50"),
        (None, "GBP", ""),
    ],
)
def test_money_is_shown_in_whole_units_with_its_sign(minor: int | None, currency: str, says: str) -> None:
    assert money(minor, currency) == says


@pytest.mark.parametrize(
    ("minor", "says"),
    [(41_234, "£420"), (380_000, "£3,800"), (380_001, "£3,900"), (9_901, "£100"), (3_850, "£39"), (1, "£1")],
)
def test_about_how_much_is_said_in_two_figures_and_never_too_little(minor: int, says: str) -> None:
    assert about(minor) == says


# --- Cautions ---------------------------------------------------------------------------------------------
def test_every_caution_is_one_short_sentence_with_the_body_that_issues_it() -> None:
    for kind, cautions in CAUTIONS.items():
        for caution in cautions:
            assert caution.says.endswith("."), kind
            assert len(caution.says) <= 110, caution.says
            assert caution.issuer, kind
    assert "competent person" in DEFER


def test_work_that_can_hurt_someone_has_cautions() -> None:
    for kind in ("lift", "peel", "blast", "wash", "dry", "fair", "coat", "antifoul", "relaunch"):
        assert cautions_for(kind), kind
    assert cautions_for("wait") == ()
