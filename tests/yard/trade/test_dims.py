"""Dimensions, girths and areas that cannot be are refused by name; what reads like feet is asked about."""

import re

import pytest

from yard.trade.dims import (
    Dims,
    check_dims,
    check_girths,
    check_measured,
    doubts_about_area,
    doubts_about_dims,
)

SLOOP = Dims("sail", "fin", 10.0, 3.2, 1.75, 5.2, lwl_m=8.5, bwl_m=2.8, canoe_draught_m=0.55)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"beam_m": 10.5}, "Her beam of 10.5 m is more than her length of 10 m.*feet: 3.20 m"),
        ({"lwl_m": 10.4}, "waterline length of 10.4 m is more than her length"),
        ({"lwl_m": 28.0}, "reads like feet: 8.53 m"),
        ({"bwl_m": 3.4}, "waterline beam of 3.4 m is more than her beam"),
        ({"canoe_draught_m": 1.8}, "canoe draught of 1.8 m is more than her draught"),
        ({"draught_m": 12.0}, "draught of 12 m is more than her length"),
        ({"displacement_t": 5200.0}, "displacement of 5200 t is more than the water.*tonnes"),
        ({"length_m": 0.0}, "length of 0 cannot be"),
        ({"displacement_t": -1.0}, "displacement of -1 cannot be"),
        ({"draught_m": float("nan")}, "draught of nan cannot be"),
        ({"canoe_draught_m": 0.0}, "canoe draught of 0 cannot be"),
        ({"line_above_m": 75.0}, "line 75 m above the waterline.*in metres"),
        ({"rudder_planform_m2": -0.5}, "rudder planform of -0.5 cannot be"),
    ],
)
def test_a_dimension_that_cannot_be_is_refused_by_name(wrong: dict[str, float], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        check_dims(SLOOP._replace(**wrong))


def test_plain_dimensions_pass_without_a_doubt() -> None:
    check_dims(SLOOP)
    assert doubts_about_dims(SLOOP) == []


@pytest.mark.parametrize(
    ("odd", "field", "says"),
    [
        # all in feet: 32.8 ft is 10.00 m
        ({"length_m": 32.8, "beam_m": 10.5, "draught_m": 5.7}, "length_m", "feet: 10.00 m"),
        # in feet, but with a weight to match
        ({"length_m": 33.0, "displacement_t": 40.0}, "length_m", "feet: 10.06 m"),
        ({"draught_m": 5.7}, "draught_m", "5.7 m deep[?] That reads like feet: 1.74 m. Say which."),
        ({"beam_m": 8.0}, "beam_m", "8 m wide[?] That reads like feet: 2.44 m"),
        ({"beam_m": 1.2}, "beam_m", "Say whether both are metres"),
    ],
)
def test_lengths_that_read_like_feet_are_asked_about(odd: dict[str, float], field: str, says: str) -> None:
    (doubt,) = doubts_about_dims(SLOOP._replace(lwl_m=None, bwl_m=None, **odd))
    assert doubt.field == field
    assert re.search(says, doubt.says)


def test_a_wide_boat_of_two_hulls_is_not_asked_about() -> None:
    catamaran = Dims("multihull", "none", 11.0, 6.8, 0.9, 5.2)
    assert doubts_about_dims(catamaran) == []


@pytest.mark.parametrize(
    ("girths", "says"),
    [
        ([(9.0, 2.0)], "9 m aft of the stem lies outside her waterline of 8.5 m"),
        ([(-0.5, 2.0)], "outside her waterline"),
        ([(2.0, 2.0), (2.0, 2.1)], "Two girths stand at 2 m; keep one"),
        ([(2.0, -1.0)], "girth of -1 m at 2 m cannot be"),
        ([(4.0, 9.8)], "girth of 9.8 m at 4 m cannot be.*at most 6.70 m"),
        ([(2.0, float("nan"))], "cannot be"),
        ([(1.0, 0.0), (2.0, 0.0), (3.0, 0.0)], "All her girths are nought"),
    ],
)
def test_a_girth_that_cannot_be_hers_is_refused(girths: list[tuple[float, float]], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        check_girths(SLOOP, girths)


def test_without_a_waterline_length_girths_are_held_against_her_length() -> None:
    check_girths(SLOOP._replace(lwl_m=None), [(9.0, 2.0)])


@pytest.mark.parametrize(
    ("measured", "says"),
    [
        ({"bottom": 20.0}, "no area “bottom”"),
        ({"peel": 0.0}, "measured peel area of 0 m² cannot be"),
        ({"coat": float("inf")}, "measured coat area"),
    ],
)
def test_a_measured_area_that_cannot_be_is_refused(measured: dict[str, float], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        check_measured(measured)


def test_a_measured_area_far_from_her_dimensions_is_asked_about() -> None:
    assert doubts_about_area("peel", 17.0, 19.0) == []
    (doubt,) = doubts_about_area("peel", 41.0, 19.0)
    assert doubt == ("peel_m2", "41 m² to peel? Her dimensions give about 19 m². Say which.")


def test_a_measured_area_in_square_feet_is_read_as_such() -> None:
    (doubt,) = doubts_about_area("coat", 210.0, 19.0)
    assert "It reads like square feet: 19.5 m²." in doubt.says
