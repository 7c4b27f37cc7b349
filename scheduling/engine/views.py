"""What the other jobs leave to one job: where she can stand on, at what price, and where she can work.

A view is (place, movable, what is held): how standing there looks. Breaks are counted, so a stretch is
unbroken when the count at its end equals the count at its start; that one number covers room, holds, closed
slots and lanes.
"""

from dataclasses import dataclass, field

import numpy as np

from scheduling.engine.compiled import NEVER, RUN, WIDE_OPEN, Ints
from scheduling.engine.jobtable import JobTable
from scheduling.engine.state import State
from scheduling.engine.steptable import BEGUN


@dataclass(frozen=True, slots=True)
class Prices:
    """Additive prices [minor units] on top of the cost.

    By place and slot stood there, by row and slot for each unit used, by slot for each trip.
    """

    place: Ints
    row: Ints
    trip: Ints
    known: dict[int, tuple[Ints, Ints]] = field(
        default_factory=dict, compare=False, repr=False
    )  # by the number of a job table: what standing in its views and doing its work costs at these prices


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
    """Standing and working, as the others leave it to one job. V views, K needs, W slots."""

    run: Ints  # V x W: breaks so far, for who starts at a slot
    run_end: Ints  # V x (W + 1): breaks so far, for who leaves at a slot
    key: Ints  # V x W: RUN x run + what standing on has cost so far
    key_end: Ints  # V x (W + 1)
    cross: Ints | None  # V x W: what standing on across a slot's border costs; None = nothing anywhere
    trips: Ints  # W: trips left
    bad: Ints  # K x (W + 1): slots so far in which the work can't go on
    price: Ints | None  # K x (W + 1): what the work has cost so far at `prices`


def look(state: State, table: JobTable, charges: Charges, prices: Prices | None) -> Views:
    """The views of a job on the state of the others."""
    compiled, lifted = state.compiled, table.lifted
    width, places = compiled.slots, len(compiled.room)
    known = table.job.begun.end if table.job.begun is not None else 0
    blocked = np.zeros((places + 1, width), dtype=bool)
    if "stand" not in lifted:
        np.greater_equal(state.here, compiled.room[:, None], out=blocked[:places])
        if table.job.begun is not None:
            home = compiled.place_index[table.job.begun.place]
            planned = state.here[home] > state.begun[home]
            blocked[places] = planned & (state.here[home] >= compiled.room[home])
    if "windows" not in lifted:
        blocked[:places] |= compiled.closed
    held = np.zeros((len(table.holds), width), dtype=bool)
    for number, amounts in enumerate(table.holds):
        for row, amount in amounts:
            held[number] |= state.left[row] < amount
    if known:  # her facts count already; she plans nothing before
        blocked[:, :known] = False
        held[:, :known] = False
    count = np.zeros((places + 1, width + 1), dtype=np.int64)
    np.cumsum(blocked, axis=1, out=count[:, 1:])
    where = np.array([v[0] for v in table.views], dtype=np.int64)  # BEGUN = -1 = the row after the last place
    run_end = count[where]
    if len(table.holds) > 1:
        holding = np.zeros((len(table.holds), width + 1), dtype=np.int64)
        np.cumsum(held, axis=1, out=holding[:, 1:])
        run_end += holding[[v[2] for v in table.views]]
    free = "hands" in lifted or compiled.mover is None
    trips = (
        np.full(width, WIDE_OPEN, dtype=np.int64)
        if free or compiled.mover is None
        else state.left[compiled.mover]
    )
    key_end = run_end * RUN
    run, key = run_end[:, :width], key_end[:, :width]
    cross = _crossings(state, table, charges, trips, prices)
    if cross is not None or prices is not None:
        run, key = run.copy(), key.copy()
    if cross is not None:
        barred = cross >= NEVER
        breaks = np.cumsum(barred, axis=1)
        run += breaks
        run_end[:, 1:] += breaks
        paid = np.cumsum(np.where(barred, RUN, cross), axis=1)
        key += paid
        key_end[:, 1:] += paid
    price = None
    if prices is not None:
        paid, price = _priced(table, prices)
        key += paid[:, :-1]
        key_end += paid
    bad = _working(state, table)
    return Views(run, run_end, key, key_end, cross, trips, bad, price)


def _crossings(
    state: State, table: JobTable, charges: Charges, trips: Ints, prices: Prices | None
) -> Ints | None:
    """V x W: what standing on costs where others pass behind her, NEVER if she can't; None = nothing."""
    if not table.in_lane and not charges.stay:
        return None
    compiled, front = state.compiled, table.front_views
    cross = np.zeros((len(table.views), compiled.slots), dtype=np.int64)
    if front.size and "lane" not in table.lifted:
        events = state.events[table.front_places]
        cost = events * compiled.problem.shunt_price
        if prices is not None:
            cost = cost + 2 * events * prices.trip
        some = events > 0
        known = table.job.begun.end if table.job.begun is not None else 0
        fixed = some.copy()
        if known:  # a boat with no step left goes behind work that has begun: facts on both sides
            fixed[:, :known] = (events - state.going[table.front_places])[:, :known] > 0
        short = some & (2 * events + table.front_own > trips)
        cross[front] = np.where(table.front_movable, np.where(short, NEVER, cost), np.where(fixed, NEVER, 0))
    for (place, x), extra in charges.stay.items():
        for v, (name, _, _) in enumerate(table.views):
            if (table.home if name == BEGUN else name) == place:
                cross[v, x] = min(cross[v, x] + extra, NEVER)
    return cross


def _priced(table: JobTable, prices: Prices) -> tuple[Ints, Ints]:
    """V x (W + 1) and K x (W + 1): what standing and what the work has cost so far at `prices`."""
    found = prices.known.get(table.number)
    if found is None:
        width = prices.place.shape[1]
        stand = prices.place[[table.home if place == BEGUN else place for place, _, _ in table.views]]
        for hold, amounts in enumerate(table.holds):
            if amounts:
                line = sum(amount * prices.row[row] for row, amount in amounts)
                stand[[v for v, view in enumerate(table.views) if view[2] == hold]] += line
        work = np.zeros((len(table.needs), width), dtype=np.int64)
        for number, need in enumerate(table.needs):
            for row, amount in need.work:
                work[number] += amount * prices.row[row]
            if need.open is not None:
                work[number] *= need.open
        paid = np.zeros((len(stand), width + 1), dtype=np.int64)
        price = np.zeros((len(work), width + 1), dtype=np.int64)
        np.cumsum(stand, axis=1, out=paid[:, 1:])
        np.cumsum(work, axis=1, out=price[:, 1:])
        found = prices.known[table.number] = paid, price
    return found


def _working(state: State, table: JobTable) -> Ints:
    width, left = state.compiled.slots, state.left
    bad = np.zeros((len(table.needs), width + 1), dtype=np.int64)
    if table.need_rows.size:
        short = left[table.need_rows] < table.need_amounts
        short &= table.need_open
        bad[table.need_some, 1:] = np.cumsum(np.logical_or.reduceat(short, table.need_first, axis=0), axis=1)
    return bad
