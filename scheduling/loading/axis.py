"""The slot axis: every day of the season, from today, on which anything can be had."""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from scheduling.engine import slots
from scheduling.engine.problem import Span
from scheduling.loading.records import Records
from yard.models import Stoppage
from yard.models.yards import WEATHER_KINDS
from yard.trade.calendar import bank_holidays, closed_days, days_between

UNTIL_TOLD_DAYS = 14
"""[calendar days] that a stoppage or a hold without an end is taken to last from today. Common practice; the
yard enters the day
as soon as it knows."""


@dataclass(frozen=True)
class Axis:
    """The days that are slots, and which of them are ordinary working days (1) rather than opened for lifts
    only (0)."""

    days: tuple[date, ...]
    crew: tuple[int, ...]
    today: date
    last_day: date

    @cached_property
    def slots(self) -> int:
        """How many slots there are."""
        return len(self.days)

    def at(self, day: date) -> int:
        """The first slot on or after `day`."""
        return slots.slot_on_or_after(self.days, day)

    def span(self, first: date, last: date | None) -> Span | None:
        """The slots from `first` to `last` inclusive (open-ended: until told), if there are any."""
        end = last or max(first, self.today) + timedelta(days=UNTIL_TOLD_DAYS)
        found = (self.at(first), self.at(end + timedelta(days=1)))
        return found if found[1] > found[0] else None

    def stopped(self, stoppage: Stoppage) -> Span | None:
        """The slots a stoppage takes out."""
        return self.span(stoppage.first_day, stoppage.last_day)

    @cached_property
    def calendar(self) -> list[date]:
        """Every calendar day from the first slot to the last."""
        return days_between(self.days[0], self.days[-1])


def axis_of(records: Records) -> Axis:
    """The axis of a season, from today to its last day.

    Raises:
        ValueError: if no day is left on which the yard works.
    """
    yard, settings, today = records.season.yard, records.settings, records.today
    first, last = max(today, records.season.first_day), records.season.last_day
    rules = {rule.day: (rule.open, rule.reason) for rule in records.day_rules}
    for stoppage in records.stoppages:
        whole = not any(getattr(stoppage, f"{subject}_id") for subject in stoppage.SUBJECTS)
        if whole and stoppage.kind not in WEATHER_KINDS:
            end = stoppage.last_day or today + timedelta(days=UNTIL_TOLD_DAYS)
            rules.update(dict.fromkeys(days_between(stoppage.first_day, end), (False, stoppage.why)))
    closed = closed_days(first, last, open_weekdays=settings.open_weekdays, nation=yard.nation, rules=rules)
    days = tuple(day for day in days_between(first, last) if day not in closed)
    if not days:
        raise ValueError("No working day is left in this season: give it a later last day.")
    bank = bank_holidays(yard.nation, first, last)
    crew = tuple(1 if settings.open_weekdays[day.weekday()] == "1" and day not in bank else 0 for day in days)
    return Axis(days, crew, today, last)
