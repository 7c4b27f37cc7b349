"""A worker's way through one pack: claim it, run the engine, show how far it is, store what it found."""

import json
import logging
import os
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.db import InterfaceError, OperationalError, connection

from scheduling.actions.claims import (
    Claim,
    beat_pack,
    claim_pack,
    end_stopped,
    fail_pack,
    release_pack,
    store_helps,
    store_result,
)
from scheduling.actions.packs import BEAT, LEASE
from scheduling.models import PackKind
from scheduling.runner import ENGINE, Outcome, Task, run

TASKS: Mapping[PackKind, Task] = {
    PackKind.PACK: "solve",
    PackKind.REPAIR: "repair",
    PackKind.HELPS: "helps",
}
WORKERS = min(2, os.cpu_count() or 1)
CURVE = 60  # points kept of (seconds, total)
LOOK_S = 1.0  # [s] between looks at whether somebody said stop

logger = logging.getLogger(__name__)


def work_on(
    pack_id: int,
    *,
    worker: str,
    ending: Callable[[], bool] = lambda: False,
    command: Sequence[str] = ENGINE,
) -> bool:
    """Do one pack from claim to end; False if it was not to be had.

    `ending` says that the worker itself has to end: the pack then goes back into the queue.
    """
    claim = claim_pack(worker, pack_id)
    if claim is None:
        return False
    pulse = _Pulse(claim, ending)
    try:
        outcome = run(
            json.dumps(claim.problem),
            task=TASKS[claim.kind],
            seconds=claim.seconds,
            workers=WORKERS,
            seed=claim.seed,
            work=claim.work,
            on_line=pulse.hear,
            should_stop=pulse.should_stop,
            command=command,
        )
    except OSError as error:
        fail_pack(claim, f"The engine could not be started: {error.strerror}.")
        raise
    _finish(pulse, outcome)
    return True


def _finish(pulse: "_Pulse", outcome: Outcome) -> None:
    pulse.beat()  # the lease must outlast the last check
    claim = replace(pulse.claim, progress=pulse.shown())
    if pulse.released:
        release_pack(claim)
    elif outcome.result is not None:
        store = store_helps if claim.kind == PackKind.HELPS else store_result
        store(claim, outcome.result, stopped=outcome.ended == "stopped", why=outcome.why)
    elif outcome.ended == "stopped":
        end_stopped(claim, outcome.why)
    else:
        breaches = [str(breach.get("says", breach)) for breach in outcome.breaches]
        fail_pack(claim, outcome.why, breaches=breaches, refused=outcome.refused)


@dataclass(slots=True)
class _Pulse:
    """Hears the engine's lines, beats, and says when to stop."""

    claim: Claim
    ending: Callable[[], bool]
    progress: dict[str, Any] = field(default_factory=dict)
    changed: bool = True
    looked: float = 0.0
    beaten: float = field(default_factory=time.monotonic)
    released: bool = False
    over: bool = False

    def hear(self, line: Mapping[str, Any]) -> None:
        """Take what a line says about how far the engine has come."""
        match line["event"]:
            case "phase":
                self.progress["phase"] = str(line["phase"])[:40]
            case "plan":
                result, curve = line["result"], self.progress.setdefault("curve", [])
                curve.append([round(line["seconds"], 2), result["total"]])
                if len(curve) > CURVE:  # thin out the early ones, keep the first and the last
                    curve[1:-1] = curve[1:-1:2]
                self.progress.setdefault("first_plan_s", line["seconds"])
                self.progress |= {
                    "best_cost": result["total"],
                    "bound": result.get("bound"),
                    "cost": result["cost"],
                }
            case "help":
                self.progress.setdefault("helps", []).append(line["help"])
            case "progress":
                done, of = line["done"], line["of"]
                self.progress |= {"searches": [done, of], "phase": f"{done} of {of} searches"}
        self.changed = True

    def shown(self) -> dict[str, Any]:
        """What stays on the row once the pack has ended."""
        rest = {k: v for k, v in self.progress.items() if k not in ("phase", "best_cost", "bound")}
        return {**self.claim.progress, **rest}

    def should_stop(self) -> bool:
        """Beat when it is time; True once somebody said stop, the pack is lost or the worker has to end."""
        now = time.monotonic()
        if self.over or now - self.looked < LOOK_S:
            return self.over
        self.looked = now
        if self.ending():
            self.released = self.over = True
        elif self.changed or now - self.beaten >= BEAT.total_seconds():
            self.over = not self.beat()
        return self.over

    def beat(self) -> bool:
        """Renew the lease. While it lasts, a database that does not answer stops nothing."""
        try:
            going_on = beat_pack(self.claim, self.progress)
        except (OperationalError, InterfaceError) as error:
            logger.warning("pack %s could not beat: %s", self.claim.pack_id, error)
            connection.close()
            return time.monotonic() - self.beaten < LEASE.total_seconds()
        self.beaten, self.changed = time.monotonic(), False
        return going_on
