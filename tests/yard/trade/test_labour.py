"""Person-hours by stage: the trade's norms, what they come to for a boat, and the yard's beside them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.dims import Dims
from yard.trade.hull import three_areas
from yard.trade.labour import (
    AREAS,
    COUNTS,
    NORMS,
    WITHOUT,
    beside,
    doubts_about_counts,
    duration_d,
    hours_by_stage,
    hours_for,
    known_counts,
    norm_for,
    norms_of,
)
from yard.trade.ranges import Range

KINDS = tuple(dict.fromkeys(norm.kind for norm in NORMS))


def areas(m2: float) -> dict[str, Range]:
    return {name: Range(m2, m2, m2) for name in AREAS}


TWENTY = areas(20.0)


def test_every_norm_runs_from_low_to_high_and_names_its_source() -> None:
    for norm in NORMS:
        assert 0 <= norm.hours.low <= norm.hours.likely <= norm.hours.high > 0, norm
        assert norm.source.startswith(("common practice", "only where"))
        assert norm.area in ("", *AREAS)
        assert norm.each in ("", *COUNTS)
        assert norm.people >= 1


def test_no_part_of_a_stage_stands_twice() -> None:
    assert len({(norm.kind, norm.part) for norm in NORMS}) == len(NORMS)


def test_a_practised_operator_on_clear_panels_manages_at_best_some_ten_square_metres_an_hour() -> None:
    # A rule of thumb of the trade: common practice, no source.
    (clear,) = (norm for norm in norms_of("peel") if norm.part == "cut clear panels")
    assert 1 / clear.hours.low == pytest.approx(10.0)
    assert all(1 / hours <= 10.0 + 1e-9 for hours in clear.hours)


@pytest.mark.parametrize(
    ("kind", "parts", "per_m2"),
    [  # common practice, machine hours or one person's a square metre: (low, high)
        ("peel", ["cut clear panels", "props, edges, blade turns"], (0.2, 0.35)),
        ("peel", ["second pass"], (0.2, 0.35)),
        ("blast", ["blast lightly"], (0.1, 0.2)),
        ("wash", ["hot wash"], (0.05, 0.1)),
        ("laminate", ["laminate"], (1.0, 2.0)),
        ("fair", ["fill and sand, two to four cycles"], (0.8, 2.5)),
        ("coat", ["later coats"], (0.08, 0.12)),
        ("antifoul", ["tie coat and antifoul"], (0.06, 0.1)),
        ("strip", ["old antifouling off"], (0.3, 0.6)),
    ],
)
def test_the_gross_norms_by_area(kind: str, parts: list[str], per_m2: tuple[float, float]) -> None:
    chosen = [norm.hours for norm in norms_of(kind) if norm.part in parts]
    assert len(chosen) == len(parts)
    assert (sum(h.low for h in chosen), sum(h.high for h in chosen)) == pytest.approx(per_m2)


@pytest.mark.parametrize(
    ("kind", "counts", "low", "high"),
    [  # common practice for a yacht of 10 m with 20 m2, person-hours worked out by hand
        ("lift", {}, 2 * 2, 2 * 3),
        ("relaunch", {}, 2 * 1.75, 2 * 2.5),
        # 2 people x (2 to 4 h and 0.2 to 0.35 h/m2), and 6 to 10 h of hand work
        ("peel", {"second_passes": 0}, 2 * 2 + 2 * 0.2 * 20 + 6, 2 * 4 + 2 * 0.35 * 20 + 10),
        # all that goes by area twice
        ("peel", {"second_passes": 1}, 2 * 2 + 4 * 0.2 * 20 + 6, 2 * 4 + 4 * 0.35 * 20 + 10),
        ("blast", {}, 4 + 2, 8 + 4),
        ("wash", {"washes": 4}, 4 * (0.75 + 1), 4 * (1.25 + 2)),
        # eight fittings 4 to 10 h, rudder 4 to 8 h, nothing seized
        ("strip", {"fittings": 8, "seacocks": 0}, 4 + 4, 10 + 8),
        ("refit", {"fittings": 8}, 4 + 4, 10 + 8),
        ("fair", {}, 16, 50),
        ("coat", {"coats": 5}, 3 + 5 * 0.8 + 20 * 0.48, 5 + 5 * 1.2 + 20 * 0.72),  # 2 x 0.12 + 3 x 0.08 ...
        ("antifoul", {"antifoul_coats": 3}, 0.75 + 3 * 1.2, 1.5 + 3 * 2),
        ("laminate", {"layers": 2, "wet_outs": 0}, 40, 80),
        ("dry", {"rounds": 10}, 6 + 5, 10 + 7.5),
        ("survey", {}, 1.5, 3),
    ],
)  # fmt: skip
def test_hours_of_a_ten_metre_yacht(kind: str, counts: dict[str, float], low: float, high: float) -> None:
    hours = hours_by_stage(kind, TWENTY, counts)
    assert (hours.low, hours.high) == pytest.approx((low, high))
    assert hours.low <= hours.likely <= hours.high


def test_the_first_two_coats_take_longer_than_the_others() -> None:
    one, two, three = (hours_by_stage("coat", TWENTY, {"coats": n}).likely for n in (1, 2, 3))
    assert two - one == pytest.approx(20 * 0.15 + 1.0)
    assert three - two == pytest.approx(20 * 0.10 + 1.0)


def test_one_sea_cock_in_five_is_seized() -> None:
    hours = hours_by_stage("strip", TWENTY, {"fittings": 0, "rudders": 0, "seacocks": 5})
    assert hours.likely == pytest.approx(2.0)  # one of the five, two hours
    assert hours.low == 0


def test_the_parts_add_up_and_are_named() -> None:
    parts = hours_for("peel", TWENTY)
    assert [part.part for part in parts][:2] == ["set-up, test patch, sheets", "cut clear panels"]
    assert sum(part.hours.likely for part in parts) == pytest.approx(hours_by_stage("peel", TWENTY).likely)


def test_an_area_that_is_not_sure_widens_the_hours() -> None:
    unsure = {**TWENTY, "coat": Range(16, 20, 24)}
    sure, wide = hours_by_stage("fair", TWENTY), hours_by_stage("fair", unsure)
    assert wide.low < sure.low
    assert wide.likely == sure.likely
    assert wide.high > sure.high


def test_hours_come_straight_from_a_boats_three_areas() -> None:
    made = three_areas(Dims("sail", "fin", 10.0, 3.2, 1.75, 5.2, 8.5, 2.8, 0.55))
    by_name = {"peel": made.peel.m2, "coat": made.coat.m2, "antifoul": made.antifoul.m2}
    hours = hours_by_stage("peel", by_name, {"second_passes": 0})
    assert 15 < hours.low < hours.likely < hours.high < 40


@pytest.mark.parametrize("kind", KINDS)
def test_the_trades_norm_written_as_a_yard_writes_its_own_comes_to_the_same_hours(kind: str) -> None:
    norm = norm_for(kind)
    assert norm is not None
    for end in range(3):
        by_norm = norm.fixed[end] + sum(20 * hours[end] for hours in norm.per_m2.values())
        assert by_norm == pytest.approx(hours_by_stage(kind, TWENTY)[end])


def test_the_norm_says_itself_and_its_source() -> None:
    norm = norm_for("coat", {"coats": 5})
    assert norm is not None
    assert norm.says == "The trade reckons 7 to 11 person-hours and 0.48 to 0.72 per m² to coat."
    assert norm.source == "common practice"
    assert [norm.unit for norm in norms_of("wash")] == [
        "person-hours per wash",
        "person-hours per m² to peel and wash",
    ]


@pytest.mark.parametrize("kind", WITHOUT)
def test_a_kind_the_trade_has_no_norm_for_has_no_hours(kind: str) -> None:
    assert hours_for(kind, {}) == []
    assert norm_for(kind) is None
    assert beside(12, kind, {}) == (
        True,
        (0, 0, 0),
        "The yard reckons 12 hours; the trade has no norm for it.",
    )


@pytest.mark.parametrize(
    ("yard", "within", "says"),
    [
        (21.0, True, "The trade reckons 18 to 32 person-hours, mostly 25; the yard's 21 are within that."),
        (9.0, False, "The trade reckons 18 to 32 person-hours, mostly 25; the yard's 9 are less than that."),
        (
            60.0,
            False,
            "The trade reckons 18 to 32 person-hours, mostly 25; the yard's 60 are more than that.",
        ),
    ],
)
def test_the_yards_hours_stand_beside_the_trades(yard: float, within: bool, says: str) -> None:
    answer = beside(yard, "peel", areas(20.0), {"second_passes": 0})
    assert answer.within is within
    assert answer.says == says


def test_days_from_person_hours() -> None:
    assert duration_d(Range(16, 24, 48), 2, 8.0) == pytest.approx(Range(1, 1.5, 3))


@pytest.mark.parametrize(
    ("people", "hours", "says"), [(0, 8.0, "one person"), (2, 0.0, "0 h"), (2, 25.0, "25")]
)
def test_a_day_that_cannot_be_worked_is_refused(people: int, hours: float, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        duration_d(Range(8, 8, 8), people, hours)


def test_what_is_not_known_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="no stage kind “poeling”; there are lift, strip"):
        hours_for("poeling", TWENTY)
    with pytest.raises(ValueError, match="no count “coat”"):
        hours_for("coat", TWENTY, {"coat": 5})
    with pytest.raises(ValueError, match="-1 washes cannot be"):
        hours_for("wash", TWENTY, {"washes": -1})
    with pytest.raises(ValueError, match="more first coats than coats"):
        hours_for("coat", TWENTY, {"coats": 1, "first_coats": 2})
    with pytest.raises(ValueError, match="area to peel; give it"):
        hours_for("peel", {"coat": Range(20, 20, 20)})
    with pytest.raises(ValueError, match="from low to high"):
        hours_for("peel", {"peel": Range(20, 19, 25)})


def test_counts_far_above_what_boats_have_are_asked_about() -> None:
    assert doubts_about_counts({"coats": 6, "washes": 6}) == []
    (doubt,) = doubts_about_counts({"coats": 50})
    assert doubt == ("coats", "50 of a coat? Mostly there are up to 6. Say which.")


def test_counts_not_given_are_what_there_mostly_is() -> None:
    assert known_counts(None)["washes"] == Range(3, 4, 6)
    assert known_counts({"coats": 6})["later_coats"] == Range(4, 4, 4)
    assert known_counts({"coats": 1})["first_coats"] == Range(1, 1, 1)


sizes = st.floats(1, 80)


@given(st.sampled_from(KINDS), sizes, st.floats(1, 2))
@settings(max_examples=60, deadline=None)
def test_a_larger_hull_never_takes_fewer_hours_and_the_range_keeps_its_order(
    kind: str, m2: float, larger: float
) -> None:
    small, large = hours_by_stage(kind, areas(m2)), hours_by_stage(kind, areas(m2 * larger))
    assert small.low <= small.likely <= small.high
    assert all(a <= b + 1e-9 for a, b in zip(small, large, strict=True))


@given(st.sampled_from(sorted(COUNTS)), st.sampled_from(KINDS), st.integers(0, 10))
@settings(max_examples=60, deadline=None)
def test_one_more_of_anything_never_takes_fewer_hours(count: str, kind: str, number: int) -> None:
    if count in ("first_coats", "later_coats"):
        count = "coats"
    fewer, more = (hours_by_stage(kind, TWENTY, {count: n}).likely for n in (number, number + 1))
    assert more >= fewer
