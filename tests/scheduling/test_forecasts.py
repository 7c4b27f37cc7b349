"""Odds are reckoned and stored with each plan, and kept."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.utils import timezone

from scheduling.actions import forecasts
from scheduling.actions.forecasts import keep_forecasts, odds_of
from scheduling.actions.reading import schedule_of
from scheduling.engine.risk import BoatRisk, Hang, Risk
from scheduling.loading import load
from scheduling.models import Board, Forecast, Pack, Plan
from tests.cast import Cast
from tests.yard.test_models import refuses, set_
from yard.actions.promises import record_promise
from yard.models import Treatment, YardSettings
from yard.models.base import WrittenOnceError

Packed = Callable[..., Pack]
LIKELY, SAFE = date(2027, 3, 1), date(2027, 3, 15)


def a_risk(treatment: Treatment, **values: object) -> Risk:
    known = {
        "planned": LIKELY,
        "likely": LIKELY,
        "safe": SAFE,
        "due": date(2027, 4, 1),
        "odds_pct": 97,
        "dots": (LIKELY,) * 10 + (SAFE,) * 9 + (None,),
        "hangs": (Hang(kind="amount", job=str(treatment.pk), what="drying", share_pct=61, days=12),),
    }
    boat = BoatRisk(**{**known, **values})  # type: ignore[arg-type]
    return Risk(runs=1, seed=1, likely_pct=60, safe_pct=90, boats={str(treatment.pk): boat})


@pytest.fixture
def plan(winter: Cast, packed: Packed) -> Plan:
    found = packed().plan
    assert found is not None
    return found


def test_every_boat_of_a_stored_plan_has_a_likely_and_a_safe_day_and_odds(plan: Plan) -> None:
    rows = Forecast.objects.filter(plan=plan)
    assert {row.treatment.boat.name for row in rows} == {"Alder", "Bramble", "Clover"}
    for row in rows:
        assert row.as_of == plan.made_at
        assert row.likely_on is not None and row.safe_on is not None
        last = max(placed.last_day for placed in plan.placements.filter(stage__treatment=row.treatment))
        assert row.likely_on == row.safe_on == last  # nothing in this winter is spread
        assert row.dots == [last.isoformat()] * 20
        assert (row.promise_date, row.odds_pct) == (row.treatment.wanted_on, 100)


def test_the_day_whose_odds_are_kept_is_the_one_she_was_promised(
    winter: Cast, packed: Packed, board: Callable[[], Board]
) -> None:
    her = Treatment.objects.get(boat__name="Alder")
    record_promise(
        winter.manager, treatment=her, promised_on=date(2027, 3, 22), kind="firm", how="phone", note=""
    )
    plan = packed().plan
    assert Forecast.objects.get(plan=plan, treatment=her).promise_date == date(2027, 3, 22)


def test_a_boat_nobody_asked_for_has_dates_but_no_odds(winter: Cast, packed: Packed) -> None:
    Treatment.objects.filter(boat__name="Alder").update(wanted_on=None)
    row = Forecast.objects.get(plan=packed().plan, treatment__boat__name="Alder")
    assert row.likely_on is not None
    assert (row.promise_date, row.odds_pct) == (None, None)


def test_work_that_may_take_longer_moves_the_safe_day_by_the_settings_odds(
    winter: Cast, packed: Packed
) -> None:
    her = Treatment.objects.get(boat__name="Alder")
    her.stages.filter(kind="fair").update(days_high=9)
    YardSettings.objects.filter(yard=winter.yard).update(likely_pct=40, safe_pct=95)
    row = Forecast.objects.get(plan=packed().plan, treatment=her)
    assert (row.likely_pct, row.safe_pct) == (40, 95)
    assert row.likely_on is not None and row.safe_on is not None
    assert row.safe_on - row.likely_on > timedelta(days=5)
    assert row.hangs[0]["job"] == str(her.pk) and row.hangs[0]["what"] == "fair"


def test_odds_that_cannot_be_reckoned_cost_no_plan(
    winter: Cast, packed: Packed, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def breaks(*_: object, **__: object) -> None:
        raise ValueError("no bay is free")

    monkeypatch.setattr(forecasts, "winters", breaks)
    with caplog.at_level(logging.ERROR):
        pack = packed()
    assert pack.plan is not None and pack.state == "done"
    assert not Forecast.objects.exists()
    assert "no odds could be reckoned" in caplog.text


def test_reckoning_asks_for_the_settings_alone(
    winter: Cast, packed: Packed, django_assert_num_queries
) -> None:
    plan = packed().plan
    loaded = load(winter.season)
    schedule = schedule_of(loaded, plan)
    with django_assert_num_queries(1):
        risk = odds_of(winter.season, loaded, schedule)
    assert risk is not None
    with django_assert_num_queries(4):
        keep_forecasts(plan, risk, timezone.now())


# --- What the database refuses ----------------------------------------------------------------------------
def test_a_day_beyond_the_season_is_empty_and_comes_last(winter: Cast, plan: Plan) -> None:
    her = Treatment.objects.get(boat__name="Alder")
    [row] = keep_forecasts(plan, a_risk(her, safe=None), timezone.now())
    assert (row.likely_on, row.safe_on, row.dots[-1]) == (LIKELY, None, None)
    set_(row, likely_on=None)
    refuses(set_, row, safe_on=SAFE)


def test_the_safe_day_is_not_before_the_likely_one(winter: Cast, plan: Plan) -> None:
    her = Treatment.objects.get(boat__name="Alder")
    [row] = keep_forecasts(plan, a_risk(her), timezone.now())
    refuses(set_, row, safe_on=LIKELY - timedelta(days=1))
    refuses(set_, row, odds_pct=101)
    refuses(set_, row, odds_pct=None)


def test_a_forecast_is_written_once_and_dies_with_its_plan(winter: Cast, plan: Plan) -> None:
    row = Forecast.objects.filter(plan=plan).first()
    assert row is not None
    with pytest.raises(WrittenOnceError):
        row.save()
    with pytest.raises(WrittenOnceError):
        row.delete()
    at = timezone.now()
    thrown = Plan.objects.create(yard=winter.yard, season=winter.season, number=9, made_by="hand", made_at=at)
    keep_forecasts(thrown, a_risk(row.treatment), at)
    refuses(keep_forecasts, thrown, a_risk(row.treatment), at)
    thrown.delete()
    assert set(Forecast.objects.values_list("plan", flat=True)) == {plan.pk}
