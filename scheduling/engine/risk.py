"""How sure a plan is: a thousand winters drawn from what is known, with the plan's places and order kept.

In each winter every amount with a spread is drawn once, holds end in one of their cases, and weather stops
lifts on the same days for all. Each piece starts as soon as those it waits for allow (see `handovers`), never
before a day that others were told, and ends where its finish table says for the start it then has.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Literal

import numpy as np
import numpy.typing as npt

from scheduling.engine.causes import Moment, moments_of
from scheduling.engine.draws import Draws, Reals, drawn, held_name
from scheduling.engine.handovers import Piece, pieces_of
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import Schedule
from scheduling.engine.winter import replayed

HangKind = Literal["amount", "hold", "common", "weather"]

DOTS = 20
NAMED = 3
"""Of what a date hangs on, so many are named."""
LEAST_SHARE = 0.03
"""[-] of the variance of a date; less than this is not worth a word."""
BY_CHANCE = 12
"""[-] / runs: a share that chance alone gives once in two thousand draws (3.5 standard errors, squared)."""
SLOWEST = 0.2
"""[-] of the winters in which something is slowest, to say what that means for a date."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hang:
    """One thing a boat's date hangs on: an amount or the end of a hold of one job (hers or another's), what
    amounts have in common, or the days on which weather stops a resource (no job)."""

    kind: HangKind
    job: str
    what: (
        str  # the label of the spread, of the step that is held, of the resource; the name of what is common
    )
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
    """The outcome of `winters`, by job; jobs left out, and those with nothing left to do, have no dates.

    `moments` are those of every piece, in the order of a job's steps: see `causes.cause_of`.
    """

    runs: int
    seed: int = 1
    likely_pct: int
    safe_pct: int
    boats: Mapping[str, BoatRisk] = field(default_factory=dict)
    moments: Mapping[str, tuple[Moment, ...]] = field(default_factory=dict)


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
    risk = read_off(problem, schedule, pieces, draws, likely_pct=likely_pct, safe_pct=safe_pct)
    return replace(risk, seed=seed)


def read_off(
    problem: Problem,
    schedule: Schedule,
    pieces: Sequence[Piece],
    draws: Draws,
    *,
    likely_pct: int,
    safe_pct: int,
) -> Risk:
    """Replay the `pieces` of a plan in the winters of `draws`, whatever is drawn or known in them."""
    replay, days, runs = replayed(problem, pieces, draws), problem.days, draws.runs
    rows = replay.rows
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
    moments = moments_of(problem, pieces, replay)
    return Risk(runs=runs, likely_pct=likely_pct, safe_pct=safe_pct, boats=boats, moments=moments)


def _hangs(problem: Problem, pieces: Sequence[Piece], ends: Reals, draws: Draws) -> list[tuple[Hang, ...]]:
    """For each job what her date hangs on most: by the squared correlation with each thing drawn."""
    drawn_ = list(_drawn(problem, pieces, draws))
    if not drawn_ or not len(ends):
        return [()] * len(ends)
    rows = np.array([_standard(row) for _, _, _, row in drawn_])
    share = (np.array([_standard(row) for row in ends]) @ rows.T / draws.runs) ** 2
    slow = np.argsort(-rows, axis=1, kind="stable")[:, : max(1, int(SLOWEST * draws.runs))]
    least = max(LEAST_SHARE, BY_CHANCE / draws.runs)
    return [
        tuple(
            Hang(
                kind=drawn_[k][0],
                job=drawn_[k][1],
                what=drawn_[k][2],
                share_pct=round(100 * row[k]),
                days=round(float(ends[boat, slow[k]].mean() - ends[boat].mean())),
            )
            for k in np.argsort(-row, kind="stable")[:NAMED].tolist()
            if row[k] >= least
        )
        for boat, row in enumerate(share)
    ]


def _drawn(
    problem: Problem, pieces: Sequence[Piece], draws: Draws
) -> Iterator[tuple[HangKind, str, str, Reals]]:
    """Each thing drawn: its kind, the job, what people call it, and how it leans in each run."""
    for name, row in draws.common.items():
        yield "common", "", name, row
    holds = {(piece.job.id, held_name(piece)): piece for piece in pieces}
    for (job, name), row in draws.own.items():
        if (job, name) in holds:
            part = holds[job, name].step or holds[job, name].begun
            yield "hold", job, part.label or name if part is not None else name, row
        else:
            yield "amount", job, problem.spreads[name].label or name, row
    labels = {one.id: one.label for one in problem.resources}
    for name, stopped in draws.stopped.items():
        yield "weather", "", labels[name] or name, stopped.sum(axis=0).astype(float)


def _standard(row: Reals) -> Reals:
    """With mean 0 and variance 1; a row that never changes is all 0."""
    spread = float(row.std())
    standard: Reals = (row - row.mean()) / spread if spread else np.zeros_like(row)
    return standard
