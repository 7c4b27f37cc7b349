"""What would make a no of the gate a yes, in figures a foreman can act on: heat, or dry, and what to
answer."""

from dataclasses import replace
from math import ceil, floor

from yard.trade.air import dew_point_c, heated_to_c, humidity_after_heating_pct, humidity_at_pct
from yard.trade.air_check import BEFORE_LEAST_H, DRIEST_PCT, AirCheck, GateRule, figure, hundredths

WARMEST_C = 35.0
"""[degrees C] nobody is told to heat a hull or its air further: the lower cap for solid laminate, 30 for foam
or balsa core. Common practice."""

AIR_STEP_C = 0.5
"""[degrees C] the steps of a thermostat that heating of the air is told in. Common practice."""


def ways_to_a_yes(
    check: AirCheck, rule: GateRule, failing: set[str], dew_c: float
) -> tuple[tuple[str, ...], tuple[AirCheck, ...]]:
    """What has to be done, and how the check would read once it is, by heating and by drying."""
    if not failing:
        return (), ()
    found: list[tuple[str, AirCheck]] = []
    if failing & {"margin_c", "max_rh_pct", "least_hull_c"}:
        found += _by_heating(check, rule, failing, dew_c)
    if failing & {"margin_c", "max_rh_pct"}:
        found += _by_drying(check, rule)
    todo = []
    if found:
        said = ", or ".join(says for says, _ in found)
        todo.append(f"{said[0].upper()}{said[1:]}.")
    elif failing & {"margin_c", "max_rh_pct", "least_hull_c"}:
        reach = f"up to {figure(WARMEST_C)} degrees C nor drying down to {figure(DRIEST_PCT)} %"
        todo.append(f"Wait for other air: neither heating {reach} is enough.")
    ways = [way for _, way in found] or ([] if todo else [check])
    if "steady_c" in failing:
        hulls = {figure(way.hull_c) for way in ways}
        than = f" than {hulls.pop()} degrees C" if len(hulls) == 1 else ""
        again = f"read it again after {figure(BEFORE_LEAST_H)} h"
        todo.append(f"Hold the hull steady and {again}: no colder{than}.")
        ways = [replace(way, hull_before_c=way.hull_c, hull_before_h=BEFORE_LEAST_H) for way in ways]
    if "least_night_c" in failing:
        least = f"{figure(rule.least_night_c)} degrees C or warmer"
        unknown = check.night_c is None
        todo.append(f"Ask how cold tonight gets: {least}." if unknown else f"Keep the night at {least}.")
        ways = [replace(way, night_c=rule.least_night_c) for way in ways]
    if "heat_on_tonight" in failing:
        todo.append("Leave the heat on tonight.")
        ways = [replace(way, heat_on_tonight=True) for way in ways]
    if "watch" in failing:
        todo.append("Name who checks tonight.")
        ways = [replace(way, watch="a named watch") for way in ways]
    return tuple(todo), tuple(ways)


def _by_heating(
    check: AirCheck, rule: GateRule, failing: set[str], dew_c: float
) -> list[tuple[str, AirCheck]]:
    """Heat the air till it is dry enough, and the hull till it is warm enough; its dew point stays."""
    steps, way = [], check
    if "max_rh_pct" in failing:
        needed = heated_to_c(check.air_c, check.rh_pct, rule.max_rh_pct)
        air_c = ceil(needed / AIR_STEP_C - 1e-9) * AIR_STEP_C
        if air_c > WARMEST_C:
            return []
        after = humidity_after_heating_pct(check.air_c, check.rh_pct, air_c)
        rh_pct = min(rule.max_rh_pct, floor(after + 0.5))
        steps.append(f"heat the air to {figure(air_c)} degrees C (humidity falls to {figure(rh_pct)} %)")
        way = replace(way, air_c=air_c, rh_pct=rh_pct)
        # The humidity is told in whole per cent: the hull must do for the dew point that gives as well.
        dew_c = max(dew_c, hundredths(dew_point_c(air_c, rh_pct)))
    hull_c = _hull_needed_c(check.hull_c, dew_c + rule.margin_c, rule.least_hull_c)
    return _with_hull(check, way, hull_c, steps)


def _by_drying(check: AirCheck, rule: GateRule) -> list[tuple[str, AirCheck]]:
    """Dry the air where it stands, and warm the hull only where it is too cold whatever the air."""
    hull_c = _hull_needed_c(check.hull_c, rule.least_hull_c)
    dew_most = hundredths(hull_c - rule.margin_c)
    rh_pct = float(floor(min(rule.max_rh_pct, humidity_at_pct(dew_most, check.air_c))))
    while rh_pct >= DRIEST_PCT and hundredths(dew_point_c(check.air_c, rh_pct)) > dew_most:
        rh_pct -= 1
    if not DRIEST_PCT <= rh_pct < check.rh_pct:
        return []
    says = f"bring the air to {figure(rh_pct)} % or drier at {figure(check.air_c)} degrees C"
    return _with_hull(check, replace(check, rh_pct=rh_pct), hull_c, [says])


def _hull_needed_c(hull_c: float, *least_c: float) -> float:
    """The hull as it is where that does, else the warmest of the needs, up to the next tenth."""
    needed = hundredths(max(least_c))
    return hull_c if hundredths(hull_c) >= needed else ceil(needed * 10 - 1e-9) / 10


def _with_hull(check: AirCheck, way: AirCheck, hull_c: float, steps: list[str]) -> list[tuple[str, AirCheck]]:
    if hull_c > check.hull_c:
        if hull_c > WARMEST_C:
            return []
        steps = [*steps, f"warm the hull to {figure(hull_c)} degrees C"]
    return [(" and ".join(steps), replace(way, hull_c=hull_c))]
