"""Washes, and the yard's norms of drying."""

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from yard.actions.base import Refused, Stale, action, add, change, locked, not_ahead
from yard.actions.schemes import pointing, too_hot
from yard.models import Regime, RegimeNorm, Role, Stage, StageKind, WashRecord
from yard.roles import Actor

WASHED_IN = (StageKind.WASH, StageKind.DRY)
"""The kinds of stages in which a hull is washed; a wash sends a drying one back to its start."""
HOT_C = (30, 100)
"""Coldest and hottest water of a wash [degrees C]: below it is a rinse, above it is no water (common
practice: 60 to 90 at the lance)."""
WARM_AIR_C = 45
"""Warmest air that a hull is dried in, blankets apart [degrees C]; above it, 68 is taken for Fahrenheit
(common practice: a tent 20 to 35)."""


@action(Role.MANAGER, Role.CREW)
def record_wash(
    who: Actor,
    *,
    stage: Stage,
    day_on: date | None = None,
    minutes: int | None = None,
    water_c: Decimal | None = None,
    note: str = "",
    key: UUID | None = None,
    taken_at: datetime | None = None,
) -> WashRecord:
    """Record that she was washed, so many `minutes` [min] with water of `water_c` [degrees C].

    The day is the one on which it was done, by the yard's clock. A cold rinse has no `water_c`.

    Raises:
        Refused: if the stage neither washes nor dries, the day is still to come or before she arrived, that
            day's wash is there already, or a figure cannot be (water as in Fahrenheit is asked about).
    """
    day = day_on or (taken_at.astimezone(ZoneInfo(who.yard.timezone)).date() if taken_at else who.today)
    return _wash(who, WashRecord(stage=stage, day_on=day, minutes=minutes, water_c=water_c, note=note))


@action(Role.MANAGER)
def correct_wash(who: Actor, *, wash: WashRecord, why: str, **fields: Any) -> WashRecord:
    """Put other `fields` (day_on, minutes, water_c, note) in a wash's place, or, with none, withdraw it; the
    old one is kept either way.

    Raises:
        Refused: without a reason, if it was corrected or withdrawn already, or as `record_wash`.
    """
    if not why.strip():
        raise Refused("Say why it is corrected.", "why")
    wash = locked(wash)
    if wash.superseded:
        raise Refused("That wash was corrected already: look at the newer one.")
    change(who, wash, why=why, superseded=True)
    if not fields:
        return WashRecord.objects.get(pk=wash.pk)
    given = {name: getattr(wash, name) for name in ("day_on", "minutes", "water_c", "note")} | fields
    return _wash(who, WashRecord(stage=wash.stage, replaces=wash, **given), why)


def _wash(who: Actor, wash: WashRecord, why: str = "") -> WashRecord:
    """Store a wash that can have been; part of an action."""
    day = wash.day_on
    not_ahead(who, day, "day_on")
    for field, sentence in wrong_with_wash(wash.stage, day, wash.minutes, wash.water_c):
        raise Refused(sentence, {"position": "stage"}.get(field, field))
    if wash.stage.washes.filter(day_on=day, superseded=False).exists():
        raise Refused(
            f"Her wash of {day:%-d %b %Y} is there already: give another day, or leave it.", "day_on"
        )
    return add(who, wash, why=why)


def wrong_with_wash(
    stage: Stage, day: date, minutes: int | None, water_c: Decimal | None
) -> Iterator[tuple[str, str]]:
    """What is wrong with a wash of that stage: each time the field, and a sentence that says what to do.

    `minutes` [min], `water_c` [degrees C]; the field of the stage is `position`, as in a file.
    """
    boat, arrived = stage.treatment.boat, stage.treatment.arrived_on
    if stage.kind not in WASHED_IN:
        yield "position", f"“{stage.name}” neither washes nor dries: name the stage in which she is washed."
    if arrived is None:
        yield "day_on", f"{boat} has not arrived: say first when she came."
    elif day < arrived:
        yield "day_on", f"{boat} came only on {arrived:%-d %b %Y}: give that day or a later one."
    if minutes is not None and not 0 < minutes <= 24 * 60:
        yield "minutes", "A wash takes more than 0 minutes and at most a day: correct the figure."
    if water_c is not None and water_c > HOT_C[1]:
        yield "water_c", f"{too_hot(water_c)} for water: give degrees Celsius."
    if water_c is not None and water_c < HOT_C[0]:
        told = f"{float(water_c):g} °C is no hot wash, which has {HOT_C[0]} to {HOT_C[1]} °C"
        yield "water_c", f"{told}: correct it, or leave it empty for a cold rinse."


@action(Role.MANAGER)
def save_regime_norm(
    who: Actor,
    *,
    regime: str,
    version: int | None,
    half_life_low_d: Decimal,
    half_life_likely_d: Decimal,
    half_life_high_d: Decimal,
    at_c: Decimal,
    source: str,
) -> RegimeNorm:
    """Say how fast hulls dry at this yard in a regime: the half-lives of their readings [d], low to high, at
    `at_c` [degrees C], and where that comes from. `version` is None where the yard had no norm of its own.

    Raises:
        Refused: if the regime is none, the half-lives are out of order, a figure cannot be, or no source is
            given.
        Stale: if `version` is no longer the stored one, or another put a norm in its place.
    """
    if regime not in Regime.values:
        raise Refused(f"“{regime}” is none of {', '.join(Regime.values)}: choose one.", "regime")
    if not source.strip():
        raise Refused("Say where the figures come from: the yard's own boats, or whose practice.", "source")
    if at_c > WARM_AIR_C and regime != Regime.BLANKETS:
        raise Refused(f"{too_hot(at_c)} for air that a hull is dried in: give degrees Celsius.", "at_c")
    fields: dict[str, Any] = {
        "half_life_low_d": half_life_low_d,
        "half_life_likely_d": half_life_likely_d,
        "half_life_high_d": half_life_high_d,
        "at_c": at_c,
        "source": source,
    }
    stored = RegimeNorm.objects.of(who.yard).filter(regime=regime).first()
    if (stored is None) != (version is None):
        raise Stale(stored)
    with pointing(RegimeNorm):
        if stored is None:
            return add(who, RegimeNorm(yard=who.yard, regime=regime, **fields))
        return change(who, stored, version=version, **fields)
