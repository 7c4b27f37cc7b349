"""Finish tables: if it starts in slot s, before which slot is it finished, and at what extra price.

A table is made once for all that share it; its id says what it is.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import pairwise

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
    calendars: dict[str, tuple[int, ...]] = field(default_factory=dict)
    _rates: dict[str, list[float]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.calendars[CREW] = self.axis.crew

    def without(self, closed: Sequence[bool]) -> str:
        """The calendar of working days less those that are `closed`."""
        row = tuple(0 if shut else crew for crew, shut in zip(self.axis.crew, closed, strict=True))
        known = next((name for name, days in self.calendars.items() if days == row), None)
        if known is None:
            known = f"visits {len(self.calendars)}"
            self.calendars[known] = row
        return known

    def crew(self, length: int, calendar: str = CREW) -> str | None:
        """Work of `length` ordinary working days, one after another, with its demands in a calendar."""
        return self._keep(
            f"crew {length} {calendar}",
            lambda: [self._worked(s, length) for s in range(self.axis.slots)],
            open_=calendar,
        )

    def on_slots(self, name: str, allowed: Sequence[bool]) -> str | None:
        """Work of one day on the slots that are `allowed`: a tide, an outsider's visit."""
        return self._keep(name, lambda: [s + 1 if ok else None for s, ok in enumerate(allowed)])

    def outside(self, who: str, length: int, allowed: Sequence[bool]) -> str | None:
        """Work of `length` days that begins on an outsider's day."""
        return self._keep(
            f"{who} {length}",
            lambda: [self._worked(s, length) if ok else None for s, ok in enumerate(allowed)],
            open_=CREW,
        )

    def drying(self, dose: float, air: Air | None, calendar: str = CREW) -> str | None:
        """A `dose` of drying [days in a tent] in an air (None = in a tent), with its visits in a calendar."""
        name = TENT if air is None else f"air {air.pk}"
        return self._keep(
            f"dry {dose:.3f} {name} {calendar}",
            lambda: self._waited(dose, self.rates(air)),
            open_=calendar,
            waiting=True,
        )

    def curing(self, hours_20: float, air: Air) -> str | None:
        """`hours_20` [h at 20 degrees C] of cure in an air, counting nights and closed days."""

        def worth(month: int) -> float:
            if air.day_c is None:
                return hours_at_20(24, self._mean_c(air, month))
            return night_and_day_at_20(24, float(air.day_c), float(air.night_c or air.day_c))

        return self._keep(
            f"cure {hours_20:.1f} air {air.pk}",
            lambda: self._waited(hours_20, [worth(day.month) for day in self.axis.calendar]),
            waiting=True,
        )

    def campaign(self, length: int, air: Air, *, breaks_allowed: int, break_price: int) -> str | None:
        """Coats of `length` working days: each closed day between two coats that breaks the overcoat
        window is priced."""
        day_c = float(air.day_c) if air.day_c is not None else 20.0
        night_c = float(air.night_c) if air.night_c is not None else day_c
        broken: list[int] = []

        def ends() -> list[int | None]:
            found: list[int | None] = []
            for start in range(self.axis.slots):
                end = self._worked(start, length)
                worked = [s for s in range(start, end) if self.axis.crew[s]] if end is not None else []
                gaps = [(self.axis.days[b] - self.axis.days[a]).days for a, b in pairwise(worked)]
                broken.append(sum(window_is_broken(gap * 24.0, day_c, night_c) for gap in gaps))
                found.append(end if broken[-1] <= breaks_allowed else None)
            return found

        return self._keep(
            f"coat {length} air {air.pk} {breaks_allowed} {break_price}",
            ends,
            open_=CREW,
            prices=lambda: [count * break_price for count in broken],
        )

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

    def _waited(self, amount: float, worth: Sequence[float]) -> list[int | None]:
        """For each slot, the slot after the calendar day on which `amount` is reached."""
        first = self.axis.days[0]
        ends: list[int | None] = []
        for start in self.axis.days:
            done = days_to_dry(amount, worth, (start - first).days)
            ends.append(None if done is None else self.axis.at(first + timedelta(days=done + 1)))
        return ends

    def _keep(
        self,
        name: str,
        ends: Callable[[], list[int | None]],
        *,
        open_: str | None = None,
        prices: Callable[[], list[int]] = list,
        waiting: bool = False,
    ) -> str | None:
        """Make the table unless it is there; its id, or None where no start is possible at all."""
        if name not in self.made:
            finish, price = tuple(ends()), tuple(prices())
            self.made[name] = Table(
                id=name, finish=finish, price=price if any(price) else (), open=open_, waiting=waiting
            )
        return name if any(end is not None for end in self.made[name].finish) else None
