"""The fields of the forms on which a hull is measured, washed and signed dry."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from scheduling.forms import parse_day
from scheduling.loading.measuring import Measurable
from yard.forms import Spec, number, one_of, plain, text
from yard.models import Mode, Spot
from yard.templatetags.days import shortday
from yard.trade.ranges import Doubt
from yard.trade.spots import MEAN

SURFACE = {"": None, "yes": True, "no": False}
SURFACE_SAID = (("", "not said"), ("yes", "dry"), ("no", "wet"))
MEAN_FIELD = "spot-mean"


@dataclass(frozen=True)
class SpotField:
    """One spot of the walk: its code, and the name of its field."""

    code: str
    name: str


def tenths(says: str, *, least: bool = False) -> Callable[[str], Decimal | None]:
    """A field of figures with one decimal at most; nothing where it is empty, unless it must be there."""

    def figure(typed: str) -> Decimal | None:
        if not typed and not least:
            return None
        found = number(typed) if re.fullmatch(r"[-−]?[0-9]{1,4}([.,][0-9])?", typed) else None
        if found is None:
            raise ValueError(says)
        return found

    return figure


def past_day(today: date) -> Callable[[str], date]:
    """A day that has been; today where the field is empty."""
    return lambda typed: parse_day(typed, today, past=True) if typed else today


# --- A round ----------------------------------------------------------------------------------------------
def walk(found: Measurable) -> list[SpotField]:
    """The spots a round asks for, in walking order; the mean of all where none of the hull is marked."""
    spots = [SpotField(spot.code, f"spot-{spot.pk}") for spot in found.marked]
    return [SpotField(MEAN, MEAN_FIELD), *spots] if found.mean_only else spots


def spot_specs(found: Measurable) -> list[Spec]:
    """A field for each spot of the walk, with its last reading beside it."""
    by_code = {spot.code: spot for spot in found.marked}
    return [
        Spec(
            name=one.name,
            label=_spot_label(by_code.get(one.code)),
            read=tenths("Type a reading like 14 or 14,5."),
            trade=_last(found, one.code),
        )
        for one in walk(found)
    ]


def round_specs(found: Measurable, today: date) -> list[Spec]:
    """With which meter, how deep, on which day."""
    meters = {str(meter.pk): meter for meter in found.meters}
    return [
        Spec("meter", "Meter", one_of(meters), choices=[(pk, meter.name) for pk, meter in meters.items()]),
        Spec("mode", "It reads", one_of({mode: mode for mode in Mode.values}), choices=Mode.choices),
        Spec("day_on", "Day", past_day(today), trade="like 20 Nov"),
    ]


def air_specs() -> list[Spec]:
    """What may be said of the air and the surface."""
    return [
        Spec("air_c", "Air", tenths("Type a temperature like 14 or 14,5."), unit="°C"),
        Spec("rh_pct", "Humidity", tenths("Type a humidity like 70."), unit="%"),
        Spec("surface_dry", "The hull's surface is", one_of(SURFACE), choices=SURFACE_SAID),
    ]


def round_defaults(found: Measurable, today: date) -> dict[str, Any]:
    """The meter and mode of her last round, else the yard's first meter; today."""
    last = found.rounds[0].round if found.rounds else None
    meter = last.meter if last else next(iter(found.meters), None)
    return {
        "meter": meter.pk if meter else None,
        "mode": last.mode if last else Mode.DEEP,
        "day_on": shortday(today),
    }


def unread(found: Measurable, readings: Iterable[str]) -> list[Doubt]:
    """Spots of the hull that have no figure: a slip of the thumb sends a form before it is full."""
    there = set(readings)
    hull = {spot.code for spot in found.marked if not spot.is_reference}
    left = [one.code for one in walk(found) if one.code in hull and one.code not in there]
    if not there or not left:
        return []
    some = ", ".join(left[:6]) + (f" and {len(left) - 6} more" if len(left) > 6 else "")
    return [Doubt(left[0], f"No figure at {some}: read there too, or say it is meant.")]


def _spot_label(spot: Spot | None) -> str:
    if spot is None:
        return "Mean of all spots"
    return " · ".join(
        part for part in (spot.code, spot.where, "topside" if spot.is_reference else "") if part
    )


def _last(found: Measurable, code: str) -> str:
    last = found.last_of(code)
    return f"{plain(last[0])} on {shortday(last[1])}" if last else ""


# --- A wash, a correction, a signature ----------------------------------------------------------------------
def wash_specs(today: date) -> list[Spec]:
    """When, how long, how hot."""
    return [
        Spec("wash_on", "Day", past_day(today), trade="like 20 Nov"),
        Spec("minutes", "How long", _minutes, unit="min"),
        Spec(
            "water_c",
            "Water",
            tenths("Type a temperature like 80."),
            unit="°C",
            trade="empty for a cold rinse",
        ),
        Spec("note", "Note", text()),
    ]


def sign_specs(today: date, people: dict[str, Any]) -> list[Spec]:
    """Who signs, on what beside the rounds."""
    choices = [("", "choose one"), *((pk, person.name) for pk, person in people.items())]
    return [
        Spec("by", "Who signs her dry", _signer(people), choices=choices),
        Spec("signed_on", "Day", past_day(today), trade="like 20 Nov"),
        Spec("film_test", "Film patch", one_of({"": False, "yes": True}), choices=(("", ""), ("yes", ""))),
        Spec("heat_off_h", "Heat was off before the last round for", _hours, unit="h"),
    ]


def excused_in(typed: str, spots: dict[str, str]) -> dict[str, str]:
    """Excused spots with their reasons, as typed one a line: "S7 tank behind it".

    `spots` has her codes by the same in small letters.

    Raises:
        ValueError: with a sentence, for a line that names no spot of hers or gives no reason.
    """
    found: dict[str, str] = {}
    for line in typed.splitlines():
        if not line.strip():
            continue
        code, _, why = line.strip().replace(":", " ", 1).partition(" ")
        if code.casefold() not in spots:
            raise ValueError(f"She has no spot {code}: begin each line with a spot's code, like S7.")
        if not why.strip(" ,.-–"):
            raise ValueError(f"Say why {spots[code.casefold()]} is excused, on the same line.")
        found[spots[code.casefold()]] = why.strip(" ,-–")
    return found


def _minutes(typed: str) -> int | None:
    if not typed:
        return None
    if not re.fullmatch(r"[0-9]{1,4}", typed):
        raise ValueError("Type whole minutes like 90, or leave it empty.")
    return int(typed)


def _hours(typed: str) -> Decimal | None:
    hours = tenths("Type hours like 24, or leave it empty.")(typed)
    if hours is not None and hours < 0:
        raise ValueError("Hours can't be below 0: type how long the heat was off.")
    return hours


def _signer(people: dict[str, Any]) -> Callable[[str], Any]:
    def chosen(typed: str) -> Any:
        if not typed:
            raise ValueError("Say who signs her dry.")
        return one_of(people)(typed)

    return chosen
