"""Owners, their boats, the girths and spots of a hull, and the meters that read it."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from yard.models.base import (
    METRES,
    SQUARE_METRES,
    TONNES,
    Named,
    Record,
    Retiring,
    Versioned,
    YardRecord,
    above_zero,
    check,
    known,
    not_below_zero,
    once,
)


class Owner(YardRecord, Named, Versioned):
    """Who pays. `forgotten_at` marks a row whose name and contacts were blanked."""

    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(blank=True)
    note = models.TextField(blank=True)
    forgotten_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]


class HullKind(models.TextChoices):
    """What sort of hull."""

    SAIL = "sail"
    MOTOR = "motor"
    MOTOR_SAILER = "motor_sailer"
    MULTIHULL = "multihull"
    OTHER = "other"


class KeelKind(models.TextChoices):
    """What is under it."""

    FIN = "fin"
    LONG = "long"
    BILGE = "bilge"
    LIFTING = "lifting"
    NONE = "none"
    OTHER = "other"


class Boat(YardRecord, Named, Versioned, Retiring):
    """The hull, as declared and as weighed. Lengths [m], displacement [t], areas as measured [m2].

    `stand_height_m` is keel to the highest point with the mast off, as she stands on the mover or in a bay.
    """

    owner = models.ForeignKey(Owner, models.PROTECT, null=True, blank=True, related_name="boats")
    type = models.CharField(max_length=60, blank=True)
    hull_kind = models.CharField(max_length=12, choices=HullKind.choices, blank=True)
    keel_kind = models.CharField(max_length=8, choices=KeelKind.choices, blank=True)
    length_m = models.DecimalField(**METRES)
    lwl_m = models.DecimalField(**METRES, null=True, blank=True)
    beam_m = models.DecimalField(**METRES)
    bwl_m = models.DecimalField(**METRES, null=True, blank=True)
    draught_m = models.DecimalField(**METRES)
    canoe_draught_m = models.DecimalField(**METRES, null=True, blank=True)
    stand_height_m = models.DecimalField(**METRES)
    displacement_t = models.DecimalField(**TONNES)
    weighed_t = models.DecimalField(**TONNES, null=True, blank=True)
    weighed_on = models.DateField(null=True, blank=True)
    mast_m = models.DecimalField(**METRES, null=True, blank=True)
    laminate_mm = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    core = models.BooleanField(default=False)
    peel_m2 = models.DecimalField(**SQUARE_METRES, null=True, blank=True)
    coat_m2 = models.DecimalField(**SQUARE_METRES, null=True, blank=True)
    antifoul_m2 = models.DecimalField(**SQUARE_METRES, null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "yard",
                Lower("name"),
                "owner",
                name="one_boat_of_a_name_an_owner",
                says="The owner has a boat of that name already.",
            ),
            # Two rows without an owner would pass the rule above: NULL equals nothing.
            once(
                "yard",
                Lower("name"),
                when=Q(owner__isnull=True),
                name="one_ownerless_boat_of_a_name",
                says="There is a boat of that name without an owner already; say whose this one is.",
            ),
            known("hull_kind", HullKind, blank=True),
            known("keel_kind", KeelKind, blank=True),
            *above_zero(
                "length_m",
                "lwl_m",
                "beam_m",
                "bwl_m",
                "draught_m",
                "canoe_draught_m",
                "stand_height_m",
                "displacement_t",
                "weighed_t",
                "mast_m",
                "laminate_mm",
                "peel_m2",
                "coat_m2",
                "antifoul_m2",
            ),
            check(
                Q(beam_m__lt=F("length_m")),
                name="a_boat_is_longer_than_wide",
                says="Her beam must be less than her length.",
            ),
        ]


class Girth(Record):
    """The girth of the hull below the waterline [m], so far aft of the stem [m]."""

    yard_path = "boat__yard"

    boat = models.ForeignKey(Boat, models.PROTECT, related_name="girths")
    position_m = models.DecimalField(**METRES)
    girth_m = models.DecimalField(**METRES)

    class Meta:
        ordering = ["boat", "position_m"]
        constraints = [
            once(
                "boat",
                "position_m",
                name="one_girth_a_boat_and_position",
                says="That girth is there already.",
            ),
            *not_below_zero("position_m", "girth_m"),
        ]


class Spot(Record, Retiring):
    """A marked place on the hull. Rounds go in `walk_order`; a reference spot is on the dry topside."""

    yard_path = "boat__yard"

    boat = models.ForeignKey(Boat, models.PROTECT, related_name="spots")
    code = models.CharField(max_length=12)
    walk_order = models.PositiveSmallIntegerField()
    is_reference = models.BooleanField(default=False)
    where = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["boat", "walk_order"]
        constraints = [
            once(
                "boat", "code", name="one_spot_a_boat_and_code", says="She has a spot of that code already."
            ),
            once(
                "boat",
                "walk_order",
                name="one_spot_a_boat_and_step",
                says="Another spot has that place in the walk.",
            ),
        ]

    def __str__(self) -> str:
        return self.code


class Meter(YardRecord, Named, Retiring):
    """A moisture meter and the ends of its scale."""

    scale_low = models.DecimalField(max_digits=6, decimal_places=1, default=0)
    scale_high = models.DecimalField(max_digits=6, decimal_places=1, default=100)

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "yard",
                Lower("name"),
                name="one_meter_of_a_name_a_yard",
                says="There is a meter of that name already.",
            ),
            check(
                Q(scale_low__lt=F("scale_high")),
                name="a_meter_reads_from_low_to_high",
                says="The scale's low end must be below its high end.",
            ),
        ]
