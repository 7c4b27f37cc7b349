"""The life of a stage, and what is measured on the way."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from tests.cast import TODAY, Cast
from tests.yard.test_actions_boats import TOMORROW, YESTERDAY, refused
from tests.yard.test_actions_form import a_held_stage, a_reading, a_stage, a_treatment, standing
from yard.actions.base import NotAllowed
from yard.actions.rounds import correct_reading, record_round, sign_dry
from yard.actions.stages import Hours, correct_stage, finish_stage, hold_stage, release_stage, start_stage
from yard.actions.treatments import bring_in
from yard.models import AwaySite, Entry, Hold, Reading, Round, Spot, Stage, Stay, Treatment, Work


# --- Starting --------------------------------------------------------------------------------------------
def test_a_stage_starts_after_those_before_it_are_done(cast: Cast) -> None:
    dry = standing(cast).stages.get(kind="dry")
    assert refused(start_stage, cast.crew, stage=dry, on=TODAY) == (
        "Finish “peel” first; “dry” comes after it."
    )


def test_a_dropped_stage_is_in_nobodys_way(cast: Cast) -> None:
    treatment = standing(cast)
    treatment.stages.filter(kind="peel").update(status="dropped")
    assert start_stage(cast.crew, stage=treatment.stages.get(kind="dry"), on=TODAY).status == "running"


def test_a_stage_does_not_start_before_the_last_one_ended(cast: Cast) -> None:
    stage = a_stage(cast)
    assert "“lift” ended on 24 Nov 2026" in refused(start_stage, cast.crew, stage=stage, on=YESTERDAY)


def test_a_stage_starts_once(cast: Cast) -> None:
    stage = a_stage(cast)
    start_stage(cast.crew, stage=stage, on=TODAY)
    assert "is running already" in refused(start_stage, cast.crew, stage=stage, on=TODAY)


def test_a_held_stage_does_not_start(cast: Cast) -> None:
    stage = a_held_stage(cast)
    assert refused(start_stage, cast.crew, stage=stage, on=TODAY) == (
        "“peel” is held (owner, since 24 Nov): release it first."
    )


def test_a_stage_needs_a_bay_to_stand_in(cast: Cast) -> None:
    treatment = a_treatment(cast)
    finish_stage(cast.crew, stage=treatment.stages.get(kind="lift"), on=TODAY)
    peel = treatment.stages.get(kind="peel")
    assert refused(start_stage, cast.crew, stage=peel, on=TODAY) == (
        "Teasel stands in no bay: say which one first."
    )
    bring_in(cast.crew, treatment=treatment, bay=cast.bay, on=TODAY)
    assert start_stage(cast.crew, stage=peel, on=TODAY).status == "running"


def test_a_stage_that_may_be_done_away_needs_no_bay_when_she_is_away(cast: Cast) -> None:
    treatment = a_treatment(cast)
    finish_stage(cast.crew, stage=treatment.stages.get(kind="lift"), on=TODAY)
    treatment.stages.filter(kind="peel").update(place="away_ok")
    peel = treatment.stages.get(kind="peel")
    assert "stands in no bay" in refused(start_stage, cast.crew, stage=peel, on=TODAY)
    site = AwaySite.objects.create(yard=cast.yard, name="up the creek", travel_h=1)
    Treatment.objects.update(away_site=site)
    assert start_stage(cast.crew, stage=peel, on=TODAY).status == "running"


def test_starting_the_lift_brings_an_expected_boat_here(cast: Cast) -> None:
    lift = a_treatment(cast).stages.get(kind="lift")
    start_stage(cast.crew, stage=lift, on=TODAY)
    assert Treatment.objects.get().arrived_on == TODAY


def test_nothing_but_the_lift_starts_before_she_is_here(cast: Cast) -> None:
    treatment = a_treatment(cast)
    treatment.stages.filter(kind="lift").update(status="dropped")
    assert "is not here yet" in refused(
        start_stage, cast.crew, stage=treatment.stages.get(kind="peel"), on=TODAY
    )


def test_nothing_starts_tomorrow(cast: Cast) -> None:
    assert "still to come" in refused(start_stage, cast.crew, stage=a_stage(cast), on=TOMORROW)


def test_nothing_starts_on_a_cancelled_treatment(cast: Cast) -> None:
    stage = a_stage(cast)
    Treatment.objects.update(state="cancelled")
    assert "nothing can start" in refused(start_stage, cast.crew, stage=stage, on=TODAY)


# --- The gate --------------------------------------------------------------------------------------------
def ready_to_coat(cast: Cast) -> Stage:
    """Her coats, with the drying done but nobody's signature."""
    treatment = a_treatment(cast, to="dry")
    finish_stage(cast.crew, stage=treatment.stages.get(kind="dry"), on=TODAY)
    return treatment.stages.get(kind="coat")


def test_coats_never_start_before_she_is_signed_dry(cast: Cast) -> None:
    coat = ready_to_coat(cast)
    assert refused(start_stage, cast.crew, stage=coat, on=TODAY) == (
        "She is not signed dry: the foreman signs first, then the coats start."
    )
    by = cast.crew.person
    sign_dry(cast.manager, treatment=coat.treatment, by=by, signed_on=TODAY, note="by the surveyor")
    assert start_stage(cast.crew, stage=coat, on=TODAY).status == "running"


def test_coats_do_not_slip_through_the_gate_by_being_finished_at_once(cast: Cast) -> None:
    coat = ready_to_coat(cast)
    assert "not signed dry" in refused(finish_stage, cast.crew, stage=coat, on=TODAY)


def test_a_recipe_without_drying_has_no_gate(cast: Cast) -> None:
    treatment = a_treatment(cast, to="dry")
    treatment.stages.filter(kind="dry").update(status="dropped")
    assert start_stage(cast.crew, stage=treatment.stages.get(kind="coat"), on=TODAY).status == "running"


# --- Finishing -------------------------------------------------------------------------------------------
def test_a_stage_is_finished_with_the_hours_it_took(cast: Cast) -> None:
    stage = start_stage(cast.crew, stage=a_stage(cast), on=TODAY)
    done = finish_stage(
        cast.crew, stage=stage, on=TODAY, work=[Hours(cast.crew.person, Decimal("6.5"), note="port side")]
    )
    assert (done.status, done.finished_on, done.done_pct, done.said) == ("done", TODAY, 100, "")
    assert list(Work.objects.values_list("person__name", "hours", "day_on", "note")) == [
        ("Hand", Decimal("6.5"), TODAY, "port side")
    ]


def test_a_stage_never_started_is_started_on_the_day_it_is_done_and_that_is_said(cast: Cast) -> None:
    done = finish_stage(cast.crew, stage=a_stage(cast), on=TODAY)
    assert (done.started_on, done.finished_on) == (TODAY, TODAY)
    assert done.said == "“peel” had not been started; it now starts and ends on 24 Nov 2026."
    assert Entry.objects.filter(action="finish_stage", why=done.said).exists()


def test_a_stage_is_finished_once_and_not_before_it_began(cast: Cast) -> None:
    stage = start_stage(cast.crew, stage=a_stage(cast), on=TODAY)
    assert "was started on 24 Nov 2026" in refused(finish_stage, cast.crew, stage=stage, on=YESTERDAY)
    finish_stage(cast.crew, stage=stage, on=TODAY)
    assert "is done already" in refused(finish_stage, cast.crew, stage=stage, on=TODAY)


def test_a_held_stage_is_not_finished(cast: Cast) -> None:
    stage = start_stage(cast.crew, stage=a_stage(cast), on=TODAY)
    hold_stage(cast.crew, stage=stage, reason="parts", whom="the foundry")
    assert "parts, the foundry, since 24 Nov" in refused(finish_stage, cast.crew, stage=stage, on=TODAY)


def test_hours_that_cannot_be_leave_the_stage_unfinished(cast: Cast) -> None:
    stage = start_stage(cast.crew, stage=a_stage(cast), on=TODAY)
    work = [Hours(cast.crew.person, Decimal(25))]
    assert refused(finish_stage, cast.crew, stage=stage, on=TODAY, work=work) == (
        "Hours must be more than 0 and at most 24."
    )
    assert Stage.objects.get(pk=stage.pk).status == "running"


def test_a_boat_relaunched_is_afloat_and_her_bay_free(cast: Cast) -> None:
    relaunch = a_stage(cast, "relaunch")
    finish_stage(cast.crew, stage=relaunch, on=TODAY)
    assert Treatment.objects.get().state == "afloat"
    assert Stay.objects.get().until_on == TODAY


# --- Holding ---------------------------------------------------------------------------------------------
def test_a_hold_is_kept_when_it_ends(cast: Cast) -> None:
    stage = a_stage(cast)
    hold_stage(
        cast.crew,
        stage=stage,
        reason="owner",
        whom="Her Owner",
        asked_on=YESTERDAY,
        expected_on=date(2026, 12, 4),
    )
    assert "is held already" in refused(hold_stage, cast.crew, stage=stage, reason="parts")
    hold = release_stage(cast.crew, stage=stage, note="said yes")
    assert (hold.from_on, hold.until_on, hold.expected_on) == (TODAY, TODAY, date(2026, 12, 4))
    assert "is not held" in refused(release_stage, cast.crew, stage=stage)
    assert Hold.objects.count() == 1


def test_a_stage_is_held_for_a_known_reason_and_only_while_it_is_open(cast: Cast) -> None:
    stage = a_stage(cast)
    with pytest.raises(Exception, match="not a valid choice"):
        hold_stage(cast.crew, stage=stage, reason="boredom")
    finish_stage(cast.crew, stage=stage, on=TODAY)
    assert "cannot be held" in refused(hold_stage, cast.crew, stage=stage, reason="owner")


# --- Correcting ------------------------------------------------------------------------------------------
def test_the_manager_puts_days_right_and_says_why(cast: Cast) -> None:
    stage = finish_stage(cast.crew, stage=a_stage(cast), on=TODAY)
    new = {"stage": stage, "started_on": YESTERDAY, "finished_on": None}
    assert refused(correct_stage, cast.manager, **new, version=stage.version, why="") == (
        "Say why it is corrected."
    )
    back = correct_stage(cast.manager, **new, version=stage.version, why="keel side is still to do")
    assert (back.status, back.started_on, back.finished_on, back.done_pct) == ("running", YESTERDAY, None, 0)
    entry = Entry.objects.get(action="correct_stage")
    assert entry.why == "keel side is still to do"
    assert entry.before["finished_on"] == "2026-11-24" and entry.after["finished_on"] is None


@pytest.mark.parametrize(
    ("started", "finished", "says"),
    [
        (None, TODAY, "give that day too"),
        (TODAY, YESTERDAY, "in order"),
        (TOMORROW, None, "still to come"),
    ],
)
def test_a_correction_keeps_days_in_order(
    cast: Cast, started: date | None, finished: date | None, says: str
) -> None:
    stage = a_stage(cast)
    assert says in refused(
        correct_stage, cast.manager, stage=stage, version=1, started_on=started, finished_on=finished, why="x"
    )


def test_a_correction_starts_no_second_stage_beside_a_running_one(cast: Cast) -> None:
    stage = start_stage(cast.crew, stage=a_stage(cast), on=TODAY)
    lift = stage.treatment.stages.get(kind="lift")
    assert (
        refused(
            correct_stage,
            cast.manager,
            stage=lift,
            version=lift.version,
            started_on=TODAY,
            finished_on=None,
            why="x",
        )
        == "Another stage of hers is running; finish it first."
    )


# --- Rounds ----------------------------------------------------------------------------------------------
def test_a_round_keeps_each_figure_by_its_spot(cast: Cast) -> None:
    figures = {"T1": Decimal(14), "P1": Decimal("58.5")}
    round_ = record_round(cast.crew, treatment=standing(cast), meter=cast.meter, readings=figures)
    assert dict(round_.readings.values_list("spot__code", "value")) == figures
    assert (round_.day_on, round_.person) == (TODAY, cast.crew.person)
    assert Entry.objects.get(action="record_round").after["readings"] == {"T1": "14", "P1": "58.5"}


def test_a_round_is_of_the_day_it_was_taken_by_the_yards_clock(cast: Cast) -> None:
    # 23:30 UTC on 30 September is half past midnight on 1 October in British summer time.
    taken = datetime(2026, 9, 30, 23, 30, tzinfo=UTC)
    round_ = record_round(
        cast.crew, treatment=standing(cast), meter=cast.meter, readings={"P1": Decimal(1)}, taken_at=taken
    )
    assert (round_.day_on, round_.taken_at) == (date(2026, 10, 1), taken)


def test_a_round_names_spots_she_has(cast: Cast) -> None:
    treatment = standing(cast)
    Spot.objects.filter(code="S1").update(retired_on=TODAY)
    for code in ("X9", "S1"):
        assert (
            refused(
                record_round, cast.crew, treatment=treatment, meter=cast.meter, readings={code: Decimal(1)}
            )
            == f"Teasel has no spot {code}."
        )
    assert "at least one reading" in refused(
        record_round, cast.crew, treatment=treatment, meter=cast.meter, readings={}
    )
    assert not Round.objects.exists()


def test_a_figure_off_the_scale_is_asked_about_and_taken_when_meant(cast: Cast) -> None:
    treatment, figures = standing(cast), {"P1": Decimal(120)}
    assert "120 at P1 is off the scale" in refused(
        record_round, cast.crew, treatment=treatment, meter=cast.meter, readings=figures
    )
    record_round(cast.crew, treatment=treatment, meter=cast.meter, readings=figures, sure=True)
    assert Round.objects.get().readings.get().value == 120


def test_one_round_a_day_with_one_meter(cast: Cast) -> None:
    new = {"treatment": standing(cast), "meter": cast.meter, "readings": {"P1": Decimal(40)}}
    record_round(cast.crew, **new)
    assert "is there already" in refused(record_round, cast.crew, **new)
    record_round(cast.crew, **new, mode="shallow", sure=True)
    assert Round.objects.count() == 2


def test_a_corrected_reading_keeps_what_it_was_who_changed_it_and_why(cast: Cast) -> None:
    old = a_reading(cast)
    new = correct_reading(cast.manager, reading=old, value=Decimal(41), why="two figures swapped")
    assert list(Reading.objects.order_by("pk").values_list("value", "superseded", "replaces")) == [
        (14, True, None),
        (41, False, old.pk),
    ]
    entries = Entry.objects.filter(action="correct_reading").order_by("pk")
    assert [(e.user, e.about_pk, e.why) for e in entries] == [
        (cast.manager.user, old.pk, "two figures swapped"),
        (cast.manager.user, new.pk, "two figures swapped"),
    ]
    assert "was corrected already" in refused(
        correct_reading, cast.manager, reading=old, value=Decimal(42), why="again"
    )


def test_a_withdrawn_reading_can_be_entered_again(cast: Cast) -> None:
    old = a_reading(cast)
    gone = correct_reading(cast.manager, reading=old, why="wrong spot")
    assert (gone.pk, gone.superseded) == (old.pk, True)
    Reading.objects.create(round=old.round, spot=old.spot, value=Decimal(15))
    assert Reading.objects.filter(superseded=False).get().value == 15


def test_crew_correct_their_own_readings_of_the_same_day_and_no_others(cast: Cast) -> None:
    reading = a_reading(cast)
    tomorrow, mate = replace(cast.crew, today=TOMORROW), replace(cast.crew, person=None)
    for who in (tomorrow, mate):
        with pytest.raises(NotAllowed):
            correct_reading(who, reading=reading, value=Decimal(41), why="misread")
    assert "Say why" in refused(correct_reading, cast.crew, reading=reading, value=Decimal(41), why="")
    assert correct_reading(cast.crew, reading=reading, value=Decimal(41), why="misread").value == 41


def test_a_spot_is_excused_from_drying_only_with_a_reason(cast: Cast) -> None:
    new = {
        "treatment": standing(cast),
        "by": cast.crew.person,
        "signed_on": TODAY,
        "note": "by the surveyor",
    }
    assert refused(sign_dry, cast.manager, **new, excused={"P1": ""}) == "Say why P1 is excused."
    assert "has no spot X9" in refused(sign_dry, cast.manager, **new, excused={"X9": "tank"})
    signed = sign_dry(cast.manager, **new, excused={"P1": "over the tank"})
    assert signed.excused == [{"spot": "P1", "why": "over the tank"}]
    assert refused(sign_dry, cast.manager, **new) == "She is signed dry already."
