"""What people type: days in several forms, hours, and the forms that take them."""

import re
from datetime import date
from decimal import Decimal, InvalidOperation

from yard.templatetags.days import MONTHS

PIECES = re.compile(
    r"^(?:[a-z]+,?\s+)?(\d{1,2})(?:st|nd|rd|th)?[\s./-]+([a-z]+|\d{1,2})\.?(?:[\s./-]+(\d{4}|\d{2}))?$"
)


YEARS = range(2000, 2200)
"""Years that a yard's day can lie in; others are slips of the finger, and break arithmetic."""


class NotADay(ValueError):
    """What was typed is no day; the sentence says how to type one."""

    def __init__(self) -> None:
        super().__init__("Type a day like 27 3 2027, 27/3/27 or 27 Mar.")


def parse_day(text: str, today: date) -> date:
    """Read a day as people type it: 27 3 2027, 27/3/27, 27 Mar, Sat 27 March 2027, 2027-03-27.

    Without a year it is the next such day from `today` on.

    Raises:
        NotADay: for anything else.
    """
    text = text.strip().lower()
    iso = re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.ASCII)
    try:
        day = date.fromisoformat(text) if iso else _typed(text, today)
    except ValueError as error:
        raise NotADay from error
    if day.year not in YEARS:
        raise NotADay
    return day


def _typed(text: str, today: date) -> date:
    found = PIECES.match(text) if text.isascii() else None
    if not found:
        raise NotADay
    number, word, year = found.groups()
    month = int(word) if word.isdigit() else _month(word)
    if year:
        return date(int(year) + (2000 if len(year) == 2 else 0), month, int(number))
    for candidate in range(today.year, today.year + 9):  # 29 Feb comes again within eight years
        try:
            found_day = date(candidate, month, int(number))
        except ValueError:
            continue
        if found_day >= today:
            return found_day
    raise NotADay


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
