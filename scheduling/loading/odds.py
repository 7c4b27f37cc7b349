"""The latest odds of boats in a plan, and how they moved, for pages and for what is reckoned next."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Max, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Greatest

from scheduling.models import Forecast, Plan, Reckoning
from yard.models import Treatment


def forecasts_of(plan: Plan | None) -> QuerySet[Forecast]:
    """What was reckoned last of each boat in a plan, in one query; nothing where there is no plan.

    `reckoned_at` says when that was last found to be so; None where the plan was never reckoned again.
    """
    if plan is None:
        return Forecast.objects.none()
    hers = Forecast.objects.filter(plan=OuterRef("plan"), treatment=OuterRef("treatment"))
    last = Subquery(hers.order_by("-as_of").values("as_of")[:1])
    reckoned = Reckoning.objects.filter(plan=OuterRef("plan")).values("held_at")[:1]
    return (
        Forecast.objects.filter(plan=plan, as_of=last)
        .annotate(reckoned_at=Subquery(reckoned))
        .select_related("plan")
        .order_by("treatment")
    )


def forecast_of(plan: Plan | None, treatment: Treatment) -> Forecast | None:
    """What was reckoned last of her in a plan, in one query; None where there is no plan or it leaves her
    out."""
    return forecasts_of(plan).filter(treatment=treatment).first()


@dataclass(frozen=True)
class Move:
    """How one boat's safe day, or else her likely one, moved from what was told `at` a moment; None is beyond
    the season. `because` is what was said of the greatest jump that way."""

    safe: bool
    at: datetime
    was: date | None
    now: date | None
    because: str

    @property
    def days(self) -> int:
        """[calendar days] later; negative when earlier. Far away where a day is beyond the season."""
        return days_later(self.was, self.now)


def moves_since(plan: Plan | None, since: datetime, treatment: Treatment | None = None) -> dict[int, Move]:
    """Who of a posted plan has another safe or likely day than was told at a moment, by treatment; of the
    season, or of one boat. Two queries.

    What was told then is by the plan posted then; where none was, by the first one after it.
    """
    if plan is None:
        return {}
    told = Forecast.objects.filter(plan__season=plan.season_id, plan__posted_at__isnull=False).annotate(
        told_at=Greatest("as_of", "plan__posted_at")
    )
    if treatment is not None:
        told = told.filter(treatment=treatment)
    before = told.filter(told_at__lte=since).order_by()
    last = dict(before.values_list("treatment").annotate(Max("told_at")))
    rows = told.filter(Q(told_at__gt=since) | Q(told_at__in=set(last.values())))
    by_boat: dict[int, list[Forecast]] = defaultdict(list)
    for row in rows.order_by("told_at", "as_of").defer("dots", "hangs"):
        if row.told_at >= last.get(row.treatment_id, row.told_at):
            by_boat[row.treatment_id].append(row)
    found = {}
    for pk, boat in by_boat.items():
        if boat[-1].plan_id == plan.pk:
            move = _move(boat, since)
            if move is not None:
                found[pk] = move
    return found


def _move(rows: list[Any], since: datetime) -> Move | None:
    """From the first to the last of these rows; None where neither day moved."""
    for name in ("safe_on", "likely_on"):
        days = [getattr(row, name) for row in rows]
        way = days_later(days[0], days[-1])
        if way:
            steps = [
                (abs(step), row.because)
                for before, after, row in zip(days, days[1:], rows[1:], strict=False)
                if row.because and (step := days_later(before, after)) * way > 0
            ]
            because = max(steps, default=(0, ""))[1]
            at = max(since, rows[0].told_at)
            return Move(safe=name == "safe_on", at=at, was=days[0], now=days[-1], because=because)
    return None


def days_later(before: date | None, after: date | None) -> int:
    """[calendar days] from one day to another; a day beyond the season is far away."""
    return ((after or date.max) - (before or date.max)).days
