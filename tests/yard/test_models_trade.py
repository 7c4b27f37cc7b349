"""What the database itself refuses of washes, coating sheets, norms of drying, coats and their settings."""

from __future__ import annotations

from typing import Any

import pytest
from django.db.models import ProtectedError

from tests.cast import Cast, StageNormFactory
from tests.yard.test_models import DAY, refuses, set_, treatment_of
from tests.yard.test_scope import strangers
from yard.models import CoatingSheet, DateKind, RegimeNorm, StageKind, WashRecord, YardSettings
from yard.models.base import WrittenOnceError


def a_norm(cast: Cast, **fields: Any) -> RegimeNorm:
    return RegimeNorm.objects.create(
        **{
            "yard": cast.yard, "regime": "tent", "at_c": 25,
            "half_life_low_d": 16, "half_life_likely_d": 20, "half_life_high_d": 27,
        } | fields
    )  # fmt: skip


def test_a_stage_has_one_wash_a_day_and_a_corrected_one_is_kept(cast: Cast) -> None:
    stage = treatment_of(cast).stages.get(kind="dry")
    first = WashRecord.objects.create(stage=stage, day_on=DAY, water_c=60)
    refuses(WashRecord.objects.create, stage=stage, day_on=DAY)
    WashRecord.objects.filter(pk=first.pk).update(superseded=True)
    WashRecord.objects.create(stage=stage, day_on=DAY, water_c=80, replaces=first)
    assert [w.water_c for w in stage.washes.filter(superseded=False)] == [80]
    with pytest.raises(WrittenOnceError):
        WashRecord.objects.update(water_c=70)


def test_a_wash_takes_time_and_its_water_is_between_warm_and_boiling(cast: Cast) -> None:
    stage = treatment_of(cast).stages.get(kind="dry")
    for bad in ({"minutes": 0}, {"water_c": 29}, {"water_c": 101}):
        refuses(WashRecord.objects.create, stage=stage, day_on=DAY, **bad)


def test_a_window_of_a_sheet_opens_before_it_closes(cast: Cast) -> None:
    new = {"yard": cast.yard, "name": "epoxy"}
    for bad in (
        {"recoat_min_h_20": 36},
        {"tacky_min_h_20": 8},
        {"tacky_min_h_20": 0},
        {"cure_h_20": 0},
        {"solids_pct": 0},
        {"solids_pct": 101},
        {"film_um": 0},
        {"activation_kj": 19},
        {"least_c": 41},
    ):
        refuses(CoatingSheet.objects.create, **new, **bad)
    CoatingSheet.objects.create(**new)
    refuses(CoatingSheet.objects.create, yard=cast.yard, name="EPOXY")
    CoatingSheet.objects.create(yard=cast.other_yard, name="epoxy")


def test_a_sheet_that_a_stage_goes_by_is_not_deleted(cast: Cast) -> None:
    sheet = CoatingSheet.objects.create(yard=cast.yard, name="epoxy")
    norm = StageNormFactory(scheme=cast.scheme, position=60, kind="coat", coats=4, sheet=sheet)
    hers = treatment_of(cast).stages.get(position=60)
    assert (hers.coats, hers.sheet) == (4, sheet), "a treatment's copy carries coats and sheet"
    for record in (norm, hers):
        with pytest.raises(ProtectedError):
            sheet.delete()
        set_(record, sheet=None)
    sheet.delete()


def test_a_stage_that_goes_by_a_sheet_of_another_yard_is_found(cast: Cast) -> None:
    foreign = CoatingSheet.objects.create(yard=cast.other_yard, name="theirs")
    norm = StageNormFactory(scheme=cast.scheme, position=60, kind="coat", sheet=foreign)
    assert strangers() == [f"SchemeStage {norm.pk}: sheet"]


def test_half_lives_run_from_low_to_high_once_a_regime(cast: Cast) -> None:
    a_norm(cast)
    refuses(a_norm, cast)
    a_norm(cast, yard=cast.other_yard)
    for bad in (
        {"half_life_low_d": 21},
        {"half_life_high_d": 19},
        {"half_life_low_d": 0},
        {"at_c": 81},
        {"regime": "oven"},
    ):
        refuses(a_norm, cast, **{"regime": "cold", **bad})


def test_only_coat_stages_have_coats_and_two_a_day_at_most(cast: Cast) -> None:
    for kind in StageKind.values:
        made = {"scheme": cast.scheme, "position": 60, "kind": kind, "coats": 4}
        if kind == StageKind.COAT:
            set_(StageNormFactory(**made), position=61)
        else:
            refuses(StageNormFactory, **made)
    for bad in ({"coats_a_day": 0}, {"coats_a_day": 3}, {"coats": 13}):
        refuses(StageNormFactory, scheme=cast.scheme, position=62, kind="coat", **bad)


def test_every_kind_of_date_books_its_own_share_of_drying(cast: Cast) -> None:
    settings = YardSettings.objects.get(yard=cast.yard)
    booked = {kind: getattr(settings, f"book_{kind}_pct") for kind in DateKind.values}
    assert booked == {"firm": 80, "tide": 80, "week": 70, "month": 60, "wish": 50}
    for kind in DateKind.values:
        refuses(set_, settings, **{f"book_{kind}_pct": 4})
        refuses(set_, settings, **{f"book_{kind}_pct": 96})
        set_(settings, **{f"book_{kind}_pct": 95})


@pytest.mark.parametrize(
    ("field", "low", "high"),
    [
        ("least_hull_c", 0, 25),
        ("least_night_c", 0, 25),
        ("target_over_topside", 1, 10),
        ("spots_at_target_pct", 50, 100),
        ("spot_over_max", 0, 20),
    ],
)
def test_the_figures_of_gate_and_stop_rule_stay_within_reason(
    cast: Cast, field: str, low: int, high: int
) -> None:
    settings = YardSettings.objects.get(yard=cast.yard)
    for bad in (low - 1, high + 1):
        refuses(set_, settings, **{field: bad})
    for good in (low, high):
        set_(settings, **{field: good})
