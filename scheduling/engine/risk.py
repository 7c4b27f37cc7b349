"""How sure a plan is: a thousand winters drawn from what is known, with the plan's places and order kept.

In each winter every amount with a spread is drawn once, holds end in one of their cases, and weather stops
lifts on the same days for all. Each piece starts as soon as those it waits for allow (see `handovers`), never
before a day that others were told, and ends where its finish table says for the start it then has.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np
import numpy.typing as npt

from scheduling.engine.draws import Draws, Reals, Source, drawn, held_name
from scheduling.engine.handovers import Piece, pieces_of
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import Schedule
from scheduling.engine.winter import replayed

DOTS = 20
NAMED = 3
"""Of what a date hangs on, so many are named."""
LEAST_SHARE = 0.03
"""[-] of the variance of a date; less can't be told from chance in a thousand winters."""
SLOWEST = 0.2
"""[-] of the winters in which something is slowest, to say what that means for a date."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hang:
    """One thing a boat's date hangs on: what is drawn for `job` (no job: common to all that name it)."""

    job: str
    what: str  # the label of the spread; the step that is held; the resource that weather stops
    share_pct: int  # [%] of the variance of her date
    days: int  # [calendar days] she is later on average in the slowest fifth of its cases


@dataclass(frozen=True, slots=True, kw_only=True)
class BoatRisk:
    """When one job's last step ends. A day is None where it is beyond the axis."""

    planned: date
    likely: date | None
    safe: date | None
    due: date
    odds_pct: int  # [%] that she is done by her due day
    dots: tuple[date | None, ...]  # twenty equally likely days, the first one first
    hangs: tuple[Hang, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Risk:
    """The outcome of `winters`, by job; jobs left out, and those with nothing left to do, have none."""

    runs: int
    seed: int
    likely_pct: int
    safe_pct: int
    boats: Mapping[str, BoatRisk] = field(default_factory=dict)


def winters(
    problem: Problem,
    schedule: Schedule,
    *,
    runs: int = 1000,
    seed: int = 1,
    likely_pct: int = 60,
    safe_pct: int = 90,
) -> Risk:
    """Replay a plan in `runs` drawn winters and read off how sure each job's last day is.

    Args:
        likely_pct, safe_pct: the odds [%] at which the likely and the safe day are read off.

    Raises:
        ValueError: if there are no runs, or the schedule is not one of the Problem.
    """
    if runs < 1:
        raise ValueError("a plan is tried in at least one winter")
    pieces = pieces_of(problem, schedule)
    draws = drawn(problem, pieces, runs, seed)
    boats = read_off(problem, schedule, pieces, draws, likely_pct=likely_pct, safe_pct=safe_pct)
    return Risk(runs=runs, seed=seed, likely_pct=likely_pct, safe_pct=safe_pct, boats=boats)


def read_off(
    problem: Problem,
    schedule: Schedule,
    pieces: Sequence[Piece],
    draws: Draws,
    *,
    likely_pct: int,
    safe_pct: int,
) -> dict[str, BoatRisk]:
    """Replay the `pieces` of a plan in the winters of `draws`, whatever is drawn or known in them."""
    rows, days, runs = replayed(problem, pieces, draws), problem.days, draws.runs
    lasts = {
        piece.job.id: piece
        for piece in sorted(pieces, key=lambda piece: piece.index)
        if piece.job.id in schedule.jobs
    }
    lasts = {job: piece for job, piece in lasts.items() if piece.time.end}
    beyond = days[-1].toordinal() + 1
    day_of = np.array([0, *(day.toordinal() for day in days), beyond])  # by the slot before which it ends
    boats: dict[str, BoatRisk] = {}
    placed = [job for job in problem.jobs if job.id in lasts]
    ends = [day_of[rows[2 * lasts[job.id].index + 1]] for job in placed]
    hangs = _hangs(problem, pieces, np.array(ends, dtype=float).reshape(len(placed), runs), draws)
    for job, end, hang in zip(placed, ends, hangs, strict=True):
        order = np.sort(end)

        def at(pct: float, order: npt.NDArray[np.int64] = order) -> date | None:
            day = int(order[max(0, -(-int(pct * runs) // 100) - 1)])
            return None if day == beyond else date.fromordinal(day)

        boats[job.id] = BoatRisk(
            planned=days[lasts[job.id].time.end - 1],
            likely=at(likely_pct),
            safe=at(safe_pct),
            due=job.due,
            odds_pct=100 * int((end <= job.due.toordinal()).sum()) // runs,
            dots=tuple(at(100 * (dot + 0.5) / DOTS) for dot in range(DOTS)),
            hangs=hang,
        )
    return boats


def _hangs(problem: Problem, pieces: Sequence[Piece], ends: Reals, draws: Draws) -> list[tuple[Hang, ...]]:
    """For each job what her date hangs on most: by the squared correlation with each thing drawn."""
    labels = {(piece.job.id, held_name(piece)): piece.time.step for piece in pieces}
    sources: dict[Source, Reals] = {("", name): row for name, row in draws.common.items()}
    sources |= draws.own
    sources |= {("", name): stopped.sum(axis=0).astype(float) for name, stopped in draws.stopped.items()}
    if not sources or not len(ends):
        return [()] * len(ends)
    drawn_ = np.array([_standard(row) for row in sources.values()])
    share = (np.array([_standard(row) for row in ends]) @ drawn_.T / draws.runs) ** 2
    names = list(sources)
    slow = np.argsort(-drawn_, axis=1, kind="stable")[:, : max(1, int(SLOWEST * draws.runs))]
    found = []
    for boat, row in enumerate(share):
        most = [k for k in np.argsort(-row, kind="stable")[:NAMED] if row[k] >= LEAST_SHARE]
        found.append(
            tuple(
                Hang(
                    job=names[k][0],
                    what=labels.get(names[k]) or _label(problem, names[k][1]),
                    share_pct=round(100 * row[k]),
                    days=round(float(ends[boat, slow[k]].mean() - ends[boat].mean())),
                )
                for k in most
            )
        )
    return found


def _label(problem: Problem, name: str) -> str:
    spread = problem.spreads.get(name)
    return spread.label or name if spread is not None else name


def _standard(row: Reals) -> Reals:
    """With mean 0 and variance 1; a row that never changes is all 0."""
    spread = float(row.std())
    standard: Reals = (row - row.mean()) / spread if spread else np.zeros_like(row)
    return standard
