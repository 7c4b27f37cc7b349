"""Published job shops: the proven makespan as horizon places every job, and a slot less does not (ft06).

With blocking a machine is a bay in which a job stands until the next takes it, and swaps are free.
"""

import pytest
from ortools.sat.python import cp_model

from scheduling.engine.bench import FOLDER, job_shop_problem, load_job_shop
from scheduling.engine.finish import build
from scheduling.engine.rules import RULES
from scheduling.engine.witness import check, cost

MAKESPANS = {
    "ft06": (55, 63),
    "la01": (666, 793),
    "la02": (655, 793),
    "la03": (597, 715),
    "la04": (590, 743),
    "la05": (593, 664),
}


def everybody(model):
    """Nobody may be left out: the question is whether there is such a plan at all."""
    for free in model.jobs:
        model.need(free.placed == 1)


def plan_within(name, horizon, *, blocking):
    """A plan of all jobs by the engine's own model, or None if it proves that there is none."""
    told = job_shop_problem(load_job_shop(FOLDER / "instances" / f"{name}.txt"), horizon, blocking=blocking)
    model = build(told, rules=[*RULES, everybody])
    model.cp.clear_objective()
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 8  # on two cores, too: they search in eight ways
    solver.parameters.max_time_in_seconds = 300
    status = solver.solve(model.cp)
    assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE), solver.status_name(status)
    return told, model.read(solver.value, None) if status == cp_model.OPTIMAL else None


def assert_every_job_is_placed(name, horizon, *, blocking):
    told, schedule = plan_within(name, horizon, blocking=blocking)
    assert set(schedule.jobs) == {job.id for job in told.jobs}
    assert max(times[-1].end for times in schedule.jobs.values()) <= horizon
    assert check(told, schedule) == []
    assert sum(cost(told, schedule).values()) == 0


@pytest.mark.parametrize("name", MAKESPANS)
def test_the_files_say_what_was_published(name):
    shop = load_job_shop(FOLDER / "instances" / f"{name}.txt")
    assert (shop.makespan, shop.blocking) == MAKESPANS[name]
    size = 6 if name == "ft06" else 10
    machines = 6 if name == "ft06" else 5
    assert len(shop.jobs) == size
    assert all(sorted(machine for machine, _ in job) == list(range(machines)) for job in shop.jobs)


def test_ft06_without_blocking_takes_55_and_not_54():
    assert_every_job_is_placed("ft06", 55, blocking=False)
    assert plan_within("ft06", 54, blocking=False)[1] is None


def test_ft06_with_blocking_takes_63_and_not_62():
    assert_every_job_is_placed("ft06", 63, blocking=True)
    assert plan_within("ft06", 62, blocking=True)[1] is None


@pytest.mark.slow
@pytest.mark.parametrize("name", ["la01", "la02", "la03", "la04", "la05"])
def test_the_blocking_job_shops_fit_into_their_proven_makespan(name, test_size):
    if test_size == "small" and name != "la05":
        pytest.skip("a minute each: with TEST_SIZE=full")
    assert_every_job_is_placed(name, MAKESPANS[name][1], blocking=True)
