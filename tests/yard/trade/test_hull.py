"""Loads of a hull and her three areas: which method, how sure, and what is said."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.dims import Dims
from yard.trade.hull import (
    Areas,
    in_words,
    planned_load_kg,
    three_areas,
    with_ends,
)
from yard.trade.ranges import Range
from yard.trade.wetted import delft, simpson_m2

SLOOP = Dims("sail", "fin", 10.0, 3.2, 1.75, 5.2, lwl_m=8.5, bwl_m=2.8, canoe_draught_m=0.55)
LAUNCH = Dims("motor", "none", 11.2, 3.75, 1.05, 8.2, lwl_m=9.86, bwl_m=3.3, canoe_draught_m=0.78)
GIRTHS = [(0.9, 1.6), (2.5, 2.8), (4.2, 3.2), (6.0, 2.9), (7.6, 1.8)]
"""Five girths of the sloop, without keel and rudder."""


def ranges(areas: Areas) -> list[Range]:
    return [areas.peel.m2, areas.coat.m2, areas.antifoul.m2]


def test_a_declared_displacement_is_planned_with_a_fifth_more_until_she_is_weighed() -> None:
    assert planned_load_kg(13.8, None) == 16_560  # 13.8 t x 1.20
    assert planned_load_kg(13.8, 14.9) == 14_900


def test_a_sloops_areas_come_from_the_delft_formula_and_say_so() -> None:
    areas = three_areas(SLOOP._replace(keel_is_metal=True))
    assert {area.method for area in areas[:3]} == {"delft"}
    assert areas.peel.says == (
        "19 m² ± 12 %, Delft formula from her dimensions; measure five girths to know better."
    )


def test_the_parts_add_up_to_the_three_areas() -> None:
    body, keel, rudder, band = three_areas(SLOOP).parts
    areas = three_areas(SLOOP)
    # 5.2 t / 1.025 x 0.96 displaced by the body
    assert body.likely == pytest.approx(delft(8.5, 2.8, 0.55, 5.2 / 1.025 * 0.96, 0.72))
    assert (body.low, body.high) == pytest.approx((0.9 * body.likely, 1.1 * body.likely))
    assert band.likely == pytest.approx(2.15 * 8.5 * 0.075)
    assert areas.peel.m2.likely == pytest.approx(body.likely + band.likely)
    assert areas.coat.m2.likely == pytest.approx(areas.peel.m2.likely + rudder.likely)
    assert areas.antifoul.m2.likely == pytest.approx(areas.coat.m2.likely + keel.likely)


def test_a_ten_metre_yacht_has_some_twenty_square_metres() -> None:
    # Common practice, no source: a yacht of 10 m counts as about 20 m2.
    assert all(16 < area.likely < 25 for area in ranges(three_areas(SLOOP)))


def test_formula_and_trades_rule_lie_within_each_others_range_for_the_sloop() -> None:
    by_formula = three_areas(SLOOP)
    by_rule = three_areas(SLOOP._replace(bwl_m=None, canoe_draught_m=None))
    assert by_rule.antifoul.method == "trade rule"
    assert by_rule.antifoul.m2.low < by_formula.antifoul.m2.likely < by_rule.antifoul.m2.high


def test_a_metal_keel_is_antifouled_and_never_peeled() -> None:
    metal = three_areas(SLOOP._replace(keel_is_metal=True))
    moulded = three_areas(SLOOP._replace(keel_is_metal=False))
    assert moulded.peel.m2.likely - metal.peel.m2.likely == pytest.approx(metal.parts.keel.likely)
    assert metal.antifoul.m2 == pytest.approx(moulded.antifoul.m2)


def test_a_keel_whose_stuff_is_not_written_down_is_metal_unless_it_is_long_and_that_is_said() -> None:
    assert "her keel taken as metal" in three_areas(SLOOP).peel.says
    assert "her keel" not in three_areas(SLOOP).antifoul.says
    long_keeler = SLOOP._replace(keel_kind="long")
    assert "her keel taken as moulded" in three_areas(long_keeler).peel.says
    assert three_areas(long_keeler).peel.m2.likely > three_areas(SLOOP).peel.m2.likely


def test_planforms_written_down_replace_the_shares() -> None:
    parts = three_areas(SLOOP._replace(keel_planform_m2=1.5, rudder_planform_m2=0.6)).parts
    assert parts.keel.likely == pytest.approx(1.5 * 2 * 1.05)
    assert parts.rudder.likely == pytest.approx(0.6 * 2 * 1.05)
    assert parts.keel.high / parts.keel.low < 1.07


def test_the_yards_own_line_replaces_fifty_to_a_hundred_millimetres() -> None:
    assert three_areas(SLOOP).parts.band == pytest.approx(Range(0.05, 0.075, 0.1).times(2.15 * 8.5))
    assert three_areas(SLOOP._replace(line_above_m=0.2)).parts.band == pytest.approx(
        Range(0.2, 0.2, 0.2).times(2.15 * 8.5)
    )


def test_motor_boats_and_proportions_out_of_the_delft_series_take_mumfords_formula() -> None:
    assert three_areas(LAUNCH).peel.method == "mumford"
    assert three_areas(LAUNCH).parts.keel == Range(0, 0, 0)
    narrow = SLOOP._replace(lwl_m=9.5, bwl_m=1.5, displacement_t=3.0)
    assert three_areas(narrow).peel.method == "mumford"


def test_two_hulls_have_more_area_than_one_of_the_same_displacement() -> None:
    catamaran = Dims("multihull", "none", 11.0, 6.2, 0.9, 5.2, lwl_m=10.2, canoe_draught_m=0.55)
    areas = three_areas(catamaran)
    assert areas.peel.method == "mumford"
    # 2 x 1.7 L T + V / T, by hand
    assert areas.parts.body.likely == pytest.approx(2 * 1.7 * 10.2 * 0.55 + 5.2 / 1.025 / 0.55)
    assert areas.parts.band.likely == pytest.approx(2 * 2.15 * 10.2 * 0.075)


def test_one_dimension_missing_is_estimated_by_a_rule_that_is_said_and_widens_the_range() -> None:
    known, guessed = three_areas(SLOOP).parts.body, three_areas(SLOOP._replace(bwl_m=None))
    assert guessed.peel.method == "delft"
    assert "waterline beam taken as 0.88 of her beam" in guessed.peel.says
    assert guessed.parts.body.high / guessed.parts.body.likely > known.high / known.likely
    no_canoe = three_areas(SLOOP._replace(canoe_draught_m=None))
    assert "canoe draught taken as 0.54 m from her displacement" in no_canoe.peel.says
    assert no_canoe.peel.m2.low < three_areas(SLOOP).peel.m2.likely < no_canoe.peel.m2.high


def test_without_a_waterline_length_the_trades_rule_is_taken_wider_still_and_asks_for_the_dimensions() -> (
    None
):
    rule = three_areas(SLOOP._replace(bwl_m=None, canoe_draught_m=None)).antifoul
    wider = three_areas(SLOOP._replace(lwl_m=None)).antifoul
    assert wider.method == "trade rule"
    assert "waterline length taken as 0.84 of her length" in wider.says
    assert "write down her waterline length" in wider.says
    assert wider.m2.high / wider.m2.low > rule.m2.high / rule.m2.low


def test_girths_replace_the_dimensions_which_are_still_said() -> None:
    areas = three_areas(SLOOP, girths=GIRTHS)
    by_dimensions = three_areas(SLOOP)
    assert areas.peel.method == "measured girths"
    assert areas.peel.by_dimensions == by_dimensions.peel.m2
    assert "from 5 measured girths (her dimensions alone would give 19 m²)" in areas.peel.says
    assert areas.peel.m2.high / areas.peel.m2.low < by_dimensions.peel.m2.high / by_dimensions.peel.m2.low
    assert areas.parts.body.likely == pytest.approx(1.02 * simpson_m2([(0.0, 0.0), *GIRTHS, (8.5, 0.0)]))
    assert areas.parts.keel == by_dimensions.parts.keel


def test_the_order_of_the_girths_does_not_matter() -> None:
    assert three_areas(SLOOP, girths=GIRTHS[::-1]) == three_areas(SLOOP, girths=GIRTHS)


def test_fewer_than_three_girths_are_left_out_and_that_is_said() -> None:
    areas = three_areas(SLOOP, girths=GIRTHS[1:3])
    assert areas.peel.method == "delft"
    assert "2 girths left out: too few, measure five" in areas.peel.says
    assert areas.peel.m2 == three_areas(SLOOP).peel.m2


def test_three_girths_are_less_sure_than_five() -> None:
    three, five = (three_areas(SLOOP, girths=GIRTHS[a:b]).parts.body for a, b in ((1, 4), (0, 5)))
    assert three.high / three.low > five.high / five.low


def test_the_ends_have_no_girth_unless_measured_but_a_motor_boats_transom_has_the_last_one() -> None:
    assert with_ends([(4, 3.0), (2, 2.0)], 8.0, "sail") == [(0, 0), (2, 2.0), (4, 3.0), (8, 0)]
    assert with_ends([(2, 2.0), (4, 3.0)], 8.0, "motor")[-1] == (8, 3.0)
    assert with_ends([(0, 1.1), (4, 3.0), (8, 0.4)], 8.0, "sail") == [(0, 1.1), (4, 3.0), (8, 0.4)]


def test_girths_round_a_long_keel_hold_the_keel() -> None:
    long_keeler = SLOOP._replace(keel_kind="long")
    girths = [(0.9, 2.0), (2.5, 4.0), (4.2, 5.0), (6.0, 5.0), (7.6, 3.0)]
    area = 1.02 * simpson_m2(with_ends(girths, 8.5, "sail"))
    areas = three_areas(long_keeler, girths=girths)
    assert areas.parts.body.likely + areas.parts.keel.likely == pytest.approx(area)
    assert areas.peel.m2.likely == pytest.approx(area + areas.parts.band.likely)
    apart = three_areas(long_keeler, girths=girths, girths_round_keel=False)
    assert apart.parts.body.likely == pytest.approx(area)
    assert apart.peel.m2.likely > areas.peel.m2.likely


def test_girths_of_one_of_two_hulls_count_twice() -> None:
    one = Dims("sail", "none", 11.0, 3.2, 0.9, 5.2, lwl_m=10.2, bwl_m=2.8, canoe_draught_m=0.55)
    girths = [(1.0, 1.0), (5.0, 1.9), (9.0, 1.2)]
    two = three_areas(one._replace(hull_kind="multihull", beam_m=6.2), girths=girths).parts.body
    assert two == pytest.approx(three_areas(one, girths=girths).parts.body.times(2))


def test_the_trades_rule_holds_the_appendages_once() -> None:
    areas = three_areas(SLOOP._replace(bwl_m=None, canoe_draught_m=None, line_above_m=0.0))
    assert areas.antifoul.m2.likely == pytest.approx(0.5 * 8.5 * (3.2 + 1.75))


def test_an_estimated_canoe_draught_is_never_as_deep_as_the_whole_boat() -> None:
    heavy = SLOOP._replace(keel_kind="none", draught_m=0.5, canoe_draught_m=None)
    assert "canoe draught taken as 0.45 m" in three_areas(heavy).peel.says


def test_a_measured_area_replaces_all_else_for_itself_only() -> None:
    areas = three_areas(SLOOP, girths=GIRTHS, measured={"coat": 20.4})
    assert areas.coat.method == "measured"
    assert areas.coat.m2 == pytest.approx((0.97 * 20.4, 20.4, 1.03 * 20.4))
    assert areas.coat.says == "20 m² ± 3 %, as measured (her dimensions alone would give 20 m²)."
    assert areas.peel.method == areas.antifoul.method == "measured girths"


def test_an_area_that_reaches_further_up_than_down_is_said_with_both_ends() -> None:
    assert in_words(Range(15, 18, 24)) == "18 m² (15 to 24)"
    assert in_words(Range(16.2, 18, 19.8)) == "18 m² ± 10 %"
    assert in_words(Range(0, 0, 0)) == "0 m²"


boats = st.builds(
    lambda kind, keel, length, beam, draught, slim, canoe, block, known: Dims(
        kind,
        keel,
        length,
        beam * length,
        draught * length,
        # never more than the water her canoe body could push aside
        max(0.5, block * 0.84 * length * slim * beam * length * canoe * draught * length),
        lwl_m=0.84 * length if known[0] else None,
        bwl_m=slim * beam * length if known[1] else None,
        canoe_draught_m=canoe * draught * length if known[2] else None,
    ),
    st.sampled_from(["sail", "motor", "motor_sailer", "multihull", "other", ""]),
    st.sampled_from(["fin", "long", "bilge", "lifting", "none", "other", ""]),
    st.floats(6, 20),
    st.floats(0.25, 0.45),
    st.floats(0.08, 0.22),
    st.floats(0.8, 0.95),
    st.floats(0.3, 0.9),
    st.floats(0.3, 0.9),
    st.tuples(st.booleans(), st.booleans(), st.booleans()),
)


@given(boats)
@settings(max_examples=150, deadline=None)
def test_low_likely_high_and_peel_coat_antifoul_always_stand_in_that_order(dims: Dims) -> None:
    areas = three_areas(dims)
    for area in ranges(areas):
        assert 0 < area.low <= area.likely <= area.high
    for smaller, larger in zip(ranges(areas), ranges(areas)[1:], strict=False):
        assert all(a <= b + 1e-9 for a, b in zip(smaller, larger, strict=True))


@given(boats, st.floats(1.02, 1.6))
@settings(max_examples=100, deadline=None)
def test_a_boat_larger_in_every_dimension_has_larger_areas_in_the_square(dims: Dims, scale: float) -> None:
    bigger = dims._replace(
        displacement_t=dims.displacement_t * scale**3,
        **{
            name: value * scale
            for name, value in dims._asdict().items()
            if name.endswith("_m") and isinstance(value, float)
        },
    )._replace(line_above_m=0.1 * scale)
    for small, large in zip(
        ranges(three_areas(dims._replace(line_above_m=0.1))), ranges(three_areas(bigger)), strict=True
    ):
        assert large.likely == pytest.approx(small.likely * scale**2)


@given(st.floats(1.0, 1.15))
@settings(max_examples=30, deadline=None)
def test_a_longer_boat_of_the_same_section_has_larger_areas(longer: float) -> None:
    long = SLOOP._replace(
        length_m=10 * longer, lwl_m=8.5 * longer, displacement_t=SLOOP.displacement_t * longer
    )
    for short_area, long_area in zip(ranges(three_areas(SLOOP)), ranges(three_areas(long)), strict=True):
        assert long_area.likely >= short_area.likely


@given(st.floats(0.5, 1.2))
@settings(max_examples=30, deadline=None)
def test_girths_scaled_scale_her_body_by_as_much(scale: float) -> None:
    plain = three_areas(SLOOP, girths=GIRTHS).parts.body
    scaled = three_areas(SLOOP, girths=[(x, g * scale) for x, g in GIRTHS]).parts.body
    assert scaled == pytest.approx(plain.times(scale))
