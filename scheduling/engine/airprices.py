"""Prices in an air: of making it dirty, and of work that is spoiled by that, for each job her own.

Of each air, kind and slot: either it may be dirty or what is spoiled by that may go on (rule 5). Whichever it
is, it is so for all jobs, so with prices on making (of each job who may) and on working (of each who is
spoiled) no plan earns more than the larger of both sums. That is asked of each job alone: half a job that
makes dust and half of one that coats don't fit into one slot, while a quarter each of four that make it do.
Settling is left away, and so is she who at once makes and is spoiled; both only lower a bound.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from scheduling.engine.compiled import Bools, Compiled, Ints, Takes
from scheduling.engine.cost import option_of
from scheduling.engine.problem import Job
from scheduling.engine.schedule import AirPrices, StepTime

Floats = npt.NDArray[np.float64]
TURNS = 4  # of Newton's rule along a line


@dataclass(frozen=True, slots=True)
class AirLines:
    """One line for each job and row of the yard that her work asks to be clean: lines x slots are priced.

    In the row of dirt of an air and a kind she is spoiled by it; in that of tender work she makes it.
    """

    lines: list[tuple[str, int]]  # (job, row)
    sides: Floats  # clashes x lines: 1 where she is spoiled, -1 where she makes it, else 0
    by_job: dict[str, dict[int, int]] = field(default_factory=dict)  # {row: line}

    def most(self, prices: Ints) -> int:
        """What plans earn at most of these prices, lines x slots."""
        spoiled, makes = (
            (self.sides > 0).astype(np.int64) @ prices,
            (self.sides < 0).astype(np.int64) @ prices,
        )
        return int(np.maximum(spoiled, makes).sum())

    def line(self, compiled: Compiled, job_id: str, what: str, air: str, kind: str) -> int | None:
        """The line of a job in the row of "dirt" or "tender" work of an air and a kind; None for none."""
        row = compiled.row_of.get((what, (air, kind)))
        return None if row is None else self.by_job.get(job_id, {}).get(row)

    def told(self, compiled: Compiled, prices: Ints) -> tuple[AirPrices, ...]:
        """The prices, lines x slots, by name."""
        lines: dict[tuple[str, str, str], dict[str, tuple[int, ...]]] = {}
        for (job_id, row), line in zip(self.lines, prices, strict=True):
            what, (air, kind) = compiled.rows[row]
            if line.any():
                lines.setdefault((job_id, air, kind), {})[what] = tuple(line.tolist())
        nothing = (0,) * compiled.slots
        return tuple(
            AirPrices(
                job=job_id,
                air=air,
                kind=kind,
                makes=of.get("tender", nothing),
                spoiled=of.get("dirt", nothing),
            )
            for (job_id, air, kind), of in lines.items()
        )

    def uses(self, compiled: Compiled, job: Job, times: Sequence[StepTime]) -> Ints:
        """Lines x slots: in which her way makes it or is spoiled; what has begun is a fact."""
        uses = np.zeros((len(self.lines), compiled.slots), dtype=np.int64)
        mine = self.by_job.get(job.id, {})
        for time in times:
            if mine and time.option >= 0:
                takes = compiled.takes(option_of(job, time), compiled.place_index[time.place])
                for row in set(takes.feels + takes.harms) & mine.keys():
                    uses[mine[row], time.start : time.end] = 1
        return uses


def air_lines(compiled: Compiled) -> AirLines:
    """The lines of each air and kind in which one job may make what another is spoiled by."""
    asks: dict[tuple[str, str], dict[str, set[str]]] = {}  # {(air, kind): {"dirt" or "tender": jobs}}
    both: set[tuple[tuple[str, str], str]] = set()
    for job in compiled.jobs.values():
        for takes in _takes(compiled, job):
            rows = [compiled.rows[row] for row in (*takes.feels, *takes.harms)]
            for what, where in rows:
                asks.setdefault(where, {"dirt": set(), "tender": set()})[what].add(job.id)
            both |= {(where, job.id) for what, where in rows if what == "dirt" and ("tender", where) in rows}
    lines, sides = list[tuple[str, int]](), list[list[tuple[int, int]]]()
    for where, (spoiled, makes) in sorted((where, (of["dirt"], of["tender"])) for where, of in asks.items()):
        makes = {job for job in makes if (where, job) not in both}
        if not spoiled or not makes or len(spoiled | makes) < 2:
            continue
        sides.append([])
        for what, jobs, side in (("dirt", spoiled, 1), ("tender", makes, -1)):
            for job_id in sorted(jobs):
                sides[-1].append((len(lines), side))
                lines.append((job_id, compiled.row_of[what, where]))
    matrix = np.zeros((len(sides), len(lines)))
    for number, clash in enumerate(sides):
        for line, side in clash:
            matrix[number, line] = side
    found = AirLines(lines, matrix)
    for line, (job_id, row) in enumerate(lines):
        found.by_job.setdefault(job_id, {})[row] = line
    return found


def _takes(compiled: Compiled, job: Job) -> list[Takes]:
    fit = compiled.fit(job)
    return [
        compiled.takes(option, place)
        for step in job.steps
        for option in step.options
        for place in map(compiled.place_index.__getitem__, option.places)
        if fit[place]
    ]


@dataclass(frozen=True, slots=True)
class AirCharges:
    """What is asked of each job for her work in the air, lines x slots [minor units]."""

    lines: AirLines
    prices: Ints

    def times(self, scale: float) -> "AirCharges":
        """These prices, each multiplied by `scale` and rounded down."""
        return AirCharges(self.lines, np.floor(self.prices * scale).astype(np.int64))

    def of(self, job_id: str) -> dict[int, Ints]:
        """{row: by slot} what a job is asked for work that wants the row to be clean."""
        return {row: self.prices[line] for row, line in self.lines.by_job.get(job_id, {}).items()}


class Modes:
    """By air, kind and slot: by how much it may be dirty, the rest of 1 being what is spoiled may go on."""

    def __init__(self, lines: AirLines, first: int, slots: int) -> None:
        """The lines are `first` and so many more of the things there are; each takes 1 of itself at most."""
        self.sides, self.first, self.slots = lines.sides, first, slots
        self.dirty: Floats = np.full((len(lines.sides), slots), 0.5)
        self.end = first + self.sides.shape[1] * slots

    def copy(self) -> "Modes":
        """The same, to be gone on with apart."""
        other = Modes.__new__(Modes)
        other.sides, other.first, other.slots, other.end = self.sides, self.first, self.slots, self.end
        other.dirty = self.dirty.copy()
        return other

    def add_to(self, over: Floats) -> None:
        """Add what they take: of those who are spoiled where it may be dirty, else of those who make it."""
        taken = (self.sides > 0).T @ self.dirty + (self.sides < 0).T @ (1 - self.dirty)
        over[self.first : self.end] += taken.ravel()

    def add_most(self, most: Floats) -> None:
        """Add the most that they take, where jobs take `most` and some are on each side."""
        taken = most[self.first : self.end].reshape(-1, self.slots)
        spoiled, makes = self._sums(taken)
        taken += np.abs(self.sides).T @ ((spoiled > 0) & (makes > 0))

    def narrow(self, live: Bools) -> None:
        """Where the live things are among the lines, in the slots that have any; and the lines among them."""
        mine = live[self.first : self.end].reshape(-1, self.slots)
        self.when = np.flatnonzero(mine.any(axis=0))
        self.mask = mine[:, self.when].ravel()
        first = int(live[: self.first].sum())
        self.at = slice(first, first + int(self.mask.sum()))

    def least(self, worth: Floats) -> float:
        """What they cost at least at these prices of the live things."""
        spoiled, makes = self._sums(self._lines(worth))
        return float(np.minimum(spoiled, makes).sum())

    def mix(self, centre: Floats, worth: Floats, over: Floats, step: float) -> tuple[float, float]:
        """Shift each to where both sides cost the same, as far as it can be; `worth` and `over` follow.

        The least they cost at the prices before, and by how much they were dearer.
        """
        if not len(self.when):
            return 0.0, 0.0
        spoiled, makes = self._sums(self._lines(worth))
        dirty, least = self.dirty[:, self.when], np.minimum(spoiled, makes)
        more = dirty * spoiled + (1 - dirty) * makes - least
        live, base = self.mask.reshape(-1, len(self.when)), self._lines(centre + step * over)
        shift = np.zeros_like(dirty)
        for _ in range(TURNS):
            now = base + step * (self.sides.T @ shift)
            some = live & (now > 0)
            bend, slope = step * (np.abs(self.sides) @ some), self.sides @ (now * some)
            shift = shift - np.divide(slope, bend, out=np.zeros_like(slope), where=bend > 0)
            shift = np.minimum(np.maximum(shift, -dirty), 1 - dirty)
        self.dirty[:, self.when] += shift
        over[self.at] += (self.sides.T @ shift).ravel()[self.mask]
        worth[self.at] = np.maximum(centre[self.at] + step * over[self.at], 0)
        return float(least.sum()), float(more.sum())

    def _lines(self, worth: Floats) -> Floats:
        """Lines x slots that have any, nought where nothing is live."""
        found = np.zeros(len(self.mask))
        found[self.mask] = worth[self.at]
        return found.reshape(self.sides.shape[1], len(self.when))

    def _sums(self, lines: Floats) -> tuple[Floats, Floats]:
        return (self.sides > 0) @ lines, (self.sides < 0) @ lines
