"""Local times across the clock change. In London it goes forward on 28 March 2027, 01:00 GMT, and back on 25
October 2026, 01:00 GMT (The Summer Time Order 2002: last Sundays of March and October)."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from yard.trade.clock import local_instant

LONDON = "Europe/London"


def test_the_hour_that_the_clock_skips_is_refused() -> None:
    with pytest.raises(ValueError, match="01:30 on 28 Mar 2027 does not exist in Europe/London") as refusal:
        local_instant("2027-03-28 01:30", LONDON)
    assert "forward 60 minutes" in str(refusal.value)


@pytest.mark.parametrize("first", [True, False])
def test_saying_which_does_not_bring_the_skipped_hour_about(first: bool) -> None:
    with pytest.raises(ValueError, match="does not exist"):
        local_instant("2027-03-28 01:30", LONDON, first=first)


def test_the_hour_that_comes_twice_is_asked_about() -> None:
    with pytest.raises(ValueError, match="01:30 on 25 Oct 2026 comes twice in Europe/London"):
        local_instant("2026-10-25T01:30", LONDON)


def test_the_first_of_the_two_is_in_summer_time_and_the_second_an_hour_later() -> None:
    # Summer time is GMT + 1 h: 01:30 is 00:30 GMT; after the change it is 01:30 GMT.
    first, second = (local_instant("2026-10-25 01:30", LONDON, first=which) for which in (True, False))
    assert first.astimezone(UTC) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert second.astimezone(UTC) == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("local", "hour_utc"),
    [
        ("2026-10-25 00:59", 23 + 59 / 60),  # the last minute before the first of the two hours
        ("2026-10-25 02:00", 26),  # the first minute after the second
        ("2027-03-28 00:59", 59 / 60),
        ("2027-03-28 02:00", 1),
    ],
)
def test_the_minutes_beside_a_change_are_plain(local: str, hour_utc: float) -> None:
    day = (
        datetime(2026, 10, 24, tzinfo=UTC) if local.startswith("2026") else datetime(2027, 3, 28, tzinfo=UTC)
    )
    assert local_instant(local, LONDON).astimezone(UTC) == day + timedelta(minutes=round(hour_utc * 60))


def test_an_instant_stays_the_instant_it_is() -> None:
    given = local_instant("2026-10-25T01:30+00:00", LONDON)
    assert given == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    assert given.utcoffset() == timedelta(0)


def test_the_zone_may_be_given_as_such_and_the_time_without_one() -> None:
    given = local_instant(datetime(2026, 7, 1, 9, 0), ZoneInfo(LONDON))
    assert given.astimezone(UTC).hour == 8


def test_a_zone_without_a_change_has_neither() -> None:
    assert local_instant("2027-03-28 01:30", "UTC") == datetime(2027, 3, 28, 1, 30, tzinfo=UTC)


def test_what_is_no_time_is_refused() -> None:
    with pytest.raises(ValueError, match="half past nine"):
        local_instant("half past nine", LONDON)


def test_a_change_of_half_an_hour_is_said_in_minutes() -> None:
    # Lord Howe Island goes back by 30 minutes, at 02:00 summer time on the first Sunday of April.
    with pytest.raises(ValueError, match="back 30 minutes"):
        local_instant("2027-04-04 01:45", "Australia/Lord_Howe")
