"""Loads and areas of a hull by the trade's rules."""

import pytest

from yard.trade.hull import areas_m2, planned_load_kg, wetted_area_m2


def test_a_declared_displacement_is_planned_with_a_fifth_more_until_she_is_weighed() -> None:
    assert planned_load_kg(13.8, None) == 16_560  # 13.8 t x 1.20
    assert planned_load_kg(13.8, 14.9) == 14_900


def test_the_wetted_area_by_the_trades_rule() -> None:
    # 0.5 x 8.5 x (2.8 + 1.7) = 19.1 m2 with fin and rudder; the canoe body alone is 17.7 by the Delft series.
    assert wetted_area_m2("fin", 8.5, 2.8, 1.7) == pytest.approx(19.125)
    assert wetted_area_m2("fin", 8.5, 2.8, 1.7) < wetted_area_m2("long", 8.5, 2.8, 1.7)


def test_a_measured_area_is_taken_before_the_rule() -> None:
    areas = areas_m2(20.0, peel=17.2, coat=None, antifoul=None)
    assert areas["peel"] == 17.2
    assert areas["antifoul"] == 20.0
