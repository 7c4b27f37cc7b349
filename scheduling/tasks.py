"""What messages wake. Each takes an id or nothing; the rows say what is to be done."""

import socket
from datetime import timedelta

from celery import shared_task
from celery.signals import worker_ready
from celery.worker import state as worker_state
from django.utils import timezone

from scheduling.actions.packing import work_on
from scheduling.actions.packs import reap_packs, sign_of_life
from scheduling.actions.reckoning import reckon_due
from yard.celery import app

app.conf.beat_schedule = {
    "reap": {"task": "scheduling.tasks.reap", "schedule": 30.0, "options": {"expires": 30}},
    "beat": {"task": "scheduling.tasks.beat", "schedule": 5.0, "options": {"expires": 5}},
}


@shared_task(name="scheduling.tasks.pack")
def pack(pack_id: int) -> None:
    """Do a pack, if it is still to be had."""
    work_on(pack_id, worker=socket.gethostname(), ending=_ending)


@shared_task(name="scheduling.tasks.reap")
def reap() -> None:
    """Take back what was lost."""
    reap_packs(timezone.now())


@shared_task(name="scheduling.tasks.beat")
def beat() -> None:
    """Show that messages arrive and are worked on: a worker that hears nothing shows nothing. Then reckon
    forecasts that facts or a new day have overtaken."""
    sign_of_life(timezone.now())
    reckon_due(timezone.now())


@worker_ready.connect
def look_round(**_: object) -> None:
    """Begin with what an earlier worker left behind."""
    sign_of_life(timezone.now())
    reap_packs(timezone.now(), wake_after=timedelta(0))


def _ending() -> bool:
    """Whether this worker was told to end; a forked child is not told, its pack is waited for."""
    told = (worker_state.should_stop, worker_state.should_terminate)
    return any(one is not None and one is not False for one in told)
