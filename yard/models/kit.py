"""Kit, the hoist and its slings: what is limited and used or held."""

from django.db import models
from django.db.models.functions import Lower

from yard.models.base import (
    HOURS,
    KILOWATTS,
    METRES,
    MONEY,
    TONNES,
    Named,
    Record,
    Retiring,
    Versioned,
    YardRecord,
    above_zero,
    known,
    not_below_zero,
    once,
)
from yard.models.places import Size


class KitKind(models.TextChoices):
    """Kinds of kit."""

    PEEL = "peel"
    EXTRACTOR = "extractor"
    HOT_WASH = "hot_wash"
    TENT = "tent"
    HEATER = "heater"
    DEHUMIDIFIER = "dehumidifier"
    BLANKET = "blanket"
    ROLLER_TEAM = "roller_team"
    RUDDER_RACK = "rudder_rack"
    MOVER = "mover"
    OTHER = "other"


class Kit(YardRecord, Named, Versioned, Retiring):
    """Anything limited, by the number of them. Used by the hour, or held for as long as a stage stays.

    `kw` is the power of one; `set_h` and `strike_h` the hours to put it up and take it down; `for_tent_s`,
    `_m`, `_l` how many go into a tent of that size. `price_day_money` is what one more costs a day, 0 where
    nobody has said. A mover has a `safe_load_t`, the height it adds, and moves a day.
    """

    kind = models.CharField(max_length=12, choices=KitKind.choices)
    count = models.PositiveSmallIntegerField(default=1)
    size = models.CharField(max_length=1, choices=Size.choices, blank=True)
    kw = models.DecimalField(**KILOWATTS, default=0)
    set_h = models.DecimalField(**HOURS, default=0)
    strike_h = models.DecimalField(**HOURS, default=0)
    rate_m2_h = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    price_day_money = models.DecimalField(**MONEY, default=0)
    for_tent_s = models.PositiveSmallIntegerField(default=0)
    for_tent_m = models.PositiveSmallIntegerField(default=0)
    for_tent_l = models.PositiveSmallIntegerField(default=0)
    safe_load_t = models.DecimalField(**TONNES, null=True, blank=True)
    adds_height_m = models.DecimalField(**METRES, default=0)
    moves_a_day = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "yard",
                Lower("name"),
                name="one_kit_of_a_name_a_yard",
                says="There is a kit of that name already.",
            ),
            known("kind", KitKind),
            known("size", Size, blank=True),
            *above_zero("count", "rate_m2_h", "safe_load_t", "moves_a_day"),
            *not_below_zero("kw", "set_h", "strike_h", "price_day_money", "adds_height_m"),
        ]


class Hoist(YardRecord, Named, Versioned, Retiring):
    """What lifts boats out of the water and in again, on tides, below its wind limits [kn].

    `lifts_a_day` is how many it can do at most; what the laid-up fleet has is in `LiftsSold`.
    """

    safe_load_t = models.DecimalField(**TONNES)
    certificate_until = models.DateField(null=True, blank=True)
    minutes_a_lift = models.PositiveSmallIntegerField(default=60)
    lifts_a_day = models.PositiveSmallIntegerField(default=3)
    inside_width_m = models.DecimalField(**METRES)
    wind_mean_kn = models.PositiveSmallIntegerField(default=18)
    wind_gust_kn = models.PositiveSmallIntegerField(default=24)

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "yard",
                Lower("name"),
                name="one_hoist_of_a_name_a_yard",
                says="There is a hoist of that name already.",
            ),
            *above_zero("safe_load_t", "inside_width_m", "minutes_a_lift", "lifts_a_day"),
        ]


class Sling(Record, Named, Retiring):
    """A pair of slings of the hoist, with the load it is marked for [t]."""

    yard_path = "hoist__yard"

    hoist = models.ForeignKey(Hoist, models.PROTECT, related_name="slings")
    safe_load_t = models.DecimalField(**TONNES)
    certificate_until = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "hoist",
                Lower("name"),
                name="one_sling_of_a_name_a_hoist",
                says="There is a sling of that name already.",
            ),
            *above_zero("safe_load_t"),
        ]
