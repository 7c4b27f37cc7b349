"""How sure a plan is, reckoned and stored boat by boat."""

import logging
from dataclasses import asdict
from datetime import datetime

from scheduling.engine.risk import Risk, winters
from scheduling.engine.schedule import Schedule
from scheduling.loading import Loaded
from scheduling.loading.odds import days_later, forecasts_of
from scheduling.models import Forecast, Plan
from yard.models import Promise, Season, Treatment, YardSettings

JUMP_D = 3
"""[calendar days] a likely or safe day that moves by more at once is told with its cause."""

logger = logging.getLogger(__name__)


def odds_of(season: Season, loaded: Loaded, schedule: Schedule) -> Risk | None:
    """A thousand winters of a plan, read off at the odds that the yard's settings say.

    Takes up to half a second of work, so it is done before a transaction, not in one. None, with a line in
    the log, where it fails: a plan without odds is better than no plan.
    """
    settings = YardSettings.objects.get(yard=season.yard_id)
    try:
        return winters(loaded.problem, schedule, likely_pct=settings.likely_pct, safe_pct=settings.safe_pct)
    except Exception:
        logger.exception("no odds could be reckoned for a plan of season %s", season.pk)
        return None


def rows_of(plan: Plan, risk: Risk, at: datetime) -> list[Forecast]:
    """The odds of a plan as rows that are not stored yet, one a boat.

    A boat whose owner was told no day and wants none has no promise to keep and so no odds of one.
    """
    known = [int(job) for job in risk.boats]
    told = set(
        Promise.objects.filter(treatment__in=known, superseded=False).values_list("treatment_id", flat=True)
    ) | set(Treatment.objects.filter(pk__in=known, wanted_on__isnull=False).values_list("pk", flat=True))
    return [
        Forecast(
            plan=plan,
            treatment_id=int(job),
            as_of=at,
            likely_on=boat.likely,
            safe_on=boat.safe,
            likely_pct=risk.likely_pct,
            safe_pct=risk.safe_pct,
            promise_date=boat.due if int(job) in told else None,
            odds_pct=boat.odds_pct if int(job) in told else None,
            dots=[day.isoformat() if day else None for day in boat.dots],
            hangs=[asdict(one) for one in boat.hangs],
        )
        for job, boat in risk.boats.items()
    ]


def keep_forecasts(plan: Plan, risk: Risk, at: datetime) -> list[Forecast]:
    """Store the odds of a new plan inside the caller's transaction, a row a boat.

    A date that is another than by the posted plan says so.
    """
    rows = rows_of(plan, risk, at)
    posted = Plan.objects.filter(season=plan.season_id, posted_at__isnull=False, replaced_at=None)
    told = {row.treatment_id: row for row in forecasts_of(posted.exclude(pk=plan.pk).first())}
    for row in rows:
        was = told.get(row.treatment_id)
        if was is not None and jump(was, row):
            row.because = f"Plan {plan.number} plans her work differently from plan {was.plan.number}."
    return Forecast.objects.bulk_create(rows)


def jump(was: Forecast, now: Forecast) -> int:
    """By how many calendar days the safe day, or else the likely one, has jumped; 0 where neither has."""
    for before, after in ((was.safe_on, now.safe_on), (was.likely_on, now.likely_on)):
        days = days_later(before, after)
        if abs(days) > JUMP_D:
            return days
    return 0
