"""Moisture rounds, and the signature that she is dry."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID
from zoneinfo import ZoneInfo

from yard.actions.base import NotAllowed, Refused, action, add, change, check, locked, not_ahead, plain
from yard.models import DrySigned, Meter, Mode, Person, Reading, Role, Round, Treatment
from yard.roles import Actor


@action(Role.MANAGER, Role.CREW)
def record_round(
    who: Actor,
    *,
    treatment: Treatment,
    meter: Meter,
    readings: Mapping[str, Decimal],
    mode: str = Mode.DEEP,
    day_on: date | None = None,
    air_c: Decimal | None = None,
    rh_pct: Decimal | None = None,
    surface_dry: bool | None = None,
    sure: bool = False,
    key: UUID | None = None,
    taken_at: datetime | None = None,
) -> Round:
    """Record one round: a figure for each spot's code, on the meter's own scale.

    The day is the one on which it was taken, by the yard's clock. `sure` says that a figure off the scale
    is meant.

    Raises:
        Refused: if no figure is given, a spot is unknown, a figure is off the scale, the day is still to
            come, or the round is there already.
    """
    day = day_on or (taken_at.astimezone(ZoneInfo(who.yard.timezone)).date() if taken_at else who.today)
    not_ahead(who, day, "day_on")
    if not readings:
        raise Refused("A round needs at least one reading.", "readings")
    spots = {spot.code: spot for spot in treatment.boat.spots.filter(retired_on__isnull=True)}
    for code, value in readings.items():
        if code not in spots:
            raise Refused(f"{treatment.boat} has no spot {code}.", code)
        if not sure and not meter.scale_low <= value <= meter.scale_high:
            raise Refused(
                f"{plain(value)} at {code} is off the scale of {meter} "
                f"({plain(meter.scale_low)} to {plain(meter.scale_high)}): read again, or say it is meant.",
                code,
            )
    round_ = add(
        who,
        Round(
            treatment=treatment,
            meter=meter,
            mode=mode,
            day_on=day,
            taken_at=taken_at,
            person=who.person,
            air_c=air_c,
            rh_pct=rh_pct,
            surface_dry=surface_dry,
        ),
        also={"readings": readings},
    )
    figures = [Reading(round=round_, spot=spots[code], value=value) for code, value in readings.items()]
    for figure in figures:
        check(who, figure)
    Reading.objects.bulk_create(figures)
    return round_


@action(Role.MANAGER, Role.CREW)
def correct_reading(who: Actor, *, reading: Reading, value: Decimal | None = None, why: str) -> Reading:
    """Put another figure in a reading's place, or none to withdraw it; the old one is kept either way.

    Crew correct only what they read themselves, and only on the same day.

    Raises:
        NotAllowed: if crew correct another's reading, or one of another day.
        Refused: without a reason, or if the reading was corrected or withdrawn already.
    """
    round_ = reading.round
    own = who.person is not None and round_.person_id == who.person.pk and round_.day_on == who.today
    if who.role == Role.CREW and not own:
        raise NotAllowed("Crew correct their own readings of the same day: ask the manager.")
    if not why.strip():
        raise Refused("Say why it is corrected.", "why")
    reading = locked(reading)
    if reading.superseded:
        raise Refused(f"The reading at {reading.spot} was corrected already: look at the newer one.")
    reading = change(who, reading, why=why, superseded=True)
    if value is None:
        return reading
    return add(who, Reading(round=round_, spot=reading.spot, value=value, replaces=reading), why=why)


@action(Role.MANAGER)
def sign_dry(
    who: Actor,
    *,
    treatment: Treatment,
    by: Person,
    signed_on: date,
    excused: Mapping[str, str] | None = None,
    film_test: bool = False,
    heat_off_h: Decimal | None = None,
    note: str = "",
) -> DrySigned:
    """Record who signed her dry: it opens the way to coating. `excused` gives the reason for each spot left
    out.

    Raises:
        Refused: if she is signed dry already, an excused spot is unknown or has no reason, or the day is
            still to come.
    """
    not_ahead(who, signed_on, "signed_on")
    codes = set(treatment.boat.spots.values_list("code", flat=True))
    for code, why in (excused or {}).items():
        if code not in codes:
            raise Refused(f"{treatment.boat} has no spot {code}.", "excused")
        if not why.strip():
            raise Refused(f"Say why {code} is excused.", "excused")
    return add(
        who,
        DrySigned(
            treatment=treatment,
            by=by,
            signed_on=signed_on,
            excused=[{"spot": code, "why": why} for code, why in (excused or {}).items()],
            film_test=film_test,
            heat_off_h=heat_off_h,
            note=note,
        ),
    )
