"""A posted plan that facts have overrun: its places and order kept, what is late pushed on."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import Any

from scheduling.engine.draws import drawn
from scheduling.engine.handovers import Piece, pieces_of
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import Schedule
from scheduling.engine.winter import replayed
from tests.engine.random_yards import random_problem
from tests.engine.spread_yards import overrun, with_some_spreads
from tests.engine.test_risk import differences, planned


def test_a_plan_that_facts_have_overrun_is_pushed_on_in_its_order(test_size: str) -> None:
    for seed in range(10 if test_size == "small" else 300):
        told = with_some_spreads(random_problem(seed, jobs=6, slots=40, places=3), seed)
        assert in_each_others_bay(told, planned(told)) == [], seed
        told, schedule = overrun(told, planned(told), seed)
        assert in_each_others_bay(told, schedule) == [], seed
        assert differences(told, schedule, 8) == [], seed


def in_each_others_bay(told: Problem, schedule: Schedule) -> list[Any]:
    """Boats that stand in one bay at once in a drawn winter and don't swap; steps that start before the one
    before them ends."""
    pieces = sorted(pieces_of(told, schedule), key=lambda piece: piece.index)
    rows = replayed(told, pieces_of(told, schedule), drawn(told, pieces, 8, 3)).rows
    found: list[Any] = []
    stays: list[tuple[Any, Any, Any, Any]] = []  # first and last piece, when she comes and leaves
    for before, after in pairwise([*pieces, pieces[0]]):
        start, end = rows[2 * before.index], rows[2 * before.index + 1]
        same = after.job.id == before.job.id and after is not pieces[0]
        if same and (rows[2 * after.index] < end).any():
            found.append((before.job.id, before.time.step))
        leaves = (after, rows[2 * after.index]) if same else (before, end)
        if stays and stays[-1][1] is before and stays[-1][0].time.place == before.time.place:
            before, _, start, _ = stays.pop()  # she goes on where she stood
        stays.append((before, leaves[0], start, leaves[1]))
    bays = {
        (place.id, unit) for place in told.places for unit in place.units or ((None,) * (place.room == 1))
    }
    for one, other in combinations(stays, 2):
        bay = (one[0].time.place, one[0].time.unit)
        if one[0].job.id == other[0].job.id or bay != (other[0].time.place, other[0].time.unit):
            continue
        together = (one[2] < other[3]) & (other[2] < one[3]) & ((one[2] >= 0) | (other[2] >= 0))
        first, then = sorted((one, other), key=lambda stay: (stay[0].time.start, stay[1].time.leaves))
        swap = _waits(pieces, first[1], then[0])
        if bay in bays and together.any() and not swap:
            found.append((one[0].job.id, other[0].job.id, bay))
    return found


def _waits(pieces: list[Piece], piece: Piece, other: Piece) -> bool:
    """Whether a piece waits for another, or for one that does, and so on."""
    known, open_ = set(), [piece.index]
    while open_:
        index = open_.pop()
        known.add(index)
        open_ += [row // 2 for row, _ in pieces[index].waits if row // 2 not in known]
    return other.index in known
