"""How sure a plan is of one boat, as it was reckoned at a moment, and when that was last done."""

from django.db import models
from django.db.models import Q

from scheduling.models.plans import Plan
from yard.models import Season, Treatment
from yard.models.base import AppendOnly, Record, between, check, in_order, once


class Forecast(AppendOnly):
    """When one boat's last stage of a plan ends, in a thousand drawn winters.

    `likely_on` and `safe_on` are the days by which she is done with odds of `likely_pct` and `safe_pct` [%];
    empty where that is beyond the season. `promise_date` is the day she was told or is wanted, `odds_pct` the
    odds of it [%]. `dots` are twenty equally likely days, the first one first; null beyond the season.
    `hangs` are what her date hangs on most: [{"kind": amount, hold, common or weather, "job": treatment or
    "", "what": words, "share_pct": % of the variance, "days": calendar days later where it is slowest}].
    `because` says in a sentence why a date jumped since the forecast before; empty where none did. A row is
    added only where something of it changed: `Reckoning` says up to when the newest one holds. Kept to be
    scored at the season's end; dies with its plan.
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
    because = models.CharField(max_length=200, blank=True)

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


class Reckoning(Record):
    """When a season's posted plan was last held against the yard's records, and who is at it now.

    `at` is the moment the records were read, `day` the yard's day then, `seen` the newest `Entry` that was
    surely among them, `digest` what the answer depends on, `held_at` when the forecasts stored were last
    found to hold. `claimed_at` is when a worker began; empty where none is at it. `moments` are the mean days
    on which each stage starts and ends: {treatment: {"stage.part": [start, end]}}, as proleptic ordinals with
    a fraction, for the reason why a date moves. Dies with its season.
    """

    yard_path = "season__yard"

    season = models.OneToOneField(Season, models.CASCADE, related_name="reckoning")
    plan = models.ForeignKey(Plan, models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField(null=True, blank=True)
    held_at = models.DateTimeField(null=True, blank=True)
    day = models.DateField(null=True, blank=True)
    seen = models.BigIntegerField(default=0)
    digest = models.CharField(max_length=64, blank=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    moments = models.JSONField(default=dict, blank=True)
