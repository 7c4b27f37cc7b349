"""The figures a yard may set."""

from datetime import time
from decimal import Decimal

from django.db import models
from django.db.models import F, Q

from yard.models.base import (
    CELSIUS,
    METRES,
    MONEY,
    PERCENT,
    Record,
    Versioned,
    between,
    check,
    not_below_zero,
)
from yard.models.yards import Yard


class YardSettings(Versioned, Record):
    """The figures a yard may set. Money is in the yard's currency; all defaults are common practice.

    Late days cost `late_day_money` x the treatment's weight; `pull_out_money` is pulling a boat out of a
    lane and putting her back; `left_out_money` is what a boat left out of the plan counts.

    `book_..._pct` is the quantile of drying that the plan books for a boat whose date is of that kind [%]:
    the harder the date, the surer. `margin_c`, `air_max_rh_pct`, `least_hull_c` and `least_night_c` are the
    gate before coats: hull above the dew point [degrees C], dampest air [%], coldest hull (usually 10 to 15)
    and coldest night of the day before [degrees C]; a product's sheet may ask for more.

    A boat floats when the tide stands `tide_clearance_m` above her draught and the dock's bottom, with
    `tide_allowance_m` in hand for high air pressure, 0.01 m a hectopascal above the mean [m]; 0 to 0.3.

    The stop rule that *signed dry* is held against: `spots_at_target_pct` of the spots at the target or
    below [%], none more than `spot_over_max` above it [points of the meter's scale]. Where a treatment has
    no target of its own, the target is her dry topside + `target_over_topside` [points], usually 3 to 5.
    """

    yard = models.OneToOneField(Yard, models.PROTECT, related_name="settings")
    likely_pct = models.PositiveSmallIntegerField(default=60)
    safe_pct = models.PositiveSmallIntegerField(default=90)
    watch_pct = models.PositiveSmallIntegerField(default=90)
    at_risk_pct = models.PositiveSmallIntegerField(default=60)
    frozen_days = models.PositiveSmallIntegerField(default=3)
    late_day_money = models.DecimalField(**MONEY, default=Decimal("60.00"))
    move_money = models.DecimalField(**MONEY, default=Decimal("90.00"))
    pull_out_money = models.DecimalField(**MONEY, default=Decimal("180.00"))
    bay_day_money = models.DecimalField(**MONEY, default=Decimal("4.00"))
    heat_day_money = models.DecimalField(**MONEY, default=Decimal("12.00"))
    change_money = models.DecimalField(**MONEY, default=Decimal("20.00"))
    left_out_money = models.DecimalField(**MONEY, default=Decimal("9000.00"))
    overtime_hour_money = models.DecimalField(**MONEY, default=Decimal("45.00"))
    work_from = models.TimeField(default=time(7, 30))
    work_to = models.TimeField(default=time(16, 30))
    open_weekdays = models.CharField(
        max_length=7, default="1111100", help_text="Monday first; 1 open, 0 closed"
    )
    margin_c = models.DecimalField(**CELSIUS, default=Decimal("3.0"))
    air_max_rh_pct = models.DecimalField(**PERCENT, default=Decimal("85.0"))
    air_check_hours = models.PositiveSmallIntegerField(default=4)
    hoist_load_pct = models.PositiveSmallIntegerField(default=85)
    tide_clearance_m = models.DecimalField(**METRES, default=Decimal("0.400"))
    sill_level_m = models.DecimalField(
        **METRES, default=Decimal("0.000"), help_text="bottom of the dock above datum"
    )
    tide_allowance_m = models.DecimalField(
        **METRES, default=Decimal("0.200"), help_text="water kept in hand for high pressure"
    )
    retention_months = models.PositiveSmallIntegerField(default=72)
    link_days = models.PositiveSmallIntegerField(default=270)
    book_firm_pct = models.PositiveSmallIntegerField(default=80)
    book_tide_pct = models.PositiveSmallIntegerField(default=80)
    book_week_pct = models.PositiveSmallIntegerField(default=70)
    book_month_pct = models.PositiveSmallIntegerField(default=60)
    book_wish_pct = models.PositiveSmallIntegerField(default=50)
    least_hull_c = models.DecimalField(**CELSIUS, default=Decimal("12.0"))
    least_night_c = models.DecimalField(**CELSIUS, default=Decimal("10.0"))
    target_over_topside = models.DecimalField(max_digits=6, decimal_places=1, default=Decimal("4.0"))
    spots_at_target_pct = models.PositiveSmallIntegerField(default=90)
    spot_over_max = models.DecimalField(max_digits=6, decimal_places=1, default=Decimal("5.0"))
    early_days = models.PositiveSmallIntegerField(
        default=21, help_text="how long before her day a boat may go back in"
    )

    class Meta:
        verbose_name_plural = "yard settings"
        constraints = [
            *between(1, 99, "likely_pct", "safe_pct", "watch_pct", "at_risk_pct"),
            check(
                Q(likely_pct__lt=F("safe_pct")),
                name="likely_is_below_safe",
                says="The likely date's share must be below the safe date's.",
            ),
            check(
                Q(at_risk_pct__lte=F("watch_pct")),
                name="at_risk_is_not_above_watch",
                says="A promise is at risk at lower odds than it is tight.",
            ),
            *between(0, 30, "frozen_days"),
            *not_below_zero(
                "late_day_money",
                "move_money",
                "pull_out_money",
                "bay_day_money",
                "heat_day_money",
                "change_money",
                "left_out_money",
                "overtime_hour_money",
                "tide_clearance_m",
                "tide_allowance_m",
            ),
            check(
                Q(work_from__lt=F("work_to")),
                name="work_ends_after_it_begins",
                says="The day must end after it begins.",
            ),
            *between(0, 10, "margin_c"),
            *between(30, 100, "air_max_rh_pct", "hoist_load_pct"),
            *between(1, 24, "air_check_hours"),
            *between(
                5,
                95,
                "book_firm_pct",
                "book_tide_pct",
                "book_week_pct",
                "book_month_pct",
                "book_wish_pct",
            ),
            *between(0, 25, "least_hull_c", "least_night_c"),
            *between(1, 10, "target_over_topside"),
            *between(50, 100, "spots_at_target_pct"),
            *between(0, 20, "spot_over_max"),
        ]

    def __str__(self) -> str:
        return f"settings of {self.yard}"
