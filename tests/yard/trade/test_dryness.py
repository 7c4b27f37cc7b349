"""The stop rule, each part with figures worked out by hand, and plateaus. All of it is common practice."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.dryness import ADVICE, Evidence, Signing, StopRule, evidence, main_round, stalled, target_from
from yard.trade.ranges import Range
from yard.trade.rounds import MEAN, Level, RoundRead

SIGNED = date(2027, 2, 16)
WASH = SIGNED - timedelta(days=30)
CODES = [f"P{number:02}" for number in range(1, 25)]


def a_round(days_ago: int, values: dict[str, float], *, mode: str = "deep", meter: str = "m") -> RoundRead:
    return RoundRead(SIGNED - timedelta(days=days_ago), values, meter, mode)


def hull(base: float, **other: float) -> dict[str, float]:
    """24 spots at `base` but for some, and a topside spot at 14."""
    return dict.fromkeys(CODES, base) | {"T1": 14.0} | other


DRY = [a_round(14, hull(17.0)), a_round(7, hull(16.5)), a_round(0, hull(16.5))]
SAID = Signing(SIGNED, heat_off_h=24, hull_c=9.0, shed_c=8.0, film_dry=True, film_h=48)


def held(rounds: list[RoundRead] | None = None, said: Signing = SAID, **more: Any) -> Evidence:
    """The evidence of a boat that is dry by every part, but for what a test changes."""
    boat = {"spots": {*CODES, "T1"}, "references": {"T1"}, "washes": [WASH], "target": 18.0}
    return evidence(DRY if rounds is None else rounds, said, **(boat | more))


def part(found: Evidence, name: str) -> tuple[bool, str]:
    (line,) = [line for line in found.lines if name in line.name]
    return line.holds, line.says


def only(found: Evidence) -> str:
    """The one part that does not hold."""
    (line,) = found.failing
    return line.name


# --- The whole -----------------------------------------------------------------------------------------
def test_a_dry_boat_may_be_signed_and_each_part_gives_its_figures() -> None:
    found = held()
    assert found.holds and found.says == "All 10 parts of the rule for signing dry hold."
    assert [line.says for line in found.lines] == [
        "24 spots were read on 16 Feb 2027.",
        "On 16 Feb 2027 24 of 24 spots (100 %) read 18 or less; 90 % must.",
        "The highest is P01 with 16.5; 23 is allowed.",
        "No spot is excused.",
        "The target 18 is 4 over her dry topside (14); 3 to 5 is meant.",
        "From 2 Feb 2027 over 9 Feb 2027 to 16 Feb 2027 her mean changed by -0.5 and +0; 1 is allowed.",
        # The spots lie 0.25 off their own lines, all alike: the finest noise of 0.5 holds. 3 x sqrt(2) x 0.5.
        "The greatest rise of a spot is 0, within noise (2.1).",
        "Her last wash was 30 days before, on 17 Jan 2027; 7 must have passed.",
        "The heat was off for 24 h; 24 must pass, and the hull at 9 °C is 1 from the shed's 8; 2 is allowed.",
        "Under the film patch no damp shows after 48 h.",
    ]


def test_without_rounds_nothing_is_shown_and_nothing_breaks() -> None:
    found = held([], Signing(SIGNED), washes=[], target=None)
    assert found.target is None
    assert [line.name for line in found.lines if line.holds] == [
        "excused spots named",
        "last wash 7 days ago",
    ]
    assert found.says.startswith(
        "8 of 10 parts of the rule for signing dry do not hold. No round can be used"
    )


def test_what_does_not_hold_is_said_after_the_count() -> None:
    found = held(said=SAID._replace(film_dry=False))
    assert found.says == (
        "1 of 10 parts of the rule for signing dry does not hold. "
        "The film patch does not stand as dry after 48 h."
    )


# --- Spots at the target -------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("wet", "holds", "share"),
    [(0, True, 100), (1, True, 95), (2, True, 91), (3, False, 87)],  # 24 - wet of 24, whole per cent
)
def test_nine_spots_in_ten_must_be_at_the_target(wet: int, holds: bool, share: int) -> None:
    above = dict.fromkeys(CODES[:wet], 20.0)
    rounds = [a_round(days, hull(16.5, **above)) for days in (14, 7, 0)]
    found = held(rounds)
    assert part(found, "90 % of the spots") == (
        holds,
        f"On 16 Feb 2027 {24 - wet} of 24 spots ({share} %) read 18 or less; 90 % must.",
    )
    assert found.holds == holds


def test_a_spot_just_at_the_target_is_at_it() -> None:
    assert held([a_round(days, hull(18.0)) for days in (14, 7, 0)]).holds


def test_the_yard_may_ask_for_more_of_the_spots() -> None:
    rounds = [a_round(days, hull(16.5, P01=20.0)) for days in (14, 7, 0)]
    assert held(rounds, rule=StopRule(share_pct=95)).holds  # 23 of 24 are 95.8 %
    assert only(held(rounds, rule=StopRule(share_pct=96))) == "96 % of the spots at the target"


@pytest.mark.parametrize(("value", "holds"), [(23.0, True), (23.1, False)])
def test_none_may_be_more_than_5_over_the_target(value: float, holds: bool) -> None:
    rounds = [a_round(days, hull(16.5, P07=value)) for days in (14, 7, 0)]
    found = held(rounds)
    assert found.holds == holds
    assert part(found, "none more than 5 over") == (
        holds,
        "The highest is P07 with 23; 23 is allowed." if holds else "Above 23: P07 (23.1).",
    )


def test_a_spot_that_was_not_read_last_is_named_and_may_be_excused() -> None:
    last = {spot: value for spot, value in hull(16.5).items() if spot != "P09"}
    rounds = [*DRY[:2], a_round(0, last)]
    found = held(rounds)
    assert part(found, "every spot") == (False, "Not read on 16 Feb 2027: P09. Read or excuse them.")
    assert held(rounds, SAID._replace(excused={"P09": "a prop stands there"})).holds


def test_a_mean_alone_shows_no_spot() -> None:
    found = held([a_round(days, {MEAN: 16.0, "T1": 14.0}) for days in (14, 7, 0)])
    assert only(found) == "every spot read"
    assert "only the mean is there: read each spot" in found.failing[0].says


# --- Excused spots -------------------------------------------------------------------------------------
def test_excused_spots_are_named_with_their_reasons_and_do_not_count() -> None:
    rounds = [a_round(days, hull(16.5, P01=63.0, P02=65.0)) for days in (14, 7, 0)]
    assert only(held(rounds)) == "none more than 5 over the target"
    found = held(rounds, SAID._replace(excused={"P02": "over the tank", "P01": "over the tank"}))
    assert found.holds
    assert part(found, "excused")[1] == "Excused by the signer: P01 (over the tank), P02 (over the tank)."


def test_a_spot_excused_without_a_reason_does_not_hold() -> None:
    found = held(said=SAID._replace(excused={"P01": " "}))
    assert part(found, "excused") == (False, "No reason is given for excusing P01.")


# --- The target ----------------------------------------------------------------------------------------
def test_the_target_is_her_own_topside_and_3_to_5() -> None:
    assert target_from([13, 16, 14]) == Range(17, 18, 19)
    with pytest.raises(ValueError, match="topside was never read"):
        target_from([])


def test_without_a_target_of_her_own_it_is_the_topside_and_the_yards_figure() -> None:
    assert held(target=None).target == 18
    assert held(target=None, rule=StopRule(over_topside=3)).target == 17


@pytest.mark.parametrize(
    ("target", "holds", "says"),
    [(19.0, True, "5 over"), (19.5, False, "5.5 over"), (16.5, True, "this is stricter")],
)
def test_a_target_further_than_5_over_her_topside_does_not_hold(
    target: float, holds: bool, says: str
) -> None:
    got, text = part(held(target=target), "topside")
    assert got == holds and says in text


def test_a_topside_never_read_is_asked_for() -> None:
    rounds = [r._replace(readings=dict.fromkeys(CODES, 16.0)) for r in DRY]
    assert only(held(rounds)) == "target from her own topside"


# --- Rounds that agree -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("means", "holds"),
    [
        ((18.0, 17.0, 16.0), True),  # -1 and -1: just within
        ((18.1, 17.0, 16.5), False),  # -1.1 is too much
        ((17.0, 16.0, 17.1), False),  # +1.1 too: it counts both ways
        ((16.0, 16.5, 16.0), True),
    ],
)
def test_the_mean_may_change_by_1_in_each_of_two_weeks(means: tuple[float, ...], holds: bool) -> None:
    rounds = [a_round(days, hull(mean)) for days, mean in zip((14, 7, 0), means, strict=True)]
    assert part(held(rounds), "rounds agree")[0] == holds


def test_three_rounds_a_week_apart_are_needed_and_those_between_are_passed_over() -> None:
    close = [a_round(days, hull(16.5)) for days in (7, 3, 0)]
    assert part(held(close), "rounds agree") == (
        False,
        "Three rounds a week apart since the wash are needed; there are 2.",
    )
    between = [*DRY, a_round(3, hull(18.0))]
    assert "From 2 Feb 2027 over 9 Feb 2027" in part(held(between), "rounds agree")[1]


def test_the_mean_is_compared_over_the_spots_that_both_rounds_have() -> None:
    # P24 was read first in the last round and stands at 23: over all spots the mean would rise by 6.5/24.
    rounds = [a_round(days, dict.fromkeys(CODES[:4], 16.5) | {"T1": 14.0}) for days in (14, 7)]
    rounds.append(a_round(0, dict.fromkeys(CODES[:4], 16.5) | {"T1": 14.0, "P24": 23.0}))
    assert "changed by +0 and +0" in part(held(rounds), "rounds agree")[1]


def test_rounds_of_a_mean_are_compared_with_the_mean_of_the_spots() -> None:
    rounds = [a_round(14, {MEAN: 17.5}), a_round(7, {MEAN: 17.0}), a_round(0, hull(16.5))]
    assert "changed by -0.5 and -0.5" in part(held(rounds), "rounds agree")[1]


def test_rounds_without_a_spot_in_common_cannot_agree() -> None:
    rounds = [a_round(14, {"P01": 16.0}), a_round(7, {"P02": 16.0}), a_round(0, {"P03": 16.0, "T1": 14.0})]
    found = held(rounds, spots={"P03"})
    assert part(found, "rounds agree") == (
        False,
        "The last rounds have no spot in common: read the same spots.",
    )
    assert part(found, "rising")[0] is False


# --- No spot rising --------------------------------------------------------------------------------------
@pytest.mark.parametrize(("rise", "holds"), [(2.0, True), (2.2, False)])
def test_no_spot_may_rise_by_more_than_noise(rise: float, holds: bool) -> None:
    # All spots stand still: noise is the finest, 0.5 of 100, and 3 x sqrt(2) x 0.5 = 2.12 is allowed.
    rounds = [a_round(days, hull(16.0)) for days in (14, 7)] + [a_round(0, hull(16.0, P05=16.0 + rise))]
    found = held(rounds)
    assert found.holds == holds
    if not holds:
        assert found.failing[0].says == "Up by more than noise (2.1) on 16 Feb 2027: P05 (2.2)."


def test_a_slow_rise_over_two_weeks_is_a_rise() -> None:
    rounds = [a_round(d, hull(15.5, P05=p)) for d, p in ((14, 15.0), (7, 16.5), (0, 18.0))]
    found = held(rounds)
    assert only(found) == "no spot rising" and "P05 (3)" in found.failing[0].says


def test_one_round_shows_no_rise() -> None:
    assert part(held([DRY[-1]]), "rising")[0] is False


# --- Wash, heat, film ------------------------------------------------------------------------------------
@pytest.mark.parametrize(("days_ago", "holds"), [(6, False), (7, True)])
def test_the_last_wash_is_a_week_ago(days_ago: int, holds: bool) -> None:
    found = held(washes=[WASH, SIGNED - timedelta(days=days_ago)])
    assert part(found, "last wash")[0] == holds


def test_a_wash_starts_the_rounds_anew() -> None:
    found = held(washes=[SIGNED - timedelta(days=8)])
    assert part(found, "rounds agree")[1].endswith("there is 1.")


def test_what_comes_after_the_signing_does_not_count() -> None:
    later = SIGNED + timedelta(days=1)
    assert held([*DRY, RoundRead(later, hull(60.0), "m", "deep")], washes=[WASH, later]).holds


@pytest.mark.parametrize(
    ("said", "holds"),
    [
        ({"heat_off_h": None}, False),
        ({"heat_off_h": 23.5}, False),
        ({"heat_off_h": 24.0, "hull_c": None}, True),
        ({"heat_off_h": 24.0, "hull_c": 10.0, "shed_c": 8.0}, True),  # 2 apart: just within
        ({"heat_off_h": 24.0, "hull_c": 10.5, "shed_c": 8.0}, False),
        ({"heat_off_h": 24.0, "hull_c": 5.5, "shed_c": 8.0}, False),  # still cold from outside
    ],
)
def test_the_heat_is_off_and_the_hull_as_cool_as_the_shed(said: dict[str, Any], holds: bool) -> None:
    assert part(held(said=SAID._replace(**said)), "heat off")[0] == holds


@pytest.mark.parametrize(
    ("said", "holds"),
    [
        ({"film_dry": None}, False),
        ({"film_dry": False}, False),
        ({"film_h": 47.0}, False),
        ({"film_h": None}, True),  # the signer says no more than that it was dry after the 48 h
    ],
)
def test_the_film_patch_shows_no_damp_after_48_hours(said: dict[str, Any], holds: bool) -> None:
    assert part(held(said=SAID._replace(**said)), "film")[0] == holds


# --- Which meter counts ------------------------------------------------------------------------------------
def test_the_rounds_of_another_meter_are_not_joined() -> None:
    rounds = [DRY[0]._replace(meter="other"), *DRY[1:]]
    assert only(held(rounds)) == "the last rounds agree"


def test_of_two_modes_on_the_last_day_the_one_that_most_rounds_have_counts() -> None:
    beside = [*DRY, a_round(0, hull(60.0), mode="shallow")]
    assert held(beside).holds and held(beside[::-1]).holds
    assert main_round([]) is None


# --- Laws ------------------------------------------------------------------------------------------------
readings = st.dictionaries(st.sampled_from(CODES[:6]), st.integers(10, 30).map(float), max_size=6)


@settings(max_examples=60)
@given(st.dictionaries(st.integers(0, 40), readings, max_size=6), st.integers(-300, 300), st.randoms())
def test_order_and_shift_of_days_change_no_verdict(days: dict[int, Any], shift: int, chance: Any) -> None:
    here = [a_round(ago, values) for ago, values in days.items()]
    there = [r._replace(day=r.day + timedelta(days=shift)) for r in chance.sample(here, len(here))]
    moved = held(
        there, SAID._replace(day=SIGNED + timedelta(days=shift)), washes=[WASH + timedelta(days=shift)]
    )
    assert [(x.name, x.holds) for x in held(here).lines] == [(x.name, x.holds) for x in moved.lines]


@settings(max_examples=60)
@given(readings, st.floats(0, 5), st.sampled_from(CODES[:6]))
def test_a_wetter_spot_never_makes_her_drier(last: dict[str, float], more: float, spot: str) -> None:
    wetter = last | {spot: last[spot] + more} if spot in last else last
    first, second = (held([a_round(0, values)], spots=CODES[:6]) for values in (last, wetter))
    for name in ("90 % of the spots", "none more than 5 over"):
        assert part(first, name)[0] >= part(second, name)[0]


# --- Plateaus --------------------------------------------------------------------------------------------
class Floor(NamedTuple):
    """Stands in for a forecast: all that matters here is where it sees her end."""

    floor_high: float


def weeks(*values: float) -> list[Level]:
    return [
        Level(WASH + timedelta(days=7 * week), value, 24, 1.5, value)
        for week, value in enumerate(values, start=1)
    ]


@pytest.mark.parametrize(
    ("values", "stall"),
    [
        ((30, 30, 30, 30), True),
        ((30, 30.5, 31, 31), True),  # rising
        ((30, 29, 28, 27), False),  # 3 in three weeks
        ((30, 30, 30), False),  # two weeks only
        ((18, 18, 18, 18), False),  # at the target
        ((60, 40, 30, 30, 30, 30), True),  # only the last three weeks count
        ((30, 30, 30, 30, 24), False),
        ((), False),
    ],
)
def test_no_fall_for_three_weeks_above_the_target_is_a_plateau(
    values: tuple[float, ...], stall: bool
) -> None:
    assert (stalled(weeks(*values), 18.0) is not None) == stall


def test_a_plateau_says_since_when_how_much_and_what_to_do() -> None:
    found = stalled(weeks(31, 30, 31, 30), 18.0)
    assert found is not None
    # Days from the middle -10.5, -3.5, 3.5, 10.5 with 31, 30, 31, 30: the sum of products is -7 x 31 + 7 x 30
    # = -7, that of squares 2 (10.5² + 3.5²) = 245; -7 / 245 x 21 = -0.6 in three weeks.
    assert found.fall == pytest.approx(0.6)
    assert found.since == WASH + timedelta(days=7)
    assert found.says == (
        "From 24 Jan 2027 to 14 Feb 2027 she fell by only 0.6 in three weeks, and stands at 30; "
        "the target is 18. Waiting won't dry her: wash again, peel deeper, or ask the surveyor."
    )
    assert found.advice == ADVICE


def test_the_fall_is_that_of_numpys_weighted_line() -> None:
    levels = [
        Level(WASH + timedelta(days=d), v, 24, noise, v)
        for d, v, noise in ((5, 30.2, 1.5), (11, 30.6, 4.0), (19, 29.8, 1.5), (27, 30.1, 2.0))
    ]
    slope = np.polyfit([5, 11, 19, 27], [30.2, 30.6, 29.8, 30.1], 1, w=[1 / 1.5, 1 / 4, 1 / 1.5, 1 / 2])[0]
    found = stalled(levels, 18.0)
    assert found is not None and found.fall == pytest.approx(-21 * slope)


def test_a_floor_that_may_lie_above_the_target_is_a_plateau_to_come() -> None:
    falling = weeks(45, 40, 36)
    found = stalled(falling, 18.0, Floor(19.4))
    assert found is not None and found.fall is None
    assert "may end at 19.4, above the target 18" in found.says and found.says.endswith(ADVICE)
    assert stalled(falling, 18.0, Floor(17.9)) is None


def test_a_floor_counts_only_with_three_levels_behind_it() -> None:
    assert stalled(weeks(45, 40), 18.0, Floor(19.4)) is None


def test_on_a_meter_of_another_scale_less_of_a_fall_is_one() -> None:
    slow = weeks(10, 9.8, 9.6, 9.4)  # 0.6 in three weeks: nothing on 0 to 100, a fall on 0 to 30
    assert stalled(slow, 5.0) is not None
    assert stalled(slow, 5.0, scale=(0, 30)) is None
