"""What the other jobs leave to one job: where she can stand on, at what price, and where she can work.

A view is (place, movable, what is held): how standing there looks. Breaks are counted, so a stretch is
unbroken when the count at its end equals the count at its start; that one number covers room, holds, closed
slots and lanes.
"""

from dataclasses import dataclass, field

import numpy as np

from scheduling.engine.airprices import AirCharges
from scheduling.engine.compiled import NEVER, RUN, WIDE_OPEN, Bools, Ints
from scheduling.engine.jobtable import JobTable
from scheduling.engine.laneprices import LaneCharges
from scheduling.engine.state import State

MOST_KEPT = 32 << 20
"""[bytes] about as much is kept of what jobs pay at the same prices."""


@dataclass(frozen=True, slots=True)
class Prices:
    """Additive prices [minor units] on top of the cost.

    By place and slot stood there, by row and slot for each unit used, by slot for each trip; of passing in
    lanes, and of work in the air.
    """

    place: Ints
    row: Ints
    trip: Ints
    lanes: LaneCharges | None = None
    air: AirCharges | None = None
    so_far: list[Ints] = field(
        default_factory=list, compare=False, repr=False
    )  # once it was asked for: what standing in each place has cost before each slot
    paid: dict[int, tuple[JobTable, Ints, Ints]] = field(
        default_factory=dict, compare=False, repr=False
    )  # and by job table: what standing and the work have cost her

    def times(self, scale: float) -> "Prices":
        """These prices, each multiplied by `scale` and rounded down."""
        place, row, trip = (np.floor(p * scale).astype(np.int64) for p in (self.place, self.row, self.trip))
        lanes = self.lanes.times(scale) if self.lanes is not None else None
        return Prices(place, row, trip, lanes, self.air.times(scale) if self.air is not None else None)


@dataclass(slots=True)
class Charges:
    """What was found out about the paths tried so far: what arriving, leaving or standing on costs on top."""

    enter: dict[tuple[int, int], dict[int, int]] = field(
        default_factory=dict
    )  # (row, slot): {from place: extra}
    leave: dict[tuple[int, int], int] = field(
        default_factory=dict
    )  # (place, slot): extra, after the last piece
    stay: dict[tuple[int, int], int] = field(default_factory=dict)  # (place, slot): extra
    seen: set[tuple[int, int, int]] = field(default_factory=set)  # (slot, from place, to place)


@dataclass(slots=True)
class Views:
    """Standing and working in slots a to z - 1, as the others leave it to one job. V views, K needs, W slots.

    Only differences within a row and within the window mean anything.
    """

    key: Ints  # V x (W + 1): RUN x breaks so far + what standing on has cost so far, for who starts at a slot
    key_end: Ints  # V x (W + 1): the same for who leaves at a slot
    cross: (
        tuple[Ints, Ints] | None
    )  # (views, x slots of the window: what standing on across its border costs)
    trips: Ints  # slots of the window: trips left
    bad: Ints  # K x (W + 1): RUN x slots so far in which the work can't go on
    price: Ints | None  # K x (W + 1): what the work has cost so far at `prices`


def look(
    state: State, table: JobTable, charges: Charges, prices: Prices | None, a: int = 0, z: int | None = None
) -> Views:
    """The views of a job on the state of the others, in slots a to z - 1."""
    compiled, lifted = state.compiled, table.lifted
    width, places = compiled.slots, len(compiled.room)
    z = width if z is None else z
    known = table.job.begun.end - a if table.job.begun is not None else 0
    blocked = np.zeros((places + 1, z - a), dtype=bool)
    here = state.here[:, a:z]
    if "stand" not in lifted:
        room = compiled.open_room[:, a:z] if "windows" not in lifted else compiled.room[:, None]
        np.greater_equal(here, room, out=blocked[:places])
        if table.home >= 0:
            planned = here[table.home] > state.begun[table.home, a:z]
            blocked[places] = planned & (here[table.home] >= compiled.room[table.home])
    elif "windows" not in lifted:
        blocked[:places] = compiled.closed[:, a:z]
    barred = blocked.take(table.view_place, axis=0)
    for amounts, which in table.held_views:
        held = np.zeros(z - a, dtype=bool)
        for row, amount in amounts:
            held |= state.left[row, a:z] < amount
        barred[which] |= held
    if known > 0:  # her facts count already; she plans nothing before
        barred[:, :known] = False
    key_end = _so_far(barred, width, a)
    key_end += table.view_rate * compiled.days_before
    counted = "hands" not in lifted and compiled.mover is not None
    trips = state.left[compiled.mover, a:z] if counted else np.full(z - a, WIDE_OPEN, dtype=np.int64)
    price = None
    if prices is not None:
        paid, price = _paid(table, prices)
        key_end += paid
    key = key_end
    cross = _crossings(state, table, charges, trips, prices, a, z)
    if cross is not None:
        which, cost = cross
        so_far = np.zeros((len(which), width + 1), dtype=np.int64)
        np.cumsum(cost, axis=1, out=so_far[:, a + 1 : z + 1])
        so_far[:, z + 1 :] = so_far[:, z : z + 1]
        key_end[which] += so_far
        key = key_end.copy()
        key[which, a:z] += cost
    return Views(key, key_end, cross, trips, _working(state, table, a, z), price)


def _so_far(barred: Bools, width: int, a: int) -> Ints:
    """Rows x (W + 1): RUN x the barred slots before each; rows go on from one another, which is faster."""
    flat = np.zeros((len(barred), width + 1), dtype=bool)
    flat[:, a + 1 : a + 1 + barred.shape[1]] = barred
    found = np.empty(flat.shape, dtype=np.int64)
    np.cumsum(flat.ravel(), out=found.ravel())
    found *= RUN
    return found


def _crossings(
    state: State,
    table: JobTable,
    charges: Charges,
    trips: Ints,
    prices: Prices | None,
    a: int,
    z: int,
) -> tuple[Ints, Ints] | None:
    """Where others pass behind her: (views, what standing on costs), RUN where she can't; None = nowhere."""
    compiled, front = state.compiled, table.front_views
    found = None
    if front.size and "lane" not in table.lifted:
        events = state.events[table.front_places, a:z]
        some = events > 0
        if some.any():
            cost = events * compiled.problem.shunt_price
            if prices is not None:
                cost = cost + 2 * events * prices.trip[a:z]
            known = table.job.begun.end - a if table.job.begun is not None else 0
            fixed = some
            if known > 0:  # a boat with no step left goes behind work that has begun: facts on both sides
                fixed = some.copy()
                fixed[:, :known] = (events - state.going[table.front_places, a:z])[:, :known] > 0
            short = some & (2 * events + table.front_own > trips)
            found = np.where(table.front_movable, np.where(short, RUN, cost), np.where(fixed, RUN, 0))
        if prices is not None and prices.lanes is not None:
            paid = _passed(table, prices.lanes, a, z)
            found = paid if found is None else np.minimum(found + paid, RUN)
    if not charges.stay:
        return None if found is None else (front, found)
    cross = np.zeros((len(table.view_place), z - a), dtype=np.int64)
    if found is not None:
        cross[front] = found
    for (place, x), extra in charges.stay.items():
        for v, there in enumerate(table.view_place.tolist()):
            if (table.home if there == len(compiled.room) else there) == place and a <= x < z:
                total = cross[v, x - a] + extra
                cross[v, x - a] = RUN if total >= NEVER else total
    return np.arange(len(cross)), cross


def _passed(table: JobTable, lanes: LaneCharges, a: int, z: int) -> Ints:
    """Front views x slots: what is asked of her for standing where others want to pass."""
    paid: Ints = np.where(
        table.front_movable,
        lanes.movable[table.front_places, a:z],
        lanes.fixed[table.front_places, a:z],
    )
    if table.job.begun is not None:
        paid[:, : max(table.job.begun.end - a, 0)] = 0  # a fact costs nothing more
    return paid


def _paid(table: JobTable, prices: Prices) -> tuple[Ints, Ints]:
    """What `_priced` works out, kept while there is room: a search asks at the same prices often."""
    kept = prices.paid.get(id(table))
    if kept is None:
        kept = (table, *_priced(table, prices))
        if len(prices.paid) * kept[1].nbytes <= MOST_KEPT:
            prices.paid[id(table)] = kept
    return kept[1], kept[2]


def _priced(table: JobTable, prices: Prices) -> tuple[Ints, Ints]:
    """V x (W + 1) and K x (W + 1): what standing and what the work has cost so far at `prices`."""
    places, width = prices.place.shape
    if not prices.so_far:
        so_far = np.zeros((places, width + 1), dtype=np.int64)
        np.cumsum(prices.place, axis=1, out=so_far[:, 1:])
        prices.so_far.append(so_far)
    paid = prices.so_far[0][np.where(table.view_place == places, table.home, table.view_place)]
    for amounts, which in table.held_views:
        paid[which, 1:] += np.cumsum(sum(amount * prices.row[row] for row, amount in amounts))
    price = np.zeros((len(table.needs), width + 1), dtype=np.int64)
    own = prices.air.of(table.job.id) if prices.air is not None else {}
    for number, need in enumerate(table.needs):
        for row, amount in need.work:
            price[number, 1:] += amount * prices.row[row]
        if need.open is not None:
            price[number, 1:] *= need.open
        for row in need.clean:
            if row in own:
                price[number, 1:] += own[row]
    np.cumsum(price, axis=1, out=price)
    return paid, price


def _working(state: State, table: JobTable, a: int, z: int) -> Ints:
    short = np.zeros((len(table.need_rows) + 1, z - a), dtype=bool)  # the last line is never short
    np.less(state.left[table.need_rows, a:z], table.need_amounts[:, a:z], out=short[:-1])
    bad = short.take(table.need_lines[0], axis=0)
    for lines in table.need_lines[1:]:
        bad |= short.take(lines, axis=0)
    return _so_far(bad, state.compiled.slots, a)
