"""Working days, bank holidays and daylight, against published dates and times."""

from datetime import date

import pytest

from yard.trade.calendar import bank_holidays, closed_days
from yard.trade.daylight import sunrise_and_sunset


@pytest.mark.parametrize(
    ("nation", "days"),
    [
        # Published bank holidays of England and Wales, and of Scotland, that fall on weekdays in 2027.
        ("ENG", ["01-01", "03-26", "03-29", "05-03", "05-31", "08-30", "12-27", "12-28"]),
        (
            "SCT",
            ["01-01", "01-04", "03-26", "05-03", "05-31", "08-02", "11-30", "12-27", "12-28"],
        ),
        ("none", []),
    ],
)
def test_bank_holidays_of_2027_by_nation(nation: str, days: list[str]) -> None:
    found = bank_holidays(nation, date(2027, 1, 1), date(2027, 12, 31))
    assert [day.strftime("%m-%d") for day in found] == days


def test_the_yards_own_days_overrule_weekdays_and_bank_holidays() -> None:
    rules = {date(2027, 3, 27): (True, "launch Saturday"), date(2027, 3, 24): (False, "stocktaking")}
    closed = closed_days(
        date(2027, 3, 22), date(2027, 3, 29), open_weekdays="1111100", nation="ENG", rules=rules
    )
    assert {day.day: why for day, why in closed.items()} == {
        24: "stocktaking",
        26: "Good Friday",
        28: "Sunday",
        29: "Easter Monday",
    }


@pytest.mark.parametrize(
    ("day", "rise", "fall"),
    [
        # Greenwich almanac times [UTC], from memory, to some minutes.
        (date(2027, 6, 21), (3, 43), (20, 21)),
        (date(2027, 12, 21), (8, 3), (15, 53)),
        (date(2027, 3, 20), (6, 5), (18, 13)),
    ],
)
def test_sunrise_and_sunset_at_greenwich(day: date, rise: tuple[int, int], fall: tuple[int, int]) -> None:
    for found, (hour, minute) in zip(sunrise_and_sunset(day, 51.48, 0.0), (rise, fall), strict=True):
        assert found.date() == day
        assert abs(found.hour * 60 + found.minute - hour * 60 - minute) <= 3
