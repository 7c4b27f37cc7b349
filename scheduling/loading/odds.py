"""The latest odds of a boat in a plan, for pages."""

from scheduling.models import Forecast, Plan
from yard.models import Treatment


def forecast_of(plan: Plan | None, treatment: Treatment) -> Forecast | None:
    """What was reckoned last of her in a plan, in one query; None where there is no plan or it leaves her
    out."""
    if plan is None:
        return None
    return Forecast.objects.filter(plan=plan, treatment=treatment).order_by("-as_of").first()
