"""Bays, pads and the dock as places: pools of bays that are equal to the rules, with the greatest boat each
takes."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from math import ceil

from scheduling.engine.problem import Air as EngineAir
from scheduling.engine.problem import Place
from scheduling.loading.axis import Axis
from scheduling.loading.records import Records
from yard.models import Air, Bay, Boat
from yard.models.boats import HullKind
from yard.models.kit import KitKind
from yard.models.places import AirKind
from yard.models.yards import WEATHER_KINDS
from yard.trade.hull import planned_load_kg
from yard.trade.lifting import greatest_beam_m, heavy_share

DOCK = "dock"

NIGHT_H = 15
"""[h] from knocking off to starting again. Follows from the yard's hours; 14 to 16."""

SIDE_M = Decimal("0.3")
"""[m] a side between the boat on the mover and the door post. Common practice; 0.3 to 0.5."""

OVERHEAD_M = Decimal("0.2")
"""[m] between her highest point on the mover and the door's lintel. Common practice; 0.2 to 0.3."""


@dataclass(frozen=True)
class Places:
    """The places, the bays behind each, and the airs by id."""

    places: tuple[Place, ...]
    airs: tuple[EngineAir, ...]
    bays: dict[str, tuple[Bay, ...]]  # place id: its bays, in the order of its units
    place_of: dict[int, str]  # bay id: place id
    air_rows: dict[int, Air]

    def first(self, place: str) -> Bay:
        """A bay that stands for all in the place."""
        return self.bays[place][0]

    @property
    def open_ground(self) -> tuple[str, ...]:
        """The places without a roof."""
        return tuple(name for name, bays in self.bays.items() if bays[0].air.kind == AirKind.OPEN)

    def unit_of(self, bay: Bay) -> str | None:
        """The unit's name, where the bay is one of a pool."""
        return bay.name if len(self.bays[self.place_of[bay.pk]]) > 1 else None


def size_of(boat: Boat) -> dict[str, int]:
    """What of a boat is held against the limits of a place [mm, kg]."""
    load = planned_load_kg(float(boat.displacement_t), float(boat.weighed_t) if boat.weighed_t else None)
    heavy = heavy_share(motor=boat.hull_kind == HullKind.MOTOR)
    return {
        "length_mm": _mm(boat.length_m),
        "beam_mm": _mm(boat.beam_m),
        "height_mm": _mm(boat.stand_height_m),
        "load_kg": load,
        "sling load_kg": ceil(load * heavy),
    }


def places_of(records: Records, axis: Axis) -> Places:
    """All places of the yard. Bays that no rule can tell apart become one pool."""
    pinned = {pin.bay_id for pin in records.pins.values() if pin.bay_id}
    groups: dict[tuple[object, ...], list[Bay]] = defaultdict(list)
    stopped = _stopped(records, axis)
    for bay in records.bays:
        alone = bay.lane_id is not None or bay.pk in pinned or bay.pk in stopped
        same = (bay.air_id, bay.length_m, bay.beam_m, bay.height_m, bay.load_t, bay.tent_size)
        groups[(bay.pk,) if alone else same].append(bay)
    places, bays, place_of = [], {}, {}
    for group in groups.values():
        bay = group[0]
        place_id = f"bay:{bay.pk}" if len(group) == 1 else f"pool:{bay.pk}"
        places.append(_place(records, place_id, group, tuple(stopped.get(bay.pk, ()))))
        bays[place_id] = tuple(group)
        place_of.update({one.pk: place_id for one in group})
    places.append(_dock(records))
    airs = tuple(
        EngineAir(
            id=f"air:{air.pk}",
            label=air.name,
            # Dust that ends with the day has the night to settle: only what hangs longer takes a slot.
            settle=max(0, ceil((air.settle_h - NIGHT_H) / 24)),
            split_day=air.split_day,
        )
        for air in records.airs
    )
    return Places(tuple(places), airs, bays, place_of, {air.pk: air for air in records.airs})


def _place(records: Records, place_id: str, group: list[Bay], closed: tuple[tuple[int, int], ...]) -> Place:
    bay = group[0]
    roofed = bay.air.kind != AirKind.OPEN
    names = [one.name for one in group]
    return Place(
        id=place_id,
        label=names[0] if len(names) == 1 else f"{names[0]}–{names[-1]}",
        room=len(group),
        units=tuple(names) if len(group) > 1 else (),
        air=f"air:{bay.air_id}",
        lane=f"lane:{bay.lane_id}" if bay.lane_id else None,
        depth=bay.lane_place,
        price=pence(records.settings.bay_day_money) if roofed else 0,
        closed=closed,
        limits=_limits(records, bay),
    )


def _limits(records: Records, bay: Bay) -> dict[str, int]:
    movers = [kit for kit in records.kits if kit.kind == KitKind.MOVER]
    beams, heights, loads = [bay.beam_m], [bay.height_m], [bay.load_t]
    if bay.shed.door_width_m:
        beams.append(bay.shed.door_width_m - 2 * SIDE_M)
    if bay.shed.door_height_m:
        adds = min((kit.adds_height_m for kit in movers), default=Decimal(0))
        heights.append(bay.shed.door_height_m - adds - OVERHEAD_M)
    if movers and all(kit.safe_load_t for kit in movers):
        loads.append(max(kit.safe_load_t for kit in movers if kit.safe_load_t))
    limits = {
        "length_mm": _mm(bay.length_m),
        "beam_mm": _mm(min(beams)),
        "load_kg": int(min(loads) * 1000),
    }
    high = [height for height in heights if height is not None]
    return {**limits, "height_mm": _mm(min(high))} if high else limits


def _dock(records: Records) -> Place:
    """Where the hoist lifts. A yard without a hoist has a boat there only until its records say where she
    stands."""
    room = max(1, sum(hoist.lifts_a_day for hoist in records.hoists))
    if not records.hoists:
        return Place(id=DOCK, label="the dock", room=room)
    share = records.settings.hoist_load_pct / 100
    limits = {
        "load_kg": max(int(float(hoist.safe_load_t) * 1000 * share) for hoist in records.hoists),
        "beam_mm": max(int(greatest_beam_m(float(hoist.inside_width_m)) * 1000) for hoist in records.hoists),
    }
    # She hangs in two pairs, and which end of her is heavier isn't known ahead: the weaker pair counts.
    weaker = []
    for hoist in records.hoists:
        pairs = [float(sling.safe_load_t) for sling in records.slings if sling.hoist_id == hoist.pk]
        weaker += sorted(pairs, reverse=True)[:2][-1:]
    if len(weaker) == len(records.hoists):
        limits["sling load_kg"] = int(max(weaker) * 1000 * share)
    return Place(id=DOCK, label="the dock", room=room, limits=limits)


def _stopped(records: Records, axis: Axis) -> dict[int, list[tuple[int, int]]]:
    """The closed slots of each bay that is out, alone or with its shed."""
    found: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for stoppage in records.stoppages:
        span = axis.stopped(stoppage)
        if span is None or stoppage.kind in WEATHER_KINDS:
            continue
        for bay in records.bays:
            if stoppage.bay_id == bay.pk or (stoppage.shed_id and stoppage.shed_id == bay.shed_id):
                found[bay.pk].append(span)
    return dict(found)


def pence(money: Decimal) -> int:
    """Money as the engine counts it: integer minor units."""
    return int((money * 100).to_integral_value())


def _mm(metres: Decimal) -> int:
    return int((metres * 1000).to_integral_value())
