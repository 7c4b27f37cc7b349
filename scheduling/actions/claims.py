"""A worker's hold on a pack.

Every write is one conditional update on the token, so that a worker that was given up writes nothing. A
result is stored only once the witness has found nothing against it.
"""

import json
import logging
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from scheduling.actions.forecasts import odds_of
from scheduling.actions.moves import moves_of
from scheduling.actions.packs import LEASE, TRIES, sign_of_life
from scheduling.actions.plans import put_on_board
from scheduling.actions.reading import schedule_of
from scheduling.actions.reasons import reasons_of
from scheduling.actions.snapshots import Judged, judge, restore, weigh, with_reasons
from scheduling.engine.jsonio import BadInput
from scheduling.engine.schedule import Kept
from scheduling.loading import Loaded
from scheduling.models import Board, MadeBy, Pack, PackKind, PackState, Plan
from yard.actions.base import Refused
from yard.models import Entry, Season

STILL_HOLDS = "The posted plan still holds; nothing has to move."

logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """A worker's hold on a pack, with all it needs to run it."""

    pack_id: int
    kind: PackKind
    token: uuid.UUID
    problem: Mapping[str, Any]
    refs: Mapping[str, Any]
    seconds: int  # [s]
    work: int | None  # [tries]
    seed: int
    progress: Mapping[str, Any]  # what the row says already


def claim_pack(worker: str, pack_id: int) -> Claim | None:
    """Take a queued pack; None if it is not to be had: another was quicker, or a message came twice."""
    now, token = timezone.now(), uuid.uuid4()
    won = Pack.objects.filter(pk=pack_id, state=PackState.QUEUED, tries__lt=TRIES).update(
        state=PackState.WORKING,
        token=token,
        lease_until=now + LEASE,
        beat_at=now,
        tries=F("tries") + 1,
        phase="starting",
        best_cost=None,
        bound=None,
    )
    if not won:
        return None
    pack = Pack.objects.get(pk=pack_id)
    logger.info("pack %s begun by %s, try %s", pack_id, worker, pack.tries)
    return Claim(
        pack_id=pack_id,
        kind=PackKind(pack.kind),
        token=token,
        problem=pack.problem or {},
        refs=pack.refs or {},
        seconds=pack.seconds,
        work=pack.work,
        seed=pack.seed,
        progress=pack.progress,
    )


def beat_pack(claim: Claim, progress: Mapping[str, Any]) -> bool:
    """Renew the lease and show how far the pack has come; False if it should end: it was stopped, or is lost.

    `progress` may have "phase", "best_cost" and "bound"; all else is kept as the row's own `progress`.
    """
    now = timezone.now()
    fields = {name: progress[name] for name in ("phase", "best_cost", "bound") if name in progress}
    rest = {name: value for name, value in progress.items() if name not in fields}
    held = _held(claim).update(
        beat_at=now, lease_until=now + LEASE, progress={**claim.progress, **rest}, **fields
    )
    if not held:
        return False
    sign_of_life(now)
    return not _held(claim).filter(stop_asked_at__isnull=False).exists()


def store_result(
    claim: Claim, result: Mapping[str, Any], *, stopped: bool = False, why: str = ""
) -> Plan | None:
    """Have a result judged by the witness and make it the draft, in one transaction.

    Returns None if it was refused, the claim is lost, or a repair has nothing to move. The posted plan is not
    touched; an older draft stays as the new one's parent.
    """
    mended = claim.kind == PackKind.REPAIR
    if mended and result.get("status") == "kept":
        _end(claim, PackState.DONE, STILL_HOLDS, dict(claim.progress))
        return None
    loaded = restore(claim.problem, claim.refs)
    try:
        judged = judge(loaded.problem, result, claim.kind)
    except BadInput as error:
        fail_pack(claim, f"The engine's answer can't be read: {error}", refused=result)
        return None
    if judged.clashes:
        says = [breach.says for breach in judged.clashes]
        fail_pack(claim, f"The witness refuses the plan: {says[0]}.", breaches=says, refused=result)
        return None
    if mended:
        judged = with_reasons(loaded.problem, judged)
    else:
        judged, stands = _no_dearer(claim, loaded, judged)
        why = f"{why} {stands}".strip()
    moves = moves_of(loaded, judged.result.schedule, judged.result.thawed)
    season = Season.objects.filter(packs=claim.pack_id).first()
    risk = odds_of(season, loaded, judged.result.schedule) if season else None
    beat_pack(claim, {})  # odds and reasons of a big yard take seconds
    reasons = reasons_of(season, loaded, judged.result.schedule) if season else None
    with transaction.atomic():
        pack = _held(claim).select_for_update().select_related("season__yard").first()
        if pack is None:
            logger.warning("pack %s was given to somebody else; its result is dropped", claim.pack_id)
            return None
        plan = put_on_board(
            pack.season,
            loaded,
            judged,
            made_by=MadeBy.REPAIR if mended else MadeBy.PACK,
            problem_sha256=pack.problem_sha256,
            pack=pack,
            by=pack.asked_by,
            why=why,
            risk=risk,
            reasons=reasons,
            moves=moves,
        )
        pack.state = PackState.STOPPED if stopped else PackState.DONE
        pack.plan, pack.reason, pack.finished_at = plan, why, timezone.now()
        pack.phase, pack.best_cost, pack.bound = "", judged.total, judged.bound
        pack.token = pack.lease_until = None
        pack.save()
        _note(pack, "store_result", {"state": pack.state, "plan": plan.number, "why": why})
    logger.info("pack %s is %s: plan %s", pack.pk, pack.state, plan.number)
    return plan


def store_helps(claim: Claim, result: Mapping[str, Any], *, stopped: bool = False, why: str = "") -> bool:
    """Keep what would help on the pack, which makes no plan; False if the claim is lost."""
    found = list(result.get("helps", ()))
    if not why:
        tried = "1 thing was tried." if len(found) == 1 else f"{len(found)} things were tried."
        why = tried if found else "Nothing was found that would help."
    state = PackState.STOPPED if stopped else PackState.DONE
    return _end(claim, state, why, {**claim.progress, "helps": found})


def fail_pack(
    claim: Claim, why: str, *, breaches: Sequence[str] = (), refused: Mapping[str, Any] | None = None
) -> bool:
    """End a pack with the reason in words; False if the claim is lost.

    A refused schedule is kept, to be replayed.
    """
    progress = {**claim.progress, "breaches": list(breaches)} if breaches else dict(claim.progress)
    if refused is not None:
        progress["refused"] = _keep_refused(claim, refused, breaches)
    return _end(claim, PackState.FAILED, why, progress)


def end_stopped(claim: Claim, why: str) -> bool:
    """End a pack that was stopped before it had a plan; False if the claim is lost."""
    return _end(claim, PackState.STOPPED, why, dict(claim.progress))


def release_pack(claim: Claim) -> bool:
    """Put a pack back into the queue because its worker has to end, which counts as no try.

    False if the claim is lost.
    """
    released = _held(claim).update(
        state=PackState.QUEUED, token=None, lease_until=None, tries=F("tries") - 1, phase=""
    )
    return bool(released)


def _no_dearer(claim: Claim, loaded: Loaded, judged: Judged) -> tuple[Judged, str]:
    """What was found; or the draft as it stands, with a sentence, where that costs less.

    Asking for a pack never makes the plan worse: the search goes on from the posted plan, and knows no draft.
    """
    board = Board.objects.filter(season__packs=claim.pack_id).select_related("draft").first()
    plan = board.draft if board else None
    if plan is None:
        return judged, ""
    try:
        schedule = schedule_of(loaded, plan)
    except Refused:  # the records have moved on
        return judged, ""
    kept = {job: Kept(rule=one["rule"], says=one["says"], days=one["days"]) for job, one in plan.kept.items()}
    old = weigh(loaded.problem, replace(judged.result, schedule=schedule, kept=kept))
    if old.clashes or old.total >= judged.total:
        return judged, ""
    return old, f"Nothing better than plan {plan.number} was found."


def _held(claim: Claim) -> Any:
    return Pack.objects.filter(pk=claim.pack_id, token=claim.token, state=PackState.WORKING)


def _end(claim: Claim, state: PackState, why: str, progress: Mapping[str, Any]) -> bool:
    with transaction.atomic():
        ended = _held(claim).update(
            state=state,
            reason=why or "It ended without a reason.",
            progress=progress,
            finished_at=timezone.now(),
            phase="",
            token=None,
            lease_until=None,
        )
        if ended:
            _note(Pack.objects.get(pk=claim.pack_id), f"{state}_pack", {"why": why})
    logger.info("pack %s is %s: %s", claim.pack_id, state if ended else "lost", why)
    return bool(ended)


def _keep_refused(claim: Claim, result: Mapping[str, Any], breaches: Sequence[str]) -> str:
    """Write problem and plan so that `check PROBLEM PLAN` can be run on them; returns their folder."""
    folder = Path(settings.SHEDTIDE_DATA) / "refused" / f"pack-{claim.pack_id}-{claim.token.hex[:8]}"
    folder.mkdir(parents=True, exist_ok=True)
    for name, value in (("problem", claim.problem), ("plan", result), ("breaches", list(breaches))):
        (folder / f"{name}.json").write_text(json.dumps(value))
    return f"refused/{folder.name}"


def _note(pack: Pack, name: str, after: dict[str, Any]) -> None:
    """Write the worker's line of history; nobody is logged in where it runs."""
    Entry.objects.create(
        yard_id=pack.yard_id,
        at=timezone.now(),
        user=None,
        action=name,
        about_label=Pack._meta.label_lower,
        about_pk=pack.pk,
        after=after,
    )
