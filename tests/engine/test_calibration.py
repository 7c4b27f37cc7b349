"""Whether dates are kept as often as they say, over whole seasons, with a promise made again each week."""

from __future__ import annotations

import json
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest

from scheduling.engine.builds import first_plan
from scheduling.engine.colour import colour
from scheduling.engine.compiled import compile_problem
from scheduling.engine.draws import Draws, drawn, held_name
from scheduling.engine.handovers import Piece, pieces_of
from scheduling.engine.jsonio import from_json
from scheduling.engine.problem import Problem
from scheduling.engine.risk import BoatRisk, read_off
from scheduling.engine.schedule import Schedule
from scheduling.engine.winter import replayed
from tests.engine import replay as slow
from tests.engine.spread_yards import with_spreads

EXAMPLES = Path(__file__).parent / "examples"
WEEK = 5  # [slots]


@dataclass
class Season:
    """A plan, and one winter it really met: when each piece started and ended."""

    told: Problem
    schedule: Schedule
    pieces: list[Piece]
    truth: Draws

    def __post_init__(self) -> None:
        self.times = replayed(self.told, self.pieces, self.truth)[:, 0]

    def started(self, piece: Piece) -> int:
        return int(self.times[2 * piece.index])

    def ended(self, piece: Piece) -> int:
        return int(self.times[2 * piece.index + 1])

    def day(self, job: str) -> date:
        """Her last day of work; the last of all days where that is beyond the axis."""
        last = max((p for p in self.pieces if p.job.id == job), key=lambda p: p.index)
        end = self.ended(last)
        return date.max if end > len(self.told.days) else self.told.days[end - 1]


def planned(boats: int, share_pct: int) -> tuple[Problem, Schedule]:
    told = from_json(Problem, json.loads((EXAMPLES / f"boats{boats}.json").read_text()))
    told = with_spreads(told, share_pct=share_pct)
    return told, colour(told, first_plan(compile_problem(told)).schedule())


def known_in(season: Season, slot: int, runs: int, seed: int) -> Draws:
    """Winters as they may still be, seen from the morning of a slot: what is behind is as it was, and of what
    is under way it is known that it took longer than it has so far."""
    told, rng = season.told, np.random.default_rng(seed)
    draws = drawn(told, season.pieces, runs, seed)
    for name, stopped in draws.stopped.items():
        stopped[:slot] = season.truth.stopped[name][:slot]
    known: set[tuple[str, str]] = set()
    for piece in sorted(season.pieces, key=lambda one: one.index):
        part = piece.step or piece.begun
        if part is None or season.started(piece) >= slot:
            continue
        if part.spread is not None and (piece.job.id, part.spread) not in known:
            if season.ended(piece) <= slot:
                known.add((piece.job.id, part.spread))
                draws.own[piece.job.id, part.spread][:] = season.truth.own[piece.job.id, part.spread]
            else:
                cases = told.spreads[part.spread].cases
                first = sum(_done_by(told, piece, season.started(piece), slot, case) for case in cases)
                draws.own[piece.job.id, part.spread][:] = _from_case(first, len(cases), runs, rng)
    for piece in season.pieces:
        part = piece.step or piece.begun
        if part is not None and part.until:
            name = (piece.job.id, held_name(piece))
            lean = float(season.truth.own[name][0])
            if slow.case(part.until, lean) <= slot:
                draws.own[name][:] = lean
            else:
                draws.own[name][:] = _from_case(bisect_right(part.until, slot), len(part.until), runs, rng)
    return draws


def _done_by(told: Problem, piece: Piece, start: int, slot: int, case: int) -> bool:
    """Whether a piece would have ended by `slot` in this case."""
    if piece.step is None:
        assert piece.begun is not None and piece.begun.worth is not None
        worths, amount = told.worths[piece.begun.worth], piece.begun.amount
    else:
        table = next(table for table in told.tables if table.id == piece.option.table)
        assert table.worth is not None
        worths, amount = told.worths[table.worth], table.amount
    return sum(worths[max(start, 0) : slot]) >= -(-amount * case // 1000)


def _from_case(first: int, count: int, runs: int, rng: np.random.Generator) -> list[float]:
    """Leans of cases from `first` on, all equally likely."""
    return [NormalDist().inv_cdf(u) for u in rng.uniform(max(first / count, 1e-9), 1 - 1e-9, runs)]


def seasons(boats: int, count: int, share_pct: int) -> Iterator[Season]:
    told, schedule = planned(boats, share_pct)
    pieces = pieces_of(told, schedule)
    for number in range(count):
        yield Season(told, schedule, pieces, drawn(told, pieces, 1, 1000 + number))


def promised(season: Season, slot: int, runs: int) -> dict[str, BoatRisk]:
    draws = known_in(season, slot, runs, seed=slot + 1)
    return read_off(season.told, season.schedule, season.pieces, draws, likely_pct=60, safe_pct=90)


def test_what_is_behind_is_in_every_winter_as_it_was() -> None:
    [season] = seasons(12, 1, share_pct=0)
    for slot in (0, 20, 60):
        rows = replayed(season.told, season.pieces, known_in(season, slot, 30, seed=1))
        for piece in season.pieces:
            for row, at in (
                (2 * piece.index, season.started(piece)),
                (2 * piece.index + 1, season.ended(piece)),
            ):
                behind = at < slot or (at == slot and row % 2)
                assert (rows[row] == at).all() if behind else (rows[row] >= slot).all()


def kept(count: int, weeks: int, *, every: int) -> tuple[int, int, float, float]:
    """Promises made in `count` seasons over so many weeks, in one week of `every`, each season in others than
    the one before: how many, how many safe and likely days were kept, and how many likely ones were said to
    be."""
    made = safe = likely = 0
    stated = 0.0
    for number, season in enumerate(seasons(12, count, share_pct=0)):
        for week in range(number % every, weeks, every):
            for name, boat in promised(season, week * WEEK, runs=200).items():
                if boat.dots[0] == boat.dots[-1]:
                    continue  # she is afloat, or only a told day is left: nothing can go wrong any more
                made += 1
                safe += season.day(name) <= (boat.safe or date.max)
                likely += season.day(name) <= (boat.likely or date.max)
                stated += sum((dot or date.max) <= (boat.likely or date.max) for dot in boat.dots) / 20
    return made, safe, likely, stated


def keeps_its_word(made: int, safe: int, likely: int, stated: float) -> None:
    """A tide's day takes in more than the odds it is read off at, so likely days are held to what is said of
    them."""
    assert made > 100
    assert 0.85 <= safe / made <= 0.95
    assert abs(likely - stated) / made <= 0.05


@pytest.mark.reliability(37)
def test_dates_are_kept_as_often_as_they_say() -> None:
    keeps_its_word(*kept(30, 27, every=9))


@pytest.mark.slow
@pytest.mark.reliability(37)
def test_dates_promised_each_week_of_200_seasons_are_kept_as_often_as_they_say(test_size: str) -> None:
    count, every = {"small": (60, 5), "full": (200, 5), "soak": (200, 1)}[test_size]
    keeps_its_word(*kept(count, 30, every=every))


@pytest.mark.reliability(37)
def test_dates_promised_in_autumn_are_kept_though_one_damp_winter_is_common_to_all() -> None:
    told, schedule = planned(12, share_pct=30)
    pieces = pieces_of(told, schedule)
    draws = drawn(told, pieces, 2000, 1)
    boats = read_off(told, schedule, pieces, draws, likely_pct=60, safe_pct=90)
    met = slow.replay(told, schedule, runs=200, seed=8)
    likely = [
        end is not None and end <= (boats[n].likely or date.max) for n, ends in met.items() for end in ends
    ]
    safe = [end is not None and end <= (boats[n].safe or date.max) for n, ends in met.items() for end in ends]
    assert 0.85 <= sum(safe) / len(safe) <= 0.95
    assert 0.52 <= sum(likely) / len(likely) <= 0.68  # 200 winters, each alike for all boats
