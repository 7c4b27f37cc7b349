"""Heights by cosine against the tide's own curve, and that curve against official heights.

The curves come from published harmonic constants by UTide (tests/yard/trade/data has sources and licences):
Friday Harbor has two unequal tides a day, Newlyn two like ones on an open coast.
"""

import itertools
from datetime import datetime, timedelta
from functools import cache

import numpy as np
import pytest

from tests.yard.trade.harmonics import Curve, Station, curve, heights, station, utc
from yard.trade.tides import windows
from yard.trade.tidetable import doubts_about_waters, impossible

SIX = ("M2", "S2", "N2", "K2", "K1", "O1")
MINUTE = timedelta(minutes=1)


@cache
def year(name: str) -> Curve:
    """The whole of 2027 at a station."""
    return curve(station(name), utc(2027, 1, 1), 365)


def off_by_m(of: Curve, skip: set[int]) -> np.ndarray:
    """Cosine less curve [m] at every sample between two waters, but for the waters in `skip`."""
    found = []
    for number, (a, b) in enumerate(itertools.pairwise(of.turns)):
        if not {number, number + 1} & skip:
            share = (1 - np.cos(np.pi * np.arange(b - a + 1) / (b - a))) / 2
            cosine = of.heights[a] + (of.heights[b] - of.heights[a]) * share
            found.append(cosine - of.heights[a : b + 1])
    return np.concatenate(found)


def official(of: Station) -> list[tuple[datetime, float, bool]]:
    return [
        (datetime.fromisoformat(f"{at}+00:00"), height, kind == "high")
        for at, height, kind in of.told["official"]
    ]


def test_the_curve_of_friday_harbor_stays_near_the_official_heights() -> None:
    # NOAA's twelve high and low waters of 15 to 17 July 2026; 37 constants of theirs.
    place = station("friday_harbor")
    assert len(place.constituents) == 37
    waters = official(place)
    found = heights(place, [at for at, _, _ in waters])
    off = found - np.array([height for _, height, _ in waters])
    assert abs(off).max() < 0.05
    assert np.sqrt((off**2).mean()) < 0.04


def test_the_turns_of_friday_harbor_stay_near_the_official_times() -> None:
    place = station("friday_harbor")
    found = curve(place, utc(2026, 7, 15), 3, minutes=1).waters
    assert len(found) == 12
    for water, (at, height, is_high) in zip(found, official(place), strict=True):
        assert water.is_high == is_high
        assert abs(water.at - at) <= 10 * MINUTE
        assert water.height_m == pytest.approx(height, abs=0.05)


def test_the_yearly_constituent_is_taken_as_hydrographic_offices_publish_it() -> None:
    place = station("friday_harbor")
    moved = place.constituents | {"SA": (0.076, 274.5 + 283.0)}  # as UTide would read it untold
    times = [at for at, _, _ in official(place)]
    told = np.array([height for _, height, _ in official(place)])
    assert (heights(place._replace(constituents=moved), times) - told).mean() == pytest.approx(0.08, abs=0.02)
    assert (heights(place, times) - told).mean() == pytest.approx(0.0, abs=0.02)


def test_six_constants_of_newlyn_give_the_printed_heights() -> None:
    # Heights about mean level every three hours of 20 March 2027 by an independent engine, to 0.01 m.
    printed = [0.0223, 2.0667, 0.3622, -2.0599, -0.6708, 1.9042, 0.7234, -1.9728, -0.8816]
    place = station("newlyn", only=SIX)
    assert len(place.constituents) == 6
    times = [utc(2027, 3, 20) + timedelta(hours=3 * number) for number in range(9)]
    assert heights(place, times) - place.mean_level_m == pytest.approx(printed, abs=0.01)


def test_a_spring_tide_of_newlyn_turns_when_two_engines_say() -> None:
    # High waters of 22 March 2027: 04:25 5.550 and 16:46 5.392 by an independent engine with all constants.
    highs = [w for w in curve(station("newlyn"), utc(2027, 3, 22), 1, minutes=1).waters if w.is_high]
    for water, (hour, minute, height) in zip(highs, [(4, 25, 5.550), (16, 46, 5.392)], strict=True):
        assert abs(water.at - utc(2027, 3, 22, hour, minute)) <= 3 * MINUTE
        assert water.height_m == pytest.approx(height, abs=0.04)


def test_windows_of_a_spring_tide_agree_with_the_curve_within_minutes() -> None:
    # The curve stands at 3.8 m or higher from 02:10 to 07:13 and from 14:39 to 19:25 on 22 March 2027, by an
    # independent engine with all constants.
    found = windows(curve(station("newlyn"), utc(2027, 3, 21), 3, minutes=1).waters, 3.8)
    printed = [(2, 10), (7, 13), (14, 39), (19, 25)]
    ends = [at for window in found for at in window if at.day == 22]
    assert len(ends) == 4
    for at, (hour, minute) in zip(ends, printed, strict=True):
        assert abs(at - utc(2027, 3, 22, hour, minute)) <= 10 * MINUTE


def test_on_an_open_coast_the_cosine_is_within_six_centimetres_mostly_and_36_at_worst() -> None:
    off = off_by_m(year("newlyn"), set())
    assert np.sqrt((off**2).mean()) < 0.065
    assert abs(off).max() < 0.37
    assert np.percentile(abs(off), 95) < 0.14


def test_an_ordinary_year_on_an_open_coast_raises_no_doubt() -> None:
    waters = year("newlyn").waters
    assert len(waters) == 1410
    assert impossible(waters) == []
    assert doubts_about_waters(waters) == []


def test_where_tides_are_unequal_doubt_is_raised_just_where_the_cosine_is_off() -> None:
    of = year("friday_harbor")
    doubted = {found.number for found in [*doubts_about_waters(of.waters), *impossible(of.waters)]}
    sound, every = off_by_m(of, doubted), off_by_m(of, set())
    assert abs(sound).max() < 0.23
    assert np.sqrt((sound**2).mean()) < 0.05
    assert abs(every).max() > 1.0, "the year has waters between which the cosine is a metre off"
    assert len(sound) > len(every) / 2


@pytest.mark.parametrize(
    ("name", "need", "start_min", "end_min"),
    [
        ("newlyn", 3.8, 8, 15),
        ("newlyn", 3.0, 12, 20),  # at mean level, where the water moves fastest
    ],
)
def test_windows_of_a_year_end_within_minutes_of_the_curve(
    name: str, need: float, start_min: float, end_min: float
) -> None:
    of = year(name)
    at = np.array([moment.timestamp() for moment in of.times[1:]])
    up = of.heights >= need
    rises, falls = at[up[1:] & ~up[:-1]], at[~up[1:] & up[:-1]]
    found = windows(of.waters, need)[1:-1]  # the first and the last may be cut by the year
    assert len(found) > 650
    starts = [abs(rises - window.start.timestamp()).min() / 60 for window in found]
    ends = [abs(falls - window.end.timestamp()).min() / 60 for window in found]
    assert max(starts) < start_min
    assert max(ends) < end_min
