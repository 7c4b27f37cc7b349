"""The parts of a yard's plans looked at by two processes: each has half, and the lower bound holds for all.

The first process parts the plans, and says which parts it leaves to the other by their cuts; so nothing hangs
on both doing the same sums.
"""

import json
import time
from collections.abc import Callable
from dataclasses import dataclass

from scheduling.engine.asked import MANY_ROUNDS
from scheduling.engine.branching import Branching, Half
from scheduling.engine.child import Child
from scheduling.engine.climb import Climb
from scheduling.engine.cost import cost_of
from scheduling.engine.jsonio import from_json
from scheduling.engine.prices import whole
from scheduling.engine.problem import Problem
from scheduling.engine.rounded import rounded
from scheduling.engine.schedule import Schedule

STEPS = 200
"""Steps of prices for all plans, before they are parted."""
SPLIT = 16
"""Open parts from which on two processes have enough to do; each is left every second one."""
TURN = 960
"""Rounds of climbing after which the search for plans goes on: 8 s in the example of 12 boats (measured)."""
TELL = 80
"""Rounds of climbing between two tellings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """What is left to another process."""

    problem: Problem
    above: int  # [minor units] the cost of the cheapest plan known
    seed: int
    parts: tuple[tuple[Half, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What it found."""

    bound: int  # [minor units] no plan in its parts costs less, or less than the cheapest known
    tries: int
    schedule: Schedule | None  # a cheaper plan


def found_by(parts: Branching, tries: int = 0) -> Proof:
    """What these parts prove so far, after so many `tries` before they were parted."""
    return Proof(bound=parts.bound, tries=tries + parts.tries, schedule=parts.plan)


def prove_with_another(
    problem: Problem,
    parts: Branching,
    seconds: float,
    should_stop: Callable[[], bool],
    on_plan: Callable[[Schedule], None],
    look: Callable[[], int],
) -> Proof:
    """Go on with all parts, half of them in another process, for so many `seconds` at most.

    `parts` are those of the `rounded` Problem. Now and then this process will `look` for plans otherwise,
    and be told what the cheapest known costs [minor units]. If the other process fails, its half is as if
    not looked at.
    """
    until = time.monotonic() + seconds
    parts.go_on(MANY_ROUNDS, lambda: should_stop() or len(parts.open) >= SPLIT, on_plan)
    if should_stop() or len(parts.open) < SPLIT:
        return found_by(parts)

    def above_now() -> int:
        return whole(parts.above, parts.climb.parts)

    task = Task(problem=problem, above=above_now(), seed=parts.seed + 1, parts=parts.leave_half())
    prover = Prover(task, until - time.monotonic())
    try:
        while not parts.done and not should_stop():
            parts.go_on(TURN, should_stop, on_plan)
            parts.learn(look())
        other = prover.proof(stop=lambda: should_stop() or prover.bound() >= above_now())
    finally:
        prover.end()
    other = other or Proof(bound=parts.climb.bound, tries=0, schedule=None)
    plans = [plan for plan in (parts.plan, other.schedule) if plan is not None]
    plan = min(plans, key=lambda plan: sum(cost_of(problem, plan).values()), default=None)
    return Proof(bound=min(parts.bound, other.bound), tries=parts.tries + other.tries, schedule=plan)


def prove(
    task: Task, should_stop: Callable[[], bool], tell: Callable[[Proof], None] = lambda _: None
) -> Proof:
    """Look at the parts of a task until it is done or somebody asks to stop; `tell` what is found by then."""
    climb = Climb(rounded(task.problem), task.above)
    climb.go_on(1, lambda: False)
    climb.go_on(STEPS - 1, should_stop)
    parts = Branching(climb, task.seed)
    parts.take(task.parts, should_stop)
    while not parts.done and not should_stop():
        tell(found_by(parts, climb.tries))
        parts.go_on(TELL, should_stop)
    return found_by(parts, climb.tries)


class Prover(Child):
    """A process that proves a task."""

    def __init__(self, task: Task, seconds: float) -> None:
        super().__init__(["prove", "-", "--seconds", f"{seconds:.2f}"], task)

    def bound(self) -> int:
        """[minor units] what it has proven so far; -1 if it has told nothing."""
        told = json.loads(self._line) if self._line else {}
        return int(told.get("result", {}).get("bound", -1))

    def proof(self, *, stop: Callable[[], bool]) -> Proof | None:
        """What it has found once it is done or somebody asks to `stop`; None if it fails."""
        found = self.last(wait=True, stop=stop)
        return from_json(Proof, found["result"]) if found is not None else None
