"""Figures of repair and quotes on the yard of 40 boats: how long, how much moves, who could have stayed."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace

from scheduling.engine.postings import posted_in
from scheduling.engine.problem import Job, Problem
from scheduling.engine.quote import Quotes, Standing, quotes
from scheduling.engine.repair import repair
from scheduling.engine.schedule import Schedule
from scheduling.engine.solve import solve
from tests.engine.events import seven
from tests.engine.test_improve import example
from tests.engine.test_repair import moved_jobs, total, went_back
from tests.engine.tiny import broken

CHANGE = 10_000  # [pence] for each changed placement
WORK = 600  # insertions for the plan that is posted
AGAIN = 5  # times that what takes milliseconds is done; the middle one counts


@dataclass(frozen=True, kw_only=True)
class Repaired:
    """What one event came to."""

    event: str
    first_s: float
    seconds: float
    first_total: int  # [pence]
    total: int
    boats: int  # that moved
    could_stay: int  # of these, alone, lawfully, at no higher total


@dataclass(frozen=True, kw_only=True)
class Quoted:
    """What quotes of so many boats together came to."""

    boats: int
    still_ms: float  # [ms CPU] without moving others
    first_s: float  # until the first answer with others moved
    seconds: float  # until the best one
    still_rise: int  # [pence]
    rise: int


def posted_yard(boats: int = 40) -> tuple[Problem, Schedule]:
    """An example yard with a plan posted and a price of changes."""
    told = replace(example(boats), change_price=CHANGE)
    posted = solve(told, work=WORK, workers=1).schedule
    return posted_in(told, posted), posted


def repair_rows(
    told: Problem, posted: Schedule, seconds: float = 2.0, numbers: range = range(1)
) -> Iterator[Repaired]:
    """Each of the seven events, for each number of `seven`; "nothing" first."""
    events = [("nothing", told)]
    for number in numbers:
        events += [(f"{name} ({number})", after) for name, after in seven(told, posted, number).items()]
    for name, after in events:
        found = repair(after, posted, seconds=seconds)
        moved, could_stay = moved_jobs(found), 0
        for boat in moved:
            back = went_back(after, posted, found, boat)
            could_stay += back is not None and not broken(after, back) and total(after, back) <= found.total
        yield Repaired(
            event=name,
            first_s=found.first_s,
            seconds=found.seconds,
            first_total=found.first_total,
            total=found.total,
            boats=len(moved),
            could_stay=could_stay,
        )


def quote_rows(told: Problem, posted: Schedule, seconds: float = 1.0) -> Iterator[Quoted]:
    """One boat and three together, like boats of the yard that have not begun; the middle one of some."""
    standing = Standing.of(told, posted)
    waiting = [job for job in told.jobs if job.begun is None]
    for boats in (1, 3):
        took, heard = [], list[float]()
        for number in range(AGAIN):
            enquiries = like(waiting[boats * number : boats * (number + 1)])
            least = []
            for _ in range(3):
                began = time.process_time()
                still = quotes(standing, enquiries)
                least.append(time.process_time() - began)
            took.append(min(least))
        begun = time.monotonic()

        def hear(_: Quotes, since: float = begun, into: list[float] = heard) -> None:
            into.append(time.monotonic() - since)

        best = quotes(standing, enquiries, moving=True, seconds=seconds, on_better=hear)
        yield Quoted(
            boats=boats,
            still_ms=round(1000 * statistics.median(took), 1),
            first_s=round(heard[0], 3),
            seconds=round(time.monotonic() - begun, 2),
            still_rise=still.cost_rise,
            rise=best.cost_rise,
        )


def like(jobs: list[Job]) -> list[Job]:
    """Boats like these that come as well."""
    return [replace(job, id=f"{job.id} again", label=f"{job.label} again") for job in jobs]
