"""Each boat's winter as strips: one strip for a stay in a bay, her stages inside, facts over intentions.

What happened is drawn as it happened; from today on the plan is drawn. Where the plan wanted something before
today that has not happened, nothing is drawn in its place: the page says that the plan is no longer true.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta

from scheduling.loading.winter import BoatWinter
from scheduling.models import Placement, Plan
from yard.models import StageKind, Status

DAY = timedelta(days=1)


@dataclass(frozen=True)
class Segment:
    """A stage inside a strip, from `first` to the day before `until`."""

    kind: str
    name: str
    first: date
    until: date
    regime: str = ""
    stage: int = 0


@dataclass
class Strip:
    """A stay of one boat in one bay (None: at the hoist), from `first` to the day before `until`."""

    boat: BoatWinter
    bay: int | None
    first: date
    until: date
    segments: list[Segment] = field(default_factory=list)
    to_water: bool = False
    is_fact: bool = False
    left_out: bool = False


def strips_of(boat: BoatWinter, plan: Plan | None, today: date) -> list[Strip]:
    """The strips of one boat, in order of time."""
    rows = boat.placed.get(plan.pk, []) if plan else []
    strips = _merged(list(_facts(boat, today)), [s for s in _planned(boat, rows) if s.until > today], today)
    if plan and plan.pk in boat.unplaced and boat.stay and strips:
        # Left out, she goes on standing where she is and takes the room.
        strips[-1].until = max(strips[-1].until, boat.season_end + DAY)
        strips[-1].left_out = True
    segments = list(_segments(boat, rows, today))
    for strip in strips:
        strip.segments = [part for segment in segments if (part := _clip(segment, strip))]
    if strips and rows and rows[-1].stage_id == boat.stages[-1].pk:
        inside = [strip for strip in strips if strip.bay is not None]
        for strip in inside[-1:]:
            strip.to_water = boat.stages[-1].kind == StageKind.RELAUNCH
    return strips


def drift(boat: BoatWinter, plan: Plan | None, today: date) -> str:
    """Why the plan is no longer true for this boat, in a few words; nothing if it is."""
    if plan is None or plan.pk not in boat.placed:
        return ""
    rows: dict[int, list[Placement]] = {}
    for row in boat.placed[plan.pk]:
        rows.setdefault(row.stage_id, []).append(row)
    for stage in boat.stages:
        if stage.pk not in rows or stage.status == Status.DONE:
            continue
        first, last = rows[stage.pk][0].first_day, rows[stage.pk][-1].last_day
        if last < today:
            return f"{stage.name} should be done"
        if stage.status == Status.WAITING and first < today:
            return f"{stage.name} should have started"
    return ""


def _facts(boat: BoatWinter, today: date) -> Iterator[Strip]:
    for stay in boat.stays:
        until = stay.until_on or today + DAY
        if until > stay.from_on:
            yield Strip(boat, stay.bay_id, stay.from_on, until, is_fact=True)


def _planned(boat: BoatWinter, rows: list[Placement]) -> Iterator[Strip]:
    """The plan's stays: placements one after another in the same bay are one."""
    strip: Strip | None = None
    for row in rows:
        if strip and strip.bay == row.bay_id and row.bay_id is not None:
            strip.until = max(strip.until, row.leaves_on)
            continue
        if strip:
            yield strip
        strip = Strip(boat, row.bay_id, row.first_day, row.leaves_on)
    if strip:
        yield strip


def _merged(facts: list[Strip], planned: list[Strip], today: date) -> list[Strip]:
    """Facts first; the stay she is in goes on until the plan moves her, tomorrow at the earliest."""
    now = facts[-1] if facts and facts[-1].until > today else None
    kept = list(facts)
    for strip in planned:
        if now and strip.bay == now.bay:
            now.until = max(now.until, strip.until)
            continue
        if now:
            strip.first = max(strip.first, today + DAY)
            if strip.until <= strip.first:
                continue
            now.until = strip.first
            now = None
        kept.append(strip)
    return kept


def _segments(boat: BoatWinter, rows: list[Placement], today: date) -> Iterator[Segment]:
    by_stage: dict[int, list[Placement]] = {}
    for row in rows:
        by_stage.setdefault(row.stage_id, []).append(row)
    for stage in boat.stages:
        planned = by_stage.get(stage.pk, [])
        if stage.started_on:
            last = stage.finished_on or today
            regime = planned[0].regime if planned else ""
            yield Segment(stage.kind, stage.name, stage.started_on, last + DAY, regime, stage.pk)
        if stage.status == Status.DONE:
            continue
        for row in planned:
            first = row.first_day if stage.started_on is None else max(row.first_day, today + DAY)
            if row.last_day >= max(first, today):
                yield Segment(
                    stage.kind,
                    row.label or stage.name,
                    max(first, today),
                    row.last_day + DAY,
                    row.regime,
                    stage.pk,
                )


def _clip(segment: Segment, strip: Strip) -> Segment | None:
    first, until = max(segment.first, strip.first), min(segment.until, strip.until)
    if until <= first:
        return None
    return Segment(segment.kind, segment.name, first, until, segment.regime, segment.stage)
