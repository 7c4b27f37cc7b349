"""A plan replayed in drawn winters: every piece in its place and order, from the start it then has.

Times are rows over all winters at once; a finish table is looked up, or an amount added up, for all of them.
"""

from collections.abc import Mapping, Sequence
from functools import partial
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from scheduling.engine.draws import Draws, case_of, held_name
from scheduling.engine.handovers import Piece
from scheduling.engine.hours import Hours
from scheduling.engine.problem import Problem, Table
from scheduling.engine.spreads import MILLE

Slots = npt.NDArray[np.int32]
Amounts = npt.NDArray[np.int64]


class Pushed(NamedTuple):
    """How much later a step starts than those it waits for allow, on average [slots]: by what it is told or
    held until, by days on which it can't start, by hands and what is used."""

    floor: float = 0.0
    days: float = 0.0
    hours: float = 0.0


class Replayed(NamedTuple):
    """When each piece starts and ends [slots], in rows as `handovers.Moment` has them; the last slot + 2 =
    never. `pushed` goes by the pieces' index."""

    rows: Slots
    pushed: list[Pushed]


def replayed(problem: Problem, pieces: Sequence[Piece], draws: Draws) -> Replayed:
    """Each piece from the start it has in each of the winters drawn; `pieces` as `pieces_of` orders them."""
    yard, hours = _Axis(problem, draws), Hours(problem, draws.runs)
    rows = np.zeros((2 * len(pieces), draws.runs), dtype=np.int32)
    pushed = [Pushed()] * len(pieces)
    for piece in pieces:
        start, end = rows[2 * piece.index], rows[2 * piece.index + 1]
        if piece.step is None:
            start[:] = -1
            end[:] = yard.end_of_begun(piece)
            hours.take(piece.option, start, end)
            continue
        for row, lag in piece.waits:
            np.maximum(start, rows[row] + lag if lag else rows[row], out=start)
        many, freed = piece.room
        if many:
            np.maximum(start, np.partition(rows[list(freed)], many - 1, axis=0)[many - 1], out=start)
        means = [start.mean()]
        np.maximum(start, yard.floor(piece), out=start)
        means.append(start.mean())
        start[:], end[:] = yard.begin(piece, start)
        means.append(start.mean())
        if not yard.tables[piece.option.table or ""].waiting:  # a visit can wait for the day after
            start[:], end[:] = hours.fit(piece.option, start, end, partial(yard.begin, piece, asked=True))
        hours.take(piece.option, start, end)
        means.append(start.mean())
        pushed[piece.index] = Pushed(*(float(then - before) for before, then in pairwise(means)))
    return Replayed(rows, pushed)


class _Axis:
    """Finish tables as arrays over slots 0 to `never`, and what is drawn for a piece."""

    def __init__(self, problem: Problem, draws: Draws) -> None:
        self.problem, self.draws = problem, draws
        self.width = len(problem.days)
        self.never = self.width + 1
        self.tables = {table.id: table for table in problem.tables}
        self.closed = {p.id: {s for a, b in p.closed for s in range(a, b)} for p in problem.places}
        self.sums = {
            name: np.concatenate(([0], np.cumsum(np.array(row, dtype=np.int64))))
            for name, row in problem.worths.items()
        }
        self._starts: dict[tuple[str, str, tuple[str, ...], bool], Slots] = {}
        self._ends: dict[str, Slots] = {}
        self._amounts: dict[tuple[str, str, int], Amounts] = {}

    def amount(self, piece: Piece, booked: int) -> Amounts | int:
        """What is to be done in each run, in what its worth counts."""
        part = piece.step or piece.begun
        if part is None or part.spread is None:
            return booked
        key = (piece.job.id, part.spread, booked)
        if key not in self._amounts:
            spread = self.problem.spreads[part.spread]
            cases = case_of(spread.cases, self.draws.of(piece.job.id, part.spread, spread))
            self._amounts[key] = np.maximum(1, -(-booked * cases // MILLE))
        return self._amounts[key]

    def floor(self, piece: Piece) -> Amounts | int:
        """The slot before which a step never starts, whoever it waits for."""
        step, job = piece.step, piece.job
        if step is None:
            return 0
        first = job.earliest
        if step.told or step.pin_start is not None:
            first = max(first, piece.time.start)
        dry_now = job.begun is not None and step.gate == job.begun.end
        if step.gate is not None and not dry_now:  # else she waits for what has begun, however long it takes
            first = max(first, step.gate)
        if not step.until:
            return max(first, step.earliest)
        return np.maximum(first, case_of(step.until, self.draws.own[job.id, held_name(piece)]))

    def begin(self, piece: Piece, wanted: Slots, *, asked: bool = False) -> tuple[Slots, Slots]:
        """The first start on or after the one wanted, and the end it has.

        Where somebody from outside was `asked` to come again already, nobody asks once more.
        """
        start = self.next_start(piece, wanted, asked)
        return start, self.finish(piece, start)

    def next_start(self, piece: Piece, wanted: Slots, asked: bool) -> Slots:
        """The first slot on or after the one wanted in which the step can start."""
        stops = tuple(sorted(name for name in piece.option.uses if name in self.draws.stopped))
        key = (piece.option.table or "", piece.time.place, stops, asked)
        if key not in self._starts:
            self._starts[key] = self._make_starts(*key)
        starts, at = self._starts[key], np.minimum(wanted, self.never)
        found: Slots = starts[at, np.arange(self.draws.runs)] if stops else starts[at]
        return found

    def _make_starts(self, table: str, place: str, stops: tuple[str, ...], asked: bool) -> Slots:
        can = np.array(_startable(self.tables[table], self.problem.worths)) & [
            slot not in self.closed[place] for slot in range(self.width)
        ]
        slots = np.arange(self.never + 1, dtype=np.int32)
        slots[: self.width][~can] = slots[self.width] = self.never
        if stops:
            slots = np.repeat(slots[:, None], self.draws.runs, axis=1)
            for name in stops:
                slots[: self.width][self.draws.stopped[name]] = self.never
        found: Slots = np.minimum.accumulate(slots[::-1], axis=0)[::-1]
        anew, last = self.tables[table].anew, _last_start(self.tables[table])
        if anew is not None:
            for slot in range(last + 1, min(last + 1 + anew, self.width) if asked else self.width):
                found[slot] = found[min(slot + anew, self.never)]
            missed = found[: last + 1] > last
            found[: last + 1][missed] = np.broadcast_to(found[last + 1], found[: last + 1].shape)[missed]
        return found

    def finish(self, piece: Piece, start: Slots) -> Slots:
        """The slot before which the step is finished, for the slot it starts in."""
        table = self.tables[piece.option.table or ""]
        if piece.step is None or piece.step.spread is None or table.worth is None:
            if table.id not in self._ends:
                ends = [self.never if end is None else end for end in table.finish]
                if table.worth is not None:
                    late = np.arange(_last_start(table) + 1, self.width)
                    ends[len(ends) - len(late) :] = self._worked(table, late, table.amount).tolist()
                self._ends[table.id] = np.array([*ends, self.never, self.never], dtype=np.int32)
            return self._ends[table.id][start]
        done = self._worked(table, np.minimum(start, self.width), self.amount(piece, table.amount))
        return np.where(start < self.width, done, self.never).astype(np.int32)

    def _worked(self, table: Table, start: Slots | Amounts, amount: Amounts | int) -> Amounts:
        """The slot before which an amount is done by a table that has a worth."""
        if table.before is not None:
            amount = np.maximum(table.least, amount - self.sums[table.before][start])
        return self._reached(self.sums[table.worth or ""], start, amount)

    def end_of_begun(self, piece: Piece) -> Slots | int:
        """The slot before which what has begun is finished."""
        begun = piece.begun
        if begun is None or begun.worth is None or not (begun.spread or begun.until):
            return piece.time.end
        held = np.zeros(self.draws.runs, dtype=np.int64)
        if begun.until:
            held = case_of(begun.until, self.draws.own[piece.job.id, held_name(piece)])
        return self._reached(self.sums[begun.worth], held, self.amount(piece, begun.amount)).astype(np.int32)

    def _reached(
        self,
        sums: Amounts,
        start: Slots | Amounts,
        amount: Amounts | int,
    ) -> Amounts:
        """The first slot by which so much has come together since `start`; `never` if none on the axis is."""
        found: Amounts = np.searchsorted(sums, sums[start] + amount)
        return found


def _last_start(table: Table) -> int:
    """The last slot in which it can start; -1 if there is none."""
    return next((slot for slot in reversed(range(len(table.finish))) if table.finish[slot] is not None), -1)


def _startable(table: Table, worths: Mapping[str, tuple[int, ...]]) -> list[bool]:
    """The slots in which it can start: a drawn amount may still end where the booked one doesn't."""
    can = [end is not None for end in table.finish]
    if table.worth is not None:
        last = _last_start(table)
        can[last + 1 :] = [worth > 0 for worth in worths[table.worth][last + 1 :]]
    return can
