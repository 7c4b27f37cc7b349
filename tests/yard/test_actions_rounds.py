"""What is asked about when a round is entered, and the evidence on which she is signed dry."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from tests.cast import TODAY, Cast
from tests.yard.test_actions_boats import refused
from tests.yard.test_actions_form import a_treatment, standing
from yard.actions.base import Refused
from yard.actions.rounds import (
    correct_reading,
    dry_evidence,
    record_round,
    rounds_of,
    sign_dry,
    slips_of,
    washes_of,
)
from yard.models import DrySigned, Entry, Meter, Reading, Round, Spot, Treatment, WashRecord


def days_ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def enter(cast: Cast, treatment: Treatment, day: date = TODAY, **more: Any) -> Round:
    """A plain round: P1 and S1 wet, T1 on the topside."""
    figures = {"P1": 40, "S1": 43, "T1": 14} | more.pop("readings", {})
    readings = {code: Decimal(str(value)) for code, value in figures.items()}
    plain = {"treatment": treatment, "meter": cast.meter, "day_on": day, "readings": readings}
    return record_round(cast.crew, **(plain | more))


def wash(treatment: Treatment, day: date, *, superseded: bool = False) -> None:
    stage = treatment.stages.get(kind="dry")
    WashRecord.objects.create(stage=stage, day_on=day, superseded=superseded)


# --- Entering a round --------------------------------------------------------------------------------------
# What reads like a slip: what is said of the round, the field that is asked about, and words of the question.
SLIPS: list[tuple[dict[str, Any], str, str]] = [
    ({"readings": {"P1": 120}}, "P1", "120 at P1 is off the scale"),
    ({"readings": {"S1": 14}}, "S1", "S1 read 41 last time and 14 now. Are its figures swapped (41)?"),
    ({"mode": "shallow"}, "mode", "Mixed meters: the forecast can't join"),
    ({"day": days_ago(20)}, "day_on", "is there already, and this one is for 4 Nov 2026, before it"),
    ({"air_c": Decimal(60)}, "air_c", "That reads like Fahrenheit: 15.6 degrees C"),
    ({"rh_pct": Decimal("0.6")}, "rh_pct", "That reads like a fraction: 60 %"),
    ({"air_c": Decimal(64), "rh_pct": Decimal(60)}, "air_c", "Fahrenheit"),
    ({"surface_dry": False}, "surface_dry", "reads a wet surface as a wet hull"),
]


@pytest.mark.parametrize(("said", "field", "words"), SLIPS)
def test_what_reads_like_a_slip_is_asked_about_and_stored_when_it_is_meant(
    cast: Cast, said: dict[str, Any], field: str, words: str
) -> None:
    treatment = standing(cast)
    enter(cast, treatment, days_ago(7), readings={"P1": 42, "S1": 41})
    with pytest.raises(Refused) as refusal:
        enter(cast, treatment, **said)
    assert words in refusal.value.sentence and refusal.value.field == field
    assert Round.objects.count() == 1
    assert enter(cast, treatment, **said, sure=True).pk
    assert Round.objects.count() == 2


def test_a_round_as_any_other_is_stored_without_a_question(cast: Cast) -> None:
    treatment = standing(cast)
    wash(treatment, days_ago(16))
    enter(cast, treatment, days_ago(7))
    assert enter(cast, treatment, air_c=Decimal("8.5"), rh_pct=Decimal(70), surface_dry=True).pk


def test_several_slips_are_asked_about_at_once(cast: Cast) -> None:
    treatment = standing(cast)
    enter(cast, treatment, days_ago(7))
    asked = refused(enter, cast, treatment, readings={"P1": 120}, air_c=Decimal(60))
    assert "Fahrenheit" in asked and "120 at P1" in asked


def test_another_meter_than_since_the_last_wash_is_asked_about_by_name(cast: Cast) -> None:
    treatment, other = standing(cast), Meter.objects.create(yard=cast.yard, name="little meter")
    enter(cast, treatment, days_ago(14))
    asked = refused(enter, cast, treatment, meter=other)
    assert f"can't join little meter (deep) to her other rounds, read with {cast.meter} (deep)" in asked
    wash(treatment, days_ago(9))
    assert enter(cast, treatment, meter=other).pk


def test_a_round_within_48_hours_of_a_wash_is_asked_about(cast: Cast) -> None:
    treatment = standing(cast)
    wash(treatment, days_ago(1))
    assert "She was washed on 23 Nov 2026, and within 48 h" in refused(enter, cast, treatment)
    WashRecord.objects.update(superseded=True)
    assert enter(cast, treatment).pk


def test_humidity_no_air_can_have_is_refused_even_when_meant(cast: Cast) -> None:
    with pytest.raises(Refused) as refusal:
        enter(cast, standing(cast), rh_pct=Decimal(150), sure=True)
    assert refusal.value.field == "rh_pct"
    assert not Round.objects.exists()


def test_a_corrected_figure_is_what_the_next_round_is_held_against(cast: Cast) -> None:
    treatment = standing(cast)
    slip = enter(cast, treatment, days_ago(7), readings={"S1": 14}).readings.get(spot__code="S1")
    assert "S1 read 14 last time and 43 now" in refused(enter, cast, treatment)
    correct_reading(cast.manager, reading=slip, value=Decimal(44), why="two figures swapped")
    assert rounds_of(treatment)[0].readings["S1"] == 44
    assert enter(cast, treatment).pk


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (410, "410 at P1 is off the scale"),
        (14, "P1 read 41 last time and 14 now. Are its figures swapped (41)?"),
    ],
)
def test_a_figure_put_in_a_readings_place_is_asked_about_as_a_new_one_is(
    cast: Cast, value: int, words: str
) -> None:
    treatment = standing(cast)
    enter(cast, treatment, days_ago(7), readings={"P1": 41})
    wrong = enter(cast, treatment).readings.get(spot__code="P1")
    said: dict[str, Any] = {"reading": wrong, "value": Decimal(value), "why": "read again"}
    with pytest.raises(Refused) as refusal:
        correct_reading(cast.crew, **said)
    assert words in refusal.value.sentence and refusal.value.field == "value"
    assert [doubt.says for doubt in slips_of(wrong, Decimal(value))] == [refusal.value.sentence]
    assert correct_reading(cast.crew, **said, sure=True).value == value


def test_a_humidity_that_cannot_be_is_told_of_in_its_own_field(cast: Cast) -> None:
    with pytest.raises(Refused) as refusal:
        enter(cast, standing(cast), air_c=Decimal(12), rh_pct=Decimal(140))
    assert refusal.value.field == "rh_pct"


def test_washes_of_the_treatment_are_those_in_force_in_order_of_day(cast: Cast) -> None:
    treatment = standing(cast)
    for day, gone in ((3, False), (9, False), (5, True)):
        wash(treatment, days_ago(day), superseded=gone)
    assert washes_of(treatment) == [days_ago(9), days_ago(3)]


def test_a_round_taken_back_is_no_longer_held_against_the_next(cast: Cast) -> None:
    treatment = standing(cast)
    enter(cast, treatment, readings={"P1": 80})
    Round.objects.update(superseded=True)
    assert rounds_of(treatment) == []
    assert enter(cast, treatment).pk


# --- Across the clock change -------------------------------------------------------------------------------
def test_a_time_by_the_yards_clock_is_the_instant_it_means(cast: Cast) -> None:
    # Summer time is an hour ahead of universal time.
    taken = record_round(
        cast.crew,
        treatment=standing(cast),
        meter=cast.meter,
        readings={"P1": Decimal(40)},
        taken_at=datetime(2026, 10, 1, 0, 30),
    )
    assert (taken.day_on, taken.taken_at) == (date(2026, 10, 1), datetime(2026, 9, 30, 23, 30, tzinfo=UTC))


def test_a_time_that_the_yards_clock_showed_twice_is_asked_about(cast: Cast) -> None:
    with pytest.raises(Refused, match="01:30 on 25 Oct 2026 comes twice in Europe/London") as refusal:
        enter(cast, standing(cast), date(2026, 10, 25), taken_at=datetime(2026, 10, 25, 1, 30))
    assert refusal.value.field == "taken_at"


def test_a_time_that_the_yards_clock_never_showed_is_refused(cast: Cast) -> None:
    with pytest.raises(Refused, match="01:30 on 29 Mar 2026 does not exist"):
        enter(cast, standing(cast), date(2026, 3, 29), taken_at=datetime(2026, 3, 29, 1, 30))


# --- Signing her dry ---------------------------------------------------------------------------------------
SIGN: dict[str, Any] = {"signed_on": TODAY, "film_test": True, "heat_off_h": Decimal(24)}


def dry_boat(cast: Cast, p1: int = 16) -> Treatment:
    """She was washed 30 days ago, and reads `p1` and 17 beside a topside of 14 three weeks in a row."""
    treatment = a_treatment(cast, to="dry")
    wash(treatment, days_ago(30))
    for days in (14, 7, 0):
        enter(cast, treatment, days_ago(days), readings={"P1": p1, "S1": 17, "T1": 14})
    return treatment


def test_a_dry_boat_is_signed_without_a_word(cast: Cast) -> None:
    treatment = dry_boat(cast)
    found = dry_evidence(treatment, **SIGN)
    assert found.holds, found.says
    assert sign_dry(cast.manager, treatment=treatment, by=cast.crew.person, **SIGN).note == ""
    assert "did_not_hold" not in Entry.objects.filter(action="sign_dry").get().after


def test_a_wet_boat_is_signed_only_with_a_reason_and_the_history_keeps_what_did_not_hold(cast: Cast) -> None:
    treatment = dry_boat(cast, p1=30)
    new = {"treatment": treatment, "by": cast.crew.person, **SIGN}
    with pytest.raises(Refused) as refusal:
        sign_dry(cast.manager, **new)
    assert refusal.value.field == "note"
    # The target is the scheme's 18, and 5 over it 23.
    assert refusal.value.sentence == (
        "2 of 10 parts of the rule for signing dry do not hold. "
        "On 24 Nov 2026 1 of 2 spots (50 %) read 18 or less; 90 % must. Above 23: P1 (30). "
        "The yard or her surveyor may sign by exception: say why in the note."
    )
    assert not DrySigned.objects.exists()
    sign_dry(cast.manager, **new, note="surveyor's own meter says 14")
    assert Entry.objects.get(action="sign_dry").after["did_not_hold"] == {
        "90 % of the spots at the target": "On 24 Nov 2026 1 of 2 spots (50 %) read 18 or less; 90 % must.",
        "none more than 5 over the target": "Above 23: P1 (30).",
    }


def test_the_wet_spot_may_be_excused_by_name(cast: Cast) -> None:
    treatment = dry_boat(cast, p1=30)
    excused = {"P1": "over the tank"}
    assert dry_evidence(treatment, **SIGN, excused=excused).holds
    assert sign_dry(cast.manager, treatment=treatment, by=cast.crew.person, **SIGN, excused=excused).pk


@pytest.mark.parametrize(
    ("change", "name"),
    [
        (lambda t: wash(t, days_ago(6)), "last wash 7 days ago"),
        (lambda t: t.boat.spots.filter(code="T1").update(is_reference=False), "target from her own topside"),
        (lambda t: Spot.objects.create(boat=t.boat, code="R1", walk_order=9), "every spot read"),
        (lambda t: Round.objects.filter(day_on=days_ago(7)).update(superseded=True), "the last rounds agree"),
        (
            lambda t: Reading.objects.filter(round__day_on=TODAY).update(superseded=True),
            "the last rounds agree",
        ),
    ],
)
def test_what_the_records_say_is_what_the_evidence_goes_by(cast: Cast, change: Any, name: str) -> None:
    treatment = dry_boat(cast)
    change(treatment)
    assert name in [line.name for line in dry_evidence(treatment, **SIGN).failing]


@pytest.mark.parametrize(
    ("said", "name"), [({"film_test": False}, "film patch dry"), ({"heat_off_h": None}, "heat off")]
)
def test_what_the_signer_does_not_say_does_not_hold(cast: Cast, said: dict[str, Any], name: str) -> None:
    found = dry_evidence(dry_boat(cast), **(SIGN | said))
    assert [line.name for line in found.failing] == [name]


def test_the_yards_figures_are_the_rule(cast: Cast) -> None:
    treatment = dry_boat(cast)
    Treatment.objects.update(target_reading=None)
    treatment.refresh_from_db()
    settings = cast.yard.settings
    settings.target_over_topside, settings.spot_over_max = Decimal(1), Decimal(1)
    settings.save()
    treatment.yard.refresh_from_db()
    found = dry_evidence(treatment, **SIGN)
    # 14 and 1 are 15: S1 with 17 is 2 over.
    assert found.target == 15
    assert "none more than 1 over the target" in [line.name for line in found.failing]


def test_the_evidence_takes_a_fixed_number_of_queries(cast: Cast, django_assert_num_queries: Any) -> None:
    treatment = Treatment.objects.select_related("boat", "yard__settings").get(pk=dry_boat(cast).pk)
    # Rounds with their meter, readings, their spots, her spots, washes.
    with django_assert_num_queries(5):
        dry_evidence(treatment, **SIGN)
