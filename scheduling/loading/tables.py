"""Finish tables: if it starts in slot s, before which slot is it finished, and at what extra price.

A table is made once for all that share it; its id says what it is.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta

from scheduling.engine.problem import Table
from scheduling.loading.axis import Axis
from scheduling.loading.records import Records
from yard.models import Air
from yard.models.places import AirKind
from yard.trade.curing import hours_at_20, night_and_day_at_20, window_is_broken
from yard.trade.drying import days_to_dry, drying_rate

CREW = "crew"

MONTH_C = (6.0, 6.0, 7.5, 9.0, 12.0, 14.5, 16.5, 16.5, 15.0, 12.0, 9.0, 7.0)
"""[degrees C] mean air outdoors by month where the yard has entered none: a mild western coast. From
memory."""

ROOF_WARMER_C = 2.5
"""[degrees C] that an unheated shed is warmer than outdoors where the yard has entered no months. Common
practice; 1 to 4."""

TENT = "tent"


@dataclass
class Tables:
    """All finish tables of one Problem. Methods give a table's id, or None where no start is possible at
    all."""

    records: Records
    axis: Axis
    made: dict[str, Table] = field(default_factory=dict)
    _rates: dict[str, list[float]] = field(default_factory=dict)

    def crew(self, length: int) -> str | None:
        """Work of `length` ordinary working days, one after another."""
        return self._keep(
            f"crew {length}", [self._worked(s, length) for s in range(self.axis.slots)], open_=CREW
        )

    def on_slots(self, name: str, allowed: Sequence[bool]) -> str | None:
        """Work of one day on the slots that are `allowed`: a tide, an outsider's visit."""
        return self._keep(name, [s + 1 if ok else None for s, ok in enumerate(allowed)])

    def outside(self, who: str, length: int, allowed: Sequence[bool]) -> str | None:
        """Work of `length` days that begins on an outsider's day."""
        ends = [self._worked(s, length) if ok else None for s, ok in enumerate(allowed)]
        return self._keep(f"{who} {length}", ends, open_=CREW)

    def drying(self, dose: float, air: Air | None) -> str | None:
        """A `dose` of drying [days in a tent] in an air; None = in a tent."""
        name = TENT if air is None else f"air {air.pk}"
        rates = self.rates(air)
        ends: list[int | None] = []
        for start in self.axis.days:
            done = days_to_dry(dose, rates, (start - self.axis.days[0]).days)
            ends.append(None if done is None else self._slot_after(done))
        return self._keep(f"dry {dose:.3f} {name}", ends, waiting=True)

    def curing(self, hours_20: float, air: Air) -> str | None:
        """`hours_20` [h at 20 degrees C] of cure in an air, counting nights and closed days."""
        worth = [
            night_and_day_at_20(24, float(air.day_c), float(air.night_c or air.day_c))
            if air.day_c is not None
            else hours_at_20(24, self._mean_c(air, day.month))
            for day in self.axis.calendar
        ]
        ends: list[int | None] = []
        for start in self.axis.days:
            done = days_to_dry(hours_20, worth, (start - self.axis.days[0]).days)
            ends.append(None if done is None else self._slot_after(done))
        return self._keep(f"cure {hours_20:.1f} air {air.pk}", ends, waiting=True)

    def campaign(self, length: int, air: Air, *, breaks_allowed: int, break_price: int) -> str | None:
        """Coats of `length` working days: each closed day between two coats that breaks the overcoat window
        is priced."""
        day_c = float(air.day_c) if air.day_c is not None else 20.0
        night_c = float(air.night_c) if air.night_c is not None else day_c
        ends: list[int | None] = []
        prices = []
        for start in range(self.axis.slots):
            end = self._worked(start, length)
            worked = [s for s in range(start, end) if self.axis.crew[s]] if end is not None else []
            days = [self.axis.days[s] for s in worked]
            broken = sum(
                window_is_broken((b - a).days * 24.0, day_c, night_c) for a, b in itertools.pairwise(days)
            )
            ends.append(end if broken <= breaks_allowed else None)
            prices.append(broken * break_price)
        name = f"coat {length} air {air.pk} {breaks_allowed} {break_price}"
        return self._keep(name, ends, open_=CREW, prices=prices)

    def rates(self, air: Air | None) -> list[float]:
        """What each calendar day of the axis is worth in days of tent drying, in an air; None = in a tent."""
        name = TENT if air is None else str(air.pk)
        if name not in self._rates:
            self._rates[name] = [self.rate_on(air, day.month) for day in self.axis.calendar]
        return self._rates[name]

    def rate_on(self, air: Air | None, month: int) -> float:
        """What one day of a month is worth in days of tent drying, in an air; None = in a tent."""
        if air is None:
            return 1.0
        if air.day_c is not None:
            night = air.night_c if air.night_c is not None else air.day_c
            return (drying_rate(float(air.day_c)) + drying_rate(float(night))) / 2
        return drying_rate(self._mean_c(air, month), open_air=air.kind == AirKind.OPEN)

    def _mean_c(self, air: Air, month: int) -> float:
        months = self.records.air_months.get(air.pk, {})
        warmer = 0.0 if air.kind == AirKind.OPEN else ROOF_WARMER_C
        return months.get(month, MONTH_C[month - 1] + warmer)

    def _worked(self, start: int, length: int) -> int | None:
        """The slot after `length` ordinary working days from `start`, itself one."""
        if not self.axis.crew[start]:
            return None
        left = length
        for slot in range(start, self.axis.slots):
            left -= self.axis.crew[slot]
            if left == 0:
                return slot + 1
        return None

    def _slot_after(self, day: int) -> int | None:
        """The first slot after the calendar day with this index; None past the axis."""
        after = self.axis.at(self.axis.days[0] + timedelta(days=day + 1))
        return after if after < self.axis.slots or day + 1 == len(self.axis.calendar) else None

    def _keep(
        self,
        name: str,
        ends: list[int | None],
        *,
        open_: str | None = None,
        prices: list[int] | None = None,
        waiting: bool = False,
    ) -> str | None:
        if name not in self.made:
            self.made[name] = Table(
                id=name,
                finish=tuple(ends),
                price=tuple(prices) if prices and any(prices) else (),
                open=open_,
                waiting=waiting,
            )
        return name if any(end is not None for end in self.made[name].finish) else None
