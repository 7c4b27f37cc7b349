"""The bound by prices once more, as a linear programme over ways: the reference that `climb` is held against.

Ways are mixed as cheaply as the capacities allow (GLOP); its prices ask the insertions for new ways, between
those and the best prices so far (in-out separation), until both sides meet: column generation after Dantzig &
Wolfe 1960.
"""

import numpy as np
from ortools.linear_solver import pywraplp

from scheduling.engine.climb import Climb
from scheduling.engine.prices import Floats, Way, left_out, whole
from scheduling.engine.problem import Problem

NEAR = 0.0002  # [share of the programme's value] between both sides, or a minor unit


def best_by_columns(problem: Problem, above: int, rounds: int = 200) -> tuple[float, int]:
    """[minor units] the value of the programme, and the best bound its prices proved: equal but for NEAR.

    Raises RuntimeError if they have not met after `rounds`, or the programme is not solved.
    """
    climb = Climb(problem, above)
    climb.go_on(10)
    master = _Master(climb)
    inside = climb.worth
    best, found = climb.dual.value(climb.best)
    master.add([way for _, way in found])
    for _ in range(rounds):
        value, outside = master.solve()
        if value - best <= max(NEAR * value, climb.parts):
            return value / climb.parts, whole(best, climb.parts)
        near = 0.5
        while True:  # prices that bring no new way are followed further out
            worth = near * inside + (1 - near) * outside
            proved, found = climb.dual.value(climb.dual.prices(worth.reshape(climb.there.shape)))
            if proved > best:
                best, inside = proved, worth
            if master.add([way for _, way in found]) or not near:
                break
            near = near / 2 if near > 0.1 else 0.0
    raise RuntimeError(f"{rounds} rounds: the programme says {value}, the prices {best}")


class _Master:
    """The linear programme of the ways known: a job takes one in all, of a thing no more than there is."""

    def __init__(self, climb: Climb) -> None:
        self.there, self.most = climb.there.ravel(), climb.most / climb.parts
        self.parts = climb.parts  # money is told in minor units: of a thousand times as much GLOP gives up
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        self.solver.Objective().SetMinimization()
        self.one = [self.solver.Constraint(1, 1) for _ in climb.jobs]
        self.rows: dict[int, pywraplp.Constraint] = {}
        self.modes, self.dirty = climb.modes, dict[tuple[int, int], pywraplp.Variable]()
        self.ways: list[list[Way]] = [[] for _ in climb.jobs]
        self.add([left_out(job) for job in climb.dual.compiled.jobs.values()])
        for number, mixture in enumerate(climb.jobs):
            for way in mixture.ways:
                self._add(number, way)

    def add(self, ways: list[Way]) -> bool:
        """Add a way of each job; whether one of them is new."""
        new = [self._add(number, way) for number, way in enumerate(ways)]
        return any(new)

    def _add(self, number: int, way: Way) -> bool:
        if any(way.same(known) for known in self.ways[number]):
            return False
        self.ways[number].append(way)
        share = self.solver.NumVar(0, self.solver.infinity(), "")
        self.solver.Objective().SetCoefficient(share, way.cost / self.parts)
        self.one[number].SetCoefficient(share, 1)
        for thing, use in zip(way.at.tolist(), way.use.tolist(), strict=True):
            if thing not in self.rows:
                self.rows[thing] = self.solver.Constraint(-self.solver.infinity(), float(self.there[thing]))
                self._in_the_air(thing)
                if np.isfinite(self.most[thing]):  # more can be had, at a price
                    more = self.solver.NumVar(0, self.solver.infinity(), "")
                    self.solver.Objective().SetCoefficient(more, float(self.most[thing]))
                    self.rows[thing].SetCoefficient(more, -1)
            self.rows[thing].SetCoefficient(share, use)
        return True

    def _in_the_air(self, thing: int) -> None:
        """Of a line of the air: it takes 1 where the air is for the other side, of 1 that there is."""
        line, slot = divmod(thing - self.modes.first, self.modes.slots)
        if not 0 <= line < self.modes.sides.shape[1]:
            return
        clash = int(np.abs(self.modes.sides[:, line]).argmax())
        side = self.modes.sides[clash, line]
        if (clash, slot) not in self.dirty:
            self.dirty[clash, slot] = self.solver.NumVar(0, 1, "")
        self.rows[thing].SetCoefficient(self.dirty[clash, slot], side)
        self.rows[thing].SetUb(float(self.there[thing]) - (side < 0))

    def solve(self) -> tuple[float, Floats]:
        """What the cheapest mixture costs [parts], and what the most there is of each thing is worth then.

        Raises RuntimeError if the solver finds no mixture.
        """
        if self.solver.Solve() != pywraplp.Solver.OPTIMAL:
            raise RuntimeError("the linear programme was not solved")
        worth = np.zeros(len(self.there))
        for thing, row in self.rows.items():
            worth[thing] = max(-row.dual_value(), 0) * self.parts
        return self.solver.Objective().Value() * self.parts, worth
