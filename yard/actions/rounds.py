"""Moisture rounds, and the signature that she is dry."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from yard.actions.base import NotAllowed, Refused, action, add, change, check, locked, not_ahead
from yard.models import DrySigned, Meter, Mode, Person, Reading, Role, Round, Treatment, WashRecord
from yard.roles import Actor
from yard.trade.air import doubts_about_air
from yard.trade.clock import local_instant
from yard.trade.dryness import Evidence, Signing, StopRule, evidence, main_round
from yard.trade.ranges import Doubt
from yard.trade.rounds import MEAN, RoundRead, doubts_about_round

NOT_SAID_C, NOT_SAID_PCT = 15.0, 60.0
"""[degrees C], [%] what raises no doubt, for the one of temperature and humidity that was not said."""


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

    The day is the one on which it was taken, by the yard's clock; a `taken_at` without a zone is by that
    clock. `sure` says that what reads like a slip is meant: a figure off the scale, a spot that leapt, one
    figure at every spot, another meter or mode than since her last wash, a day before a round that is there
    or within 48 h of a wash, a wet surface, air in Fahrenheit, humidity as a fraction.

    Raises:
        Refused: if no figure is given, a spot is unknown, the day is still to come, the round is there
            already, the air can't be so, the clock skipped that time or showed it twice; and, unless `sure`,
            with each thing that reads like a slip, the field being the first one's.
    """
    if taken_at is not None and taken_at.tzinfo is None:
        try:
            taken_at = local_instant(taken_at, who.yard.timezone)
        except ValueError as error:
            raise Refused(str(error), "taken_at") from error
    day = day_on or (taken_at.astimezone(ZoneInfo(who.yard.timezone)).date() if taken_at else who.today)
    not_ahead(who, day, "day_on")
    if not readings:
        raise Refused("A round needs at least one reading.", "readings")
    spots = {spot.code: spot for spot in treatment.boat.spots.filter(retired_on__isnull=True)}
    for code in readings:
        if code not in spots:
            raise Refused(f"{treatment.boat} has no spot {code}.", code)
    doubts = asked_about(
        treatment,
        meter=meter,
        mode=mode,
        day_on=day,
        readings=readings,
        air_c=air_c,
        rh_pct=rh_pct,
        surface_dry=surface_dry,
    )
    if doubts and not sure:
        raise Refused(" ".join(doubt.says for doubt in doubts), doubts[0].field)
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
def correct_reading(
    who: Actor, *, reading: Reading, value: Decimal | None = None, why: str, sure: bool = False
) -> Reading:
    """Put another figure in a reading's place, or none to withdraw it; the old one is kept either way.

    Crew correct only what they read themselves, and only on the same day. `sure` says that a figure that
    reads like a slip is meant.

    Raises:
        NotAllowed: if crew correct another's reading, or one of another day.
        Refused: without a reason, if the reading was corrected or withdrawn already, or, unless `sure`, if
            the figure is off the scale or leaps from the spot's last one.
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
    if value is not None and not sure and (slips := slips_of(reading, value)):
        raise Refused(" ".join(doubt.says for doubt in slips), "value")
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

    Where the evidence does not hold, the yard or her surveyor may sign by exception: the `note` says why, and
    the history keeps what did not hold.

    Raises:
        Refused: if she is signed dry already, an excused spot is unknown or has no reason, the day is still
            to come, or the evidence does not hold and no note says why she is signed all the same.
    """
    not_ahead(who, signed_on, "signed_on")
    codes = set(treatment.boat.spots.values_list("code", flat=True))
    for code, why in (excused or {}).items():
        if code not in codes:
            raise Refused(f"{treatment.boat} has no spot {code}.", "excused")
        if not why.strip():
            raise Refused(f"Say why {code} is excused.", "excused")
    if treatment.dry_signed.filter(superseded=False).exists():
        raise Refused("She is signed dry already.")
    found = dry_evidence(
        treatment, signed_on=signed_on, excused=excused, film_test=film_test, heat_off_h=heat_off_h
    )
    if not found.holds and not note.strip():
        raise Refused(
            f"{found.says} The yard or her surveyor may sign by exception: say why in the note.", "note"
        )
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
        also=None if found.holds else {"did_not_hold": {line.name: line.says for line in found.failing}},
    )


# --- What the trade is asked ------------------------------------------------------------------------------
def asked_about(
    treatment: Treatment,
    *,
    meter: Meter,
    mode: str,
    day_on: date,
    readings: Mapping[str, Decimal],
    air_c: Decimal | None = None,
    rh_pct: Decimal | None = None,
    surface_dry: bool | None = None,
) -> list[Doubt]:
    """What `record_round` asks about unless it is `sure`, one by one; for the page that shows each.

    Raises:
        Refused: if the air can't be so.
    """
    new = RoundRead(day_on, {code: float(value) for code, value in readings.items()}, str(meter), mode)
    earlier, washes = rounds_of(treatment), washes_of(treatment)
    return [
        *_doubts_about_air(air_c, rh_pct),
        *doubts_about_round(new, earlier, _scale(meter), washes=washes, surface_dry=surface_dry),
    ]


def slips_of(reading: Reading, value: Decimal) -> list[Doubt]:
    """What `correct_reading` asks about unless it is `sure`, beside the rest of the round."""
    round_, code = reading.round, reading.spot.code
    now = _read(round_)
    new = now._replace(readings={**now.readings, code: float(value)})
    others = [read for read in rounds_of(round_.treatment) if read[2:] != now[2:] or read.day != now.day]
    return [doubt for doubt in doubts_about_round(new, others, _scale(round_.meter)) if doubt.field == code]


def dry_evidence(
    treatment: Treatment,
    *,
    signed_on: date,
    excused: Mapping[str, str] | None = None,
    film_test: bool = False,
    heat_off_h: Decimal | None = None,
) -> Evidence:
    """The stop rule held against her rounds and washes, as `sign_dry` does; for the page that asks to sign.

    `heat_off_h` [h]; `film_test` that no damp showed under the film patch.
    """
    taken = list(_rounds(treatment))
    rounds = [_read(round_) for round_ in taken]
    main = main_round([read for read in rounds if read.day <= signed_on])
    meter = next((round_.meter for round_ in taken if main and str(round_.meter) == main.meter), None)
    spots = list(treatment.boat.spots.all())
    settings = treatment.yard.settings
    return evidence(
        rounds,
        Signing(
            signed_on,
            excused or {},
            heat_off_h=None if heat_off_h is None else float(heat_off_h),
            film_dry=film_test or None,
        ),
        spots={spot.code for spot in spots if spot.retired_on is None and spot.code != MEAN},
        references={spot.code for spot in spots if spot.is_reference},
        washes=washes_of(treatment),
        target=None if treatment.target_reading is None else float(treatment.target_reading),
        scale=_scale(meter) if meter else (0.0, 100.0),
        rule=StopRule(
            share_pct=settings.spots_at_target_pct,
            over_max=float(settings.spot_over_max),
            over_topside=float(settings.target_over_topside),
        ),
    )


def rounds_of(treatment: Treatment) -> list[RoundRead]:
    """Her rounds as the trade reads them, in order of day, without what was corrected or withdrawn."""
    return [_read(round_) for round_ in _rounds(treatment)]


def washes_of(treatment: Treatment) -> list[date]:
    """The days she was washed on in this treatment, in order."""
    washes = WashRecord.objects.filter(stage__treatment=treatment, superseded=False)
    return sorted(washes.values_list("day_on", flat=True))


def _rounds(treatment: Treatment) -> QuerySet[Round]:
    rounds = treatment.rounds.filter(superseded=False).order_by("day_on", "pk")
    return rounds.select_related("meter").prefetch_related("readings__spot")


def _read(round_: Round) -> RoundRead:
    readings = {r.spot.code: float(r.value) for r in round_.readings.all() if not r.superseded}
    return RoundRead(round_.day_on, readings, str(round_.meter), round_.mode)


def _scale(meter: Meter) -> tuple[float, float]:
    return float(meter.scale_low), float(meter.scale_high)


def _doubts_about_air(air_c: Decimal | None, rh_pct: Decimal | None) -> list[Doubt]:
    """Doubts about what was said of the air.

    Raises:
        Refused: if the air can't be so.
    """
    if air_c is None and rh_pct is None:
        return []
    celsius = NOT_SAID_C if air_c is None else float(air_c)
    humidity = NOT_SAID_PCT if rh_pct is None else float(rh_pct)
    try:
        return doubts_about_air(celsius, humidity)
    except ValueError as error:
        raise Refused(str(error), "air_c" if 0 <= humidity <= 100 else "rh_pct") from error
