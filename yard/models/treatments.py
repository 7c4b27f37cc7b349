"""One boat's run through a scheme in one season: its stages, holds, and where she really stands."""

from django.db import models
from django.db.models import Q

from yard.models.base import Record, Versioned, YardRecord, between, check, in_order, known, once
from yard.models.boats import Boat
from yard.models.places import AwaySite, Bay
from yard.models.schemes import Needs, Norms, Scheme, need_rules, norm_rules
from yard.models.yards import Season


class DateKind(models.TextChoices):
    """How hard a date is."""

    FIRM = "firm"
    TIDE = "tide"
    WEEK = "week"
    MONTH = "month"
    WISH = "wish"


class Wetness(models.TextChoices):
    """How wet the laminate was found."""

    LOW = "low"
    MID = "mid"
    HIGH = "high"


class TreatmentState(models.TextChoices):
    """Where a treatment stands as a whole."""

    EXPECTED = "expected"
    HERE = "here"
    AFLOAT = "afloat"
    CANCELLED = "cancelled"


OPEN_STATES = (TreatmentState.EXPECTED, TreatmentState.HERE)
"""A treatment still to be planned."""


class Treatment(YardRecord, Versioned):
    """One boat's run through a scheme in one season. Cancelled, never deleted.

    `weight_pct` weighs each late day: 100 a wish, 200 told in writing, 300 firm (common practice).
    """

    season = models.ForeignKey(Season, models.PROTECT, related_name="treatments")
    boat = models.ForeignKey(Boat, models.PROTECT, related_name="treatments")
    scheme = models.ForeignKey(Scheme, models.PROTECT, related_name="treatments")
    arrives_on = models.DateField()
    arrived_on = models.DateField(null=True, blank=True)
    wanted_on = models.DateField(null=True, blank=True)
    wanted_kind = models.CharField(max_length=5, choices=DateKind.choices, default=DateKind.WISH)
    weight_pct = models.PositiveSmallIntegerField(default=100)
    wetness = models.CharField(max_length=4, choices=Wetness.choices, default=Wetness.MID)
    surveyor = models.CharField(max_length=80, blank=True)
    target_reading = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    state = models.CharField(max_length=9, choices=TreatmentState.choices, default=TreatmentState.EXPECTED)
    away_site = models.ForeignKey(AwaySite, models.PROTECT, null=True, blank=True, related_name="+")
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["arrives_on", "id"]
        constraints = [
            known("wanted_kind", DateKind),
            known("wetness", Wetness),
            known("state", TreatmentState),
            once(
                "season",
                "boat",
                when=Q(state__in=OPEN_STATES),
                name="one_open_treatment_a_season_and_boat",
                says="She has an open treatment this season already.",
            ),
            check(
                ~Q(state__in=[TreatmentState.HERE, TreatmentState.AFLOAT]) | Q(arrived_on__isnull=False),
                name="a_boat_that_is_here_has_arrived",
                says="Say when she arrived.",
            ),
            *between(1, 1000, "weight_pct"),
        ]

    def __str__(self) -> str:
        return f"{self.boat}, {self.season}"


class Status(models.TextChoices):
    """Life of a stage."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    DROPPED = "dropped"


class Stage(Norms, YardRecord, Versioned):
    """One step of one treatment, with the norms copied when it was opened.

    `done_pct` is how much of it is behind her already, so that a yard can start in mid-season. The yard is
    copied from the treatment, for the day's list.
    """

    treatment = models.ForeignKey(Treatment, models.PROTECT, related_name="stages")
    extra = models.BooleanField(default=False)
    status = models.CharField(max_length=7, choices=Status.choices, default=Status.WAITING)
    started_on = models.DateField(null=True, blank=True)
    finished_on = models.DateField(null=True, blank=True)
    done_pct = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["treatment", "position"]
        indexes = [models.Index(fields=["yard", "status"], name="stage_yard_status")]
        constraints = [
            once(
                "treatment",
                "position",
                name="one_stage_a_treatment_and_position",
                says="Another stage has that position.",
            ),
            once(
                "treatment",
                when=Q(status=Status.RUNNING),
                name="one_running_stage_a_treatment",
                says="Another stage of hers is running; finish it first.",
            ),
            known("status", Status),
            # Each branch says which dates are there: a comparison with NULL would pass.
            check(
                Q(status=Status.WAITING, started_on__isnull=True, finished_on__isnull=True)
                | Q(status=Status.RUNNING, started_on__isnull=False, finished_on__isnull=True)
                | Q(
                    status=Status.DONE,
                    started_on__isnull=False,
                    finished_on__isnull=False,
                    finished_on__gte=models.F("started_on"),
                )
                | Q(status=Status.DROPPED),
                name="dates_fit_the_status_of_a_stage",
                says="A waiting stage has no dates, a running one its start, a done one both, in order.",
            ),
            *between(0, 100, "done_pct"),
            *norm_rules(),
        ]


class StageDemand(Needs, Record):
    """What a treatment's stage demands."""

    yard_path = "stage__yard"

    stage = models.ForeignKey(Stage, models.CASCADE, related_name="demands")

    class Meta:
        constraints = [*need_rules()]


class HoldReason(models.TextChoices):
    """For whom or what a stage is held."""

    OWNER = "owner"
    SURVEYOR = "surveyor"
    PARTS = "parts"
    MONEY = "money"
    WEATHER = "weather"
    STORES = "stores"
    READING = "reading"
    PEOPLE = "people"
    OTHER = "other"


class Hold(Record):
    """A stage stopped, or kept from starting: for whom, asked when, expected when. Open until `until_on`."""

    yard_path = "stage__yard"

    stage = models.ForeignKey(Stage, models.PROTECT, related_name="holds")
    from_on = models.DateField()
    until_on = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=8, choices=HoldReason.choices)
    asked_on = models.DateField(null=True, blank=True)
    expected_on = models.DateField(null=True, blank=True)
    whom = models.CharField(max_length=80, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["from_on"]
        constraints = [
            known("reason", HoldReason),
            in_order("from_on", "until_on"),
            once(
                "stage",
                when=Q(until_on__isnull=True),
                name="one_open_hold_a_stage",
                says="The stage is held already; release that hold first.",
            ),
        ]


class Stay(YardRecord):
    """Where she really stands: from the day she came to the bay to the day she left it, which is another's
    first.
    """

    treatment = models.ForeignKey(Treatment, models.PROTECT, related_name="stays")
    bay = models.ForeignKey(Bay, models.PROTECT, related_name="stays")
    from_on = models.DateField()
    until_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["from_on"]
        constraints = [
            in_order("from_on", "until_on"),
            once(
                "bay",
                when=Q(until_on__isnull=True),
                name="one_boat_a_bay",
                says="Another boat stands in that bay.",
            ),
            once(
                "treatment",
                when=Q(until_on__isnull=True),
                name="one_bay_a_boat",
                says="She stands in another bay.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.treatment} in {self.bay}"
