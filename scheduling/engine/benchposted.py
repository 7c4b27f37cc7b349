"""Suites of `bench` that start from a posted plan: repair after each event, a thousand winters, quotes.

What happens to a yard and what is drawn in a winter is made where the tests make it.
"""

import importlib
import statistics
import sys
import time
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

from scheduling.engine.jsonio import BadInput
from scheduling.engine.postings import posted_in
from scheduling.engine.problem import Job, Problem
from scheduling.engine.quote import Standing, quotes
from scheduling.engine.repair import repair
from scheduling.engine.risk import winters
from scheduling.engine.schedule import Schedule
from scheduling.engine.solve import solve

ROOT = Path(__file__).parents[2]
WORK = 400  # insertions for the plan that is posted: the same on every machine
CHANGE = 2000  # [minor units] for each changed placement, where the yard has no price of its own
AGAIN = 9  # times that what takes milliseconds is done; the middle one counts

EVENTS = (
    "9 days more drying",
    "a person out a week",
    "hoist out 3 days",
    "a boat 9 days late",
    "a bay lost",
    "a tent lost",
    "a hold longer",
)
BOATS = {"one boat": 1, "three boats": 3}


def from_the_tests(name: str) -> ModuleType:
    """A module of the tests. Raises BadInput if they are not there."""
    sys.path.insert(0, str(ROOT))
    try:
        return importlib.import_module(f"tests.engine.{name}")
    except ImportError as error:
        raise BadInput(f"tests.engine.{name}: is needed and not there: {error}") from None
    finally:
        sys.path.remove(str(ROOT))


def with_posted(problem: Problem) -> tuple[Problem, Schedule]:
    """The yard, changes at a price, and the plan that is posted in it."""
    problem = replace(problem, change_price=problem.change_price or CHANGE)
    return problem, solve(problem, work=WORK, workers=1).schedule


def repair_case(problem: Problem, event: str, seconds: float) -> dict[str, Any]:
    """The repaired plan after an event; beside it the same yard packed anew in the same time."""
    told, posted = with_posted(problem)
    after = from_the_tests("events").seven(told, posted)[event]
    found = repair(after, posted, seconds=seconds)
    anew = solve(posted_in(after, posted), seconds=seconds, workers=1)
    return {
        "cost": found.total,
        "peers": {"packed anew": anew.total},
        "status": found.status,
        "moved_boats": len({each.job for each in found.moved}),
        "first_s": round(found.first_s, 3),
        "first_total": found.first_total,
    }


def risk_case(problem: Problem, runs: int) -> dict[str, Any]:
    """How long so many winters of a plan take, and how sure its promises are; no money in it."""
    told = from_the_tests("spread_yards").with_spreads(problem)
    plan, took = solve(told, work=WORK, workers=1).schedule, []
    for _ in range(AGAIN):
        began = time.monotonic()
        found = winters(told, plan, runs=runs)
        took.append(time.monotonic() - began)
    odds = [boat.odds_pct for boat in found.boats.values()]
    return {
        "winters": runs,
        "winters_s": round(statistics.median(took), 3),
        "boats": len(odds),
        "middle_odds_pct": statistics.median(odds),
        "surely_kept": sum(1 for each in odds if each >= found.safe_pct),
    }


def quote_case(problem: Problem, boats: int, seconds: float) -> dict[str, Any]:
    """What so many boats more add to the posted plan, others moved; beside it without moving any."""
    told, posted = with_posted(problem)
    standing, enquiries = Standing.of(told, posted), enquiries_like(told, boats)
    took = []
    for _ in range(AGAIN):
        began = time.monotonic()
        still = quotes(standing, enquiries)
        took.append(time.monotonic() - began)
    first: list[float] = []
    began = time.monotonic()
    found = quotes(
        standing,
        enquiries,
        moving=True,
        seconds=seconds,
        on_better=lambda _: first.append(time.monotonic() - began),
    )
    return {
        "cost": found.cost_rise,
        "bound": sum(each.bound for each in found.quotes),
        "peers": {"without moving others": still.cost_rise},
        "fit": sum(1 for each in found.quotes if each.fits),
        "still_ms": round(1000 * statistics.median(took), 1),
        "first_s": round(first[0], 3) if first else None,
    }


def enquiries_like(problem: Problem, boats: int) -> list[Job]:
    """Boats like those that have not begun, not there yet."""
    waiting = [job for job in problem.jobs if job.begun is None]
    if len(waiting) < boats:
        raise BadInput(f"{problem.name}: fewer than {boats} boats have not begun")
    return [replace(job, id=f"enquiry {n + 1}", label="") for n, job in enumerate(waiting[:boats])]
