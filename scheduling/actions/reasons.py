"""Why a plan has each boat when it has her: found when it is made, in its own Problem, and stored with it."""

import logging
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import groupby
from typing import Any

from scheduling.engine import slots
from scheduling.engine.explain import Why, chains, relaxations, whys
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import Schedule
from scheduling.loading import Loaded
from scheduling.loading.targets import Targets, targets_of
from scheduling.models import Plan, Reasons
from yard.models import Season

CHAINS_S, FEWEST_S = 3.0, 2.0
"""[s] of processor that chains, and what would bring everybody in, may take: a pack is not held up longer."""

logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Found:
    """Reasons by treatment, as `Reasons` has them, and `Plan.fewest`."""

    stages: dict[int, list[dict[str, Any]]] = field(default_factory=dict)
    chains: dict[int, list[dict[str, Any]]] = field(default_factory=dict)
    fewest: dict[str, Any] = field(default_factory=dict)


def reasons_of(season: Season, loaded: Loaded, schedule: Schedule) -> Found | None:
    """Why no stage of a plan starts earlier; of boats late or left out the chain; what would let all in.

    It is work for the processor, so it is done before a transaction, not in one. None, with a line in the
    log, where it fails: a plan without reasons is better than no plan.
    """
    try:
        targets = targets_of(season.yard, loaded)
        return _found(targets, loaded.problem, schedule)
    except Exception:
        logger.exception("no reasons could be found for a plan of season %s", season.pk)
        return None


def keep_reasons(plan: Plan, found: Found) -> list[Reasons]:
    """Store the reasons of a plan inside the caller's transaction, a row a boat."""
    return Reasons.objects.bulk_create(
        Reasons(
            plan=plan,
            treatment_id=treatment,
            stages=found.stages.get(treatment, []),
            chain=found.chains.get(treatment, []),
        )
        for treatment in sorted({*found.stages, *found.chains})
    )


def _found(targets: Targets, problem: Problem, schedule: Schedule) -> Found:
    found = Found()
    for job, its in groupby(whys(problem, schedule), key=lambda why: why.job):
        found.stages[int(job)] = [_entry(targets, why) for why in said_once(its)]
    back = chains(problem, schedule, _troubled(problem, schedule), _clock(CHAINS_S))
    for job, links in back.items():
        if links:
            found.chains[int(job)] = [_entry(targets, why) for why in links]
    if schedule.unplaced:
        because = [why for job, links in back.items() if job in schedule.unplaced for why in links]
        found.fewest.update(_fewest(problem, schedule, because))
    return found


def _troubled(problem: Problem, schedule: Schedule) -> list[str]:
    """Who is left out, then who is late, the latest first."""
    late: dict[str, int] = {}
    for job in problem.jobs:
        times = schedule.jobs.get(job.id)
        days = slots.late_days(problem.days, job.due, times[-1].end) if times else len(problem.days) ** 2
        if days:
            late[job.id] = days
    return sorted(late, key=lambda job: -late[job])


def _fewest(problem: Problem, schedule: Schedule, because: Sequence[Why]) -> dict[str, Any]:
    over, alone = _clock(FEWEST_S), []
    things = relaxations(
        problem, schedule, because=because, should_stop=over, on_more=lambda: alone.append(False)
    )
    at_least = 2 if alone else 1
    return {
        "things": [thing.says for thing in things],
        "whole": len(things) == at_least or not over(),
        "at_least": at_least,
    }


def _clock(seconds: float) -> Callable[[], bool]:
    """Whether so much of the processor has gone since now [s]."""
    until = time.thread_time() + seconds
    return lambda: time.thread_time() >= until


def said_once(found: Iterable[Why]) -> list[Why]:
    """Reasons without those that say the same of one stage: no day can be had because nobody comes, no lift
    because there is no water."""
    kept: list[Why] = []
    for _, group in groupby(found, key=lambda why: why.step):
        its = list(group)
        shut = {why.until for why in its if why.kind == "window"}
        nobody = [why for why in its if why.kind == "resource" and not why.by and why.until in shut]
        outside = any(why.who.startswith("outside:") for why in nobody)
        drop = "window" if outside else "resource"
        kept += [why for why in its if not (nobody and why.kind == drop and why.until in shut and not why.by)]
    return kept


def _entry(targets: Targets, why: Why) -> dict[str, Any]:
    """A reason as it is stored: names of the Problem become keys of records, slots become days."""
    problem, target = targets.loaded.problem, targets.of(why)
    part = targets.loaded.refs.parts[why.job, why.step]
    whom = _whom(problem, why) if why.kind == "hold" else ""
    says = why.says.replace("no window", "no tide") if target.about == "tide" else why.says
    return {
        "treatment": int(why.job),
        "stage": part.stage.pk,
        "part": part.part,
        "rule": why.rule,
        "kind": why.kind,
        "says": says.removesuffix(f": {whom}"),
        "whom": whom,
        "start": _day(problem.days, why.start),
        "until": _day(problem.days, why.until),
        "by": int(why.by) if why.by else None,
        "about": target.about,
        "pks": list(target.pks),
    }


def _whom(problem: Problem, why: Why) -> str:
    """For whom or what a stage is held."""
    job = next(job for job in problem.jobs if job.id == why.job)
    return next(step.earliest_why for step in job.steps if step.id == why.step)


def _day(days: Sequence[date], slot: int) -> str | None:
    return days[slot].isoformat() if 0 <= slot < len(days) else None
