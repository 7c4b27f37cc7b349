"""Sunrise and sunset against almanac times and against a finer reckoning."""

from datetime import UTC, date, datetime, timedelta
from math import acos, asin, cos, degrees, radians, sin, tan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.daylight import sunrise_and_sunset


def minutes(at: datetime, day: date) -> float:
    return (at - datetime(day.year, day.month, day.day, tzinfo=UTC)).total_seconds() / 60


@pytest.mark.parametrize(
    ("day", "latitude", "longitude", "rise", "fall"),
    [
        # Almanac times [UTC] at these positions, all from memory, to some minutes.
        (date(2027, 6, 21), 51.48, 0.0, (3, 43), (20, 21)),
        (date(2027, 12, 21), 51.48, 0.0, (8, 3), (15, 53)),
        (date(2027, 3, 20), 51.48, 0.0, (6, 5), (18, 13)),
        (date(2027, 6, 21), 55.95, -3.19, (3, 26), (21, 2)),
        (date(2027, 12, 21), 55.95, -3.19, (8, 42), (15, 40)),
        (date(2027, 6, 21), 40.71, -74.01, (9, 25), (24, 31)),
        (date(2027, 12, 21), 40.71, -74.01, (12, 17), (21, 32)),
        (date(2027, 3, 20), 0.0, 0.0, (6, 4), (18, 11)),
    ],
)
def test_sunrise_and_sunset_stay_near_almanac_times(
    day: date, latitude: float, longitude: float, rise: tuple[int, int], fall: tuple[int, int]
) -> None:
    for found, (hour, minute) in zip(sunrise_and_sunset(day, latitude, longitude), (rise, fall), strict=True):
        assert minutes(found, day) == pytest.approx(hour * 60 + minute, abs=3)


def finer(day: date, latitude: float, longitude: float) -> tuple[float, float]:
    """[min after midnight, UTC] by the low-accuracy solar coordinates of Meeus, Astronomical Algorithms,
    chapter 25 (coefficients from memory), with the sun's place taken anew at rise and set."""

    def at(guess_min: float, side: int) -> float:
        days = (day - date(2000, 1, 1)).days - 0.5 + guess_min / 1440
        century = days / 36525
        mean = radians((280.46646 + century * (36000.76983 + century * 0.0003032)) % 360)
        anomaly = radians(357.52911 + century * (35999.05029 - 0.0001537 * century))
        eccentric = 0.016708634 - century * 0.000042037
        centre = (
            sin(anomaly) * (1.914602 - century * 0.004817)
            + sin(2 * anomaly) * (0.019993 - 0.000101 * century)
            + sin(3 * anomaly) * 0.000289
        )
        node = radians(125.04 - 1934.136 * century)
        apparent = radians(degrees(mean) + centre - 0.00569 - 0.00478 * sin(node))
        tilt = radians(23.4392911 - 0.0130042 * century + 0.00256 * cos(node))
        declination = asin(sin(tilt) * sin(apparent))
        y = tan(tilt / 2) ** 2
        equation_min = 4 * degrees(
            y * sin(2 * mean)
            - 2 * eccentric * sin(anomaly)
            + 4 * eccentric * y * sin(anomaly) * cos(2 * mean)
            - 0.5 * y * y * sin(4 * mean)
            - 1.25 * eccentric * eccentric * sin(2 * anomaly)
        )
        phi = radians(latitude)
        hour = acos(cos(radians(90.833)) / (cos(phi) * cos(declination)) - tan(phi) * tan(declination))
        return 720 - 4 * longitude - equation_min + side * 4 * degrees(hour)

    rise, fall = at(360, -1), at(1080, 1)
    return at(rise, -1), at(fall, 1)


@settings(max_examples=200, deadline=None)
@given(st.dates(date(2026, 1, 1), date(2035, 12, 31)), st.floats(-58, 60.5), st.floats(-11, 3))
def test_sunrise_and_sunset_stay_within_three_minutes_of_a_finer_reckoning(
    day: date, latitude: float, longitude: float
) -> None:
    for found, told in zip(
        sunrise_and_sunset(day, latitude, longitude), finer(day, latitude, longitude), strict=True
    ):
        assert minutes(found, day) == pytest.approx(told, abs=3)


def test_where_the_sun_does_not_rise_or_set_there_is_noon_or_the_whole_day() -> None:
    rise, fall = sunrise_and_sunset(date(2027, 12, 21), 78.0, 15.0)
    assert rise == fall
    rise, fall = sunrise_and_sunset(date(2027, 6, 21), 78.0, 15.0)
    assert fall - rise == timedelta(days=1)


@pytest.mark.parametrize(("latitude", "longitude"), [(91, 0), (-91, 0), (50, 181), (float("nan"), 0)])
def test_a_position_that_is_none_is_refused(latitude: float, longitude: float) -> None:
    with pytest.raises(ValueError, match="is no position; write degrees"):
        sunrise_and_sunset(date(2027, 3, 20), latitude, longitude)
