"""Prices of places, resources, hours and trips that keep jobs planned one by one out of each other's way.

All capacities are relaxed at once; each job is then one insertion into the yard with nothing but the facts
in it. For any prices >= 0 the sum of these, less what the capacities would cost, is a lower bound of every
plan (Lagrangian duality; Held & Karp 1971, steps after Polyak 1969 from the best prices along an average of
all excesses so far, as in the volume algorithm of Barahona & Anbil 2000). Lanes, air and swap
cycles among planned jobs are left away, which only lowers it.
"""

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from scheduling.engine.compiled import Compiled, Ints, compile_problem
from scheduling.engine.cost import option_of, stays_of
from scheduling.engine.insertion import Prices, State, insert
from scheduling.engine.problem import Job, Problem
from scheduling.engine.schedule import BoundPrices, HandPrices, StepTime

Floats = npt.NDArray[np.float64]

NEWEST = 0.1
"""The weight of the newest excess in the average that gives a step its direction; measured."""
LENGTH, LONGEST, LONGER, SHORTER, FAILURES = 0.2, 2.0, 1.1, 0.7, 4
"""Length of the first step, at most, its growth by a step that bears out the average, and its cut after so
many steps without a better bound."""


def priced_bound(
    compiled: Compiled,
    above: int,
    steps: int,
    should_stop: Callable[[], bool] = lambda: False,
    start: Prices | None = None,
) -> tuple[int, Prices, int]:
    """The best bound found [minor units], its prices, and the insertions made.

    `above` is the cost of any plan; it sets the length of the steps. `start` are prices found before.
    """
    dual = Dual(compiled)
    best_place, best_row = np.zeros(dual.room.shape), np.zeros(dual.spare.shape)
    if start is not None:
        best_place, best_row = start.place.astype(float), start.row.astype(float)
    best, length, failures, tries = -1, LENGTH, 0, 0
    place, row, go_place, go_row = best_place, best_row, best_place, best_row
    for number in range(steps):
        if should_stop():
            break
        value, over_place, over_row = dual.value(place, row)
        tries += len(compiled.jobs)
        if number == 0:
            go_place, go_row = over_place, over_row
        if value > best:
            if float((over_place * go_place).sum() + (over_row * go_row).sum()) >= 0:
                length = min(length * LONGER, LONGEST)
            best, best_place, best_row, failures = value, place, row, 0
        else:
            failures += 1
            if failures == FAILURES:
                length, failures = length * SHORTER, 0
        go_place = NEWEST * over_place + (1 - NEWEST) * go_place
        go_row = NEWEST * over_row + (1 - NEWEST) * go_row
        free_place = np.where((best_place <= 0) & (go_place < 0), 0, go_place)
        free_row = np.where((best_row <= 0) & (go_row < 0), 0, go_row)
        norm = float((free_place**2).sum() + (free_row**2).sum())
        if norm == 0 or above <= best:
            break
        step = length * (above - best) / norm
        place = np.maximum(best_place + step * free_place, 0.0)
        row = np.maximum(best_row + step * free_row / dual.scale, 0.0)
    return max(best, 0), dual.prices(best_place, best_row), tries


def told(compiled: Compiled, prices: Prices) -> BoundPrices:
    """The same prices by name, to be kept with a plan."""
    places = {
        p.id: _whole(prices.place[i]) for i, p in enumerate(compiled.problem.places) if prices.place[i].any()
    }
    resources, hands = {}, []
    for number, (kind, what) in enumerate(compiled.rows):
        if not prices.row[number].any():
            continue
        if kind == "resource":
            resources[what] = _whole(prices.row[number])
        elif kind == "skills":
            hands.append(HandPrices(skills=tuple(sorted(what)), prices=_whole(prices.row[number])))
    return BoundPrices(places=places, resources=resources, hands=tuple(hands))


def bound_of(problem: Problem, prices: BoundPrices) -> int:
    """[minor units] what no plan can cost less than, by these prices, whoever they come from.

    Raises ValueError if a price is below 0, a row has not one for each slot, or a name is not the Problem's.
    """
    compiled = compile_problem(problem)
    dual = Dual(compiled)
    place, row = np.zeros(dual.room.shape), np.zeros(dual.spare.shape)
    named: list[tuple[tuple[str, object], tuple[int, ...]]] = []
    named += [(("resource", name), line) for name, line in prices.resources.items()]
    named += [(("skills", frozenset(each.skills)), each.prices) for each in prices.hands]
    for name, line in prices.places.items():
        if name not in compiled.place_index:
            raise ValueError(f"there is no place {name!r}")
        place[compiled.place_index[name]] = _line(compiled, line)
    for key, line in named:
        if key not in compiled.row_of:
            raise ValueError(f"{key[0]} {key[1]!r}: there is no such row")
        row[compiled.row_of[key]] = _line(compiled, line)
    return max(dual.value(place, row)[0], 0)


def _whole(line: Ints) -> tuple[int, ...]:
    return tuple(int(price) for price in line)


def _line(compiled: Compiled, line: tuple[int, ...]) -> Sequence[int]:
    if len(line) != compiled.slots or min(line) < 0:
        raise ValueError(f"prices: {compiled.slots} are needed, none below 0")
    return line


class Dual:
    """What the yard has left beside the facts, and what jobs planned one by one would take of it."""

    def __init__(self, compiled: Compiled) -> None:
        self.compiled = compiled
        self.state = State(compiled)
        self.room = np.maximum(compiled.room, compiled.begun_at)[:, None] - self.state.here
        counted = np.array([name not in ("dirt", "tender") for name, _ in compiled.rows])
        self.spare = np.where(counted[:, None], compiled.facts, 0)
        self.counted = counted[:, None]
        self.scale = np.maximum(compiled.plain.max(axis=1, keepdims=True, initial=1), 1).astype(float)

    def prices(self, place: Floats, row: Floats) -> Prices:
        """Whole prices; the trips at the price of the row of the mover."""
        whole = np.floor(row).astype(np.int64)
        mover = self.compiled.mover
        trip = whole[mover] if mover is not None else np.zeros(self.compiled.slots, dtype=np.int64)
        return Prices(np.floor(place).astype(np.int64), whole, trip)

    def value(self, place: Floats, row: Floats) -> tuple[int, Floats, Floats]:
        """The bound at these prices, and by how much each capacity is exceeded (row by row scaled to one)."""
        compiled, prices = self.compiled, self.prices(place, row)
        here, used = np.zeros_like(self.room), np.zeros_like(self.spare)
        total = 0
        for name, job in compiled.jobs.items():
            fit = insert(self.state, name, prices=prices)
            known = self._known(job, prices)
            if fit is None or fit.cost - known >= job.drop_price:
                total += job.drop_price
                continue
            total += fit.cost - known
            self._use(job, fit.times, here, used)
        total -= int((prices.place * self.room).sum() + (prices.row * self.spare).sum())
        over_row = np.where(self.counted, used - self.spare, 0) / self.scale
        return total, (here - self.room).astype(float), over_row

    def _known(self, job: Job, prices: Prices) -> int:
        """What the insertion charges for standing there while the facts last, which is paid already."""
        if job.begun is None:
            return 0
        takes = self.compiled.takes(job.begun.option, self.compiled.place_index[job.begun.place])
        end = job.begun.end
        held = sum(amount * int(prices.row[row, :end].sum()) for row, amount in takes.hold)
        return held + int(prices.place[self.compiled.place_index[job.begun.place], :end].sum())

    def _use(self, job: Job, times: Sequence[StepTime], here: Ints, used: Ints) -> None:
        compiled = self.compiled
        known = job.begun.end if job.begun is not None else 0
        for number, stay in enumerate(stays_of(job.id, times)):
            start = known if stay.start < 0 else stay.start
            here[compiled.place_index[stay.place], start : stay.end] += 1
            if number and compiled.mover is not None:
                used[compiled.mover, stay.start] += 1
        for time in times:
            takes = compiled.takes(option_of(job, time), compiled.place_index[time.place])
            start = time.start
            if time.option < 0:
                start = time.end
            elif takes.work:
                opened = 1 if takes.open is None else takes.open[start : time.end]
                used[:, start : time.end] += takes.all_work * opened
            for row, amount in takes.hold:
                used[row, start : time.leaves] += amount
