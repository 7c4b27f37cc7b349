"""Plans as values: storing one, moving the draft to it and back, and posting it."""

import hashlib
import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from django.db.models import F, Max
from django.utils import timezone

from scheduling.actions.forecasts import keep_forecasts
from scheduling.actions.reading import schedule_of
from scheduling.actions.reasons import Found, keep_reasons
from scheduling.actions.snapshots import Judged
from scheduling.engine.risk import Risk
from scheduling.engine.witness import check
from scheduling.loading import Loaded, load, placements
from scheduling.models import Board, MadeBy, Pack, Placement, Plan, Unplaced
from yard.actions.base import Refused, Stale, action, locked, log, plain
from yard.models import Season, User
from yard.roles import Actor

ENGINE_VERSION = "1"
BY_RECORDS = "records"
"""The rule of a boat that the records themselves keep out of every plan."""


class BrokenByFacts(Refused):
    """The records themselves break rules; each sentence in `breaches` must be accepted to post."""

    def __init__(self, breaches: Sequence[str]) -> None:
        super().__init__("The records themselves break a rule: accept what is so, then post again.", "accept")
        self.breaches = list(breaches)


# --- What the manager does --------------------------------------------------------------------------------
@action("manager")
def post_plan(
    who: Actor, *, board: Board, version: int, plan: Plan, accept_breaches: Collection[str] = ()
) -> Plan:
    """Make a plan the one that crew, office and owners see; the one before is marked as replaced.

    If the yard's records have changed since the plan was made, the witness holds it against them as they are
    now. What breaks a rule by the plan's doing refuses it; what the records themselves break is posted once
    its sentence is in `accept_breaches`.

    Raises:
        Stale: if somebody changed the board since that version.
        Refused: if the plan was posted before, or breaks a rule today.
    """
    stored = locked(board)
    if stored.version != version:
        raise Stale(stored)
    if plan.season_id != stored.season_id:
        raise Refused("That plan is of another season.")
    if plan.posted_at is not None:
        raise Refused("That plan was posted before; pack again, then post the new draft.")
    loaded = load(stored.season)
    if loaded.sha256 != plan.problem_sha256:
        _hold_against(loaded, plan, accept_breaches)
    now = timezone.now()
    if stored.posted_id:
        Plan.objects.of(who.yard).filter(pk=stored.posted_id).update(replaced_at=now)
    Plan.objects.of(who.yard).filter(pk=plan.pk).update(posted_at=now, posted_by=who.user)
    replaced = stored.posted.number if stored.posted else None
    _point(stored, posted=plan, draft=None if stored.draft_id == plan.pk else stored.draft)
    plan.refresh_from_db()
    log(
        who,
        plan,
        before={"posted": replaced},
        after={"posted": plan.number, "accepted": list(accept_breaches)},
    )
    return plan


@action("manager")
def undo(who: Actor, *, board: Board, version: int) -> Plan:
    """Take the draft back to the plan it came from and return that; if that is posted, no draft is left.

    Raises:
        Stale: if somebody changed the board since that version.
        Refused: if there is no draft, or nothing before it.
    """
    stored = locked(board)
    if stored.version != version:
        raise Stale(stored)
    if stored.draft is None:
        raise Refused("There is no draft to take back.")
    gone, before = stored.draft, stored.draft.parent
    if before is None:
        raise Refused("Nothing is before this draft.")
    _point(stored, posted=stored.posted, draft=None if before.posted_at else before)
    log(who, stored, before={"draft": gone.number}, after={"draft": before.number})
    return before


# --- What other actions use -------------------------------------------------------------------------------
def board_of(season: Season) -> Board:
    """The season's board, made on first need; kept from others until the transaction ends."""
    board, _ = Board.objects.get_or_create(season=season)
    return locked(board)


def put_on_board(
    season: Season,
    loaded: Loaded,
    judged: Judged,
    *,
    made_by: MadeBy,
    problem_sha256: str,
    pack: Pack | None = None,
    by: User | None = None,
    why: str = "",
    risk: Risk | None = None,
    reasons: Found | None = None,
    moves: Sequence[Mapping[str, Any]] = (),
) -> Plan:
    """Store a judged result as a new plan and make it the season's draft, inside the caller's transaction.

    `risk`, reckoned by `odds_of` before that transaction, is stored with it as forecasts, and so are
    `reasons`, found by `reasons_of`, and `moves`, unless another plan was posted since it was asked for.
    """
    board = board_of(season)
    if pack is not None and pack.start_from_id != board.posted_id:
        moves = ()
    schedule = judged.result.schedule
    rows = [asdict(row) for row in placements(loaded, schedule)]
    left_out = {job: (str(one.rule), one.says) for job, one in schedule.unplaced.items()}
    left_out |= {str(treatment): (BY_RECORDS, says) for treatment, says in loaded.says.items()}
    last = Plan.objects.filter(season=season).aggregate(last=Max("number"))["last"] or 0
    kept = judged.result.kept.items()
    plan = Plan(
        yard_id=season.yard_id,
        season=season,
        number=last + 1,
        parent=board.draft or board.posted,
        made_by=made_by,
        pack=pack,
        by=by,
        made_at=timezone.now(),
        why=why[:200],
        cost=dict(judged.cost),
        bound=judged.bound,
        alone=judged.result.alone,
        fewest=reasons.fewest if reasons else {},
        moves=list(moves),
        kept={job: {"rule": one.rule, "says": one.says, "days": one.days} for job, one in kept},
        late_days=judged.late_days,
        late_boats=judged.late_boats,
        engine_version=ENGINE_VERSION,
        problem_sha256=problem_sha256,
        digest=digest_of(rows, left_out),
    )
    plan.save(force_insert=True)
    Placement.objects.bulk_create([Placement(plan=plan, **row) for row in rows])
    Unplaced.objects.bulk_create(
        Unplaced(plan=plan, treatment_id=int(job), rule=rule, says=says)
        for job, (rule, says) in left_out.items()
    )
    if risk is not None:
        keep_forecasts(plan, risk, plan.made_at)
    if reasons is not None:
        keep_reasons(plan, reasons)
    _point(board, posted=board.posted, draft=plan)
    return plan


def digest_of(rows: list[dict[str, Any]], left_out: Mapping[str, Any]) -> str:
    """Two plans that place the same stages in the same bays on the same days have the same digest."""
    value = [sorted(json.dumps(plain(row), sort_keys=True) for row in rows), sorted(left_out)]
    return hashlib.sha256(json.dumps(value).encode()).hexdigest()


def _point(board: Board, *, posted: Plan | None, draft: Plan | None) -> None:
    """Move the board, but only from the version that was read."""
    moved = Board.objects.filter(pk=board.pk, version=board.version).update(
        posted=posted, draft=draft, version=F("version") + 1
    )
    if moved != 1:
        raise Stale(Board.objects.filter(pk=board.pk).first())
    board.refresh_from_db()


def _hold_against(loaded: Loaded, plan: Plan, accepted: Collection[str]) -> None:
    """Refuse a plan that breaks a rule as the records stand now."""
    breaches = check(loaded.problem, schedule_of(loaded, plan))
    clashes = [breach.says for breach in breaches if not breach.fact]
    if clashes:
        more = f" ({len(clashes) - 1} more like it)" if len(clashes) > 1 else ""
        raise Refused(f"The plan no longer fits the yard's records: {clashes[0]}{more}. Pack again.")
    unheard = [breach.says for breach in breaches if breach.fact and breach.says not in accepted]
    if unheard:
        raise BrokenByFacts([*accepted, *unheard])
