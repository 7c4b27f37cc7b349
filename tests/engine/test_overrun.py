"""A posted plan that facts have overrun: its places and order kept, what is late pushed on."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from scheduling.engine.draws import drawn
from scheduling.engine.handovers import Piece, pieces_of
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import Schedule
from scheduling.engine.winter import replayed
from tests.engine.agree import differences, planned
from tests.engine.random_yards import random_problem
from tests.engine.spread_yards import overrun, with_some_spreads


def test_a_plan_that_facts_have_overrun_is_pushed_on_in_its_order(test_size: str) -> None:
    for seed in range(10 if test_size == "small" else 300):
        told = with_some_spreads(random_problem(seed, jobs=6, slots=40, places=3), seed)
        assert in_the_way(told, planned(told)) == [], seed
        told, schedule = overrun(told, planned(told), seed)
        assert in_the_way(told, schedule) == [], seed
        assert differences(told, schedule, 8) == [], seed


def in_the_way(told: Problem, schedule: Schedule) -> list[Any]:
    """Boats that come to a place that has no room in a drawn winter, and don't swap; steps that start before
    the one before them ends."""
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
    rooms = {place.id: place.room for place in told.places}
    for stay in stays:
        there = [other for other in stays if other[0].time.place == stay[0].time.place and other is not stay]
        beside = sum(
            (other[2] <= stay[2]) & (stay[2] < other[3]) for other in there if not _swap(pieces, stay, other)
        )
        if stay[0].step is not None and ((beside >= rooms[stay[0].time.place]) & (stay[3] > stay[2])).any():
            found.append((stay[0].job.id, stay[0].time.place))
    return found


def _swap(pieces: list[Piece], *stays: tuple[Any, Any, Any, Any]) -> bool:
    """Whether who comes later by the plan has to come before who is there can go."""
    first, then = sorted(stays, key=lambda stay: (stay[0].time.start, stay[1].time.leaves))
    return _waits(pieces, first[1], then[0])


def _waits(pieces: list[Piece], piece: Piece, other: Piece) -> bool:
    """Whether a piece waits for another, or for one that does, and so on."""
    known, open_ = set(), [piece.index]
    while open_:
        index = open_.pop()
        known.add(index)
        open_ += [one for one in pieces[index].after if one not in known]
    return other.index in known
