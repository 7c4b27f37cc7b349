"""May we coat now: the answer first, then the figure that decides, then what would make it a yes."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client

from tests.cast import TODAY, Cast
from yard.models import Entry, YardSettings

AIR = "/quiet-creek/air/"
GOOD = {
    "air_c": "20",
    "rh_pct": "50",
    "hull_c": "19",
    "hull_before_c": "18,5",
    "hull_before_h": "4",
    "night_c": "14",
    "heat": "yes",
    "watch": "Ines",
}


@pytest.fixture(autouse=True)
def today(settings: Any) -> None:
    settings.SHEDTIDE_TODAY = TODAY


@pytest.fixture
def crew(cast: Cast) -> Client:
    client = Client()
    client.force_login(cast.crew.user)
    return client


def said(answer: Any) -> str:
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))
    return unescape(text).replace("\u00a0", " ")


def test_the_bare_page_asks_and_gives_no_answer(crew: Client) -> None:
    text = said(crew.get(AIR))
    assert "May we coat now?" in text and "Do not coat." not in text and "No answer yet" not in text


def test_a_yes_says_coat_and_what_is_closest_to_its_limit(crew: Client) -> None:
    text = said(crew.get(AIR, GOOD))
    assert "Coat. Closest to its limit: " in text and "Do not coat." not in text
    assert "Dew point 9.26 °C; the hull is 9.74 °C above it." in text


def test_a_no_says_so_first_then_the_figure_that_decides_then_what_makes_it_a_yes(crew: Client) -> None:
    text = said(crew.get(AIR, GOOD | {"air_c": "15", "rh_pct": "80", "hull_c": "14", "hull_before_c": "14"}))
    order = (
        "Do not coat.",
        "above the dew point of 11.58 and must be 3 above it, out by 0.58 °C.",
        "What makes it a yes",
        "Warm the hull to 14.6 °C, or bring the air to 76 % or drier at 15 °C.",
        "Dew point 11.58 °C",
    )
    places = [text.index(words) for words in order]
    assert places == sorted(places)


def test_what_nobody_said_is_a_no_that_names_it(crew: Client) -> None:
    text = said(crew.get(AIR, {"air_c": "20", "rh_pct": "50", "hull_c": "19"}))
    assert "Do not coat." in text
    for words in ("Nobody knows how cold tonight gets.", "Nobody said whether the heat is on tonight."):
        assert words in text


def test_the_yard_s_own_limits_decide(cast: Cast, crew: Client) -> None:
    YardSettings.objects.filter(yard=cast.yard).update(margin_c=10, least_hull_c=15)
    text = said(crew.get(AIR, GOOD))
    assert "Do not coat." in text and "must be 10 above it, out by 0.26 °C." in text
    assert "hull 10 °C above the dew point and 15 °C at least" in text


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"air_c": "68"}, "68 °C? That reads like Fahrenheit: 20.0 °C. Say which."),
        ({"rh_pct": "0,5"}, "0.5 %? That reads like a fraction: 50 %. Say which."),
        ({"hull_before_c": "66"}, "66 °C? That reads like Fahrenheit"),
        ({"night_c": "57"}, "57 °C? That reads like Fahrenheit"),
        ({"hull_c": "45", "air_c": "15"}, "A hull 30 °C warmer than the air?"),
    ],
)
def test_a_slip_is_asked_about_before_any_answer(crew: Client, typed: dict[str, str], words: str) -> None:
    asked = crew.get(AIR, GOOD | typed)
    text = said(asked)
    assert words in text and "No answer yet" in text
    assert '<section class="answer' not in asked.content.decode()
    meant = crew.get(AIR, GOOD | typed | {"sure": "yes"})
    assert '<section class="answer' in meant.content.decode()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"air_c": "warm"}, "Type a number like 6 or 6,5."),
        ({"rh_pct": ""}, "Without this figure there is no answer"),
        ({"rh_pct": "180"}, "A humidity of 180 % cannot be: give one from 0 to 100 %."),
        ({"rh_pct": "0"}, "0 %"),
        ({"air_c": "99"}, "If it is in Fahrenheit, give 37.2."),
        ({"night_c": "-60"}, "An air temperature of -60 °C cannot be"),
        ({"hull_before_h": "-1"}, "give more than 0 hours"),
        ({"hull_before_h": ""}, "together with how many hours before"),
    ],
)
def test_what_cannot_be_gets_one_sentence_and_no_answer(
    crew: Client, typed: dict[str, str], words: str
) -> None:
    answer = crew.get(AIR, GOOD | typed)
    assert answer.status_code == 200 and words in said(answer)
    name, html = next(iter(typed)), answer.content.decode()
    assert "<title>Error: " in html and f'id="{name}-wrong"' in html and f'href="#{name}"' in html
    assert '<section class="answer' not in answer.content.decode()
    assert 'value="18,5"' in answer.content.decode(), "what was typed stays"


def test_the_cautions_for_coats_are_there_and_defer(crew: Client) -> None:
    text = said(crew.get(AIR))
    assert "Before you mix: cautions" in text and "Local rules and the competent person decide." in text


def test_asking_writes_nothing(cast: Cast, crew: Client) -> None:
    before = Entry.objects.count()
    crew.get(AIR, GOOD)
    assert Entry.objects.count() == before and crew.post(AIR, GOOD).status_code == 405


def test_who_asks_is_proposed_as_the_watch(crew: Client) -> None:
    assert 'value="Hand"' in crew.get(AIR).content.decode()
