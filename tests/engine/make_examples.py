"""Makes the example problems of 3 to 400 boats; one seed always makes the same files.

Run `python -m tests.engine.make_examples` after a change; a test holds the files to what this makes. The
yard, its boats and all figures are made up: drying is one Arrhenius rate a month, tides two cosines.
"""

from __future__ import annotations

import gzip
import json
import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from scheduling.engine.jsonio import to_json
from scheduling.engine.problem import Air, Begun, Hand, Job, Option, Place, Problem, Resource, Step, Table

FOLDER = Path(__file__).parent / "examples"
SIZES = (3, 12, 40, 120)
BIG = 400  # boats on the ground and in 130 bays of 6 sheds and a pad; its file is packed
FIRST, LAST = date(2026, 11, 2), date(2027, 7, 30)
HOLIDAYS = {date(2026, 12, d) for d in (24, 25, 28, 29, 30, 31)} | {
    date(2027, *md) for md in ((1, 1), (3, 26), (3, 29), (5, 3), (5, 31))
}
MONTHS = {11: 7, 12: 5, 1: 4, 2: 5, 3: 7, 4: 9, 5: 12, 6: 15, 7: 17}  # [°C] outdoors
DAMP = {
    11: 0.55,
    12: 0.45,
    1: 0.4,
    2: 0.5,
    3: 0.7,
    4: 0.9,
    5: 1.0,
    6: 1.0,
    7: 1.0,
}  # weather's share of a dry shed
WARM = 25  # [°C] in a heated tent
PARTS = 4  # of equal drying
FOUR_SHEDS = ("west", "east", "north", "south")
# fmt: off
BIRDS = (
    "Avocet", "Bittern", "Curlew", "Dunlin", "Eider", "Fulmar", "Gannet", "Heron", "Ibis",
    "Jackdaw", "Kestrel", "Lapwing", "Merlin", "Nightjar", "Osprey", "Plover", "Quail", "Redshank",
    "Sandpiper", "Tern", "Turnstone", "Whimbrel", "Wigeon", "Yellowhammer", "Teal", "Siskin",
    "Skua", "Shelduck", "Rail", "Pipit", "Petrel", "Oriole", "Ouzel", "Linnet", "Kittiwake", "Knot",
    "Gadwall", "Godwit", "Firecrest", "Dotterel",
)
# fmt: on

AGAIN = ("", " Two", " Three", " Four", " Five", " Six", " Seven", " Eight", " Nine", " Ten")


def drying(celsius: float) -> float:
    """Drying of a day against one at 15 °C: Arrhenius with 45 kJ/mol, from memory."""
    return math.exp(45_000 / 8.314 * (1 / 288.15 - 1 / (celsius + 273.15)))


def height(day: date) -> float:
    """[m] of the high water the hoist can use: springs and neaps, and the month."""
    n = (day - FIRST).days
    return 4.4 + 0.75 * math.cos(2 * math.pi * n / 14.765) + 0.25 * math.cos(2 * math.pi * n / 27.55)


@dataclass
class Winter:
    """The axis, what is open on it, and the tables made so far."""

    days: list[date] = field(default_factory=list)
    works: list[int] = field(default_factory=list)
    tables: dict[str, Table] = field(default_factory=dict)

    def table(self, name: str, **values: Any) -> str:
        self.tables.setdefault(name, Table(id=name, **values))
        return name

    def work(self, length: int, dear_over_weekend: int = 0) -> str:
        """Work of so many working slots; `dear_over_weekend` [pence] where a coat waits over a weekend."""
        slots = len(self.days)
        finish: list[int | None] = []
        price = []
        for start in range(slots):
            end, left = start, length
            while left and end < slots:
                left -= self.works[end]
                end += 1
            fits = self.works[start] and not left
            finish.append(end if fits else None)
            gaps = [(b - a).days > 2 for a, b in pairwise(self.days[start:end])]
            price.append(dear_over_weekend * sum(gaps) if fits else 0)
        name = f"work {length}" + (" coat" if dear_over_weekend else "")
        return self.table(name, finish=tuple(finish), price=tuple(price) if any(price) else (), open="work")

    def wait(self, regime: str, need: float) -> str:
        """Waiting until `need` [days at 15 °C in a dry shed] is given; a later start never ends earlier."""
        slots = len(self.days)
        gives = [0.0] * slots
        for s, day in enumerate(self.days):
            until = self.days[s + 1] if s + 1 < slots else day + timedelta(days=1)
            while day < until:
                cold = drying(MONTHS[day.month] + (2 if regime == "shed" else 0))
                share = {"weather": DAMP[day.month] * cold, "shed": cold, "tent": drying(WARM)}[regime]
                gives[s] += share
                day += timedelta(days=1)
        finish: list[int | None] = []
        for start in range(slots):
            end, left = start, need
            while left > 0 and end < slots:
                left -= gives[end]
                end += 1
            finish.append(end if left <= 0 else None)
        return self.table(f"dry {regime} {need:g}", finish=tuple(finish), waiting=True)

    def cure(self, days: int) -> str:
        """So many calendar days in the warm."""
        finish: list[int | None] = []
        for day in self.days:
            end = next((s for s, d in enumerate(self.days) if d >= day + timedelta(days=days)), None)
            finish.append(end)
        return self.table(f"cure {days}", finish=tuple(finish), waiting=True)

    def tide(self, draught: float) -> str:
        """One slot, on a tide that floats `draught` [m] and the hoist can use."""
        floats = [height(day) >= draught + 2.4 and day not in HOLIDAYS for day in self.days]
        finish = tuple(s + 1 if yes else None for s, yes in enumerate(floats))
        return self.table(f"tide {draught:g}", finish=finish)


def winter() -> Winter:
    """Working days, and the Saturdays of spring on which only the hoist works."""
    made, day = Winter(), FIRST
    while day <= LAST:
        spring = day.weekday() == 5 and date(2027, 3, 1) <= day <= date(2027, 6, 12) and height(day) > 4.7
        if (day.weekday() < 5 and day not in HOLIDAYS) or spring:
            made.days.append(day)
            made.works.append(int(day.weekday() < 5))
        day += timedelta(days=1)
    return made


# --- The yard ---------------------------------------------------------------------------------------------
def pool(name: str, label: str, room: int, **values: Any) -> Place:
    units = tuple(f"{name[0].upper()}{i + 1}" for i in range(room)) if room > 1 else ()
    return Place(id=name, label=label, room=room, units=units, **values)


def places(boats: int, made: Winter) -> Iterator[Place]:
    """Hardstanding, pad, a cold shed, lanes in a second cold shed, two warm sheds; more in a big yard."""
    if boats == BIG:
        yield from big_places()
        return
    floods = next(s for s, d in enumerate(made.days) if d >= date(2027, 2, 15))
    yield pool("hard", "Hardstanding", math.ceil(0.7 * boats), price=200)
    yield pool("pad", "Pad", max(1, boats // 20), price=600, closed=((floods, floods + 2),))
    yield pool("west", "West shed", max(1, boats // 6), price=800, air="west", limits={"length": 1350})
    lanes = max(1, boats // 20)
    for lane in range(lanes):
        for depth in range(1, (3 if boats > 3 else 2) + 1):
            yield Place(
                id=f"east{lane + 1}{depth}",
                label=f"East {lane + 1}.{depth}",
                price=700,
                air="east",
                lane=f"east{lane + 1}",
                depth=depth,
                limits={"length": 1250, "load": 9500},
            )
    warm = max(1, round(boats * 0.15))
    yield pool("north", "North warm shed", max(1, warm // 2), price=2000, air="north")
    if warm > 1:
        yield pool(
            "south", "South warm shed", warm - warm // 2, price=1900, air="south", limits={"length": 1150}
        )


def big_places() -> Iterator[Place]:
    """The ground, and 130 bays: a pad, a cold shed, two cold sheds of lanes, three warm sheds."""
    yield pool("hard", "Hardstanding", 280, price=200)
    yield pool("pad", "Pad", 12, price=600)
    yield pool("west", "West shed", 34, price=800, air="west", limits={"length": 1350})
    for shed, lanes in (("east", 8), ("quay", 6)):
        for lane, depth in ((lane, depth) for lane in range(1, lanes + 1) for depth in (1, 2, 3)):
            yield Place(
                id=f"{shed}{lane}{depth}",
                label=f"{shed.title()} {lane}.{depth}",
                price=700,
                air=shed,
                lane=f"{shed}{lane}",
                depth=depth,
                limits={"length": 1250, "load": 9500},
            )
    for shed, room, longest in (("north", 16, 1400), ("south", 14, 1150), ("mill", 12, 1300)):
        yield pool(shed, f"{shed.title()} warm shed", room, price=1900, air=shed, limits={"length": longest})


def resources(boats: int, made: Winter, rng: random.Random) -> Iterator[Resource]:
    slots, works = len(made.days), made.works
    tents = max(1, boats // 8)
    yield Resource(id="tent", label="Tents", capacity=(tents,) * slots)
    yield Resource(id="heater", label="Heaters", capacity=(tents + boats // 20,) * slots)
    power = (16 * max(1, boats // 12),) * slots
    yield Resource(id="power", label="Power on the hardstanding", unit="kW", capacity=power)
    kits = max(1, boats // 25)
    out = rng.randrange(30, 60)  # the kits are away to be mended for a week
    kit = tuple(max(0, kits - 1) if out <= s < out + 5 else kits for s in range(slots))
    yield Resource(id="kit", label="Peel kits", capacity=kit)
    hoist = []
    for day in made.days:
        minutes = 300 if height(day) > 4.9 else 180 if height(day) > 4.3 else 60
        sold = 120 if date(2027, 3, 20) <= day <= date(2027, 5, 20) else 0  # lifts of the laid-up fleet
        hoist.append(max(60, minutes - sold) * max(1, boats // 40))
    yield Resource(id="hoist", label="Hoist", unit="min", capacity=tuple(hoist))
    yield Resource(id="mover", label="Moves", capacity=tuple((2 + boats // 40) * w for w in works))


def hands(boats: int, made: Winter, rng: random.Random) -> tuple[Hand, ...]:
    """About one person for five boats, each with two or three skills, each away for some weeks."""
    mixes = (
        ("peel", "fair"),
        ("fair", "coat"),
        ("coat", "wash"),
        ("fair", "wash", "peel"),
        ("fair", "coat", "rig"),
    )
    people = []
    for i in range(max(2, round(boats / 6))):
        away = [rng.randrange(len(made.days)) for _ in range(2)]
        minutes = tuple(
            480 * w if all(not a <= s < a + 6 for a in away) else 0 for s, w in enumerate(made.works)
        )
        people.append(
            Hand(id=f"p{i + 1}", label=f"Hand {i + 1}", skills=mixes[i % len(mixes)], minutes=minutes)
        )
    rigger = tuple(480 * max(1, boats // 30) for _ in made.days)
    return (*people, Hand(id="yard", label="Yard gang", skills=("rig", "wash"), minutes=rigger))


# --- The boats --------------------------------------------------------------------------------------------
def job(number: int, boats: int, made: Winter, rng: random.Random, sheds: dict[str, tuple[str, ...]]) -> Job:
    length = rng.choice((840, 920, 960, 1010, 1050, 1120, 1200, 1290)) if number else 1290
    big = length > 1100
    draught = 1.9 if big else 1.5
    steps = list(stages(length, draught, made, rng, sheds))
    week = number * 9 // boats + rng.randrange(4)
    due = date(2027, 3, 1) + timedelta(days=7 * week + rng.randrange(5))
    bird = BIRDS[number % len(BIRDS)]
    second = AGAIN[number // len(BIRDS)]
    lifted_in = rng.randrange(45) if rng.random() < 0.7 else 0
    return Job(
        id=f"b{number + 1}",
        label=f"{bird}{second}",
        due=due,
        late_price=rng.choice((4000, 6000, 8000)) if not big else 10_000,
        drop_price=900_000,
        earliest=lifted_in,
        size={"length": length, "load": length * 9},
        steps=tuple(steps),
    )


def stages(
    length: int, draught: float, made: Winter, rng: random.Random, sheds: dict[str, tuple[str, ...]]
) -> Iterator[Step]:
    """Lift, peel, dry in four parts, fair, coat, cure and launch, each where it can be done."""
    big = length > 1100
    ashore = ("hard", "pad", *sheds["cold"])
    tide = made.tide(draught)
    lift = Option(places=ashore, table=tide, uses={"hoist": 60 if big else 45}, skills={"rig": 120})
    yield Step(id="lift", kind="lift", label="Lift", options=(lift,))
    peel = Option(
        places=("pad", *sheds["cold"]),
        table=made.work(rng.choice((2, 3)) + big),
        skills={"peel": 400},
        uses={"kit": 1},
        makes=("dust", "grit"),
        movable=False,
    )
    held = rng.random() < 0.15
    yield Step(
        id="peel",
        kind="peel",
        label="Peel",
        options=(peel,),
        earliest=rng.randrange(10, 40) if held else 0,
        earliest_why="the surveyor comes" if held else "",
    )
    need = rng.choice((6.0, 8.0, 10.0))
    for part in range(1, PARTS + 1):
        weather = Option(
            places=("hard", "pad"), table=made.wait("weather", need), label="weather", skills={"wash": 15}
        )
        shed = Option(
            places=sheds["cold"], table=made.wait("shed", need), label="cold shed", skills={"wash": 15}
        )
        tent = Option(
            places=("hard", *sheds["cold"]),
            table=made.wait("tent", need),
            label="tent",
            skills={"wash": 20},
            holds={"tent": 1, "heater": 1, "power": 5 if big else 4},
            stand_price=1400,
            rig="tent",
            rig_price=9000,
            own_air=True,
            movable=False,
        )
        yield Step(
            id=f"dry{part}",
            kind="dry",
            label=f"Dry {part}",
            options=(weather, shed, tent),
            dries=part == PARTS,
        )
    indoors = (*sheds["cold"], *sheds["warm"])
    fair = Option(
        places=indoors, table=made.work(rng.choice((3, 4, 5)) + big), skills={"fair": 540}, makes=("dust",)
    )
    yield Step(id="fair", kind="fair", label="Fair", options=(fair,))
    coat = Option(
        places=sheds["warm"],
        table=made.work(rng.choice((3, 4)) + big, dear_over_weekend=6500),
        skills={"coat": 300},
        spoiled_by=("dust", "grit"),
        movable=False,
    )
    yield Step(id="coat", kind="coat", label="Coat", options=(coat,), coats=True, wait_max=8)
    cure = made.cure(rng.choice((5, 7)))
    warm = Option(places=sheds["warm"], table=cure, label="warm shed")
    yield Step(id="cure", kind="cure", label="Cure", options=(warm,), wait_max=0)
    launch = Option(
        places=("hard", "pad", *indoors), table=tide, uses={"hoist": 75 if big else 60}, skills={"rig": 180}
    )
    yield Step(id="launch", kind="launch", label="Relaunch", options=(launch,), wait_min=1)


def begin(each: Job, place: Place, unit: str | None, done: int, end: int, spot: str) -> Job:
    """The same boat with `done` stages behind her and the next one under way in `place`."""
    step, rest = each.steps[done], each.steps[done + 1 :]
    option = next(o for o in step.options if spot in o.places)
    begun = Begun(
        step=step.id,
        label=step.label,
        kind=step.kind,
        place=place.id,
        unit=unit,
        end=end,
        option=replace(option, places=(place.id,), table=None),
    )
    if step.kind == "dry":
        rest = tuple(replace(s, gate=end + 8) if s.coats else s for s in rest)
    return replace(each, begun=begun, steps=rest, earliest=0)


@cache
def make(boats: int, seed: int = 7) -> Problem:
    """The example of so many boats."""
    rng, made = random.Random(seed * 1000 + boats), winter()
    yard = list(places(boats, made))
    sheds = {
        "cold": tuple(p.id for p in yard if p.air in ("west", "east", "quay")),
        "warm": tuple(p.id for p in yard if p.air in ("north", "south", "mill")),
    }
    jobs = [job(i, boats, made, rng, sheds) for i in range(boats)]
    by_id = {place.id: place for place in yard}
    airs = (*FOUR_SHEDS, *(("quay", "mill") if boats == BIG else ()))
    bays = [("hard", u) for u in by_id["hard"].units or (None,)] + [
        ("west", u) for u in by_id["west"].units or (None,)
    ]
    rng.shuffle(bays)
    started = sorted(range(boats), key=lambda i: jobs[i].due)[: boats // 3]
    for i, (name, unit) in zip(started, bays, strict=False):
        fits = jobs[i].size["length"] <= by_id[name].limits.get("length", 9999)
        if fits:
            part = rng.choice((2, 2, 3))  # the first or second part of drying
            jobs[i] = begin(jobs[i], by_id[name], unit, part, rng.randrange(3, 20), name)
    fits = [i for i in range(boats) if jobs[i].size["length"] <= 1050 and jobs[i].begun is None]
    for i in rng.sample(fits, min(len(fits), max(1, boats // 12))):
        lane = rng.choice([p.id for p in yard if p.lane])
        steps = tuple(replace(s, pin_place=lane) if s.id == "fair" else s for s in jobs[i].steps)
        jobs[i] = replace(jobs[i], steps=steps)
    return Problem(
        name=f"{boats} boats",
        days=tuple(made.days),
        airs=tuple(Air(id=name, label=name.title(), settle=1) for name in airs),
        places=tuple(yard),
        resources=tuple(resources(boats, made, rng)),
        hands=hands(boats, made, rng),
        calendars={"work": tuple(made.works)},
        tables=tuple(made.tables.values()),
        jobs=tuple(jobs),
        mover="mover",
        move_price=6000,
        shunt_price=4500,
        change_price=0,
    )


def text(problem: Problem) -> str:
    """The file: a line for each place, table and boat, so that a change shows as a change."""
    data = to_json(problem)
    lines = []
    for key, value in data.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            items = ",\n".join(json.dumps(item, separators=(",", ":")) for item in value)
            lines.append(f"{json.dumps(key)}:[\n{items}\n]")
        else:
            lines.append(f"{json.dumps(key)}:{json.dumps(value, separators=(',', ':'))}")
    return "{" + ",\n".join(lines) + "}\n"


def main() -> None:
    """Write all the files."""
    FOLDER.mkdir(exist_ok=True)
    for boats in SIZES:
        path = FOLDER / f"boats{boats}.json"
        path.write_text(text(make(boats)))
        print(path.name, path.stat().st_size)
    path = FOLDER / f"boats{BIG}.json.gz"
    path.write_bytes(gzip.compress(text(make(BIG)).encode(), mtime=0))
    print(path.name, path.stat().st_size)


if __name__ == "__main__":
    main()
