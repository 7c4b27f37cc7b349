"""The official tide table, as the yard enters it. For planning only."""

from django.db import models

from yard.models.base import METRES, Record, YardRecord, between, once
from yard.models.yards import Yard


class TideTable(YardRecord):
    """One year's table of one place, with the datum its heights stand on and where it was taken from."""

    place = models.CharField(max_length=80)
    datum = models.CharField(max_length=80)
    source = models.CharField(max_length=200)
    year = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["year"]
        constraints = [
            once(
                "yard",
                "place",
                "year",
                name="one_tide_table_a_place_and_year",
                says="That year's table is there already.",
            ),
            *between(1900, 2200, "year"),
        ]

    def __str__(self) -> str:
        return f"{self.place} {self.year}"


class TideWater(Record):
    """One high or low water: the instant [UTC] and the height above datum [m].

    Replaced whole with its table.
    """

    yard_path = "table__yard"

    table = models.ForeignKey(TideTable, models.CASCADE, related_name="waters")
    at = models.DateTimeField()
    height_m = models.DecimalField(**METRES)
    is_high = models.BooleanField()

    class Meta:
        ordering = ["at"]
        constraints = [
            once(
                "table",
                "at",
                name="one_water_a_table_and_instant",
                says="That water is in the table already.",
            ),
        ]


def waters_of(yard: Yard) -> models.QuerySet[TideWater]:
    """The waters of the place whose table the yard entered last, in order of time; other places' are left."""
    place = TideTable.objects.of(yard).order_by("-pk").values("place")[:1]
    return TideWater.objects.of(yard).filter(table__place=models.Subquery(place)).order_by("at")
