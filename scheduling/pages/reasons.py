"""Why a plan has a boat when it has her: each reason in words, with a way to what can change it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from django.urls import reverse
from django.utils.http import urlencode

from scheduling.loading.winter import BoatWinter, Winter
from yard.models import Role, Stage, StageKind
from yard.roles import Actor
from yard.templatetags.days import day, sentence

Entry = Mapping[str, Any]
"""One reason as it is stored, see `Reasons`."""

OWN = frozenset(("step", "begun"))
"""Kinds of reason that only say that another stage of hers is in the way."""


@dataclass(frozen=True)
class Said:
    """One reason in a sentence; `way` are the words of the link to what can change it, if there is one."""

    says: str
    way: str = ""
    href: str = ""


@dataclass(frozen=True)
class Chain:
    """For a late boat: the first reason that is not just her stage before, and all from her last stage on."""

    first: Said
    links: list[Said]


@dataclass(frozen=True)
class Reader:
    """Whose eyes the reasons are for, and whether it is the posted plan that they are of."""

    winter: Winter
    who: Actor
    posted: bool
    stages: Mapping[int, Stage]


def reader_of(winter: Winter, who: Actor, *, posted: bool) -> Reader:
    """Who reads the reasons of the posted plan, or of a draft."""
    return Reader(winter, who, posted, {stage.pk: stage for boat in winter.boats for stage in boat.stages})


def of_stages(reader: Reader, boat: BoatWinter, entries: Sequence[Entry]) -> dict[int, list[Said]]:
    """Why each of her planned stages starts no earlier, by stage.

    That a part of a stage follows the part before needs no words.
    """
    found: dict[int, list[Said]] = {}
    for stage in boat.stages:
        hers = [one for one in entries if one["stage"] == stage.pk]
        said = [
            _said(reader, one, _without(one["says"], _part_name(stage, one["part"])))
            for one in hers
            if not (one["kind"] in OWN and stage.pk in one["pks"])
        ]
        if said:
            found[stage.pk] = said
    return found


def chain_of(reader: Reader, boat: BoatWinter, entries: Sequence[Entry]) -> Chain | None:
    """The reasons from her last stage back to a fact or today; her own stages that only follow each other
    are told as one."""
    if not entries:
        return None
    first = next((one for one in entries if one["kind"] not in OWN), None)
    links = []
    for (_, own), run in groupby(entries, key=lambda one: (one["treatment"], one["kind"] in OWN)):
        its = list(run)
        if own and len(its) > 1:
            back_to = reader.stages.get(its[-1]["pks"][0])
            more = f", and so on back to {back_to.name}" if back_to else ""
            links.append(_said(reader, its[-1], _named(reader, boat, its[0]) + more))
        else:
            links += [_said(reader, one, _named(reader, boat, one)) for one in its]
    return Chain(_said(reader, first, _named(reader, boat, first)) if first else links[0], links)


def _part_name(stage: Stage, part: int) -> str:
    return f"{stage.name} {part} of {stage.parts}" if part else stage.name


def _without(says: str, name: str) -> str:
    return says.removeprefix(f"{name} ")


def _named(reader: Reader, boat: BoatWinter, entry: Entry) -> str:
    """A reason with its stage, and with its boat where that is another one."""
    stage, says = reader.stages.get(entry["stage"]), str(entry["says"])
    if stage is not None and stage.name not in says and not says.startswith("she "):
        says = f"{stage.name} {says}" if says.startswith("waits ") else f"{stage.name}: {says}"
    other = reader.winter.boat(entry["treatment"])
    return says if other is None or other is boat else f"{other.name}: {says}"


def _said(reader: Reader, entry: Entry, says: str) -> Said:
    if entry["whom"] and reader.who.role != Role.CREW:
        says = f"{says}: {entry['whom']}"
    way, href = _way(reader, entry)
    return Said(sentence(says), way, href)


def _way(reader: Reader, entry: Entry) -> tuple[str, str]:
    """The words and the address of what can change it, both empty where nothing the reader may see can."""
    slug, role = reader.who.yard.slug, reader.who.role
    other = reader.winter.boat(entry["by"]) if entry["by"] else None
    if other is not None:
        return f"See {other.name}", reverse("boat", args=[slug, other.treatment.boat_id])
    her = reader.winter.boat(entry["treatment"])
    if her is None:
        return "", ""
    page = reverse("boat", args=[slug, her.treatment.boat_id])
    match entry["kind"]:
        case "step" | "begun":
            before = reader.stages.get(entry["pks"][0])
            if before is not None and before.kind == StageKind.DRY:
                return "See how fast hulls dry", reverse("norms", args=[slug])
            scheme = her.treatment.scheme
            return f"See scheme {scheme.name}", reverse("scheme", args=[slug, scheme.pk])
        case "hold" if entry["stage"] in her.holds:
            return "See what she waits for", f"{page}#held"
        case "hold" if role != Role.CREW:
            return "See what was promised", f"{reverse('desk', args=[slug])}?{urlencode({'q': her.name})}"
        case "today":
            return "", ""
        case "gate":
            return "See how she dries", f"{page}#drying"
    return _on_the_wall(reader, entry) if role == Role.MANAGER else ("", "")


def _on_the_wall(reader: Reader, entry: Entry) -> tuple[str, str]:
    """The Wall from the week on in which it stops being in the way, or she could start."""
    money = entry["rule"] == "cost"
    on = (entry["start"] if money else entry["until"]) or entry["start"]
    if on is None:
        return "", ""
    looked_at = {"weeks": 8, "from": on} | ({"plan": "posted"} if reader.posted else {})
    wall = reverse("wall", args=[reader.who.yard.slug])
    return f"See {day(date.fromisoformat(on))} on the Wall", f"{wall}?{urlencode(looked_at)}"
