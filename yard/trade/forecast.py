"""When a boat will be dry: from her own rounds, drawn to what is believed of boats like her.

reading = floor + exp(a - factor · x) + noise

x is the **expected decay so far** [-]: the sum of the norm's decay over the days since the fit began. A
move into heat only makes x grow faster; the boat's own factor stays hers. On a floor taken as known the
logarithm of what is left is a straight line in x, weighed by ((reading - floor)/noise)², and everything has
a closed form; the floor is mixed over a few values, each weighed by what was believed of it and how well it
fits.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from math import erfc, exp, isfinite, log, sqrt
from typing import NamedTuple

from yard.trade.belief import Belief

FLOORS = (-4 / 3, -2 / 3, 0.0, 2 / 3, 4 / 3)
"""[standard deviations] the values of the floor that are mixed, about the one believed."""

HELD_UP_FLOORS = (2.0, 3.0, 4.0, 5.0, 6.0, 8.0)
"""[standard deviations] the floors of a boat that is held up, all as likely as one another before her
rounds."""

NEAR_FLOOR = 3.0
"""[standard deviations of a reading] nearer to the floor than this its logarithm says more of the noise
than of the boat: it counts nothing in the line, but still says whether that floor can be. From
simulation."""

FURTHEST_X = 40.0
"""[-] expected decay beyond which nothing is forecast: 58 half-lives of the norm, ten years in a cold
shed."""

FURTHEST_READING = 1e6
"""[points of the scale] above which no band is drawn."""

LOOKS = tuple(FURTHEST_X * (look / 64) ** 3 for look in range(65))
"""[-] where the odds are looked at first, close together where days matter; halving goes on from there."""

LEAST_VARIANCE = 1e-12
"""[-] of a logarithm, so that rounding never leaves one of zero or below."""

ENOUGH_POINTS, ENOUGH_SURE = 3, 0.35
"""A finished boat's rounds say her factor with three points and a standard deviation of at most 0.35 of it
[-]; else she is left out of the history. Common practice."""


class Point(NamedTuple):
    """One round: the expected decay `x` [-] on its day, its reading and the reading's noise (one standard
    deviation) [points of the scale]."""

    x: float
    value: float
    noise: float


class Line(NamedTuple):
    """What is known on one floor: its weight [-], a and factor, their variances and covariance."""

    floor: float
    weight: float
    a: float
    factor: float
    var_a: float
    cov: float
    var_factor: float

    def left(self, x: float) -> tuple[float, float]:
        """Mean and standard deviation of the logarithm of what is left above the floor at x."""
        variance = self.var_a - 2 * x * self.cov + x * x * self.var_factor
        return self.a - self.factor * x, sqrt(max(variance, LEAST_VARIANCE))

    def below(self, x: float, reading: float) -> float:
        """How likely she reads at most that at x, noise aside [-]; never, at or under the floor."""
        if reading <= self.floor:
            return 0.0
        mean, sd = self.left(x)
        return _normal((log(reading - self.floor) - mean) / sd)


class Drying(NamedTuple):
    """The forecast of one boat: a line for each floor, and the target [points of the scale]."""

    lines: tuple[Line, ...]
    target: float

    def probability(self, x: float) -> float:
        """How likely she is at her target by expected decay x [-]."""
        return self._below(x, self.target)

    def _below(self, x: float, reading: float) -> float:
        return sum(line.weight * line.below(x, reading) for line in self.lines)

    def quantile_x(self, p: float) -> float | None:
        """The first expected decay by which she is at her target with probability `p` [-]; None = never.

        Raises ValueError for odds outside 0 to 1.
        """
        _refuse_odds(p)
        early = 0.0
        for late in LOOKS:
            if self.probability(late) >= p:
                return _halved(early, late, lambda x: self.probability(x) >= p)
            early = late
        return None

    @property
    def factor(self) -> float:
        """How many times as fast as the norm she dries [-]."""
        return sum(line.weight * line.factor for line in self.lines)

    @property
    def factor_sd(self) -> float:
        """Standard deviation of the factor [-]."""
        mean = self.factor
        return sqrt(sum(one.weight * (one.var_factor + (one.factor - mean) ** 2) for one in self.lines))

    @property
    def floor_high(self) -> float:
        """The reading her floor is at or below with nine chances in ten [points of the scale].

        Each floor stands for a stretch half way to its neighbours, as likely all along it.
        """
        floors = [line.floor for line in self.lines]
        edges = [(one + other) / 2 for one, other in pairwise(floors)]
        edges = [2 * floors[0] - edges[0], *edges, 2 * floors[-1] - edges[-1]] if edges else floors * 2
        still = 0.9
        for line, low, high in zip(self.lines, edges, edges[1:], strict=False):
            if line.weight >= still:
                return low + (high - low) * still / line.weight
            still -= line.weight
        return edges[-1]

    def band(self, xs: Iterable[float], p_low: float = 0.1, p_high: float = 0.9) -> list[tuple[float, float]]:
        """The readings expected at each x, noise aside: at most the first with odds of `p_low`, the second
        with `p_high` [points of the scale]. Raises ValueError for odds outside 0 to 1."""
        _refuse_odds(p_low, p_high)
        return [(self._reading(x, p_low), self._reading(x, p_high)) for x in xs]

    def _reading(self, x: float, p: float) -> float:
        low, high = self.lines[0].floor, self.lines[-1].floor + 1.0
        while self._below(x, high) < p and high < FURTHEST_READING:
            high += high - low
        return _halved(low, high, lambda reading: self._below(x, reading) >= p)


def fit(points: Iterable[Point], belief: Belief, target: float) -> Drying:
    """What a boat's rounds since her last wash say, with what was believed of her before.

    The order of the points does not matter; with none, the belief alone speaks. Raises ValueError for a
    point, belief or target that cannot be.
    """
    told = sorted(points)
    for point in told:
        if not (all(map(isfinite, point)) and point.x >= 0 and point.noise > 0):
            raise ValueError(
                f"A point has an x of 0 or more, a reading and a noise above zero: {point} has not."
            )
    if not (belief.spread > 0 and belief.start > 0 and belief.start_sd > 0 and belief.floor_sd > 0):
        raise ValueError("A belief has a start and standard deviations above zero: give them.")
    if not 0 <= belief.held_up < 1:
        raise ValueError(f"The odds of a boat's being held up are 0 to below 1: {belief.held_up} is not.")
    if not isfinite(target):
        raise ValueError("A forecast needs a target: the reading of the dry topsides and 3 to 5 points.")
    fitted = [(_line(told, belief, floor), log(weight)) for floor, weight in _floors(belief)]
    scores = [known + line.weight for line, known in fitted]
    best = max(scores)
    shares = [exp(score - best) for score in scores]
    lines = (line._replace(weight=s / sum(shares)) for (line, _), s in zip(fitted, shares, strict=True))
    return Drying(tuple(lines), target)


def _floors(belief: Belief) -> Iterator[tuple[float, float]]:
    """The floors that are mixed, rising, and what each weighs before any round."""
    weights = [exp(-0.5 * step**2) for step in FLOORS]
    for step, weight in zip(FLOORS, weights, strict=True):
        yield belief.floor + step * belief.floor_sd, (1 - belief.held_up) * weight / sum(weights)
    if belief.held_up:
        for step in HELD_UP_FLOORS:
            yield belief.floor + step * belief.floor_sd, belief.held_up / len(HELD_UP_FLOORS)


def _line(points: Sequence[Point], belief: Belief, floor: float) -> Line:
    """The conjugate fit on one floor; its `weight` is the logarithm of how well that floor fits (-χ²/2)."""
    p_aa, p_af, p_ff = belief.start_sd**-2, 0.0, belief.spread**-2  # precision, then right hand side
    r_a, r_f = p_aa * log(belief.start), p_ff * belief.factor
    far = [point for point in points if point.value - floor >= NEAR_FLOOR * point.noise]
    for x, value, noise in far:
        weight, z = ((value - floor) / noise) ** 2, log(value - floor)
        p_aa += weight
        p_af -= weight * x
        p_ff += weight * x * x
        r_a += weight * z
        r_f -= weight * x * z
    det = p_aa * p_ff - p_af * p_af
    var_a, cov, var_factor = p_ff / det, -p_af / det, p_aa / det
    a, factor = var_a * r_a + cov * r_f, cov * r_a + var_factor * r_f
    misfit = 0.0
    for x, value, noise in points:
        z = a - factor * x
        if value - floor >= NEAR_FLOOR * noise:
            misfit += ((value - floor) / noise * (log(value - floor) - z)) ** 2
        else:
            misfit += ((value - floor - exp(min(z, 50.0))) / noise) ** 2
    return Line(floor, -misfit / 2, a, factor, var_a, cov, var_factor)


def finished_factor(points: Iterable[Point], belief: Belief) -> float | None:
    """What a finished boat's own rounds say of her factor [-], for the yard's history; None if too little.

    Nothing is believed of her factor beforehand; of her floor what `belief` says.
    """
    told = list(points)
    far = [point for point in told if point.value - belief.floor >= NEAR_FLOOR * point.noise]
    if len(far) < ENOUGH_POINTS:
        return None
    alone = fit(told, belief._replace(spread=1e3, start_sd=1e3, held_up=0.0), belief.floor + belief.floor_sd)
    if alone.factor <= 0 or alone.factor_sd > ENOUGH_SURE * alone.factor:
        return None
    return alone.factor


def _refuse_odds(*ps: float) -> None:
    for p in ps:
        if not 0 < p < 1:
            raise ValueError(f"Odds lie between 0 and 1: {p} does not.")


def _normal(z: float) -> float:
    """The normal distribution up to z [-]."""
    return 0.5 * erfc(-z / sqrt(2))


def _halved(low: float, high: float, reached: Callable[[float], bool], times: int = 28) -> float:
    """Where between `low`, not reached, and `high`, reached, it comes to be reached."""
    for _ in range(times):
        middle = (low + high) / 2
        if reached(middle):
            high = middle
        else:
            low = middle
    return high
