"""How fast hulls dry at this yard."""

from django.db import models
from django.db.models import F, Q

from yard.models.base import CELSIUS, DAYS, Versioned, YardRecord, above_zero, check, known, once


class Regime(models.TextChoices):
    """What a hull is dried in."""

    WEATHER = "weather", "in the weather"
    COLD = "cold", "in a cold shed"
    TENT = "tent", "in a heated tent"
    BLANKETS = "blankets", "under heated vacuum blankets"


class RegimeNorm(YardRecord, Versioned):
    """The days in which readings fall halfway to where they end, in one regime, low to high [d].

    `at_c` is the temperature of the air the days are meant at [degrees C]. A regime without a row here goes
    by the trade's own figures (`yard.trade.drying`), all common practice: weather 60 to 90 days, cold shed
    40 to 60, tent 16 to 27, blankets 2 to 4. The manager may change them, best from the yard's finished
    boats, and says in `source` where they come from.
    """

    regime = models.CharField(max_length=8, choices=Regime.choices)
    half_life_low_d = models.DecimalField(**DAYS)
    half_life_likely_d = models.DecimalField(**DAYS)
    half_life_high_d = models.DecimalField(**DAYS)
    at_c = models.DecimalField(**CELSIUS)
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["regime"]
        constraints = [
            known("regime", Regime),
            once(
                "yard",
                "regime",
                name="one_norm_a_yard_and_regime",
                says="That regime has its norm already.",
            ),
            *above_zero("half_life_low_d"),
            check(
                Q(
                    half_life_low_d__lte=F("half_life_likely_d"),
                    half_life_likely_d__lte=F("half_life_high_d"),
                ),
                name="%(class)s_half_lives_run_from_low_to_high",
                says="Half-lives must run from low over likely to high.",
            ),
            check(
                Q(at_c__gte=-10, at_c__lte=80),
                name="%(class)s_at_c_is_in_range",
                says="The temperature the half-lives are meant at [°C] must be between -10 and 80.",
            ),
        ]

    def __str__(self) -> str:
        return self.get_regime_display()
