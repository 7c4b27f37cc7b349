"""The figures this project holds itself to, measured: `make bench`.

A row a figure: what, measured, target, met or not. Exit 1 if one is not met. Take them on a quiet machine.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from scheduling.engine.bench import (  # noqa: E402
    FOLDER,
    RULES_OF_THUMB,
    avoidable,
    cases,
    job_shop_row,
    yard_row,
)
from scheduling.engine.closeness import closeness  # noqa: E402
from scheduling.engine.finish import cp_solve  # noqa: E402
from scheduling.engine.jsonio import from_json  # noqa: E402
from scheduling.engine.problem import Problem  # noqa: E402
from scheduling.engine.risk import winters  # noqa: E402
from scheduling.engine.schedule import RULES, Result, Rule, WitnessRefused  # noqa: E402
from scheduling.engine.solve import solve  # noqa: E402
from scheduling.engine.witness import check, cost  # noqa: E402
from tests.engine.bound_bench import alone_s, below_columns, pools_only, relaxed  # noqa: E402
from tests.engine.brute import bites, cheapest  # noqa: E402
from tests.engine.growth_bench import (  # noqa: E402
    first_plan_s,
    growth_rows,
    insertions_ms,
    peak_mb,
    plain_file,
)
from tests.engine.random_yards import tiny_problem  # noqa: E402
from tests.engine.repair_bench import posted_yard, quote_rows, repair_rows  # noqa: E402
from tests.engine.spread_yards import with_spreads  # noqa: E402
from tests.engine.test_random_yards import yard as random_yard  # noqa: E402
from tools.bench_site import drying_forecast, finish_tables, imported_demo, wall  # noqa: E402
from tools.rows import Row, line, row  # noqa: E402

BOATS12, BOATS40 = (FOLDER / "examples" / f"boats{boats}.json" for boats in (12, 40))
RANDOM, WORK = 500, 60  # random yards, and insertions for each
SMALL = 200  # problems for brute force
BITES = 20  # of them, for each rule
RELAXED_WORK = 25_000  # insertions for the demo yard with rules taken away


# --- The engine, in processes of its own ------------------------------------------------------------------
def solved(problem: Path, seconds: float, seed: int = 1) -> Result:
    """What the engine's own command makes of a problem in a fresh process."""
    command = [sys.executable, "-m", "scheduling.engine", "solve", str(problem)]
    done = subprocess.run(
        [*command, "--seconds", str(seconds), "--seed", str(seed)], cwd=ROOT, capture_output=True, check=True
    )
    return from_json(Result, json.loads(done.stdout))


def first_plan(what: str, problem: Path) -> Row:
    """[s] from a Problem in memory to the first complete plan, the middle one of three."""
    measured = statistics.median(solved(problem, 0).first_plan_s for _ in range(3))
    return row(f"first complete plan, {what}", round(measured, 3), 0.3, unit="s")


def avoidable_left(runs: int) -> Row:
    """What is left after 15 s of the first plan's cost above the sum of what each boat would cost alone."""
    told = from_json(Problem, json.loads(BOATS40.read_text("utf-8")))
    ratios = [avoidable(told, solved(BOATS40, 15, seed)) for seed in range(1, runs + 1)]
    what = f"40 boats after 15 s: avoidable cost to the first plan's ({runs} of 3 seeds)"
    return row(what, round(statistics.median(ratios), 3), 0.5)


def beside_others() -> Iterator[Row]:
    """40 boats, 15 s: the plan beside greedy orders and plain CP-SAT, cold, with the same time."""
    found = yard_row(BOATS40, 15, 2)
    peers, spare = found["peers"], found["cost"] - found["alone"]
    best = min(peers[name] for name in RULES_OF_THUMB if peers[name] is not None)
    share = spare / (best - found["alone"])
    yield row("40 boats, 15 s: avoidable cost to the best of five rules of thumb", round(share, 3), 1)
    cold = peers["CP-SAT cold"]
    if cold is None:
        yield row("40 boats, 15 s: plans by plain CP-SAT, cold (none: nothing to compare)", 0, 0)
    else:
        share = spare / (cold - found["alone"])
        yield row("40 boats, 15 s: avoidable cost to plain CP-SAT's, cold", round(share, 3), 0.333)


def scale(folder: Path, full: bool) -> Iterator[Row]:
    """Yards of 12 to 400 boats: insertions, first plan, memory; in full what more time would bring, too."""
    median_ms, worst_ms = insertions_ms(40)
    yield row("40 boats: a boat taken out is put back, median (CPU)", round(median_ms, 2), 0.8, unit="ms")
    yield row("40 boats: a boat taken out is put back, worst (CPU)", round(worst_ms, 2), 5, unit="ms")
    if not full:
        yield row("400 boats: first complete plan (CPU)", round(first_plan_s(400), 2), 2, unit="s")
        yield row(
            "400 boats, two workers: memory", round(peak_mb(plain_file(400, folder), 20)), 1536, unit="MiB"
        )
        return
    for one in growth_rows(folder):
        first, most = (2, 1536) if one.boats == 400 else (1, 600)
        yield row(f"{one.boats} boats: first complete plan (CPU)", round(one.first_s, 2), first, unit="s")
        yield row(f"{one.boats} boats: one insertion, median (CPU)", round(one.median_ms, 2), 2, unit="ms")
        yield row(f"{one.boats} boats, two workers: memory", round(one.mb), most, unit="MiB")


# --- Bounds -----------------------------------------------------------------------------------------------
def gap_pct(found: Result, digits: int) -> float:
    """[%] the most that another plan could save, of all money; 100 where nothing may be claimed."""
    close = closeness(found.total, found.bound, found.alone, len(found.schedule.unplaced))
    return round(close.gap_pct, digits) if close is not None else 100


def bounds(folder: Path, demo: Path, full: bool) -> Iterator[Row]:
    """How close plans are proven to be to the best, and the bound beside its reference."""
    for what, file, seeds, target in (("demo yard", demo, 3, 5), ("40 boats", BOATS40, 3 if full else 1, 8)):
        gap = statistics.median(gap_pct(solved(file, 60, seed), 2) for seed in range(1, seeds + 1))
        name = f"{what}, 60 s: the most that could be saved, of all money ({seeds} of 3 seeds)"
        yield row(name, gap, target, unit="%")
    for boats, seconds in ((120, 60), (400, 120)):
        totals = [
            found.total / (found.bound or 1)
            for seed in range(1, 4 if full and boats == 120 else 2)
            for found in [solved(plain_file(boats, folder), seconds, seed)]
        ]
        what = f"{boats} boats, {seconds} s: what the plan costs to its bound, so at most to any other plan"
        yield row(what, round(statistics.median(totals), 3), 1.1)
    boats12 = from_json(Problem, json.loads(BOATS12.read_text("utf-8")))
    for what, told, target in (("in pools, no air", pools_only(boats12), 0), ("lanes and air", boats12, 1)):
        small = solve(told, seconds=60, workers=2)
        name = f"12 boats, {what}, 60 s: the most that could be saved, of all money"
        yield row(name, gap_pct(small, 2), target, unit="%")
    boats40 = from_json(Problem, json.loads(BOATS40.read_text("utf-8")))
    below = round(below_columns(boats40, 6), 2)
    yield row("40 boats: bound after 6 s (CPU) below the linear programme of all ways", below, 0.5, unit="%")
    yield row("40 boats, each alone in the yard (CPU)", round(alone_s(boats40), 3), 0.1, unit="s")
    if full:
        told = from_json(Problem, json.loads(demo.read_text("utf-8")))
        totals = dict(relaxed(told, RELAXED_WORK))
        for name, total in totals.items():
            what = f"demo yard, {name}: what the plan costs to that of the yard as it is"
            yield row(what, round(total / totals["as it is"], 3), 1.01)


# --- Many small problems ----------------------------------------------------------------------------------
def refused(seed: int) -> bool:
    """Whether the witness refuses the plan of a random yard."""
    told = random_yard(seed)
    try:
        result = solve(told, work=WORK, workers=1)
    except WitnessRefused:
        return True
    return any(not breach.fact for breach in check(told, result.schedule))


def equal(seed: int) -> bool:
    """Whether the model finds what trying everything finds."""
    told = tiny_problem(seed)
    least, _ = cheapest(told)
    found = cp_solve(told, hint=None, free=None, seconds=60, workers=1, seed=1)
    if found.schedule is None or any(not breach.fact for breach in check(told, found.schedule)):
        return False
    return found.status == "proven" and sum(cost(told, found.schedule).values()) == found.total == least


def bitten(rule: Rule) -> int:
    """In how many of the small problems a rule bites, up to the number asked for."""
    count = 0
    for seed in range(SMALL):
        told = tiny_problem(seed)
        count += bites(told, rule, cheapest(told))
        if count == BITES:
            break
    return count


def many(full: bool) -> Iterator[Row]:
    """The rows of random and of small problems, a process a core."""
    with ProcessPoolExecutor() as pool:
        failed = sum(pool.map(refused, range(RANDOM), chunksize=10))
        yield row(f"schedules that fail the witness, {RANDOM} random small problems", failed, 0)
        same = sum(pool.map(equal, range(SMALL), chunksize=5))
        yield row(f"cost equal to brute force, {SMALL} problems", same, SMALL, least=True)
        if full:
            counts = dict(zip(RULES, pool.map(bitten, RULES), strict=True))
            rarest = min(RULES, key=lambda rule: counts[rule])
            what = f"of these, problems in which the rarest rule ({rarest}) bites"
            yield row(what, counts[rarest], BITES, least=True)


def job_shops(full: bool) -> Iterator[Row]:
    """Published job shops: whether all jobs fit into the proven makespan, and never into a slot less."""
    for suite in ("makespan", "blocking"):
        for name, file in cases(suite).items():
            if full or name == "ft06" or (name, suite) == ("la05", "blocking"):
                found = job_shop_row(file, 60, os.cpu_count() or 1, blocking=suite == "blocking")
                what = f"{name}, {suite}: all jobs within the published {found['published']} (1 = yes)"
                yield row(what, int(found["cost"] is not None), 1, least=True)
                what = f"{name}, {suite}: a slot less proven not to do (1 = yes)"
                yield row(what, int(found["proven"]), 1, least=True)


# --- After an event, and one more boat ---------------------------------------------------------------------
def repairs_and_quotes(full: bool) -> Iterator[Row]:
    """The yard of 40 boats with a plan posted: repaired after each of seven events; quotes of more boats."""
    told, posted = posted_yard()
    found = list(repair_rows(told, posted, numbers=range(3 if full else 1)))
    nothing, events = found[0], found[1:]
    yield row("repair of 40 boats after no event: boats moved", nothing.boats, 0)
    what = f"repair of 40 boats after {len(events)} events"
    yield row(f"{what}: slowest first plan", max(one.first_s for one in events), 0.2, unit="s")
    yield row(f"{what}: slowest best plan", max(one.seconds for one in events), 2, unit="s")
    yield row(f"{what}: boats that could have stayed alone", sum(one.could_stay for one in events), 0)
    for quoted in quote_rows(told, posted):
        what = f"quote of {quoted.boats} more on the plan of 40 boats"
        yield row(f"{what}, others stay (CPU)", quoted.still_ms, 10 * quoted.boats, unit="ms")
        if quoted.boats == 1:
            yield row(f"{what}, others move: first answer", quoted.first_s, 0.1, unit="s")
            yield row(f"{what}, others move: best", quoted.seconds, 1, unit="s")


# --- How sure ---------------------------------------------------------------------------------------------
def winters_row() -> Row:
    """[s] of work for a thousand winters of the 40 boats, the least of five."""
    told = with_spreads(from_json(Problem, json.loads(BOATS40.read_text("utf-8"))))
    plan, took = solve(told, work=0, workers=1).schedule, []
    for _ in range(5):
        began = time.process_time()
        winters(told, plan, runs=1000)
        took.append(time.process_time() - began)
    return row("a thousand winters of the plan of 40 boats (CPU)", round(min(took), 3), 0.5, unit="s")


# --- All ---------------------------------------------------------------------------------------------------
def rows(full: bool) -> Iterator[Row]:
    """Every figure in turn."""
    with tempfile.TemporaryDirectory() as folder:
        demo = imported_demo(Path(folder))
        yield first_plan("demo yard", demo)
        yield first_plan("40 boats", BOATS40)
        yield drying_forecast()
        yield avoidable_left(3 if full else 1)
        yield from beside_others()
        yield from scale(Path(folder), full)
        yield from bounds(Path(folder), demo, full)
        yield from repairs_and_quotes(full)
        yield winters_row()
        yield from many(full)
        yield from wall()
        yield finish_tables(Path(folder))
        yield from job_shops(full)


def main() -> int:
    """Measure and print. Returns 1 if a figure is not met."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true", help="a JSON object a row")
    parser.add_argument("--full", action="store_true", help="all seeds, rules and job shops")
    args = parser.parse_args()
    began, met = time.monotonic(), True
    for found in rows(args.full):
        print(json.dumps(found) if args.json else line(found), flush=True)
        met = met and found["met"]
    if not args.json:
        load = " ".join(f"{one:.1f}" for one in os.getloadavg())
        print(f"{time.monotonic() - began:.0f} s on {os.cpu_count()} cores; load at the end {load}")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
