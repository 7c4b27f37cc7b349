"""What goes on a hull, and the sheets it is used by."""

from decimal import Decimal

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from yard.models.base import (
    CELSIUS,
    HOURS,
    PERCENT,
    Named,
    Retiring,
    Versioned,
    YardRecord,
    above_zero,
    between,
    check,
    once,
)


class CoatingSheet(YardRecord, Named, Versioned, Retiring):
    """How one epoxy cures and may be coated over: what its maker's sheet says, which rules.

    `least_c` is the coldest hull it may go on [degrees C]; `activation_kj` how strongly warmth speeds its
    cure [kJ/mol]. The hours are hours at 20 degrees C [h]: `cure_h_20` till she may be in the water, the
    next coat from `recoat_min_h_20` to `recoat_max_h_20`, tie coat or first antifoul while thumb-tacky, from
    `tacky_min_h_20` to `tacky_max_h_20`. `solids_pct` is solids by volume [%], `film_um` the dry film of one
    coat [micrometres].

    The defaults are a solvent-free epoxy of no maker, common practice: least 12 (10 to 15) for barrier
    coats; activation 50 to 60; cure 5 to 7 days; next coat from 4 to 8 till 24 to 48 hours; tacky from 2 to
    8 hours; 100 to 150 micrometres a rolled coat. The manager may change them.
    """

    least_c = models.DecimalField(**CELSIUS, default=Decimal("12.0"))
    activation_kj = models.DecimalField(max_digits=5, decimal_places=1, default=Decimal("55.0"))
    cure_h_20 = models.DecimalField(**HOURS, default=Decimal("144.00"))
    recoat_min_h_20 = models.DecimalField(**HOURS, default=Decimal("6.00"))
    recoat_max_h_20 = models.DecimalField(**HOURS, default=Decimal("36.00"))
    tacky_min_h_20 = models.DecimalField(**HOURS, default=Decimal("2.00"))
    tacky_max_h_20 = models.DecimalField(**HOURS, default=Decimal("8.00"))
    solids_pct = models.DecimalField(**PERCENT, default=Decimal("100.0"))
    film_um = models.DecimalField(max_digits=6, decimal_places=1, default=Decimal("125.0"))
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            once(
                "yard",
                Lower("name"),
                name="one_sheet_of_a_name_a_yard",
                says="There is a sheet of that name already.",
            ),
            check(
                Q(least_c__gte=-10, least_c__lte=40),
                name="%(class)s_least_c_is_in_range",
                says="The coldest hull [°C] must be between -10 and 40.",
            ),
            *between(20, 120, "activation_kj"),
            *above_zero("cure_h_20", "recoat_min_h_20", "tacky_min_h_20", "film_um"),
            check(
                Q(recoat_min_h_20__lt=F("recoat_max_h_20")),
                name="%(class)s_recoat_window_opens_before_it_closes",
                says="The next coat's last hour must come after its first.",
            ),
            check(
                Q(tacky_min_h_20__lt=F("tacky_max_h_20")),
                name="%(class)s_tacky_window_opens_before_it_closes",
                says="The last tacky hour must come after the first.",
            ),
            check(
                Q(solids_pct__gt=0, solids_pct__lte=100),
                name="%(class)s_solids_are_a_share",
                says="Solids [%%] must be more than 0 and at most 100.",
            ),
        ]
