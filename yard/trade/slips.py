"""What reads like a slip in a round that is being entered."""

from collections.abc import Collection, Iterable, Sequence
from datetime import date

from yard.trade.ranges import Doubt
from yard.trade.spots import RoundRead, in_words, median, near_wash

JUMP = 0.20
"""[share of the scale] more than a spot changes from one round to the next beside the others: such a figure
is asked about; 0.15 to 0.25. Common practice. Changed in the code only."""

ALIKE = 4
"""[-] so many spots do not read the same to the tenth of a unit: from here on it is asked about. Common
practice. Changed in the code only."""


def doubts_about_round(
    new: RoundRead,
    earlier: Iterable[RoundRead],
    scale: tuple[float, float],
    *,
    washes: Collection[date] = (),
    surface_dry: bool | None = None,
) -> list[Doubt]:
    """What reads like a slip in a round that is being entered, each with the field it stands in.

    Args:
        new: the round; a doubt about a reading stands in the field of its spot's code.
        earlier: her rounds that are there already, of any day.
        scale: the meter's lowest and highest reading [units].
        washes: the days she was washed on.
        surface_dry: whether the surface was dry, if that was said.
    """
    there = sorted(earlier, key=lambda r: r.day)
    found = _of_the_round(new, there, washes, surface_dry)
    low, high = scale
    off = {spot: value for spot, value in new.readings.items() if not low <= value <= high}
    for spot, value in off.items():
        says = (
            f"{value:g} at {spot} is off the scale of {new.meter} ({low:g} to {high:g}): read again, or say "
            "it is meant."
        )
        found.append(Doubt(spot, says))
    found += _jumps(new, there, off, JUMP * (high - low))
    same = set(new.readings.values())
    if len(new.readings) >= ALIKE and len(same) == 1:
        says = f"All {len(new.readings)} spots read {same.pop():g}: was one figure copied? Say it is meant."
        found.append(Doubt("readings", says))
    return found


def _of_the_round(
    new: RoundRead, there: Sequence[RoundRead], washes: Collection[date], surface_dry: bool | None
) -> list[Doubt]:
    """Doubts about its day, meter, mode and surface."""
    found = []
    later = [r.day for r in there if r.day > new.day]
    if later:
        says = (
            f"A round of {in_words(max(later))} is there already, and this one is for {in_words(new.day)}, "
            "before it: correct the day, or say it is meant."
        )
        found.append(Doubt("day_on", says))
    wash = near_wash(new.day, washes)
    if wash is not None:
        says = (
            f"She was washed on {in_words(wash)}, and within 48 h the meter reads the wash: no forecast will "
            "use this round. Read later, or say it is meant."
        )
        found.append(Doubt("day_on", says))
    if surface_dry is False:
        says = "The meter reads a wet surface as a wet hull: dry it and read again, or say it is meant."
        found.append(Doubt("surface_dry", says))
    last_wash = max((wash for wash in washes if wash <= new.day), default=date.min)
    since = [r for r in there if last_wash <= r.day <= new.day]
    if since and (new.meter, new.mode) not in {(r.meter, r.mode) for r in since}:
        last = since[-1]
        field = "meter" if new.meter not in {r.meter for r in since} else "mode"
        before = " and ".join(sorted({f"{r.meter} ({r.mode})" for r in since}))
        says = (
            f"Mixed meters: the forecast can't join {new.meter} ({new.mode}) to her other rounds, read with "
            f"{before}, last on {in_words(last.day)}. Use the same one, or say it is meant."
        )
        found.append(Doubt(field, says))
    return found


def _jumps(new: RoundRead, there: Sequence[RoundRead], off: Collection[str], limit: float) -> list[Doubt]:
    """Spots that leapt from their own last reading by more than the others did [limit in units]."""
    last: dict[str, float] = {}
    for r in there:
        if r.day <= new.day and (r.meter, r.mode) == (new.meter, new.mode):
            last.update(r.readings)
    moved = {spot: value - last[spot] for spot, value in new.readings.items() if spot in last}
    found = []
    for spot, change in moved.items():
        others = [other for name, other in moved.items() if name != spot]
        common = median(others) if len(others) >= 3 else 0.0
        if spot in off or abs(change - common) <= limit:
            continue
        value, before = new.readings[spot], last[spot]
        turned = f"{value:g}"[::-1]
        swapped = f" Are its figures swapped ({turned})?" if _near(turned, before, limit / 4) else ""
        beside = f" while her spots moved by {common:+.0f}" if len(others) >= 3 else ""
        says = (
            f"{spot} read {before:g} last time and {value:g} now{beside}.{swapped} Read again, or say it is "
            "meant."
        )
        found.append(Doubt(spot, says))
    return found


def _near(turned: str, value: float, by: float) -> bool:
    return turned.isdigit() and turned[0] != "0" and abs(int(turned) - value) <= by
