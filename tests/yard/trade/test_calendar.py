"""Working days, bank holidays and daylight, against published dates and times."""

from datetime import date

import pytest

from yard.trade.calendar import bank_holidays, closed_days
from yard.trade.daylight import sunrise_and_sunset

ENGLAND = {
    2026: "0101 0403 0406 0504 0525 0831 1225 1228",
    2027: "0101 0326 0329 0503 0531 0830 1227 1228",
    2028: "0103 0414 0417 0501 0529 0828 1225 1226",
}
SCOTLAND = {
    # 15 June 2026: one-off, for the football.
    2026: "0101 0102 0403 0504 0525 0615 0803 1130 1225 1228",
    2027: "0101 0104 0326 0503 0531 0802 1130 1227 1228",
    2028: "0103 0104 0414 0501 0529 0807 1130 1225 1226",
}
NORTHERN_IRELAND = {
    2026: "0101 0317 0403 0406 0504 0525 0713 0831 1225 1228",
    2027: "0101 0317 0326 0329 0503 0531 0712 0830 1227 1228",
    2028: "0103 0317 0414 0417 0501 0529 0712 0828 1225 1226",
}


# Dates that the governments of the four nations publish. 28 December 2026 as a substitute and 13 July 2026
# were seen on public pages; the rest is from memory of the published lists.
@pytest.mark.parametrize("year", [2026, 2027, 2028])
@pytest.mark.parametrize(
    ("nation", "published"),
    [("ENG", ENGLAND), ("WLS", ENGLAND), ("SCT", SCOTLAND), ("NIR", NORTHERN_IRELAND)],
)
def test_bank_holidays_by_nation_fall_on_the_published_weekdays(
    nation: str, published: dict[int, str], year: int
) -> None:
    found = bank_holidays(nation, date(year, 1, 1), date(year, 12, 31))
    assert [day.strftime("%m%d") for day in found] == published[year].split()
    assert all(found.values())


def test_a_holiday_on_a_weekend_is_kept_by_the_weekday_that_stands_in_for_it() -> None:
    found = bank_holidays("ENG", date(2026, 12, 24), date(2026, 12, 31))
    assert date(2026, 12, 26) not in found
    assert "Boxing Day" in found[date(2026, 12, 28)]


def test_a_yard_without_a_nation_keeps_no_bank_holidays() -> None:
    assert bank_holidays("none", date(2027, 1, 1), date(2027, 12, 31)) == {}


def test_an_unknown_nation_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="“FRA” is no nation with bank holidays here"):
        bank_holidays("FRA", date(2027, 1, 1), date(2027, 12, 31))


@pytest.mark.parametrize("week", ["111110", "11111000", "1111120", ""])
def test_a_week_that_is_none_is_refused(week: str) -> None:
    with pytest.raises(ValueError, match="is no week"):
        closed_days(date(2027, 1, 1), date(2027, 1, 2), open_weekdays=week, nation="ENG", rules={})


def test_a_bank_holiday_that_the_yard_opens_is_worked_and_a_late_one_off_can_be_added() -> None:
    rules = {date(2027, 3, 29): (True, "Easter launch"), date(2027, 5, 10): (False, "proclaimed in April")}
    first, last = date(2027, 3, 1), date(2027, 5, 31)
    closed = closed_days(first, last, open_weekdays="1111111", nation="ENG", rules=rules)
    assert date(2027, 3, 29) not in closed
    assert closed[date(2027, 5, 10)] == "proclaimed in April"
    assert closed[date(2027, 3, 26)] == "Good Friday"


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
