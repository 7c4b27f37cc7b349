"""How far what happens may be from what a plan books: the cases that a winter is drawn from.

`scheduling.engine.risk` draws them; no plan is made by them.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, timedelta
from math import exp, floor, log
from statistics import NormalDist

from scheduling.engine.problem import Begun, Job, Problem, Step
from scheduling.engine.spreads import MILLE, Spread
from scheduling.loading.axis import UNTIL_TOLD_DAYS
from scheduling.loading.dry_stages import doses_left
from scheduling.loading.resources import LIFTS
from scheduling.loading.stages import Yard, length_days
from scheduling.loading.steps import Part, held_until
from yard.models import Hold, Stage, Treatment
from yard.models.schemes import StageKind
from yard.trade.ranges import Range

CASES = 40
"""Equally likely cases of an amount."""

WINTER = "winter"
WINTER_SHARE_PCT = 30
"""[%] of how far a hull's drying is off that a cold or damp winter does to all hulls alike. From memory; the
rest is the hull's own: her laminate, how deep it is wet."""

NEVER_DRY = 3 * MILLE
"""[per mille of what is booked] that drying takes at most: a hull that waiting won't dry is washed again or
excused by the surveyor before that. Common practice."""

LEAST_SHARE = 0.25
"""[-] of the likely figure, where a norm says that the low one is nothing."""

ANSWER = Range(0.8, 1.0, 2.0)
"""[-] of the days until an answer is expected that it takes: seldom early, and one in ten takes twice as
long. Common practice."""
ANSWER_LATE_D = 7
"""[calendar days] by which one answer in ten is late at least, however soon it is expected. Common
practice."""
UNTIL_TOLD = Range(5.0, float(UNTIL_TOLD_DAYS), 42.0)
"""[calendar days] until an answer comes that nobody expects on a day. Common practice."""

WIND_PER_MILLE = {
    1: 167,
    2: 167,
    3: 167,
    4: 100,
    5: 60,
    6: 40,
    7: 40,
    8: 40,
    9: 60,
    10: 100,
    11: 140,
    12: 150,
}
"""[per mille] of the days of each month on which wind stops the hoist: about one in six from January to March
at a limit of 20 to 25 kn gust (common practice); the other months from memory."""

TOLD = (StageKind.LIFT, StageKind.RELAUNCH)
"""Stages whose day owners, crew and tide tables are told: nobody lifts a boat before it."""


def with_spreads(problem: Problem, yard: Yard, parts: Mapping[tuple[str, str], Part]) -> Problem:
    """The Problem with what is known of its drying, work, holds and lifts."""
    treatments = {str(row.pk): row for row in yard.records.treatments}
    spreads: dict[str, Spread] = {}

    def spread_of(job: Job, stage: Stage) -> str | None:
        name = str(stage.pk)
        if name not in spreads:
            found = stage_spread(yard, treatments[job.id], stage)
            if found is None:
                return None
            spreads[name] = found
        return name

    jobs = tuple(_job(yard, job, parts, spread_of) for job in problem.jobs)
    lost = tuple(WIND_PER_MILLE[day.month] for day in problem.days)
    return replace(
        problem,
        jobs=jobs,
        resources=tuple(replace(one, lost=lost) if one.id == LIFTS else one for one in problem.resources),
        spreads=spreads,
    )


def stage_spread(yard: Yard, treatment: Treatment, stage: Stage) -> Spread | None:
    """How far a stage may be from what is booked for it; None where its norms say it is not."""
    if stage.kind == StageKind.DRY:
        cases = drying_cases(yard, treatment, stage)
        if cases is None:
            return None
        return Spread(cases=cases, label=stage.name, common=WINTER, share_pct=WINTER_SHARE_PCT)
    shares = norm_shares(stage)
    if shares is None:
        return None
    length = length_days(yard, stage, treatment, yard.records.demands.get(stage.pk, []))
    # Work ends with a day: what is a little over is done that day, too.
    whole = (max(1, round(case * length)) for case in cases_of(shares))
    return Spread(cases=tuple(days * MILLE // length for days in whole), label=stage.name)


def drying_cases(yard: Yard, treatment: Treatment, stage: Stage) -> tuple[int, ...] | None:
    """Cases of what is left of her drying [per mille of what is booked]: from her own rounds, else from the
    norms of the scheme."""
    own = yard.hulls.get(treatment.pk)
    if own is None:
        shares = norm_shares(stage)
        return shares and tuple(round(MILLE * case) for case in cases_of(shares))
    booked = sum(doses_left(yard, stage, treatment).values())
    left = [own.dose_left((case + 0.5) / CASES) for case in range(CASES)]
    found = [NEVER_DRY if dose is None else min(NEVER_DRY, round(MILLE * dose / booked)) for dose in left]
    return tuple(sorted(found))


def norm_shares(stage: Stage) -> Range | None:
    """The norms of a stage as shares of the likely one [-]; None where they are one figure."""
    low, likely, high = (float(days) for days in (stage.days_low, stage.days_likely, stage.days_high))
    if not likely or low == high:
        return None
    return Range(max(low / likely, LEAST_SHARE), 1.0, high / likely)


def cases_of(range_: Range) -> list[float]:
    """Equally likely cases about a likely figure of which one in ten is below low and one in ten above high:
    two halves of lognormal curves."""
    below, above = log(range_.likely / range_.low), log(range_.high / range_.likely)
    tenth = NormalDist().inv_cdf(0.9)
    leans = [NormalDist().inv_cdf((case + 0.5) / CASES) / tenth for case in range(CASES)]
    return [range_.likely * exp(lean * (above if lean > 0 else below)) for lean in leans]


def answer_cases(yard: Yard, hold: Hold) -> tuple[int, ...]:
    """Slots until which a hold lasts."""
    today = yard.axis.today
    if hold.expected_on is None:
        days = UNTIL_TOLD
    else:
        expected = max(1, (hold.expected_on - today).days)
        days = ANSWER.times(expected)
        days = Range(days.low, days.likely, max(days.high, expected + ANSWER_LATE_D))
    return tuple(_slot(yard, today + timedelta(days=floor(case))) for case in cases_of(days))


def _slot(yard: Yard, day: date) -> int:
    return min(yard.axis.at(day), yard.axis.slots - 1)


def _job(
    yard: Yard,
    job: Job,
    parts: Mapping[tuple[str, str], Part],
    spread_of: Callable[[Job, Stage], str | None],
) -> Job:
    tables = yard.tables.made
    steps: list[Step] = []
    held: set[int] = set()  # only the first step of a stage is
    begun: Begun | None = job.begun
    if begun is not None:
        stage = parts[job.id, begun.step].stage
        hold = yard.records.holds.get(stage.pk)
        held.add(stage.pk)
        if begun.worth is not None:
            until = answer_cases(yard, hold) if hold and stage.kind != StageKind.DRY else ()
            begun = replace(begun, spread=spread_of(job, stage), until=until)
    for step in job.steps:
        stage = parts[job.id, step.id].stage
        hold = yard.records.holds.get(stage.pk) if stage.pk not in held else None
        held.add(stage.pk)
        adds_up = any(option.table and tables[option.table].worth for option in step.options)
        steps.append(
            replace(
                step,
                spread=spread_of(job, stage) if adds_up else None,
                until=_until(yard, step, hold) if hold else (),
                told=step.kind in TOLD,
            )
        )
    return replace(job, begun=begun, steps=tuple(steps))


def _until(yard: Yard, step: Step, hold: Hold) -> tuple[int, ...]:
    """The cases of a hold, none before the day for which something else keeps the step."""
    other = step.earliest if step.earliest > held_until(yard, hold)[0] else 0
    return tuple(max(slot, other) for slot in answer_cases(yard, hold))
