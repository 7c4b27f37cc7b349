"""Why a date moved between two forecasts: back along what a boat waits for, to where time was lost or won.

Each forecast keeps when every step starts and ends in the later half of its winters, and what keeps it
besides those it waits for. From her last step the way leads back as long as what she waits for has moved as
well; where it has not, the step itself is the cause: it takes longer, is held, was to have begun, finds no
hands.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from scheduling.engine.handovers import Piece
from scheduling.engine.problem import Problem
from scheduling.engine.winter import Replayed

CauseKind = Literal["length", "begin", "new", "arrival", "held", "told", "days", "hours"]

LEAST_D = 0.02
"""[calendar days] what moves by less has not moved. Measured: news of one boat leaves those who have nothing
to do with her exactly alike."""
MOSTLY = 2.0
"""[-] times the move of its start by which its length must have changed to be the cause."""


@dataclass(frozen=True, slots=True)
class When:
    """When a step starts and ends: the means of the later half of the winters [proleptic ordinals]; by how
    much it is kept [slots], see `winter.Pushed`."""

    start: float
    end: float
    floor: float = 0.0
    days: float = 0.0
    hours: float = 0.0


Before = Mapping[str, Mapping[str, When]]
"""By job and step: the forecast before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """One step of a forecast. `waits` are (job, step, "start" or "end"); `begun`: it is under way, or `done`
    before today, and its start a fact; `floor` is what is meant by what it is told or held until."""

    job: str
    step: str
    label: str
    when: When
    begun: bool
    done: bool = False
    waits: tuple[tuple[str, str, str], ...] = ()
    floor: Literal["arrival", "held", "told"] = "held"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """The step at which a date was moved, and how.

    `length`: it takes longer (or less); `begin`: nothing keeps it, and it has not begun; `new`: it was not
    known before; `arrival`, `held`, `told`: the day she comes, the end of a hold, a day told or pinned;
    `days`: days on which it can start; `hours`: hands and kit.
    """

    kind: CauseKind
    job: str
    step: str
    label: str
    days: float  # [calendar days] by which this step is later; negative = earlier


def moments_of(problem: Problem, pieces: Sequence[Piece], replay: Replayed) -> dict[str, tuple[Moment, ...]]:
    """What `cause_of` needs of each job's steps, in their order. Never counts as the day after the axis."""
    days = [day.toordinal() for day in problem.days]
    never = days[-1] + 1
    starts = np.array([*days, never, never])
    ends = np.array([days[0] - 1, *days, never])  # by the slot before which it ends
    placed = sorted(pieces, key=lambda piece: piece.index)
    found: dict[str, list[Moment]] = {}
    for piece in placed:
        start, end = replay.rows[2 * piece.index], replay.rows[2 * piece.index + 1]
        part = piece.step or piece.begun
        moment = Moment(
            job=piece.job.id,
            step=piece.time.step,
            label=part.label if part is not None else "",
            when=When(_late(starts[np.maximum(start, 0)]), _late(ends[end]), *replay.pushed[piece.index]),
            begun=piece.step is None,
            done=piece.step is None and piece.time.end == 0,
            waits=tuple(
                (placed[row // 2].job.id, placed[row // 2].time.step, "end" if row % 2 else "start")
                for row in (*(row for row, _ in piece.waits), *piece.room[1])
            ),
            floor=_floor(piece),
        )
        found.setdefault(piece.job.id, []).append(moment)
    return {job: tuple(own) for job, own in found.items()}


def _late(days: npt.NDArray[np.int64]) -> float:
    """The mean of the later half."""
    half = len(days) // 2
    return float(np.partition(days, half)[half:].mean())


def _floor(piece: Piece) -> Literal["arrival", "held", "told"]:
    step = piece.step
    if step is None or step.until:
        return "held"
    if step.told or step.pin_start is not None:
        return "told"
    return "arrival" if piece.job.earliest >= step.earliest else "held"


def cause_of(before: Before, moments: Mapping[str, tuple[Moment, ...]], job: str, *, later: bool) -> Cause:
    """Where the last day of a job was moved, later or earlier, since `before`.

    Raises:
        KeyError: if the job has no steps.
    """
    known = {(one.job, one.step): one for own in moments.values() for one in own}
    sign = 1 if later else -1
    at, side = moments[job][-1], "end"
    seen: set[tuple[str, str]] = set()
    while True:
        was = before.get(at.job, {}).get(at.step)
        if was is None:
            return _cause("new", at, 0.0)
        start, end = _moved(before, at, "start", sign), _moved(before, at, "end", sign)
        if side == "end" and end - start >= LEAST_D and (at.begun or end - start > MOSTLY * start):
            return _cause("length", at, sign * (end - start))
        seen.add((at.job, at.step))
        waits = [(known[wait[:2]], wait[2]) for wait in at.waits if wait[:2] not in seen]
        moved = [one for one in waits if _moved(before, *one, sign) >= LEAST_D]
        kinds: dict[CauseKind, float] = {
            at.floor: sign * (at.when.floor - was.floor),
            "days": sign * (at.when.days - was.days),
            "hours": sign * (at.when.hours - was.hours),
        }
        most = max((_moved(before, *one, sign) for one in moved), default=0.0)
        if not moved or max(kinds[at.floor], kinds["hours"]) > most:
            kind = max(kinds, key=lambda kind: kinds[kind])
            return _cause(kind if kinds[kind] >= LEAST_D else "begin", at, sign * start)
        at, side = max(moved, key=lambda one: _when(before, *one, later=later))


def _moved(before: Before, moment: Moment, side: str, sign: int) -> float:
    """How far a start or an end has moved the same way [calendar days]; far, if it was not known."""
    was = before.get(moment.job, {}).get(moment.step)
    if was is None:
        return float("inf")
    if side == "end":
        moved = sign * (moment.when.end - was.end)
        return min(0.0, moved) if moment.done and sign > 0 else moved  # it may have been done long ago
    return 0.0 if moment.begun else sign * (moment.when.start - was.start)


def _when(before: Before, moment: Moment, side: str, *, later: bool) -> float:
    """When it is now; for what has become earlier, when it was."""
    was = before.get(moment.job, {}).get(moment.step)
    when = moment.when if later or was is None else was
    return when.end if side == "end" else when.start


def _cause(kind: CauseKind, at: Moment, days: float) -> Cause:
    return Cause(kind=kind, job=at.job, step=at.step, label=at.label, days=days)
