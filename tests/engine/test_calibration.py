"""Whether dates are kept as often as they say, over whole seasons, with a promise made again each week."""

from __future__ import annotations

import json
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from statistics import NormalDist

import pytest

from scheduling.engine.builds import first_plan
from scheduling.engine.causes import cause_of
from scheduling.engine.colour import colour
from scheduling.engine.compiled import compile_problem
from scheduling.engine.draws import Draws, Reals, drawn, held_name
from scheduling.engine.handovers import Piece, pieces_of
from scheduling.engine.jsonio import from_json
from scheduling.engine.problem import Problem, Step
from scheduling.engine.risk import Risk, read_off
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
        self.times = replayed(self.told, self.pieces, self.truth).rows[:, 0]

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


def known_in(season: Season, slot: int, runs: int) -> Draws:
    """Winters as they may still be, seen from the morning of a slot: what is behind is as it was, and of what
    is under way it is known that it took longer than it has so far. All else is drawn as it was before."""
    told = season.told
    draws = drawn(told, season.pieces, runs, seed=1)
    for name, stopped in draws.stopped.items():
        stopped[:slot] = season.truth.stopped[name][:slot]
    known: set[tuple[str, str]] = set()
    for piece in sorted(season.pieces, key=lambda one: one.index):
        part = piece.step or piece.begun
        if part is None or season.started(piece) >= slot:
            continue
        if part.spread is not None and (piece.job.id, part.spread) not in known:
            leans = draws.own[piece.job.id, part.spread]
            if season.ended(piece) <= slot:
                known.add((piece.job.id, part.spread))
                leans[:] = season.truth.own[piece.job.id, part.spread]
            else:
                cases = told.spreads[part.spread].cases
                first = sum(_done_by(told, piece, season.started(piece), slot, case) for case in cases)
                leans[:] = _from_case(first, len(cases), leans)
    for piece in season.pieces:
        part = piece.step or piece.begun
        if part is not None and part.until:
            name = (piece.job.id, held_name(piece))
            leans, lean = draws.own[name], float(season.truth.own[name][0])
            if slow.case(part.until, lean) <= slot:
                leans[:] = lean
            else:
                leans[:] = _from_case(bisect_right(part.until, slot), len(part.until), leans)
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


def _from_case(first: int, count: int, leans: Reals) -> list[float]:
    """The same leans, among the cases from `first` on: all equally likely."""
    normal, done = NormalDist(), first / count
    ranks = (done + (1 - done) * normal.cdf(float(lean)) for lean in leans)
    return [normal.inv_cdf(min(max(rank, 1e-9), 1 - 1e-9)) for rank in ranks]


def seasons(boats: int, count: int, share_pct: int) -> Iterator[Season]:
    told, schedule = planned(boats, share_pct)
    pieces = pieces_of(told, schedule)
    for number in range(count):
        yield Season(told, schedule, pieces, drawn(told, pieces, 1, 1000 + number))


def seen_from(season: Season, slot: int) -> list[Piece]:
    """The pieces as they are seen from the morning of a slot: what has not begun begins no earlier."""

    def later(step: Step) -> Step:
        until = tuple(max(case, slot) for case in step.until)
        return replace(step, earliest=max(step.earliest, slot), until=until)

    return [
        replace(piece, step=later(piece.step)) if piece.step and season.started(piece) >= slot else piece
        for piece in season.pieces
    ]


def promised(season: Season, slot: int, draws: Draws) -> Risk:
    pieces = seen_from(season, slot)
    return read_off(season.told, season.schedule, pieces, draws, likely_pct=60, safe_pct=90)


def test_what_is_behind_is_in_every_winter_as_it_was() -> None:
    [season] = seasons(12, 1, share_pct=0)
    for slot in (0, 20, 60):
        rows = replayed(season.told, seen_from(season, slot), known_in(season, slot, 30)).rows
        for piece in season.pieces:
            for row, at in (
                (2 * piece.index, season.started(piece)),
                (2 * piece.index + 1, season.ended(piece)),
            ):
                behind = at < slot or (at == slot and row % 2)
                assert (rows[row] == at).all() if behind else (rows[row] >= slot).all()


@dataclass
class Tally:
    """What became of the dates told: how many there were, how many safe and likely ones were kept, how many
    likely ones were said to be; how many jumped in a week, and whose cause had news in that week."""

    made: int = 0
    safe: int = 0
    likely: int = 0
    stated: float = 0.0
    jumps: Counter[str] = field(default_factory=Counter)
    true: Counter[str] = field(default_factory=Counter)

    def keep(self, season: Season, risk: Risk) -> None:
        for name, boat in risk.boats.items():
            if boat.dots[0] == boat.dots[-1]:
                continue  # she is afloat, or only a told day is left: nothing can go wrong any more
            self.made += 1
            self.safe += season.day(name) <= (boat.safe or date.max)
            self.likely += season.day(name) <= (boat.likely or date.max)
            self.stated += sum((dot or date.max) <= (boat.likely or date.max) for dot in boat.dots) / 20

    def compare(self, was: tuple[Draws, Risk], now: tuple[Draws, Risk]) -> None:
        before = {job: {one.step: one.when for one in own} for job, own in was[1].moments.items()}
        news = {job for (job, name), row in now[0].own.items() if (row != was[0].own[job, name]).any()}
        for name, boat in now[1].boats.items():
            moved = [_days(boat.safe) - _days(was[1].boats[name].safe)]
            moved.append(_days(boat.likely) - _days(was[1].boats[name].likely))
            jump = next((days for days in moved if abs(days) > 3), None)
            if jump is not None:
                cause = cause_of(before, now[1].moments, name, later=jump > 0)
                self.jumps[cause.kind] += 1
                self.true[cause.kind] += cause.job in news


def _days(day: date | None) -> int:
    return (day or date(2028, 1, 1)).toordinal()


def told_each_week(count: int, weeks: int, *, every: int, runs: int = 200) -> Tally:
    """Dates told in `count` seasons in one week of `every` and again a week later, each season in other weeks
    than the one before."""
    tally = Tally()
    for number, season in enumerate(seasons(12, count, share_pct=0)):
        for week in range(number % every, weeks, every):
            slots = [(week + more) * WEEK for more in (0, 1)]
            seen = [known_in(season, slot, runs) for slot in slots]
            told = [promised(season, slot, draws) for slot, draws in zip(slots, seen, strict=True)]
            for risk in told:
                tally.keep(season, risk)
            tally.compare((seen[0], told[0]), (seen[1], told[1]))
    return tally


def keeps_its_word(tally: Tally, *, chance: float = 0.0) -> None:
    """A tide's day takes in more than the odds it is read off at, so likely days are held to what is said of
    them. A cause that is a step's own length is one of which something was learnt in that week. `chance` [-]
    is by how much a few seasons may be off what many are."""
    assert tally.made > 100
    assert 0.85 - chance <= tally.safe / tally.made <= 0.95 + chance
    assert abs(tally.likely - tally.stated) / tally.made <= 0.05 + chance
    assert tally.jumps["length"] > 0.6 * tally.jumps.total() > 0
    assert tally.true["length"] >= 0.95 * tally.jumps["length"]
    assert tally.jumps["begin"] + tally.jumps["new"] <= 0.05 * tally.jumps.total()


@pytest.mark.reliability(37)
def test_dates_are_kept_as_often_as_they_say_and_jump_for_a_reason() -> None:
    keeps_its_word(told_each_week(27, 27, every=27, runs=100), chance=0.04)


@pytest.mark.slow
@pytest.mark.reliability(37)
def test_dates_told_each_week_of_200_seasons_are_kept_as_often_as_they_say(test_size: str) -> None:
    """A season's weather is common to all its boats, so a small run has fewer weeks, not fewer seasons."""
    count, every = {"small": (200, 24), "full": (200, 8), "soak": (200, 1)}[test_size]
    keeps_its_word(told_each_week(count, 30, every=every))


@pytest.mark.reliability(37)
def test_dates_promised_in_autumn_are_kept_though_one_damp_winter_is_common_to_all() -> None:
    told, schedule = planned(12, share_pct=30)
    pieces = pieces_of(told, schedule)
    draws = drawn(told, pieces, 2000, 1)
    boats = read_off(told, schedule, pieces, draws, likely_pct=60, safe_pct=90).boats
    met = slow.replay(told, schedule, runs=200, seed=8)
    likely = [
        end is not None and end <= (boats[n].likely or date.max) for n, ends in met.items() for end in ends
    ]
    safe = [end is not None and end <= (boats[n].safe or date.max) for n, ends in met.items() for end in ends]
    assert 0.85 <= sum(safe) / len(safe) <= 0.95
    assert 0.52 <= sum(likely) / len(likely) <= 0.68  # 200 winters, each alike for all boats
