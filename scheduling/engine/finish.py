"""CP-SAT: a whole small yard, or the last word on a neighbourhood of a big one. The only door to ortools.

Never trusted: what it finds is read back into a Schedule whose cost `cost.cost_of` counts anew.
"""

import math
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Literal

from ortools.sat.python import cp_model

from scheduling.engine.cost import cost_of
from scheduling.engine.problem import Problem
from scheduling.engine.rules import COSTS, RULES
from scheduling.engine.rules.frame import Model
from scheduling.engine.rules.swaps import Crowd, Ring, cycles_of
from scheduling.engine.schedule import Schedule

Status = Literal["proven", "found", "stopped", "nothing"]
Rules = Iterable[Callable[[Model], None]]
DEAREST = 1 << 40  # [minor units] more than any job pays


@dataclass(frozen=True, slots=True, kw_only=True)
class CpAnswer:
    """What CP-SAT found.

    "proven": nothing is cheaper, with the jobs that are not free as they are. "found": a schedule, no proof.
    "stopped": somebody asked to stop; the schedule is the best so far, if any. "nothing": no schedule, either
    because there is none or for lack of time. `bound` only where all jobs were free.
    """

    status: Status
    schedule: Schedule | None
    total: int | None  # [minor units]
    bound: int | None  # [minor units] no plan can cost less


def build(
    problem: Problem,
    schedule: Schedule | None = None,
    free: Iterable[str] | None = None,
    cycles: Iterable[Ring | Crowd] = (),
    rules: Rules = RULES,
    alone: Mapping[str, int] | None = None,
) -> Model:
    """The model of `problem` under `rules`, with `free` jobs to be placed and the others as in `schedule`.

    `alone` [minor units] is the least that each job pays by herself in any plan; a search need not show it.
    """
    model = Model(problem, schedule, free, list(cycles))
    for rule in rules:
        rule(model)
    for cost in COSTS:
        cost(model)
    terms = [term for each in model.costs.values() for term in each]
    for name, least in (alone or {}).items():
        if model.own[name]:
            paid = model.new_int(least, DEAREST)
            model.need(paid >= sum(model.own[name]))
            mine = {id(term) for term in model.own[name]}
            terms = [term for term in terms if id(term) not in mine] + [paid]
    model.cp.minimize(sum(terms))
    return model


def cp_solve(
    problem: Problem,
    *,
    hint: Schedule | None,
    free: set[str] | None,
    seconds: float,
    workers: int,
    seed: int,
    should_stop: Callable[[], bool] | None = None,
    deterministic: float | None = None,
    rules: Rules = RULES,
    alone: Mapping[str, int] | None = None,
) -> CpAnswer:
    """Find the cheapest schedule within `seconds`, starting from `hint`.

    Only the jobs in `free` (all, if None) are placed anew; the others stay as in `hint`, then needed.
    `alone` is as in `build`; a test of the model itself leaves it out, since the insertion works it out.
    `deterministic` [CP-SAT's units of work] makes one worker give one answer, whatever the clock says.
    Raises ValueError if `free` is given without a hint.
    """
    if free is not None and hint is None:
        raise ValueError("free: without a schedule there is nothing that the other jobs could stay in")
    clock = _Clock(seconds, deterministic, should_stop or (lambda: False))
    cycles = cycles_of(problem, hint) if hint is not None else set()
    best, bound, status = _Best(problem), None, cp_model.UNKNOWN
    while True:
        model = build(problem, hint, free, cycles, rules, alone)
        start = best.schedule or hint
        if start is not None and _hint(model, start, seed):
            best.take(start)
        solver, seen = _solver(clock, workers, seed), _Seen(model, hint, cycles, best)
        with clock.stopping(solver):
            status = solver.solve(model.cp, seen)
        clock.spent(solver.deterministic_time)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) and free is None:
            bound = max(bound or 0, math.ceil(solver.best_objective_bound - 1e-6))
        if status != cp_model.OPTIMAL or not seen.unknown:
            break
        cycles |= seen.unknown
        if clock.over():
            status = cp_model.FEASIBLE
            break
    proven = status == cp_model.OPTIMAL and (free is not None or best.total == round(solver.objective_value))
    if best.schedule is None:
        return CpAnswer(
            status="stopped" if clock.stopped else "nothing", schedule=None, total=None, bound=bound
        )
    said: Status
    said = "proven" if proven else "stopped" if clock.stopped else "found"
    return CpAnswer(status=said, schedule=best.schedule, total=best.total, bound=bound)


@dataclass(slots=True)
class _Best:
    """The cheapest schedule so far that keeps the rules."""

    problem: Problem
    schedule: Schedule | None = None
    total: int | None = None

    def take(self, schedule: Schedule) -> None:
        total = sum(cost_of(self.problem, schedule).values())
        if self.total is None or total < self.total:
            self.schedule, self.total = schedule, total


class _Seen(cp_model.CpSolverSolutionCallback):
    """Keeps each solution without unknown swap cycles, and the unknown cycles of the last one."""

    def __init__(self, model: Model, rest: Schedule | None, cycles: set[Ring | Crowd], best: _Best) -> None:
        super().__init__()
        self.model, self.rest, self.cycles, self.best = model, rest, cycles, best
        self.unknown: set[Ring | Crowd] = set()

    def on_solution_callback(self) -> None:
        """Read the solution back."""
        schedule = self.model.read(self.value, self.rest)
        self.unknown = cycles_of(self.model.problem, schedule) - self.cycles
        if not self.unknown:
            self.best.take(schedule)


@dataclass(slots=True)
class _Clock:
    """How long the solver may still go on."""

    seconds: float
    work: float | None
    should_stop: Callable[[], bool]
    stopped: bool = False
    began: float = field(default_factory=time.monotonic)

    def left(self) -> float:
        return max(self.seconds - (time.monotonic() - self.began), 0.0)

    def spent(self, work: float) -> None:
        if self.work is not None:
            self.work = max(self.work - work, 0.0)

    def over(self) -> bool:
        return self.stopped or self.left() <= 0 or self.work == 0

    @contextmanager
    def stopping(self, solver: Any) -> Iterator[None]:
        """Ask every tenth of a second whether to stop, and repeat it: the solver may miss the first call."""
        ended = threading.Event()

        def watch() -> None:
            while not ended.wait(0.1):
                self.stopped = self.stopped or self.should_stop()
                if self.stopped:
                    solver.stop_search()

        self.stopped = self.stopped or self.should_stop()
        thread = threading.Thread(target=watch, daemon=True)
        thread.start()
        try:
            yield
        finally:
            ended.set()
            thread.join()


def _solver(clock: _Clock, workers: int, seed: int) -> Any:
    """A fresh solver: interleaving is off, since it corrupts memory in some versions."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1 if clock.work is not None else max(1, min(workers, 2))
    solver.parameters.interleave_search = False
    # Long presolving does not pay: without it yards of 4 and 6 boats are proven in 6 to 8 tenths of the time.
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.symmetry_level = 0
    solver.parameters.max_presolve_iterations = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_time_in_seconds = clock.left()
    if clock.work is not None:
        solver.parameters.max_deterministic_time = clock.work
    return solver


def _hint(model: Model, schedule: Schedule, seed: int) -> bool:
    """Give the solver `schedule` as a complete hint; False if it breaks a rule of the model.

    Only complete hints help, so a first solve with the times and places fixed finds all the other variables.
    """
    for variable, value in model.hints(schedule):
        model.cp.add_hint(variable, int(value))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = 10.0
    solver.parameters.fix_variables_to_their_hinted_value = True
    status = solver.solve(model.cp)
    model.cp.clear_hints()  # type: ignore[no-untyped-call]
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return False
    for variable in model.vars:
        model.cp.add_hint(variable, int(solver.value(variable)))
    return True
