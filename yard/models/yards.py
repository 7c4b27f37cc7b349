"""The yard itself, its seasons, its open and closed days, and what is out when."""

from django.db import models
from django.db.models import Q

from yard.models.base import (
    Named,
    Retiring,
    Versioned,
    YardRecord,
    between,
    check,
    in_order,
    known,
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


WEATHER_KINDS = (StoppageKind.NO_HEAT, StoppageKind.COLD)
"""Kinds that close no place and no day: they change what the airs are like."""


class Stoppage(YardRecord, Versioned):
    """Something or somebody is out from day to day, both inclusive; no subject means the whole yard.

    An empty `last_day` means until told. `count` is how many of a kit are out; empty means all. Ended, or
    called off where it was entered by mistake and counts for nothing; never deleted.
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
    called_off_on = models.DateField(null=True, blank=True)

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
