"""What a boat's rounds of moisture readings say: one level a round, and what was left out, why.

The **level** of a round is the reading that nine spots in ten are at or below: the same measure by which she
is signed dry, so a forecast of the level is a forecast of the signature. Readings are on the meter's own
scale [units]; they are comparative, never "per cent of water".
"""

from collections.abc import Collection, Iterable, Sequence
from datetime import date
from itertools import pairwise
from math import isfinite
from typing import NamedTuple

from yard.trade.slips import doubts_about_round
from yard.trade.spots import (
    MEAN,
    NEAR_WASH_D,
    SHARE_PCT,
    Level,
    RoundRead,
    Suspect,
    in_words,
    level,
    levels,
    median,
    near_wash,
    suspects,
)

__all__ = [
    "MEAN",
    "LeftOut",
    "Level",
    "RoundRead",
    "Suspect",
    "Used",
    "doubts_about_round",
    "hull_readings",
    "level",
    "near_wash",
    "topside",
    "usable",
]

FIT_AFTER_D = 5
"""[d] from the last wash to the first reading that a forecast uses; 4 to 7. Common practice. Changed in the
code only."""


class LeftOut(NamedTuple):
    """A round that the forecast does not use, and the sentence that says why."""

    day: date
    why: str


class Used(NamedTuple):
    """The rounds sorted out: levels in order of day, the rest with a reason each, and what is doubtful.

    `reference` [units] is the median of her dry topside with the same meter and mode; None if never read.
    """

    points: tuple[Level, ...]
    left_out: tuple[LeftOut, ...]
    reference: float | None
    suspects: tuple[Suspect, ...]
    says: str


def usable(
    rounds: Iterable[RoundRead],
    *,
    washes: Collection[date] = (),
    references: Collection[str] = frozenset(),
    excused: Collection[str] = frozenset(),
    meter: str | None = None,
    mode: str | None = None,
    scale: tuple[float, float] = (0.0, 100.0),
    share_pct: int = SHARE_PCT,
) -> Used:
    """Sort out which rounds a forecast may use, in whatever order they come.

    Args:
        rounds: all rounds of the treatment.
        washes: the days she was washed on; each starts the drying anew.
        references: codes of spots on the dry topsides.
        excused: codes of spots that do not count.
        meter, mode: use the rounds of this meter or mode only.
        scale: the meter's lowest and highest reading [units].
        share_pct: the share of her spots that a level is at or above [%].

    Raises:
        ValueError: if the rounds since the last wash are of several meters or modes and none is asked for, if
            two rounds of one day are alike, or a reading is no number.
    """
    ordered = sorted(rounds, key=lambda r: (r.day, r.meter, r.mode))
    _refuse(ordered)
    washed = sorted(washes)
    left_out = [
        LeftOut(r.day, why) for r in ordered if (why := _too_early(r, washed) or _other(r, meter, mode))
    ]
    kept = [r for r in ordered if not (_too_early(r, washed) or _other(r, meter, mode))]
    for what, names in (("meters", {r.meter for r in kept}), ("modes", {r.mode for r in kept})):
        if len(names) > 1:
            raise ValueError(
                f"Mixed {what}: {' and '.join(sorted(names))}. The forecast can't join them: say which one."
            )
    alike = kept or [r for r in ordered if not _other(r, meter, mode)][-1:]
    reference = topside(
        [r for r in ordered if alike and (r.meter, r.mode) == (alike[-1].meter, alike[-1].mode)],
        washes=washed,
        references=set(references) - set(excused),
    )
    aside = set(references) | set(excused)
    figures: list[tuple[date, dict[str, float]]] = []
    for r in kept:
        counted = hull_readings(r, aside)
        if counted:
            figures.append((r.day, counted))
        else:
            what = "only the topside or excused spots were read" if r.readings else "no spot was read"
            left_out.append(LeftOut(r.day, f"The round of {in_words(r.day)} is left out: {what}."))
    points = levels(figures, scale, share_pct)
    return Used(
        points,
        tuple(sorted(left_out)),
        reference,
        suspects(figures, scale),
        _says(points, left_out, washed, share_pct),
    )


def hull_readings(read: RoundRead, aside: Collection[str] = frozenset()) -> dict[str, float]:
    """Its readings but for the spots `aside`; the mean counts only where no spot was read."""
    counted = {spot: value for spot, value in read.readings.items() if spot not in aside}
    spots = {spot: value for spot, value in counted.items() if spot != MEAN}
    return spots or counted


def topside(
    rounds: Iterable[RoundRead], *, washes: Collection[date], references: Collection[str]
) -> float | None:
    """Median reading of her dry topside [units], but within 48 h of a wash; None if it was never read."""
    values = [
        value
        for r in rounds
        if near_wash(r.day, washes) is None
        for spot, value in r.readings.items()
        if spot in references
    ]
    return median(values) if values else None


# --- Which rounds ----------------------------------------------------------------------------------------
def _refuse(ordered: Sequence[RoundRead]) -> None:
    for r in ordered:
        for spot, value in r.readings.items():
            if not isfinite(value):
                raise ValueError(f"The reading at {spot} of {in_words(r.day)} is no number: read it again.")
    for before, after in pairwise(ordered):
        if (before.day, before.meter, before.mode) == (after.day, after.meter, after.mode):
            raise ValueError(
                f"There are two rounds of {in_words(after.day)} with {after.meter} ({after.mode}): keep one."
            )


def _too_early(r: RoundRead, washed: Sequence[date]) -> str:
    """Why the washes keep it out, or nothing."""
    if not washed:
        return ""
    last, head = washed[-1], f"The round of {in_words(r.day)} is left out: "
    since = (r.day - last).days
    if since < 0:
        return f"{head}she was washed on {in_words(last)}, which starts the drying anew."
    if since < NEAR_WASH_D:
        return f"{head}she was washed on {in_words(last)}, less than 48 h before."
    if since < FIT_AFTER_D:
        return (
            f"{head}{since} days after the wash of {in_words(last)}; the fit starts {FIT_AFTER_D} days after."
        )
    return ""


def _other(r: RoundRead, meter: str | None, mode: str | None) -> str:
    """Why its meter or mode keeps it out, or nothing."""
    head = f"The round of {in_words(r.day)} is left out: "
    if meter is not None and r.meter != meter:
        return f"{head}it was read with {r.meter}, not with {meter}."
    if mode is not None and r.mode != mode:
        return f"{head}it was read {r.mode}, not {mode}."
    return ""


def _says(
    points: Sequence[Level], left_out: Sequence[LeftOut], washed: Sequence[date], share_pct: int
) -> str:
    since = f" since the wash of {in_words(washed[-1])}" if washed else ""
    if not points:
        return f"No round{since} can be used yet ({len(left_out)} left out)."
    last = points[-1]
    rounds = "1 round" if len(points) == 1 else f"{len(points)} rounds"
    share = "the reading is" if last.spots == 1 else f"{share_pct} % of {last.spots} spots are at or below"
    so_far = f"{rounds}{since}, {len(left_out)} left out"
    return f"{so_far}; on {in_words(last.day)} {share} {round(last.value, 1):g}."
