"""Moist air, against psychrolib, published values and the laws of moist air."""

import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.air import (
    dew_point_c,
    doubts_about_air,
    heated_to_c,
    highest_humidity_pct,
    humidity_after_heating_pct,
    humidity_at_pct,
    saturation_pa,
    vapour_pressure_pa,
)

psychrolib.SetUnitSystem(psychrolib.SI)

AIR_C = st.floats(-30, 50)
RH_PCT = st.floats(1, 100)
FEW = settings(max_examples=200, deadline=None)

SWAPPED = "That reads like {} in each other's place"
LAMPS = f"{SWAPPED.format('hull and air')}, unless lamps or blankets are on her"


@pytest.mark.parametrize(
    ("air_c", "rh_pct", "dew_c"),
    [
        # psychrolib 2.5.0 (ASHRAE 2017 ch. 1 eqn 5-6), as printed by it.
        (5, 80, 1.84),
        (5, 90, 3.50),
        (8, 85, 5.64),
        (10, 50, 0.06),
        (10, 70, 4.79),
        (10, 85, 7.60),
        (12, 75, 7.71),
        (12, 90, 10.41),
        (15, 60, 7.31),
        (15, 80, 11.58),
        (15, 85, 12.50),
        (18, 60, 10.13),
        (20, 50, 9.27),
        (20, 60, 12.01),
        (20, 85, 17.40),
        (25, 80, 21.31),  # its README: 21.3094
        # The same, read in degrees Fahrenheit: 80 F at 50 % is 59.7 F, 70 F at 60 % is 55.5 F.
        ((80 - 32) / 1.8, 50, (59.7 - 32) / 1.8),
        ((70 - 32) / 1.8, 60, (55.5 - 32) / 1.8),
    ],
)
def test_the_dew_point_is_the_tabled_one(air_c: float, rh_pct: float, dew_c: float) -> None:
    assert dew_point_c(air_c, rh_pct) == pytest.approx(dew_c, abs=0.05)


@pytest.mark.parametrize("air_c", range(1, 41, 3))
@pytest.mark.parametrize("rh_pct", range(20, 101, 10))
def test_the_dew_point_agrees_with_psychrolib_wherever_it_is_above_frost(air_c: int, rh_pct: int) -> None:
    theirs = psychrolib.GetTDewPointFromRelHum(air_c, rh_pct / 100)
    if theirs > 0:
        assert dew_point_c(air_c, rh_pct) == pytest.approx(theirs, abs=0.05)
    else:  # Theirs is the frost point there, over ice, and higher; ours goes on over water.
        assert dew_point_c(air_c, rh_pct) < theirs + 0.05


def test_below_zero_it_is_the_dew_point_over_water_and_not_the_frost_point() -> None:
    # 5 degrees C at 50 %: Magnus over water -4.57, psychrolib's frost point -4.03.
    assert dew_point_c(5, 50) == pytest.approx(-4.57, abs=0.01)
    assert psychrolib.GetTDewPointFromRelHum(5, 0.5) == pytest.approx(-4.03, abs=0.01)


@pytest.mark.parametrize(("celsius", "pascals"), [(5, 872.6), (25, 3169.7), (50, 12351.3)])
def test_saturation_is_the_published_one(celsius: float, pascals: float) -> None:
    # ASHRAE Handbook, Fundamentals 2017, ch. 1, table 3. Lawrence claims 0.4 % for his coefficients.
    assert saturation_pa(celsius) == pytest.approx(pascals, rel=4e-3)


@pytest.mark.parametrize("air_c", range(1, 51, 7))
@pytest.mark.parametrize("rh_pct", [10, 45, 80, 100])
def test_vapour_pressure_agrees_with_psychrolib(air_c: int, rh_pct: int) -> None:
    theirs = psychrolib.GetVapPresFromRelHum(air_c, rh_pct / 100)
    assert vapour_pressure_pa(air_c, rh_pct) == pytest.approx(theirs, rel=4e-3)


def test_the_published_example_of_dry_and_wet_bulb_is_met() -> None:
    # ASHRAE Handbook, Fundamentals 2017, ch. 1, example 1: 40 degrees C dry, 20 wet, so 14 %, dew point 7.
    assert dew_point_c(40, 14) == pytest.approx(7, abs=0.5)


@pytest.mark.parametrize(("heated_c", "rh_pct"), [(15, 46.0), (20, 33.6)])
def test_heating_air_of_5_degrees_and_90_per_cent_dries_it(heated_c: float, rh_pct: float) -> None:
    # psychrolib: 0.00486 kg water a kg of air, warmed.
    water = psychrolib.GetHumRatioFromRelHum(5, 0.9, 101_325)
    theirs = 100 * psychrolib.GetRelHumFromHumRatio(heated_c, water, 101_325)
    assert theirs == pytest.approx(rh_pct, abs=0.1)
    assert humidity_after_heating_pct(5, 90, heated_c) == pytest.approx(theirs, abs=0.1)


@pytest.mark.parametrize(("air_c", "rh_pct"), [(5, 80.9), (10, 81.6), (15, 82.2), (20, 82.9)])
def test_the_dampest_air_for_three_degrees_where_hull_and_air_are_alike(air_c: float, rh_pct: float) -> None:
    # psychrolib, from the two saturation pressures.
    theirs = 100 * psychrolib.GetSatVapPres(air_c - 3) / psychrolib.GetSatVapPres(air_c)
    assert theirs == pytest.approx(rh_pct, abs=0.05)
    assert highest_humidity_pct(air_c, 3) == pytest.approx(theirs, abs=0.1)


@pytest.mark.parametrize("air_c", [5, 12, 20, 28])
@pytest.mark.parametrize("rh_pct", [55, 70, 85, 100])
def test_the_rule_of_thumb_is_within_a_degree_above_50_per_cent(air_c: float, rh_pct: float) -> None:
    # Lawrence 2005, abstract: the dew point falls by a degree for each 5 % below saturation.
    assert dew_point_c(air_c, rh_pct) == pytest.approx(air_c - (100 - rh_pct) / 5, abs=1.2)


@FEW
@given(AIR_C, RH_PCT)
def test_the_dew_point_is_never_above_the_air(air_c: float, rh_pct: float) -> None:
    assert dew_point_c(air_c, rh_pct) <= air_c


@FEW
@given(AIR_C)
def test_the_dew_point_of_saturated_air_is_the_air(air_c: float) -> None:
    assert dew_point_c(air_c, 100) == pytest.approx(air_c, abs=1e-9)


@FEW
@given(AIR_C, st.floats(1, 99), st.floats(0.01, 1))
def test_the_dew_point_rises_with_humidity(air_c: float, rh_pct: float, more: float) -> None:
    assert dew_point_c(air_c, rh_pct + more) > dew_point_c(air_c, rh_pct)


@FEW
@given(AIR_C, RH_PCT, st.floats(0, 30))
def test_heating_never_makes_air_damper_and_leaves_its_dew_point(
    air_c: float, rh_pct: float, up: float
) -> None:
    after = humidity_after_heating_pct(air_c, rh_pct, air_c + up)
    assert after <= rh_pct + 1e-9
    assert dew_point_c(air_c + up, after) == pytest.approx(dew_point_c(air_c, rh_pct), abs=1e-6)


@FEW
@given(AIR_C, RH_PCT)
def test_the_humidity_at_a_dew_point_is_the_inverse_of_the_dew_point(air_c: float, rh_pct: float) -> None:
    assert humidity_at_pct(dew_point_c(air_c, rh_pct), air_c) == pytest.approx(rh_pct, abs=1e-6)


@FEW
@given(AIR_C, st.floats(30, 100), st.floats(0.5, 1))
def test_air_heated_as_far_as_is_said_has_the_humidity_wanted(
    air_c: float, rh_pct: float, share: float
) -> None:
    warm_c = heated_to_c(air_c, rh_pct, rh_pct * share)
    assert humidity_after_heating_pct(air_c, rh_pct, warm_c) == pytest.approx(rh_pct * share, abs=1e-6)


def test_air_cooled_below_its_dew_point_stays_saturated() -> None:
    assert humidity_after_heating_pct(15, 80, 5) == 100
    assert humidity_at_pct(12, 5) == 100


@pytest.mark.parametrize(
    ("air_c", "rh_pct", "says"),
    [
        (15, -1, "humidity of -1 % cannot be: give one from 0 to 100 %"),
        (15, 100.5, "humidity of 100.5 % cannot be"),
        (15, float("nan"), "humidity of nan % cannot be"),
        (-40.1, 50, "air temperature of -40.1 degrees C cannot be: give one from -40 to 80"),
        (200, 50, "air temperature of 200 degrees C cannot be"),
        (86, 50, "If it is in Fahrenheit, give 30.0"),
        (15, 0, "no dew point: look at the meter"),
    ],
)
def test_air_that_cannot_be_is_refused_by_name(air_c: float, rh_pct: float, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        dew_point_c(air_c, rh_pct)


def test_other_values_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="margin of -1 degrees C"):
        highest_humidity_pct(15, -1)
    with pytest.raises(ValueError, match="dew point of 81 degrees C"):
        humidity_at_pct(81, 15)
    with pytest.raises(ValueError, match="humidity of 0 %"):
        heated_to_c(15, 80, 0)
    with pytest.raises(ValueError, match="hull temperature of 90 degrees C"):
        doubts_about_air(15, 80, 90)
    with pytest.raises(ValueError, match="air temperature of 81"):
        saturation_pa(81)


@pytest.mark.parametrize(
    ("air_c", "rh_pct", "hull_c", "doubts"),
    [
        (60, 55, 14, [("air_c", "60 degrees C? That reads like Fahrenheit: 15.6 degrees C. Say which.")]),
        (15, 60, 55, [("hull_c", "55 degrees C? That reads like Fahrenheit: 12.8 degrees C. Say which.")]),
        (15, 0.7, 12, [("rh_pct", "0.7 %? That reads like a fraction: 70 %. Say which.")]),
        (15, 1, 12, [("rh_pct", "1 %? That reads like a fraction: 100 %. Say which.")]),
        (
            75,
            14,
            12,
            [("air_c", f"75 degrees C? {SWAPPED.format('the humidity of 14 % and this')}. Say which.")],
        ),
        (2, 70, 28, [("hull_c", f"A hull 26 degrees C warmer than the air? {LAMPS}. Say which.")]),
        (60, 0.5, 55, ["air_c", "hull_c", "rh_pct"]),
        (15, 80, 14, []),
        (45, 20, 45, []),
        (15, 60, None, []),
        (12, 60, 35, []),
        (28, 35, 5, []),
    ],
)
def test_a_slip_of_the_pen_is_asked_about_and_a_fair_reading_is_not(
    air_c: float, rh_pct: float, hull_c: float | None, doubts: list[tuple[str, str] | str]
) -> None:
    found = doubts_about_air(air_c, rh_pct, hull_c)
    told = [
        doubt.field if isinstance(asked, str) else tuple(doubt)
        for doubt, asked in zip(found, doubts, strict=True)
    ]
    assert told == doubts
