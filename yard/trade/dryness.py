"""When she may be signed dry: the stop rule as evidence, line by line, and when waiting won't get her there.

The parts of the rule and their figures are in `stoprule`. The surveyor or the yard may sign by exception: the
evidence then says what did not hold.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from datetime import date, timedelta
from typing import NamedTuple, Protocol

from yard.trade.ranges import Range
from yard.trade.rounds import RoundRead, hull_readings, usable
from yard.trade.spots import MEAN, Level, in_words, median, reading_noise
from yard.trade.stoprule import (
    ABOVE_TOPSIDE,
    RULE,
    Line,
    Signing,
    StopRule,
    agree_part,
    every_spot_part,
    excused_part,
    far_over_part,
    figure,
    film_part,
    heat_part,
    rising_part,
    share_part,
    target_part,
    washed_part,
    weekly,
)

__all__ = [
    "ADVICE",
    "RULE",
    "Evidence",
    "Line",
    "Signing",
    "Stall",
    "StopRule",
    "evidence",
    "main_round",
    "stalled",
    "target_from",
]

ADVICE = "Waiting won't dry her: wash again, peel deeper, or ask the surveyor."

STALL_D = 21
"""[d] a plateau has lasted so long; 14 to 28. Common practice. Changed in the code only."""

STALL_FALL = 0.01
"""[share of the scale] a fall over `STALL_D` up to this is none; 0.01 to 0.02. Common practice. Changed in
the code only."""


class Evidence(NamedTuple):
    """The whole rule, and the target it was held against [units]; None if there was nothing to go by."""

    lines: tuple[Line, ...]
    target: float | None

    @property
    def holds(self) -> bool:
        """Whether she may be signed dry without an exception."""
        return all(line.holds for line in self.lines)

    @property
    def failing(self) -> tuple[Line, ...]:
        """What does not hold."""
        return tuple(line for line in self.lines if not line.holds)

    @property
    def says(self) -> str:
        """The evidence in a sentence or a few."""
        if self.holds:
            return f"All {len(self.lines)} parts of the rule for signing dry hold."
        count = len(self.failing)
        verb = "does" if count == 1 else "do"
        return " ".join(
            [f"{count} of {len(self.lines)} parts of the rule for signing dry {verb} not hold."]
            + [line.says for line in self.failing]
        )


def target_from(readings: Sequence[float]) -> Range:
    """The target from readings of her dry topside [units]: their median and 3 to 5 more.

    Raises:
        ValueError: if there is none.
    """
    if not readings:
        raise ValueError("Her dry topside was never read: read two to four spots there, or set a target.")
    middle = median(readings)
    return Range(*(middle + more for more in ABOVE_TOPSIDE))


def evidence(
    rounds: Iterable[RoundRead],
    signing: Signing,
    *,
    spots: Collection[str] = (),
    references: Collection[str] = frozenset(),
    washes: Collection[date] = (),
    target: float | None = None,
    scale: tuple[float, float] = (0.0, 100.0),
    rule: StopRule = RULE,
) -> Evidence:
    """Hold a boat against the stop rule on the day of signing.

    Args:
        rounds: her rounds; later ones than the day of signing do not count. Those count that were
            read with the meter and mode of the last one; of two on that day, as most of hers were.
        signing: what the signer says.
        spots: codes of all marked spots of the hull, to tell which were not read.
        references: codes of spots on the dry topsides.
        washes: the days she was washed on.
        target: the reading that counts as dry [units]; her topside and `rule.over_topside` where None.
        scale: the meter's lowest and highest reading [units].

    Raises:
        ValueError: as `usable`.
    """
    taken = sorted((r for r in rounds if r.day <= signing.day), key=lambda r: r.day)
    given = [day for day in washes if day <= signing.day]
    latest = main_round(taken)
    used = usable(
        taken,
        washes=given,
        references=references,
        excused=signing.excused,
        meter=latest and latest.meter,
        mode=latest and latest.mode,
        scale=scale,
        share_pct=rule.share_pct,
    )
    aside = set(references) | set(signing.excused)
    days = {point.day for point in used.points}
    kept = [
        (r.day, hull_readings(r, aside))
        for r in taken
        if latest and r.day in days and (r.meter, r.mode) == (latest.meter, latest.mode)
    ]
    if target is None and used.reference is not None:
        target = used.reference + rule.over_topside
    last = kept[-1] if kept else None
    noise = reading_noise(kept, scale[1] - scale[0])
    return Evidence(
        (
            every_spot_part(last, set(spots) - aside - {MEAN}, used.says),
            share_part(last, target, rule),
            far_over_part(last, target, rule),
            excused_part(signing.excused),
            target_part(target, used.reference),
            agree_part(weekly(kept), rule),
            rising_part(weekly(kept), noise),
            washed_part(given, signing.day, rule),
            heat_part(signing, rule),
            film_part(signing, rule),
        ),
        target,
    )


def main_round(taken: Sequence[RoundRead]) -> RoundRead | None:
    """The last round; of several on one day the one with the meter and mode that most of hers have."""
    often = Counter((r.meter, r.mode) for r in taken)
    return max(taken, key=lambda r: (r.day, often[r.meter, r.mode], r.meter, r.mode), default=None)


# --- A plateau -------------------------------------------------------------------------------------------
class HasFloor(Protocol):
    """A forecast that says where her readings end."""

    @property
    def floor_high(self) -> float:
        """The 90 % point of what her readings fall to [units]."""


class Stall(NamedTuple):
    """A plateau above the target: since when, how much she fell in three weeks [units], why, and what to do.

    `fall` is None where only the forecast of her floor says so.
    """

    since: date
    fall: float | None
    says: str
    advice: str = ADVICE


def stalled(
    levels: Sequence[Level],
    target: float,
    drying: HasFloor | None = None,
    *,
    scale: tuple[float, float] = (0.0, 100.0),
) -> Stall | None:
    """Whether waiting is of no use: no fall for three weeks above the target, or a floor above it.

    The fall is that of the weighted line through the levels of the last three weeks, carried over 21 days; up
    to 1 % of the scale is none. A floor counts once three levels stand behind it; its prior alone says
    nothing about her.

    Args:
        levels: the levels since her last wash, in order of day.
        target: the reading that counts as dry [units].
        drying: her forecast, for the 90 % point of its floor.
        scale: the meter's lowest and highest reading [units].
    """
    if len(levels) < 3 or levels[-1].value <= target:
        return None
    last = levels[-1]
    before = [point for point in levels if point.day <= last.day - timedelta(days=STALL_D)]
    if before:
        window = [point for point in levels if point.day >= before[-1].day]
        fall = -_slope(window) * STALL_D
        if len(window) >= 3 and fall <= STALL_FALL * (scale[1] - scale[0]):
            moved = f"rose by {figure(-fall)}" if fall < 0 else f"fell by only {figure(fall)}"
            says = (
                f"From {in_words(window[0].day)} to {in_words(last.day)} she {moved} in three weeks, and "
                f"stands at {figure(last.value)}; the target is {figure(target)}. {ADVICE}"
            )
            return Stall(window[0].day, fall, says)
    if drying is not None and drying.floor_high > target:
        says = (
            f"Her readings may end at {figure(drying.floor_high)}, above the target {figure(target)}, by "
            f"one chance in ten. {ADVICE}"
        )
        return Stall(levels[0].day, None, says)
    return None


def _slope(points: Sequence[Level]) -> float:
    """Slope of the line through the levels, weighted by their noise [units a day]."""
    days = [(point.day - points[0].day).days for point in points]
    weights = [point.noise**-2 for point in points]
    total = sum(weights)
    day = sum(w * d for w, d in zip(weights, days, strict=True)) / total
    value = sum(w * point.value for w, point in zip(weights, points, strict=True)) / total
    across = sum(
        w * (d - day) * (point.value - value) for w, d, point in zip(weights, days, points, strict=True)
    )
    return across / sum(w * (d - day) ** 2 for w, d in zip(weights, days, strict=True))
