"""Finish tables: if it starts in slot s, before which slot is it finished, and at what extra price.

A table is made once for all that share it; its id says what it is.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import accumulate, pairwise
from typing import NamedTuple

from scheduling.engine.problem import Table
from scheduling.loading.airs import Airs
from scheduling.loading.axis import Axis
from yard.models import Air
from yard.models.places import AirKind
from yard.trade.campaign import campaign_table
from yard.trade.curing import CoatingSheet, night_and_day_at_20
from yard.trade.drying import days_to_dry

CREW = "crew"

LEAST_DOSE = 0.2
"""[days in a tent] that a stage of drying takes at least, however little is left: a last round."""


ASKED_AGAIN = 10
"""[slots] after which somebody from outside is there who is asked to come once more: two weeks. Common
practice."""

MICRO = 1_000_000
"""Worths and amounts are whole numbers: days in millionths."""


class Stand(NamedTuple):
    """Where a boat stands now: an air (None = the open), and whether she is tented there."""

    air: Air | None
    tented: bool


class AddsUp(NamedTuple):
    """How much of which worth a table's work comes to, for those who draw the amount; see `Table`."""

    worth: str
    amount: int
    before: str | None = None
    least: int = 0
    anew: int | None = None


@dataclass
class Tables:
    """All finish tables of one Problem. Methods give a table's id, or None where no start is possible at
    all."""

    axis: Axis
    airs: Airs
    made: dict[str, Table] = field(default_factory=dict)
    calendars: dict[str, tuple[int, ...]] = field(default_factory=dict)
    worths: dict[str, tuple[int, ...]] = field(default_factory=dict)
    _sheets: list[CoatingSheet] = field(default_factory=list)
    _rates: dict[tuple[int | None, bool], list[float]] = field(default_factory=dict)

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
            adds_up=self.working(length),
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
            adds_up=self.working(length)._replace(anew=ASKED_AGAIN),
        )

    def drying(
        self,
        dose: float,
        air: Air,
        calendar: str = CREW,
        *,
        tented: bool = False,
        standing: Stand | None = None,
    ) -> str | None:
        """A `dose` of drying [days in a tent] in an air, or in a tent there, with its visits in a calendar.

        `standing` is where she stands and dries until it starts: the later the start, the less is left.
        """
        rates = self.rates(air, tented=tented)
        name = self._rates_name(air, tented)
        if standing is None:
            gained = [0.0] * len(rates)
        else:
            gained = [0.0, *accumulate(self.rates(standing.air, tented=standing.tented))]
            name = f"{name} after {self._rates_name(standing.air, standing.tented)}"
        return self._keep(
            f"dry {dose:.3f} {name} {calendar}",
            lambda: self._dried(dose, rates, gained),
            open_=calendar,
            waiting=True,
            adds_up=self.dried(dose, air, tented=tented, standing=standing),
        )

    def working(self, length: int) -> AddsUp:
        """So many ordinary working days as an amount."""
        self.worths.setdefault(CREW, tuple(crew * MICRO for crew in self.axis.crew))
        return AddsUp(CREW, length * MICRO)

    def dried(self, dose: float, air: Air | None, *, tented: bool, standing: Stand | None = None) -> AddsUp:
        """A `dose` of drying [days in a tent] as an amount; `standing` as in `drying`."""
        found = AddsUp(self._worth_of(air, tented), max(1, round(dose * MICRO)))
        if standing is None:
            return found
        before = self._worth_of(standing.air, standing.tented)
        return found._replace(before=before, least=round(LEAST_DOSE * MICRO))

    def _worth_of(self, air: Air | None, tented: bool) -> str:
        """What each slot, with the closed days after it, is worth to a hull that dries so."""
        name = f"drying {self._rates_name(air, tented)}"
        if name not in self.worths:
            sums = [0.0, *accumulate(self.rates(air, tented=tented))]
            first = self.axis.days[0]
            starts = [*((day - first).days for day in self.axis.days), len(sums) - 1]
            # Of differences of rounded sums, no error adds up over the winter.
            upto = [round(sums[day] * MICRO) for day in starts]
            self.worths[name] = tuple(b - a for a, b in pairwise(upto))
        return name

    def curing(self, hours_20: float, air: Air, sheet: CoatingSheet) -> str | None:
        """`hours_20` [h at 20 degrees C] of cure in an air, counting nights and closed days."""
        outdoors = air.kind == AirKind.OPEN
        return self._keep(
            f"cure {hours_20:.1f} sheet {self._sheet_number(sheet)} air {air.pk}",
            lambda: self._waited(
                hours_20,
                [
                    night_and_day_at_20(24, *self.airs.temperatures(air, day), sheet, outdoors=outdoors)
                    for day in self.axis.calendar
                ],
            ),
            waiting=True,
        )

    def campaign(
        self,
        coats: int,
        coats_a_day: int,
        air: Air,
        sheet: CoatingSheet,
        *,
        breaks_allowed: int,
        break_price: int,
    ) -> str | None:
        """A coating campaign in an air, coat by coat: each overcoat window that breaks is priced."""
        first = self.axis.days[0]
        starts = [(day - first).days for day in self.axis.days]
        prices: list[int] = []

        def ends() -> list[int | None]:
            crew = {day: open_ == 1 for day, open_ in zip(self.axis.days, self.axis.crew, strict=True)}
            hull = [self.airs.temperatures(air, day) for day in self.axis.calendar]
            runs = campaign_table(
                starts,
                coats=coats,
                coats_a_day=coats_a_day,
                workable=[crew.get(day, False) for day in self.axis.calendar],
                day_c=[by_day for by_day, _ in hull],
                night_c=[by_night for _, by_night in hull],
                sheet=sheet,
                breaks_allowed=breaks_allowed,
                break_price=break_price,
            )
            prices.extend(run.price if run else 0 for run in runs)
            return [self.axis.at(first + timedelta(days=run.last + 1)) if run else None for run in runs]

        name = f"coat {coats} {coats_a_day} sheet {self._sheet_number(sheet)} air {air.pk}"
        return self._keep(
            f"{name} {breaks_allowed} {break_price}",
            ends,
            open_=CREW,
            prices=lambda: prices,
        )

    def rates(self, air: Air | None, *, tented: bool = False) -> list[float]:
        """What each calendar day of the axis is worth in days of tent drying, in an air or a tent there."""
        key = (air.pk if air else None, tented)
        if key not in self._rates:
            self._rates[key] = [self.airs.rate_on(air, day, tented=tented) for day in self.axis.calendar]
        return self._rates[key]

    def _sheet_number(self, sheet: CoatingSheet) -> int:
        """Which of the sheets met so far it is; tables are named in the same order for the same records."""
        if sheet not in self._sheets:
            self._sheets.append(sheet)
        return self._sheets.index(sheet) + 1

    def _rates_name(self, air: Air | None, tented: bool) -> str:
        if tented and all(rate == 1.0 for rate in self.rates(air, tented=True)):
            return "tent"
        return f"{'tent in ' if tented else ''}air {air.pk if air else 'open'}"

    def _dried(self, dose: float, rates: Sequence[float], gained: Sequence[float]) -> list[int | None]:
        """For each slot, the slot after the day on which a dose is done, less what was gained till then.

        A day of waiting in a better place than the one it goes on in can't bring the end forward: the end
        never falls as the start is put off.
        """
        first = self.axis.days[0]
        ends: list[int | None] = []
        latest = 0
        for start in self.axis.days:
            day = (start - first).days
            done = days_to_dry(max(dose - gained[day], LEAST_DOSE), rates, day)
            if done is None:
                ends.append(None)
                continue
            latest = max(latest, self.axis.at(first + timedelta(days=done + 1)))
            ends.append(latest)
        return ends

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
        adds_up: AddsUp | None = None,
    ) -> str | None:
        """Make the table unless it is there; its id, or None where no start is possible at all."""
        if name not in self.made:
            finish, price = tuple(ends()), tuple(prices())
            known = adds_up._asdict() if adds_up else {}
            self.made[name] = Table(
                id=name,
                finish=finish,
                price=price if any(price) else (),
                open=open_,
                waiting=waiting,
                **known,
            )
        return name if any(end is not None for end in self.made[name].finish) else None
