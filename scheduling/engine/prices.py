"""Prices of places, resources, hours and trips that keep jobs planned one by one out of each other's way.

All capacities are relaxed at once; each job is then one insertion into the yard with nothing but the facts
in it. For any prices >= 0 the sum of these, less what the capacities would cost, is a lower bound of every
plan (Lagrangian duality; Held & Karp 1971); `climb.py` looks for the best ones. Lanes have prices, too
(`laneprices.py`), and so has the air (`airprices.py`); swap cycles among planned jobs are left away, which
only lowers it; what has begun is in the way of all others.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from scheduling.engine.airprices import AirCharges, AirLines, air_lines
from scheduling.engine.compiled import NEVER, Compiled, Ints, compile_problem
from scheduling.engine.cost import option_of, stays_of
from scheduling.engine.insertion import Prices, State, insert
from scheduling.engine.laneprices import KINDS, charges_of, divided, pairs_of, uses_of
from scheduling.engine.problem import Job, Option, Problem
from scheduling.engine.rounded import rounded
from scheduling.engine.schedule import BoundPrices, HandPrices, LanePrices, StepTime

Floats = npt.NDArray[np.float64]

PARTS = 1000
"""Prices are in so many parts of a minor unit, unless a job is too dear for that: a minute of hands is worth
less than one."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way of one job: what it costs without prices, and what it takes."""

    cost: int  # [minor units, or parts of them]
    at: Ints  # of what: (place, row, or row of a lane) x slots + slot
    use: Floats  # [shares of the most there ever is of it]
    times: tuple[StepTime, ...] = ()  # none: she is left out

    def same(self, other: "Way") -> bool:
        """Whether both cost and take the same."""
        if self.cost != other.cost or len(self.at) != len(other.at):
            return False
        return bool((self.at == other.at).all() and (self.use == other.use).all())


def parts_of(problem: Problem) -> int:
    """In how many parts of a minor unit prices of this yard can be without sums growing too large."""
    dearest = max((job.drop_price for job in problem.jobs), default=0)
    return max(min(PARTS, NEVER // 8 // max(dearest, 1)), 1)


def in_parts(problem: Problem, parts: int) -> Problem:
    """The same Problem with all money in so many parts of a minor unit."""

    def option(told: Option) -> Option:
        price, stand, rig = parts * told.price, parts * told.stand_price, parts * told.rig_price
        return replace(told, price=price, stand_price=stand, rig_price=rig)

    def job(told: Job) -> Job:
        steps = tuple(replace(s, options=tuple(map(option, s.options))) for s in told.steps)
        begun = replace(told.begun, option=option(told.begun.option)) if told.begun is not None else None
        late, drop = parts * told.late_price, parts * told.drop_price
        return replace(told, late_price=late, drop_price=drop, begun=begun, steps=steps)

    return replace(
        problem,
        places=tuple(replace(p, price=parts * p.price) for p in problem.places),
        tables=tuple(replace(t, price=tuple(parts * p for p in t.price)) for t in problem.tables),
        jobs=tuple(map(job, problem.jobs)),
        move_price=parts * problem.move_price,
        shunt_price=parts * problem.shunt_price,
        change_price=parts * problem.change_price,
    )


class Dual:
    """What the yard has left beside the facts, and what jobs planned one by one would take of it."""

    def __init__(self, compiled: Compiled, air: AirLines | None = None) -> None:
        """`air`: the lines of a yard of which this one's ways are a part, if not its own."""
        self.compiled = compiled
        self.state, self.bare = State(compiled), State(compiled)
        self._stand_in_the_way()
        self.room = np.maximum(compiled.room, compiled.begun_at)[:, None] - self.state.here
        counted = np.array([name not in ("dirt", "tender") for name, _ in compiled.rows], dtype=bool)
        self.spare = np.where(counted[:, None], compiled.facts, 0)
        self.counted = counted[:, None]
        self.scale = np.maximum(compiled.plain.max(axis=1, keepdims=True, initial=1), 1).astype(float)
        self.pairs, self.air = pairs_of(compiled), air_lines(compiled) if air is None else air
        self.first_air = len(self.room) + len(self.spare) + KINDS * len(self.pairs)
        ones = np.ones(KINDS * len(self.pairs) + len(self.air.lines))
        self.scales = np.concatenate([np.ones(len(self.room)), self.scale[:, 0], ones])
        self.flat: tuple[Prices, Ints] | None = None

    def _stand_in_the_way(self) -> None:
        """What has begun in a lane is in front of those behind until it is over, whatever comes then."""
        compiled, state = self.compiled, self.state
        for job in compiled.jobs.values():
            if job.begun is not None:
                for behind in compiled.deeper[compiled.place_index[job.begun.place]]:
                    state.ahead[behind, : job.begun.end] += 1
                    state.fixed[behind, : job.begun.end] += not job.begun.option.movable

    def there(self) -> Floats:
        """(Places, rows, rows of lanes, lines of the air) x slots: what the facts leave.

        In shares of the most there ever is.
        """
        ones = np.ones((KINDS * len(self.pairs) + len(self.air.lines), self.compiled.slots))
        return np.concatenate([self.room, self.spare / self.scale, ones])

    def most(self) -> Floats:
        """The same for what each is worth: of anybody in a lane no more than a shunt's price is asked."""
        found = np.full(self.there().shape, np.inf)
        found[self.first_air - KINDS // 2 * len(self.pairs) : self.first_air] = (
            self.compiled.problem.shunt_price
        )
        return found

    def prices(self, worth: Floats) -> Prices:
        """Whole prices from what the most there is of each thing is worth, shaped as `there`."""
        places, rows = len(self.room), len(self.room) + len(self.spare)
        halves = (2, KINDS // 2, len(self.pairs), worth.shape[1])
        lines = worth[rows : self.first_air].reshape(halves).sum(axis=0)
        return self.priced(worth[:places], worth[places:rows] / self.scale, lines, worth[self.first_air :])

    def priced(self, place: Floats, row: Floats, lines: Floats, air: Floats) -> Prices:
        """Whole prices, none so high that sums grow too large; the trips at that of the row of the mover.

        `lines` is 2 x pairs x slots: what is asked in lanes of who can't be moved, for coming and for going.
        """
        most = NEVER / (16 * self.compiled.slots)
        whole = np.floor(np.clip(row, 0, np.floor(most / self.scale))).astype(np.int64) * self.counted
        mover = self.compiled.mover
        trip = whole[mover] if mover is not None else np.zeros(self.compiled.slots, dtype=np.int64)
        asked = np.floor(np.clip(lines, 0, most)).astype(np.int64)
        lanes = divided(asked, self.compiled.problem.shunt_price)
        charges = charges_of(self.compiled, self.pairs, lanes) if self.pairs else None
        own = AirCharges(self.air, np.floor(np.clip(air, 0, most)).astype(np.int64))
        dear = np.floor(np.clip(place, 0, most)).astype(np.int64)
        return Prices(dear, whole, trip, charges, own if self.air.lines else None)

    def value(self, prices: Prices) -> tuple[int, list[tuple[int, Way]]]:
        """The bound at these prices, and what each job pays at least with the way in which she does."""
        found = [self.least(name, prices) for name in self.compiled.jobs]
        paid = int((prices.place * self.room).sum() + (prices.row * self.spare).sum())
        lanes = int(prices.lanes.rows.sum()) if prices.lanes is not None else 0
        air = self.air.most(prices.air.prices) if prices.air is not None else 0
        return sum(least for least, _ in found) - paid - lanes - air, found

    def least(self, name: str, prices: Prices) -> tuple[int, Way]:
        """The least that a job pays at these prices, and the way in which she does."""
        job = self.compiled.jobs[name]
        state = self.state if job.steps else self.bare  # with no step left she goes, whoever is there
        fit = insert(state, name, prices=prices)
        known = self._known(job, prices)
        if fit is None or fit.cost - known >= job.drop_price:
            return job.drop_price, left_out(job)
        return fit.cost - known, self._way(job, fit.cost - known, fit.times, prices)

    def _known(self, job: Job, prices: Prices) -> int:
        """What the insertion charges for standing there while the facts last, which is paid already."""
        if job.begun is None:
            return 0
        takes = self.compiled.takes(job.begun.option, self.compiled.place_index[job.begun.place])
        end = job.begun.end
        held = sum(amount * int(prices.row[row, :end].sum()) for row, amount in takes.hold)
        return held + int(prices.place[self.compiled.place_index[job.begun.place], :end].sum())

    def _way(self, job: Job, cost: int, times: Sequence[StepTime], prices: Prices) -> Way:
        compiled = self.compiled
        here, used = np.zeros_like(self.room), np.zeros_like(self.spare)
        known = job.begun.end if job.begun is not None else 0
        for number, stay in enumerate(stays_of(job.id, times)):
            place, start = compiled.place_index[stay.place], known if stay.start < 0 else stay.start
            here[place, start : stay.end] += 1
            if compiled.mover is None:
                continue
            used[compiled.mover, stay.start] += number > 0
            for x in (stay.start, stay.end):
                if 0 <= x < compiled.slots and job.steps:  # who is in front is pulled out and put back
                    used[compiled.mover, x] += 2 * self.state.ahead[place, x]
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
        passing = uses_of(compiled, self.pairs, job, times).reshape(-1, compiled.slots)
        clean = self.air.uses(compiled, job, times)
        uses = np.concatenate([here, np.where(self.counted, used, 0), passing, clean]).ravel()
        at = uses.nonzero()[0]
        amounts = uses[at]
        paid = int(self._flat(prices)[at] @ amounts)
        return Way(cost - paid, at, amounts / self.scales[at // compiled.slots], tuple(times))

    def _flat(self, prices: Prices) -> Ints:
        """What each thing that a way may take costs there, shaped as `there` and flat; made once."""
        if self.flat is None or self.flat[0] is not prices:
            width = self.compiled.slots
            lanes = prices.lanes.rows.reshape(-1, width) if prices.lanes is not None else None
            passing = np.zeros((KINDS * len(self.pairs), width), dtype=np.int64) if lanes is None else lanes
            clean = np.zeros((len(self.air.lines), width), dtype=np.int64)
            clean = clean if prices.air is None else prices.air.prices
            self.flat = prices, np.concatenate([prices.place, prices.row, passing, clean]).ravel()
        return self.flat[1]


def left_out(job: Job) -> Way:
    """The way of a job that is left out: it takes nothing."""
    return Way(job.drop_price, np.zeros(0, dtype=np.int64), np.zeros(0))


def told(dual: Dual, parts: int, prices: Prices) -> BoundPrices:
    """Prices in so many parts by name, to be kept with a plan."""
    compiled = dual.compiled
    places = {
        p.id: _tuple(prices.place[i]) for i, p in enumerate(compiled.problem.places) if prices.place[i].any()
    }
    resources, hands = {}, []
    for number, (kind, what) in enumerate(compiled.rows):
        if not prices.row[number].any():
            continue
        if kind == "resource":
            resources[what] = _tuple(prices.row[number])
        elif kind == "skills":
            hands.append(HandPrices(skills=tuple(sorted(what)), prices=_tuple(prices.row[number])))
    lanes = []
    rows = prices.lanes.rows if prices.lanes is not None else np.zeros((KINDS, 0, 0), dtype=np.int64)
    for (front, behind), (comes, goes) in zip(dual.pairs, (rows[:2] + rows[2:]).swapaxes(0, 1), strict=True):
        if comes.any() or goes.any():
            one, other = (compiled.problem.places[place].id for place in (front, behind))
            lanes.append(LanePrices(front=one, behind=other, comes=_tuple(comes), goes=_tuple(goes)))
    return BoundPrices(
        parts=parts,
        places=places,
        resources=resources,
        hands=tuple(hands),
        lanes=tuple(lanes),
        airs=dual.air.told(compiled, prices.air.prices) if prices.air is not None else (),
    )


def bound_of(problem: Problem, prices: BoundPrices) -> int:
    """[minor units] what no plan can cost less than, by these prices, whoever they come from.

    They may name what `rounded` counts as well.

    Raises ValueError if a price is below 0, a row has not one for each slot, or a name is not the Problem's.
    """
    if prices.parts < 1:
        raise ValueError("parts: a minor unit has at least one")
    if not prices.resources.keys() <= {resource.id for resource in problem.resources}:
        problem = rounded(problem)
    compiled = compile_problem(in_parts(problem, prices.parts))
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
    lines = np.zeros((2, len(dual.pairs), compiled.slots))
    air = np.zeros((len(dual.air.lines), compiled.slots))
    for of in prices.airs:
        for what, told_ in (("tender", of.makes), ("dirt", of.spoiled)):
            at = dual.air.line(compiled, of.job, what, of.air, of.kind)
            if at is not None:
                air[at] = _line(compiled, told_)
            elif any(told_):
                raise ValueError(f"{of.job!r}: no price is asked of her for {of.kind!r} in {of.air!r}")
    for lane in prices.lanes:
        pair = compiled.place_index.get(lane.front, -1), compiled.place_index.get(lane.behind, -1)
        if pair not in dual.pairs:
            raise ValueError(f"{lane.front!r} is not in front of {lane.behind!r}")
        number = dual.pairs.index(pair)
        lines[:, number] = _line(compiled, lane.comes), _line(compiled, lane.goes)
    return whole(dual.value(dual.priced(place, row, lines, air))[0], prices.parts)


def whole(value: int, parts: int) -> int:
    """[minor units] what no plan can cost less than, by a bound in parts: plans cost whole ones."""
    return max(-(-value // parts), 0)


def _tuple(line: Ints) -> tuple[int, ...]:
    return tuple(int(price) for price in line)


def _line(compiled: Compiled, line: tuple[int, ...]) -> Sequence[int]:
    if len(line) != compiled.slots or min(line) < 0:
        raise ValueError(f"prices: {compiled.slots} are needed, none below 0")
    return line
