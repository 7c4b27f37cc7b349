"""What a hull uses up, stage by stage."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.curing import GENERIC
from yard.trade.dims import Dims
from yard.trade.film import spreading_m2_l
from yard.trade.hull import three_areas
from yard.trade.labour import AREAS, NORMS
from yard.trade.ranges import Range
from yard.trade.stores import (
    HARDNESS,
    antifoul,
    blades,
    discs,
    filler,
    resin,
    stores_for,
    whole,
)

KINDS = tuple(dict.fromkeys(norm.kind for norm in NORMS))


def sure(value: float) -> Range:
    return Range(value, value, value)


def areas(m2: float) -> dict[str, Range]:
    return {name: sure(m2) for name in AREAS}


def test_a_hull_uses_up_two_or_three_pairs_of_two_edged_blades() -> None:
    # A rule of thumb of the trade: common practice, no source. A yacht of 10 m, about 20 m2.
    pairs = blades(sure(20.0)).amount
    assert (pairs.low, pairs.high) == pytest.approx((2.0, 3.0))
    sloop = Dims("sail", "fin", 10.0, 3.2, 1.75, 5.2, 8.5, 2.8, 0.55)
    assert 2.0 < blades(three_areas(sloop).peel.m2).amount.likely < 3.0


def test_harder_gelcoat_and_old_antifouling_use_up_more_blades() -> None:
    used = [
        blades(sure(20.0), hardness).amount.likely for hardness in ("soft", "usual", "hard", "antifouled")
    ]
    assert used == sorted(used)
    assert len(set(used)) == len(HARDNESS)


def test_a_second_pass_takes_as_many_blades_again() -> None:
    once, twice = (stores_for("peel", areas(20.0), {"second_passes": n})[0].amount.likely for n in (0, 1))
    assert twice == pytest.approx(2 * once)


@pytest.mark.parametrize(
    ("coats", "film_um", "solids", "loss", "litres"),
    [  # 24 m2 x 5 coats x 150 um of solids 100: 18.0 l in theory, by volume; 20.0 with a tenth lost
        (5, 150.0, 100.0, 0.10, 20.0),
        (5, 150.0, 100.0, 0.15, 18.0 / 0.85),
        (1, 100.0, 60.0, 0.10, 24.0 / 6.0 / 0.9),
    ],
)
def test_litres_of_resin(coats: int, film_um: float, solids: float, loss: float, litres: float) -> None:
    sheet = GENERIC._replace(film_um=film_um, solids_pct=solids)
    amount = resin(sure(24.0), sure(coats), sheet).amount
    assert litres == pytest.approx(24 * coats / spreading_m2_l(solids, film_um, loss))
    assert litres == pytest.approx(amount.low if loss == 0.10 else amount.high)


def test_a_wet_out_on_open_laminate_loses_more_than_a_coat_on_faired_ground() -> None:
    open_ground = resin(sure(20), sure(1), ground="peeled").amount
    assert open_ground.low == pytest.approx(20 * 0.125 / 0.75)  # 2.5 l of film, a quarter lost
    assert open_ground.likely > resin(sure(20), sure(1)).amount.high


def test_the_resin_names_the_sheet_it_is_reckoned_by() -> None:
    store = resin(sure(20), sure(5), GENERIC._replace(source="the product's sheet"))
    assert store.source == "the product's sheet"
    assert store.says == (
        "13.9 to 14.7 l of epoxy, mostly 14.3 (5 × 125 µm dry, 100 % solids, losses included)."
    )


def test_kilos_of_filler() -> None:
    # By hand: 20 m2 x 1 mm = 20 l; at 0.9 kg/l 18 kg stay on, 1.15 to 1.35 of that is spread.
    assert filler(sure(20), sure(1.0)).amount == pytest.approx(Range(20.7, 22.5, 24.3))
    thick, thin = filler(sure(20)).amount.high, filler(sure(20)).amount.low
    assert 3 < thick / thin < 4


def test_discs_by_cycles() -> None:
    assert discs(sure(20), sure(2)).amount == pytest.approx(Range(12, 20, 32))
    assert discs(sure(20), sure(4)).amount.likely == 2 * discs(sure(20), sure(2)).amount.likely


def test_the_first_coat_of_antifoul_is_the_tie_coat() -> None:
    tie, paint = antifoul(sure(22), sure(3))
    assert (tie.name, paint.name) == ("tie coat", "antifoul")
    assert tie.amount.likely == pytest.approx(22 / 8)
    assert paint.amount == pytest.approx(Range(44 / 12, 44 / 10, 44 / 8))
    assert [store.name for store in antifoul(sure(22), sure(1))] == ["tie coat"]
    assert antifoul(sure(22), sure(0)) == []


@pytest.mark.parametrize(
    ("kind", "counts", "names"),
    [
        ("peel", {}, ["two-edged blades"]),
        ("blast", {}, ["blasting abrasive"]),
        ("laminate", {}, ["wet-out epoxy"]),
        ("laminate", {"layers": 2, "wet_outs": 0}, ["laminating resin", "glass"]),
        ("fair", {}, ["filler", "sanding discs"]),
        ("coat", {}, ["epoxy"]),
        ("antifoul", {}, ["tie coat", "antifoul"]),
        ("wash", {}, []),
        ("cure", {}, []),
    ],
)
def test_each_kind_of_stage_names_what_it_uses(kind: str, counts: dict[str, float], names: list[str]) -> None:
    stores = stores_for(kind, areas(20.0), counts)
    assert [store.name for store in stores] == names
    assert all(store.source for store in stores)


def test_each_layer_of_laminate_takes_its_resin_and_its_glass() -> None:
    one, two = (stores_for("laminate", areas(20), {"layers": n, "wet_outs": 0}) for n in (1, 2))
    assert [store.amount.likely for store in two] == pytest.approx([2 * store.amount.likely for store in one])
    assert one[0].amount == pytest.approx(Range(12, 18, 24))


def test_whole_packs_are_bought() -> None:
    assert whole(Range(2.0, 2.5, 3.0)) == Range(2, 3, 3)
    assert whole(Range(13.9, 14.3, 14.7), pack=5.0) == Range(3, 3, 3)
    assert whole(Range(0.3, 0.3, 0.3).times(10), pack=1.0) == Range(3, 3, 3)  # 3.0000000000000004 is three
    with pytest.raises(ValueError, match="A pack holds more than nothing"):
        whole(Range(1, 1, 1), pack=0)


def test_what_is_not_known_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="no hardness “granite”; there are soft, usual"):
        stores_for("peel", areas(20), hardness="granite")
    with pytest.raises(ValueError, match="area to coat; give it"):
        stores_for("fair", {"peel": sure(20)})
    with pytest.raises(ValueError, match="no stage kind “polish”"):
        stores_for("polish", areas(20))
    with pytest.raises(ValueError, match="no count “tins”"):
        stores_for("coat", areas(20), {"tins": 4})


@given(st.sampled_from(KINDS), st.floats(1, 80), st.floats(1, 3), st.sampled_from(sorted(HARDNESS)))
@settings(max_examples=60, deadline=None)
def test_amounts_keep_their_order_and_grow_with_the_hull(
    kind: str, m2: float, larger: float, hardness: str
) -> None:
    small = stores_for(kind, areas(m2), hardness=hardness)
    large = stores_for(kind, areas(m2 * larger), hardness=hardness)
    for one, other in zip(small, large, strict=True):
        assert 0 < one.amount.low <= one.amount.likely <= one.amount.high
        assert other.amount == pytest.approx(one.amount.times(larger))
