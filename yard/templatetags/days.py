"""Days and money as people write them, in British English whatever the machine speaks."""

from collections.abc import Mapping
from datetime import date
from math import ceil
from types import MappingProxyType
from typing import Any

from django import template

register = template.Library()

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
SIGNS: Mapping[str, str] = MappingProxyType({"GBP": "£", "EUR": "€", "USD": "$"})


@register.filter
def day(value: date | None) -> str:
    """Say a day as "Tue 24 Nov"; nothing for no day."""
    return f"{WEEKDAYS[value.weekday()][:3]} {value.day} {MONTHS[value.month - 1][:3]}" if value else ""


@register.filter
def shortday(value: date | None) -> str:
    """Say a day as "24 Nov"."""
    return f"{value.day} {MONTHS[value.month - 1][:3]}" if value else ""


@register.filter
def longday(value: date | None) -> str:
    """Say a day as "Friday 14 May 2027"."""
    return f"{WEEKDAYS[value.weekday()]} {value.day} {MONTHS[value.month - 1]} {value.year}" if value else ""


@register.filter
def money(minor: Any, currency: str = "GBP") -> str:
    """An amount in minor units, rounded to whole ones: 802000 is "£8,020"."""
    if minor is None:
        return ""
    whole = round(int(minor) / 100)
    return f"{'−' if whole < 0 else ''}{SIGNS.get(currency, currency + ' ')}{abs(whole):,}"


@register.filter
def about(minor: int, currency: str = "GBP") -> str:
    """An amount in minor units in two figures and never too little: 41234 is "£420"."""
    whole = ceil(minor / 100)
    step = 10 ** max(len(str(whole)) - 2, 0)
    return money(ceil(whole / step) * step * 100, currency)


@register.filter
def days_of(count: int) -> str:
    """Say a number of days: "1 day", "5 days"."""
    return f"{count} day{'' if count == 1 else 's'}"


@register.filter
def sentence(text: str) -> str:
    """A text as a sentence: a capital first, a stop last."""
    text = text.strip()
    return capital(text) + ("" if not text or text[-1] in ".!?…" else ".")


def capital(text: str) -> str:
    """The text with a capital first."""
    return text[:1].upper() + text[1:]


@register.filter
def word(value: Any) -> str:
    """A stored word as it is said: in_person is "in person"."""
    return str(value).replace("_", " ")
