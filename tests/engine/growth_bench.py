"""Figures of how the packer's time and memory grow with the yard, from 12 boats to 400."""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from scheduling.engine.bench import FOLDER, load_yard
from scheduling.engine.builds import first_plan
from scheduling.engine.compiled import compile_problem
from scheduling.engine.insertion import insert
from scheduling.engine.jsonio import to_json

BOATS = (12, 40, 120, 400)
AGAIN = 5  # times that what takes milliseconds is done; the least counts
LOOK_S = 0.2  # [s] between looks at the memory of a run


@dataclass(frozen=True, kw_only=True)
class Growth:
    """What a yard of so many boats asks."""

    boats: int
    first_s: float  # [s CPU] from a Problem in memory to its first complete plan
    median_ms: float  # [ms CPU] to put one boat back into it
    worst_ms: float
    mb: float  # [MiB] at most, of a search with two workers: both processes, each at its own peak


def yard_file(boats: int) -> Path:
    """The example yard with so many boats."""
    return next(FOLDER.glob(f"examples/boats{boats}.json*"))


def plain_file(boats: int, folder: Path) -> Path:
    """The same as JSON that is not packed."""
    path = folder / f"boats{boats}.json"
    path.write_text(json.dumps(to_json(load_yard(yard_file(boats)))), "utf-8")
    return path


def growth_rows(folder: Path, seconds: float = 20.0) -> Iterator[Growth]:
    """A row for each example yard; its memory is that of a search of so many seconds."""
    for boats in BOATS:
        first_s = first_plan_s(boats)
        median_ms, worst_ms = insertions_ms(boats)
        mb = peak_mb(plain_file(boats, folder), seconds)
        yield Growth(boats=boats, first_s=first_s, median_ms=median_ms, worst_ms=worst_ms, mb=mb)


def first_plan_s(boats: int) -> float:
    """[s CPU] to the first plan, the least of three."""
    told, took = load_yard(yard_file(boats)), []
    for _ in range(3):
        began = time.process_time()
        first_plan(compile_problem(told))
        took.append(time.process_time() - began)
    return min(took)


def insertions_ms(boats: int) -> tuple[float, float]:
    """[ms CPU] the middle and the longest of: each boat of the first plan taken out and put back once."""
    state = first_plan(compile_problem(load_yard(yard_file(boats))))
    took: dict[str, float] = {}
    for _ in range(AGAIN):
        for name in list(state.times):
            times = state.take(name)
            began = time.process_time()
            insert(state, name)
            spent = time.process_time() - began
            state.put(name, times)
            took[name] = min(took.get(name, spent), spent)
    return 1000 * statistics.median(took.values()), 1000 * max(took.values())


def peak_mb(file: Path, seconds: float) -> float:
    """[MiB] of a solve with two workers: the peaks of both processes together."""
    command = [sys.executable, "-m", "scheduling.engine", "solve", str(file), "--workers", "2"]
    run = subprocess.Popen([*command, "--seconds", str(seconds)], stdout=subprocess.DEVNULL)
    peaks: dict[int, int] = {}
    while run.poll() is None:
        for pid in (run.pid, *_children(run.pid)):
            peaks[pid] = max(peaks.get(pid, 0), _peak_kb(pid))
        time.sleep(LOOK_S)
    return sum(peaks.values()) / 1024


def _children(pid: int) -> list[int]:
    path = Path(f"/proc/{pid}/task/{pid}/children")
    try:
        return [int(child) for child in path.read_text().split()]
    except OSError:
        return []


def _peak_kb(pid: int) -> int:
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:
        return 0
    return next((int(line.split()[1]) for line in lines if line.startswith("VmHWM")), 0)
