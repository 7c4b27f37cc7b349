"""The life of a pack. The row is the truth: whoever holds its token may write, until the lease runs out.

    queued -> working -> done | failed | stopped
    working -> queued, when the lease ran out or the worker had to end; at the third time it has failed

Every write of a worker is one conditional update on the token, so a worker that was given up writes nothing.
"""

import logging
from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import partial

from celery import current_app
from django.db import transaction
from django.db.models import Q
from django.db.models.functions import Coalesce
from django.utils import timezone
from kombu.exceptions import OperationalError as BrokerError

from scheduling.actions.snapshots import keep
from scheduling.engine.contradictions import contradictions
from scheduling.engine.postings import posted_of
from scheduling.loading import Loaded, load
from scheduling.models import OPEN_PACKS, Beat, Pack, PackKind, PackState, Plan
from yard.actions.base import Refused, action, check, log
from yard.models import Season
from yard.roles import Actor

LEASE = timedelta(seconds=30)
BEAT = timedelta(seconds=5)
WAKE_AFTER = timedelta(seconds=30)  # a pack that nobody has begun is called out again
TRIES = 3
SECONDS: Mapping[PackKind, int] = {PackKind.PACK: 15, PackKind.REPAIR: 5, PackKind.HELPS: 30}
"""[s] for each kind: a search over all orders gets what somebody will wait for at the screen; helps need
three searches for each thing tried. Mended with 13 of 32 boats to put in anew, a plan after 2 s of processor
costs 0.5 % more than after 3 s, and after 5 s no less (measured): pages may need the processor meanwhile."""
MOST_SECONDS = 570  # [s] a task's hard limit leaves a minute more for reading, the last check and storing
KEEP_PROBLEM = timedelta(days=30)
WORKER = "worker"
ONE_TRY = {"max_retries": 1, "interval_start": 0, "interval_step": 0, "socket_connect_timeout": 1}
"""Somebody waits for the page: a broker that is down must say so at once, not after six seconds."""

logger = logging.getLogger(__name__)


# --- What the manager does --------------------------------------------------------------------------------
@action("manager")
def ask_pack(
    who: Actor,
    *,
    season: Season,
    kind: PackKind = PackKind.PACK,
    seconds: int | None = None,
    seed: int = 1,
    work: int | None = None,
) -> Pack:
    """Ask for a plan of the season as its records stand now, for the posted one mended, or for what helps.

    Boats that the records contradict are named on the pack and left out; the rest is packed. The workers are
    woken once the row is stored; if the broker is down the pack waits in the queue.

    Args:
        seconds: the longest it may search [s], 1 to 570; None: what its kind takes as a rule.
        work: search so many tries instead, for a run that repeats exactly.

    Raises:
        Refused: if a pack of the season is open, the season is closed, or no day of it is left; or if the
            posted plan is asked about and no stage to come is posted.
    """
    seconds = SECONDS[kind] if seconds is None else seconds
    if not 1 <= seconds <= MOST_SECONDS:
        raise Refused(f"A pack may take 1 to {MOST_SECONDS} seconds.", "seconds")
    if season.closed_on is not None:
        raise Refused("The season is closed; there is nothing left to plan in it.")
    at_work = Pack.objects.filter(season=season, state__in=OPEN_PACKS).defer("problem", "refs").first()
    if at_work is not None and at_work.kind == PackKind.HELPS:
        raise Refused(
            "The packer is working out what would help: "
            "stop it on the page “What would help?”, or ask when it is done."
        )
    if at_work is not None:
        raise Refused("The packer is at work on this season already.")
    try:
        loaded = load(season)
    except ValueError as error:
        raise Refused(str(error)) from error
    if kind != PackKind.PACK and posted_of(loaded.problem) is None:
        raise Refused("No plan is posted that has work to come: pack the sheds and post the plan first.")
    pack = Pack(
        yard=season.yard,
        season=season,
        kind=kind,
        start_from=Plan.objects.filter(season=season, posted_at__isnull=False, replaced_at=None).first(),
        asked_by=who.user,
        asked_at=timezone.now(),
        seconds=seconds,
        work=work,
        seed=seed,
        progress={"contradictions": _contradictions(loaded)},
        **keep(loaded),
    )
    check(who, pack)
    pack.save(force_insert=True)
    log(
        who,
        pack,
        after={"kind": kind, "seconds": seconds, "work": work, "seed": seed, "problem": pack.problem_sha256},
    )
    transaction.on_commit(partial(wake, pack.pk))
    return pack


@action("manager")
def stop_pack(who: Actor, *, pack: Pack) -> Pack:
    """Stop a pack. One that works hands over the best it has found within seconds; a queued one never starts.

    Raises:
        Refused: if it has ended.
    """
    now = timezone.now()
    rows = Pack.objects.of(who.yard).filter(pk=pack.pk)
    stopped = rows.filter(state=PackState.QUEUED).update(
        state=PackState.STOPPED, stop_asked_at=now, finished_at=now, reason="Stopped before it began."
    )
    if not stopped:
        told = rows.filter(state=PackState.WORKING).update(stop_asked_at=Coalesce("stop_asked_at", now))
        if not told:
            raise Refused("That pack has ended already.")
    log(who, pack, after={"stopped": True})
    pack.refresh_from_db()
    return pack


# --- What is done for those who can do it no more -----------------------------------------------------
def reap_packs(now: datetime, *, season: Season | None = None, wake_after: timedelta = WAKE_AFTER) -> int:
    """Take packs back from workers that gave no sign of life, and call out those nobody has begun.

    Returns how many were touched. Called by the workers twice a minute and by a page about one season's pack;
    it reads once and writes only where something is to do.
    """
    rows = Pack.objects.filter(state__in=OPEN_PACKS)
    if season is not None:
        rows = rows.filter(season=season)
    lost = Q(state=PackState.WORKING, lease_until__lt=now)
    forgotten = Q(state=PackState.QUEUED, seen__lte=now - wake_after)
    due = rows.annotate(seen=Coalesce("beat_at", "asked_at")).filter(lost | forgotten).defer("problem")
    touched = sum(_take_back(pack, now) for pack in due)
    if season is None:
        Pack.objects.filter(finished_at__lt=now - KEEP_PROBLEM, problem__isnull=False).update(problem=None)
    return touched


def _contradictions(loaded: Loaded) -> list[str]:
    """A sentence for each boat that no plan can place: by the records, or by what the rules make of them."""
    return [*loaded.says.values(), *(one.says for one in contradictions(loaded.problem))]


def _take_back(pack: Pack, now: datetime) -> int:
    same = Pack.objects.filter(
        pk=pack.pk, state=pack.state, token=pack.token, lease_until=pack.lease_until, beat_at=pack.beat_at
    )
    ended = {"token": None, "lease_until": None, "phase": "", "finished_at": now}
    if pack.state == PackState.QUEUED:
        touched = same.update(beat_at=now)
    elif pack.stop_asked_at:
        touched = same.update(
            state=PackState.STOPPED, reason="Stopped; the packer had died before it had a plan.", **ended
        )
    elif pack.tries >= TRIES:
        why = f"The packer died on this {TRIES} times. Ask again with less time, or see the log."
        touched = same.update(state=PackState.FAILED, reason=why, **ended)
    else:
        touched = same.update(state=PackState.QUEUED, token=None, lease_until=None, phase="", beat_at=now)
    if touched and (pack.state == PackState.QUEUED or (pack.tries < TRIES and not pack.stop_asked_at)):
        wake(pack.pk)
    return touched


# --- Signs of life ----------------------------------------------------------------------------------------
def wake(pack_id: int) -> bool:
    """Tell the workers that there is a pack; False if the broker is down, which costs only time."""
    try:
        with current_app.connection_for_write(connect_timeout=1, transport_options=ONE_TRY) as broker:
            current_app.send_task("scheduling.tasks.pack", args=[pack_id], retry=False, connection=broker)
    except (BrokerError, OSError) as error:
        logger.warning("pack %s waits: the broker does not answer (%s)", pack_id, error)
        return False
    return True


def sign_of_life(now: datetime) -> None:
    """Note that a worker takes messages and works on them."""
    Beat.objects.update_or_create(name=WORKER, defaults={"at": now})


def packer_is_there(now: datetime) -> bool:
    """Say whether a worker has shown itself in the last minute and a half."""
    return Beat.objects.filter(name=WORKER, at__gt=now - 3 * LEASE).exists()


def says(pack: Pack, now: datetime) -> str:
    """Where a pack stands, in one sentence for the Wall."""
    match pack.state:
        case PackState.QUEUED if packer_is_there(now):
            return "Queued; it starts in a moment."
        case PackState.QUEUED:
            return "Queued; it starts when the packer is back."
        case PackState.WORKING if pack.stop_asked_at:
            return "Stopping; the best found so far is kept."
        case PackState.WORKING:
            return f"Working: {pack.phase}."
        case PackState.DONE:
            return f"Done. {pack.reason or 'The draft is new.'}"
        case PackState.STOPPED if pack.plan_id:
            return f"{pack.reason or 'Stopped.'} The draft is new."
        case _:
            return pack.reason
