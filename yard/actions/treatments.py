"""Treatments: opened with their stages, cancelled, and the boat's real moves between bays."""

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Q

from yard.actions.base import Refused, action, add, change, locked, not_ahead
from yard.models import (
    Bay,
    Boat,
    DateKind,
    Demand,
    Role,
    Scheme,
    Season,
    Stage,
    StageDemand,
    Status,
    Stay,
    Treatment,
    TreatmentState,
    Wetness,
)
from yard.models.schemes import NEEDS, NORMS
from yard.roles import Actor


@action(Role.MANAGER, Role.OFFICE)
def open_treatment(
    who: Actor,
    *,
    boat: Boat,
    scheme: Scheme,
    season: Season,
    arrives_on: date,
    wanted_on: date | None = None,
    wanted_kind: str = DateKind.WISH,
    weight_pct: int = 100,
    wetness: str = Wetness.MID,
    surveyor: str = "",
    target_reading: Decimal | None = None,
    note: str = "",
) -> Treatment:
    """Open a boat's treatment and give it its own copy of the scheme's stages and demands.

    Without `target_reading` the scheme's holds. What is changed in the scheme later leaves this treatment
    alone.

    Raises:
        Refused: if boat or scheme is retired, the scheme has no stages, the season is closed or over by
            then, she has an open treatment already, or a day is out of order.
    """
    if boat.retired_on:
        raise Refused(f"{boat} was retired on {boat.retired_on:%-d %b %Y}: bring her back first.", "boat")
    if scheme.retired_on:
        raise Refused(f"The scheme {scheme} is retired: choose another.", "scheme")
    if season.closed_on:
        raise Refused(f"{season} is closed: choose a season that is open.", "season")
    if arrives_on > season.last_day:
        raise Refused(f"{season} ends on {season.last_day:%-d %b %Y}: choose an earlier day.", "arrives_on")
    if wanted_on and wanted_on < arrives_on:
        raise Refused("She is wanted before she arrives: mend one of the two days.", "wanted_on")
    if not scheme.stages.exists():
        raise Refused(f"The scheme {scheme} has no stages: add them first.", "scheme")
    treatment = add(
        who,
        Treatment(
            yard=who.yard,
            season=season,
            boat=boat,
            scheme=scheme,
            arrives_on=arrives_on,
            wanted_on=wanted_on,
            wanted_kind=wanted_kind,
            weight_pct=weight_pct,
            wetness=wetness,
            surveyor=surveyor,
            target_reading=target_reading if target_reading is not None else scheme.target_reading,
            note=note,
        ),
    )
    copy_stages(treatment)
    return treatment


def copy_stages(treatment: Treatment) -> list[Stage]:
    """Give a treatment its own copy of its scheme's stages and demands; part of an action."""
    models = list(treatment.scheme.stages.select_related("sheet").order_by("position"))
    stages = Stage.objects.bulk_create(
        Stage(
            yard_id=treatment.yard_id, treatment=treatment, **{name: getattr(model, name) for name in NORMS}
        )
        for model in models
    )
    copies = {model.pk: stage for model, stage in zip(models, stages, strict=True)}
    StageDemand.objects.bulk_create(
        StageDemand(stage=copies[demand.scheme_stage_id], **{name: getattr(demand, name) for name in NEEDS})
        for demand in Demand.objects.filter(scheme_stage__in=models).select_related("skill").order_by("pk")
    )
    return stages


@action(Role.MANAGER, Role.OFFICE)
def expect_boat(
    who: Actor, *, treatment: Treatment, version: int, arrives_on: date, why: str = ""
) -> Treatment:
    """Expect a boat on another day, later or earlier; her promise and her wish stay as they are.

    Raises:
        Refused: if she has come, is cancelled or afloat, or the day is past or after her season.
        Stale: if `version` is no longer the stored one.
    """
    if treatment.state != TreatmentState.EXPECTED:
        raise Refused(
            f"{treatment.boat} is {treatment.get_state_display().lower()}: she is not expected any more."
        )
    if arrives_on < who.today:
        raise Refused("That day is past: give the day she is expected now.", "arrives_on")
    if arrives_on > treatment.season.last_day:
        last = treatment.season.last_day
        raise Refused(f"{treatment.season} ends on {last:%-d %b %Y}: choose an earlier day.", "arrives_on")
    return change(who, treatment, version=version, why=why, arrives_on=arrives_on)


@action(Role.MANAGER)
def cancel_treatment(who: Actor, *, treatment: Treatment, version: int, why: str) -> Treatment:
    """Cancel a treatment: what waits or runs is dropped, and she leaves her bay today.

    Raises:
        Refused: without a reason, or if she is afloat or cancelled already.
        Stale: if `version` is no longer the stored one.
    """
    if not why.strip():
        raise Refused("Say why the treatment is cancelled.", "why")
    if treatment.state in (TreatmentState.AFLOAT, TreatmentState.CANCELLED):
        raise Refused(f"{treatment.boat} is {treatment.get_state_display().lower()} already.")
    treatment = change(who, treatment, version=version, why=why, state=TreatmentState.CANCELLED)
    for stage in treatment.stages.filter(status__in=[Status.WAITING, Status.RUNNING]):
        change(who, stage, why=why, status=Status.DROPPED)
    stay = open_stay(treatment)
    if stay:
        change(who, stay, why=why, until_on=max(stay.from_on, who.today))
        treatment.said = f"Her stay in {stay.bay} ends today."
    return treatment


@action(Role.MANAGER, Role.CREW)
def bring_in(
    who: Actor,
    *,
    treatment: Treatment,
    bay: Bay,
    on: date,
    key: UUID | None = None,
    taken_at: datetime | None = None,
) -> Stay:
    """Record that she has come to stand in a bay, from the water, the road or the slings.

    Raises:
        Refused: if the bay is taken or retired, if she stands in a bay already, or is afloat or cancelled.
    """
    treatment = locked(treatment)
    not_ahead(who, on)
    if treatment.state in (TreatmentState.AFLOAT, TreatmentState.CANCELLED):
        raise Refused(f"{treatment.boat} is {treatment.get_state_display().lower()}: open a treatment first.")
    stay = open_stay(treatment)
    if stay:
        raise Refused(f"{treatment.boat} stands in {stay.bay}: shift her instead.", "bay")
    if treatment.state == TreatmentState.EXPECTED:
        treatment = arrive(who, treatment, on)
    return _stand(who, treatment, bay, on)


@action(Role.MANAGER, Role.CREW)
def shift(
    who: Actor,
    *,
    treatment: Treatment,
    bay: Bay,
    on: date,
    key: UUID | None = None,
    taken_at: datetime | None = None,
) -> Stay:
    """Record that she was moved from the bay she stood in to another; the day of the move belongs to both.

    Raises:
        Refused: if she stands in no bay or in that one, came only later, or the bay is taken or retired.
    """
    treatment = locked(treatment)
    not_ahead(who, on)
    stay = open_stay(treatment)
    if stay is None:
        raise Refused(f"{treatment.boat} stands in no bay: bring her in first.")
    if stay.bay_id == bay.pk:
        raise Refused(f"{treatment.boat} stands in {bay} already.", "bay")
    if on < stay.from_on:
        raise Refused(f"She came to {stay.bay} only on {stay.from_on:%-d %b %Y}: give a later day.", "on")
    change(who, stay, until_on=on)
    return _stand(who, treatment, bay, on)


def open_stay(treatment: Treatment) -> Stay | None:
    """Where she stands now; None if in no bay."""
    return treatment.stays.select_related("bay").filter(until_on__isnull=True).first()


def arrive(who: Actor, treatment: Treatment, on: date) -> Treatment:
    """Mark an expected boat as here since that day; part of an action."""
    return change(who, treatment, state=TreatmentState.HERE, arrived_on=on)


def _stand(who: Actor, treatment: Treatment, bay: Bay, on: date) -> Stay:
    """Open her stay in a bay that nobody stood in on that day or since.

    That she fits is a fact, not a condition.
    """
    bay = locked(bay)  # of two who bring a boat in at once, the second sees the first one's stay
    if bay.retired_on:
        raise Refused(f"{bay} is retired since {bay.retired_on:%-d %b %Y}: choose another bay.", "bay")
    other = (
        Stay.objects.of(who.yard)
        .filter(Q(until_on__isnull=True) | Q(until_on__gt=on), bay=bay)
        .select_related("treatment__boat")
        .first()
    )
    if other and other.until_on:
        raise Refused(
            f"{other.treatment.boat} stood in {bay} until {other.until_on:%-d %b %Y}: give a later day.",
            "on",
        )
    if other:
        raise Refused(f"{other.treatment.boat} stands in {bay}: move her first or choose another bay.", "bay")
    stay = add(who, Stay(yard=who.yard, treatment=treatment, bay=bay, from_on=on))
    stay.said = " ".join(_over_limits(treatment.boat, bay))
    return stay


def _over_limits(boat: Boat, bay: Bay) -> Iterator[str]:
    """A sentence for each limit of the bay that the boat breaks."""
    load_t = boat.weighed_t or boat.displacement_t
    measures: list[tuple[str, Any, Any, str]] = [
        ("length", boat.length_m, bay.length_m, "m"),
        ("beam", boat.beam_m, bay.beam_m, "m"),
        ("height", boat.stand_height_m, bay.height_m, "m"),
        ("load", load_t, bay.load_t, "t"),
    ]
    for word, hers, limit, unit in measures:
        if limit is not None and hers > limit:
            yield f"Her {word} of {hers:.2f} {unit} is more than the {limit:.2f} {unit} {bay} takes."
