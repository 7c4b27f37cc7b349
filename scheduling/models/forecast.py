"""How sure a plan is of one boat, as it was reckoned at a moment."""

from django.db import models
from django.db.models import Q

from scheduling.models.plans import Plan
from yard.models import Treatment
from yard.models.base import AppendOnly, between, check, in_order, once


class Forecast(AppendOnly):
    """When one boat's last stage of a plan ends, in a thousand drawn winters.

    `likely_on` and `safe_on` are the days by which she is done with odds of `likely_pct` and `safe_pct` [%];
    empty where that is beyond the season. `promise_date` is the day she was told or is wanted, `odds_pct` the
    odds of it [%]. `dots` are twenty equally likely days, the first one first; null beyond the season.
    `hangs` are what her date hangs on most: [{"kind": amount, hold, common or weather, "job": treatment or
    "", "what": words, "share_pct": % of the variance, "days": calendar days later where it is slowest}].
    Kept to be scored at the season's end; dies with its plan.
    """

    yard_path = "plan__yard"

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="forecasts")
    treatment = models.ForeignKey(Treatment, models.PROTECT, related_name="+")
    as_of = models.DateTimeField()
    likely_on = models.DateField(null=True, blank=True)
    safe_on = models.DateField(null=True, blank=True)
    likely_pct = models.PositiveSmallIntegerField()
    safe_pct = models.PositiveSmallIntegerField()
    promise_date = models.DateField(null=True, blank=True)
    odds_pct = models.PositiveSmallIntegerField(null=True, blank=True)
    dots = models.JSONField()
    hangs = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["plan", "treatment", "as_of"]
        constraints = [
            once(
                "plan",
                "treatment",
                "as_of",
                name="one_forecast_of_a_boat_a_plan_at_a_time",
                says="Her odds are reckoned already.",
            ),
            in_order("likely_on", "safe_on"),
            check(
                Q(safe_on__isnull=True) | Q(likely_on__isnull=False),
                name="a_safe_day_has_a_likely_one_before_it",
                says="Where a safe day is known, so is a likely one.",
            ),
            check(
                Q(promise_date__isnull=True, odds_pct__isnull=True)
                | Q(promise_date__isnull=False, odds_pct__isnull=False),
                name="odds_are_those_of_a_day",
                says="Odds are those of the day she was promised.",
            ),
            *between(0, 100, "odds_pct"),
            *between(1, 99, "likely_pct", "safe_pct"),
        ]

    def __str__(self) -> str:
        return f"odds of {self.treatment_id} in {self.plan_id}"
