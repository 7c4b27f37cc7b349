"""A forecast of drying on a calendar, with a change of regime in it."""

from datetime import date, timedelta
from math import log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.belief import Belief
from yard.trade.drydays import day_when, forecast_days, points_of
from yard.trade.drying import COLD, TENT, TENT_C, WEATHER, decay_a_day
from yard.trade.forecast import Point, fit
from yard.trade.spots import Level

FIRST = date(2026, 11, 2)
A_DAY = 0.0154
BELIEF = Belief(1.0, 0.006 / A_DAY, 50.0, 0.5, 12.0, 1e-9, held_up=0.0)
READINGS = (62, 55, 50, 44.5)


def level(day: date, value: float) -> Level:
    return Level(day=day, value=value, spots=24, noise=1.5, mean=value)


def levels() -> list[Level]:
    return [level(FIRST + timedelta(weeks=week), value) for week, value in enumerate(READINGS)]


def weather_then_tent(moved: int, length: int = 400) -> list[float]:
    return [decay_a_day(WEATHER, 7)] * moved + [decay_a_day(TENT, TENT_C)] * (length - moved)


def test_a_round_is_a_point_at_the_decay_of_the_days_before_it() -> None:
    points = points_of(levels(), FIRST, [A_DAY] * 30)
    assert points[0] == Point(0.0, 62, 1.5)
    assert [point.x for point in points] == pytest.approx([0, 7 * A_DAY, 14 * A_DAY, 21 * A_DAY])


def test_a_round_outside_the_days_told_of_is_refused_by_its_day() -> None:
    with pytest.raises(ValueError, match="Sun 1 Nov 2026 lies outside"):
        points_of([level(date(2026, 11, 1), 60)], FIRST, [A_DAY] * 30)
    with pytest.raises(ValueError, match="Mon 23 Nov 2026 lies outside"):
        points_of(levels(), FIRST, [A_DAY] * 20)


def test_the_worked_example_on_a_calendar() -> None:
    # Four readings: days 82.5, 93.4 and 108.0; a round can show it on the day after.
    drying = fit(points_of(levels(), FIRST, [A_DAY] * 200), BELIEF, 20)
    found = forecast_days(drying, [A_DAY] * 200, FIRST)
    assert found.days == tuple(FIRST + timedelta(days=n) for n in (83, 94, 109))
    assert found.says == (
        "Odds of being at her target: 1 in 10 by Sun 24 Jan 2027, 5 in 10 by Thu 4 Feb 2027,"
        " 9 in 10 by Fri 19 Feb 2027."
    )


def test_a_tent_from_the_fourth_of_january_brings_the_days_forward() -> None:
    moved = (date(2027, 1, 4) - FIRST).days
    drying = fit(points_of(levels(), FIRST, weather_then_tent(400)), BELIEF, 20)
    x = drying.quantile_x(0.5)
    assert x is not None
    weather, tent = decay_a_day(WEATHER, 7), decay_a_day(TENT, TENT_C)
    rest = (x - moved * weather) / tent  # days in the tent, by hand
    half = forecast_days(drying, weather_then_tent(moved), FIRST).days[1]
    assert half is not None
    assert 0 <= (half - date(2027, 1, 4)).days - rest < 1
    waiting = forecast_days(drying, weather_then_tent(400), FIRST).days[1]
    assert waiting is not None
    assert (waiting - half).days > 14


def test_heat_begun_later_needs_fewer_days() -> None:
    x = log(50 / 8)
    tented = [(day_when(x, weather_then_tent(moved)) or 0) - moved for moved in (0, 30, 60, 90)]
    assert tented == sorted(tented, reverse=True)
    assert tented[0] > tented[-1] + 20


def test_frosty_days_put_the_day_off_by_as_many() -> None:
    day = decay_a_day(COLD, 8)
    frost = decay_a_day(COLD, -4)
    assert frost == 0
    assert day_when(1.0, [day] * 200) == (day_when(1.0, [day] * 10 + [frost] * 12 + [day] * 200) or 0) - 12


def test_a_day_already_past_is_given_as_today() -> None:
    dry = fit([Point(0.0, 17.5, 0.5)], BELIEF, 20)
    today = FIRST + timedelta(days=9)
    assert forecast_days(dry, [A_DAY] * 300, FIRST, (0.1, 0.5)).days == (FIRST, FIRST)
    assert forecast_days(dry, [A_DAY] * 300, FIRST, (0.1, 0.5), today=today).days == (today, today)


def test_where_the_safe_point_is_never_reached_it_says_not_before() -> None:
    unsure = BELIEF._replace(spread=1.2)
    drying = fit([], unsure, 20)
    found = forecast_days(drying, [A_DAY] * 400, FIRST)
    assert found.days[0] is not None and found.days[2] is None
    assert drying.quantile_x(0.9) is None
    assert found.says.startswith("Not before ")
    assert "no day up to Tue 7 Dec 2027 has better than" in found.says


def test_where_no_point_is_reached_the_calendars_end_is_named_with_its_odds() -> None:
    drying = fit([], BELIEF, 20)
    found = forecast_days(drying, [A_DAY] * 20, FIRST)
    assert found.days == (None, None, None)
    assert found.says == (
        "Not before Sun 22 Nov 2026: the odds of being at her target by then are under 0.1 in 10."
    )


def test_no_day_takes_water_in() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        day_when(1.0, [0.1, -0.1])


calendars = st.lists(st.floats(0.0, 0.1), min_size=1, max_size=80)


@settings(max_examples=80, deadline=None)
@given(calendars, st.floats(0.0, 3.0), st.lists(st.floats(0.0, 0.1), min_size=80, max_size=80))
def test_more_decay_a_day_never_gives_a_later_day(decays: list[float], x: float, more: list[float]) -> None:
    before = day_when(x, decays)
    after = day_when(x, [decay + one for decay, one in zip(decays, more, strict=False)])
    assert before is None or (after is not None and after <= before)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 4.0), st.integers(0, 300), st.integers(0, 100))
def test_a_move_into_a_faster_regime_made_sooner_never_gives_a_later_day(
    x: float, moved: int, sooner: int
) -> None:
    late = day_when(x, weather_then_tent(moved))
    soon = day_when(x, weather_then_tent(max(0, moved - sooner)))
    assert late is None or (soon is not None and soon <= late)


@settings(max_examples=40, deadline=None)
@given(calendars, st.floats(0.0, 3.0), st.floats(0.0, 1.0))
def test_more_to_lose_never_takes_fewer_days(decays: list[float], x: float, more: float) -> None:
    less, most = day_when(x, decays), day_when(x + more, decays)
    assert most is None or (less is not None and less <= most)
