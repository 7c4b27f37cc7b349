"""What couples the two ends of a trip, found on a path and charged for the next round of the insertion.

Swap cycles depend on where a boat comes from and where she goes; so do the trips of a day when she is
shunted out at one end and in at the other. Both are rare, so they are looked at on the path that would be
taken.
"""

from collections.abc import Sequence

from scheduling.engine.compiled import NEVER
from scheduling.engine.cost import stays_of
from scheduling.engine.jobtable import JobTable
from scheduling.engine.schedule import StepTime
from scheduling.engine.state import State
from scheduling.engine.views import Charges, Prices

NOWHERE = -1


def find_surprises(
    state: State, table: JobTable, times: Sequence[StepTime], charges: Charges, prices: Prices | None
) -> bool:
    """Charge what the path through `times` costs beyond its labels; False if there is nothing of the kind."""
    found = False
    for x, come_from, go_to in _passages(state, table, times):
        if (x, come_from, go_to) not in charges.seen:
            charges.seen.add((x, come_from, go_to))
            found |= _charge(state, table, charges, prices, x, come_from, go_to)
    return found


def charge_merging_rings(state: State, table: JobTable, charges: Charges, prices: Prices | None) -> None:
    """Where others swap in two cycles or more one boat could join them: charge every way there."""
    if not (state.rings > 1).any() or "stand" in table.lifted:
        return
    places = sorted({*table.place.tolist(), *([table.home] if table.home >= 0 else []), NOWHERE})
    for x in (state.rings > 1).nonzero()[0].tolist():
        for come_from in places:
            for go_to in places:
                charges.seen.add((x, come_from, go_to))
                _charge(state, table, charges, prices, x, come_from, go_to)


def _passages(state: State, table: JobTable, times: Sequence[StepTime]) -> list[tuple[int, int, int]]:
    """(slot, place before it, place from it on) wherever others' trips may be touched.

    Where she stands on she may fill a place others swap in, or take the last free one of those who swap.
    """
    index, width = state.compiled.place_index, state.compiled.slots
    stays = stays_of(table.job.id, times)
    found = []
    come_from = NOWHERE
    for number, stay in enumerate(stays):
        place = index[stay.place]
        if stay.start >= 0 and (number or stay.start in state.knots):
            found.append((stay.start, come_from, place))
        for x in sorted(state.knots):  # no swap cycle elsewhere
            if stay.start < x < stay.end and (state.rings[x] or state.nearly_full(place, x)):
                found.append((x, place, place))
        come_from = place
    last = stays[-1].end
    if last < width and last in state.knots:
        found.append((last, come_from, NOWHERE))
    return found


def _charge(
    state: State, table: JobTable, charges: Charges, prices: Prices | None, x: int, come_from: int, go_to: int
) -> bool:
    compiled, lifted = state.compiled, table.lifted
    if not state.arrows[x] and not table.in_lane and not table.mover_use:
        return False  # nobody else moves then, and nobody is in her way
    change: int | None = 0
    if compiled.problem.swaps != "free" and "stand" not in lifted and state.arrows[x]:
        change = state.swap_change(x, table.job.id, come_from, go_to)
    counted = compiled.mover is not None and "hands" not in lifted
    left = int(state.left[compiled.mover, x]) if counted and compiled.mover is not None else NEVER
    lane = "lane" not in lifted
    trip_price = compiled.problem.move_price + (int(prices.trip[x]) if prices is not None else 0)
    extra = NEVER if change is None else change * trip_price
    rings = change or 0
    if come_from == go_to:
        passing = int(state.events[go_to, x]) if lane and go_to >= 0 else 0
        if rings and rings + 2 * passing > left:
            extra = NEVER
        if extra and go_to >= 0:
            charges.stay[go_to, x] = extra
        return bool(extra) and go_to >= 0
    trips = int(come_from >= 0 and go_to >= 0) + rings
    for place in (come_from, go_to):
        trips += 2 * int(state.ahead[place, x]) if lane and place >= 0 else 0
    if go_to < 0:
        if trips > left:
            extra = NEVER
        if extra:
            charges.leave[come_from, x] = extra
        return bool(extra)
    found = False
    for row in (table.place == go_to).nonzero()[0].tolist():
        use = int(table.mover_use[row][x]) if row in table.mover_use else 0
        cost = NEVER if trips + use > left else extra
        if cost:
            charges.enter.setdefault((row, x), {})[come_from] = cost
            found = True
    return found
