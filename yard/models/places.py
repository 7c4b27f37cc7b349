"""Places: sheds, the airs in them, lanes, bays, and sites away."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from yard.models.base import (
    CELSIUS,
    HOURS,
    KILOWATTS,
    METRES,
    PERCENT,
    TONNES,
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


class Size(models.TextChoices):
    """Sizes of tents, and of what goes with them."""

    SMALL = "S"
    MEDIUM = "M"
    LARGE = "L"


class Shed(YardRecord, Named, Versioned, Retiring):
    """One roof, or one open stretch of ground (no door). Drained ground can be washed on."""

    door_height_m = models.DecimalField(**METRES, null=True, blank=True)
    door_width_m = models.DecimalField(**METRES, null=True, blank=True)
    power_kw = models.DecimalField(**KILOWATTS, default=0)
    drained = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "yard",
                Lower("name"),
                name="one_shed_of_a_name_a_yard",
                says="There is a shed of that name already.",
            ),
            *above_zero("door_height_m", "door_width_m"),
            *not_below_zero("power_kw"),
        ]


class AirKind(models.TextChoices):
    """How a body of air is kept."""

    HEATED = "heated"
    UNHEATED = "unheated"
    OPEN = "open"


class Air(Record, Named, Versioned, Retiring):
    """One body of dust, steam and warmth: a whole shed, a curtained part of it, the open pad.

    `settle_h` is how long dust hangs after the work that made it. `power_kw` is this part's own circuit,
    where the shed is parted; `tents_max` how many tents can stand in it. Empty means no limit of its own.
    `split_day` says that the yard sands till noon and coats after: dust then spoils no coat of the same day.
    """

    yard_path = "shed__yard"

    shed = models.ForeignKey(Shed, models.PROTECT, related_name="airs")
    kind = models.CharField(max_length=8, choices=AirKind.choices)
    day_c = models.DecimalField(**CELSIUS, null=True, blank=True)
    night_c = models.DecimalField(**CELSIUS, null=True, blank=True)
    rh_pct = models.DecimalField(**PERCENT, null=True, blank=True)
    settle_h = models.DecimalField(**HOURS, default=12)
    power_kw = models.DecimalField(**KILOWATTS, null=True, blank=True)
    tents_max = models.PositiveSmallIntegerField(null=True, blank=True)
    split_day = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "shed",
                Lower("name"),
                name="one_air_of_a_name_a_shed",
                says="The shed has an air of that name already.",
            ),
            known("kind", AirKind),
            check(
                Q(kind=AirKind.HEATED, day_c__isnull=False)
                | (~Q(kind=AirKind.HEATED) & Q(day_c__isnull=True)),
                name="heated_air_says_its_warmth_and_no_other",
                says="Give the day's temperature for heated air, and only for heated air.",
            ),
            *between(0, 100, "rh_pct"),
            *not_below_zero("settle_h", "power_kw"),
        ]


class AirMonth(Record):
    """What an air is like in one month, as a mean [degrees C, %]."""

    yard_path = "air__shed__yard"

    air = models.ForeignKey(Air, models.CASCADE, related_name="months")
    month = models.PositiveSmallIntegerField()
    mean_c = models.DecimalField(**CELSIUS)
    rh_pct = models.DecimalField(**PERCENT)

    class Meta:
        ordering = ["air", "month"]
        constraints = [
            once(
                "air", "month", name="one_row_an_air_and_month", says="That month is given twice for the air."
            ),
            *between(1, 12, "month"),
            *between(0, 100, "rh_pct"),
        ]


class Lane(Record, Named):
    """Bays in a row behind one door: a boat in front is in the way of those behind."""

    yard_path = "shed__yard"

    shed = models.ForeignKey(Shed, models.CASCADE, related_name="lanes")

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "shed",
                Lower("name"),
                name="one_lane_of_a_name_a_shed",
                says="The shed has a lane of that name already.",
            ),
        ]


class Bay(YardRecord, Named, Versioned, Retiring):
    """A place for one boat, with the greatest boat it takes [m, t]. No height limit under the sky.

    `lane_place` 1 is at the door. `tent_size` is the tent that can be put up there; blank means none can.
    """

    shed = models.ForeignKey(Shed, models.PROTECT, related_name="bays")
    air = models.ForeignKey(Air, models.PROTECT, related_name="bays")
    length_m = models.DecimalField(**METRES)
    beam_m = models.DecimalField(**METRES)
    height_m = models.DecimalField(**METRES, null=True, blank=True)
    load_t = models.DecimalField(**TONNES)
    lane = models.ForeignKey(Lane, models.PROTECT, null=True, blank=True, related_name="bays")
    lane_place = models.PositiveSmallIntegerField(null=True, blank=True)
    tent_size = models.CharField(max_length=1, choices=Size.choices, blank=True)

    class Meta:
        ordering = ["shed", "id"]
        constraints = [
            once(
                "yard",
                Lower("name"),
                name="one_bay_of_a_name_a_yard",
                says="There is a bay of that name already.",
            ),
            once(
                "lane",
                "lane_place",
                when=Q(lane__isnull=False),
                name="one_bay_a_place_in_a_lane",
                says="Another bay has that place in the lane.",
            ),
            check(
                Q(lane__isnull=True, lane_place__isnull=True)
                | Q(lane__isnull=False, lane_place__isnull=False, lane_place__gt=0),
                name="a_lane_and_its_place_go_together",
                says="Give the lane and the place in it (1 at the door), or neither.",
            ),
            *above_zero("length_m", "beam_m", "height_m", "load_t"),
            known("tent_size", Size, blank=True),
        ]


class AwaySite(YardRecord, Named, Retiring):
    """Somewhere else a boat can stand, and how long the road takes [h]."""

    travel_h = models.DecimalField(**HOURS)

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "yard",
                Lower("name"),
                name="one_away_site_of_a_name_a_yard",
                says="There is a site of that name already.",
            ),
            *not_below_zero("travel_h"),
        ]
