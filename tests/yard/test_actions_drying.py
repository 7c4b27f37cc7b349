"""Washes are recorded where they can have been; a yard says itself how fast its hulls dry."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest

from tests.cast import TODAY, Cast
from tests.yard.test_actions_boats import TOMORROW, YESTERDAY, refused
from tests.yard.test_actions_form import a_treatment
from yard.actions.base import NotAllowed, Refused, Stale
from yard.actions.drying import correct_wash, record_wash, save_regime_norm
from yard.models import Entry, RegimeNorm, Stage, StageDemand, WashRecord

TENT: dict[str, Any] = {
    "regime": "tent",
    "half_life_low_d": Decimal(14),
    "half_life_likely_d": Decimal(18),
    "half_life_high_d": Decimal(24),
    "at_c": Decimal(25),
    "source": "her own seven boats",
}


def a_drying_stage(cast: Cast) -> Stage:
    """Her dry stage, on the day she came."""
    return a_treatment(cast, to="dry").stages.get(kind="dry")


# --- Washes ----------------------------------------------------------------------------------------------
def test_a_wash_is_kept_with_its_minutes_and_water(cast: Cast) -> None:
    stage = a_drying_stage(cast)
    wash = record_wash(cast.crew, stage=stage, minutes=90, water_c=Decimal(80), note="all round")
    assert (wash.stage, wash.day_on, wash.minutes, wash.water_c) == (stage, TODAY, 90, 80)
    assert Entry.objects.get(action="record_wash").after["note"] == "all round"


def test_a_wash_is_of_the_day_it_was_done_by_the_yards_clock(cast: Cast) -> None:
    taken = datetime(2026, 11, 24, 0, 30, tzinfo=UTC)
    cast.yard.timezone = "America/New_York"
    stage = a_drying_stage(cast)
    stage.treatment.arrived_on = YESTERDAY
    assert record_wash(cast.crew, stage=stage, taken_at=taken).day_on == YESTERDAY


def test_a_cold_rinse_says_no_temperature(cast: Cast) -> None:
    assert record_wash(cast.crew, stage=a_drying_stage(cast)).water_c is None


def test_only_a_stage_that_washes_or_dries_is_washed_in(cast: Cast) -> None:
    peel = a_treatment(cast, to="peel").stages.get(kind="peel")
    with pytest.raises(Refused, match="“peel” neither washes nor dries: name the stage") as refusal:
        record_wash(cast.crew, stage=peel)
    assert refusal.value.field == "stage"
    peel.kind = "wash"
    peel.save()
    assert record_wash(cast.crew, stage=peel).day_on == TODAY


def test_a_wash_is_neither_to_come_nor_before_she_came(cast: Cast) -> None:
    stage = a_drying_stage(cast)
    assert "still to come" in refused(record_wash, cast.crew, stage=stage, day_on=TOMORROW)
    assert refused(record_wash, cast.crew, stage=stage, day_on=YESTERDAY) == (
        "Teasel came only on 24 Nov 2026: give that day or a later one."
    )


def test_a_boat_that_has_not_come_is_not_washed(cast: Cast) -> None:
    stage = a_treatment(cast).stages.get(kind="dry")
    assert refused(record_wash, cast.crew, stage=stage) == "Teasel has not arrived: say first when she came."


def test_a_stage_has_one_wash_a_day(cast: Cast) -> None:
    stage = a_drying_stage(cast)
    record_wash(cast.crew, stage=stage)
    assert "Her wash of 24 Nov 2026 is there already" in refused(record_wash, cast.manager, stage=stage)
    assert WashRecord.objects.count() == 1


@pytest.mark.parametrize(
    ("water", "says"),
    [
        ("100.1", "100.1 °C (as Fahrenheit it would be 37.8 °C) is too hot for water: give degrees Celsius."),
        ("176", "176 °C (as Fahrenheit it would be 80.0 °C) is too hot for water: give degrees Celsius."),
        ("800", "800 °C is too hot for water: give degrees Celsius."),
        ("29.9", "29.9 °C is no hot wash, which has 30 to 100 °C: correct it, or leave it empty for a cold "
         "rinse."),
    ],
)  # fmt: skip
def test_water_that_cannot_be_is_asked_about(cast: Cast, water: str, says: str) -> None:
    stage = a_drying_stage(cast)
    with pytest.raises(Refused) as refusal:
        record_wash(cast.crew, stage=stage, water_c=Decimal(water))
    assert (refusal.value.sentence, refusal.value.field) == (says, "water_c")


@pytest.mark.parametrize("water", ["30", "100"])
def test_water_from_warm_to_boiling_washes(cast: Cast, water: str) -> None:
    assert record_wash(cast.crew, stage=a_drying_stage(cast), water_c=Decimal(water)).pk


@pytest.mark.parametrize("minutes", [0, -5, 1441])
def test_a_wash_takes_some_minutes_and_no_more_than_a_day(cast: Cast, minutes: int) -> None:
    assert "more than 0 minutes" in refused(
        record_wash, cast.crew, stage=a_drying_stage(cast), minutes=minutes
    )


def test_a_wash_does_not_touch_what_the_stage_demands(cast: Cast) -> None:
    stage = a_drying_stage(cast)
    before = (stage.version, StageDemand.objects.count())
    record_wash(cast.crew, stage=stage)
    stage.refresh_from_db()
    assert (stage.version, StageDemand.objects.count()) == before


def test_a_corrected_wash_stands_in_the_place_of_the_one_that_was_wrong(cast: Cast) -> None:
    wash = record_wash(cast.crew, stage=a_drying_stage(cast), minutes=90, water_c=Decimal(80))
    again = correct_wash(cast.manager, wash=wash, why="half the hull", minutes=45)
    assert (again.replaces, again.minutes, again.water_c, again.day_on) == (wash, 45, 80, TODAY)
    assert [w.superseded for w in WashRecord.objects.order_by("pk")] == [True, False]
    assert "look at the newer one" in refused(correct_wash, cast.manager, wash=wash, why="again")
    assert "too hot for water" in refused(
        correct_wash, cast.manager, wash=again, why="thermometer", water_c=Decimal(176)
    )
    assert WashRecord.objects.get(superseded=False) == again, "a refused correction leaves it in force"


def test_a_wash_that_never_was_is_withdrawn_with_a_reason(cast: Cast) -> None:
    wash = record_wash(cast.crew, stage=a_drying_stage(cast))
    with pytest.raises(Refused, match="Say why"):
        correct_wash(cast.manager, wash=wash, why=" ")
    assert correct_wash(cast.manager, wash=wash, why="another boat's").superseded
    assert not WashRecord.objects.filter(superseded=False).exists()
    assert record_wash(cast.crew, stage=wash.stage).day_on == TODAY


# --- Norms of drying -------------------------------------------------------------------------------------
def test_the_manager_alone_says_how_fast_hulls_dry(cast: Cast) -> None:
    for who in (cast.crew, cast.office):
        with pytest.raises(NotAllowed):
            save_regime_norm(who, version=None, **TENT)
    norm = save_regime_norm(cast.manager, version=None, **TENT)
    assert (norm.yard, norm.half_life_likely_d, norm.version) == (cast.yard, 18, 1)


def test_a_norm_is_one_yards_own(cast: Cast) -> None:
    save_regime_norm(cast.manager, version=None, **TENT)
    save_regime_norm(cast.other_manager, version=None, **TENT | {"half_life_likely_d": Decimal(20)})
    assert [n.half_life_likely_d for n in RegimeNorm.objects.of(cast.yard)] == [18]
    assert [n.half_life_likely_d for n in RegimeNorm.objects.of(cast.other_yard)] == [20]


def test_a_norm_is_changed_by_whoever_saw_it_last(cast: Cast) -> None:
    save_regime_norm(cast.manager, version=None, **TENT)
    saved = save_regime_norm(cast.manager, version=1, **TENT | {"half_life_low_d": Decimal(12)})
    assert (saved.half_life_low_d, saved.version) == (12, 2)
    for version in (None, 1):
        with pytest.raises(Stale) as lost:
            save_regime_norm(cast.manager, version=version, **TENT)
        assert lost.value.theirs == saved
    with pytest.raises(Stale):
        save_regime_norm(cast.manager, version=1, **TENT | {"regime": "cold"})


@pytest.mark.parametrize(
    ("bad", "says", "field"),
    [
        ({"regime": "oven"}, "“oven” is none of weather, cold, tent, blankets: choose one.", "regime"),
        ({"source": " "}, "Say where the figures come from: the yard's own boats, or whose practice.",
         "source"),
        ({"half_life_likely_d": Decimal(30)}, "Half-lives must run from low over likely to high.",
         "half_life_low_d"),
        ({"half_life_low_d": Decimal(0)}, "Half life low [days] must be more than 0.", "half_life_low_d"),
        ({"at_c": Decimal(77)}, "77 °C (as Fahrenheit it would be 25.0 °C) is too hot for air that a hull is "
         "dried in: give degrees Celsius.", "at_c"),
        ({"at_c": Decimal(-20)}, "The temperature the half-lives are meant at [°C] must be between -10 and "
         "80.", "at_c"),
    ],
)  # fmt: skip
def test_a_norm_that_cannot_be_is_refused_by_name(
    cast: Cast, bad: dict[str, Any], says: str, field: str
) -> None:
    with pytest.raises(Refused) as refusal:
        save_regime_norm(cast.manager, version=None, **TENT | bad)
    assert (refusal.value.sentence, refusal.value.field) == (says, field)
    assert not RegimeNorm.objects.exists()


def test_blankets_may_be_hotter_than_any_air(cast: Cast) -> None:
    hot = {"regime": "blankets", "at_c": Decimal(60)}
    assert save_regime_norm(cast.manager, version=None, **TENT | hot).at_c == 60
