"""Forms of the set-up pages: fields with a label and a unit, read one by one, so that each can say in one
sentence what is wrong while all that was typed stays."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from yard.actions.base import Refused, Stale
from yard.actions.importing.cells import Number

Choices = Sequence[tuple[str, str]]

FEET = Number(places=3, digits=7)
"""Feet as they are typed, to metres as they are stored."""


@dataclass(frozen=True)
class Spec:
    """A field: its name in the action, its label, the unit, what the trade says beside it, how it is read.

    `read` takes the text typed and raises ValueError with one sentence.
    """

    name: str
    label: str
    read: Callable[[str], Any]
    unit: str = ""
    trade: str = ""
    group: str = ""
    choices: Choices = ()


@dataclass(frozen=True)
class Field:
    """A field as the page shows it. `stored` is what stands in the records now, where that is not `value`."""

    spec: Spec
    value: str
    stored: str
    wrong: str


@dataclass
class Sent:
    """What came of a form: the record if it is saved, else the sentences by field ("" for the whole)."""

    saved: Any = None
    wrong: Mapping[str, str] | None = None
    status: int = 200


def fields(
    specs: Sequence[Spec],
    stored: Mapping[str, Any],
    typed: Mapping[str, str] | None = None,
    wrong: Mapping[str, str] | None = None,
) -> list[Field]:
    """The fields with what was typed, else with what is stored."""
    found = []
    for spec in specs:
        kept = plain(stored.get(spec.name))
        value = kept if typed is None else text_in(typed, spec.name)
        found.append(
            Field(
                spec, value, "" if same(value, kept) else _told(spec, kept), (wrong or {}).get(spec.name, "")
            )
        )
    return found


def mistakes(specs: Sequence[Spec], wrong: Mapping[str, str] | None) -> list[tuple[str, str, str]]:
    """What is wrong, for the head of the form: field, group and label in words, and the sentence."""
    labels = {
        spec.name: f"{spec.group}, {spec.label.lower()}" if spec.group else spec.label for spec in specs
    }
    return [(name, labels.get(name, ""), says) for name, says in (wrong or {}).items()]


def send(
    specs: Sequence[Spec], typed: Mapping[str, str], save: Callable[[dict[str, Any], int | None], Any]
) -> Sent:
    """Read all fields and, if each can be read, save them over the version that was looked at.

    `save` gets the values by name and the version (None where the form says there was nothing yet).
    """
    values, wrong = read(specs, typed)
    if wrong:
        return Sent(wrong=wrong, status=422)
    version = text_in(typed, "version")
    try:
        return Sent(saved=save(values, int(version) if re.fullmatch(r"[0-9]{1,9}", version) else None))
    except Refused as no:
        known = no.field if no.field in {spec.name for spec in specs} else ""
        return Sent(wrong={known: no.sentence}, status=no.status)
    except Stale as no:
        return Sent(wrong={"": no.sentence}, status=no.status)


def text_in(typed: Mapping[str, str], name: str) -> str:
    """What was typed into a field, without blanks around it and without what no database takes."""
    return typed.get(name, "").replace("\x00", "").strip()


def read(specs: Sequence[Spec], typed: Mapping[str, str]) -> tuple[dict[str, Any], dict[str, str]]:
    """What was typed by name, and one sentence for each field that can't be read."""
    values: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    for spec in specs:
        try:
            values[spec.name] = spec.read(text_in(typed, spec.name))
        except ValueError as no:
            wrong[spec.name] = str(no)
    return values, wrong


# --- How a field is read ----------------------------------------------------------------------------------
def number(text: str) -> Decimal:
    """A number as people type it, 6,5 or 6.5, also below zero.

    Raises:
        ValueError: for anything else, with a sentence.
    """
    found = text.replace(",", ".").replace("−", "-")
    if not re.fullmatch(r"-?[0-9]{1,12}(\.[0-9]{1,6})?", found):
        raise ValueError("Type a number like 6 or 6,5." if text else "Type a number; 0 for none.")
    return Decimal(found)


def number_or_none(text: str) -> Decimal | None:
    """A number, or nothing where the field is left empty.

    Raises:
        ValueError: as `number`.
    """
    return number(text) if text else None


def length(*, feet: bool) -> Callable[[str], Decimal]:
    """A length as people say it, in metres [m]: 10,2 or 10.2 m, 33 ft, 33' 6". A bare number is metres, or
    feet where the yard measures in `feet`. It may not be empty and is above nought."""

    def metres(text: str) -> Decimal:
        spoken = re.sub(r"feet|foot|′|’", lambda found: "ft" if len(found[0]) > 1 else "'", text.lower())
        try:
            if "'" in spoken or "ft" in spoken or (feet and not spoken.endswith("m")):
                found = FEET.read_feet(re.sub(r"^(\d+[.,]\d+)\s*(ft|')$", r"\1", spoken))
            else:
                found = number(spoken.removesuffix("m").rstrip())
        except (ValueError, ArithmeticError) as no:
            raise ValueError("Type a length like 10,2 or 33 ft.") from no
        if found <= 0:
            raise ValueError("A length is more than 0.")
        return found

    return metres


def whole(text: str) -> int:
    """A whole number from 0.

    Raises:
        ValueError: for anything else, with a sentence.
    """
    if not re.fullmatch(r"[0-9]{1,4}", text):
        raise ValueError("Type a whole number like 4; 0 for none.")
    return int(text)


def text(least: str = "") -> Callable[[str], str]:
    """A field of words; with a sentence in `least`, one that may not be empty."""

    def words(typed: str) -> str:
        if least and not typed:
            raise ValueError(least)
        return typed

    return words


def one_of(choices: Mapping[str, Any]) -> Callable[[str], Any]:
    """One of the choices, by its key."""

    def chosen(typed: str) -> Any:
        if typed not in choices:
            raise ValueError("Choose one of the list.")
        return choices[typed]

    return chosen


# --- How a value is written -------------------------------------------------------------------------------
def plain(value: Any) -> str:
    """A stored value as somebody would type it: 6.50 is "6.5", nothing is ""."""
    if isinstance(value, Decimal):
        return f"{value:f}".rstrip("0").rstrip(".") if "." in f"{value:f}" else f"{value:f}"
    return "" if value is None else str(value)


def same(typed: str, stored: str) -> bool:
    """Whether what was typed is what is stored, however the number is written."""
    try:
        return number(typed) == number(stored)
    except ValueError:
        return typed == stored


def _told(spec: Spec, stored: str) -> str:
    """What is stored, in the words of the choices where the field has some."""
    return dict(spec.choices).get(stored, stored) or "nothing"
