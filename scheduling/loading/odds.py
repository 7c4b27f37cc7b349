"""The latest odds of boats in a plan, for pages and for what is reckoned next."""

from django.db.models import OuterRef, QuerySet, Subquery

from scheduling.models import Forecast, Plan
from yard.models import Treatment


def forecasts_of(plan: Plan | None) -> QuerySet[Forecast]:
    """What was reckoned last of each boat in a plan, in one query; nothing where there is no plan."""
    if plan is None:
        return Forecast.objects.none()
    hers = Forecast.objects.filter(plan=OuterRef("plan"), treatment=OuterRef("treatment"))
    last = Subquery(hers.order_by("-as_of").values("as_of")[:1])
    return Forecast.objects.filter(plan=plan, as_of=last).select_related("plan").order_by("treatment")


def forecast_of(plan: Plan | None, treatment: Treatment) -> Forecast | None:
    """What was reckoned last of her in a plan, in one query; None where there is no plan or it leaves her
    out."""
    return forecasts_of(plan).filter(treatment=treatment).first()
