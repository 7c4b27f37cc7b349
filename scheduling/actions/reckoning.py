"""Forecasts that follow the facts: the posted plan of a season is held against its records again.

No message is needed: the workers ask every few seconds which seasons have something new, so a lost message
costs nothing. Whoever claims a season's `Reckoning` has it alone; a claim lost with its worker runs out.
"""

import hashlib
import logging
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Coalesce

from scheduling.actions.because import News, before_of, kept_of, news_of, sentence
from scheduling.actions.forecasts import jump, odds_of, rows_of
from scheduling.actions.overrun import order_of
from scheduling.engine.causes import Before, cause_of
from scheduling.engine.risk import Risk
from scheduling.loading import Loaded, load
from scheduling.loading.odds import forecasts_of
from scheduling.models import Board, Forecast, Plan, Reckoning
from yard.models import Entry, Season, YardSettings
from yard.roles import yard_today

GAP = timedelta(seconds=10)
"""A season is reckoned once in so long at most. As long after a fact its transaction may be stored: what is
that new is looked at once more."""
LOST = timedelta(minutes=2)
"""After so long a claim is taken to be lost; a reckoning takes seconds."""

logger = logging.getLogger(__name__)


def reckon_due(now: datetime) -> int:
    """Reckon every season whose posted plan something has overtaken: an entry of its yard, or a new day.

    Returns how many were reckoned. One query where nothing is to do. A season that breaks leaves a line in
    the log and holds up no other.
    """
    newer = Entry.objects.filter(
        yard=OuterRef("season__yard"), pk__gt=Coalesce(OuterRef("season__reckoning__seen"), 0)
    )
    boards = (
        Board.objects.filter(posted__isnull=False, season__closed_on=None)
        .annotate(news=Exists(newer))
        .select_related("season__yard", "season__reckoning")
        .defer("season__reckoning__moments")
    )
    return sum(_reckoned(board.season, now) for board in boards if _is_due(board, board.news, now))


def _reckoned(season: Season, now: datetime) -> bool:
    try:
        return reckon(season, now)
    except Exception:
        logger.exception("season %s could not be reckoned", season.pk)
        return False


def _is_due(board: Board, news: bool, now: datetime) -> bool:
    last = getattr(board.season, "reckoning", None)
    if last is None:
        return True
    if (last.claimed_at and last.claimed_at > now - LOST) or (last.at and last.at > now - GAP):
        return False
    return news or last.plan_id != board.posted_id or last.day != yard_today(board.season.yard)


def reckon(season: Season, now: datetime) -> bool:
    """Reckon the posted plan of a season anew and store what changed; False if another worker is, or was just
    now.

    Where it breaks, the claim stays until it is lost: it is not tried again at once.
    """
    last, _ = Reckoning.objects.get_or_create(season=season)
    free = Q(claimed_at=None) | Q(claimed_at__lte=now - LOST)
    rested = Q(at=None) | Q(at__lte=now - GAP)
    if not Reckoning.objects.filter(free, rested, pk=last.pk).update(claimed_at=now):
        return False
    plan = Plan.objects.filter(season=season, posted_at__isnull=False, replaced_at=None).first()
    old = Entry.objects.of(season.yard).filter(at__lte=now - GAP).order_by("-pk").values_list("pk", flat=True)
    found: dict[str, object] = {
        "plan": plan,
        "at": now,
        "day": yard_today(season.yard),
        "seen": max(last.seen, old.first() or 0),
    }
    holds = plan is None
    rows: list[Forecast] = []
    if plan is not None:
        loaded = _load(season)
        digest = _digest(season, plan, loaded) if loaded else ""
        holds = bool(digest) and digest == last.digest
        if loaded is not None and not holds:
            risk = odds_of(season, loaded, order_of(loaded, plan))
            if risk is not None:
                rows = _changed(season, plan, loaded, risk, last, now)
                found |= {"digest": digest, "moments": kept_of(loaded, risk)}
                holds = True
    if holds:
        found["held_at"] = now
    with transaction.atomic():
        held = Reckoning.objects.filter(pk=last.pk, claimed_at=now).update(**found, claimed_at=None)
        if held:
            Forecast.objects.bulk_create(rows)
    return bool(held)


def _load(season: Season) -> Loaded | None:
    try:
        return load(season)
    except ValueError as error:
        logger.info("season %s can't be reckoned: %s", season.pk, error)
        return None


def _digest(season: Season, plan: Plan, loaded: Loaded) -> str:
    """Of all that the answer depends on."""
    settings = YardSettings.objects.get(yard=season.yard_id)
    parts = (loaded.sha256, plan.pk, settings.likely_pct, settings.safe_pct)
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def _changed(
    season: Season, plan: Plan, loaded: Loaded, risk: Risk, last: Reckoning, now: datetime
) -> list[Forecast]:
    """Rows for those of whom something changed; one whose day has jumped says why."""
    was = {row.treatment_id: row for row in forecasts_of(plan)}
    rows = [row for row in rows_of(plan, risk, now) if _says(row) != _says(was.get(row.treatment_id))]
    jumps = {row.treatment_id: jump(was[row.treatment_id], row) for row in rows if row.treatment_id in was}
    if not any(jumps.values()):
        return rows
    news = news_of(season, last.held_at)
    before = before_of(loaded, last.moments)
    for row in rows:
        days, job = jumps.get(row.treatment_id), str(row.treatment_id)
        if not days:
            continue
        if last.plan_id == plan.pk:
            row.because = _because(before, risk, job, loaded, news, later=days > 0)
        else:
            row.because = f"Things have happened since plan {plan.number} was made."
    return rows


def _because(before: Before, risk: Risk, job: str, loaded: Loaded, news: News, *, later: bool) -> str:
    """Why her days jumped; nothing, with a line in the log, where it can't be found."""
    try:
        return sentence(cause_of(before, risk.moments, job, later=later), job, loaded, news, later=later)
    except Exception:
        logger.exception("no cause was found for a day of treatment %s", job)
        return ""


def _says(row: Forecast | None) -> object:
    """What a reader can see of a forecast."""
    if row is None:
        return None
    most = [(one["kind"], one["job"], one["what"]) for one in row.hangs[:1]]
    dates = (row.likely_on, row.safe_on, row.likely_pct, row.safe_pct, row.promise_date, row.odds_pct)
    return (*dates, row.dots, most)
