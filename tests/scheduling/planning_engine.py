"""A child that speaks the engine's protocol and plans as simply as can be: only for tests.

It puts each boat into a bay of her own, in the order of the file, as early as her stages allow. What it does
then is its first argument: `good`, `patient` (waits to be stopped), `deaf` (hears no stop), `clash` (puts all
boats into one bay), `dies`, `vague` (its answer is no result).
"""

import json
import os
import signal
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import Result, Schedule, StepTime
from scheduling.engine.witness import cost


def say(**line):
    print(json.dumps(line), flush=True)


def result_of(problem, *, clash=False, later=0, status="found"):
    tables = {table.id: table.finish for table in problem.tables}
    bays = [(place.id, unit) for place in problem.places for unit in place.units or (None,)]
    jobs = {}
    for number, job in enumerate(problem.jobs):
        place, unit = bays[0 if clash else number]
        start, times = job.earliest + later, []
        for step in job.steps:
            end = tables[step.options[0].table][start]
            times.append([step.id, start, end])
            start = end
        ends = [start for _, start, _ in times[1:]] + [start]
        jobs[job.id] = tuple(
            StepTime(step=name, place=place, unit=unit, option=0, start=at, end=end, leaves=leaves)
            for (name, at, end), leaves in zip(times, ends, strict=True)
        )
    schedule = Schedule(jobs=jobs)
    by_kind = cost(problem, schedule)
    total = sum(by_kind.values())
    return Result(status=status, schedule=schedule, cost=by_kind, total=total, bound=0)


def show(result, seconds):
    say(event="plan", seconds=seconds, result=to_json(result))


def main(act):
    problem = from_json(Problem, json.loads(sys.stdin.read()))
    say(event="phase", phase="first plan", seconds=0.0)
    stopped = []
    signal.signal(signal.SIGTERM, lambda *_: stopped.append(1))
    if act == "dies":
        os.kill(os.getpid(), signal.SIGKILL)
    if act == "vague":
        say(event="done", result={"format": 1, "status": "found", "total": "a lot"})
        return
    show(result_of(problem, later=1), 0.1)
    best = result_of(problem, clash=act == "clash")
    show(best, 0.2)
    while act == "deaf" or (act == "patient" and not stopped):
        time.sleep(0.02)
    say(event="done", result=to_json(best) | ({"status": "stopped"} if stopped else {}))


if __name__ == "__main__":
    main(sys.argv[1])
