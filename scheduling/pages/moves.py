"""What a draft moves of the posted plan, boat by boat, each with its reason; the promises it would miss."""

import sys
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from scheduling.loading.odds import forecasts_of
from scheduling.loading.winter import BoatWinter, Winter
from scheduling.models import Plan
from scheduling.pages.sentences import KIND
from yard.models import Status
from yard.templatetags.days import day, days_of, money

MOST = 40
"""So many placements are listed one by one; beyond it each boat has her first, and how many more."""

Entry = Mapping[str, Any]
"""One move as it is stored, see `Plan.moves`."""


@dataclass(frozen=True)
class Move:
    """One placement that moves, in words; whether it is one of the days that are frozen."""

    says: str
    frozen: bool


@dataclass(frozen=True)
class BoatMoves:
    """All that moves of one boat, `more` of it not listed, and why; `others` in her way end the sentence."""

    boat: BoatWinter
    why: str
    others: list[BoatWinter]
    moves: list[Move]
    more: int


@dataclass(frozen=True)
class Told:
    """A promise that this draft would miss or put at risk, and how."""

    boat: BoatWinter
    says: str


@dataclass(frozen=True)
class Moves:
    """What a draft moves: how many placements, the boats in the order of their first day; the promises it
    would miss, or miss by more than the posted plan, and those it puts at risk. `unsaid`: something moves,
    but what and why is not stored with it."""

    count: int
    unsaid: bool
    boats: list[BoatMoves]
    missed: list[Told]
    at_risk: list[Told]


def moves_of(winter: Winter, draft: Plan) -> Moves:
    """What moves if this draft is posted."""
    boats = {boat.treatment.pk: boat for boat in winter.boats}
    groups = [
        (boats[pk], list(its))
        for pk, its in groupby(draft.moves, key=lambda one: one["treatment"])
        if pk in boats
    ]
    count = sum(len(its) for _, its in groups)
    shown = None if count <= MOST else 1
    told = []
    for boat, its in sorted(groups, key=lambda group: _first(group[1])):
        others = _others(boats, its[0])
        because = why(winter, its[0]).removesuffix(_names(others))
        listed = [Move(says(winter, draft, boat, one), one["frozen"]) for one in its[:shown]]
        told.append(BoatMoves(boat, because, others, listed, len(its) - len(listed)))
    broken = missed(winter, draft)
    risky = at_risk(winter, draft, {one.boat.treatment.pk for one in broken}) if count or broken else []
    return Moves(count, not count and _differs(winter, draft), told, broken, risky)


def _differs(winter: Winter, draft: Plan) -> bool:
    """Whether any stage that has not begun is elsewhere, on another day, or out, other than it is posted."""
    for boat in winter.boats:
        waiting = {stage.pk for stage in boat.stages if stage.status == Status.WAITING}
        now, was = (
            {
                (row.stage_id, row.part): (row.bay_id, row.first_day)
                for row in boat.placed.get(plan.pk, ())
                if row.stage_id in waiting
            }
            for plan in (draft, winter.posted or draft)
        )
        if now != was:
            return True
    return False


def at_risk(winter: Winter, draft: Plan, but: Collection[int]) -> list[Told]:
    """Promises in time by the draft, of other boats than those, that become tight or miss by their odds; 2
    queries."""
    settings = winter.settings
    now, was = ({row.treatment_id: row for row in forecasts_of(plan)} for plan in (draft, winter.posted))
    found = []
    for boat in winter.boats:
        pk = boat.treatment.pk
        rows = [odds[pk] for odds in (was, now) if pk in odds and odds[pk].promise_date == boat.due]
        if boat.promise is None or pk in but or len(rows) < 2:
            continue
        before, after = (row.odds_pct or 0 for row in rows)
        if any(after < line <= before for line in (settings.at_risk_pct, settings.watch_pct)):
            says = f"{_promised(boat)}: odds of {after}\u00a0%, {before}\u00a0% as posted"
            found.append((after, Told(boat, says)))
    return [one for _, one in sorted(found, key=lambda pair: pair[0])]


def missed(winter: Winter, draft: Plan) -> list[Told]:
    """Promises that the draft misses, or misses by more than the posted plan, the worst first."""
    found = []
    for boat in winter.boats:
        if boat.promise is None:
            continue
        now, was = boat.late_days(draft), boat.late_days(winter.posted)
        if draft.pk in boat.unplaced and was is not None:
            found.append((sys.maxsize, Told(boat, f"{_promised(boat)}: left out")))
        elif now is not None and now > max(was or 0, 0):
            late = f"{_promised(boat)}: {days_of(now)} late"
            found.append((now, Told(boat, late if was is None else f"{late}, {_was(was)} as posted")))
    return [one for _, one in sorted(found, key=lambda pair: -pair[0])]


def why(winter: Winter, one: Entry) -> str:
    """Why a boat is not where she was posted."""
    if one["cause"] == "cost":
        saves = money(one.get("saves"), winter.yard.currency)
        return f"the whole yard costs {saves} less so" if saves else "the whole yard costs less so"
    return str(one["says"])


def says(winter: Winter, draft: Plan, boat: BoatWinter, one: Entry) -> str:
    """One move as a person says it: the stage, then day and bay before and after."""
    stage = next((stage.name for stage in boat.stages if stage.pk == one["stage"]), "a stage")
    labels = {(row.stage_id, row.part): row.label for row in boat.placed.get(draft.pk, [])}
    name = labels.get((one["stage"], one["part"])) or stage
    was, now = one["was"] or _over(winter, boat, one), one["now"]
    if was is None:
        return f"{name}: {_spot(winter, now)}, new"
    if now is None:
        return f"{name}: {_spot(winter, was)} → left out"
    if was["bay"] == now["bay"]:
        return f"{name}: {_day(was)} → {_day(now)}, {_bay(winter, now)}"
    if was["first_day"] == now["first_day"]:
        return f"{name}: {_bay(winter, was)} → {_bay(winter, now)}, {_day(now)}"
    return f"{name}: {_spot(winter, was)} → {_spot(winter, now)}"


def _over(winter: Winter, boat: BoatWinter, one: Entry) -> Entry | None:
    """Where the posted plan had a stage whose day is over, which the packer no longer sees."""
    rows = boat.placed.get(winter.posted.pk, []) if winter.posted else []
    hers = (row for row in rows if (row.stage_id, row.part) == (one["stage"], one["part"]))
    row = next(hers, None)
    return {"bay": row.bay_id, "first_day": row.first_day.isoformat()} if row else None


def _others(boats: Mapping[int, BoatWinter], one: Entry) -> list[BoatWinter]:
    """The boats in her way, where the reason ends with their names."""
    others = [boats[pk] for pk in one["others"] if pk in boats]
    return others if others and str(one["says"]).endswith(_names(others)) else []


def _names(boats: Sequence[BoatWinter]) -> str:
    return ", ".join(boat.name for boat in boats)


def _first(its: Sequence[Entry]) -> str:
    return min(str((one["was"] or one["now"])["first_day"]) for one in its)


def _spot(winter: Winter, spot: Entry) -> str:
    return f"{_day(spot)}, {_bay(winter, spot)}"


def _day(spot: Entry) -> str:
    return day(date.fromisoformat(spot["first_day"]))


def _bay(winter: Winter, spot: Entry) -> str:
    bay = winter.bays.get(spot["bay"])
    return bay.name if bay else "the dock"


def _promised(boat: BoatWinter) -> str:
    kind = KIND.get(boat.promise.kind, "") if boat.promise else ""
    return f"promised {day(boat.due)}{f' ({kind})' if kind else ''}"


def _was(days: int) -> str:
    return f"{days_of(days)} late" if days > 0 else "in time"
