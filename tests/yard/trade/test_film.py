"""Wet and dry films, litres and acceptance, against published and worked examples."""

from math import nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.film import (
    LOSS,
    acceptance,
    coats_for_um,
    dry_from_wet_um,
    film_record,
    litres,
    spot_um,
    spreading_m2_l,
    wet_from_dry_um,
)


@pytest.mark.parametrize(
    ("dry", "solids", "thinner", "wet"),
    [
        (4.0, 65, 0, 6.15),  # published: 4.0 mil dry of 65 % solids are 6.15 mil wet (any unit of length)
        (50.0, 40, 0, 125.0),  # published: 125 um wet of 40 % solids leave 50 um
        (100.0, 60, 10, 183.3),  # by hand: 100 x 110 / 60
        (150.0, 100, 0, 150.0),  # solvent-free: nothing leaves
    ],
)
def test_a_wet_film_leaves_its_solids(dry: float, solids: float, thinner: float, wet: float) -> None:
    assert wet_from_dry_um(dry, solids, thinner) == pytest.approx(wet, rel=1e-3)
    assert dry_from_wet_um(wet, solids, thinner) == pytest.approx(dry, rel=1e-3)


@settings(max_examples=60)
@given(st.floats(1, 2000), st.floats(1, 100), st.floats(0, 50))
def test_from_dry_to_wet_and_back_is_the_same_film(dry: float, solids: float, thinner: float) -> None:
    assert dry_from_wet_um(wet_from_dry_um(dry, solids, thinner), solids, thinner) == pytest.approx(dry)


@pytest.mark.parametrize(
    ("solids", "dry", "m2_l"),
    [
        (65, 125, 5.2),  # textbook: 10 x 65 / 125
        (100, 150, 6.667),  # the same, by hand
        (60, 100, 6.0),
        (50, 50, 10.0),
    ],
)
def test_what_a_litre_covers(solids: float, dry: float, m2_l: float) -> None:
    assert spreading_m2_l(solids, dry) == pytest.approx(m2_l, rel=1e-3)


def test_what_a_gallon_covers_in_feet_and_mils() -> None:
    # Textbook: a US gallon is 1604 mil ft2, so 65 % solids at 5 mil cover 1604 x 0.65 / 5 = 208.5 ft2.
    m2_l = spreading_m2_l(65, 5 * 25.4)
    assert m2_l * 3.785412 / 0.09290304 == pytest.approx(208.5, abs=0.2)


@pytest.mark.parametrize(("loss", "used"), [(0.0, 18.0), (0.25, 24.0)])
def test_litres_for_five_coats_of_150_um_on_24_square_metres(loss: float, used: float) -> None:
    # By hand: 24 x 5 x 150 um = 18 l of film; a quarter lost in tray, roller and pores: 18 / 0.75.
    assert litres(24, 150, 5, 100, loss) == pytest.approx(used)


def test_a_freshly_peeled_laminate_drinks_more_than_a_faired_one() -> None:
    assert LOSS["peeled"].low > LOSS["faired"].high


@pytest.mark.parametrize(
    ("total", "film", "coats"), [(500, 125, 4), (501, 125, 5), (600, 150, 4), (0.3, 0.1, 3)]
)
def test_coats_for_a_total_are_whole_ones_and_never_too_few(total: float, film: float, coats: int) -> None:
    assert coats_for_um(total, film) == coats


class TestCombsAndLitres:
    def test_litres_say_the_film_that_they_were_reckoned_for(self) -> None:
        # The 24 l above, a coat at a time: 4.8 l on 24 m2 with a quarter lost are 150 um.
        record = film_record([], 4.8, 24, 100, loss=0.25)
        assert record.estimate_um == record.from_litres_um == pytest.approx(150)
        assert record.differ is None
        assert "by the litres alone" in record.says

    def test_where_both_agree_the_lower_counts(self) -> None:
        record = film_record([150, 160, 170], 4.8, 24, 100, loss=0.25)
        assert record.from_combs_um == pytest.approx(160)
        assert record.estimate_um == pytest.approx(150)
        assert record.differ == pytest.approx(10 / 160)
        assert not record.doubts

    def test_where_they_differ_by_more_than_the_stated_share_it_is_said(self) -> None:
        record = film_record([250, 260, 240], 4.8, 24, 100, loss=0.25)
        # 100 of 250 um: 40 %.
        assert record.differ == pytest.approx(0.4)
        assert "differ by 40%, more than 25%" in record.says
        assert [doubt.field for doubt in record.doubts] == ["litres"]
        wide = film_record([250, 260, 240], 4.8, 24, 100, loss=0.25, agree_within=0.4)
        assert not wide.doubts

    def test_thinner_thins_what_the_comb_says_and_not_what_the_litres_say(self) -> None:
        record = film_record([183.3], 24 * 0.1 / 0.6, 24, 60, loss=0.0, thinner_pct=10)
        assert record.from_combs_um == pytest.approx(100, abs=0.1)
        assert record.from_litres_um == pytest.approx(100)

    def test_comb_readings_in_mils_are_asked_about(self) -> None:
        record = film_record([4], None, 24, 100)
        assert "mils: 102 um" in record.doubts[0].says

    def test_a_comb_reading_no_roller_makes_is_asked_about(self) -> None:
        assert film_record([1500], None, 24, 100).doubts[0].field == "combs"

    def test_neither_comb_nor_litres_is_no_record(self) -> None:
        with pytest.raises(ValueError, match="Neither comb readings nor litres"):
            film_record([], None, 24, 100)


TEN = [510, 520, 495, 530, 505, 515, 540, 500, 525, 490]


class TestAcceptance:
    @pytest.mark.parametrize(
        ("readings", "rule", "passed", "deciding"),
        [
            # By hand, nominal 500: mean 513, lowest 490, two of ten below: exactly 20 % is too many.
            (TEN, "80/20", False, "share below"),
            ([*TEN, 500], "80/20", True, "share below"),  # two of eleven
            ([600] * 9 + [390], "80/20", False, "lowest"),  # 390 < 400
            ([600] * 9 + [400], "80/20", True, "share below"),  # at the limit is not below it
            ([499] * 9 + [501], "80/20", False, "mean"),
            (TEN, "90/10", False, "share below"),
            ([*TEN[:2], 500, *TEN[3:]], "90/10", True, "share below"),  # one of ten, at 490
            ([600] * 9 + [449], "90/10", False, "lowest"),
        ],
    )
    def test_examples(self, readings: list[float], rule: str, passed: bool, deciding: str) -> None:
        found = acceptance(readings, 500, rule)
        assert (found.passed, found.deciding) == (passed, deciding)
        assert found.says.startswith("Thick enough" if passed else "Too thin")

    def test_figures_come_with_the_answer(self) -> None:
        found = acceptance(TEN, 500)
        assert (found.mean_um, found.lowest_um, found.below, found.of) == (513, 490, 2, 10)

    @pytest.mark.parametrize("gauge", ["magnetic", "eddy current", "ruler"])
    def test_a_gauge_that_does_not_read_on_grp_is_refused(self, gauge: str) -> None:
        with pytest.raises(ValueError, match="on GRP use a wet-film comb"):
            acceptance(TEN, 500, gauge=gauge)

    @settings(max_examples=60)
    @given(st.lists(st.floats(300, 700), min_size=1, max_size=20), st.integers(0, 19), st.floats(0, 300))
    def test_a_thicker_reading_never_fails_a_film_that_passed(
        self, readings: list[float], which: int, more: float
    ) -> None:
        thicker = [um + more if i == which else um for i, um in enumerate(readings)]
        for rule in ("80/20", "90/10"):
            assert acceptance(thicker, 500, rule).passed or not acceptance(readings, 500, rule).passed


def test_a_spot_is_the_mean_of_three_readings() -> None:
    # Published: 2.4, 2.6 and 2.9 mil make a spot of 2.6.
    assert round(spot_um([2.4, 2.6, 2.9]), 1) == 2.6
    with pytest.raises(ValueError, match="2 readings"):
        spot_um([1, 2])


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: dry_from_wet_um(-1, 50), "A film of -1 um"),
        (lambda: dry_from_wet_um(nan, 50), "A film of nan um"),
        (lambda: dry_from_wet_um(100, 0), "0 per cent solids"),
        (lambda: dry_from_wet_um(100, 101), "101 per cent solids"),
        (lambda: wet_from_dry_um(100, 50, -5), "-5 per cent thinner"),
        (lambda: spreading_m2_l(50, 0), "A dry film of 0 um"),
        (lambda: litres(24, 150, 5, 100, 25), "as 0.25 for 25 per cent"),
        (lambda: litres(-1, 150, 5, 100, 0), "can't be below zero"),
        (lambda: coats_for_um(500, 0), "A dry film of 0 um"),
        (lambda: film_record([100], 1, 0, 100), "An area of 0 m2"),
        (lambda: film_record([100], -1, 20, 100), "-1 litres used"),
        (lambda: acceptance([], 500), "No reading"),
        (lambda: acceptance([500], 0), "A nominal film of 0 um"),
        (lambda: acceptance([500], 500, "50/50"), "No rule called 50/50"),
    ],
)
def test_what_cannot_be_is_refused_in_words(call, says: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=says):
        call()
