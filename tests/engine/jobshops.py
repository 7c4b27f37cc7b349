"""Published job shops as Problems: can every job be placed within a horizon? Sources stand in the files."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from scheduling.engine.problem import Job, Option, Place, Problem, Resource, Step, Table

FOLDER = Path(__file__).parent / "instances"
DROP = 1000  # [minor units] of each job left out; nothing else costs anything


@dataclass(frozen=True)
class JobShop:
    """Jobs as (machine, duration) in turn, and the proven makespans."""

    name: str
    jobs: tuple[tuple[tuple[int, int], ...], ...]
    makespan: int
    blocking: int


def load(name: str) -> JobShop:
    lines = [line.split() for line in (FOLDER / f"{name}.txt").read_text("utf-8").splitlines()]
    values = {words[0]: int(words[1]) for words in lines if words[0] in ("makespan", "blocking")}
    rows = [list(map(int, words)) for words in lines if words[0].isdigit()]
    jobs = tuple(tuple(zip(row[::2], row[1::2], strict=True)) for row in rows)
    return JobShop(name=name, jobs=jobs, **values)


def as_problem(shop: JobShop, horizon: int, *, blocking: bool) -> Problem:
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
