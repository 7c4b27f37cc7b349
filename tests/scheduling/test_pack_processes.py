"""Packs among real processes: claims that race, workers and engines that are killed, messages sent thrice."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from tests.served import Site, until
from tests.shell import ROOT

MODULE = ("-m", "tests.scheduling.play")
RACES = 8
KILLS = {"small": 2, "full": 5, "soak": 50}


@pytest.fixture
def winter_site(served: Site) -> Site:
    """A site with a small winter, posted as plan 1."""
    served.environment["SHEDTIDE_TODAY"] = "2026-11-24"
    played(served, "build")
    return served


def played(site: Site, *arguments: object, **environment: str) -> Any:
    """Let a process of its own do something, and return its answer."""
    done = subprocess.run(
        [sys.executable, *MODULE, *map(str, arguments)],
        cwd=ROOT,
        env={**site.environment, **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def start_worker(site: Site, act: str) -> subprocess.Popen[bytes]:
    """Start a worker whose engine acts so; it packs what waits in the queue."""
    return site.start("tests.scheduling.play", "worker", act)


def until_looks(site: Site, **wanted: object) -> dict[str, Any]:
    """Wait until the latest pack looks so."""
    seen: dict[str, Any] = {}

    def looks() -> bool:
        seen.update(played(site, "look"))
        return all(seen[name] == value for name, value in wanted.items())

    try:
        until(looks, f"{wanted}")
    except AssertionError as error:
        raise AssertionError(f"{error}; it looks {seen}\n{site.logs()}") from None
    return seen


def offspring(pid: int) -> list[int]:
    """The processes that descend from this one."""
    parents = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            text = path.read_text()
        except OSError:
            continue
        parents[int(text.split()[0])] = int(text.rpartition(")")[2].split()[1])
    found, new = [], [pid]
    while new:
        new = [child for child, parent in parents.items() if parent in new]
        found += new
    return found


def engine_of(worker: subprocess.Popen[bytes]) -> int | None:
    """The engine that a worker has started, once it is one."""
    for pid in offspring(worker.pid):
        try:
            if b"planning_engine.py" in Path(f"/proc/{pid}/cmdline").read_bytes():
                return pid
        except OSError:
            continue
    return None


def running_engine(worker: subprocess.Popen[bytes]) -> int:
    """Wait for the engine of a worker."""
    until(lambda: engine_of(worker) is not None, "the engine runs")
    return engine_of(worker) or 0


def dead(pid: int) -> bool:
    """Whether a process is gone, or only waits to be reaped."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] in "ZX"
    except OSError:
        return True


# --- Claims that race -------------------------------------------------------------------------------------
def race(site: Site, guard: str, packs: list[int]) -> Counter[int]:
    """Four processes go for each pack at the same moment; how many got each."""
    begin = time.time() + 4
    command = [sys.executable, *MODULE, "claim", guard, str(begin), *map(str, packs)]
    racers = [
        subprocess.Popen(command, cwd=ROOT, env=site.environment, stdout=subprocess.PIPE) for _ in range(4)
    ]
    answers = [racer.communicate()[0] for racer in racers]
    return Counter(pk for answer in answers for pk in json.loads(answer.splitlines()[-1]))


@pytest.mark.reliability(8)
def test_of_workers_that_claim_at_once_exactly_one_gets_the_pack(winter_site: Site) -> None:
    packs = played(winter_site, "queue", 2 * RACES)
    careless = race(winter_site, "off", packs[:RACES])
    assert max(careless.values()) > 1, "the race did not happen, so nothing is shown by the next line"
    careful = race(winter_site, "on", packs[RACES:])
    assert careful == Counter(dict.fromkeys(packs[RACES:], 1))


# --- Messages ---------------------------------------------------------------------------------------------
@pytest.mark.reliability(8)
def test_a_message_sent_three_times_to_two_workers_makes_one_plan(winter_site: Site) -> None:
    played(winter_site, "ask")
    assert played(winter_site, "send", 2) == [True, True]
    for _ in range(2):
        start_worker(winter_site, "good")
    seen = until_looks(winter_site, state="done")
    played(winter_site, "send", 3)
    time.sleep(1)
    assert played(winter_site, "look") == seen
    assert (seen["plans"], seen["tries"], seen["draft"]) == (2, 1, 2)


@pytest.mark.reliability(14)
def test_with_the_broker_down_a_pack_waits_in_the_queue_and_starts_when_the_packer_is_back(
    winter_site: Site,
) -> None:
    nobody = {"REDIS_URL": "redis://127.0.0.1:9/0"}
    played(winter_site, "ask", **nobody)
    assert played(winter_site, "look", **nobody)["says"] == "Queued; it starts when the packer is back."
    start_worker(winter_site, "good")
    assert until_looks(winter_site, state="done")["tries"] == 1


# --- Stops and kills --------------------------------------------------------------------------------------
def test_stop_reaches_the_worker_and_keeps_the_best_found(winter_site: Site) -> None:
    played(winter_site, "ask")
    start_worker(winter_site, "patient")
    until_looks(winter_site, state="working", phase="first plan")
    assert played(winter_site, "stop") == "working"
    seen = until_looks(winter_site, state="stopped")
    assert seen["plan"] == seen["draft"] == 2 and seen["posted"][0] == 1


def test_a_worker_that_is_told_to_end_gives_its_pack_back_and_ends_well(winter_site: Site) -> None:
    played(winter_site, "ask")
    worker = start_worker(winter_site, "deaf")
    until_looks(winter_site, state="working", phase="first plan")
    engine = engine_of(worker)
    worker.send_signal(signal.SIGTERM)
    assert worker.wait(timeout=60) == 0, winter_site.logs()
    assert engine is not None and dead(engine)
    seen = played(winter_site, "look")
    assert (seen["state"], seen["tries"]) == ("queued", 0)
    start_worker(winter_site, "good")
    until_looks(winter_site, state="done")


@pytest.mark.reliability(7)
def test_an_engine_killed_at_any_moment_ends_its_pack_with_a_reason_and_the_posted_plan_stays(
    winter_site: Site, test_size: str
) -> None:
    posted = played(winter_site, "look")["posted"]
    worker = start_worker(winter_site, "deaf")
    for number in range(KILLS[test_size]):
        played(winter_site, "ask")
        engine = running_engine(worker)
        time.sleep(random.Random(number).uniform(0, 1))
        os.kill(engine, signal.SIGKILL)
        until(lambda: played(winter_site, "look")["state"] not in ("queued", "working"), "the pack ends")
        seen = played(winter_site, "look")
        assert seen["state"] in ("stopped", "failed") and "killed from outside" in seen["reason"]
        assert (seen["plan"] is not None) == (seen["state"] == "stopped")
        assert (seen["posted"], seen["placements"]) == (posted, 6)


@pytest.mark.reliability(7)
def test_a_worker_killed_at_any_moment_costs_a_try_and_the_pack_is_done_by_another(
    winter_site: Site, test_size: str
) -> None:
    posted = played(winter_site, "look")["posted"]
    for number in range(KILLS[test_size]):
        played(winter_site, "ask")
        worker = start_worker(winter_site, "deaf")
        engine = running_engine(worker)
        time.sleep(random.Random(number).uniform(0, 1))
        worker.kill()
        worker.wait()
        until(partial(dead, engine), "the engine dies with its worker")
        seen = played(winter_site, "look")
        assert (seen["state"], seen["posted"]) == ("working", posted)
        played(winter_site, "reap", 31)
        assert played(winter_site, "look")["state"] == "queued"
        other = start_worker(winter_site, "good")
        seen = until_looks(winter_site, state="done", tries=2)
        assert (seen["posted"], seen["placements"]) == (posted, 6)
        other.kill()
        other.wait()
