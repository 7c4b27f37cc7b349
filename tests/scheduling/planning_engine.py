"""A child that speaks the engine's protocol and plans as simply as can be: only for tests.

It puts each boat into a bay of her own, in the order of the file, as early as her stages allow. What it does
then is its first argument: `good`, `patient` (waits to be stopped), `deaf` (hears no stop), `clash` (puts all
boats into one bay), `dies`, `vague` (its answer is no result). Its second argument is the engine's command;
a posted plan it mends as the engine does.
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


def help_with(stopped, *, waits):
    """Two helps, the second clear; one that waits finds only the first before it is stopped."""
    found = [
        {"kind": "hand", "what": "fair", "amount": 480, "start": 0, "until": 20, "day": "2026-11-24",
         "says": "one more hand to fair", "saves_low": low, "saves_high": low + 400, "clear": low > 0}
        for low in (0, 1200)
    ]  # fmt: skip
    for number, each in enumerate(found, 1):
        say(event="progress", done=number, of=2)
        say(event="help", help=each)
        while waits and not stopped:
            time.sleep(0.02)
        if stopped:
            break
    say(event="done", result={"helps": found[number - 1 :: -1]})


def main(act, task):
    problem = from_json(Problem, json.loads(sys.stdin.read()))
    stopped = []
    signal.signal(signal.SIGTERM, lambda *_: stopped.append(1))
    if task == "helps":
        help_with(stopped, waits=act == "patient")
        return
    if task == "repair":
        from scheduling.engine.repair import repair  # loads numpy, for which no other task need wait

        say(event="done", result=to_json(repair(problem, work=20)))
        return
    say(event="phase", phase="first plan", seconds=0.0)
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
    main(sys.argv[1], sys.argv[2])
