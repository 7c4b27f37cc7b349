"""Rounds sorted out: levels against numpy's percentiles and figures by hand, and what never matters."""

from __future__ import annotations

from datetime import date, timedelta
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from yard.trade.rounds import MEAN, RoundRead, Used, doubts_about_round, level, usable
from yard.trade.spots import LEVEL_SPREAD, NORMAL_MAD, reading_noise

START = date(2026, 11, 3)
SCALE = (0.0, 100.0)


def read(
    week: float, values: dict[str, float] | float, meter: str = "deep meter", mode: str = "deep"
) -> RoundRead:
    """A round `week` weeks after the start; a figure alone is the mean."""
    readings = values if isinstance(values, dict) else {MEAN: values}
    return RoundRead(START + timedelta(days=round(7 * week)), readings, meter, mode)


def spots(*values: float) -> dict[str, float]:
    return {f"P{number:02}": float(value) for number, value in enumerate(values, start=1)}


def why(used: Used) -> dict[date, str]:
    return {out.day: out.why for out in used.left_out}


# --- The level ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([17], 17),  # one value is its own level
        ([10, 30], 30),  # one of two is only half of them
        ([*range(1, 10)], 9),  # 8 of 9 are 89 %: all nine are needed
        ([*range(1, 11)], 9),  # 9 of 10 are just 90 %
        ([*range(1, 12)], 10),  # 10 of 11 are 91 %
        ([*range(1, 21)], 18),  # 18 of 20 are just 90 %
        # 24 spots, two over a tank: 0.9 x 24 = 21.6, so the 22nd, below the tank.
        ([63, 65] + [39, 40, 41, 42, 43] * 4 + [41, 41], 43),
    ],
)
def test_the_level_is_what_nine_spots_in_ten_are_at_or_below(values: list[float], expected: float) -> None:
    assert level(values) == expected


@settings(max_examples=200)
@given(st.lists(st.integers(0, 1000), min_size=1, max_size=40), st.sampled_from([50, 80, 90, 95, 100]))
def test_the_level_is_numpys_percentile_by_the_inverse_of_the_distribution(
    values: list[int], share: int
) -> None:
    # Hyndman and Fan's definition 1; numpy works with a rounded share, so ask just below it.
    expected = np.percentile(values, share - 1e-9, method="inverted_cdf")
    assert level(values, share) == expected


@settings(max_examples=200)
@given(st.lists(st.integers(0, 100), min_size=1, max_size=30), st.integers(0, 100))
def test_nine_in_ten_are_at_the_target_just_when_the_level_is(values: list[int], target: int) -> None:
    at_target = sum(value <= target for value in values)
    assert (level(values) <= target) == (10 * at_target >= 9 * len(values))


def test_the_mean_alone_is_the_level_and_its_noise_that_of_the_meter() -> None:
    (point,) = usable([read(0, 62)]).points
    # 1.5 % of a scale of 100, the noise of a mean of stations.
    assert point == (START, 62, 1, 1.5, 62)


def test_where_spots_were_read_too_the_mean_beside_them_is_no_spot() -> None:
    (point,) = usable([read(0, {MEAN: 90.0, **spots(10, 20, 30)})]).points
    assert (point.value, point.spots, point.mean) == (30, 3, 20)


def test_the_meters_noise_goes_by_the_width_of_its_scale() -> None:
    (point,) = usable([read(0, 16)], scale=(0, 30)).points
    assert point.noise == pytest.approx(0.45)  # 1.5 % of 30


# --- Noise -------------------------------------------------------------------------------------------------
def test_what_the_constants_of_the_noise_come_from() -> None:
    # Standard error of a quantile: sqrt(p (1 - p)) / density at it; for p = 0.9 in a normal distribution.
    assert pytest.approx(np.sqrt(0.09) / stats.norm.pdf(stats.norm.ppf(0.9)), abs=0.005) == LEVEL_SPREAD
    assert pytest.approx(1 / stats.norm.ppf(0.75), abs=1e-4) == NORMAL_MAD


def test_a_readings_noise_is_found_from_the_spots_about_their_own_trends() -> None:
    # 24 spots that stand apart from each other by up to 23, fall from 62 to 12 by halves in three weeks, and
    # read with a noise of 2: the spread between spots is no noise, nor is the fall.
    chance = Random(4)
    noisy = [
        (
            START + timedelta(days=7 * week),
            {f"P{n}": n + 12 + 50 * 0.5 ** (week / 3) + chance.gauss(0, 2) for n in range(24)},
        )
        for week in range(20)
    ]
    assert reading_noise(noisy, 100) == pytest.approx(2.0, rel=0.12)


def test_one_slip_of_the_pen_hardly_moves_the_noise() -> None:
    chance = Random(5)
    weeks = [{f"P{n}": 60 - 2.0 * week + chance.gauss(0, 2) for n in range(24)} for week in range(8)]
    clean = reading_noise([(START + timedelta(days=7 * w), r) for w, r in enumerate(weeks)], 100)
    weeks[4]["P3"] = 5.0
    slipped = reading_noise([(START + timedelta(days=7 * w), r) for w, r in enumerate(weeks)], 100)
    assert slipped == pytest.approx(clean, rel=0.1)


def test_few_spots_are_noisier_than_many_and_none_are_surer_than_the_meter() -> None:
    few, many = spots(*[40] * 4), spots(*[40] * 24)
    (one,) = usable([read(0, {"P01": 40.0})]).points
    (four,) = usable([read(0, few)]).points
    (lots,) = usable([read(0, many)]).points
    # One reading: 3 % of 100. Four: 3 x 1.71 / 2 = 2.565. 24: 3 x 1.71 / 4.899 = 1.047, so the meter's 1.5.
    assert (one.noise, four.noise, lots.noise) == (3.0, pytest.approx(2.565), 1.5)


def test_what_hits_whole_rounds_is_in_the_noise_however_many_spots_there_are() -> None:
    # The level goes 50, 44, 50, 44 …: each inner one is 6 off the line of its neighbours, in noise of one
    # level 6 / sqrt(1 + 1/4 + 1/4) = 4.899. Four are below, four above: the median is 0, so the scatter is
    # 1.4826 x 4.899 = 7.263.
    rounds = [read(week, spots(*[50 - 6 * (week % 2)] * 24)) for week in range(10)]
    assert {round(point.noise, 3) for point in usable(rounds).points} == {7.263}


def test_a_mean_beside_rounds_of_spots_may_hide_how_far_the_level_stands_above_it() -> None:
    # The level of ten spots 30 … 39 is 38, their mean 34.5: 3.5 may hide, and sqrt(1.5² + 3.5²) = 3.808.
    mean, seen = usable([read(0, 40), read(1, spots(*range(30, 40)))]).points
    assert (mean.noise, seen.noise) == (pytest.approx(3.808, abs=1e-3), pytest.approx(3 * 1.71 / 10**0.5))


def test_rounds_of_a_mean_tell_nothing_of_how_a_single_spot_scatters() -> None:
    rounds = [read(week, 40) for week in range(8)] + [read(8, spots(*[40] * 4))]
    assert usable(rounds).points[-1].noise == pytest.approx(
        3 * 1.71 / 2
    )  # the stated noise of a reading stands


# --- Which rounds ------------------------------------------------------------------------------------------
def test_each_round_by_its_days_from_the_last_wash() -> None:
    wash = START + timedelta(days=10)
    rounds = [
        RoundRead(wash + timedelta(days=d), {MEAN: 50.0}, "m", "deep") for d in (-10, -1, 0, 1, 2, 4, 5, 12)
    ]
    used = usable(rounds, washes=[wash - timedelta(days=7), wash])
    assert [(point.day - wash).days for point in used.points] == [5, 12]
    reasons = {(day - wash).days: text for day, text in why(used).items()}
    assert set(reasons) == {-10, -1, 0, 1, 2, 4}
    assert all("starts the drying anew" in reasons[d] for d in (-10, -1))
    assert all("less than 48 h before" in reasons[d] for d in (0, 1))
    assert reasons[4] == (
        "The round of 17 Nov 2026 is left out: 4 days after the wash of 13 Nov 2026; "
        "the fit starts 5 days after."
    )
    assert used.says == (
        "2 rounds since the wash of 13 Nov 2026, 6 left out; on 25 Nov 2026 the reading is 50."
    )


def test_a_new_wash_starts_it_again() -> None:
    rounds = [read(week, 60 - week) for week in range(5)]
    assert len(usable(rounds).points) == 5
    used = usable(rounds, washes=[START + timedelta(days=28)])
    assert used.points == () and len(used.left_out) == 5
    assert used.says == "No round since the wash of 1 Dec 2026 can be used yet (5 left out)."


def test_mixed_meters_are_refused_by_name_unless_one_is_asked_for() -> None:
    rounds = [read(0, 60), read(1, 12, meter="shallow meter")]
    with pytest.raises(ValueError, match="Mixed meters: deep meter and shallow meter"):
        usable(rounds)
    used = usable(rounds, meter="deep meter")
    assert [point.value for point in used.points] == [60]
    assert "read with shallow meter, not with deep meter" in why(used)[START + timedelta(days=7)]


def test_mixed_modes_are_refused_by_name_unless_one_is_asked_for() -> None:
    rounds = [read(0, 60), read(1, 40, mode="shallow")]
    with pytest.raises(ValueError, match="Mixed modes: deep and shallow"):
        usable(rounds)
    used = usable(rounds, mode="shallow")
    assert [point.value for point in used.points] == [40]
    assert "it was read deep, not shallow" in why(used)[START]


def test_another_meter_before_the_last_wash_mixes_nothing() -> None:
    rounds = [read(0, 60, meter="old meter"), read(4, 40)]
    assert len(usable(rounds, washes=[START + timedelta(days=14)]).points) == 1


def test_two_rounds_alike_on_one_day_are_refused() -> None:
    with pytest.raises(ValueError, match="two rounds of 3 Nov 2026 with deep meter"):
        usable([read(0, 60), read(0, 61)])


def test_a_reading_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="P01 of 3 Nov 2026 is no number"):
        usable([read(0, {"P01": float("nan")})])


def test_a_round_without_a_spot_of_the_hull_is_left_out_by_name() -> None:
    used = usable([read(0, {"T1": 14.0, "K": 70.0}), read(1, {})], references={"T1"}, excused={"K"})
    assert used.points == ()
    assert "only the topside or excused spots" in why(used)[START]
    assert "no spot was read" in why(used)[START + timedelta(days=7)]


# --- The topside -------------------------------------------------------------------------------------------
def test_the_reference_is_the_median_of_her_topside_but_within_48_h_of_a_wash() -> None:
    rounds = [
        read(0, {"T1": 14.0, "T2": 15.0, "P1": 60.0}),
        read(2, {"T1": 30.0, "P1": 64.0}),  # the day after the wash
        read(3, {"T1": 16.0, "P1": 50.0}),
    ]
    used = usable(rounds, washes=[START + timedelta(days=13)], references={"T1", "T2"})
    assert used.reference == 15  # of 14, 15 and 16
    assert [point.value for point in used.points] == [50]


def test_an_excused_spot_of_the_topside_is_not_gone_by() -> None:
    rounds = [read(0, {"T1": 14.0, "T2": 40.0, "P1": 60.0})]
    assert usable(rounds, references={"T1", "T2"}, excused={"T2"}).reference == 14


def test_without_a_topside_there_is_no_reference_and_no_guess() -> None:
    assert usable([read(0, 60)]).reference is None


def test_the_topside_of_another_meter_says_nothing_about_this_one() -> None:
    rounds = [read(0, {"T1": 3.0}, meter="other meter"), read(1, {"T1": 14.0, "P1": 60.0})]
    assert usable(rounds, references={"T1"}, meter="deep meter").reference == 14


# --- Spots that read oddly ---------------------------------------------------------------------------------
def test_a_spot_over_a_tank_is_named_and_still_counts() -> None:
    rounds = [read(week, spots(*(40 - week + n % 4 for n in range(9)), 64 - week)) for week in range(3)]
    used = usable(rounds)
    (suspect,) = used.suspects
    # The last round: 38 to 41 nine times and 62; the two in the middle of ten are 39 and 40, so it stands
    # 22.5 above.
    assert (suspect.spot, suspect.value, suspect.day) == ("P10", 62, START + timedelta(days=14))
    assert "reads 62, 22 above the middle" in suspect.says
    assert used.points[-1].spots == 10


def test_a_reading_unlike_the_spots_own_ways_is_named_on_its_day() -> None:
    rounds = [read(week, spots(*(50 - 2 * week + n for n in range(8)))) for week in range(5)]
    slip = dict(rounds[2].readings) | {"P01": 14.0}
    rounds[2] = rounds[2]._replace(readings=slip)
    (suspect,) = usable(rounds).suspects
    assert (suspect.spot, suspect.day, suspect.value) == ("P01", START + timedelta(days=14), 14)
    # The eight of that round are 14 and 47 to 53, the middle 49.5; elsewhere the spot is 3.5 below it.
    assert "would have it near 46" in suspect.says


def test_where_all_spots_scatter_no_single_one_is_odd_for_doing_so() -> None:
    # Eight spots, 6 above and below the middle in turn: scatter 1.4826 x 6 = 8.9, so up to 35.6 is usual.
    rounds = [read(w, spots(*(50 + 6 * (-1) ** (n + w) for n in range(8)))) for w in range(4)]
    rounds[2] = rounds[2]._replace(readings=dict(rounds[2].readings) | {"P01": 62.0})  # 12 above its middle
    assert usable(rounds).suspects == ()


def test_where_spots_differ_widely_the_wettest_is_not_apart() -> None:
    # 20, 22 … 60: half of them are 10 or more from the middle, so up to 4 x 1.4826 x 10 = 59 is usual.
    assert usable([read(0, spots(*range(20, 61, 2)))]).suspects == ()


def test_drying_alone_makes_no_spot_odd() -> None:
    rounds = [read(w, spots(*(12 + (50 + n) * 0.5 ** (w / 3) for n in range(24)))) for w in range(12)]
    assert usable(rounds).suspects == ()


# --- What never matters ------------------------------------------------------------------------------------
a_round = st.dictionaries(
    st.sampled_from(["T1", "P1", "P2", "P3", "P4", "P5", "P6"]), st.integers(0, 100).map(float), max_size=7
)
a_winter = st.dictionaries(st.integers(0, 120), a_round, max_size=8)
some_washes = st.sets(st.integers(0, 120), max_size=3)


def winter(days: dict[int, dict[str, float]], shift: int = 0) -> list[RoundRead]:
    return [RoundRead(START + timedelta(days=d + shift), values, "m", "deep") for d, values in days.items()]


def washed(days: set[int], shift: int = 0) -> list[date]:
    return [START + timedelta(days=d + shift) for d in days]


@settings(max_examples=60)
@given(
    a_winter, some_washes, st.dictionaries(st.integers(0, 120), st.integers(0, 100).map(float), max_size=8)
)
def test_the_readings_of_an_excused_spot_change_nothing(
    days: dict[int, dict[str, float]], washes: set[int], excused: dict[int, float]
) -> None:
    more = {d: values | ({"K": excused[d]} if d in excused else {}) for d, values in days.items()}
    plain, with_k = (
        usable(winter(rows), washes=washed(washes), references={"T1"}, excused={"K"}) for rows in (days, more)
    )
    assert (plain.points, plain.reference, plain.suspects) == (
        with_k.points,
        with_k.reference,
        with_k.suspects,
    )
    assert [out.day for out in plain.left_out] == [out.day for out in with_k.left_out]


@settings(max_examples=60)
@given(a_winter, some_washes, st.randoms(use_true_random=False))
def test_the_order_in_which_rounds_come_changes_nothing(
    days: dict[int, dict[str, float]], washes: set[int], chance: Random
) -> None:
    rounds = winter(days)
    shuffled = chance.sample(rounds, len(rounds))
    turned = [r._replace(readings=dict(reversed(r.readings.items()))) for r in shuffled]
    assert usable(turned, washes=washed(washes)) == usable(rounds, washes=washed(washes))


@settings(max_examples=60)
@given(a_winter, some_washes, st.integers(-400, 400))
def test_shifting_all_days_changes_only_the_days(
    days: dict[int, dict[str, float]], washes: set[int], shift: int
) -> None:
    here, there = (usable(winter(days, by), washes=washed(washes, by)) for by in (0, shift))
    assert [p._replace(day=p.day + timedelta(days=shift)) for p in here.points] == list(there.points)
    assert [o.day + timedelta(days=shift) for o in here.left_out] == [o.day for o in there.left_out]


@settings(max_examples=60)
@given(a_winter, some_washes)
def test_each_round_is_a_level_or_is_left_out_with_a_reason(
    days: dict[int, dict[str, float]], washes: set[int]
) -> None:
    used = usable(winter(days), washes=washed(washes), references={"T1"})
    both = [point.day for point in used.points] + [out.day for out in used.left_out]
    assert sorted(both) == sorted(START + timedelta(days=d) for d in days)
    assert all(f"{out.day:%-d %b %Y}" in out.why and out.why.endswith(".") for out in used.left_out)
    assert all(point.noise >= 1.5 for point in used.points)


# --- Doubts about one being entered ------------------------------------------------------------------------
BEFORE = [read(0, spots(60, 58, 61, 41))]
NOW = spots(57, 55, 58, 39)


def asked(new: RoundRead, earlier: list[RoundRead] = BEFORE, **more: object) -> dict[str, str]:
    return dict(doubts_about_round(new, earlier, SCALE, **more))  # type: ignore[arg-type]


def test_a_plain_round_raises_no_doubt() -> None:
    assert asked(read(1, NOW), washes=[START - timedelta(days=3)], surface_dry=True) == {}


@pytest.mark.parametrize("value", [-1.0, 100.1, 410.0])
def test_a_figure_off_the_scale_is_asked_about(value: float) -> None:
    says = asked(read(1, NOW | {"P02": value}))
    assert list(says) == ["P02"]
    assert f"{value:g} at P02 is off the scale of deep meter (0 to 100)" in says["P02"]


def test_41_written_as_14_is_asked_about_as_swapped_figures() -> None:
    # The others went by -3, P04 from 41 to 14 by -27: 24 beside them, more than 20.
    says = asked(read(1, NOW | {"P04": 14.0}))
    assert list(says) == ["P04"]
    assert says["P04"].startswith("P04 read 41 last time and 14 now while her spots moved by -3.")
    assert "swapped (41)?" in says["P04"]


def test_a_leap_to_another_figure_is_asked_about_without_a_guess() -> None:
    says = asked(read(1, NOW | {"P04": 77.0}))["P04"]
    assert "41 last time and 77 now" in says and "swapped" not in says


def test_a_fall_of_all_spots_together_is_no_leap() -> None:
    assert asked(read(6, spots(36, 34, 37, 16))) == {}


def test_a_spot_is_held_against_its_own_last_reading_of_that_mode() -> None:
    earlier = [*BEFORE, read(0.5, spots(20, 18, 21, 12), mode="shallow")]
    assert asked(read(1, NOW), earlier) == {}


def test_a_mean_that_leaps_is_asked_about() -> None:
    assert "mean read 41 last time and 14 now. Are its" in asked(read(1, 14), [read(0, 41)])[MEAN]


def test_another_meter_or_mode_than_since_the_last_wash_is_asked_about() -> None:
    meter = asked(read(1, NOW, meter="shallow meter"))
    assert "Mixed meters: the forecast can't join shallow meter (deep)" in meter["meter"]
    mode = asked(read(1, NOW, mode="shallow"))
    assert list(mode) == ["mode"]
    assert asked(read(1, NOW, meter="shallow meter"), washes=[START + timedelta(days=2)]) == {}


def test_a_yard_that_reads_both_modes_is_not_asked_each_time() -> None:
    earlier = [*BEFORE, read(0, spots(30, 28, 31, 20), mode="shallow")]
    assert asked(read(1, NOW), earlier) == {}
    assert asked(read(1, spots(28, 26, 29, 19), mode="shallow"), earlier) == {}


def test_a_day_before_a_round_that_is_there_is_asked_about() -> None:
    says = asked(read(-1, NOW))
    assert "A round of 3 Nov 2026 is there already, and this one is for 27 Oct 2026" in says["day_on"]


def test_a_round_entered_late_is_held_against_the_one_before_it_alone() -> None:
    assert list(asked(read(1, 57), [read(0, 60), read(10, 20)])) == ["day_on"]


@pytest.mark.parametrize(("days", "doubt"), [(0, True), (1, True), (2, False), (-1, False)])
def test_a_round_within_48_hours_of_a_wash_is_asked_about(days: int, doubt: bool) -> None:
    wash = START + timedelta(days=7 - days)
    assert ("day_on" in asked(read(1, NOW), washes=[wash])) == doubt


def test_a_wet_surface_is_asked_about_and_an_unsaid_one_is_not() -> None:
    assert list(asked(read(1, NOW), surface_dry=False)) == ["surface_dry"]
    assert asked(read(1, NOW), surface_dry=None) == {}


def test_one_figure_at_every_spot_is_asked_about() -> None:
    assert "All 4 spots read 50" in asked(read(1, spots(50, 50, 50, 50)), [])["readings"]
    assert asked(read(1, spots(50, 50, 50)), []) == {}
