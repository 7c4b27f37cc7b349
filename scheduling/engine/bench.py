"""What the engine reaches, case by case, beside what else is known or could be done: `bench --suite`.

A row a case: suite, case, seconds, cost, bound, published, proven, peers (name: cost, None = no plan), and
what belongs to that suite alone. Costs are the witness's [minor units]; of a job shop they are its makespan.
"""

import gzip
import json
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any, Literal, get_args

from scheduling.engine import witness
from scheduling.engine.benchposted import BOATS, EVENTS, quote_case, repair_case, risk_case
from scheduling.engine.builds import first_plan
from scheduling.engine.compiled import compile_problem
from scheduling.engine.improve import Search, start_search
from scheduling.engine.jsonio import BadInput, from_json
from scheduling.engine.problem import Problem
from scheduling.engine.published import (
    Answer,
    JobShop,
    fits,
    job_shop_problem,
    load_job_shop,
    makespan_of,
    plan_of,
)
from scheduling.engine.schedule import Result, Schedule
from scheduling.engine.shoppairs import settle
from scheduling.engine.slots import slot_on_or_after
from scheduling.engine.solve import solve

FOLDER = Path(__file__).parents[2] / "tests" / "engine"
BY_MAKESPAN = ("ft06", "la01", "la02", "la03", "la04", "la05")
PEER_WORKERS = 2

Row = dict[str, Any]
Suite = Literal["yards", "blocking", "makespan", "repair", "risk", "quote"]
SUITES: tuple[Suite, ...] = get_args(Suite)
SECONDS: dict[Suite, float] = {
    "yards": 15,
    "blocking": 60,
    "makespan": 60,
    "repair": 2,
    "risk": 0,
    "quote": 1,
}
"""[s] for each case, unless the command says otherwise; winters are counted, not timed."""
POSTED_YARDS = ("boats12", "boats40")
WINTERS = 1000


def bench(suite: Suite, case: str | None, seconds: float | None, workers: int) -> Iterator[Row]:
    """A row for each case of the suite, or for `case` alone, as it is done.

    A case of `yards` may also be a file with a Problem. Raises BadInput if there is no such case.
    """
    files = cases(suite)
    if case is not None:
        if suite == "yards" and case not in files and Path(case).is_file():
            files = {case: Path(case)}
        if case not in files:
            raise BadInput(f"{case}: no case of {suite}; there are {', '.join(files) or 'none'}")
        files = {case: files[case]}
    given = SECONDS[suite] if seconds is None else seconds
    for name, path in files.items():
        if suite == "yards":
            yield yard_row(path, given, workers)
        elif suite == "blocking" or suite == "makespan":
            yield job_shop_row(path, given, workers, blocking=suite == "blocking")
        else:
            yield posted_row(suite, name, path, given)


def cases(suite: Suite) -> dict[str, Path]:
    """The files of a suite by the name of the case. Raises BadInput if they are not there."""
    where = FOLDER / ("instances" if suite in ("blocking", "makespan") else "examples")
    files = {path.name.partition(".")[0]: path for path in sorted(where.glob("*.*"))}
    if not files:
        raise BadInput(f"{where}: has no problems to solve")
    files = {name: files[name] for name in sorted(files, key=lambda name: (len(name), name))}
    if suite == "makespan":
        return {name: files[name] for name in BY_MAKESPAN}
    if suite == "repair" or suite == "quote":
        kinds = EVENTS if suite == "repair" else BOATS
        return {f"{name}: {kind}": files[name] for name in POSTED_YARDS for kind in kinds}
    return files


def posted_row(suite: Literal["repair", "risk", "quote"], case: str, path: Path, seconds: float) -> Row:
    """A case of what starts from a posted plan."""
    problem, (_, _, kind) = load_yard(path), case.partition(": ")
    began = time.monotonic()
    if suite == "repair":
        found = repair_case(problem, kind, seconds)
    elif suite == "risk":
        found = risk_case(problem, WINTERS)
    else:
        found = quote_case(problem, BOATS[kind], seconds)
    return row(suite, case, began, **found)


def row(suite: str, case: str, began: float, **values: Any) -> Row:
    """What every row has, with `values` in their places."""
    usual: Row = {"cost": None, "bound": None, "published": None, "proven": False, "peers": {}}
    return {"suite": suite, "case": case, "seconds": round(time.monotonic() - began, 1), **usual, **values}


# --- Yards ------------------------------------------------------------------------------------------------
def load_yard(path: Path) -> Problem:
    """A Problem from its file, packed or not."""
    raw = path.read_bytes()
    return from_json(Problem, json.loads(gzip.decompress(raw) if path.suffix == ".gz" else raw))


def yard_row(path: Path, seconds: float, workers: int) -> Row:
    """Money [minor units] of the best plan, its bound, and what others make of the same yard in that time."""
    problem = load_yard(path)
    began = time.monotonic()
    result = solve(problem, seconds=seconds, workers=workers)
    made = row(
        "yards",
        path.name.partition(".")[0],
        began,
        cost=result.total,
        bound=result.bound,
        proven=result.status == "proven",
    )
    search = start_search(compile_problem(problem))
    made["peers"] = {
        "CP-SAT cold": cold(problem, seconds),
        **{name: by_rule(search, key) for name, key in RULES_OF_THUMB.items()},
    }
    return made | {
        "alone": search.bound,
        "first_plan_s": round(result.first_plan_s, 3),
        "first_total": result.first_total,
        "boats": len(problem.jobs),
        "placed": len(result.schedule.jobs),
        "late_boats": result.late_jobs,
        "late_days": result.late_days,
        "bound_by": result.bound_by,
        "tries": result.tries,
    }


def avoidable(problem: Problem, result: Result) -> float:
    """The plan's avoidable cost as a share of the first plan's: what is above each boat alone in the yard."""
    alone = start_search(compile_problem(problem)).bound
    return (result.total - alone) / max(result.first_total - alone, 1)


def paid(problem: Problem, schedule: Schedule) -> int | None:
    """What the witness counts for a schedule; None if it refuses it."""
    if any(not breach.fact for breach in witness.check(problem, schedule)):
        return None
    return sum(witness.cost(problem, schedule).values())


def cold(problem: Problem, seconds: float) -> int | None:
    """What CP-SAT finds in the whole yard without a plan to start from; None if nothing."""
    from scheduling.engine.finish import cp_solve  # noqa: PLC0415 ortools takes a second to load

    found = cp_solve(problem, hint=None, free=None, seconds=seconds, workers=PEER_WORKERS, seed=1)
    return paid(problem, found.schedule) if found.schedule is not None else None


def by_rule(search: Search, key: Callable[[Search, str], float]) -> int | None:
    """What the plan costs in which each boat in turn, the least `key` first, has the cheapest way left."""
    order = sorted(search.compiled.jobs, key=lambda name: (key(search, name), name))
    return paid(search.compiled.problem, first_plan(search.compiled, order).schedule())


def _promise(search: Search, name: str) -> float:
    return search.compiled.jobs[name].due.toordinal()


def _work(search: Search, name: str) -> float:
    """[slots] that her steps take when she is alone in the yard."""
    fit = search.alone[name]
    return float(sum(time.end - max(time.start, 0) for time in fit.times)) if fit is not None else 0.0


def _slack(search: Search, name: str) -> float:
    """[slots] between her end alone and her due day."""
    fit, job = search.alone[name], search.compiled.jobs[name]
    days = search.compiled.problem.days
    return slot_on_or_after(days, job.due) - (fit.times[-1].end if fit is not None else len(days))


RULES_OF_THUMB: dict[str, Callable[[Search, str], float]] = {
    "earliest promise": _promise,
    "longest work first": lambda search, name: -_work(search, name),
    "arrival": lambda search, name: search.compiled.jobs[name].earliest,
    "biggest boat first": lambda search, name: -max(search.compiled.jobs[name].size.values(), default=0),
    "least slack": _slack,
}
"""In which order a manager might take the boats."""


# --- Published job shops ----------------------------------------------------------------------------------
def job_shop_row(path: Path, seconds: float, workers: int, *, blocking: bool) -> Row:
    """Whether all jobs fit into the published makespan, and whether it is proven that a slot less won't do.

    With blocking the choices by pairs are asked first; then the engine's own model what is still open,
    each question for at most `seconds`. The cost is the shortest makespan found that the witness lets pass;
    what is left open is named.
    """
    shop = load_job_shop(path)
    published = shop.blocking if blocking else shop.makespan
    began, found = time.monotonic(), dict[str, int | None]()
    answers: dict[int, Answer] = dict.fromkeys((published, published - 1), "open")
    ways: dict[str, Callable[[JobShop, list[int], float, int], Told]] = (
        {"pairs": by_pairs} if blocking else {}
    )
    ways["model"] = partial(by_model, blocking=blocking)
    for name, ask in ways.items():
        left = [length for length, answer in answers.items() if answer == "open"]
        asked = ask(shop, left, seconds, workers) if left else []
        for length, (answer, plan) in zip(left, asked, strict=True):
            makespan = passed(shop, plan, blocking=blocking) if plan is not None else None
            found[name] = makespan or found.get(name)
            answers[length] = "open" if plan is not None and makespan is None else answer
    cost = min((length for length in found.values() if length is not None), default=None)
    proven = answers[published - 1] == "does not fit"
    open_ = [published] if cost is None or cost > published else []
    return row(
        "blocking" if blocking else "makespan",
        shop.name,
        began,
        cost=cost,
        bound=published if proven else None,
        published=published,
        proven=proven,
        peers=found,
    ) | {"open": open_ + ([published - 1] if answers[published - 1] == "open" else [])}


Told = list[tuple[Answer, Schedule | None]]
"""For each makespan asked about, whether all jobs fit into it, and the plan."""


def by_pairs(shop: JobShop, lengths: list[int], seconds: float, workers: int) -> Told:
    """The choices by pairs, a process for each makespan, as many at a time as there are workers."""
    with ProcessPoolExecutor(min(workers, len(lengths))) as pool:
        settled = list(pool.map(partial(settle, shop, seconds=seconds), lengths))
    return [(answer, plan_of(shop, starts) if starts else None) for answer, starts in settled]


def by_model(shop: JobShop, lengths: list[int], seconds: float, workers: int, *, blocking: bool) -> Told:
    """The engine's own model, one makespan after the other."""
    return [fits(job_shop_problem(shop, length, blocking=blocking), seconds, workers) for length in lengths]


def passed(shop: JobShop, schedule: Schedule, *, blocking: bool) -> int | None:
    """The makespan of a plan of all jobs; None if the witness refuses it or a job is missing."""
    makespan = makespan_of(schedule)
    told = job_shop_problem(shop, makespan, blocking=blocking)
    if len(schedule.jobs) < len(shop.jobs) or paid(told, schedule) != 0:
        return None
    return makespan
