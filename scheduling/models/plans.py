"""Plans as values: a board that points at them, their placements, and what is kept out of them."""

from django.db import models
from django.db.models import F, Q

from yard.models import Bay, Season, Stage, Treatment, User
from yard.models.base import AppendOnly, Record, YardRecord, check, in_order, known, once


class MadeBy(models.TextChoices):
    """How a plan came about."""

    PACK = "pack"
    HAND = "hand"
    UNDO = "undo"
    REPAIR = "repair"


class Plan(AppendOnly, YardRecord):
    """One outcome, with all its placements. It never changes; posting and being replaced are marked on it.

    `cost` is {kind: minor units} and `bound` a figure no plan can beat [minor units], empty when unproven.
    `alone` is what the boats would cost if each had the yard to herself, together [minor units]; empty where
    that was not reckoned. `kept` says for each late treatment what keeps her: {treatment id: {"rule", "says",
    "days"}}. `fewest` is what would bring in the boats left out: {"things": [words, ...], "whole": whether
    there was time to look for fewer, "at_least": so many are needed}, things empty where nothing was found;
    {} where nobody is left out.
    `late_days` are calendar days and count boats left out. `moves` is what is elsewhere, or on another day,
    than in the plan that was posted when it was made: [{"treatment", "stage", "part", "was": {"bay",
    "first_day"} or None, "now": the same, "cause", "rule", "says": why, "saves": minor units, "others":
    treatments in her way, "frozen": whether it was within the frozen days}, ...].
    """

    may_change = frozenset({"posted_at", "posted_by", "replaced_at"})
    may_die = True

    season = models.ForeignKey(Season, models.PROTECT, related_name="plans")
    number = models.PositiveIntegerField()
    parent = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="children")
    made_by = models.CharField(max_length=6, choices=MadeBy.choices)
    pack = models.ForeignKey("scheduling.Pack", models.PROTECT, null=True, blank=True, related_name="+")
    by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    made_at = models.DateTimeField()
    why = models.CharField(max_length=200, blank=True)
    cost = models.JSONField(default=dict)
    bound = models.BigIntegerField(null=True, blank=True)
    alone = models.BigIntegerField(null=True, blank=True)
    kept = models.JSONField(default=dict)
    fewest = models.JSONField(default=dict, blank=True)
    moves = models.JSONField(default=list, blank=True)
    late_days = models.PositiveIntegerField(default=0)
    late_boats = models.PositiveIntegerField(default=0)
    engine_version = models.CharField(max_length=40, blank=True)
    problem_sha256 = models.CharField(max_length=64, blank=True)
    digest = models.CharField(max_length=64, blank=True)
    posted_at = models.DateTimeField(null=True, blank=True)
    posted_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["season", "number"]
        constraints = [
            known("made_by", MadeBy),
            once(
                "season",
                "number",
                name="one_plan_of_a_number_a_season",
                says="That number is taken; try again.",
            ),
            once(
                "season",
                when=Q(posted_at__isnull=False, replaced_at__isnull=True),
                name="one_posted_plan_a_season",
                says="Another plan is posted; it must be replaced first.",
            ),
            check(
                Q(replaced_at__isnull=True) | Q(posted_at__isnull=False),
                name="only_a_posted_plan_is_replaced",
                says="Only a posted plan can be replaced.",
            ),
        ]

    def __str__(self) -> str:
        return f"plan {self.number} of {self.season}"


class Board(Record):
    """The only planning row that changes: which plan is posted and which is the draft.

    Dies with its season.
    """

    yard_path = "season__yard"

    season = models.OneToOneField(Season, models.CASCADE, related_name="board")
    posted = models.ForeignKey(Plan, models.PROTECT, null=True, blank=True, related_name="+")
    draft = models.ForeignKey(Plan, models.PROTECT, null=True, blank=True, related_name="+")
    version = models.PositiveIntegerField(default=1, editable=False)


class Regime(models.TextChoices):
    """How a drying part is done."""

    WEATHER = "weather"
    COLD = "cold"
    TENT = "tent"


class Placement(AppendOnly):
    """One stage, or one part of it, in one bay: first and last day of work, and the day she leaves the bay.

    She stands there on each day of [first_day, leaves_on). No bay means away, or at the hoist. Dies with
    its plan.
    """

    yard_path = "plan__yard"

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="placements")
    stage = models.ForeignKey(Stage, models.PROTECT, related_name="+")
    part = models.PositiveSmallIntegerField(default=0)
    label = models.CharField(max_length=60, blank=True)
    bay = models.ForeignKey(Bay, models.PROTECT, null=True, blank=True, related_name="+")
    regime = models.CharField(max_length=7, choices=Regime.choices, blank=True)
    first_day = models.DateField()
    last_day = models.DateField()
    leaves_on = models.DateField()

    class Meta:
        ordering = ["plan", "first_day", "id"]
        constraints = [
            known("regime", Regime, blank=True),
            once(
                "plan",
                "stage",
                "part",
                name="a_part_of_a_stage_once_a_plan",
                says="That stage is placed twice.",
            ),
            in_order("first_day", "last_day"),
            check(
                Q(leaves_on__gt=F("last_day")),
                name="she_leaves_after_the_last_day_of_work",
                says="She leaves the bay after her last day of work there.",
            ),
        ]


class Unplaced(AppendOnly):
    """A boat left out of a plan, with the rule that keeps her out and one sentence about it.

    Dies with its plan.
    """

    yard_path = "plan__yard"

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="unplaced")
    treatment = models.ForeignKey(Treatment, models.PROTECT, related_name="+")
    rule = models.CharField(max_length=40)
    says = models.TextField()
    detail = models.JSONField(default=dict)

    class Meta:
        verbose_name_plural = "unplaced"
        constraints = [
            once("plan", "treatment", name="a_boat_left_out_once_a_plan", says="She is left out twice."),
        ]


class Pin(YardRecord):
    """The manager's "this stage stays in this bay" or "starts on this day". Lifted, never deleted."""

    stage = models.ForeignKey(Stage, models.PROTECT, related_name="pins")
    bay = models.ForeignKey(Bay, models.PROTECT, null=True, blank=True, related_name="+")
    first_day = models.DateField(null=True, blank=True)
    by = models.ForeignKey(User, models.PROTECT, related_name="+")
    why = models.CharField(max_length=200, blank=True)
    lifted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            once(
                "stage",
                when=Q(lifted_at__isnull=True),
                name="one_pin_in_force_a_stage",
                says="The stage is pinned already; lift that pin first.",
            ),
            check(
                Q(bay__isnull=False) | Q(first_day__isnull=False),
                name="a_pin_names_a_bay_or_a_day",
                says="A pin needs a bay or a day.",
            ),
        ]
