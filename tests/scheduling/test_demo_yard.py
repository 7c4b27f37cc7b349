"""The demo yard is a hard winter that can be kept: what a manager's rule of thumb leaves late, the packer
does not."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import pytest

from scheduling.engine.compiled import compile_problem
from scheduling.engine.improve import first_plan
from scheduling.engine.insertion import State, insert
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import Result, Rule, Schedule, Unplaced
from scheduling.engine.slots import late_days
from scheduling.engine.solve import solve
from scheduling.loading import load
from tests.scheduling.test_loading import TODAY
from yard.models import Season

pytestmark = [pytest.mark.slow, pytest.mark.django_db]

TRIES = 4_000
NEVER = 10_000


@dataclass(frozen=True)
class Packed:
    """The demo yard's Problem and a plan of it."""

    problem: Problem
    result: Result

    def done(self, boat: str, kind: str, lift: Callable[[State], frozenset[Rule]]) -> tuple[int, int]:
        """The slot before which her first stage of a kind could be done, all others as planned: as it is,
        and with something lifted."""
        job = next(job for job in self.problem.jobs if job.label == boat)
        last = next(i for i, step in enumerate(job.steps) if step.kind == kind)
        short = replace(job, steps=job.steps[: last + 1])
        problem = replace(
            self.problem, jobs=tuple(short if each.id == job.id else each for each in self.problem.jobs)
        )
        placed = {name: times for name, times in self.result.schedule.jobs.items() if name != job.id}
        out = {**self.result.schedule.unplaced, job.id: Unplaced(rule="cost", says="taken out")}
        state = State.of(compile_problem(problem), Schedule(jobs=placed, unplaced=out))
        state.take_back(job.id)
        as_it_is = insert(state, job.id, hurry=True)
        lifted = insert(state, job.id, lifted=lift(state), hurry=True)
        assert lifted is not None
        return (as_it_is.times[-1].end if as_it_is else NEVER), lifted.times[-1].end

    def waits(self, kind: str, lift: Callable[[State], frozenset[Rule]]) -> list[str]:
        """The boats whose first stage of a kind would be done earlier with something lifted."""
        found = []
        for job in self.problem.jobs:
            if any(step.kind == kind for step in job.steps) and job.id in self.result.schedule.jobs:
                as_it_is, lifted = self.done(job.label, kind, lift)
                if lifted < as_it_is:
                    found.append(job.label)
        return found


def without(rule: Rule) -> Callable[[State], frozenset[Rule]]:
    return lambda state: frozenset((rule,))


def more_of(kind: str, what: str = "") -> Callable[[State], frozenset[Rule]]:
    def add(state: State) -> frozenset[Rule]:
        for row, (row_kind, row_what) in enumerate(state.compiled.rows):
            if row_kind == kind and (not what or str(row_what).startswith(what)):
                state.left[row] += NEVER
        return frozenset()

    return add


@pytest.fixture(scope="module")
def plans(_demo_imported: None, django_db_blocker: Any) -> list[Packed]:
    """The demo yard packed three times: what each boat waits for hangs on the plan."""
    with django_db_blocker.unblock():
        problem = load(Season.objects.get(), today=TODAY).problem
    return [Packed(problem, solve(problem, seconds=300, workers=1, seed=n, work=TRIES)) for n in (1, 2, 3)]


def mostly(plans: list[Packed], holds: Callable[[Packed], object]) -> bool:
    """Whether something is so in most of the plans."""
    return sum(bool(holds(packed)) for packed in plans) > len(plans) / 2


def late_boats(problem: Problem, schedule: Schedule) -> int:
    """Boats late or left out."""
    late = [
        job
        for job in problem.jobs
        if job.id not in schedule.jobs or late_days(problem.days, job.due, schedule.jobs[job.id][-1].end)
    ]
    return len(late)


def test_earliest_promise_first_leaves_many_late_and_the_packer_few_with_nobody_left_out(
    plans: list[Packed],
) -> None:
    by_promise = first_plan(compile_problem(plans[0].problem)).schedule()
    assert late_boats(plans[0].problem, by_promise) >= 8
    assert mostly(plans, lambda packed: late_boats(packed.problem, packed.result.schedule) <= 4)
    assert not any(packed.result.schedule.unplaced for packed in plans)


def test_boats_wait_for_a_lane_for_air_for_a_tide_for_a_tent_and_for_a_person(plans: list[Packed]) -> None:
    behind = "Millrace"  # Whinchat's tent and Turnstone are in front of her
    deep = {"Turnstone", "Avocet Two"}
    assert mostly(plans, lambda packed: behind in packed.waits("peel", without("lane")))
    assert mostly(plans, lambda packed: packed.waits("coat", without("air")))
    assert mostly(plans, lambda packed: deep & set(packed.waits("relaunch", without("windows"))))
    assert mostly(plans, lambda packed: packed.waits("dry", more_of("resource", "kit:tent")))
    assert mostly(plans, lambda packed: packed.waits("peel", more_of("skills")))
