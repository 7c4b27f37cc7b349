"""A working day more: a Saturday on which people work as on the day before it.

A day that is no slot becomes one on which nothing goes on but standing; then it is opened.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from scheduling.engine.problem import Begun, Job, Place, Problem, Step, Table

EVERY_DAY_BUT = "every day but"
"""The calendar of tables that knew none, when a slot is put in: what they say of other days stays so."""


def slot_for(problem: Problem, day: date) -> int:
    """The slot of a day. Raises ValueError if it has none."""
    return problem.days.index(day)


def with_day(problem: Problem, day: date) -> Problem:
    """The same yard with a slot for a day that has none: all plans stay, at one slot later after it.

    Raises ValueError if the day is before the axis or after it.
    """
    if not problem.days[0] < day < problem.days[-1]:
        raise ValueError(f"{day} is not within the axis")
    at, but = bisect_left(problem.days, day), f"{EVERY_DAY_BUT} {day}"

    def row(values: Sequence[int], new: int | None = None) -> tuple[int, ...]:
        return (*values[:at], values[at - 1] if new is None else new, *values[at:]) if values else ()

    def end(slot: int) -> int:
        return slot + (slot > at)

    def start(slot: int) -> int:
        return slot + (slot >= at)

    def table(each: Table) -> Table:
        finish = [None if e is None else end(e) for e in each.finish]
        new = finish[at] if each.waiting else None
        open_ = each.open if each.open is not None else but
        return replace(each, finish=(*finish[:at], new, *finish[at:]), price=row(each.price, 0), open=open_)

    def step(each: Step) -> Step:
        return replace(
            each,
            earliest=start(each.earliest),
            gate=None if each.gate is None else start(each.gate),
            pin_start=None if each.pin_start is None else start(each.pin_start),
            posted=None if each.posted is None else replace(each.posted, start=start(each.posted.start)),
            until=tuple(start(s) for s in each.until),
        )

    def begun(each: Begun | None) -> Begun | None:
        return each and replace(each, end=end(each.end), until=tuple(start(s) for s in each.until))

    def place(each: Place) -> Place:
        return replace(each, closed=tuple((start(a), end(b)) for a, b in each.closed))

    def job(each: Job) -> Job:
        steps = tuple(step(s) for s in each.steps)
        return replace(each, earliest=start(each.earliest), begun=begun(each.begun), steps=steps)

    return replace(
        problem,
        days=(*problem.days[:at], day, *problem.days[at:]),
        places=tuple(place(p) for p in problem.places),
        resources=tuple(replace(r, capacity=row(r.capacity), lost=row(r.lost, 0)) for r in problem.resources),
        hands=tuple(replace(h, minutes=row(h.minutes, 0)) for h in problem.hands),
        calendars={name: row(line, 0) for name, line in problem.calendars.items()}
        | {but: tuple(int(s != at) for s in range(len(problem.days) + 1))},
        tables=tuple(table(t) for t in problem.tables),
        jobs=tuple(job(j) for j in problem.jobs),
        worths={name: row(line, 0) for name, line in problem.worths.items()},
        frozen=start(problem.frozen),
    )


def open_day(problem: Problem, slot: int) -> Problem:
    """The yard with this slot a working day like the one before it: hands, calendars, and work by them.

    Work by a calendar goes on that day and is finished sooner; what waits (drying, curing) is as before.
    """
    before = slot - 1
    calendars = {
        name: tuple(line[before] if s == slot else opens for s, opens in enumerate(line))
        if not name.startswith(EVERY_DAY_BUT)
        else line
        for name, line in problem.calendars.items()
    }
    hands = tuple(
        replace(
            h, minutes=tuple(max(m, h.minutes[before]) if s == slot else m for s, m in enumerate(h.minutes))
        )
        for h in problem.hands
    )
    tables = tuple(
        _worked(table, problem.calendars[table.open], calendars[table.open], slot)
        if table.open is not None and not table.waiting
        else table
        for table in problem.tables
    )
    return replace(problem, calendars=calendars, hands=hands, tables=tables)


def _worked(table: Table, was: Sequence[int], now: Sequence[int], slot: int) -> Table:
    """The table with the slot worked: each start needs as many open slots as before."""
    if was[slot] or not now[slot]:
        return table
    finish, width = list(table.finish), len(table.finish)
    for start in range(slot + 1):
        end = table.finish[start if start < slot else slot - 1]
        if end is None or (start < slot and end <= slot) or (start == slot and table.anew is not None):
            continue  # who comes from outside on that Friday does not stay for the Saturday
        left = sum(was[start if start < slot else slot - 1 : end])
        walk = start
        while walk < width and left > 0:
            left -= now[walk]
            walk += 1
        if left == 0 and walk > start:
            finish[start] = walk if start == slot else min(walk, end)
    price = tuple(table.price[slot - 1] if s == slot else p for s, p in enumerate(table.price))
    return replace(table, finish=tuple(finish), price=price)
