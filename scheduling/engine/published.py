"""Job shops from the literature with their proven makespans, and what the engine's own model makes of them.

With blocking a machine is a bay in which a job stands until the next takes it, and swaps are free.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Literal

from scheduling.engine.problem import Job, Option, Place, Problem, Resource, Step, Table
from scheduling.engine.schedule import Schedule, StepTime

DROP = 1000  # [minor units] of each job of a job shop left out; nothing else costs anything there
Answer = Literal["fits", "does not fit", "open"]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobShop:
    """Jobs as (machine, duration) in turn, and the proven makespans without and with blocking."""

    name: str
    jobs: tuple[tuple[tuple[int, int], ...], ...]
    makespan: int
    blocking: int


def load_job_shop(path: Path) -> JobShop:
    """Read a job shop; its source stands in the file."""
    lines = [line.split() for line in path.read_text("utf-8").splitlines()]
    values = {words[0]: int(words[1]) for words in lines if words[0] in ("makespan", "blocking")}
    rows = [list(map(int, words)) for words in lines if words[0].isdigit()]
    jobs = tuple(tuple(zip(row[::2], row[1::2], strict=True)) for row in rows)
    return JobShop(name=path.stem, jobs=jobs, **values)


def job_shop_problem(shop: JobShop, horizon: int, *, blocking: bool) -> Problem:
    """A slot a unit of time; with `blocking` a machine is a bay, else a resource, the yard one pool."""
    machines = sorted({machine for job in shop.jobs for machine, _ in job})
    lengths = sorted({length for job in shop.jobs for _, length in job})
    days = tuple(date(2000, 1, 1) + timedelta(days=s) for s in range(horizon))
    tables = tuple(
        Table(id=str(n), finish=tuple(s + n if s + n <= horizon else None for s in range(horizon)))
        for n in lengths
    )

    def option(machine: int, length: int) -> Option:
        if blocking:
            return Option(places=(f"m{machine}",), table=str(length))
        return Option(places=("yard",), table=str(length), uses={f"m{machine}": 1})

    jobs = tuple(
        Job(
            id=f"j{i}",
            due=days[-1],
            late_price=0,
            drop_price=DROP,
            steps=tuple(Step(id=f"s{n}", options=(option(*work),)) for n, work in enumerate(job)),
        )
        for i, job in enumerate(shop.jobs)
    )
    bays = tuple(Place(id=f"m{m}") for m in machines)
    yard = (Place(id="yard", room=len(jobs)),)
    ones = tuple(Resource(id=f"m{m}", capacity=(1,) * horizon) for m in machines)
    return Problem(
        name=f"{shop.name} in {horizon}",
        days=days,
        places=bays if blocking else yard,
        resources=() if blocking else ones,
        tables=tables,
        jobs=jobs,
        swaps="free",
    )


def plan_of(shop: JobShop, starts: Sequence[Sequence[int]]) -> Schedule:
    """The schedule, with blocking, in which each operation starts so."""
    jobs = {}
    for j, (job, begins) in enumerate(zip(shop.jobs, starts, strict=True)):
        leaves = [*begins[1:], begins[-1] + job[-1][1]]
        jobs[f"j{j}"] = tuple(
            StepTime(step=f"s{n}", place=f"m{m}", option=0, start=start, end=start + length, leaves=gone)
            for n, ((m, length), start, gone) in enumerate(zip(job, begins, leaves, strict=True))
        )
    return Schedule(jobs=jobs)


def makespan_of(schedule: Schedule) -> int:
    """When the last job is done."""
    return max(times[-1].end for times in schedule.jobs.values())


def fits(problem: Problem, seconds: float, workers: int) -> tuple[Answer, Schedule | None]:
    """Whether the engine's model has a plan of all jobs of a job shop, and the plan."""
    from ortools.sat.python import cp_model  # noqa: PLC0415 it takes a second to load

    from scheduling.engine.finish import build  # noqa: PLC0415 the same
    from scheduling.engine.rules import RULES  # noqa: PLC0415 the same
    from scheduling.engine.rules.frame import Model  # noqa: PLC0415 the same

    def everybody(model: Model) -> None:
        """Nobody may be left out: the question is whether there is such a plan at all."""
        for free in model.jobs:
            model.need(free.placed == 1)

    model = build(problem, rules=[*RULES, everybody])
    model.cp.clear_objective()  # type: ignore[no-untyped-call]
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model.cp)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return "fits", model.read(solver.value, None)
    return ("does not fit" if status == cp_model.INFEASIBLE else "open"), None
