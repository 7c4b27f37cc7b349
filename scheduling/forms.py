"""What people type: days in several forms, hours, and the forms that take them."""

import re
from datetime import date
from decimal import Decimal, InvalidOperation

from yard.templatetags.days import MONTHS, WEEKDAYS, longday

PIECES = re.compile(
    r"^(?:(?P<weekday>[a-z]+day|mon|tues?|wed|thurs?|fri|sat|sun)\.?,?\s+)?(?:the\s+)?"
    r"(?:(?P<day>\d{1,2})(?:st|nd|rd|th)?(?:\s+of)?[\s./-]+(?P<month>[a-z]+|\d{1,2})"
    r"|(?P<named>[a-z]{3,})\.?\s+(?P<then>\d{1,2})(?:st|nd|rd|th)?)"
    r"[\s.,/-]*(?P<year>(?<=[\s.,/-])(?:\d{4}|\d{2}))?$"
)
"""A day as typed: 27 3 27, Sat 27th of March, March 27 2027. Where the month is a number it comes second."""


YEARS = range(2000, 2200)
"""Years that a yard's day can lie in; others are slips of the finger, and break arithmetic."""


class NotADay(ValueError):
    """What was typed is no day; the sentence says why, or how to type one."""

    def __init__(self, says: str = "Type a day like 27 3 2027, 27/3/27 or 27 Mar.") -> None:
        super().__init__(says)


def parse_day(text: str, today: date, *, past: bool = False) -> date:
    """Read a day as people type it: 27 3 2027, 27/3/27, 27 Mar, Sat 27 March 2027, 2027-03-27.

    Without a year it is the next such day from `today` on; with `past` the last one until `today`.

    Raises:
        NotADay: for anything else, for a day its month does not have, and for another weekday than it is.
    """
    text = text.strip().lower()
    iso = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)", text, re.ASCII)
    day = _day(*map(int, iso.groups())) if iso else _typed(text, today, past)
    if day.year not in YEARS:
        raise NotADay
    return day


def _typed(text: str, today: date, past: bool) -> date:
    found = PIECES.match(text) if text.isascii() else None
    if not found:
        raise NotADay
    number, word, year = int(found["day"] or found["then"]), found["month"] or found["named"], found["year"]
    month = int(word) if word.isdigit() else _month(word)
    if year:
        day = _day(int(year) + (2000 if len(year) == 2 else 0), month, number)
    else:
        day = _nearest(month, number, today, past)
    weekday = WEEKDAYS[day.weekday()]
    if found["weekday"] and not weekday.lower().startswith(found["weekday"]):
        meant = next((name for name in WEEKDAYS if name.lower().startswith(found["weekday"])), "such day")
        raise NotADay(f"{longday(day)} is no {meant}: say which of the two you mean.")
    return day


def _nearest(month: int, number: int, today: date, past: bool) -> date:
    """The next such day from `today` on, or the last until then; 29 Feb comes again within eight years."""
    for years in range(9):
        year = today.year - years if past else today.year + years
        try:
            day = date(year, month, number)
        except ValueError:
            continue
        if day == today or (day < today) == past:
            return day
    if 1 <= month <= 12 and 1 <= number <= 31:
        raise NotADay(f"There is no {number} {MONTHS[month - 1]}.")
    raise NotADay


def _day(year: int, month: int, number: int) -> date:
    try:
        return date(year, month, number)
    except ValueError as error:
        if 1 <= month <= 12 and 1 <= number <= 31 and year in YEARS:
            raise NotADay(f"There is no {number} {MONTHS[month - 1]} in {year}.") from error
        raise NotADay from error


def _month(word: str) -> int:
    matches = [
        number for number, name in enumerate(MONTHS, 1) if len(word) >= 3 and name.lower().startswith(word)
    ]
    if len(matches) != 1:
        raise NotADay
    return matches[0]


def parse_hours(text: str) -> Decimal | None:
    """Read hours [h] as typed, "6", "6.5" or "6,5"; None for nothing.

    Raises:
        ValueError: with a sentence, for what is no number of hours of one day.
    """
    text = text.strip().replace(",", ".")
    if not text:
        return None
    try:
        hours = Decimal(text) if re.fullmatch(r"\d{1,2}(\.\d{1,2})?", text, re.ASCII) else None
    except InvalidOperation:
        hours = None
    if hours is None or not 0 < hours <= 24:
        raise ValueError("Hours are a number like 6 or 6,5, at most 24; leave it empty if you don't know.")
    return hours
