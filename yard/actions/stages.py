"""The life of a stage: started, held, released, finished, corrected."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from yard.actions.base import Refused, action, add, change, locked, not_ahead
from yard.actions.treatments import arrive, open_stay
from yard.models import (
    DrySigned,
    Hold,
    HoldReason,
    Person,
    PlaceNeed,
    Role,
    Stage,
    StageKind,
    Status,
    Treatment,
    TreatmentState,
    Work,
)
from yard.roles import Actor


@dataclass(frozen=True)
class Hours:
    """Hours one person worked [h]; on the day the stage was finished unless said otherwise."""

    person: Person
    hours: Decimal
    day_on: date | None = None
    note: str = ""


@action(Role.MANAGER, Role.CREW)
def start_stage(
    who: Actor, *, stage: Stage, on: date, key: UUID | None = None, taken_at: datetime | None = None
) -> Stage:
    """Record that a stage was started. Starting at the hoist brings an expected boat here.

    Raises:
        Refused: if it is not waiting, an earlier stage is open, it is held, she is not signed dry (before
            coats), or she stands in no bay.
    """
    return _start(who, locked(stage), on)


@action(Role.MANAGER, Role.CREW)
def finish_stage(
    who: Actor,
    *,
    stage: Stage,
    on: date,
    work: list[Hours] | None = None,
    key: UUID | None = None,
    taken_at: datetime | None = None,
) -> Stage:
    """Record that a stage is done, and the hours it took. One never started is started on the same day.

    A relaunch that is done takes her out of her bay: she is afloat.

    Raises:
        Refused: if it is done or dropped, held, would end before it began, or cannot be started (as
            `start_stage`).
    """
    stage = locked(stage)
    not_ahead(who, on)
    said = ""
    if stage.status == Status.WAITING:
        stage = _start(who, stage, on)
        said = f"“{stage.name}” had not been started; it now starts and ends on {on:%-d %b %Y}."
    if stage.status != Status.RUNNING:
        raise Refused(f"“{stage.name}” is {stage.status} already; a manager can correct it.")
    _not_held(stage)
    if stage.started_on and on < stage.started_on:
        raise Refused(f"It was started on {stage.started_on:%-d %b %Y}: give that day or a later one.", "on")
    stage = change(who, stage, why=said, status=Status.DONE, finished_on=on, done_pct=100)
    for hours in work or ():
        add(
            who,
            Work(
                stage=stage,
                person=hours.person,
                day_on=hours.day_on or on,
                hours=hours.hours,
                note=hours.note,
            ),
        )
    if stage.kind == StageKind.RELAUNCH:
        _go_afloat(who, stage.treatment, on)
    stage.said = said
    return stage


@action(Role.MANAGER, Role.CREW)
def hold_stage(
    who: Actor,
    *,
    stage: Stage,
    reason: str,
    note: str = "",
    whom: str = "",
    asked_on: date | None = None,
    expected_on: date | None = None,
    key: UUID | None = None,
    taken_at: datetime | None = None,
) -> Hold:
    """Hold a waiting or running stage from today, for somebody or something.

    Raises:
        Refused: if the stage is done or dropped, held already, or the reason is not a known one.
    """
    stage = locked(stage)
    if stage.status not in (Status.WAITING, Status.RUNNING):
        raise Refused(f"“{stage.name}” is {stage.status} already and cannot be held.")
    held = stage.holds.filter(until_on__isnull=True).first()
    if held:
        raise Refused(f"“{stage.name}” is held already ({_for(held)}): release that hold first.")
    return add(
        who,
        Hold(
            stage=stage,
            from_on=who.today,
            reason=reason,
            note=note,
            whom=whom,
            asked_on=asked_on,
            expected_on=expected_on,
        ),
    )


@action(Role.MANAGER, Role.CREW)
def release_stage(
    who: Actor, *, stage: Stage, note: str = "", key: UUID | None = None, taken_at: datetime | None = None
) -> Hold:
    """End the hold on a stage today; `note` says what ended it.

    Raises:
        Refused: if the stage is not held.
    """
    hold = locked(stage).holds.filter(until_on__isnull=True).first()
    if hold is None:
        raise Refused(f"“{stage.name}” is not held.")
    return change(who, hold, until_on=max(hold.from_on, who.today), why=note)


@action(Role.MANAGER)
def correct_stage(
    who: Actor,
    *,
    stage: Stage,
    version: int,
    started_on: date | None,
    finished_on: date | None,
    why: str,
) -> Stage:
    """Set a stage's days as they really were: none makes it wait, a start alone makes it run, both make it
    done.

    Order, gate and holds are not asked: the manager says what happened.

    Raises:
        Refused: without a reason, with an end but no start, with days out of order or still to come, or
            while another stage of hers runs.
        Stale: if `version` is no longer the stored one.
    """
    if not why.strip():
        raise Refused("Say why it is corrected.", "why")
    if finished_on and not started_on:
        raise Refused("A stage that was finished was started: give that day too.", "started_on")
    for field, day in (("started_on", started_on), ("finished_on", finished_on)):
        if day:
            not_ahead(who, day, field)
    status = Status.DONE if finished_on else Status.RUNNING if started_on else Status.WAITING
    done_pct = 100 if finished_on else 0 if stage.status == Status.DONE else stage.done_pct
    return change(
        who,
        stage,
        version=version,
        why=why,
        status=status,
        started_on=started_on,
        finished_on=finished_on,
        done_pct=done_pct,
    )


# --- What is asked before a stage starts ------------------------------------------------------------------
def _start(who: Actor, stage: Stage, on: date) -> Stage:
    treatment = locked(stage.treatment)
    not_ahead(who, on)
    if stage.status != Status.WAITING:
        raise Refused(f"“{stage.name}” is {stage.status} already; a manager can correct it.")
    if treatment.state in (TreatmentState.AFLOAT, TreatmentState.CANCELLED):
        raise Refused(f"{treatment.boat} is {treatment.get_state_display().lower()}: nothing can start.")
    _in_order(stage, on)
    _not_held(stage)
    _gate_open(stage, on)
    if stage.place == PlaceNeed.DOCK:
        if treatment.state == TreatmentState.EXPECTED:
            arrive(who, treatment, on)
    elif treatment.state == TreatmentState.EXPECTED:
        raise Refused(f"{treatment.boat} is not here yet: bring her in first.")
    elif open_stay(treatment) is None and not (stage.place == PlaceNeed.AWAY_OK and treatment.away_site_id):
        raise Refused(f"{treatment.boat} stands in no bay: say which one first.")
    return change(who, stage, status=Status.RUNNING, started_on=on)


def _in_order(stage: Stage, on: date) -> None:
    """A stage starts after those before it are done, not before the last of them ended."""
    for before in Stage.objects.filter(treatment=stage.treatment_id, position__lt=stage.position):
        if before.status in (Status.WAITING, Status.RUNNING):
            raise Refused(f"Finish “{before.name}” first; “{stage.name}” comes after it.")
        if before.finished_on and before.finished_on > on:
            raise Refused(
                f"“{before.name}” ended on {before.finished_on:%-d %b %Y}: give that day or a later one.",
                "on",
            )


def _not_held(stage: Stage) -> None:
    hold = stage.holds.filter(until_on__isnull=True).first()
    if hold:
        raise Refused(f"“{stage.name}” is held ({_for(hold)}): release it first.")


def _gate_open(stage: Stage, on: date) -> None:
    """Coats wait until she is signed dry, where a drying stage comes before them."""
    if stage.kind != StageKind.COAT:
        return
    dries = (
        Stage.objects.filter(treatment=stage.treatment_id, position__lt=stage.position, kind=StageKind.DRY)
        .exclude(status=Status.DROPPED)
        .exists()
    )
    if not dries:
        return
    signed = DrySigned.objects.filter(treatment=stage.treatment_id, superseded=False).first()
    if signed is None:
        raise Refused("She is not signed dry: the foreman signs first, then the coats start.")
    if signed.signed_on > on:
        raise Refused(f"She was signed dry only on {signed.signed_on:%-d %b %Y}: give a later day.", "on")


def _for(hold: Hold) -> str:
    reason = HoldReason(hold.reason).label.lower()
    return f"{reason}{f', {hold.whom}' if hold.whom else ''}, since {hold.from_on:%-d %b}"


def _go_afloat(who: Actor, treatment: Treatment, on: date) -> None:
    stay = open_stay(treatment)
    if stay:
        change(who, stay, until_on=max(stay.from_on, on))
    change(who, treatment, state=TreatmentState.AFLOAT)
