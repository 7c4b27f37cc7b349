"""Schemes: the yard's recipes, the norms of their stages, and what a stage demands."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from yard.models.base import (
    DAYS,
    HOURS,
    MONEY,
    Named,
    Record,
    Retiring,
    Versioned,
    YardRecord,
    above_zero,
    between,
    check,
    known,
    not_below_zero,
    once,
)
from yard.models.boats import Meter
from yard.models.kit import KitKind
from yard.models.people import Skill
from yard.models.stores import CoatingSheet
from yard.models.yards import OutsideWho

AIR_WORDS = ("dust", "grit", "steam", "vapour", "wet")
"""What work puts into the air, and what may spoil work in it."""


def words_of_air(value: str) -> None:
    """Accept only words of `AIR_WORDS`, parted by spaces.

    Raises:
        ValidationError: naming the word that is not one.
    """
    for word in value.split():
        if word not in AIR_WORDS:
            raise ValidationError(f"“{word}” is none of {', '.join(AIR_WORDS)}.")


class StageKind(models.TextChoices):
    """Kinds of stages; a yard names its own stages within them."""

    LIFT = "lift"
    STRIP = "strip"
    SURVEY = "survey"
    PEEL = "peel"
    BLAST = "blast"
    WASH = "wash"
    DRY = "dry"
    LAMINATE = "laminate"
    FAIR = "fair"
    COAT = "coat"
    ANTIFOUL = "antifoul"
    CURE = "cure"
    REFIT = "refit"
    MAST = "mast"
    RELAUNCH = "relaunch"
    WAIT = "wait"
    OTHER = "other"


class PlaceNeed(models.TextChoices):
    """Where a stage may be done."""

    ANY = "any", "any bay"
    ROOF = "roof", "under a roof"
    HEAT = "heat", "in heated air, or in a tent where the stage says so"
    AWAY_OK = "away_ok", "any bay, or away"
    PAD = "pad", "on drained ground in the open"
    OUTSIDE = "outside", "on the hardstanding or the pad"
    DOCK = "dock", "at the hoist"


class Movable(models.TextChoices):
    """Whether she can be moved while the stage runs."""

    YES = "yes"
    PRICE = "price", "at a price"
    NO = "no"


class Area(models.TextChoices):
    """Which area of the hull hours are counted by."""

    PEEL = "peel"
    COAT = "coat"
    ANTIFOUL = "antifoul"


class Norms(models.Model):
    """What a stage is like, shared by the recipe and by the copy each treatment carries.

    Days are working days [d]; waits are calendar days after the stage before [d]. `parts` is in how many
    equal parts the stage is planned; `tented` says a tent with heaters can stand in for heated air;
    `outside_who` makes it run only on that visitor's days; `tide` needs a tide the hoist can use.
    `breaks_allowed` counts the overcoat windows that may break, each at `break_money` for a wash and
    abrade. A coat stage has `coats` of epoxy (four to six under water, common practice), `coats_a_day` of
    them on one day (two only on a warm hull), by the figures of its `sheet`; without one, by the sheet every
    yard starts with.
    """

    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=10, choices=StageKind.choices)
    name = models.CharField(max_length=60)
    place = models.CharField(max_length=8, choices=PlaceNeed.choices, default=PlaceNeed.ANY)
    movable = models.CharField(max_length=6, choices=Movable.choices, default=Movable.YES)
    wait_min_d = models.DecimalField(**DAYS, default=0)
    wait_max_d = models.DecimalField(**DAYS, null=True, blank=True)
    makes = models.CharField(max_length=40, blank=True, validators=[words_of_air])
    spoiled_by = models.CharField(max_length=40, blank=True, validators=[words_of_air])
    days_low = models.DecimalField(**DAYS, default=1)
    days_likely = models.DecimalField(**DAYS, default=1)
    days_high = models.DecimalField(**DAYS, default=1)
    breaks_allowed = models.PositiveSmallIntegerField(default=0)
    break_money = models.DecimalField(**MONEY, default=0)
    coats = models.PositiveSmallIntegerField(default=0)
    coats_a_day = models.PositiveSmallIntegerField(default=1)
    sheet = models.ForeignKey(CoatingSheet, models.PROTECT, null=True, blank=True, related_name="+")
    parts = models.PositiveSmallIntegerField(default=1)
    tented = models.BooleanField(default=False)
    outside_who = models.CharField(max_length=12, choices=OutsideWho.choices, blank=True)
    tide = models.BooleanField(default=False)
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.name


NORMS = tuple(field.name for field in Norms._meta.fields)
"""The fields a treatment's stage takes over from the scheme's."""


def norm_rules() -> list[models.CheckConstraint]:
    """The rules of `Norms`, for each record that carries them."""
    return [
        known("kind", StageKind),
        known("place", PlaceNeed),
        known("movable", Movable),
        known("outside_who", OutsideWho, blank=True),
        *not_below_zero("days_low", "wait_min_d", "break_money"),
        *above_zero("parts"),
        *between(0, 12, "coats"),
        *between(1, 2, "coats_a_day"),
        check(
            Q(coats=0) | Q(kind=StageKind.COAT),
            name="%(class)s_only_a_coat_stage_has_coats",
            says="Only a stage of kind coat has coats.",
        ),
        check(
            Q(days_low__lte=F("days_likely"), days_likely__lte=F("days_high")),
            name="%(class)s_days_run_from_low_to_high",
            says="Days must run from low over likely to high.",
        ),
        check(
            Q(wait_max_d__isnull=True) | Q(wait_max_d__gte=F("wait_min_d")),
            name="%(class)s_waits_run_from_least_to_greatest",
            says="The greatest wait must not be below the least.",
        ),
    ]


class Needs(models.Model):
    """Something a stage demands: hours of a skill, a kind of kit by the hour or held, or lifts.

    `hours_fixed` [h] and `hours_per_m2` [h/m2 of `area`] are for the whole stage, or, with `every_d` [d] or
    `times`, for each visit inside a waiting stage. `people` is how many work at once. `held` keeps
    `kit_count` of the kit for the whole stay.
    """

    skill = models.ForeignKey(Skill, models.PROTECT, null=True, blank=True, related_name="+")
    kit_kind = models.CharField(max_length=12, choices=KitKind.choices, blank=True)
    kit_count = models.PositiveSmallIntegerField(default=1)
    lifts = models.PositiveSmallIntegerField(default=0)
    people = models.PositiveSmallIntegerField(default=1)
    hours_fixed = models.DecimalField(**HOURS, default=0)
    hours_per_m2 = models.DecimalField(max_digits=6, decimal_places=3, default=0)
    area = models.CharField(max_length=8, choices=Area.choices, blank=True)
    every_d = models.DecimalField(**DAYS, null=True, blank=True)
    times = models.PositiveSmallIntegerField(null=True, blank=True)
    held = models.BooleanField(default=False)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return str(self.skill or self.get_kit_kind_display() or "lifts")


NEEDS = tuple(field.name for field in Needs._meta.fields)
"""The fields a treatment's demand takes over from the scheme's."""


def need_rules() -> list[models.CheckConstraint]:
    """The rules of `Needs`, for each record that carries them."""
    return [
        known("kit_kind", KitKind, blank=True),
        known("area", Area, blank=True),
        *not_below_zero("hours_fixed", "hours_per_m2"),
        *above_zero("people", "kit_count", "every_d", "times"),
        check(
            Q(hours_fixed__gt=0) | Q(hours_per_m2__gt=0) | Q(lifts__gt=0) | (Q(held=True) & ~Q(kit_kind="")),
            name="%(class)s_demands_something",
            says="A demand needs hours, lifts, or a kit that is held.",
        ),
        check(
            Q(hours_per_m2=0) | ~Q(area=""),
            name="%(class)s_hours_by_area_name_the_area",
            says="Say which area the hours are counted by.",
        ),
        check(
            Q(held=False) | ~Q(kit_kind=""),
            name="%(class)s_only_a_kit_is_held",
            says="Only a kit can be held for the whole stay.",
        ),
    ]


class Scheme(YardRecord, Named, Versioned, Retiring):
    """An ordered list of stages with norms and rules: the yard's recipe.

    Target reading on the meter's scale.
    """

    target_reading = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    meter = models.ForeignKey(Meter, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "yard",
                Lower("name"),
                name="one_scheme_of_a_name_a_yard",
                says="There is a scheme of that name already.",
            ),
        ]


class SchemeStage(Norms, Record):
    """One stage of a scheme. Positions leave gaps of ten, so that another fits between."""

    yard_path = "scheme__yard"

    scheme = models.ForeignKey(Scheme, models.CASCADE, related_name="stages")

    class Meta:
        ordering = ["scheme", "position"]
        constraints = [
            once(
                "scheme",
                "position",
                name="one_stage_a_scheme_and_position",
                says="Another stage has that position.",
            ),
            *norm_rules(),
        ]


class Demand(Needs, Record):
    """What a scheme's stage demands."""

    yard_path = "scheme_stage__scheme__yard"

    scheme_stage = models.ForeignKey(SchemeStage, models.CASCADE, related_name="demands")

    class Meta:
        constraints = [*need_rules()]
