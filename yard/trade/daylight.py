"""Sunrise and sunset, for work that wants daylight: lifting."""

from datetime import UTC, date, datetime, timedelta
from math import acos, asin, cos, degrees, radians, sin

DEFAULT_LATITUDE, DEFAULT_LONGITUDE = 50.5, -4.0
"""[degrees] used where a yard has entered no position: the south-west of England."""


def sunrise_and_sunset(day: date, latitude: float, longitude: float) -> tuple[datetime, datetime]:
    """Sunrise and sunset of `day` as UTC instants, to some two minutes, at a position [degrees, east
    positive].

    Source: the sunrise equation with the sun's mean anomaly, equation of the centre and declination of the
    Astronomical Almanac's low-precision formulas; the upper limb at -0.833 degrees. Where the sun doesn't
    rise or set, noon or the whole day is given.

    Raises:
        ValueError: for what is no position.
    """
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise ValueError(
            f"{latitude:g}, {longitude:g} is no position; write degrees, north and east above zero."
        )
    mean_time = (day - date(2000, 1, 1)).days - longitude / 360
    anomaly = radians((357.5291 + 0.98560028 * mean_time) % 360)
    centre = 1.9148 * sin(anomaly) + 0.02 * sin(2 * anomaly) + 0.0003 * sin(3 * anomaly)
    ecliptic = radians((degrees(anomaly) + centre + 180 + 102.9372) % 360)
    transit = mean_time + 0.0053 * sin(anomaly) - 0.0069 * sin(2 * ecliptic)
    declination = asin(sin(ecliptic) * sin(radians(23.4397)))
    phi = radians(latitude)
    cosine = (sin(radians(-0.833)) - sin(phi) * sin(declination)) / (cos(phi) * cos(declination))
    half = degrees(acos(max(-1.0, min(1.0, cosine)))) / 360
    noon_2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)
    return noon_2000 + timedelta(days=transit - half), noon_2000 + timedelta(days=transit + half)
