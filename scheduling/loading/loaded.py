"""The only seam between the yard's records and the engine: a season's records become a Problem, a Result
becomes placements."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from scheduling.engine import jsonio, slots
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import Schedule
from scheduling.loading.airs import COLD, TENT, WEATHER
from scheduling.loading.areas import likely_m2
from scheduling.loading.axis import Axis, axis_of
from scheduling.loading.drying import histories, hull_drying
from scheduling.loading.jobs import load_treatment
from scheduling.loading.measured import measured
from scheduling.loading.places import DOCK, pence, places_of
from scheduling.loading.records import Records, gather
from scheduling.loading.resources import TideWindows, resources_of
from scheduling.loading.spreads import with_spreads
from scheduling.loading.stages import Yard
from scheduling.loading.steps import Part
from scheduling.loading.tables import Tables
from yard.models import Bay, Season
from yard.roles import yard_today


@dataclass(frozen=True)
class Refs:
    """What the names in a Problem stand for."""

    parts: Mapping[tuple[str, str], Part]  # (job, step)
    bays: Mapping[str, tuple[Bay, ...]]  # place: its bays


@dataclass(frozen=True)
class Loaded:
    """A season as the engine sees it. `says` has one sentence for each treatment the records keep out of
    it."""

    problem: Problem
    axis: Axis
    refs: Refs
    says: Mapping[int, str]

    @property
    def text(self) -> str:
        """The Problem as JSON, the same for the same records."""
        return json.dumps(jsonio.to_json(self.problem), sort_keys=True, separators=(",", ":"))

    @property
    def sha256(self) -> str:
        """Digest of `text`."""
        return hashlib.sha256(self.text.encode()).hexdigest()


@dataclass(frozen=True)
class PlacementRow:
    """The fields of one Placement."""

    stage_id: int
    part: int
    label: str
    bay_id: int | None
    regime: str
    first_day: date
    last_day: date
    leaves_on: date


def load(season: Season, *, today: date | None = None) -> Loaded:
    """Read a season into a Problem, in a fixed number of queries.

    Raises:
        ValueError: if no working day is left in the season.
    """
    return loaded_of(*yard_of(gather(season, today or yard_today(season.yard))))


def yard_of(records: Records) -> tuple[Yard, dict[int, str]]:
    """What options are made of; and a sentence for each treatment whose boat cannot be as written down.

    Raises:
        ValueError: as `load` does.
    """
    axis = axis_of(records)
    tides = TideWindows(records, axis)
    found = measured(records.season.yard, [row.pk for row in records.treatments], records.today)
    history = histories(found)
    hulls = {
        row.pk: drying
        for row in records.treatments
        if (drying := hull_drying(row, found, history, records.settings, axis.days[0]))
    }
    says: dict[int, str] = {}
    areas: dict[int, dict[str, float]] = {}
    for treatment in records.treatments:
        try:
            areas[treatment.pk] = likely_m2(treatment.boat)
        except ValueError as no:
            says[treatment.pk] = f"{treatment.boat.name} can't be planned: {no}"
    yard = Yard(
        records,
        axis,
        places_of(records, axis),
        resources_of(records, axis, tides),
        tides,
        Tables(axis, found.airs),
        areas,
        hulls,
    )
    return yard, says


def loaded_of(yard: Yard, says: dict[int, str]) -> Loaded:
    """A season as the engine sees it, of what `yard_of` has found."""
    records, season = yard.records, yard.records.season
    posted = {(row.stage_id, row.part): row for row in records.posted}
    jobs, parts = [], {}
    for treatment in records.treatments:
        if treatment.pk in says:
            continue
        loading = load_treatment(yard, treatment, posted)
        if loading.job is None:
            says[treatment.pk] = loading.says
            continue
        jobs.append(loading.job)
        parts.update({(loading.job.id, step): part for step, part in loading.parts.items()})
    settings = records.settings
    problem = Problem(
        name=f"{season.yard.name}, {season.name}",
        days=yard.axis.days,
        airs=yard.places.airs,
        places=yard.places.places,
        resources=yard.resources.resources,
        hands=yard.resources.hands,
        calendars=yard.tables.calendars,
        tables=tuple(yard.tables.made.values()),
        worths=yard.tables.worths,
        jobs=tuple(jobs),
        mover=yard.resources.mover,
        move_price=pence(settings.move_money),
        shunt_price=pence(settings.pull_out_money),
        change_price=pence(settings.change_money),
        hour_price=pence(settings.overtime_hour_money) or None,
        fixed=(*yard.places.open_ground, *yard.resources.room),
        frozen=min(settings.frozen_days, len(yard.axis.days)),
    )
    problem = with_spreads(problem, yard, parts)
    return Loaded(problem, yard.axis, Refs(parts, yard.places.bays), says)


def placements(loaded: Loaded, schedule: Schedule) -> list[PlacementRow]:
    """The rows of a plan. What has begun keeps the day it really started."""
    found = []
    options = {(job.id, step.id): step.options for job in loaded.problem.jobs for step in job.steps}
    begun = {job.id: job.begun for job in loaded.problem.jobs}
    days = loaded.axis.days
    for job, times in schedule.jobs.items():
        for time in times:
            part = loaded.refs.parts[job, time.step]
            stage = part.stage
            fact = begun[job]
            option = (
                options[job, time.step][time.option] if time.option >= 0 else fact.option if fact else None
            )
            first = slots.first_day(days, time.start) if time.start >= 0 else stage.started_on or days[0]
            last = slots.last_day(days, time.end) if time.end >= 1 else stage.finished_on or first
            leaves = slots.leaves_on(days, time.leaves)
            found.append(
                PlacementRow(
                    stage_id=stage.pk,
                    part=part.part,
                    label=part.label,
                    bay_id=_bay(loaded, time.place, time.unit),
                    regime=option.label if option and option.label in (WEATHER, COLD, TENT) else "",
                    first_day=first,
                    last_day=max(first, last),
                    leaves_on=max(leaves, date.fromordinal(max(first, last).toordinal() + 1)),
                )
            )
    return found


def _bay(loaded: Loaded, place: str, unit: str | None) -> int | None:
    if place == DOCK:
        return None
    bays = loaded.refs.bays[place]
    return bays[0].pk if len(bays) == 1 else next(bay.pk for bay in bays if bay.name == unit)
