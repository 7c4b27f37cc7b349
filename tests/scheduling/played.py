"""What processes of their own do to a small winter; `python -m tests.scheduling.play` calls these by name."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Any

from django.utils import timezone

from scheduling import tasks
from scheduling.actions.claims import claim_pack
from scheduling.actions.packing import work_on
from scheduling.actions.packs import ask_pack, reap_packs, says, stop_pack, wake
from scheduling.actions.plans import post_plan
from scheduling.models import Beat, Board, Pack, Plan
from tests.cast import Cast
from tests.scheduling.winter import engine, small_winter
from yard.celery import app
from yard.models import Season, User
from yard.roles import Actor, actor_for


def manager() -> Actor:
    """The manager of the small winter."""
    who = actor_for(User.objects.get(username="manager"), "quiet-creek")
    assert who is not None
    return who


def season() -> Season:
    return Season.objects.get(yard__slug="quiet-creek")


def build() -> None:
    """Make the small winter and post a plan of it."""
    small_winter(Cast())
    work_on(ask(), worker="build", command=engine("good"))
    board = Board.objects.get()
    post_plan(manager(), board=board, version=board.version, plan=board.draft)
    Beat.objects.all().delete()  # that was no worker


def ask() -> int:
    return ask_pack(manager(), season=season(), seconds=60).pk


def stop() -> str:
    return str(stop_pack(manager(), pack=Pack.objects.latest("pk")).state)


def send(times: str) -> list[bool]:
    """Wake the workers for the latest pack, so many times."""
    return [wake(Pack.objects.latest("pk").pk) for _ in range(int(times))]


def reap(seconds: str) -> int:
    """Reap as if so many seconds had gone by."""
    return reap_packs(timezone.now() + timedelta(seconds=int(seconds)))


def queue(count: str) -> list[int]:
    """Packs in the queue, each for a season of its own; they are only claimed, never worked on."""
    yard = season().yard
    made = []
    for number in range(int(count)):
        own = Season.objects.create(
            yard=yard, name=f"race {number}", first_day="2026-10-01", last_day="2027-05-31"
        )
        pack = Pack.objects.create(yard=yard, season=own, asked_at=timezone.now(), seconds=1)
        made.append(pack.pk)
    return made


def claim(guard: str, begin: str, *packs: str) -> list[int]:
    """Try to take each pack at its own moment, the same for all that race; the packs this process got."""
    take: Callable[[int], Any] = (lambda pk: claim_pack("racer", pk)) if guard == "on" else careless_claim
    got = []
    for number, pk in enumerate(map(int, packs)):
        time.sleep(max(0.0, float(begin) + 0.2 * number - time.time()))
        if take(pk):
            got.append(pk)
    return got


def careless_claim(pk: int) -> bool:
    """A claim without the condition in its write: what the real one must not be."""
    pack = Pack.objects.get(pk=pk)
    if pack.state != "queued":
        return False
    Pack.objects.filter(pk=pk).update(state="working")
    return True


def worker(act: str) -> None:
    """Be a worker with its clock whose engine acts so."""
    tasks.work_on = partial(work_on, command=engine(act))
    clock = ("--beat", "--schedule", os.path.join(os.environ["SHEDTIDE_DATA"], "clock"))
    app.worker_main(["worker", "--pool", "solo", *clock, "--loglevel", "WARNING"])


def look() -> dict[str, Any]:
    """How the latest pack and the board stand."""
    pack, board = Pack.objects.latest("pk"), Board.objects.get(season=season())
    return {
        "state": pack.state,
        "says": says(pack, timezone.now()),
        "reason": pack.reason,
        "tries": pack.tries,
        "phase": pack.phase,
        "plan": pack.plan and pack.plan.number,
        "plans": Plan.objects.count(),
        "posted": board.posted and [board.posted.number, board.posted.digest],
        "placements": board.posted.placements.count() if board.posted else 0,
        "draft": board.draft and board.draft.number,
    }
