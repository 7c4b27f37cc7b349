"""Who takes what after whom in a plan: the order that a simulated winter keeps.

Facts may have overrun the plan: who was to come later comes later then, too, pushed on as far as it takes.
Places are handed over exactly as the plan has them; what is held until she leaves (a tent, its heaters, their
power) approximately: each taker gets it from those who had it free for longest. Hands, and what is used hour
by hour, are given out by `hours`.
"""

import heapq
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from scheduling.engine.cost import option_of, standing_out, stays_of
from scheduling.engine.problem import Air, Begun, Job, Option, Place, Problem, Step
from scheduling.engine.schedule import Schedule, StepTime


@dataclass(slots=True)
class Piece:
    """One step of a plan, or what has begun (`step` is None).

    `waits` are the moments it waits for; of the moments in `room` it waits for so many, whichever come first.
    """

    index: int
    job: Job
    step: Step | None
    option: Option
    time: StepTime
    leaves: int  # the moment she leaves it: a row, see `Moment`
    waits: list[tuple[int, int]] = field(default_factory=list)  # (row, slots after it)
    room: tuple[int, tuple[int, ...]] = (0, ())  # (how many, rows)
    stands: bool = False  # she goes on where she stood before

    @property
    def begun(self) -> Begun | None:
        """What has begun, where this is it."""
        return self.job.begun if self.step is None else None

    @property
    def after(self) -> list[int]:
        """Every piece it may have to wait for, by its index."""
        return [row // 2 for row in (*(row for row, _ in self.waits), *self.room[1])]


Moment = int
"""A row: 2 x piece for its start, 2 x piece + 1 for its end."""


@dataclass(frozen=True, slots=True)
class _Stay:
    """A stay in a place, by its first and last piece; `leaves` is the moment at which it ends."""

    place: str
    start: int
    end: int
    pieces: list[Piece]
    following: Piece | None  # with it she leaves

    @property
    def first(self) -> Piece:
        return self.pieces[0]

    @property
    def leaves(self) -> Moment:
        return self.pieces[-1].leaves

    def at(self, slot: int) -> Piece:
        """The piece she is in at a slot; the last one from its start on."""
        return next((piece for piece in self.pieces if slot < piece.time.leaves), self.pieces[-1])


@dataclass(frozen=True, slots=True)
class _Use:
    """So much of something from a piece's start until a moment that the plan has in slot `until`."""

    piece: Piece
    amount: int
    until: int
    moment: Moment


def pieces_of(problem: Problem, schedule: Schedule) -> list[Piece]:
    """Every piece of a plan in an order in which each comes after all it waits for.

    A plan that facts have overrun comes with the times it has: they say the order. Of those who wait for each
    other in a ring one waits for nobody in it: who stands where she goes on, since she takes no room from
    others; else, where they swap places, the first in it. Who only waits for a ring goes on waiting.
    """
    pieces: list[Piece] = []
    stays: list[_Stay] = []
    for job in problem.jobs:
        times = schedule.jobs.get(job.id)
        own = [
            Piece(index, job, _step(job, time), option_of(job, time), time, 2 * index + 1)
            for index, time in enumerate(times if times else standing_out(problem, job), len(pieces))
        ]
        for before, after in pairwise(own):
            before.leaves = 2 * after.index
            after.stands = after.time.place == before.time.place
            after.waits.append((2 * before.index + 1, after.step.wait_min if after.step else 0))
        pieces += own
        stays += _stays(own)
    _hand_over_places(problem, stays)
    _keep_lanes(problem, stays)
    _keep_air(problem, pieces)
    for resource in problem.resources:
        _hand_over(_held(resource.id, pieces), max(resource.capacity))
    return _in_order(pieces)


def _step(job: Job, time: StepTime) -> Step | None:
    return None if time.option < 0 else next(step for step in job.steps if step.id == time.step)


def _stays(own: list[Piece]) -> Iterator[_Stay]:
    at = 0
    for stay in stays_of("", [piece.time for piece in own]):
        run = own[at : at + len(stay.pieces)]
        at += len(run)
        yield _Stay(stay.place, stay.start, stay.end, run, own[at] if at < len(own) else None)


def _wait(piece: Piece, moment: Moment, lag: int = 0) -> None:
    if piece.time.start >= 0 and (moment, lag) not in piece.waits:
        piece.waits.append((moment, lag))


def _hand_over_places(problem: Problem, stays: list[_Stay]) -> None:
    """A boat comes once so many have left her place that there is room: of those who have left it before by
    the plan, whoever goes first."""
    rooms = {place.id: place.room for place in problem.places}
    by_place: dict[str, list[_Stay]] = defaultdict(list)
    for stay in sorted(stays, key=lambda one: (one.start, one.end)):
        before = by_place[stay.place]
        many = len(before) + 1 - rooms[stay.place]
        gone = sum(other.end <= max(stay.start, 0) for other in before)
        rows = [other.leaves for other in sorted(before, key=lambda one: one.end)][: max(many, gone)]
        if many == len(rows):
            for row in rows:
                _wait(stay.first, row)
        elif many > 0 and stay.first.step is not None:
            stay.first.room = (many, tuple(rows))
        before.append(stay)


def _keep_lanes(problem: Problem, stays: list[_Stay]) -> None:
    """Boats pass each other in a lane in the plan's order, unless the one in front can be moved."""
    places: dict[str, Place] = {place.id: place for place in problem.places if place.lane is not None}
    lanes: dict[str, list[_Stay]] = defaultdict(list)
    for stay in stays:
        if stay.place in places:
            lanes[places[stay.place].lane or ""].append(stay)
    for lane in lanes.values():
        for front in lane:
            for behind in lane:
                depths = (places[front.place].depth or 0, places[behind.place].depth or 0)
                if depths[0] < depths[1] and front.first.job.id != behind.first.job.id:
                    _pass(front, behind)


def _pass(front: _Stay, behind: _Stay) -> None:
    for slot, moment, mover in (
        (behind.start, 2 * behind.first.index, behind.first),
        (behind.end, behind.leaves, behind.following),
    ):
        if slot <= front.start:
            if not front.first.option.movable:
                _wait(front.first, moment)
        elif mover is not None and not front.at(slot).option.movable:
            _wait(mover, front.leaves)


def _keep_air(problem: Problem, pieces: list[Piece]) -> None:
    """Dust and what it spoils in one air keep their order."""
    airs = {air.id: air for air in problem.airs if not air.split_day}
    in_air = {place.id: airs[place.air] for place in problem.places if place.air in airs}
    by_air: dict[str, list[tuple[Piece, Air]]] = defaultdict(list)
    for piece in pieces:
        air = in_air.get(piece.time.place)
        if air is not None and not piece.option.own_air and (piece.option.makes or piece.option.spoiled_by):
            by_air[air.id].append((piece, air))
    for there in by_air.values():
        for dusty, air in there:
            for tender, _ in there:
                if dusty.job.id == tender.job.id or not {*dusty.option.makes} & {*tender.option.spoiled_by}:
                    continue
                if dusty.time.end + air.settle <= tender.time.start or dusty.time.start < tender.time.start:
                    _wait(tender, 2 * dusty.index + 1, air.settle)
                else:
                    _wait(dusty, 2 * tender.index + 1)


def _held(name: str, pieces: list[Piece]) -> list[_Use]:
    """How much of a resource pieces hold until they are left."""
    return [
        _Use(piece, piece.option.holds[name], piece.time.leaves, piece.leaves)
        for piece in pieces
        if piece.option.holds.get(name)
    ]


def _hand_over(uses: list[_Use], there: int) -> None:
    """Each taker waits for those it gets its share from: herself, then what nobody has, then whoever has had
    it free for longest."""
    spare = max(there, sum(use.amount for use in uses if use.piece.time.start < 0))
    free: list[list[int]] = []  # [slot it is given back, order, moment, amount]
    own: dict[str, list[int]] = {}
    uses.sort(key=lambda use: (use.piece.time.start, use.piece.index))
    for order, use in enumerate(uses):
        need = use.amount
        mine = own.get(use.piece.job.id)
        if mine is not None:
            taken = min(need, mine[3])
            mine[3] -= taken
            need -= taken
        taken = min(need, spare)
        spare -= taken
        need -= taken
        while need and free:
            taken = min(need, free[0][3])
            if taken:
                _wait(use.piece, free[0][2])
            free[0][3] -= taken
            need -= taken
            if not free[0][3]:
                heapq.heappop(free)
        back = [use.until, order, use.moment, use.amount]
        own[use.piece.job.id] = back
        heapq.heappush(free, back)


def _in_order(pieces: list[Piece]) -> list[Piece]:
    """By start, then by who waits for whom; a wait that closes a ring within one slot is dropped."""
    starts = _pushed(pieces)
    left = sorted(pieces, key=lambda piece: (starts[piece.index], piece.index))
    done: list[Piece] = []
    at = 0
    while at < len(left):
        same = [piece for piece in left[at:] if starts[piece.index] == starts[left[at].index]]
        at += len(same)
        while same:
            open_ = {piece.index for piece in same}
            ready = next((piece for piece in same if open_.isdisjoint(piece.after)), None)
            if ready is None:
                ring = [piece for piece in same if _in_ring(piece, same)]
                standing = (piece for piece in ring if piece.stands and piece.index - 1 not in open_)
                ready = next(standing, ring[0])
                ready.waits = [wait for wait in ready.waits if wait[0] // 2 not in open_]
                many, rows = ready.room
                known = tuple(row for row in rows if row // 2 not in open_)
                ready.room = (max(0, many - len(rows) + len(known)), known)
            same.remove(ready)
            done.append(ready)
    return done


def _in_ring(piece: Piece, among: list[Piece]) -> bool:
    """Whether a piece waits, in the end, for itself."""
    after = {one.index: one.after for one in among}
    known, open_ = set[int](), [piece.index]
    while open_:
        new = [index for index in after[open_.pop()] if index in after and index not in known]
        known.update(new)
        open_ += new
    return piece.index in known


def _pushed(pieces: list[Piece]) -> list[int]:
    """The slot each piece has in the plan, none before that of those it waits for."""
    starts = [piece.time.start for piece in pieces]
    moved = True
    while moved:
        moved = False
        for piece in pieces:
            first = max((starts[index] for index in piece.after), default=-1)
            if first > starts[piece.index]:
                starts[piece.index], moved = first, True
    return starts
