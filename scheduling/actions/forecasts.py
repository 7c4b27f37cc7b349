"""How sure a plan is, reckoned and stored boat by boat."""

import logging
from datetime import datetime

from scheduling.engine.risk import Risk, winters
from scheduling.engine.schedule import Schedule
from scheduling.loading import Loaded
from scheduling.models import Forecast, Plan
from yard.models import Promise, Season, Treatment, YardSettings

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


def keep_forecasts(plan: Plan, risk: Risk, at: datetime) -> list[Forecast]:
    """Store the odds of a plan inside the caller's transaction, a row a boat.

    A boat whose owner was told no day and wants none has no promise to keep and so no odds of one.
    """
    known = [int(job) for job in risk.boats]
    told = set(
        Promise.objects.filter(treatment__in=known, superseded=False).values_list("treatment_id", flat=True)
    ) | set(Treatment.objects.filter(pk__in=known, wanted_on__isnull=False).values_list("pk", flat=True))
    rows = []
    for job, boat in risk.boats.items():
        treatment = int(job)
        rows.append(
            Forecast(
                plan=plan,
                treatment_id=treatment,
                as_of=at,
                likely_on=boat.likely,
                safe_on=boat.safe,
                likely_pct=risk.likely_pct,
                safe_pct=risk.safe_pct,
                promise_date=boat.due if treatment in told else None,
                odds_pct=boat.odds_pct if treatment in told else None,
                dots=[day.isoformat() if day else None for day in boat.dots],
                hangs=[
                    {
                        "kind": one.kind,
                        "job": one.job,
                        "what": one.what,
                        "share_pct": one.share_pct,
                        "days": one.days,
                    }
                    for one in boat.hangs
                ],
            )
        )
    return Forecast.objects.bulk_create(rows)
