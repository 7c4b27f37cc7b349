"""The variables of the CP-SAT model, before any rule: who is placed, each piece's start, end and choices.

A job that is free gets variables; a job that is fixed enters as plain numbers (`Fixed`), so that a few boats
in a big yard make a small model. A finish table enters by its *modes*: all starts with one length and one
price are one mode, so that the end is linear in the start and the price linear in the modes.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import accumulate, pairwise
from typing import Any

import numpy as np
from ortools.sat.python import cp_model

from scheduling.engine.problem import Job, Option, Place, Problem, Step
from scheduling.engine.rules.fixed import Fixed, fixed_pieces
from scheduling.engine.schedule import COST_KINDS, Schedule, StepTime, Unplaced
from scheduling.engine.slots import spans

Lit = Any  # a literal of the model: a Boolean variable or its negation
Expr = Any  # an integer variable or a linear expression of some; a plain int where nothing is free
Row = np.ndarray[Any, np.dtype[np.int64]]


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """One option of a piece in one place."""

    option_index: int  # -1 for what has begun
    option: Option
    place: Place
    lit: Lit  # this one is taken
    planned: Lit  # it is taken and is no part of the stay that had begun


@dataclass(slots=True, eq=False)
class Piece:
    """What has begun of a free job (`step` is None), or one of its steps."""

    job: "FreeJob"
    step: Step | None
    choices: list[Choice]
    start: Expr
    end: Expr
    leaves: Expr
    moved: Lit = None  # she comes: by water or road if it is the first piece, else from another place
    same: dict[str, Lit] = field(default_factory=dict)  # by place: the piece before was there, too

    @property
    def begun(self) -> bool:
        """Whether it is a fact."""
        return self.step is None


@dataclass(slots=True, eq=False)
class FreeJob:
    """A job whose times and places are to be found."""

    job: Job
    placed: Lit
    pieces: list[Piece] = field(default_factory=list)
    stands_on: list[Lit] = field(default_factory=list)  # by piece: it is part of the stay that had begun

    @property
    def begun(self) -> Piece | None:
        """What has begun of it."""
        return self.pieces[0] if self.pieces and self.pieces[0].begun else None


class Model:
    """A CP-SAT model of `problem`, with the pieces that the rules speak of.

    `free` names the jobs to be placed, all if None; the others stay as `schedule` has them. `cycles` are
    those that earlier solutions had and that `swaps` must now count.
    """

    def __init__(
        self,
        problem: Problem,
        schedule: Schedule | None = None,
        free: Iterable[str] | None = None,
        cycles: Sequence[Any] = (),
    ) -> None:
        self.problem, self.cycles = problem, cycles
        self.slots = len(problem.days)
        self.cp = cp_model.CpModel()
        self.vars: list[Any] = []
        self.true, self.false = self.cp.new_constant(1), self.cp.new_constant(0)
        self.places: Mapping[str, Place] = {place.id: place for place in problem.places}
        self.tables = {table.id: table for table in problem.tables}
        self.day_sums = [0, *accumulate(spans(problem.days))]  # [calendar days] before each slot
        self.costs: dict[str, list[Expr]] = {kind: [] for kind in COST_KINDS}
        self.own: dict[str, list[Expr]] = {job.id: [] for job in problem.jobs}  # by job: what she pays alone
        self.trips: list[tuple[Expr, int, Lit]] = []  # (slot, how many, literal)
        self.fixed_trips: Row = np.zeros(self.slots, dtype=np.int64)
        self._known: dict[Any, Any] = {}
        chosen = {job.id for job in problem.jobs} if free is None else set(free)
        self.fixed: list[Fixed] = []
        self.jobs: list[FreeJob] = []
        for job in problem.jobs:
            if job.id in chosen:
                self.jobs.append(self._free_job(job))
            elif schedule is not None:
                self.fixed.extend(fixed_pieces(self.places, job, schedule.jobs.get(job.id), self.slots))
        for piece in self.fixed:
            if piece.comes and piece.came_from is not None:
                self.fixed_trips[piece.start] += 1

    def pay(self, kind: str, free: FreeJob, term: Expr) -> None:
        """A cost that this job pays by herself."""
        self.costs[kind].append(term)
        self.own[free.job.id].append(term)

    # --- Small parts ----------------------------------------------------------------------------------------
    def new_int(self, low: int, high: int) -> Expr:
        """A whole number from `low` to `high`."""
        self.vars.append(self.cp.new_int_var(int(low), int(high), ""))
        return self.vars[-1]

    def new_lit(self) -> Lit:
        """A literal."""
        self.vars.append(self.cp.new_bool_var(""))
        return self.vars[-1]

    def need(self, condition: Any, *given: Lit) -> None:
        """Require a linear condition, or a plain fact, wherever all of `given` hold."""
        if isinstance(condition, bool | np.bool_):
            if not condition:
                self.cp.add_bool_or([lit.negated() for lit in given])
        elif given:
            self.cp.add(condition).only_enforce_if(*given)
        else:
            self.cp.add(condition)

    def within(self, value: Expr, allowed: Sequence[int], *given: Lit) -> None:
        """Require `value` to be one of `allowed` wherever all of `given` hold."""
        if isinstance(value, int):
            self.need(value in allowed, *given)
        elif not allowed:
            self.need(False, *given)
        else:
            domain = cp_model.Domain.from_values([int(v) for v in allowed])
            self.cp.add_linear_expression_in_domain(value, domain).only_enforce_if(*given)

    def both(self, a: Lit, b: Lit) -> Lit:
        """A literal that holds where `a` and `b` do."""
        if a is self.false or b is self.false:
            return self.false
        if a is self.true or a is b:
            return b
        if b is self.true:
            return a
        key = ("both", *sorted((a.index, b.index)))
        if key not in self._known:
            lit = self._known[key] = self.new_lit()
            self.cp.add_implication(lit, a)
            self.cp.add_implication(lit, b)
            self.cp.add_bool_or([lit, a.negated(), b.negated()])
        return self._known[key]

    def unless(self, lit: Lit, other: Lit) -> Lit:
        """A literal that holds where `lit` does and `other` doesn't."""
        if other is self.true:
            return self.false
        if other is self.false:
            return lit
        return self.both(lit, other.negated())

    def one_of(self, lits: Sequence[Lit]) -> Lit:
        """A literal that holds where one of `lits` does, of which no two can."""
        some = [lit for lit in lits if lit is not self.false]
        if len(some) < 2:
            return some[0] if some else self.false
        key = ("one", *sorted(lit.index for lit in some))
        if key not in self._known:
            lit = self._known[key] = self.new_lit()
            self.cp.add(sum(some) == lit)
        return self._known[key]

    def taken(self, piece: Piece, of: Callable[[Choice], bool]) -> Lit:
        """A literal: one of the piece's choices that are such is taken."""
        lits = [choice.lit for choice in piece.choices if of(choice)]
        if lits and len(lits) == len(piece.choices):
            return self.true if piece.begun else piece.job.placed
        return self.one_of(lits)

    def at(self, piece: Piece, place: str) -> Lit:
        """A literal: the piece is in `place`."""
        return self.taken(piece, lambda choice: choice.place.id == place)

    def amounts(self, piece: Piece, of: Callable[[Choice], Any]) -> Iterator[tuple[Any, Lit]]:
        """(value, literal) for each value that `of` has among the piece's choices, unless it is 0 or None."""
        groups: dict[Any, list[Lit]] = defaultdict(list)
        for choice in piece.choices:
            groups[of(choice)].append(choice.lit)
        for value, lits in groups.items():
            if value:
                everywhere = len(lits) == len(piece.choices)
                placed = self.true if piece.begun else piece.job.placed
                yield value, placed if everywhere else self.one_of(lits)

    def look_up(self, at: Expr, row: Sequence[int]) -> Expr:
        """The entry of `row` at `at` (at its first, if that is before the axis)."""
        if isinstance(at, int):
            return int(row[max(at, 0)])
        key = ("entry", at.index, tuple(row))
        if key not in self._known:
            self._known[key] = self.new_int(min(row), max(row))
            self.cp.add_element(at, [int(entry) for entry in row], self._known[key])
        return self._known[key]

    def span(self, start: Expr, end: Expr, lit: Lit, *, lead: int = 0, tail: int = 0) -> Any:
        """An interval [start - lead, end + tail) where `lit` holds; it may be empty, never negative."""
        if isinstance(start, int) and isinstance(end, int):
            length = max(end + tail - start + lead, 0)
            return self.cp.new_optional_fixed_size_interval_var(start - lead, length, lit, "")
        if isinstance(start, int) or isinstance(end, int):
            length = end - start
        else:
            key = ("length", start.index, end.index)
            if key not in self._known:
                self._known[key] = self.new_int(0, self.slots)
            length = self._known[key]
        return self.cp.new_optional_interval_var(start - lead, length + lead + tail, end + tail, lit, "")

    def slot(self, at: Expr, lit: Lit) -> Any:
        """An interval of one slot."""
        return self.cp.new_optional_fixed_size_interval_var(at, 1, lit, "")

    def limit(self, left: Row, demands: Sequence[tuple[Any, int]], part: Row | None = None) -> None:
        """Demands (interval, amount) are at most `left` in each slot, or in those of `part` only."""
        most = sum(amount for _, amount in demands)
        within = left if part is None else np.where(part == 1, left, most)
        top = int(min(most, max(within.max(), 0)))
        if most <= within.min():
            return
        blocked = top - np.clip(within, 0, top)
        spans, amounts = [span for span, _ in demands], [int(amount) for _, amount in demands]
        for start, end in _runs(blocked):
            if blocked[start]:
                spans.append(self.cp.new_fixed_size_interval_var(start, end - start, ""))
                amounts.append(int(blocked[start]))
        self.cp.add_cumulative(spans, amounts, top)

    def standing(self, place: str) -> Iterator[tuple[Expr, Expr, Lit]]:
        """(start, leaves, literal) of the pieces of free jobs in `place`, what has begun also if left out."""
        for free in self.jobs:
            for piece in free.pieces:
                if piece.begun:
                    if piece.choices[0].place.id == place:
                        yield 0, piece.leaves, free.placed
                        yield 0, self.slots, free.placed.negated()
                elif (lit := self.at(piece, place)) is not self.false:
                    yield piece.start, piece.leaves, lit

    # --- Free jobs ------------------------------------------------------------------------------------------
    def _free_job(self, job: Job) -> FreeJob:
        free = FreeJob(job, self.new_lit())
        if job.begun is not None:
            begun, place = job.begun, self.places[job.begun.place]
            choice = Choice(-1, begun.option, place, self.true, self.false)
            free.pieces.append(Piece(free, None, [choice], -1, begun.end, begun.end, moved=self.false))
            free.stands_on.append(self.true)
        for step in job.steps:
            piece = self._step(free, step)
            before = free.pieces[-1] if free.pieces else None
            if before is not None:
                before.leaves = piece.start
            self._arrival(piece, before)
            free.pieces.append(piece)
        return free

    def _step(self, free: FreeJob, step: Step) -> Piece:
        before_stands = free.stands_on[-1] if free.stands_on else self.false
        home = free.job.begun.place if free.job.begun else None
        choices = []
        for index, option in enumerate(step.options):
            for name in option.places:
                lit = self.new_lit()
                planned = lit if name != home else self.unless(lit, before_stands)
                choices.append(Choice(index, option, self.places[name], lit, planned))
        self.cp.add(sum(choice.lit for choice in choices) == free.placed)
        start, end = self.new_int(0, self.slots - 1), self.new_int(1, self.slots)
        piece = Piece(free, step, choices, start, end, end)
        for name, lit in self.amounts(piece, lambda choice: choice.option.table):
            self._modes(piece, name, lit)
        if free.stands_on:
            free.stands_on.append(self.both(before_stands, self.at(piece, home or "")))
        return piece

    def _modes(self, piece: Piece, name: str, used: Lit) -> None:
        """The end is what the table says; each mode is the starts of one length and one price."""
        table, modes = self.tables[name], defaultdict(list)
        for start, end in enumerate(table.finish):
            if end is not None:
                modes[end - start, table.price[start] if table.price else 0].append(start)
        lits = [used] if len(modes) == 1 else [self.new_lit() for _ in modes]
        if len(modes) != 1:
            self.cp.add(sum(lits) == used)
        for ((length, price), starts), lit in zip(modes.items(), lits, strict=True):
            self.within(piece.start, starts, lit)
            self.need(piece.end == piece.start + length, lit)
            if price:
                self.pay("breaks", piece.job, price * lit)

    def _arrival(self, piece: Piece, before: Piece | None) -> None:
        if before is None:
            piece.moved = piece.job.placed
            return
        shared = {c.place.id for c in piece.choices} & {c.place.id for c in before.choices}
        for place in sorted(shared):
            piece.same[place] = self.both(self.at(before, place), self.at(piece, place))
        piece.moved = self.new_lit()
        self.cp.add(sum(piece.same.values()) + piece.moved == piece.job.placed)

    # --- What was found -------------------------------------------------------------------------------------
    def read(self, value: Callable[[Any], int], schedule: Schedule | None) -> Schedule:
        """The schedule that the values of the variables stand for, with the fixed jobs of `schedule`."""
        free = {job.job.id: job for job in self.jobs}
        jobs: dict[str, tuple[StepTime, ...]] = {}
        unplaced: dict[str, Unplaced] = {}
        for job in self.problem.jobs:
            if job.id not in free:
                if schedule is not None and job.id in schedule.jobs:
                    jobs[job.id] = schedule.jobs[job.id]
                elif schedule is not None:
                    unplaced[job.id] = schedule.unplaced[job.id]
            elif value(free[job.id].placed):
                jobs[job.id] = tuple(_time(piece, value) for piece in free[job.id].pieces)
            else:
                unplaced[job.id] = Unplaced(rule="cost", says="to place her costs more than to leave her out")
        return Schedule(jobs=jobs, unplaced=unplaced)

    def hints(self, schedule: Schedule) -> Iterator[tuple[Any, int]]:
        """(variable, value) for each of the main variables as `schedule` has them."""
        for free in self.jobs:
            times = schedule.jobs.get(free.job.id)
            yield free.placed, int(times is not None)
            for piece, time in zip(free.pieces, times or (), strict=False):
                if piece.begun:
                    continue
                yield piece.start, time.start
                yield piece.end, time.end
                for choice in piece.choices:
                    yield choice.lit, int((choice.option_index, choice.place.id) == (time.option, time.place))


def _runs(row: Row) -> Iterator[tuple[int, int]]:
    """(start, end) of each run of one value."""
    edges = [0, *(np.flatnonzero(np.diff(row)) + 1).tolist(), len(row)]
    yield from pairwise(edges)


def _time(piece: Piece, value: Callable[[Any], int]) -> StepTime:
    def number(of: Expr) -> int:
        return of if isinstance(of, int) else int(value(of))

    chosen = next(choice for choice in piece.choices if piece.begun or value(choice.lit))
    begun = piece.job.job.begun if piece.begun else None
    return StepTime(
        step=begun.step if begun else piece.step.id if piece.step else "",
        place=chosen.place.id,
        option=chosen.option_index,
        start=number(piece.start),
        end=number(piece.end),
        leaves=number(piece.leaves),
        unit=begun.unit if begun else None,
    )
