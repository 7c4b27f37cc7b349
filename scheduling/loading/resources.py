"""Hands, kits, power, lifts and trips: how much of each there is in every slot."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from datetime import time as clock
from decimal import Decimal

from scheduling.engine.problem import Hand, Resource
from scheduling.loading.axis import Axis
from scheduling.loading.hoists import certified_until
from scheduling.loading.places import pence
from scheduling.loading.records import Records
from yard.models import Person, WorkingWeek, YardSettings
from yard.models.kit import KitKind
from yard.models.yards import OutsideWho
from yard.trade import tides
from yard.trade.daylight import DEFAULT_LATITUDE, DEFAULT_LONGITUDE

TRIPS, LIFTS, TENTS = "trips", "lifts", "tents"

MOVES_A_DAY = 6
"""[trips] of one mover in a working day where the yard has not said. Common practice; 4 to 8, set on the
kit."""


@dataclass(frozen=True)
class Resources:
    """Everything limited but places. `day_minutes` [min] is one working day of a kit that is used by the
    hour."""

    resources: tuple[Resource, ...]
    hands: tuple[Hand, ...]
    mover: str | None
    day_minutes: int
    ids: frozenset[str]
    minutes: dict[str, list[int]]  # [min] of each skill in each slot

    @property
    def room(self) -> tuple[str, ...]:
        """Resources that only say how much room there is: for tents in an air."""
        return tuple(row.id for row in self.resources if row.unit == TENTS)

    def there(self, name: str) -> Sequence[int]:
        """How much there is of a skill or a resource in each slot."""
        found = next((row.capacity for row in self.resources if row.id == name), None)
        return found if found is not None else self.minutes.get(name, ())


def resources_of(records: Records, axis: Axis, tide_windows: "TideWindows") -> Resources:
    """Hands and resources of the yard over the axis."""
    settings = records.settings
    day_minutes = int(
        (_on(axis.days[0], settings.work_to) - _on(axis.days[0], settings.work_from)).total_seconds() // 60
    )
    hands = tuple(_hand(records, axis, person) for person in records.people if person.pk in records.skills)
    found = [*_kits(records, axis, day_minutes), *_power(records, axis), *_outside(records, axis)]
    movers = [kit for kit in records.kits if kit.kind == KitKind.MOVER]
    if movers:
        trips = [0] * axis.slots
        for kit in movers:
            for slot, share in enumerate(_working(records, axis, kit.pk, kit.count)):
                trips[slot] += share * (kit.moves_a_day or MOVES_A_DAY) * axis.crew[slot]
        found.append(Resource(id=TRIPS, label="mover", unit="trips", capacity=tuple(trips)))
    if records.hoists:
        found.append(
            Resource(id=LIFTS, label="hoist", unit="lifts", capacity=_lifts(records, axis, tide_windows))
        )
    minutes: dict[str, list[int]] = defaultdict(lambda: [0] * axis.slots)
    for hand in hands:
        for skill in hand.skills:
            minutes[skill] = [a + b for a, b in zip(minutes[skill], hand.minutes, strict=True)]
    return Resources(
        tuple(found),
        hands,
        TRIPS if movers else None,
        day_minutes,
        frozenset(r.id for r in found),
        dict(minutes),
    )


def _hand(records: Records, axis: Axis, person: Person) -> Hand:
    away: set[int] = set()
    for stoppage in records.stoppages:
        span = axis.stopped(stoppage) if stoppage.person_id == person.pk else None
        away.update(range(*span) if span else ())
    rows = records.weeks.get(person.pk, [])
    minutes = tuple(
        0 if slot in away else _minutes_on(rows, day, axis.crew[slot] == 1, records.settings.open_weekdays)
        for slot, day in enumerate(axis.days)
    )
    return Hand(
        id=f"person:{person.pk}", label=person.name, skills=tuple(records.skills[person.pk]), minutes=minutes
    )


def _minutes_on(rows: list[WorkingWeek], day: date, ordinary: bool, open_weekdays: str) -> int:
    """[min] of a person on a day.

    On ordinary days the week's hours are spread evenly over the days the person works, since a stage asks
    for the same hours
    each day, short Friday or not.
    """
    in_force = max((row.from_on for row in rows if row.from_on <= day), default=None)
    week = {row.weekday: float(row.hours) for row in rows if row.from_on == in_force}
    if not ordinary:
        return round(week.get(day.weekday(), 0.0) * 60)
    worked = {d: hours for d, hours in week.items() if hours > 0 and open_weekdays[d] == "1"}
    return round(sum(worked.values()) / len(worked) * 60) if day.weekday() in worked else 0


def _working(records: Records, axis: Axis, kit: int, count: int) -> list[int]:
    """How many of a kit work in each slot."""
    left = [count] * axis.slots
    for stoppage in records.stoppages:
        span = axis.stopped(stoppage) if stoppage.kit_id == kit else None
        for slot in range(*span) if span else ():
            left[slot] = max(0, left[slot] - (stoppage.count or count))
    return left


def kit_id(kind: str, size: str = "") -> str:
    """The resource that stands for all kits of a kind (and size)."""
    return f"kit:{kind}:{size}" if size else f"kit:{kind}"


def _kits(records: Records, axis: Axis, day_minutes: int) -> list[Resource]:
    """Kits by kind: those that go into tents counted by the piece, the others by their minutes of a working
    day."""
    rows: dict[str, list[int]] = {}
    labels: dict[str, str] = {}
    one: dict[str, int] = {}
    prices: dict[str, list[Decimal]] = defaultdict(list)
    for kit in records.kits:
        if kit.kind == KitKind.MOVER:
            continue
        piece = kit.kind == KitKind.TENT or bool(kit.for_tent_s or kit.for_tent_m or kit.for_tent_l)
        name = kit_id(kit.kind, kit.size if kit.kind == KitKind.TENT else "")
        row = rows.setdefault(name, [0] * axis.slots)
        labels.setdefault(name, kit.name)
        one[name] = 1 if piece else day_minutes
        prices[name].append(kit.price_day_money)
        for slot, count in enumerate(_working(records, axis, kit.pk, kit.count)):
            row[slot] += count * one[name]
    return [
        # Of kits alike to the plan the dearest is the price of one more; nothing a day means not set.
        Resource(
            id=name,
            label=labels[name],
            capacity=tuple(row),
            one=one[name],
            one_price=pence(max(prices[name])) or None,
        )
        for name, row in rows.items()
    ]


def _power(records: Records, axis: Axis) -> list[Resource]:
    """Power [W] by air where a part has a circuit of its own, else by shed; and tents an air can hold."""
    found = []
    for air in records.airs:
        if air.power_kw is not None:
            found.append(
                _flat(f"power:air:{air.pk}", f"power in {air.name}", "W", int(air.power_kw * 1000), axis)
            )
        if air.tents_max is not None:
            found.append(_flat(f"tents:air:{air.pk}", f"tents in {air.name}", TENTS, air.tents_max, axis))
    for shed in records.sheds:
        if shed.power_kw:
            found.append(
                _flat(f"power:shed:{shed.pk}", f"power in {shed.name}", "W", int(shed.power_kw * 1000), axis)
            )
    return found


def _flat(name: str, label: str, unit: str, amount: int, axis: Axis) -> Resource:
    return Resource(id=name, label=label, unit=unit, capacity=(amount,) * axis.slots)


def outside_id(who: str) -> str:
    """The resource that stands for an outsider's days [boats]."""
    return f"outside:{who}"


def _outside(records: Records, axis: Axis) -> list[Resource]:
    rows: dict[str, list[int]] = defaultdict(lambda: [0] * axis.slots)
    labels = dict(OutsideWho.choices)
    for visit in records.outside_days:
        slot = axis.at(visit.day)
        if slot < axis.slots and axis.days[slot] == visit.day:
            rows[visit.who][slot] += visit.capacity
    return [
        Resource(
            id=outside_id(who),
            label=str(labels[who]).replace("_", " ").lower(),
            unit="boats",
            capacity=tuple(row),
        )
        for who, row in rows.items()
    ]


class TideWindows:
    """How long the hoist can lift a draught on each slot, within its hours and daylight; worked out once a
    draught."""

    def __init__(self, records: Records, axis: Axis) -> None:
        self._records, self._axis = records, axis
        self._waters = [tides.Water(row.at, float(row.height_m), row.is_high) for row in records.waters]
        yard = records.season.yard
        self._hours = [
            tides.lifting_hours(
                day,
                work_from=records.settings.work_from,
                work_to=None,
                zone=records.zone,
                latitude=float(yard.latitude) if yard.latitude is not None else DEFAULT_LATITUDE,
                longitude=float(yard.longitude) if yard.longitude is not None else DEFAULT_LONGITUDE,
            )
            for day in axis.days
        ]
        self._known: dict[float, list[int]] = {}

    def minutes(self, draught_m: float) -> list[int]:
        """[min] of the longest window of each slot; without a tide table every slot has its whole day."""
        if draught_m not in self._known:
            self._known[draught_m] = self._work_out(draught_m)
        return self._known[draught_m]

    def _work_out(self, draught_m: float) -> list[int]:
        if not self._waters:
            return [hours.minutes if hours else 0 for hours in self._hours]
        open_windows = tides.windows(self._waters, water_for(draught_m, self._records.settings))
        longest = [0] * self._axis.slots
        slot_of = {day: slot for slot, day in enumerate(self._axis.days)}
        for part in tides.windows_in(open_windows, [hours for hours in self._hours if hours]):
            slot = slot_of[part.start.astimezone(self._records.zone).date()]
            longest[slot] = max(longest[slot], part.minutes)
        return longest


def water_for(draught_m: float, settings: YardSettings) -> float:
    """[m] of water over datum that floats a draught [m] over the sill, with what the yard asks besides."""
    return tides.need_m(
        draught_m,
        clearance_m=float(settings.tide_clearance_m),
        sill_m=float(settings.sill_level_m),
        allowance_m=float(settings.tide_allowance_m),
    )


def _lifts(records: Records, axis: Axis, tide_windows: TideWindows) -> tuple[int, ...]:
    """Lifts left in each slot: what the hoists can do while there is water for the shallowest boat, less
    those sold."""
    draughts = [float(row.boat.draught_m) for row in records.treatments]
    minutes = tide_windows.minutes(min(draughts, default=1.0))
    left = [0] * axis.slots
    for hoist in records.hoists:
        stopped: set[int] = set()
        for stoppage in records.stoppages:
            span = axis.stopped(stoppage) if stoppage.hoist_id == hoist.pk else None
            stopped.update(range(*span) if span else ())
        examined = [v.day for v in records.outside_days if v.who == OutsideWho.EXAMINER]
        until = certified_until(hoist.certificate_until, examined, accessory=False)
        slings = [
            certified_until(sling.certificate_until, examined, accessory=True)
            for sling in records.slings
            if sling.hoist_id == hoist.pk
        ]
        for slot, day in enumerate(axis.days):
            if slot in stopped or day in examined or not (until is None or day <= until):
                continue
            if sum(end is None or day <= end for end in slings) < min(2, len(slings)):
                continue
            left[slot] += min(hoist.lifts_a_day, minutes[slot] // hoist.minutes_a_lift)
    for sold in records.lifts_sold:
        span = axis.span(sold.first_day, sold.last_day)
        for slot in range(*span) if span else ():
            left[slot] = max(0, left[slot] - sold.lifts_a_day)
    return tuple(left)


def _on(day: date, at: clock) -> datetime:
    return datetime.combine(day, at)
