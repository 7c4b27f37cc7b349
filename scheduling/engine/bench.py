"""What the engine reaches: its own example yards, and published job shops with their proven makespans."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any, Literal

from scheduling.engine.compiled import compile_problem
from scheduling.engine.improve import start_search
from scheduling.engine.jsonio import BadInput, from_json
from scheduling.engine.problem import Job, Option, Place, Problem, Resource, Step, Table
from scheduling.engine.schedule import Result
from scheduling.engine.solve import solve

FOLDER = Path(__file__).parents[2] / "tests" / "engine"
DROP = 1000  # [minor units] of each job of a job shop left out; nothing else costs anything there

Row = dict[str, Any]


Suite = Literal["yards", "blocking", "makespan"]


def bench(suite: Suite, seconds: float, workers: int) -> Iterator[Row]:
    """A row for each problem of the suite, as it is solved. Raises BadInput if the files are not there."""
    where = FOLDER / ("examples" if suite == "yards" else "instances")
    files = sorted(where.glob("*.*"), key=lambda path: (len(path.name), path.name))
    if not files:
        raise BadInput(f"{where}: has no problems to solve")
    for path in files:
        if suite == "yards":
            yield yard_row(path, seconds, workers)
        else:
            yield job_shop_row(path, seconds, workers, blocking=suite == "blocking")


def yard_row(path: Path, seconds: float, workers: int) -> Row:
    """Money [minor units] of the first plan and of the best, and how much of what is avoidable is left."""
    problem = from_json(Problem, json.loads(path.read_text("utf-8")))
    result = solve(problem, seconds=seconds, workers=workers)
    return {
        "problem": path.stem,
        "boats": len(problem.jobs),
        "placed": len(result.schedule.jobs),
        "late_boats": result.late_jobs,
        "late_days": result.late_days,
        "first_plan_s": round(result.first_plan_s, 3),
        "first_total": result.first_total,
        "total": result.total,
        "bound": result.bound,
        "avoidable": round(avoidable(problem, result), 3),
        "tries": result.tries,
        "seconds": round(result.seconds, 1),
        "status": result.status,
    }


def avoidable(problem: Problem, result: Result) -> float:
    """The plan's avoidable cost as a share of the first plan's: what is above each boat alone in the yard."""
    alone = start_search(compile_problem(problem)).bound
    return (result.total - alone) / max(result.first_total - alone, 1)


def job_shop_row(path: Path, seconds: float, workers: int, *, blocking: bool) -> Row:
    """How many jobs are placed within the proven makespan, with blocking or without."""
    shop = load_job_shop(path)
    horizon = shop.blocking if blocking else shop.makespan
    result = solve(job_shop_problem(shop, horizon, blocking=blocking), seconds=seconds, workers=workers)
    return {
        "problem": shop.name,
        "horizon": horizon,
        "jobs": len(shop.jobs),
        "placed": len(result.schedule.jobs),
        "seconds": round(result.seconds, 1),
        "status": result.status,
    }


# --- Published job shops ----------------------------------------------------------------------------------
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
