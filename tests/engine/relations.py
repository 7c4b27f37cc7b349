"""One change to a problem each: what it does to the cost of the best plan is known before either is solved.

A change takes a problem, its best plan and a source of chance, and gives the problem as changed; None if
there is nothing in it that could be changed so.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import date, timedelta
from typing import Any

from scheduling.engine.problem import Begun, Job, Option, Place, Posted, Problem, Step, Table
from scheduling.engine.schedule import Schedule

Change = Callable[[Problem, Schedule, random.Random], Problem | None]

A_WEEK, A_SEASON = 7, 364  # [days] each whole weeks, so that weekends stay weekends
SAID_ONLY = {"format", "name", "label", "kind", "earliest_why", "swaps"}  # words, no names of other parts


# --- Small parts ------------------------------------------------------------------------------------------
def one_of(rng: random.Random, items: Any) -> Any:
    """One of the items at random, or None if there are none."""
    found = list(items)
    return rng.choice(found) if found else None


def with_job(told: Problem, job: Job, **values: Any) -> Problem:
    return replace(told, jobs=tuple(replace(j, **values) if j.id == job.id else j for j in told.jobs))


def with_step(told: Problem, job: Job, step: Step, **values: Any) -> Problem:
    steps = tuple(replace(s, **values) if s.id == step.id else s for s in job.steps)
    return with_job(told, job, steps=steps)


def with_place(told: Problem, place: Place, **values: Any) -> Problem:
    return replace(told, places=tuple(replace(p, **values) if p.id == place.id else p for p in told.places))


def a_step(told: Problem, rng: random.Random, such: Callable[[Step], bool]) -> tuple[Job, Step] | None:
    return one_of(rng, ((job, step) for job in told.jobs for step in job.steps if such(step)))


def changed_at(row: tuple[int, ...], slot: int, by: int) -> tuple[int, ...]:
    return tuple(max(amount + by, 0) if s == slot else amount for s, amount in enumerate(row))


def mapped(value: Any, of: Callable[[str, Any], Any], name: str = "") -> Any:
    """The same data with `of(field, value)` in place of each plain value; keys of mappings count as names."""
    if is_dataclass(value) and not isinstance(value, type):
        return type(value)(**{f.name: mapped(getattr(value, f.name), of, f.name) for f in fields(value)})
    if isinstance(value, Mapping):
        return {of(name, key): mapped(item, of, name) for key, item in value.items()}
    if isinstance(value, tuple):
        return tuple(mapped(item, of, name) for item in value)
    return of(name, value)


# --- The same objective -----------------------------------------------------------------------------------
def in_another_order(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    parts = {
        name: tuple(rng.sample(getattr(told, name), len(getattr(told, name))))
        for name in ("airs", "places", "resources", "hands", "tables", "jobs")
    }
    return replace(told, **parts)


def renamed(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    names: dict[str, str] = {}

    def of(field: str, value: Any) -> Any:
        if not isinstance(value, str) or field in SAID_ONLY:
            return value
        return names.setdefault(value, f"{rng.randrange(10**9):09}.{len(names)}")

    made: Problem = mapped(told, of)
    return made


def later_by(days: int) -> Change:
    def change(told: Problem, _: Schedule, __: random.Random) -> Problem:
        made: Problem = mapped(
            told, lambda _, value: value + timedelta(days=days) if isinstance(value, date) else value
        )
        return made

    return change


def a_bay_that_is_never_open(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    place = rng.choice(told.places)
    return another_bay(told, place, closed=((0, len(told.days)),))


def a_boat_already_launched(told: Problem, _: Schedule, __: random.Random) -> Problem:
    """She is in a place of her own that no other boat fits in."""
    afloat = Place(id="afloat", limits={"length": 0, "beam": 0})
    gone = Begun(step="launch", place="afloat", end=0, option=Option(places=("afloat",)))
    boat = Job(id="gone", due=told.days[0], late_price=9, drop_price=500, begun=gone, steps=())
    return replace(told, places=(*told.places, afloat), jobs=(*told.jobs, boat))


def pinned_where_she_is(told: Problem, plan: Schedule, rng: random.Random) -> Problem | None:
    job = one_of(rng, (job for job in told.jobs if job.id in plan.jobs and job.steps))
    if job is None:
        return None
    where = {time.step: time for time in plan.jobs[job.id]}
    step = rng.choice(job.steps)
    return with_step(told, job, step, pin_place=where[step.id].place, pin_start=where[step.id].start)


def posted_where_she_is(told: Problem, plan: Schedule, rng: random.Random) -> Problem | None:
    """Steps that are not posted yet: to stay where they are costs nothing."""
    job = one_of(rng, (job for job in told.jobs if job.id in plan.jobs and job.steps))
    if job is None:
        return None
    where = {time.step: Posted(place=time.place, start=max(time.start, 0)) for time in plan.jobs[job.id]}
    steps = tuple(s if s.posted else replace(s, posted=where[s.id]) for s in job.steps)
    return with_job(told, job, steps=steps)


# --- More of something: never dearer ----------------------------------------------------------------------
def another_bay(told: Problem, place: Place, **values: Any) -> Problem:
    """A bay like `place`, but in no lane, wherever `place` will do."""
    more = replace(place, id="more", units=place.units and tuple(f"more {u}" for u in place.units))
    more = replace(more, lane=None, depth=None, **values)

    def option(each: Option) -> Option:
        return replace(each, places=(*each.places, "more")) if place.id in each.places else each

    def step(each: Step) -> Step:
        return replace(each, options=tuple(map(option, each.options)))

    jobs = tuple(replace(job, steps=tuple(map(step, job.steps))) for job in told.jobs)
    return replace(told, places=(*told.places, more), jobs=jobs)


def a_bay_more(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    return another_bay(told, rng.choice(told.places))


def more_of_a_kit_in_a_slot(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    kit, slot = rng.choice(told.resources), rng.randrange(len(told.days))
    more = replace(kit, capacity=changed_at(kit.capacity, slot, 90))
    return replace(told, resources=tuple(more if r is kit else r for r in told.resources))


def a_hand_more(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    return replace(told, hands=(*told.hands, replace(rng.choice(told.hands), id="one more")))


def longer_hours(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    hand, slot = rng.choice(told.hands), rng.randrange(len(told.days))
    more = replace(hand, minutes=changed_at(hand.minutes, slot, 240))
    return replace(told, hands=tuple(more if h is hand else h for h in told.hands))


def one_more_day_to_start_on(told: Problem, _: Schedule, rng: random.Random) -> Problem | None:
    def closed(table: Table) -> list[int]:
        pairs = enumerate(zip(table.finish, table.finish[1:], strict=False))
        return [s for s, (now, then) in pairs if now is None and then is not None]

    table = one_of(rng, (table for table in told.tables if closed(table)))
    if table is None:
        return None
    slot = rng.choice(closed(table))
    finish = tuple(table.finish[slot + 1] if s == slot else end for s, end in enumerate(table.finish))
    return replace(told, tables=tuple(replace(t, finish=finish) if t is table else t for t in told.tables))


def a_later_promise(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    job = rng.choice(told.jobs)
    return with_job(told, job, due=job.due + timedelta(days=rng.randint(1, 9)))


def a_pin_less(told: Problem, _: Schedule, rng: random.Random) -> Problem | None:
    found = a_step(told, rng, lambda s: s.pin_place is not None or s.pin_start is not None)
    return with_step(told, *found, pin_place=None, pin_start=None) if found else None


def an_earlier_gate(told: Problem, _: Schedule, rng: random.Random) -> Problem | None:
    found = a_step(told, rng, lambda s: bool(s.gate))
    return with_step(told, *found, gate=(found[1].gate or 1) - 1) if found else None


def no_greatest_wait(told: Problem, _: Schedule, rng: random.Random) -> Problem | None:
    found = a_step(told, rng, lambda s: s.wait_max is not None)
    return with_step(told, *found, wait_max=None) if found else None


def a_bigger_bay(told: Problem, _: Schedule, rng: random.Random) -> Problem | None:
    place = one_of(rng, (place for place in told.places if place.limits))
    return with_place(told, place, limits={}) if place else None


def no_lane(told: Problem, _: Schedule, __: random.Random) -> Problem | None:
    if not any(place.lane for place in told.places):
        return None
    return replace(told, places=tuple(replace(p, lane=None, depth=None) for p in told.places))


def free_swaps(told: Problem, _: Schedule, __: random.Random) -> Problem | None:
    return replace(told, swaps="free") if told.swaps == "cost" else None


def sand_till_noon(told: Problem, _: Schedule, __: random.Random) -> Problem:
    return replace(told, airs=tuple(replace(air, split_day=True) for air in told.airs))


def a_boat_less(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    job = rng.choice(told.jobs)
    return replace(told, jobs=tuple(j for j in told.jobs if j is not job))


# --- Less of something: never cheaper ---------------------------------------------------------------------
def a_boat_more(told: Problem, _: Schedule, rng: random.Random) -> Problem | None:
    """One who needs what another still needs."""
    job = one_of(rng, (job for job in told.jobs if job.steps))
    if job is None:
        return None
    return replace(told, jobs=(*told.jobs, replace(job, id="one more", begun=None, signed_dry=True)))


def a_bay_closed(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    place, start = rng.choice(told.places), rng.randrange(len(told.days) - 2)
    return with_place(told, place, closed=(*place.closed, (start, start + rng.randint(1, 4))))


def a_kit_out_for_days(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    kit, slot = rng.choice(told.resources), rng.randrange(len(told.days))
    capacity = tuple(0 if slot <= s < slot + 3 else amount for s, amount in enumerate(kit.capacity))
    return replace(
        told, resources=tuple(replace(r, capacity=capacity) if r is kit else r for r in told.resources)
    )


def a_person_away(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    hand, slot = rng.choice(told.hands), rng.randrange(len(told.days))
    minutes = tuple(0 if slot <= s < slot + 4 else amount for s, amount in enumerate(hand.minutes))
    return replace(told, hands=tuple(replace(h, minutes=minutes) if h is hand else h for h in told.hands))


def a_pin_elsewhere(told: Problem, _: Schedule, rng: random.Random) -> Problem | None:
    found = a_step(told, rng, lambda s: s.pin_place is None)
    if found is None:
        return None
    return with_step(told, *found, pin_place=rng.choice(rng.choice(found[1].options).places))


def a_place_forbidden(told: Problem, _: Schedule, rng: random.Random) -> Problem | None:
    found = a_step(told, rng, lambda s: len(s.options[0].places) > 1)
    if found is None:
        return None
    first, *rest = found[1].options
    out = rng.choice(first.places)
    left = tuple(name for name in first.places if name != out)
    return with_step(told, *found, options=(replace(first, places=left), *rest))


def a_later_arrival(told: Problem, _: Schedule, rng: random.Random) -> Problem:
    job = rng.choice(told.jobs)
    return with_job(told, job, earliest=job.earliest + rng.randint(1, 5))


def a_day_longer(told: Problem, kind: str | None, rng: random.Random) -> Problem | None:
    """Work of one step takes a slot more; not before a step that may not wait for long."""
    found = [
        (job, step)
        for job in told.jobs
        for step, after in zip(job.steps, (*job.steps[1:], None), strict=False)
        if (after is None or after.wait_max is None) and kind in (None, step.kind)
    ]
    if not found:
        return None
    job, step = rng.choice(found)
    slots, tables = len(told.days), {table.id: table for table in told.tables}
    longer = {}
    for option in step.options:
        table = tables[option.table or ""]
        finish = tuple(None if end is None or end == slots else end + 1 for end in table.finish)
        longer[table.id] = replace(table, id=f"{table.id} and one", finish=finish)
    options = tuple(replace(o, table=f"{o.table} and one") for o in step.options)
    told = replace(told, tables=(*told.tables, *longer.values()))
    return with_step(told, job, step, options=options)


def longer_work(told: Problem, _: Schedule, rng: random.Random) -> Problem | None:
    return a_day_longer(told, None, rng)


def slower_drying(told: Problem, _: Schedule, rng: random.Random) -> Problem | None:
    return a_day_longer(told, "dry", rng)


def dust_that_settles_later(told: Problem, _: Schedule, __: random.Random) -> Problem:
    return replace(told, airs=tuple(replace(air, settle=air.settle + 1) for air in told.airs))


# --- Money ------------------------------------------------------------------------------------------------
def all_prices_doubled(told: Problem, _: Schedule, __: random.Random) -> Problem:
    def of(field: str, value: Any) -> Any:
        return value * 2 if field.endswith("price") and isinstance(value, int) else value

    made: Problem = mapped(told, of)
    return made
