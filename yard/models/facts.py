"""What was measured, done and said. Rows are added, never changed."""

from django.db import models
from django.db.models import Q

from yard.models.base import CELSIUS, HOURS, PERCENT, Fact, above_zero, between, check, known, once
from yard.models.boats import Meter, Spot
from yard.models.people import Person, User
from yard.models.treatments import DateKind, Stage, Treatment


class Mode(models.TextChoices):
    """How deep the meter reads."""

    SHALLOW = "shallow"
    DEEP = "deep"


class Round(Fact):
    """One set of moisture readings at all spots on one day. Empty fields were not said."""

    yard_path = "treatment__yard"

    treatment = models.ForeignKey(Treatment, models.PROTECT, related_name="rounds")
    meter = models.ForeignKey(Meter, models.PROTECT, related_name="rounds")
    mode = models.CharField(max_length=7, choices=Mode.choices, default=Mode.DEEP)
    day_on = models.DateField()
    taken_at = models.DateTimeField(null=True, blank=True)
    person = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="rounds")
    air_c = models.DecimalField(**CELSIUS, null=True, blank=True)
    rh_pct = models.DecimalField(**PERCENT, null=True, blank=True)
    surface_dry = models.BooleanField(null=True, blank=True)

    class Meta:
        ordering = ["treatment", "day_on"]
        constraints = [
            known("mode", Mode),
            once(
                "treatment",
                "day_on",
                "meter",
                "mode",
                when=Q(superseded=False),
                name="one_round_a_day_and_meter",
                says="A round of that day with that meter is there already.",
            ),
            *between(0, 100, "rh_pct"),
        ]


class Reading(Fact):
    """One figure at one spot, on the meter's own scale."""

    yard_path = "round__treatment__yard"

    round = models.ForeignKey(Round, models.PROTECT, related_name="readings")
    spot = models.ForeignKey(Spot, models.PROTECT, related_name="readings")
    value = models.DecimalField(max_digits=6, decimal_places=1)

    class Meta:
        constraints = [
            once(
                "round",
                "spot",
                when=Q(superseded=False),
                name="one_reading_a_round_and_spot",
                says="That spot has a reading in this round already.",
            ),
        ]


class DrySigned(Fact):
    """Who said she is dry, on what evidence. It opens the way to coating.

    `excused` is a list of {"spot": code, "why": text}; `heat_off_h` [h] is how long heat was off before the
    last round.
    """

    yard_path = "treatment__yard"

    treatment = models.ForeignKey(Treatment, models.PROTECT, related_name="dry_signed")
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    signed_on = models.DateField()
    excused = models.JSONField(default=list, blank=True)
    film_test = models.BooleanField(default=False)
    heat_off_h = models.DecimalField(**HOURS, null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        verbose_name_plural = "dry signed"
        constraints = [
            once(
                "treatment",
                when=Q(superseded=False),
                name="one_dry_signed_in_force_a_treatment",
                says="She is signed dry already.",
            ),
        ]


class Work(Fact):
    """Hours one person worked on one stage on one day [h]."""

    yard_path = "stage__yard"

    stage = models.ForeignKey(Stage, models.PROTECT, related_name="work")
    person = models.ForeignKey(Person, models.PROTECT, related_name="work")
    day_on = models.DateField()
    hours = models.DecimalField(**HOURS)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        verbose_name_plural = "work"
        constraints = [
            check(
                Q(hours__gt=0, hours__lte=24),
                name="a_day_of_work_has_at_most_24_hours",
                says="Hours must be more than 0 and at most 24.",
            ),
        ]


class WashRecord(Fact):
    """One wash of the open laminate, on one day of a stage that washes or dries. Empty fields were not said.

    `minutes` [min] of washing; `water_c` [degrees C] at the lance, 30 to 100, usually 60 to 90 (common
    practice: hot fresh water carries out what holds the water in). A cold rinse leaves it empty.
    """

    yard_path = "stage__yard"

    stage = models.ForeignKey(Stage, models.PROTECT, related_name="washes")
    day_on = models.DateField()
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    water_c = models.DecimalField(**CELSIUS, null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["stage", "day_on"]
        constraints = [
            once(
                "stage",
                "day_on",
                when=Q(superseded=False),
                name="one_wash_a_stage_and_day",
                says="A wash of that day is there already.",
            ),
            *above_zero("minutes"),
            *between(30, 100, "water_c"),
        ]


class How(models.TextChoices):
    """How something was told."""

    PHONE = "phone"
    MAIL = "mail"
    LETTER = "letter"
    IN_PERSON = "in_person", "in person"


class Promise(Fact):
    """A date told to an owner: its kind, by whom, when, with the odds it had [%].

    `plan_number` names the plan.
    """

    yard_path = "treatment__yard"

    treatment = models.ForeignKey(Treatment, models.PROTECT, related_name="promises")
    kind = models.CharField(max_length=5, choices=DateKind.choices)
    promised_on = models.DateField()
    said_on = models.DateField()
    by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    how = models.CharField(max_length=9, choices=How.choices)
    odds_pct = models.PositiveSmallIntegerField(null=True, blank=True)
    plan_number = models.PositiveIntegerField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["treatment", "said_on", "id"]
        constraints = [
            known("kind", DateKind),
            known("how", How),
            once(
                "treatment",
                when=Q(superseded=False),
                name="one_promise_in_force_a_treatment",
                says="She has a promise already; a new one replaces it.",
            ),
            *between(0, 100, "odds_pct"),
        ]
