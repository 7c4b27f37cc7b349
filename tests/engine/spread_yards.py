"""The examples with what a winter may do to them: drying that spreads, a hold, weather at the hoist.

All figures are made up.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from datetime import timedelta
from itertools import accumulate, pairwise
from statistics import NormalDist

from scheduling.engine.problem import Begun, Job, Place, Problem, Step, Table
from scheduling.engine.schedule import Schedule, StepTime
from scheduling.engine.spreads import Spread
from tests.engine.make_examples import DAMP, MONTHS, WARM, drying

UNIT = 1_000_000  # of what a day is worth
REGIMES = {"weather": "weather", "cold shed": "shed", "tent": "tent"}
GALES = {10: 100, 11: 120, 12: 150, 1: 150, 2: 120, 3: 80, 4: 50}  # [per mille] of days, by month


def lognormal(sigma: float, count: int = 50) -> tuple[int, ...]:
    """Equally likely cases about 1 [per mille]."""
    return tuple(
        round(1000 * math.exp(sigma * NormalDist().inv_cdf((i + 0.5) / count))) for i in range(count)
    )


def with_spreads(problem: Problem, *, sigma: float = 0.3, share_pct: int = 30, gales: bool = True) -> Problem:
    """The example, with drying known to `sigma` of its logarithm, fairing to less, and lifts that wait."""
    worths = {regime: _gives(problem, regime) for regime in ("weather", "shed", "tent")}
    worths["work"] = tuple(UNIT * open_ for open_ in problem.calendars["work"])
    fairing = (750, 850, 900, 1000, 1000, 1000, 1100, 1250, 1400, 1700)
    dries = {
        f"dry {job.id}": Spread(
            cases=lognormal(sigma), label="drying", common="winter" if share_pct else "", share_pct=share_pct
        )
        for job in problem.jobs
    }
    fairs = {f"fair {job.id}": Spread(cases=fairing, label="fairing") for job in problem.jobs}
    return replace(
        problem,
        tables=tuple(_with_worth(table) for table in problem.tables),
        jobs=tuple(_spread(job, worths) for job in problem.jobs),
        resources=tuple(
            replace(one, lost=tuple(GALES.get(day.month, 20) for day in problem.days))
            if one.id == "hoist" and gales
            else one
            for one in problem.resources
        ),
        worths=worths,
        spreads=dries | fairs,
    )


def _gives(problem: Problem, regime: str) -> tuple[int, ...]:
    """What a slot is worth, as the tables of the examples count it."""
    days = [*problem.days, problem.days[-1] + timedelta(days=1)]
    row = []
    for first, until in pairwise(days):
        here = [first + timedelta(days=n) for n in range((until - first).days)]
        cold = [drying(MONTHS[day.month] + (2 if regime == "shed" else 0)) for day in here]
        share = {
            "weather": [DAMP[day.month] * each for day, each in zip(here, cold, strict=True)],
            "shed": cold,
            "tent": [drying(WARM)] * len(here),
        }[regime]
        row.append(round(UNIT * sum(share)))
    return tuple(row)


def _with_worth(table: Table) -> Table:
    kind, *rest = table.id.split()
    if kind == "dry":
        return replace(table, worth=rest[0], amount=round(UNIT * float(rest[1])))
    if kind == "work":
        return replace(table, worth="work", amount=UNIT * int(rest[0]))
    return table


def _spread(job: Job, worths: dict[str, tuple[int, ...]]) -> Job:
    steps = tuple(_step(job, step) for step in job.steps)
    return replace(job, steps=steps, begun=_begun(job, worths) if job.begun else None)


def _step(job: Job, step: Step) -> Step:
    if step.kind == "dry":
        return replace(step, spread=f"dry {job.id}")
    if step.id == "fair":
        return replace(step, spread=f"fair {job.id}")
    if step.id == "peel" and job.id.endswith("5"):  # her owner has not said go ahead yet
        return replace(step, until=(0, 3, 5, 8, 15))
    return replace(step, told=step.kind in ("lift", "relaunch"))


def _begun(job: Job, worths: dict[str, tuple[int, ...]]) -> Begun | None:
    begun = job.begun
    if begun is None or begun.kind != "dry":
        return begun
    worth = REGIMES[begun.option.label]
    amount = [0, *accumulate(worths[worth])][begun.end]
    return replace(begun, worth=worth, amount=amount, spread=f"dry {job.id}")


def with_some_spreads(problem: Problem, seed: int) -> Problem:
    """A random yard with spreads on some steps and on some of what has begun, holds, and weather at all
    resources."""
    rng = random.Random(seed)
    worths = {
        "work": tuple(UNIT * open_ for open_ in problem.calendars["work"]),
        "day": (7,) * len(problem.days),
    }
    names = [f"spread {n}" for n in range(4)]
    spreads = {
        name: Spread(cases=lognormal(0.4, rng.choice((1, 3, 10))), common="winter", share_pct=10 * n)
        for n, name in enumerate(names)
    }

    def spread(step: Step) -> Step:
        until = tuple(sorted(rng.randrange(20) for _ in range(3))) if rng.random() < 0.2 else ()
        return replace(step, spread=rng.choice([*names, None]), until=until, told=rng.random() < 0.2)

    def begin(begun: Begun | None) -> Begun | None:
        if begun is None or begun.end == 0 or rng.random() < 0.3:
            return begun
        until = (0, 2) if rng.random() < 0.3 else ()
        return replace(
            begun, worth="day", amount=7 * begun.end, spread=rng.choice([*names, None]), until=until
        )

    return replace(
        problem,
        tables=tuple(_by_work(table, problem.calendars["work"], rng) for table in problem.tables),
        jobs=tuple(
            replace(job, steps=tuple(map(spread, job.steps)), begun=begin(job.begun)) for job in problem.jobs
        ),
        resources=tuple(
            replace(one, lost=tuple(rng.choice((0, 0, 300)) for _ in problem.days))
            for one in problem.resources
        ),
        worths=worths,
        spreads=spreads,
    )


def overrun(problem: Problem, schedule: Schedule, seed: int) -> tuple[Problem, Schedule]:
    """The yard after things happened that the plan knows nothing of: what has begun takes longer or stands
    elsewhere, places are closed, people are away, boats come later. The plan stays as it was."""
    rng = random.Random(seed)
    slots, free = len(problem.days), [place for place in problem.places if place.room == 1]

    def later(job: Job) -> Job:
        begun = job.begun
        if begun is not None and begun.end and begun.worth is None:
            begun = replace(begun, end=min(slots, begun.end + rng.choice((0, 0, 3, 9))))
        if begun is not None and free and rng.random() < 0.3:
            place = rng.choice(free).id
            begun = replace(begun, place=place, unit=None, option=replace(begun.option, places=(place,)))
        return replace(job, begun=begun, earliest=job.earliest + rng.choice((0, 0, 0, 6)))

    def shut(place: Place) -> Place:
        if place.room > 1 or rng.random() < 0.7:
            return place
        start = rng.randrange(slots - 10)
        return replace(place, closed=((start, start + rng.randint(1, 9)),))

    new = replace(
        problem,
        jobs=tuple(later(job) for job in problem.jobs),
        places=tuple(shut(place) for place in problem.places),
        hands=tuple(
            replace(hand, minutes=tuple(rng.choice((0, m, m, m)) for m in hand.minutes))
            for hand in problem.hands
        ),
    )
    begun = {job.id: job.begun for job in new.jobs}

    def now(job: str, time: StepTime) -> StepTime:
        fact = begun[job]
        if time.option >= 0 or fact is None:
            return time
        return replace(time, place=fact.place, unit=fact.unit or time.unit, end=fact.end)

    jobs = {job: tuple(now(job, time) for time in times) for job, times in schedule.jobs.items()}
    return new, replace(schedule, jobs=jobs)


def _by_work(table: Table, works: tuple[int, ...], rng: random.Random) -> Table:
    """With what it books, where it is work of so many open slots; now and then by somebody who comes on a few
    days only."""
    start = next((s for s, end in enumerate(table.finish) if end is not None), None)
    if table.open != "work" or start is None:
        return table
    amount = UNIT * sum(works[start : table.finish[start]])
    return replace(table, worth="work", amount=amount, anew=rng.choice((None, None, 0, 4)))
