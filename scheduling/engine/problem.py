"""What the engine is told: places, resources, hands and jobs, on an axis of slots.

The engine knows no boats, stages or trade. A **slot** is one day of the axis (`Problem.days`); every length
and
every moment here is a slot number, every span is half-open, every amount of money is in integer minor units.
`RULES.md` beside this file says exactly what each field means to each of the nine rules.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from scheduling.engine.jsonio import BadInput
from scheduling.engine.spreads import MILLE, Spread, rising

Span = tuple[int, int]


def _positive(**values: int | None) -> None:
    for name, value in values.items():
        if value is not None and value < 0:
            raise BadInput(f"{name}: must not be negative, is {value}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """One body of dust, steam and vapour."""

    id: str
    label: str = ""
    settle: int = 0  # [slots] after dust, grit or steam ends until nothing is spoiled by it
    split_day: bool = False  # the yard sands till noon and coats after: no clash within one day

    def __post_init__(self) -> None:
        _positive(settle=self.settle)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place for `room` boats that are equal to the rules: a bay, a pool of equal bays, the dock."""

    id: str
    label: str = ""
    room: int = 1  # [boats] more than one only without a lane
    units: tuple[str, ...] = ()  # the names of the bays in a pool, one per room
    air: str | None = None
    lane: str | None = None
    depth: int | None = None  # 1 = at the door; deeper places have higher numbers
    price: int = 0  # [minor units per calendar day]
    closed: tuple[Span, ...] = ()  # [slots] nobody may stand here
    limits: Mapping[str, int] = field(default_factory=dict)  # greatest size by dimension

    def __post_init__(self) -> None:
        _positive(room=self.room, depth=self.depth, price=self.price)
        if self.room < 1:
            raise BadInput("room: a place holds at least one boat")
        if (self.lane is None) != (self.depth is None):
            raise BadInput("depth: goes with a lane, and a lane with a depth")
        if self.lane is not None and self.room != 1:
            raise BadInput("room: a place in a lane holds one boat")
        if self.units and len(self.units) != self.room:
            raise BadInput(f"units: {len(self.units)} names for room {self.room}")
        if len(set(self.units)) != len(self.units):
            raise BadInput("units: two bays have one name")
        for start, end in self.closed:
            _positive(closed=start)
            if end <= start:
                raise BadInput(f"closed: finish {end} is not after start {start}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Resource:
    """A kit, power, hoist minutes, mover trips: so much of it in each slot, in whatever `unit` says."""

    id: str
    label: str = ""
    unit: str = ""
    capacity: tuple[int, ...]
    lost: tuple[int, ...] = ()  # [per mille] odds, by slot, that weather stops all that uses it; empty = none
    one: int = 1  # [unit] that one more comes to: a kit that is used by the hour has the minutes of a day
    one_price: int | None = None  # [minor units per calendar day] of one more; None: nobody has said

    def __post_init__(self) -> None:
        _positive(capacity=min(self.capacity, default=0), lost=min(self.lost, default=0))
        if max(self.lost, default=0) > MILLE:
            raise BadInput(f"lost: odds of {max(self.lost)} are above {MILLE}")
        if self.one < 1:
            raise BadInput(f"one: must be at least 1, is {self.one}")
        _positive(one_price=self.one_price)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """A person (or a crew of equals): what they can do, and how long in each slot."""

    id: str
    label: str = ""
    skills: tuple[str, ...]
    minutes: tuple[int, ...]  # [min] in each slot

    def __post_init__(self) -> None:
        _positive(minutes=min(self.minutes, default=0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A finish table: work that starts in slot s is finished before slot `finish[s]`, at `price[s]` extra."""

    id: str
    finish: tuple[int | None, ...]  # None: it can't start then
    price: tuple[int, ...] = ()  # [minor units] of broken windows; empty = nothing
    open: str | None = None  # calendar: demands apply only in its open slots; None = in every slot
    waiting: bool = False  # a waiting table may not fall: a later start never finishes earlier
    worth: str | None = None  # what each slot is worth to it, one of the Problem's `worths`
    amount: int = 0  # [in what `worth` counts] it is finished once the slots from its start are worth as much
    before: str | None = None  # what the slots before its start are worth to it already
    least: int = 0  # [in what `worth` counts] of the amount that is left however late it starts
    anew: int | None = None  # [slots] after its last start another is to be had so long after it is asked for

    def __post_init__(self) -> None:
        _positive(amount=self.amount, least=self.least, anew=self.anew)
        if (self.worth is None) != (self.amount == 0):
            raise BadInput("amount: goes with a worth, and a worth with an amount")
        if self.worth is None and (self.before, self.anew) != (None, None):
            raise BadInput("before, anew: need a worth")
        last = 0
        for start, end in enumerate(self.finish):
            if end is None:
                continue
            if end <= start:
                raise BadInput(f"finish[{start}]: finish {end} is not after its start {start}")
            if self.waiting and end < last:
                raise BadInput(f"finish[{start}]: {end} is earlier than for an earlier start ({last})")
            last = max(last, end)
        _positive(price=min(self.price, default=0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way to do a step: in any of `places`, by one finish table, with what it demands, holds and does to
    the air."""

    places: tuple[str, ...]
    table: str | None = None  # None only for what has begun
    label: str = ""
    skills: Mapping[str, int] = field(
        default_factory=dict
    )  # [min] of each skill in each open slot of the work
    uses: Mapping[str, int] = field(default_factory=dict)  # of each resource in each open slot of the work
    holds: Mapping[str, int] = field(
        default_factory=dict
    )  # of each resource from the start until she leaves it
    price: int = 0  # [minor units] once
    stand_price: int = 0  # [minor units per calendar day] from the start until the next step starts
    rig: str | None = None  # what is set up round her (a tent); stays up while the next step has it here too
    rig_price: int = 0  # [minor units] each time the rig is set up
    makes: tuple[str, ...] = ()  # dust, grit, steam, ... while it works
    spoiled_by: tuple[str, ...] = ()
    own_air: bool = False  # a tent is an air of its own: nothing goes in or out
    movable: bool = True  # she can be pulled out and put back while she stands in this step

    def __post_init__(self) -> None:
        _positive(price=self.price, stand_price=self.stand_price, rig_price=self.rig_price)
        for name in ("skills", "uses", "holds"):
            for key, amount in getattr(self, name).items():
                if amount < 0:
                    raise BadInput(f"{name}[{key!r}]: must not be negative, is {amount}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Posted:
    """Where the posted plan has the step; in which option and which bay of a pool, where it says so."""

    place: str
    start: int
    option: int | None = None
    unit: str | None = None

    def __post_init__(self) -> None:
        _positive(start=self.start, option=self.option)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One stage, or one part of a stage, of a job."""

    id: str
    label: str = ""
    kind: str = ""
    options: tuple[Option, ...]
    wait_min: int = 0  # [slots] after the step before has finished
    wait_max: int | None = None
    earliest: int = 0  # [slot] held until then, or not to be had before
    earliest_why: str = ""
    dries: bool = False  # its last such step ends in signed dry
    coats: bool = False  # needs signed dry
    gate: int | None = None  # [slot] coats only: signed dry is not forecast before
    pin_place: str | None = None
    pin_start: int | None = None
    posted: Posted | None = None
    spread: str | None = None  # how far its amount may be from what is booked, one of the Problem's `spreads`
    until: tuple[int, ...] = ()  # [slots] until which it is held, in equally likely cases, for `earliest`
    told: bool = False  # others have been told the day: a simulated winter never starts it before

    def __post_init__(self) -> None:
        rising("until", self.until)
        _positive(wait_min=self.wait_min, wait_max=self.wait_max, earliest=self.earliest, gate=self.gate)
        _positive(pin_start=self.pin_start)
        if self.wait_max is not None and self.wait_max < self.wait_min:
            raise BadInput(f"wait_max: {self.wait_max} is less than wait_min {self.wait_min}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """A fact: the step she is in when the axis starts. Its start is written as slot -1."""

    step: str
    label: str = ""
    kind: str = ""
    place: str
    unit: str | None = None  # her bay, where the place is a pool
    end: int = 0  # [slot] forecast finish; 0 = the work is done and she only stands
    option: Option  # `places` is (place,), `table` is None
    worth: str | None = None  # what each slot is worth to what is left, one of the Problem's `worths`
    amount: int = 0  # [in what `worth` counts] that is left
    spread: str | None = None  # how far that may be from what is left in fact
    until: tuple[int, ...] = ()  # [slots] until which it is held, in equally likely cases

    def __post_init__(self) -> None:
        rising("until", self.until)
        _positive(end=self.end, amount=self.amount)
        if (self.worth is None) != (self.amount == 0):
            raise BadInput("amount: goes with a worth, and a worth with an amount")
        if self.option.table is not None:
            raise BadInput("option.table: what has begun has no finish table")


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One boat's chain of steps in one season."""

    id: str
    label: str = ""
    due: date
    late_price: int  # [minor units per calendar day late]
    drop_price: int  # [minor units] if she stays out of the plan
    earliest: int = 0  # [slot] she is there
    size: Mapping[str, int] = field(default_factory=dict)
    signed_dry: bool = False
    begun: Begun | None = None
    left_out: bool = False  # the posted plan leaves her out
    steps: tuple[Step, ...]

    def __post_init__(self) -> None:
        _positive(late_price=self.late_price, drop_price=self.drop_price, earliest=self.earliest)
        for name, length in self.size.items():
            if length < 0:
                raise BadInput(f"size[{name!r}]: must not be negative, is {length}")
        names = [s.id for s in self.steps] + ([self.begun.step] if self.begun else [])
        if not names:
            raise BadInput("steps: a job needs at least one step")
        if len(set(names)) != len(names):
            raise BadInput("steps: two steps have one id")
        dry = self.signed_dry or bool(self.begun and self.begun.kind == "dry")
        for i, step in enumerate(self.steps):
            dry = dry or step.dries or step.gate is not None
            if step.coats and not dry:
                raise BadInput(f"steps[{i}]: coats, but nothing before it leads to signed dry")


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Everything a plan depends on. Raises BadInput, naming the place in the file, if its parts don't fit
    together."""

    format: Literal[1] = 1
    name: str = ""
    days: tuple[date, ...]  # the day of each slot, rising
    airs: tuple[Air, ...] = ()
    places: tuple[Place, ...]
    resources: tuple[Resource, ...] = ()
    hands: tuple[Hand, ...] = ()
    calendars: Mapping[str, tuple[int, ...]] = field(default_factory=dict)  # 1 = open
    tables: tuple[Table, ...]
    jobs: tuple[Job, ...]
    mover: str | None = None  # the resource that counts trips; None = trips are not counted
    move_price: int = 0  # [minor units a trip]
    shunt_price: int = 0  # [minor units] to pull a boat out of the way and put her back
    change_price: int = 0  # [minor units] for each step that leaves its posted place or start
    hour_price: int | None = None  # [minor units per hour] of a hand or a day more; None: nobody has said
    fixed: tuple[str, ...] = ()  # resources there can't be more of, places that can't be fitted out otherwise
    frozen: int = 0  # [slot] steps posted before it stay where they are unless a fact forces them
    swaps: Literal["cost", "free"] = "cost"
    worths: Mapping[str, tuple[int, ...]] = field(
        default_factory=dict
    )  # what each slot is worth to an amount
    spreads: Mapping[str, Spread] = field(default_factory=dict)

    def __post_init__(self) -> None:
        _positive(move_price=self.move_price, shunt_price=self.shunt_price, change_price=self.change_price)
        _positive(frozen=self.frozen, hour_price=self.hour_price)
        if not self.days:
            raise BadInput("days: there is no slot")
        for i in range(1, len(self.days)):
            if self.days[i] <= self.days[i - 1]:
                raise BadInput(f"days[{i}]: {self.days[i]} is not after the day before it")
        self._check_lengths()
        self._check_names()
        for i, job in enumerate(self.jobs):
            self._check_job(job, f"jobs[{i}]")

    def _check_lengths(self) -> None:
        slots = len(self.days)
        rows: list[tuple[str, int]] = [
            *((f"resources[{i}].capacity", len(r.capacity)) for i, r in enumerate(self.resources)),
            *((f"hands[{i}].minutes", len(h.minutes)) for i, h in enumerate(self.hands)),
            *((f"resources[{i}].lost", len(r.lost)) for i, r in enumerate(self.resources) if r.lost),
            *((f"calendars[{k!r}]", len(c)) for k, c in self.calendars.items()),
            *((f"worths[{k!r}]", len(w)) for k, w in self.worths.items()),
            *((f"tables[{i}].finish", len(t.finish)) for i, t in enumerate(self.tables)),
            *((f"tables[{i}].price", len(t.price)) for i, t in enumerate(self.tables) if t.price),
        ]
        for where, length in rows:
            if length != slots:
                raise BadInput(f"{where}: has {length} entries for {slots} slots")
        for key, row in self.calendars.items():
            for s, opens in enumerate(row):
                if opens not in (0, 1):
                    raise BadInput(f"calendars[{key!r}][{s}]: must be 1 for open or 0 for not, is {opens}")
        for key, row in self.worths.items():
            if min(row) < 0:
                raise BadInput(f"worths[{key!r}]: must not be negative, is {min(row)}")
        for i, table in enumerate(self.tables):
            for s, end in enumerate(table.finish):
                if end is not None and end > slots:
                    raise BadInput(f"tables[{i}].finish[{s}]: {end} is past the last slot {slots}")

    def _check_names(self) -> None:
        groups: dict[str, Iterable[Air | Place | Resource | Hand | Table | Job]] = {
            "airs": self.airs,
            "places": self.places,
            "resources": self.resources,
            "hands": self.hands,
            "tables": self.tables,
            "jobs": self.jobs,
        }
        for name, items in groups.items():
            seen = set()
            for i, item in enumerate(items):
                if not item.id:
                    raise BadInput(f"{name}[{i}].id: is empty")
                if item.id in seen:
                    raise BadInput(f"{name}[{i}].id: {item.id!r} is there twice")
                seen.add(item.id)
        airs, depths = {a.id for a in self.airs}, set()
        for i, place in enumerate(self.places):
            if place.air is not None and place.air not in airs:
                raise BadInput(f"places[{i}].air: there is no air {place.air!r}")
            if place.lane is not None and (place.lane, place.depth) in depths:
                raise BadInput(f"places[{i}].depth: lane {place.lane!r} has {place.depth} twice")
            depths.add((place.lane, place.depth))
        for i, table in enumerate(self.tables):
            if table.open is not None and table.open not in self.calendars:
                raise BadInput(f"tables[{i}].open: there is no calendar {table.open!r}")
            for worth in (table.worth, table.before):
                if worth is not None and worth not in self.worths:
                    raise BadInput(f"tables[{i}]: there is no worth {worth!r}")
        resources = {r.id for r in self.resources}
        if self.mover is not None and self.mover not in resources:
            raise BadInput(f"mover: there is no resource {self.mover!r}")
        for i, name in enumerate(self.fixed):
            if name not in resources and name not in {p.id for p in self.places}:
                raise BadInput(f"fixed[{i}]: there is no resource or place {name!r}")

    def _check_job(self, job: Job, where: str) -> None:
        places, tables = {p.id for p in self.places}, {t.id for t in self.tables}
        resources = {r.id for r in self.resources}

        def check(option: Option, at: str) -> None:
            for name in option.places:
                if name not in places:
                    raise BadInput(f"{at}.places: there is no place {name!r}")
            if not option.places:
                raise BadInput(f"{at}.places: is empty")
            for name in (*option.uses, *option.holds):
                if name not in resources:
                    raise BadInput(f"{at}: there is no resource {name!r}")

        def check_spread(part: Step | Begun, at: str) -> None:
            if part.spread is not None and part.spread not in self.spreads:
                raise BadInput(f"{at}.spread: there is no spread {part.spread!r}")
            if max(part.until, default=0) > len(self.days):
                raise BadInput(f"{at}.until: {max(part.until)} is past the last slot")

        if job.begun is not None:
            check(job.begun.option, f"{where}.begun.option")
            check_spread(job.begun, f"{where}.begun")
            if job.begun.worth is not None and job.begun.worth not in self.worths:
                raise BadInput(f"{where}.begun.worth: there is no worth {job.begun.worth!r}")
            if job.begun.option.places != (job.begun.place,):
                raise BadInput(f"{where}.begun.option.places: must be the place she is in")
            if job.begun.end > len(self.days):
                raise BadInput(f"{where}.begun.end: {job.begun.end} is past the last slot")
            units = next(place.units for place in self.places if place.id == job.begun.place)
            if job.begun.unit is not None and job.begun.unit not in units:
                raise BadInput(f"{where}.begun.unit: {job.begun.place!r} has no bay {job.begun.unit!r}")
        for i, step in enumerate(job.steps):
            at = f"{where}.steps[{i}]"
            if not step.options:
                raise BadInput(f"{at}.options: is empty")
            check_spread(step, at)
            for j, option in enumerate(step.options):
                check(option, f"{at}.options[{j}]")
                if option.table not in tables:
                    raise BadInput(f"{at}.options[{j}].table: there is no table {option.table!r}")
            for named in (step.pin_place, step.posted.place if step.posted else None):
                if named is not None and named not in places:
                    raise BadInput(f"{at}: there is no place {named!r}")
            if step.posted is not None and (step.posted.option or 0) >= len(step.options):
                raise BadInput(f"{at}.posted.option: the step has no option {step.posted.option}")
