"""A round and its spots: how they make one level with its noise, and which of them read oddly."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from math import fsum, hypot, sqrt
from typing import NamedTuple

MEAN = "mean"
"""The spot that stands for all spots where only their mean was written down."""

NEAR_WASH_D = 2
"""[d] a wash leaves water in the surface for so long: nothing read by then counts; 1 to 2 days. Common
practice. Changed in the code only."""

SHARE_PCT = 90
"""[%] of her spots that must be at the target or below; 80 to 100. Common practice. A setting of the yard."""

METER_NOISE = 0.015
"""[share of the scale] what a round's level is off by at least, by hand, place and weather; 0.01 to 0.025.
Common practice. Changed in the code only."""

SPOT_NOISE = 0.03
"""[share of the scale] what one reading at one spot is off by, until her own rounds tell; 0.02 to 0.05.
Common practice. Changed in the code only."""

APART = 0.10
"""[share of the scale] a spot that differs so much from the others, or from its own ways, is named; 0.08 to
0.15. Common practice. Changed in the code only."""

LEVEL_SPREAD = 1.71
"""[-] standard error of the 90 % point of n normal readings, in standard deviations over √n:
√(0.9 × 0.1) / φ(1.2816) = 0.3 / 0.1755. Any textbook of order statistics."""

NORMAL_MAD = 1.4826
"""[-] standard deviation over median absolute deviation of normal noise: 1 / 0.6745."""

FINEST = 0.005
"""[share of the scale] a reading at a spot is never surer than this: meters are read to a whole unit of 100,
or to half a unit. Common practice. Changed in the code only."""

ENOUGH = 6
"""[-] residuals from which a scatter is reckoned; with fewer, the stated noise stands."""


class RoundRead(NamedTuple):
    """One round: the reading at each spot's code on the scale of `meter` [units], read `mode` deep."""

    day: date
    readings: Mapping[str, float]
    meter: str
    mode: str


class Level(NamedTuple):
    """What one round comes to [units]: its level with one standard deviation of noise, and the mean."""

    day: date
    value: float
    spots: int
    noise: float
    mean: float


class Suspect(NamedTuple):
    """A spot that reads unlike the others, or on one day unlike itself. It is named, and still counts."""

    spot: str
    day: date
    value: float
    says: str


def level(values: Sequence[float], share_pct: int = SHARE_PCT) -> float:
    """The reading that `share_pct` [%] of the values are at or below [units]: the lowest such one among them.

    So nine spots in ten are at the target just when the level is. It equals the "inverted_cdf" percentile
    (Hyndman and Fan's first definition). Of one value, it is that value.
    """
    return sorted(values)[-(-share_pct * len(values) // 100) - 1]


def median(values: Sequence[float]) -> float:
    """Their median; of an even number the mean of the two in the middle."""
    ordered, half = sorted(values), len(values) // 2
    return ordered[half] if len(values) % 2 else (ordered[half - 1] + ordered[half]) / 2


def in_words(day: date) -> str:
    """The day as sentences give it: 3 Nov 2026."""
    return f"{day:%-d %b %Y}"


def near_wash(day: date, washes: Iterable[date]) -> date | None:
    """The last wash within 48 h before a round of `day`, if there is one. A wash of the same day counts."""
    near = [wash for wash in washes if timedelta(0) <= day - wash < timedelta(days=NEAR_WASH_D)]
    return max(near, default=None)


# --- Levels and their noise ------------------------------------------------------------------------------
Figures = Sequence[tuple[date, Mapping[str, float]]]
"""The readings of rounds in order of day [units], by spot."""


def reading_noise(figures: Figures, width: float) -> float:
    """One standard deviation of one reading at one spot [units], from how the spots scatter about their own
    trends; the stated noise until there are enough. `width` [units] is that of the scale."""
    by_spot: dict[str, list[tuple[date, float]]] = {}
    for day, readings in figures:
        for spot, value in readings.items():
            if spot != MEAN:
                by_spot.setdefault(spot, []).append((day, value))
    own = [r for series in by_spot.values() for r in _residuals(series)]
    return max(FINEST * width, _scatter(own)) if len(own) >= ENOUGH else SPOT_NOISE * width


def levels(figures: Figures, scale: tuple[float, float], share_pct: int = SHARE_PCT) -> tuple[Level, ...]:
    """The level of each round, in order of day, with its noise.

    One reading's noise comes from how the spots scatter about their own trends, the level's also from how the
    levels scatter about theirs (what hits a whole round); never below the stated noise of a meter. Where some
    rounds have spots and others only a mean, the mean may hide by how much the level stands above it.
    """
    width = scale[1] - scale[0]
    one = reading_noise(figures, width)
    plain = [
        (day, level(list(readings.values()), share_pct), fsum(readings.values()) / len(readings), readings)
        for day, readings in figures
    ]
    between = _residuals([(day, value) for day, value, _, _ in plain])
    least = max(METER_NOISE * width, _scatter(between) if len(between) >= ENOUGH else 0.0)
    hidden = [value - mean for _, value, mean, readings in plain if MEAN not in readings]
    found = []
    for day, value, mean, readings in plain:
        count = len(readings)
        if MEAN in readings:
            noise = hypot(least, median(hidden) if hidden else 0.0)
        else:
            noise = max(least, one * min(1.0, LEVEL_SPREAD / sqrt(count)))
        found.append(Level(day, value, count, noise, mean))
    return tuple(found)


def _residuals(series: Sequence[tuple[date, float]]) -> list[float]:
    """How far each inner value lies off the line between its neighbours, in noise of one value."""
    found = []
    for (d0, y0), (d1, y1), (d2, y2) in zip(series, series[1:], series[2:], strict=False):
        share = (d1 - d0).days / (d2 - d0).days
        off = y1 - (y0 + share * (y2 - y0))
        found.append(off / sqrt(1 + share**2 + (1 - share) ** 2))
    return found


def _scatter(values: Sequence[float]) -> float:
    """Standard deviation by the median absolute deviation: a slip of the pen does not move it."""
    middle = median(values)
    return NORMAL_MAD * median([abs(value - middle) for value in values])


# --- Spots that read oddly -------------------------------------------------------------------------------
def suspects(figures: Figures, scale: tuple[float, float]) -> tuple[Suspect, ...]:
    """Spots above the others all along, and readings unlike the spot's own ways; needs five spots a round.

    A spot's offset is its reading less the median of its round: drying moves both, so the offset stays.
    """
    least = APART * (scale[1] - scale[0])
    offsets: dict[str, list[tuple[date, float, float]]] = {}
    for day, readings in figures:
        if len(readings) < 5:
            continue
        middle = median(list(readings.values()))
        for spot, value in readings.items():
            offsets.setdefault(spot, []).append((day, value, value - middle))
    usual = {spot: median([off for _, _, off in rows]) for spot, rows in offsets.items()}
    if not usual:
        return ()
    apart = max(least, 4 * _scatter(list(usual.values())))
    own = [off - usual[spot] for spot, rows in offsets.items() for _, _, off in rows]
    unlike = max(least, 4 * _scatter(own))
    found = []
    for spot, rows in offsets.items():
        if usual[spot] > apart:
            day, value, off = rows[-1]
            says = (
                f"{spot} reads {value:g}, {off:.0f} above the middle of her spots: a tank, keel stub or "
                "bulkhead behind it? Excuse it by name, or ask the surveyor."
            )
            found.append(Suspect(spot, day, value, says))
        for day, value, off in rows if len(rows) >= 3 else ():
            if abs(off - usual[spot]) > unlike:
                expected = value - off + usual[spot]
                says = (
                    f"{spot} read {value:g} on {in_words(day)}, where its other rounds would have it near "
                    f"{expected:.0f}: read it again or correct it."
                )
                found.append(Suspect(spot, day, value, says))
    return tuple(sorted(found))
