"""The gate before coats: decision cases, the one table, and that what makes it a yes makes it a yes."""

import json
import os
import re
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade import gate as gate_room
from yard.trade.air import dew_point_c
from yard.trade.air_check import hundredths
from yard.trade.gate import AirCheck, Gate, GateRule, gate

psychrolib.SetUnitSystem(psychrolib.SI)

TABLE = json.loads(Path(gate_room.__file__).with_name("gate_cases.json").read_text())
CASES: list[dict[str, Any]] = TABLE["cases"]


def check(air_c: float, rh_pct: float, hull_c: float, **other: Any) -> AirCheck:
    """Return a check with steady hull, heat, watch and a mild night, but for what is given."""
    fair = {
        "hull_before_c": hull_c,
        "hull_before_h": 1.0,
        "heat_on_tonight": True,
        "watch": "night watch",
        "night_c": 14.0,
    }
    return AirCheck(air_c, rh_pct, hull_c, **(fair | other))


def failing(found: Gate) -> list[str]:
    """Return the fields that fail, in the order of the lines."""
    return [line.field for line in found.lines if not line.passed]


# --- The one table -----------------------------------------------------------------------------------------
@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_the_gate_says_what_the_table_says(case: dict[str, Any]) -> None:
    found = gate(AirCheck(**case["check"]), GateRule(**(TABLE["rule"] | case.get("rule", {}))))
    said = {name: getattr(found, name) for name in ("passed", "deciding", "by", "unit", "dew_c", "margin_c")}
    assert said | {"fails": failing(found)} == {name: case[name] for name in [*said, "fails"]}


def test_the_table_is_whole() -> None:
    names = {field.name for field in fields(AirCheck)}
    assert TABLE["format"] == 1
    assert len(CASES) >= 40
    assert len({case["name"] for case in CASES}) == len(CASES)
    assert all(case["check"].keys() == names for case in CASES)
    assert GateRule(**TABLE["rule"]) == GateRule()
    everything = gate(check(15, 60, 14))
    order = [line.field for line in everything.lines]
    assert [line["field"] for line in TABLE["lines"]] == order
    assert {case["deciding"] for case in CASES if case["passed"]} >= set(order[:5])
    assert {case["deciding"] for case in CASES if not case["passed"]} == set(order)


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_the_tables_figures_hold_apart_from_the_gate(case: dict[str, Any]) -> None:
    """Dew point by psychrolib, margin and the deciding figure by the table's own words."""
    read = case["check"]
    rule = TABLE["rule"] | case.get("rule", {})
    if case["dew_c"] > 0:
        theirs = psychrolib.GetTDewPointFromRelHum(read["air_c"], read["rh_pct"] / 100)
        assert case["dew_c"] == pytest.approx(theirs, abs=0.05)
    assert case["margin_c"] == pytest.approx(read["hull_c"] - case["dew_c"], abs=1e-9)
    by = {
        "margin_c": lambda: case["margin_c"] - rule["margin_c"],
        "max_rh_pct": lambda: rule["max_rh_pct"] - read["rh_pct"],
        "least_hull_c": lambda: read["hull_c"] - rule["least_hull_c"],
        "steady_c": lambda: rule["steady_c"] + read["hull_c"] - read["hull_before_c"],
        "least_night_c": lambda: read["night_c"] - rule["least_night_c"],
    }
    if case["unit"]:
        assert case["by"] == pytest.approx(by[case["deciding"]](), abs=1e-9)
    else:
        assert case["by"] == (1 if case["passed"] else -1)
    assert case["passed"] == (case["fails"] == [])
    assert case["passed"] or case["deciding"] in case["fails"]


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_no_case_hangs_on_the_last_bit_of_a_logarithm(case: dict[str, Any]) -> None:
    scaled = dew_point_c(case["check"]["air_c"], case["check"]["rh_pct"]) * 100 + 0.5
    assert abs(scaled - round(scaled)) > 1e-4


# --- Decisions ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("air_c", "rh_pct", "hull_c", "dew_c", "margin_c", "fails"),
    [
        # Dew points by psychrolib 2.5.0; the decisions are a coatings inspector's.
        (12, 75, 9.5, 7.71, 1.79, ["margin_c", "least_hull_c"]),
        (18, 60, 15, 10.13, 4.87, []),
        (15, 80, 14, 11.58, 2.42, ["margin_c"]),  # although the humidity is below 85 %
        (8, 85, 9, 5.64, 3.36, ["least_hull_c"]),  # margin there, humidity at its limit, and too cold
        (20, 50, 12, 9.27, 2.73, ["margin_c"]),  # just moved in: wait for the hull to warm
    ],
)
def test_the_decision_cases(
    air_c: float, rh_pct: float, hull_c: float, dew_c: float, margin_c: float, fails: list[str]
) -> None:
    found = gate(check(air_c, rh_pct, hull_c))
    assert found.dew_c == pytest.approx(dew_c, abs=0.02)
    assert found.margin_c == pytest.approx(margin_c, abs=0.02)
    assert found.passed == (not fails)
    assert failing(found) == fails


def test_a_no_says_which_figure_by_how_much_and_what_would_do() -> None:
    found = gate(check(15, 80, 14))
    assert (found.deciding, found.by, found.unit) == ("margin_c", -0.58, "degrees C")
    assert found.says == (
        "No: the hull at 14 is 2.42 degrees C above the dew point of 11.58 and must be 3 above it, "
        "out by 0.58 degrees C."
    )
    assert found.makes_it_a_yes == (
        "Warm the hull to 14.6 degrees C, or bring the air to 76 % or drier at 15 degrees C.",
    )


def test_a_yes_says_its_tightest_figure_and_asks_for_nothing() -> None:
    found = gate(check(18, 60, 15))
    assert found.says == (
        "Yes. Closest to its limit: the hull is at 15 degrees C and must be 12, 3 degrees C to spare."
    )
    assert (found.makes_it_a_yes, found.ways, found.failing) == ((), (), ())


def test_damp_air_may_be_heated_or_dried() -> None:
    found = gate(check(12, 92, 16))
    assert found.makes_it_a_yes == (
        "Heat the air to 13.5 degrees C (humidity falls to 83 %), or bring the air to 85 % or drier at "
        "12 degrees C.",
    )


def test_all_that_fails_is_told_worst_first_and_all_that_is_to_be_done() -> None:
    found = gate(AirCheck(12, 75, 9.5))
    assert [line.field for line in found.failing] == [
        "margin_c",  # 1.21 of 3 short
        "least_hull_c",  # 2.5 of 12 short
        "steady_c",
        "least_night_c",
        "heat_on_tonight",
        "watch",
    ]
    assert found.says.startswith("No: the hull at 9.5 is 1.79 degrees C above the dew point of 7.71")
    assert found.makes_it_a_yes == (
        "Warm the hull to 12 degrees C.",
        "Hold the hull steady and read it again after 0.5 h: no colder than 12 degrees C.",
        "Ask how cold tonight gets: 10 degrees C or warmer.",
        "Leave the heat on tonight.",
        "Name who checks tonight.",
    )


def test_air_that_neither_heat_nor_drying_can_mend_is_waited_out() -> None:
    found = gate(check(60, 100, 30, watch=""))
    assert found.ways == ()
    assert found.makes_it_a_yes == (
        "Wait for other air: neither heating up to 35 degrees C nor drying down to 30 % is enough.",
        "Name who checks tonight.",
    )


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"air_c": 90}, "air temperature of 90"),
        ({"rh_pct": 101}, "humidity of 101 %"),
        ({"hull_c": -41}, "hull temperature of -41"),
        ({"hull_before_c": 99}, "hull temperature of 99"),
        ({"hull_before_h": 0}, "more than 0 h"),
        ({"hull_before_h": None}, "together with how many hours"),
        ({"night_c": -60}, "air temperature of -60"),
    ],
)
def test_a_check_that_cannot_be_is_refused(values: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        replace(check(18, 60, 15), **values)


@pytest.mark.parametrize(
    "values", [{"margin_c": -1}, {"least_hull_c": 50}, {"max_rh_pct": 0}, {"max_rh_pct": 101}]
)
def test_a_rule_that_cannot_be_is_refused(values: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=f"{next(iter(values))} must be"):
        GateRule(**values)


def test_air_without_any_water_is_refused() -> None:
    with pytest.raises(ValueError, match="no dew point"):
        gate(check(18, 0, 15))


def test_hundredths_go_up_at_the_half() -> None:
    assert [hundredths(x) for x in (0.125, -0.125, 2.344, 2.346)] == [0.13, -0.12, 2.34, 2.35]


# --- Laws --------------------------------------------------------------------------------------------------
def tenths(low: float, high: float) -> st.SearchStrategy[float]:
    """Return readings as an instrument gives them, in tenths."""
    return st.integers(round(low * 10), round(high * 10)).map(lambda tenth: tenth / 10)


CHECKS = st.builds(
    lambda before, **values: AirCheck(hull_before_c=before[0], hull_before_h=before[1], **values),
    before=st.one_of(st.just((None, None)), st.tuples(tenths(-5, 30), tenths(0.1, 9))),
    air_c=tenths(-5, 30),
    rh_pct=tenths(20, 100),
    hull_c=tenths(-5, 30),
    heat_on_tonight=st.sampled_from([True, True, False, None]),
    watch=st.sampled_from(["night watch", "night watch", ""]),
    night_c=st.one_of(st.none(), tenths(-5, 20)),
)
RULES = st.builds(
    GateRule,
    margin_c=tenths(0, 5),
    max_rh_pct=tenths(60, 95),
    least_hull_c=tenths(0, 18),
    least_night_c=tenths(0, 15),
    steady_c=tenths(0, 0.5),
    ask_tonight=st.booleans(),
)
MANY = settings(max_examples=100 if os.environ.get("TEST_SIZE", "small") == "small" else 500, deadline=None)


@MANY
@given(CHECKS, RULES)
def test_what_makes_it_a_yes_makes_it_a_yes(read: AirCheck, rule: GateRule) -> None:
    found = gate(read, rule)
    assert found.passed == (not found.makes_it_a_yes)
    assert all(gate(way, rule).passed for way in found.ways)
    if dew_point_c(read.air_c, read.rh_pct) < 28 and not found.passed:
        assert found.ways


FIGURE = r"(-?\d+(?:\.\d+)?)"


@MANY
@given(CHECKS, RULES)
def test_a_foreman_who_does_what_the_words_say_gets_a_yes(read: AirCheck, rule: GateRule) -> None:
    """The sentences themselves are read back: their figures are the ones to act on."""
    found = gate(read, rule)
    for alternative in found.makes_it_a_yes[0].split(", or ") if found.ways else ():
        done = read
        for said in (alternative, *found.makes_it_a_yes[1:]):
            done = obey(done, said)
        assert gate(done, rule).passed, found.makes_it_a_yes


def obey(read: AirCheck, said: str) -> AirCheck:
    """Return the check as it reads after what was said is done."""
    if warmed := re.search(rf"eat the air to {FIGURE} degrees C \(humidity falls to {FIGURE} %\)", said):
        read = replace(read, air_c=float(warmed[1]), rh_pct=float(warmed[2]))
    if dried := re.search(rf"ring the air to {FIGURE} % or drier at {FIGURE} degrees C", said):
        assert float(dried[2]) == read.air_c
        read = replace(read, rh_pct=float(dried[1]))
    if hull := re.search(rf"arm the hull to {FIGURE} degrees C", said):
        assert float(hull[1]) > read.hull_c
        read = replace(read, hull_c=float(hull[1]))
    if again := re.search(rf"read it again after {FIGURE} h", said):
        read = replace(read, hull_before_c=read.hull_c, hull_before_h=float(again[1]))
    if night := re.search(rf"(?:Keep the night at|tonight gets:) {FIGURE} degrees C or warmer", said):
        read = replace(read, night_c=float(night[1]))
    if said == "Leave the heat on tonight.":
        read = replace(read, heat_on_tonight=True)
    if said == "Name who checks tonight.":
        read = replace(read, watch="night watch")
    return read


@MANY
@given(CHECKS, RULES, tenths(0.1, 10))
def test_a_check_that_passes_still_passes_with_a_warmer_hull(
    read: AirCheck, rule: GateRule, warmer: float
) -> None:
    good = read if gate(read, rule).passed else next(iter(gate(read, rule).ways), None)
    if good is not None:
        assert gate(replace(good, hull_c=good.hull_c + warmer), rule).passed


@MANY
@given(CHECKS, RULES, tenths(0.1, 10))
def test_a_check_that_passes_still_passes_in_drier_air(read: AirCheck, rule: GateRule, drier: float) -> None:
    good = read if gate(read, rule).passed else next(iter(gate(read, rule).ways), None)
    if good is not None:
        assert gate(replace(good, rh_pct=good.rh_pct - drier), rule).passed


@MANY
@given(CHECKS, RULES)
def test_the_deciding_line_is_the_tightest_of_a_yes_and_the_worst_of_a_no(
    read: AirCheck, rule: GateRule
) -> None:
    found = gate(read, rule)
    least = min(line.share for line in found.failing or found.lines)
    decides = next(line for line in found.lines if line.field == found.deciding)
    assert decides.share == least
    assert (found.by >= 0) == found.passed == all(line.passed for line in found.lines)
    if not found.passed:
        assert found.failing[0] == decides
        assert all(line.says in found.says for line in found.failing)
