"""The stop rule for *signed dry*, part by part, each a sentence with figures.

All of it is common practice; where a figure is no setting it is stated here with its range.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from itertools import pairwise
from math import sqrt
from typing import NamedTuple

from yard.trade.ranges import Range
from yard.trade.spots import MEAN, SHARE_PCT, in_words

ABOVE_TOPSIDE = Range(3.0, 4.0, 5.0)
"""[units of 100] the target stands so far above her own dry topside. Common practice. The likely one is a
setting of the yard."""

RISE_SIGMA = 3.0
"""[-] a rise is above noise from so many standard deviations of a change: one boat of 24 spots in thirty is
then stopped for nothing; 2.5 to 3.5. Common practice. Changed in the code only."""

LEAST_APART_D = 6
"""[d] rounds nearer together are not a week apart; 5 to 7. Common practice. Changed in the code only."""


class StopRule(NamedTuple):
    """The figures of the rule; each range is common practice.

    `share_pct` [%] of the spots at the target (80 to 100), none more than `over_max` [units] over it (3 to
    6); the mean changing by `agree` [units] at most (0.5 to 2) in each of two weeks; last wash `wash_d` [d]
    ago (5 to 14); heat off `heat_off_h` [h] (12 to 48), the hull within `shed_c` [degrees C] of the shed (1
    to 3); the film patch on for `film_h` [h] (24 to 72).
    """

    share_pct: int = SHARE_PCT
    over_max: float = 5.0
    over_topside: float = ABOVE_TOPSIDE.likely
    agree: float = 1.0
    wash_d: int = 7
    heat_off_h: float = 24.0
    shed_c: float = 2.0
    film_h: float = 48.0


RULE = StopRule()


class Signing(NamedTuple):
    """What the signer says beside the rounds; None where it was not said.

    `excused` gives the reason for each spot left out; `heat_off_h` [h] how long heat was off before the last
    round, with the hull and shed then at `hull_c` and `shed_c` [degrees C]; `film_dry` that no damp showed
    under the taped film, which was on for `film_h` [h].
    """

    day: date
    excused: Mapping[str, str] = {}
    heat_off_h: float | None = None
    hull_c: float | None = None
    shed_c: float | None = None
    film_dry: bool | None = None
    film_h: float | None = None


class Line(NamedTuple):
    """One part of the rule, whether it holds, and a sentence with the figures."""

    name: str
    holds: bool
    says: str


Read = tuple[date, Mapping[str, float]]
"""A round that counts: its day and the readings of the hull's spots [units]."""


def every_spot_part(last: Read | None, spots: Collection[str], used: str) -> Line:
    """Every marked spot of the hull that is not excused was read in the last round."""
    name = "every spot read"
    if last is None:
        return Line(name, False, used)
    day, readings = last
    if MEAN in readings:
        return Line(name, False, f"Of the round of {in_words(day)} only the mean is there: read each spot.")
    missing = sorted(spots - readings.keys())
    if missing:
        return Line(name, False, f"Not read on {in_words(day)}: {_listed(missing)}. Read or excuse them.")
    return Line(name, True, f"{_spots(len(readings))} were read on {in_words(day)}.")


def share_part(last: Read | None, target: float | None, rule: StopRule) -> Line:
    """Enough of the spots are at the target or below."""
    name = f"{rule.share_pct} % of the spots at the target"
    if last is None or target is None:
        return Line(name, False, "There is no round to go by." if last is None else "There is no target.")
    day, readings = last
    dry = sum(value <= target for value in readings.values())
    holds = 100 * dry >= rule.share_pct * len(readings)
    says = (
        f"On {in_words(day)} {dry} of {_spots(len(readings))} ({100 * dry // len(readings)} %) read "
        f"{figure(target)} or less; {rule.share_pct} % must."
    )
    return Line(name, holds, says)


def far_over_part(last: Read | None, target: float | None, rule: StopRule) -> Line:
    """No spot is far over the target."""
    name = f"none more than {rule.over_max:g} over the target"
    if last is None or target is None:
        return Line(name, False, "There is no round to go by." if last is None else "There is no target.")
    readings = last[1]
    most = target + rule.over_max
    over = [f"{spot} ({figure(value)})" for spot, value in sorted(readings.items()) if value > most]
    if over:
        return Line(name, False, f"Above {figure(most)}: {_listed(over)}.")
    wettest = max(readings, key=lambda spot: readings[spot])
    says = f"The highest is {wettest} with {figure(readings[wettest])}; {figure(most)} is allowed."
    return Line(name, True, says)


def excused_part(excused: Mapping[str, str]) -> Line:
    """Each excused spot is named with its reason; the signer signs for it."""
    name = "excused spots named"
    if not excused:
        return Line(name, True, "No spot is excused.")
    bare = sorted(spot for spot, why in excused.items() if not why.strip())
    if bare:
        return Line(name, False, f"No reason is given for excusing {_listed(bare)}.")
    reasons = [f"{spot} ({why.strip()})" for spot, why in sorted(excused.items())]
    return Line(name, True, f"Excused by the signer: {_listed(reasons)}.")


def target_part(target: float | None, reference: float | None) -> Line:
    """The target stands 3 to 5 over her own dry topside."""
    name = "target from her own topside"
    low, _, high = ABOVE_TOPSIDE
    if target is None or reference is None:
        return Line(
            name, False, "Her dry topside was not read with this meter: read two to four spots there."
        )
    over = target - reference
    says = (
        f"The target {figure(target)} is {figure(over)} over her dry topside ({figure(reference)}); "
        f"{low:g} to {high:g} is meant"
    )
    if over < low:
        return Line(name, True, f"{says}: this is stricter.")
    return Line(name, over <= high + 1e-9, f"{says}.")


def weekly(kept: Sequence[Read]) -> list[Read]:
    """The last round and the two before it that are a week apart each, the latest first."""
    found: list[Read] = []
    for read in reversed(kept):
        if not found or (found[-1][0] - read[0]).days >= LEAST_APART_D:
            found.append(read)
    return found[:3]


def agree_part(weekly: Sequence[Read], rule: StopRule) -> Line:
    """The mean changed by little in each of two weeks."""
    name = "the last rounds agree"
    if len(weekly) < 3:
        says = f"Three rounds a week apart since the wash are needed; there {_are(len(weekly))}."
        return Line(name, False, says)
    changes = []
    for (_, after), (_, before) in pairwise(weekly):
        common = after.keys() & before.keys()
        if not common and MEAN not in after and MEAN not in before:
            return Line(name, False, "The last rounds have no spot in common: read the same spots.")
        changes.append(_mean(after, common or after.keys()) - _mean(before, common or before.keys()))
    words = " and ".join(f"{round(change, 1):+g}" for change in reversed(changes))
    says = (
        f"From {in_words(weekly[2][0])} over {in_words(weekly[1][0])} to {in_words(weekly[0][0])} her mean "
        f"changed by {words}; {rule.agree:g} is allowed."
    )
    return Line(name, all(abs(change) <= rule.agree + 1e-9 for change in changes), says)


def rising_part(weekly: Sequence[Read], noise: float) -> Line:
    """No spot rose by more than noise over the last rounds; `noise` [units] is that of one reading."""
    name = "no spot rising"
    if len(weekly) < 2:
        return Line(name, False, "One round alone can't show whether a spot is rising.")
    allowed = RISE_SIGMA * sqrt(2) * noise
    day, last = weekly[0]
    worst = {
        spot: value - min(read[spot] for _, read in weekly[1:] if spot in read)
        for spot, value in last.items()
        if any(spot in read for _, read in weekly[1:])
    }
    risen = [f"{spot} ({figure(rise)})" for spot, rise in sorted(worst.items()) if rise > allowed]
    if risen:
        says = f"Up by more than noise ({figure(allowed)}) on {in_words(day)}: {_listed(risen)}."
        return Line(name, False, says)
    if not worst:
        return Line(name, False, "The last rounds have no spot in common: read the same spots.")
    most = figure(max(0.0, *worst.values()))
    return Line(name, True, f"The greatest rise of a spot is {most}, within noise ({figure(allowed)}).")


def washed_part(washes: Collection[date], day: date, rule: StopRule) -> Line:
    """The last wash is long enough ago."""
    name = f"last wash {rule.wash_d} days ago"
    if not washes:
        return Line(name, True, "No wash of hers is recorded.")
    ago = (day - max(washes)).days
    says = f"Her last wash was {ago} days before, on {in_words(max(washes))}; {rule.wash_d} must have passed."
    return Line(name, ago >= rule.wash_d, says)


def heat_part(signing: Signing, rule: StopRule) -> Line:
    """The heat was off, and the hull as cool as the shed."""
    name = "heat off"
    if signing.heat_off_h is None:
        says = (
            "Nobody said how long the heat was off before the last round; of a boat dried without heat, say "
            "how long she has stood in the cold."
        )
        return Line(name, False, says)
    says = f"The heat was off for {signing.heat_off_h:g} h; {rule.heat_off_h:g} must pass"
    holds = signing.heat_off_h >= rule.heat_off_h
    if signing.hull_c is None or signing.shed_c is None:
        return Line(name, holds, f"{says}, so that the hull is as cool as the shed.")
    apart = abs(signing.hull_c - signing.shed_c)
    says += f", and the hull at {signing.hull_c:g} °C is {figure(apart)} from the shed's {signing.shed_c:g}"
    return Line(name, holds and apart <= rule.shed_c, f"{says}; {rule.shed_c:g} is allowed.")


def film_part(signing: Signing, rule: StopRule) -> Line:
    """The taped film patch shows no damp."""
    name = "film patch dry"
    if signing.film_dry is None:
        return Line(name, False, f"No film patch was looked at: tape one on for {rule.film_h:g} h.")
    if not signing.film_dry:
        return Line(name, False, f"The film patch does not stand as dry after {rule.film_h:g} h.")
    if signing.film_h is not None and signing.film_h < rule.film_h:
        says = f"The film patch was on for {signing.film_h:g} h; {rule.film_h:g} must pass."
        return Line(name, False, says)
    return Line(name, True, f"Under the film patch no damp shows after {rule.film_h:g} h.")


# --- Words ---------------------------------------------------------------------------------------------
def _mean(readings: Mapping[str, float], spots: Collection[str]) -> float:
    return sum(readings[spot] for spot in sorted(spots)) / len(spots)


def figure(value: float) -> str:
    """A reading as sentences give it, to a tenth at most."""
    return f"{round(value, 1):g}"


def _spots(count: int) -> str:
    return "1 spot" if count == 1 else f"{count} spots"


def _are(count: int) -> str:
    return {0: "is none", 1: "is 1"}.get(count, f"are {count}")


def _listed(names: Sequence[str]) -> str:
    """Up to six names, and how many more."""
    more = len(names) - 6
    return ", ".join(names[:6]) + (f" and {more} more" if more > 0 else "")
