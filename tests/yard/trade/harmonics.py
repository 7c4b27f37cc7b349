"""The tide's curve from published harmonic constants, by UTide, to hold heights by cosine against."""

import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from utide import ut_constants
from utide.harmonics import FUV

from yard.trade.tides import Water

DATA = Path(__file__).parent / "data"
NAMES = list(ut_constants["const"]["name"])
ALIASES = {"M1": "NO1", "2MK3": "MO3", "RHO": "RHO1", "LAM2": "LDA2", "LAMBDA2": "LDA2", "EP2": "EPS2"}
ALIASES |= {"MA2": "H1", "MB2": "H2"}
"""What the constants' publishers call some constituents, to what UTide calls those of the same speed."""
SUN_AT_PERIGEE_DEG = 283.0
"""[degrees] UTide reckons the yearly constituent from the sun's perigee, hydrographic offices from the
equinox; without this the heights of Friday Harbor are 0.09 m too high, as a test shows."""
MONTH = timedelta(days=30)
"""Over which the slow (18.6-year) factors are taken as constant."""


class Station(NamedTuple):
    """Published constants of one place."""

    latitude: float
    mean_level_m: float
    constituents: dict[str, tuple[float, float]]
    told: dict[str, Any]


def station(name: str, *, only: Sequence[str] = ()) -> Station:
    """The constants in tests/yard/trade/data, all or only those named."""
    told = json.loads((DATA / f"{name}.json").read_text())
    constituents = {
        name: (amplitude, phase)
        for name, (amplitude, phase) in told["constituents"].items()
        if not only or name in only
    }
    return Station(told["latitude"], told["mean_level_m"], constituents, told)


def heights(of: Station, times: Sequence[datetime]) -> Any:
    """Heights [m above the station's datum] at instants within one month."""
    days = np.array([at.timestamp() / 86400 for at in times]) + datetime(1970, 1, 1).toordinal()
    names = [ALIASES.get(name, name) for name in of.constituents]
    amplitude, lag = np.array(list(of.constituents.values())).T
    lag = lag - SUN_AT_PERIGEE_DEG * np.array([name == "SA" for name in names])
    index = np.array([NAMES.index(name) for name in names])
    factor, shift, argument = FUV(days, days.mean(), index, of.latitude, [1, 0, 0, 0])
    angle = 2 * np.pi * (argument + shift) - np.radians(lag)
    return of.mean_level_m + (factor * amplitude * np.cos(angle)).sum(axis=1)


class Curve(NamedTuple):
    """Heights [m] every so many minutes, and the turns among them as waters."""

    times: list[datetime]
    heights: Any
    turns: list[int]
    waters: list[Water]


def curve(of: Station, start: datetime, days: int, *, minutes: int = 3) -> Curve:
    """The tide from `start` on, with its high and low waters to the nearest sample."""
    step = timedelta(minutes=minutes)
    times = [start + number * step for number in range(days * 1440 // minutes)]
    month = MONTH // step
    level = np.concatenate([heights(of, times[at : at + month]) for at in range(0, len(times), month)])
    rises = np.diff(level) > 0
    turns = [int(at) + 1 for at in np.flatnonzero(rises[1:] != rises[:-1])]
    waters = [Water(times[at], float(level[at]), bool(level[at] > level[at - 1])) for at in turns]
    return Curve(times, level, turns, waters)


def utc(*parts: int) -> datetime:
    """An instant of universal time."""
    return datetime(*parts, tzinfo=UTC)  # type: ignore[misc]
