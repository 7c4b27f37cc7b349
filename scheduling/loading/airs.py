"""What the yard's airs are like day by day, and what a day in each is worth to a drying or curing hull."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from scheduling.loading.axis import UNTIL_TOLD_DAYS
from yard.models import Air, RegimeNorm, Stoppage, StoppageKind
from yard.models.places import AirKind
from yard.trade import climate, drying
from yard.trade.drying import COLD, TENT, WEATHER
from yard.trade.ranges import Range

__all__ = ["COLD", "TENT", "WEATHER", "Airs", "norms_of"]


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

    `months` is the mean by air and month [degrees C]; `stoppages` are power cuts and cold spells, of a shed
    or of the whole yard.
    """

    months: Mapping[int, Mapping[int, float]]
    norms: Mapping[str, drying.RegimeNorm]
    stoppages: list[Stoppage]
    today: date
    _decays: dict[tuple[int | None, bool, date], float] = field(default_factory=dict)

    def regime(self, air: Air | None, *, tented: bool = False) -> str:
        """The regime she dries in; no air stands for the open."""
        if tented:
            return TENT
        return WEATHER if air is None or air.kind == AirKind.OPEN else COLD

    def temperatures(self, air: Air | None, day: date, *, tented: bool = False) -> tuple[float, float]:
        """[degrees C] by day and by night, on a day and the night after it."""
        if tented:
            warm = cool = drying.TENT_C
            around = unheated = sum(self.temperatures(air, day)) / 2
            hold_h, lift_c = climate.TENT_HOLD_H.likely, climate.TENT_LIFT_C.likely
        elif air is None or air.day_c is None:
            mean = self._outdoors(air, day)
            return mean, mean
        else:
            warm, cool = float(air.day_c), float(air.night_c if air.night_c is not None else air.day_c)
            around = self._outdoors(air, day)
            unheated = around + climate.ROOF_WARMER_C
            hold_h, lift_c = climate.SHED_HOLD_H.likely, climate.SHED_LIFT_C.likely
        if self._since(StoppageKind.COLD, air, day):
            warm, cool = (climate.in_cold_spell_c(set_c, around, lift_c) for set_c in (warm, cool))
        cut = self._since(StoppageKind.NO_HEAT, air, day)
        if cut is None:
            return warm, cool
        left = climate.after_cut_c((warm + cool) / 2, unheated, 24.0 * (day - cut).days, hold_h)
        mean = climate.mean_over_cut_c(left, unheated, 24.0, hold_h)
        return min(warm, mean), min(cool, mean)

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

    def _outdoors(self, air: Air | None, day: date) -> float:
        """A day's mean in an unheated air [degrees C], by the yard's months; round heated air, outdoors."""
        mean = climate.MONTH_C[day.month - 1]
        if air is not None and air.day_c is None:
            roof = 0.0 if air.kind == AirKind.OPEN else climate.ROOF_WARMER_C
            mean = self.months.get(air.pk, {}).get(day.month, mean + roof)
        spell = self._since(StoppageKind.COLD, air, day)
        return mean - climate.COLD_SPELL_COOLER_C.likely if spell else mean

    def _since(self, kind: str, air: Air | None, day: date) -> date | None:
        """The first day of the stoppage of a kind that covers a day, of the whole yard or the air's shed."""
        for stoppage in self.stoppages:
            here = stoppage.shed_id is None or (air is not None and stoppage.shed_id == air.shed_id)
            last = stoppage.last_day or max(self.today, stoppage.first_day) + timedelta(days=UNTIL_TOLD_DAYS)
            if stoppage.kind == kind and here and stoppage.first_day <= day <= last:
                return stoppage.first_day
        return None
