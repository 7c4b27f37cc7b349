"""A boat that is asked about, as a job beside the season's others: one that nobody has recorded, or one of
the yard with another day.

She goes through the same loading as all others. Nothing is stored.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from scheduling.engine.problem import Job, Problem
from scheduling.loading.areas import likely_m2
from scheduling.loading.jobs import load_treatment
from scheduling.loading.loaded import Loaded, loaded_of, yard_of
from scheduling.loading.records import Records, gather
from scheduling.loading.spreads import with_spreads
from scheduling.loading.stages import Yard, demand_hours
from scheduling.loading.steps import Part
from yard.models import Boat, Girth, Promise, Scheme, Season, Stage, StageDemand, Treatment
from yard.models.schemes import NEEDS, NORMS
from yard.trade.hull import Areas
from yard.trade.ranges import Range

NEW = -1
"""Key of what is not recorded: no row has it."""

HEIGHT_UNKNOWN = Decimal(0)
"""[m] for a boat whose height nobody knows: it is held against no door and no bay."""


@dataclass(frozen=True)
class Newcomer:
    """A boat that nobody has recorded, with what her scheme gives her: nothing of it is ever saved."""

    treatment: Treatment
    stages: list[Stage]
    demands: dict[int, list[StageDemand]]  # stage


@dataclass(frozen=True)
class Asked:
    """The season as it is recorded, and the boat asked about as a job to put into it.

    `others` is the Problem without her, with the tables and spreads that she needs.
    """

    records: Records
    loaded: Loaded
    others: Problem
    job: Job
    parts: Mapping[str, Part]


class CannotAsk(ValueError):
    """The boat cannot be planned at all; the sentence says what stands against it."""


def newcomer(
    season: Season,
    scheme: Scheme,
    boat: Boat,
    *,
    comes_on: date,
    wanted_on: date | None,
) -> Newcomer:
    """A boat that is not recorded, with a copy of a scheme's stages. The scheme's stages and their demands
    are read already."""
    boat.pk = NEW
    boat.yard = season.yard
    boat._prefetched_objects_cache = {"girths": Girth.objects.none()}  # type: ignore[attr-defined]
    treatment = Treatment(
        pk=NEW,
        yard=season.yard,
        season=season,
        boat=boat,
        scheme=scheme,
        arrives_on=comes_on,
        wanted_on=wanted_on,
    )
    stages, demands = [], {}
    for number, norm in enumerate(scheme.stages.all(), start=1):
        fields = {name: getattr(norm, name) for name in NORMS}
        stage = Stage(pk=-number, yard=season.yard, treatment=treatment, **fields)
        stages.append(stage)
        demands[-number] = [
            StageDemand(stage=stage, **{name: getattr(need, name) for name in NEEDS})
            for need in norm.demands.all()
        ]
    return Newcomer(treatment, stages, demands)


def stage_hours(stage: Stage, demands: Sequence[StageDemand], areas: Areas) -> Range:
    """Person-hours [h] that a stage comes to by its own demands, over the range of her areas and of its days;
    nothing where it names no skill."""
    people = [demand for demand in demands if demand.skill_id is not None]

    def hours(which: str) -> float:
        m2 = {name: getattr(getattr(areas, name).m2, which) for name in ("peel", "coat", "antifoul")}
        return sum(demand_hours(demand, m2, float(getattr(stage, f"days_{which}"))) for demand in people)

    return Range(hours("low"), hours("likely"), hours("high"))


def with_newcomer(season: Season, today: date, new: Newcomer) -> Asked:
    """The season and a boat that is not recorded.

    Raises:
        CannotAsk: if no boat has such a size, or a stage of hers can be done nowhere.
        ValueError: if no working day is left in the season.
    """
    records = gather(season, today)
    yard, says = yard_of(records)
    loaded = loaded_of(yard, says)
    treatment = new.treatment
    try:
        areas = likely_m2(treatment.boat)
    except ValueError as no:
        raise CannotAsk(str(no)) from no
    with_her = replace(
        records,
        treatments=[*records.treatments, treatment],
        stages=records.stages | {treatment.pk: new.stages},
        demands=records.demands | new.demands,
    )
    yard = replace(yard, records=with_her, areas={**yard.areas, treatment.pk: areas})
    return _asked(yard, loaded, treatment)


def with_day(season: Season, today: date, treatment: int, due: date) -> Asked:
    """The season, and one of its boats as if her owner had been told `due`.

    Raises:
        CannotAsk: if her treatment is not open this season, or her records keep her out of every plan.
        ValueError: if no working day is left in the season.
    """
    records = gather(season, today)
    hers = next((row for row in records.treatments if row.pk == treatment), None)
    if hers is None:
        raise CannotAsk("She has no open treatment this season, so there is no day to ask for.")
    yard, says = yard_of(records)
    loaded = loaded_of(yard, says)
    if treatment in says:
        raise CannotAsk(says[treatment])
    told = records.promises.get(treatment)
    promise = Promise(treatment=hers, promised_on=due, kind=told.kind if told else hers.wanted_kind)
    records = replace(records, promises=records.promises | {treatment: promise})
    return _asked(replace(yard, records=records), loaded, hers)


def _asked(yard: Yard, loaded: Loaded, treatment: Treatment) -> Asked:
    posted = {(row.stage_id, row.part): row for row in yard.records.posted}
    loading = load_treatment(yard, treatment, posted)
    if loading.job is None:
        raise CannotAsk(loading.says)
    others = replace(
        loaded.problem,
        jobs=tuple(job for job in loaded.problem.jobs if job.id != loading.job.id),
        tables=tuple(yard.tables.made.values()),
        calendars=yard.tables.calendars,
        worths=yard.tables.worths,
    )
    parts = {(loading.job.id, step): part for step, part in loading.parts.items()}
    hers = with_spreads(replace(others, jobs=(loading.job,)), yard, parts)
    others = replace(others, spreads={**others.spreads, **hers.spreads})
    return Asked(yard.records, loaded, others, hers.jobs[0], loading.parts)
