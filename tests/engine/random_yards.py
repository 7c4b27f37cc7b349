"""Small random problems in which all nine rules bite; one seed always gives one problem."""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

from scheduling.engine.problem import (
    Air,
    Begun,
    Hand,
    Job,
    Option,
    Place,
    Posted,
    Problem,
    Resource,
    Step,
    Table,
)
from scheduling.engine.schedule import RULES, Rule

DAY_WORK = 480  # [min] of one hand in one slot
FIRST_DAY = date(2026, 11, 2)  # a Monday


@dataclass
class Axis:
    """The days, and on which of them people work, the hoist lifts and the tide serves."""

    days: list[date] = field(default_factory=list)
    works: list[int] = field(default_factory=list)  # 0 on the odd Saturday
    tide: list[int] = field(default_factory=list)


def random_axis(rng: random.Random, slots: int) -> Axis:
    axis, day = Axis(), FIRST_DAY
    while len(axis.days) < slots:
        saturday = day.weekday() == 5 and rng.random() < 0.4
        if day.weekday() < 5 or saturday:
            axis.days.append(day)
            axis.works.append(0 if saturday else 1)
        day += timedelta(days=1)
    phase = rng.randrange(4)
    axis.tide = [int((s + phase) % 4 < 2 or not axis.works[s]) for s in range(slots)]
    return axis


# --- Finish tables ----------------------------------------------------------------------------------------
def work_table(name: str, works: list[int], length: int, price: tuple[int, ...] = ()) -> Table:
    """Work of `length` open slots; it starts on an open slot only."""
    slots = len(works)
    finish: list[int | None] = []
    for start in range(slots):
        end, left = start, length
        while left and end < slots:
            left -= works[end]
            end += 1
        finish.append(end if works[start] and not left else None)
    return Table(id=name, finish=tuple(finish), price=price, open="work")


def wait_table(name: str, days: list[date], need: int, rates: list[int]) -> Table:
    """Drying: a slot gives its rate for each day until the next; finished when `need` is reached."""
    slots = len(days)
    gives = [rates[s] * (days[s + 1] - days[s]).days for s in range(slots - 1)] + [rates[-1]]
    finish: list[int | None] = []
    for start in range(slots):
        end, left = start, need
        while left > 0 and end < slots:
            left -= gives[end]
            end += 1
        finish.append(end if left <= 0 else None)
    return Table(id=name, finish=tuple(finish), waiting=True)


def tide_table(name: str, tide: list[int]) -> Table:
    """One slot, on a tide that floats her."""
    return Table(id=name, finish=tuple(s + 1 if open_ else None for s, open_ in enumerate(tide)))


# --- The yard ---------------------------------------------------------------------------------------------
def random_places(rng: random.Random, count: int, slots: int, rules: frozenset[Rule]) -> tuple[Place, ...]:
    """Places in a lane first, then places that stand free; the cheapest ones are the smallest."""
    lane = min(count, rng.choice((2, 2, 3))) if "lane" in rules and count > 1 and rng.random() < 0.85 else 0
    air = "air" in rules and rng.random() < 0.9
    places, open_to_all = [], rng.randrange(count)
    for i in range(count):
        place = Place(id=f"p{i}", label=f"Bay {i + 1}", price=rng.choice((2, 3, 5, 8)))
        if i < lane:
            place = replace(place, lane="door", depth=i + 1)
        elif "stand" not in rules:
            place = replace(place, room=20)
        elif rng.random() < 0.3:
            place = replace(place, room=2, units=(f"{i}a", f"{i}b"))
        if air:
            place = replace(place, air="hall" if rng.random() < 0.85 else "annexe")
        if "fit" in rules and i != open_to_all and rng.random() < 0.6:
            place = replace(place, limits={"length": 10, "load": 9000}, price=1)
        if "windows" in rules and rng.random() < 0.3:
            start = rng.randrange(2, slots - 3)
            place = replace(place, closed=((start, start + rng.randint(2, 3)),))
        places.append(place)
    return tuple(places)


def random_resources(
    rng: random.Random, axis: Axis, rules: frozenset[Rule], crowd: int
) -> tuple[Resource, ...]:
    slots = len(axis.days)
    if "hands" not in rules:
        names = ("tent", "hoist", "kit", "mover")
        return tuple(Resource(id=n, label=n, capacity=(1000,) * slots) for n in names)
    trips = rng.choice((1, 1, 2, 3)) * crowd
    return (
        Resource(id="tent", label="Tents", capacity=(crowd,) * slots),
        Resource(id="hoist", label="Hoist", unit="min", capacity=tuple(90 * crowd * t for t in axis.tide)),
        Resource(
            id="kit", label="Peel kit", capacity=tuple(crowd if rng.random() < 0.95 else 0 for _ in axis.days)
        ),
        Resource(id="mover", label="Trips", capacity=tuple(trips if w else 0 for w in axis.works)),
    )


def random_hands(rng: random.Random, axis: Axis, rules: frozenset[Rule], crowd: int) -> tuple[Hand, ...]:
    def minutes() -> tuple[int, ...]:
        if "hands" not in rules:
            return (100_000,) * len(axis.days)
        away = rng.randrange(len(axis.days))
        return tuple(
            DAY_WORK * w * crowd if not (away <= s < away + 2 or rng.random() < 0.02) else 0
            for s, w in enumerate(axis.works)
        )

    skills = [("grind", "coat"), ("coat",) if rng.random() < 0.5 else ("coat", "wash"), ("wash", "grind")]
    return tuple(
        Hand(id=f"h{i}", label=f"Hand {i + 1}", skills=s, minutes=minutes()) for i, s in enumerate(skills)
    )


# --- The jobs ---------------------------------------------------------------------------------------------
def random_option(
    rng: random.Random,
    kind: str,
    tables: Mapping[str, list[str]],
    places: tuple[str, ...],
    warm: bool = False,
) -> Option:
    """One way to do a step of `kind`, in any of `places`."""
    table = rng.choice(tables["warm" if warm else kind])
    values: dict[str, Any] = {}
    if kind == "peel":
        makes = ("dust",) if rng.random() < 0.8 else ("dust", "steam")
        values = {"skills": {"grind": rng.choice((240, 400, 480))}, "makes": makes}
        if rng.random() < 0.6:
            values["uses"] = {"kit": 1}
    elif kind == "dry":
        values = {"skills": {"wash": 60}, "movable": rng.random() < 0.4}
        if rng.random() < 0.3:
            values["spoiled_by"] = ("dust",)
    elif kind == "coat":
        values = {
            "skills": {"coat": rng.choice((240, 360, 480))},
            "spoiled_by": ("dust", "steam"),
            "movable": False,
        }
        if rng.random() < 0.3:
            values["skills"]["wash"] = 120
        if rng.random() < 0.15:
            values |= {"rig": "tent", "rig_price": 6, "holds": {"tent": 1}, "own_air": True}
    elif kind == "launch":
        values = {"uses": {"hoist": rng.choice((45, 60, 90))}, "movable": rng.random() < 0.8}
        if rng.random() < 0.2:
            values["uses"]["mover"] = 1
    if warm:
        values |= {"holds": {"tent": 1}, "rig": "tent", "rig_price": rng.choice((4, 10)), "own_air": True}
        values |= {"price": rng.choice((0, 7)), "stand_price": rng.choice((1, 2, 4))}
    return Option(places=places, table=table, label="warm" if warm else kind, **values)


def random_step(
    rng: random.Random,
    kind: str,
    number: int,
    tables: Mapping[str, list[str]],
    places: tuple[Place, ...],
    slots: int,
    rules: frozenset[Rule],
) -> Step:
    names = tuple(p.id for p in places)
    few = tuple(sorted(rng.sample(names, max(1, len(names) - 1)))) if rng.random() < 0.5 else names
    if all(p.limits for p in places if p.id in few):
        few = names
    open_to_all = [p.id for p in places if p.id in few and not p.limits]
    options = [random_option(rng, kind, tables, few)]
    if kind == "dry" and rng.random() < 0.6:
        options.append(random_option(rng, kind, tables, few, warm=True))
    step = Step(id=f"s{number}", label=kind, kind=kind, options=tuple(options), dries=kind == "dry")
    if "chain" in rules and number and rng.random() < 0.5:
        least = rng.choice((0, 0, 1, 2))
        step = replace(step, wait_min=least, wait_max=least + rng.choice((1, 2, 4)))
    if kind == "coat":
        gate = rng.randrange(slots // 4, slots // 2 + 1) if "gate" in rules and rng.random() < 0.6 else None
        step = replace(step, coats=True, gate=gate)
    if "windows" in rules and rng.random() < 0.12:
        step = replace(step, earliest=rng.randrange(slots // 2), earliest_why="the surveyor comes")
    if "pins" in rules and rng.random() < 0.15:
        step = replace(step, pin_place=rng.choice(open_to_all if rng.random() < 0.8 else few))
    if "pins" in rules and rng.random() < 0.06:
        fits = range(2 + 2 * number, slots * 2 // 3)
        step = replace(step, pin_start=rng.choice(fits))
    if rng.random() < 0.25:
        step = replace(step, posted=Posted(place=rng.choice(few), start=rng.randrange(slots // 2 + 2)))
    return step


def random_job(
    rng: random.Random,
    number: int,
    axis: Axis,
    tables: Mapping[str, list[str]],
    places: tuple[Place, ...],
    rules: frozenset[Rule],
) -> Job:
    slots = len(axis.days)
    chains = (
        ("peel", "dry", "coat"),
        ("peel", "coat"),
        ("dry", "coat"),
        ("dry", "coat", "launch"),
        ("peel", "launch"),
    )
    kinds = rng.choice(chains)
    small = "fit" not in rules or rng.random() < 0.5
    return Job(
        id=f"j{number}",
        label=f"Boat {number + 1}",
        due=axis.days[rng.randrange(slots // 3, slots * 3 // 4)],
        late_price=rng.choice((2, 5, 10)),
        drop_price=rng.choice((300, 400, 600)),
        earliest=rng.randrange(5) if "windows" in rules and rng.random() < 0.4 else 0,
        size={"length": 9 if small else 12, "beam": 3},
        signed_dry="dry" not in kinds,
        steps=tuple(random_step(rng, kind, i, tables, places, slots, rules) for i, kind in enumerate(kinds)),
    )


def begin(rng: random.Random, job: Job, place: Place, unit: str | None, slots: int) -> Job:
    """The same job with its first step under way in `place`."""
    first, rest = job.steps[0], job.steps[1:]
    option = replace(rng.choice(first.options), places=(place.id,), table=None)
    end = rng.randrange(5)
    begun = Begun(
        step=first.id, label=first.label, kind=first.kind, place=place.id, unit=unit, end=end, option=option
    )
    if rest and rest[0].wait_max is not None and rng.random() < 0.7:
        rest = (replace(rest[0], wait_max=slots), *rest[1:])
    if rng.random() < 0.1:
        rest = ()  # her last step is under way
    return replace(job, begun=begun, steps=rest, signed_dry=True, earliest=0)


def begin_some(
    rng: random.Random, jobs: list[Job], places: tuple[Place, ...], slots: int, facts_break: bool
) -> list[Job]:
    """Up to half of the jobs are under way, each in a bay of her own unless `facts_break`."""
    bays = [(p, unit) for p in places for unit in (p.units or (None,))]
    rng.shuffle(bays)
    if facts_break:
        bays = [bays[0], bays[0], *bays[1:]]
    count = rng.choice((0, 1, 1, 2)) * max(1, len(jobs) // 4)
    count = max(2, count) if facts_break else count
    for i in range(min(count, len(bays), len(jobs))):
        jobs[i] = begin(rng, jobs[i], *bays[i], slots)
    return jobs


def random_problem(
    seed: int,
    *,
    jobs: int = 4,
    slots: int = 25,
    places: int = 3,
    rules: Iterable[Rule] = RULES,
    facts_break: bool = False,
) -> Problem:
    """A random problem of `jobs` boats in `places` places over `slots` slots in which only `rules` bite.

    With `facts_break` two boats stand in one bay at the start and the hands may be overdrawn.
    """
    rng, rules = random.Random(seed), frozenset(rules)
    axis = random_axis(rng, slots)
    crowd = max(1, jobs // 5)
    rates = [rng.randint(1, 3) for _ in range(slots)]
    tables, by_kind = [], {kind: [] for kind in ("peel", "dry", "warm", "coat", "launch")}

    def add(kind: str, table: Table) -> None:
        tables.append(table)
        by_kind[kind].append(table.id)

    for length in (1, 2, 3):
        add("peel", work_table(f"peel{length}", axis.works, length))
        price = tuple(rng.choice((0, 0, 0, 9)) for _ in range(slots))
        add("coat", work_table(f"coat{length}", axis.works, length, price))
    for need in (8, 13):
        add("dry", wait_table(f"dry{need}", axis.days, need, rates))
        add("warm", wait_table(f"warm{need}", axis.days, need, [rate + 2 for rate in rates]))
    add("launch", tide_table("launch", axis.tide if "windows" in rules else [1] * slots))

    yard = random_places(rng, places, slots, rules)
    boats = [random_job(rng, i, axis, by_kind, yard, rules) for i in range(jobs)]
    if rng.random() < 0.6 or facts_break:
        boats = begin_some(rng, boats, yard, slots, facts_break)
    settle = rng.choice((0, 1, 2, 2))
    return Problem(
        name=f"random {seed}",
        days=tuple(axis.days),
        airs=(Air(id="hall", settle=settle), Air(id="annexe", settle=1, split_day=rng.random() < 0.3)),
        places=yard,
        resources=random_resources(rng, axis, rules, crowd),
        hands=random_hands(rng, axis, rules, crowd),
        calendars={"work": tuple(axis.works)},
        tables=tuple(tables),
        jobs=tuple(boats),
        mover="mover" if rng.random() < 0.7 else None,
        move_price=rng.choice((4, 8, 15)),
        shunt_price=rng.choice((2, 6)),
        change_price=rng.choice((0, 5, 12)),
        swaps="free" if rng.random() < 0.25 else "cost",
    )


def tiny_problem(seed: int) -> Problem:
    """A random problem small enough for the brute force."""
    jobs, slots = ((2, 25), (3, 20), (4, 16))[seed % 3]
    return random_problem(seed, jobs=jobs, slots=slots, places=2 + seed % 2)


def swapping_problem(seed: int, *, slots: int = 16) -> Problem:
    """A random problem in which two or three boats stand where the next of them has to go, in a ring."""
    rng = random.Random(seed)
    ring = rng.choice((2, 2, 3))
    told = random_problem(seed, jobs=ring, slots=slots, places=ring + 1)
    places = tuple(
        replace(place, room=1, units=(), closed=(), limits={}, lane=None, depth=None) for place in told.places
    )
    jobs = []
    for i, job in enumerate(told.jobs):
        if job.begun is None and len(job.steps) > 1:
            job = begin(rng, job, places[i], None, slots)
        if job.begun is not None:
            home = replace(job.begun.option, places=(places[i].id,))
            job = replace(job, begun=replace(job.begun, place=places[i].id, unit=None, option=home))
        target = places[(i + 1) % ring].id
        steps = [replace(step, pin_place=None, pin_start=None, wait_max=None) for step in job.steps]
        for n, step in enumerate(steps[:1]):
            options = tuple(replace(o, places=tuple(sorted({*o.places, target}))) for o in step.options)
            steps[n] = replace(step, options=options, pin_place=target)
        jobs.append(replace(job, steps=tuple(steps)))
    trips = tuple(
        replace(r, capacity=tuple(4 * amount for amount in r.capacity)) if r.id == "mover" else r
        for r in told.resources
    )
    return replace(told, name=f"swapping {seed}", places=places, jobs=tuple(jobs), resources=trips)


def lane_problem(seed: int, *, jobs: int = 3, slots: int = 14, facts_break: bool = False) -> Problem:
    """A random problem in which all places stand behind each other at one door."""
    told = random_problem(seed, jobs=jobs, slots=slots, places=2, facts_break=facts_break)
    places = tuple(
        replace(place, lane="door", depth=i + 1, room=1, units=()) for i, place in enumerate(told.places)
    )
    boats = tuple(
        replace(job, begun=replace(job.begun, unit=None)) if job.begun is not None else job
        for job in told.jobs
    )
    return replace(told, name=f"lane {seed}", places=places, jobs=boats)
