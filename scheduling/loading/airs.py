"""What the yard's airs are like day by day, and what a day in each is worth to a drying or curing hull."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from scheduling.loading.axis import UNTIL_TOLD_DAYS
from yard.models import Air, RegimeNorm, Stoppage, StoppageKind
from yard.models.places import AirKind
from yard.trade import climate, drying
from yard.trade.drying import BLANKETS, COLD, TENT, WEATHER
from yard.trade.ranges import Range

__all__ = ["BLANKETS", "COLD", "TENT", "WEATHER", "Airs", "norms_of"]


def norms_of(rows: Iterable[RegimeNorm]) -> dict[str, drying.RegimeNorm]:
    """The yard's own half-lives by regime, the trade's where it has entered none."""
    own = {
        row.regime: drying.RegimeNorm(
            Range(float(row.half_life_low_d), float(row.half_life_likely_d), float(row.half_life_high_d)),
            float(row.at_c),
            row.source,
        )
        for row in rows
    }
    return {**drying.REGIMES, **own}


@dataclass
class Airs:
    """Temperatures of a yard's airs and what its hulls dry in them.

    `months` is the mean by air and month [degrees C]; `outages` are stoppages of a shed's heat.
    """

    months: Mapping[int, Mapping[int, float]]
    norms: Mapping[str, drying.RegimeNorm]
    outages: list[Stoppage]
    today: date
    _decays: dict[tuple[int | None, bool, date], float] = field(default_factory=dict)

    def regime(self, air: Air | None, *, tented: bool = False) -> str:
        """The regime she dries in; no air stands for the open."""
        if tented:
            return TENT
        return WEATHER if air is None or air.kind == AirKind.OPEN else COLD

    def temperatures(self, air: Air | None, day: date, *, tented: bool = False) -> tuple[float, float]:
        """[degrees C] by day and by night, on a day and the night after it."""
        if air is not None and (tented or air.day_c is not None):
            warm = drying.TENT_C if tented else float(air.day_c or 0)
            cool = drying.TENT_C if tented else float(air.night_c if air.night_c is not None else warm)
            cold_since = self._cold_since(air, day)
            if cold_since is None:
                return warm, cool
            hold_h = climate.TENT_HOLD_H if tented else climate.SHED_HOLD_H
            outside = climate.MONTH_C[day.month - 1] + climate.ROOF_WARMER_C
            since = 24.0 * (day - cold_since).days
            left = climate.after_cut_c((warm + cool) / 2, outside, since, hold_h.likely)
            mean = climate.mean_over_cut_c(left, outside, 24.0, hold_h.likely)
            return min(warm, mean), min(cool, mean)
        if tented:
            return drying.TENT_C, drying.TENT_C
        mean = self._monthly(air, day.month)
        return mean, mean

    def decay_on(self, air: Air | None, day: date, *, tented: bool = False) -> float:
        """By how much the logarithm of what is left above the floor falls on a day [1/day]."""
        key = (air.pk if air else None, tented, day)
        if key not in self._decays:
            regime = self.regime(air, tented=tented)
            by_day, by_night = self.temperatures(air, day, tented=tented)
            self._decays[key] = sum(drying.decay_a_day(regime, c, self.norms) for c in (by_day, by_night)) / 2
        return self._decays[key]

    def rate_on(self, air: Air | None, day: date, *, tented: bool = False) -> float:
        """What a day is worth in days of tent drying [-]."""
        return self.decay_on(air, day, tented=tented) / self.tent_decay

    @property
    def tent_decay(self) -> float:
        """The decay of one day in a heated tent [1/day]."""
        return drying.decay_a_day(TENT, drying.TENT_C, self.norms)

    def _monthly(self, air: Air | None, month: int) -> float:
        warmer = 0.0 if air is None or air.kind == AirKind.OPEN else climate.ROOF_WARMER_C
        own = self.months.get(air.pk, {}) if air else {}
        return own.get(month, climate.MONTH_C[month - 1] + warmer)

    def _cold_since(self, air: Air, day: date) -> date | None:
        """The day on which the heat of its shed went off, if it is off on `day`."""
        for stoppage in self.outages:
            last = stoppage.last_day or max(self.today, stoppage.first_day) + timedelta(days=UNTIL_TOLD_DAYS)
            if stoppage.shed_id == air.shed_id and stoppage.first_day <= day <= last:
                return stoppage.first_day
        return None


def outages_in(stoppages: Iterable[Stoppage]) -> list[Stoppage]:
    """Those that take a shed's heat."""
    return [row for row in stoppages if row.kind == StoppageKind.NO_HEAT and row.shed_id]
