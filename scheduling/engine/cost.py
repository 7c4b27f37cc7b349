"""What a schedule costs, by kind: the one cost function that the search and the model's tables share.

`RULES.md` defines each kind; the witness counts them again in its own code.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

from scheduling.engine import slots
from scheduling.engine.problem import Begun, Job, Option, Place, Problem, Table
from scheduling.engine.schedule import COST_KINDS, Schedule, StepTime

Arrow = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Stay:
    """A longest run of pieces of one job in one place, [start, end)."""

    job: str
    place: str
    start: int
    end: int
    pieces: tuple[StepTime, ...]


@dataclass(frozen=True, slots=True)
class Books:
    """A Problem with its parts by name, to count many plans."""

    problem: Problem
    places: dict[str, Place]
    tables: dict[str, Table]
    days_before: list[int]  # [calendar days] that the slots before each slot stand for


def books_of(problem: Problem) -> Books:
    """The Books of a Problem."""
    days_before = [0, *accumulate(slots.spans(problem.days))]
    places, tables = {p.id: p for p in problem.places}, {t.id: t for t in problem.tables}
    return Books(problem, places, tables, days_before)


def late_row(problem: Problem, job: Job) -> list[int]:
    """[minor units] what finishing before slot e costs, for e from 0 to the number of slots."""
    days = problem.days
    return [job.late_price * slots.late_days(days, job.due, end) for end in range(len(days) + 1)]


def change_row(problem: Problem, job: Job, number: int, place: str) -> list[int]:
    """[minor units] what starting step `number` in `place` in each slot costs against the posted plan."""
    posted, slots_ = job.steps[number].posted, len(problem.days)
    if posted is None:
        return [0] * slots_
    row = [problem.change_price] * slots_
    if posted.place == place and posted.start < slots_:
        row[posted.start] = 0
    return row


def option_of(job: Job, time: StepTime) -> Option:
    """The option that a step time uses. Raises ValueError if it is no step of the job."""
    if time.option < 0:
        if job.begun is None:
            raise ValueError(f"{job.id} has not begun")
        return job.begun.option
    step = next((s for s in job.steps if s.id == time.step), None)
    if step is None:
        raise ValueError(f"{job.id} has no step {time.step}")
    return step.options[time.option]


def stays_of(job: str, times: Sequence[StepTime]) -> list[Stay]:
    """The stays of one job, in order."""
    stays: list[Stay] = []
    for time in times:
        if stays and stays[-1].place == time.place:
            last = stays[-1]
            stays[-1] = Stay(job, time.place, last.start, time.leaves, (*last.pieces, time))
        else:
            stays.append(Stay(job, time.place, time.start, time.leaves, (time,)))
    return stays


def own_cost(books: Books, job: Job, times: Sequence[StepTime]) -> dict[str, int]:
    """The cost by kind of one placed job, without what it shares with others (shunts, swap cycles)."""
    problem, by_kind = books.problem, dict.fromkeys(COST_KINDS, 0)
    by_kind["late"] = job.late_price * slots.late_days(problem.days, job.due, times[-1].end)
    before, rig = "", ""
    steps = iter(job.steps)
    for time in times:
        step = next(steps) if time.option >= 0 else None
        option = step.options[time.option] if step else option_of(job, time)
        days = books.days_before[time.leaves] - books.days_before[max(time.start, 0)]
        by_kind["places"] += books.places[time.place].price * days
        by_kind["heat"] += option.stand_price * days
        if before and before != time.place:
            by_kind["moves"] += problem.move_price
        if step is not None:
            if option.rig is not None and (before, rig) != (time.place, option.rig):
                by_kind["heat"] += option.rig_price
            by_kind["extra"] += option.price
            price = books.tables[option.table].price if option.table is not None else ()
            by_kind["breaks"] += price[time.start] if price else 0
            if step.posted and (step.posted.place, step.posted.start) != (time.place, time.start):
                by_kind["changes"] += problem.change_price
        before, rig = time.place, option.rig or ""
    return by_kind


def begun_time(begun: Begun, *, leaves: int | None = None, unit: str | None = None) -> StepTime:
    """What has begun as a row of a plan: until `leaves` or its end, in the bay it says, else in `unit`."""
    return StepTime(
        step=begun.step,
        place=begun.place,
        option=-1,
        start=-1,
        end=begun.end,
        leaves=begun.end if leaves is None else leaves,
        unit=begun.unit or unit,
    )


def standing_out(problem: Problem, job: Job) -> tuple[StepTime, ...]:
    """Where a job that is left out stands: until the end of the axis if she has begun, nowhere if not."""
    return () if job.begun is None else (begun_time(job.begun, leaves=len(problem.days)),)


def cost_of(problem: Problem, schedule: Schedule) -> dict[str, int]:
    """The cost of a schedule by kind [minor units], all of COST_KINDS."""
    books, by_kind = books_of(problem), dict.fromkeys(COST_KINDS, 0)
    stays: list[Stay] = []
    for job in problem.jobs:
        times = schedule.jobs.get(job.id)
        if times:
            for kind, amount in own_cost(books, job, times).items():
                by_kind[kind] += amount
        else:
            by_kind["left_out"] += job.drop_price
            times = standing_out(problem, job)
        stays += stays_of(job.id, times)
    by_kind["shunts"] = problem.shunt_price * sum(1 for _ in shunts(problem, stays))
    by_kind["moves"] += problem.move_price * len(swap_rings(problem, stays))
    return by_kind


def shunts(problem: Problem, stays: Sequence[Stay]) -> Iterator[tuple[int, str, str]]:
    """(slot, job that comes or goes, job that is pulled out for her) for each pair of event and blocker."""
    places = {p.id: p for p in problem.places}
    jobs = {j.id: j for j in problem.jobs}
    lanes: dict[str, list[Stay]] = {}
    for stay in stays:
        lane = places[stay.place].lane
        if lane is not None:
            lanes.setdefault(lane, []).append(stay)
    for group in lanes.values():
        for deep in group:
            for front in group:
                if front.job == deep.job or (places[front.place].depth or 0) >= (
                    places[deep.place].depth or 0
                ):
                    continue
                for x in (deep.start, deep.end):
                    if not (0 <= x < len(problem.days) and front.start < x < front.end):
                        continue
                    piece = next(p for p in front.pieces if p.start <= x < p.leaves)
                    if option_of(jobs[front.job], piece).movable:
                        yield x, deep.job, front.job


def swap_rings(problem: Problem, stays: Sequence[Stay]) -> list[tuple[int, frozenset[int]]]:
    """(slot, indices of the places) of each set of full places among which boats change round."""
    if problem.swaps == "free":
        return []
    index = {p.id: i for i, p in enumerate(problem.places)}
    arrows: dict[int, list[Arrow]] = {}
    for one, two in pairwise(stays):
        if one.job == two.job:
            arrows.setdefault(two.start, []).append((index[one.place], index[two.place]))

    def full(place: int, x: int) -> bool:
        here = problem.places[place]
        return all(
            sum(1 for s in stays if s.place == here.id and s.start <= y < s.end) >= here.room
            for y in (x - 1, x)
        )

    found = []
    for x, moves in arrows.items():
        if len(moves) > 1:
            inside = [(a, b) for a, b in moves if full(a, x) and full(b, x)]
            found += [(x, ring) for ring in rings(inside)]
    return found


def rings(arrows: Sequence[Arrow]) -> list[frozenset[int]]:
    """The strongly connected parts, of two places or more, of these arrows."""
    starts, ends = {a for a, _ in arrows}, {b for _, b in arrows}
    if len(starts & ends) < 2:
        return []
    reach = {a: _reach(a, arrows) for a in starts & ends}
    return list({frozenset(b for b in reach[a] if a in reach.get(b, ())) for a in reach if a in reach[a]})


def _reach(start: int, arrows: Sequence[Arrow]) -> set[int]:
    found: set[int] = set()
    todo = [start]
    while todo:
        here = todo.pop()
        for a, b in arrows:
            if a == here and b not in found:
                found.add(b)
                todo.append(b)
    return found
