"""One boat's drying: which of her rounds count, where she stood and will stand, which day is how likely."""

from __future__ import annotations

from datetime import date, timedelta
from math import log
from typing import Any

import pytest

from scheduling.loading.boatdrying import ODDS
from scheduling.loading.drypicture import picture_of
from scheduling.models import Board
from tests.cast import TODAY, Cast, MeterFactory
from tests.scheduling.drying_boat import INTO_HEAT, LEVELS, TOPSIDE, WASHES, DryingBoat
from yard.models import Scheme, Spot, Treatment

ORIGIN = date(2026, 11, 3)
DAY = timedelta(days=1)


@pytest.fixture
def her(db: None, settings: Any) -> DryingBoat:
    settings.SHEDTIDE_TODAY = TODAY
    return DryingBoat(Cast())


# --- What was read ----------------------------------------------------------------------------------------
def test_rounds_since_the_last_wash_are_points_and_the_others_hollow_with_the_reason(her: DryingBoat) -> None:
    picture = picture_of(her.drying(), "Teasel")
    assert picture is not None
    assert [(mark.day, mark.value) for mark in picture.marks] == [
        (day, float(level)) for day, level in LEVELS.items() if day >= ORIGIN
    ]
    assert [(mark.day, mark.value) for mark in picture.hollow] == [
        (date(2026, 10, 24), 56.0),
        (date(2026, 10, 28), 55.0),
    ]
    assert picture.hollow[0].why == "she was washed on 27 Oct 2026, which starts the drying anew."
    assert picture.hollow[1].why == "she was washed on 27 Oct 2026, less than 48 h before."
    assert picture.washes == WASHES
    assert (picture.target, picture.topside) == (18.0, 14.0)


def test_single_spots_are_drawn_of_rounds_that_count_and_no_topside_among_them(her: DryingBoat) -> None:
    picture = picture_of(her.drying(), "Teasel")
    assert picture is not None
    assert len(picture.spots) == 2 * 4
    assert (TODAY, 27.0) in picture.spots
    assert TOPSIDE not in {value for _, value in picture.spots}


def test_a_round_with_another_meter_stands_in_the_table_and_is_not_drawn(her: DryingBoat) -> None:
    other = MeterFactory(yard=her.cast.yard, name="pocket meter")
    her.read(date(2026, 11, 12), {"P1": 900}, meter=other)
    drying = her.drying()
    picture = picture_of(drying, "Teasel")
    assert picture is not None
    (row,) = [row for row in drying.rows if row.meter == "pocket meter"]
    assert row.why == "it was read with pocket meter, not with deep meter."
    assert 900 not in {mark.value for mark in (*picture.marks, *picture.hollow)}


def test_a_spot_of_the_topside_counts_in_no_level(her: DryingBoat) -> None:
    Spot.objects.filter(code="P1").update(is_reference=True)
    row = her.drying().rows[-1]
    assert (row.figures, row.level, row.mean) == ((27.0,), 27.0, 27.0)


# --- Where she stood and will stand -----------------------------------------------------------------------
def test_the_strip_has_where_she_stood_and_then_where_the_posted_plan_has_her_dry(her: DryingBoat) -> None:
    picture = picture_of(her.drying(), "Teasel")
    assert picture is not None
    assert [(s.first, s.last, s.bay, s.regime, s.planned) for s in picture.spans] == [
        (date(2026, 10, 24), INTO_HEAT - DAY, "P1", "weather", False),
        (INTO_HEAT, TODAY, "H1", "tent", False),
        (TODAY + DAY, date(2026, 12, 6), "H1", "tent", True),
        (date(2026, 12, 7), date(2027, 1, 20), "P1", "weather", True),
    ]
    assert picture.coat_on == date(2027, 2, 1)


def test_a_day_in_the_tent_is_worth_the_norms_half_life_and_one_in_the_weather_less(her: DryingBoat) -> None:
    drying = her.drying()
    worth = [after - before for before, after in zip(drying.sums, drying.sums[1:], strict=False)]
    in_tent = slice((INTO_HEAT - ORIGIN).days, (date(2026, 12, 7) - ORIGIN).days)
    assert worth[in_tent] == pytest.approx([log(2) / 21] * 27)
    assert max(worth[: in_tent.start]) < log(2) / 21 / 2
    assert max(worth[in_tent.stop :][:45]) < log(2) / 21 / 2


def test_after_the_plans_last_day_of_drying_she_is_taken_to_stay(her: DryingBoat) -> None:
    drying = her.drying()
    assert drying.planned_until == date(2027, 1, 20)
    assert drying.ahead[-1].bay == her.pad
    assert drying.ahead[-1].last == TODAY + 300 * DAY


def test_between_today_and_the_first_planned_day_she_stays_where_she_is(db: None, settings: Any) -> None:
    settings.SHEDTIDE_TODAY = TODAY
    her = DryingBoat(Cast(), parts=(2,))
    now, later = her.drying().ahead[:2]
    assert (now.first, now.last, now.bay, now.regime) == (
        TODAY + DAY,
        date(2026, 12, 6),
        her.cast.bay,
        "tent",
    )
    assert (later.first, later.bay) == (date(2026, 12, 7), her.pad)


def test_without_a_posted_plan_the_forecast_leaves_her_where_she_is(her: DryingBoat) -> None:
    Board.objects.update(posted=None)
    drying = her.drying()
    assert drying.planned_until is None
    assert [(one.bay, one.regime) for one in drying.ahead] == [(her.cast.bay, "tent")]
    picture = picture_of(drying, "Teasel")
    assert picture is not None
    assert not any(span.planned for span in picture.spans)
    assert picture.coat_on is None


# --- Which day is how likely ------------------------------------------------------------------------------
def test_each_of_the_odds_has_the_first_day_on_which_she_is_that_likely_dry(her: DryingBoat) -> None:
    drying = her.drying()
    assert drying.own is not None
    for p, day in zip(ODDS, drying.days, strict=True):
        assert day is not None
        index = (day - ORIGIN).days
        assert drying.own.drying.probability(drying.sums[index]) >= p - 1e-6
        assert drying.own.drying.probability(drying.sums[index - 1]) < p


def test_the_bands_edges_and_middle_meet_the_target_on_those_days(her: DryingBoat) -> None:
    drying = her.drying()
    picture = picture_of(drying, "Teasel")
    assert picture is not None
    assert picture.band[0].day == ORIGIN
    assert picture.band[-1].day == picture.last
    assert all(edge.low <= edge.middle <= edge.high for edge in picture.band)
    for name, (_, day) in zip(("low", "middle", "high"), picture.odds, strict=True):
        before = [getattr(edge, name) for edge in picture.band if edge.day < (day or TODAY)]
        after = [getattr(edge, name) for edge in picture.band if edge.day > (day or TODAY)]
        assert min(before) > 18 > max(after)


def test_a_boat_kept_in_the_tent_is_likely_dry_before_one_that_leaves_it(her: DryingBoat) -> None:
    leaves = her.drying().days
    Board.objects.update(posted=None)
    stays = her.drying().days
    assert stays[1] is not None and leaves[1] is not None
    assert stays[1] < leaves[1]


def test_the_odds_on_the_day_of_the_first_coat_are_those_of_her_forecast(her: DryingBoat) -> None:
    drying = her.drying()
    assert drying.own is not None and drying.coat_on is not None and drying.odds_at_coat is not None
    x = drying.sums[(date(2027, 2, 1) - ORIGIN).days]
    assert drying.odds_at_coat == drying.own.drying.probability(x)
    her.set("dry", status="done", finished_on=TODAY)
    her.set("coat", status="running", started_on=TODAY)
    begun = her.drying()
    assert (begun.coat_on, begun.coat_begun, begun.odds_at_coat) == (TODAY, True, None)


# --- Where there is no forecast ---------------------------------------------------------------------------
def test_signed_dry_the_picture_shows_what_was_and_tells_no_odds(her: DryingBoat) -> None:
    her.sign(TODAY)
    picture = picture_of(her.drying(), "Teasel")
    assert picture is not None
    assert (picture.signed_on, picture.odds) == (TODAY, ())
    assert max(edge.day for edge in picture.band) == TODAY
    assert max(span.last for span in picture.spans) == TODAY
    assert picture.last < TODAY + 14 * DAY


def test_without_a_target_or_a_topside_the_rounds_stand_alone(her: DryingBoat) -> None:
    Scheme.objects.update(target_reading=None)
    Treatment.objects.update(target_reading=None)
    Spot.objects.filter(code="T1").update(is_reference=False)
    picture = picture_of(her.drying(), "Teasel")
    assert picture is not None
    assert (picture.target, picture.topside, picture.band, picture.odds) == (None, None, (), ())
    assert len(picture.marks) == 4


@pytest.mark.parametrize("levels", [{}, {date(2026, 10, 24): 56, date(2026, 10, 28): 55}])
def test_without_a_round_that_counts_nothing_is_drawn(
    db: None, settings: Any, levels: dict[date, int]
) -> None:
    settings.SHEDTIDE_TODAY = TODAY
    drying = DryingBoat(Cast(), levels).drying()
    assert len(drying.rows) == len(levels)
    assert picture_of(drying, "Teasel") is None


def test_a_boat_still_to_be_peeled_is_not_drawn_by_readings_taken_before(her: DryingBoat) -> None:
    her.set("peel", status="waiting", started_on=None, finished_on=None)
    drying = her.drying()
    assert drying.own is None
    assert picture_of(drying, "Teasel") is None
