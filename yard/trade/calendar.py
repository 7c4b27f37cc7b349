"""Which days a yard works: its weekdays, the bank holidays of its nation, and its own closed and opened
days.

Bank holidays come from the `holidays` library, which follows the Banking and Financial Dealings Act 1971 and
the proclamations published by the governments of the four nations. A one-off day is often proclaimed late,
and Scotland's days are local custom: the manager adds or opens such a day as one of the yard's own, which
overrules all else.
"""

from collections.abc import Mapping
from datetime import date, timedelta

import holidays

NATIONS = {"ENG": "ENG", "WLS": "WLS", "SCT": "SCT", "NIR": "NIR"}
"""Yard's nation to the subdivision of the `holidays` library (package data, published dates)."""

NO_NATION = "none"
"""A yard that keeps no nation's bank holidays."""


def bank_holidays(nation: str, first: date, last: date) -> dict[date, str]:
    """Bank holidays on weekdays from `first` to `last`, with their names; none where the yard names no
    nation.

    The library lists a holiday that falls on a weekend as well as the weekday that stands in for it: only
    the weekday is kept, since a weekend has its own rule.

    Raises:
        ValueError: if the nation is none of `NATIONS` nor `NO_NATION`.
    """
    if nation == NO_NATION:
        return {}
    if nation not in NATIONS:
        raise ValueError(
            f"“{nation}” is no nation with bank holidays here: give {', '.join(NATIONS)} or {NO_NATION}."
        )
    years = range(first.year, last.year + 1)
    found = holidays.country_holidays("GB", subdiv=NATIONS[nation], years=years)
    return {day: name for day, name in sorted(found.items()) if first <= day <= last and day.weekday() < 5}


def closed_days(
    first: date, last: date, *, open_weekdays: str, nation: str, rules: Mapping[date, tuple[bool, str]]
) -> dict[date, str]:
    """Each day from `first` to `last` on which the yard doesn't work, with the reason.

    `open_weekdays` has seven characters, Monday first, 1 = open; `rules` are the yard's own days (open?,
    why) and overrule both weekdays and bank holidays.

    Raises:
        ValueError: if `open_weekdays` is not seven times 0 or 1, or as `bank_holidays`.
    """
    if len(open_weekdays) != 7 or set(open_weekdays) - {"0", "1"}:
        raise ValueError(f"“{open_weekdays}” is no week: give seven characters, Monday first, 1 for open.")
    bank = bank_holidays(nation, first, last)
    closed: dict[date, str] = {}
    for day in days_between(first, last):
        if day in rules:
            is_open, why = rules[day]
            if not is_open:
                closed[day] = why
        elif open_weekdays[day.weekday()] != "1":
            closed[day] = day.strftime("%A")
        elif day in bank:
            closed[day] = bank[day]
    return closed


def days_between(first: date, last: date) -> list[date]:
    """Every day from `first` to `last`, both inclusive."""
    return [first + timedelta(days=i) for i in range((last - first).days + 1)]
