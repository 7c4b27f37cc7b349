"""Which days a yard works: its weekdays, the bank holidays of its nation, and its own closed and opened
days."""

from collections.abc import Mapping
from datetime import date, timedelta

import holidays

NATIONS = {"ENG": "ENG", "WLS": "WLS", "SCT": "SCT", "NIR": "NIR"}
"""Yard's nation to the subdivision of the `holidays` library (package data, published dates)."""


def bank_holidays(nation: str, first: date, last: date) -> dict[date, str]:
    """Bank holidays on weekdays from `first` to `last`, with their names; none where the yard names no
    nation."""
    if nation not in NATIONS:
        return {}
    years = range(first.year, last.year + 1)
    found = holidays.country_holidays("GB", subdiv=NATIONS[nation], years=years)
    return {day: name for day, name in sorted(found.items()) if first <= day <= last and day.weekday() < 5}


def closed_days(
    first: date, last: date, *, open_weekdays: str, nation: str, rules: Mapping[date, tuple[bool, str]]
) -> dict[date, str]:
    """Each day from `first` to `last` on which the yard doesn't work, with the reason.

    `open_weekdays` has seven characters, Monday first, 1 = open; `rules` are the yard's own days (open?,
    why) and overrule both
    weekdays and bank holidays.
    """
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
