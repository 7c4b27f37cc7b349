"""The fast replay of drawn winters beside the slow plain one: piece by piece the same."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from scheduling.engine.colour import colour
from scheduling.engine.draws import Draws, drawn
from scheduling.engine.handovers import pieces_of
from scheduling.engine.improve import first_plan
from scheduling.engine.insertion import compile_problem
from scheduling.engine.jsonio import from_json
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import Schedule
from scheduling.engine.winter import replayed
from tests.engine import replay as slow

EXAMPLES = Path(__file__).parent / "examples"


def example(boats: int) -> Problem:
    return from_json(Problem, json.loads((EXAMPLES / f"boats{boats}.json").read_text()))


def planned(told: Problem) -> Schedule:
    return colour(told, first_plan(compile_problem(told)).schedule())


class Given(slow.Drawn):
    """A winter of the fast replay, told to the slow one."""

    def __init__(self, told: Problem, draws: Draws, run: int) -> None:
        self.problem, self.draws, self.run = told, draws, run
        self.stopped = {
            each.id: {int(s) for s in np.flatnonzero(draws.stopped[each.id][:, run])}
            if each.id in draws.stopped
            else set()
            for each in told.resources
        }

    def lean(self, *key: str) -> float:
        if len(key) == 1:
            return float(self.draws.common[key[0]][self.run])
        name = key[1] if len(key) == 2 else f"{key[2]} held"
        return float(self.draws.own[key[0], name][self.run])


def differences(told: Problem, schedule: Schedule, runs: int) -> list[Any]:
    """Pieces that start or end elsewhere in the slow replay of the same winters."""
    pieces = pieces_of(told, schedule)
    draws = drawn(told, pieces, runs, 3)
    rows = replayed(told, pieces, draws).rows
    parts, never = slow.parts_of(told, schedule), len(told.days) + 1
    order = slow.in_order(parts)
    tables = {table.id: table for table in told.tables}
    found: list[Any] = []
    for run in range(runs):
        times = slow.one_winter(told, order, tables, Given(told, draws, run))
        for i, part in enumerate(part for own in parts for part in own):
            plain = [min(slot, never) for slot in times[id(part)]]
            fast = rows[2 * i : 2 * i + 2, run].tolist()
            if fast != plain:
                found.append((run, part.job.id, part.step and part.step.id, fast, plain))
    return found
