"""The yard itself, its settings, its seasons, its open and closed days, and what is out when."""

from datetime import time
from decimal import Decimal

from django.db import models
from django.db.models import F, Q

from yard.models.base import (
    CELSIUS,
    METRES,
    MONEY,
    PERCENT,
    Named,
    Record,
    Retiring,
    Versioned,
    YardRecord,
    between,
    check,
    in_order,
    known,
    not_below_zero,
    once,
)


class Nation(models.TextChoices):
    """Whose bank holidays the yard keeps."""

    ENGLAND = "ENG"
    WALES = "WLS"
    SCOTLAND = "SCT"
    NORTHERN_IRELAND = "NIR"
    NONE = "none"


class Units(models.TextChoices):
    """How lengths are shown; stored lengths are always metres."""

    METRIC = "metric"
    FEET = "feet"


class Yard(Named, Retiring):
    """One business at one site. Owns everything below; only a sample yard can be removed whole."""

    slug = models.SlugField(max_length=40, unique=True)
    is_sample = models.BooleanField(default=False)
    timezone = models.CharField(max_length=40, default="Europe/London")
    nation = models.CharField(max_length=4, choices=Nation.choices, default=Nation.ENGLAND)
    currency = models.CharField(max_length=3, default="GBP")
    units = models.CharField(max_length=6, choices=Units.choices, default=Units.METRIC)
    latitude = models.DecimalField(max_digits=8, decimal_places=5, null=True, blank=True)
    longitude = models.DecimalField(max_digits=8, decimal_places=5, null=True, blank=True)

    class Meta:
        constraints = [
            known("nation", Nation),
            known("units", Units),
            *between(-90, 90, "latitude"),
            *between(-180, 180, "longitude"),
        ]


class YardSettings(Versioned, Record):
    """The figures a yard may set. Money is in the yard's currency; all defaults are common practice.

    Late days cost `late_day_money` x the treatment's weight; `pull_out_money` is pulling a boat out of a
    lane and putting her back; `left_out_money` is what a boat left out of the plan counts.
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
    retention_months = models.PositiveSmallIntegerField(default=72)
    link_days = models.PositiveSmallIntegerField(default=270)
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
            ),
            check(
                Q(work_from__lt=F("work_to")),
                name="work_ends_after_it_begins",
                says="The day must end after it begins.",
            ),
            *between(0, 10, "margin_c"),
            *between(30, 100, "air_max_rh_pct", "hoist_load_pct"),
            *between(1, 24, "air_check_hours"),
        ]

    def __str__(self) -> str:
        return f"settings of {self.yard}"


class Season(YardRecord, Named, Versioned):
    """One winter. Both days are inclusive."""

    first_day = models.DateField()
    last_day = models.DateField()
    closed_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-first_day"]
        constraints = [
            once(
                "yard",
                "name",
                name="one_season_of_a_name_a_yard",
                says="There is a season of that name already.",
            ),
            in_order("first_day", "last_day", strict=True),
        ]


class DayRule(YardRecord):
    """A day that is open or closed whatever the weekday and the bank holidays say."""

    day = models.DateField()
    open = models.BooleanField()
    reason = models.CharField(max_length=120)

    class Meta:
        ordering = ["day"]
        constraints = [
            once("yard", "day", name="one_rule_a_yard_and_day", says="That day has a rule already."),
        ]


class LiftsSold(YardRecord):
    """Lifts a day that the laid-up fleet has already, from day to day, both inclusive."""

    first_day = models.DateField()
    last_day = models.DateField()
    lifts_a_day = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["first_day"]
        verbose_name_plural = "lifts sold"
        constraints = [in_order("first_day", "last_day")]


class OutsideWho(models.TextChoices):
    """People who come on their own days."""

    BLASTER = "blaster"
    SURVEYOR = "surveyor"
    MAST_CRANE = "mast_crane"
    EXAMINER = "examiner"
    OTHER = "other"


class OutsideDay(YardRecord):
    """A day on which somebody from outside comes, and how many boats they can take."""

    who = models.CharField(max_length=12, choices=OutsideWho.choices)
    day = models.DateField()
    capacity = models.PositiveSmallIntegerField(default=1)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["day", "who"]
        constraints = [
            known("who", OutsideWho),
            once(
                "yard",
                "who",
                "day",
                name="one_visit_of_each_a_day",
                says="That visit is on the list already.",
            ),
        ]


class StoppageKind(models.TextChoices):
    """Why something or somebody is out."""

    CLOSED = "closed"
    NO_HEAT = "no_heat"
    ILL = "ill"
    HOLIDAY = "holiday"
    COLD = "cold"
    OTHER = "other"


class Stoppage(YardRecord, Versioned):
    """Something or somebody is out from day to day, both inclusive; no subject means the whole yard.

    An empty `last_day` means until told. `count` is how many of a kit are out; empty means all. Ended,
    never deleted.
    """

    kind = models.CharField(max_length=8, choices=StoppageKind.choices)
    first_day = models.DateField()
    last_day = models.DateField(null=True, blank=True)
    why = models.CharField(max_length=200)
    bay = models.ForeignKey("yard.Bay", models.PROTECT, null=True, blank=True, related_name="stoppages")
    shed = models.ForeignKey("yard.Shed", models.PROTECT, null=True, blank=True, related_name="stoppages")
    hoist = models.ForeignKey("yard.Hoist", models.PROTECT, null=True, blank=True, related_name="stoppages")
    kit = models.ForeignKey("yard.Kit", models.PROTECT, null=True, blank=True, related_name="stoppages")
    person = models.ForeignKey("yard.Person", models.PROTECT, null=True, blank=True, related_name="stoppages")
    count = models.PositiveSmallIntegerField(null=True, blank=True)

    SUBJECTS = ("bay", "shed", "hoist", "kit", "person")

    class Meta:
        ordering = ["first_day"]
        constraints = [
            known("kind", StoppageKind),
            in_order("first_day", "last_day"),
            check(
                Q(bay__isnull=True, shed__isnull=True, hoist__isnull=True, kit__isnull=True)
                | Q(bay__isnull=True, shed__isnull=True, hoist__isnull=True, person__isnull=True)
                | Q(bay__isnull=True, shed__isnull=True, kit__isnull=True, person__isnull=True)
                | Q(bay__isnull=True, hoist__isnull=True, kit__isnull=True, person__isnull=True)
                | Q(shed__isnull=True, hoist__isnull=True, kit__isnull=True, person__isnull=True),
                name="a_stoppage_has_at_most_one_subject",
                says="A stoppage is of one bay, shed, hoist, kit or person, or of the whole yard.",
            ),
            check(
                Q(count__isnull=True) | Q(kit__isnull=False, count__gt=0),
                name="only_kits_are_out_by_number",
                says="Only of a kit can some be out and some not.",
            ),
        ]
