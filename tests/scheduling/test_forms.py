"""What people type: days in several forms, and hours."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from scheduling.forms import NotADay, parse_day, parse_hours

TODAY = date(2026, 11, 24)


@pytest.mark.parametrize(
    "text",
    [
        "27 3 2027",
        "27/3/27",
        "27.03.2027",
        "27-3-2027",
        "27 Mar",
        "27 march 2027",
        "Sat 27 Mar",
        "Sat, 27 Mar 27",
        " 2027-03-27 ",
        "the 27th of March",
        "27.3.",
        "Mar 27",
        "March 27, 2027",
        "Saturday 27 Mar",
    ],
)
def test_a_day_is_read_in_every_form_people_type(text: str) -> None:
    assert parse_day(text, TODAY) == date(2027, 3, 27)


def test_a_day_without_a_year_is_the_next_one_to_come() -> None:
    assert parse_day("24 Nov", TODAY) == TODAY
    assert parse_day("23 Nov", TODAY) == date(2027, 11, 23)
    assert parse_day("29 Feb", TODAY) == date(2028, 2, 29)


def test_a_day_that_has_been_is_the_last_one_without_a_year() -> None:
    assert parse_day("24 Nov", TODAY, past=True) == TODAY
    assert parse_day("25 Nov", TODAY, past=True) == date(2025, 11, 25)
    assert parse_day("29 Feb", TODAY, past=True) == date(2024, 2, 29)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "soon",
        "0 3 2027",
        "27",
        "27 3 20277",
        "2027-13-01",
        "٢٧ 3 2027",
        "27 Mar 2027 x",
        "12 J",
        "9" * 400,
        "27\x003",
    ],
)
def test_what_is_no_day_is_refused_with_how_to_type_one(text: str) -> None:
    with pytest.raises(NotADay, match="27 Mar"):
        parse_day(text, TODAY)


@pytest.mark.parametrize("text", ["31 2 2027", "31/02/27", "2027-02-31", "31 Feb 2027"])
def test_a_day_that_its_month_does_not_have_is_named(text: str) -> None:
    with pytest.raises(NotADay, match="There is no 31 February in 2027"):
        parse_day(text, TODAY)


def test_a_weekday_that_does_not_fit_its_date_is_asked_about() -> None:
    with pytest.raises(NotADay, match="Saturday 27 March 2027 is no Friday"):
        parse_day("Fri 27 March", TODAY)


@pytest.mark.parametrize(("text", "hours"), [("6", "6"), ("6,5", "6.5"), (" 7.25 ", "7.25")])
def test_hours_are_read_with_point_or_comma(text: str, hours: str) -> None:
    assert parse_hours(text) == Decimal(hours)


def test_no_hours_are_none() -> None:
    assert parse_hours("  ") is None


@pytest.mark.parametrize("text", ["0", "25", "-3", "six", "6h", "1e1", "٦", "nan"])
def test_what_are_no_hours_of_a_day_is_refused_in_words(text: str) -> None:
    with pytest.raises(ValueError, match="at most 24"):
        parse_hours(text)
