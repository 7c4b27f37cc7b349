"""The gate before coats: may this hull be coated in this air, which figure decides, and what would make it a
yes.

Seven lines, in this order, each named by the field that holds its limit or its answer:

    margin_c         the hull is that far above the dew point
    max_rh_pct       the air is no damper
    least_hull_c     the hull is no colder
    steady_c         the hull is rising or steady: no further below the reading before
    least_night_c    tonight gets no colder
    heat_on_tonight  the heat stays on tonight
    watch            somebody is named who checks it

What is not known fails: an answer not given is a no. How far a line is from its limit is its `by`; in units
of its own limit (`by` / limit) it is its `share`, and the least share decides: the tightest line of a yes,
the worst line of a no. A question that is answered counts 1, one that is not -1.

So that a phone gets the same answers, every figure is rounded to hundredths, halves up, before it is
compared: `hundredths`. `gate_cases.json` is the table both must agree with.

The limits are ISO 8502-4:2017's way (air, humidity, dew point, coldest surface), written for steel and used
on GRP as practice. Below a dew point of 0 frost would form a little sooner than this dew point says, see
`air`; with a hull of 5 degrees C or more that decides nothing.
"""

from dataclasses import dataclass, replace
from math import ceil, floor

from yard.trade.air import (
    check_air,
    check_surface,
    dew_point_c,
    heated_to_c,
    humidity_after_heating_pct,
    humidity_at_pct,
)

BEFORE_LEAST_H, BEFORE_MOST_H = 0.5, 6.0
"""[h] a reading of the hull younger or older than this says nothing of whether she is rising now: a
thermometer's noise, and another time of day. 0.25 to 1 and 4 to 8, common practice."""

WARMEST_C = 35.0
"""[degrees C] nobody is told to heat a hull or its air further: the lower cap for solid laminate, 30 for foam
or balsa core. Common practice."""

DRIEST_PCT = 30.0
"""[%] nobody is told to dry air further: dehumidifiers in a tent hardly get below. 25 to 40, common
practice."""

AIR_STEP_C = 0.5
"""[degrees C] the steps of a thermostat that heating of the air is told in. Common practice."""


def hundredths(value: float) -> float:
    """`value` to two decimals, halves up: floor(100 x + 0.5) / 100, the same in every language."""
    return floor(value * 100 + 0.5) / 100


@dataclass(frozen=True)
class AirCheck:
    """What was read and answered before a coat, at the coldest place of the hull.

    Attributes:
        air_c: the air by the hull [degrees C].
        rh_pct: its humidity [%].
        hull_c: the hull's surface [degrees C].
        hull_before_c: the reading of the hull before [degrees C], None if there is none.
        hull_before_h: how long before [h], None if there is none.
        heat_on_tonight: whether the heat stays on tonight, None if nobody said.
        watch: who checks it tonight; empty if nobody does.
        night_c: how cold the hull's air gets tonight [degrees C], None if nobody knows.

    Raises:
        ValueError: a value cannot be, or one of the two about the reading before is missing.
    """

    air_c: float
    rh_pct: float
    hull_c: float
    hull_before_c: float | None = None
    hull_before_h: float | None = None
    heat_on_tonight: bool | None = None
    watch: str = ""
    night_c: float | None = None

    def __post_init__(self) -> None:
        check_air(self.air_c, self.rh_pct)
        check_surface(self.hull_c)
        if (self.hull_before_c is None) != (self.hull_before_h is None):
            raise ValueError("Give the hull's temperature before together with how many hours before.")
        if self.hull_before_c is not None:
            check_surface(self.hull_before_c)
        if self.hull_before_h is not None and not self.hull_before_h > 0:
            raise ValueError("The hull's reading before must be before: give more than 0 h.")
        if self.night_c is not None:
            check_air(self.night_c, self.rh_pct)


@dataclass(frozen=True)
class GateRule:
    """The limits; the yard sets them, a product's sheet may ask for more.

    Attributes:
        margin_c: the hull at least this far above the dew point [degrees C]; ISO 8502-4 as quoted by
            inspectors: 3.
        max_rh_pct: dampest air [%]; 85 as quoted by inspectors, 75 to 80 wiser for epoxy with amines.
        least_hull_c: coldest hull [degrees C]; 12 for barrier coats, 10 to 15, common practice.
        least_night_c: coldest night after [degrees C]; 10, common practice.
        steady_c: how far below the reading before still counts as steady [degrees C]: what a surface
            thermometer does by itself, 0.2 to 0.5, common practice.
        ask_tonight: whether the heat and a named watch are asked for; a yard that coats in summer may leave
            it out.

    Raises:
        ValueError: a temperature is not from 0 to 40 degrees C, or the humidity not from 30 to 100 %.
    """

    margin_c: float = 3.0
    max_rh_pct: float = 85.0
    least_hull_c: float = 12.0
    least_night_c: float = 10.0
    steady_c: float = 0.3
    ask_tonight: bool = True

    def __post_init__(self) -> None:
        for name in ("margin_c", "least_hull_c", "least_night_c", "steady_c"):
            if not 0 <= getattr(self, name) <= 40:
                raise ValueError(f"{name} must be from 0 to 40 degrees C.")
        if not DRIEST_PCT <= self.max_rh_pct <= 100:
            raise ValueError(f"max_rh_pct must be from {DRIEST_PCT:g} to 100 %.")


@dataclass(frozen=True)
class Line:
    """One line of the gate: `by` is how far it is from its limit [unit], negative where it fails."""

    field: str
    by: float
    unit: str
    share: float
    says: str

    @property
    def passed(self) -> bool:
        """Whether this line lets her through."""
        return self.by >= 0


@dataclass(frozen=True)
class Gate:
    """The answer to an air check.

    Attributes:
        passed: whether she may be coated.
        deciding: the field of the line that decides.
        by: how far that line is from its limit [unit]; negative where it fails.
        unit: "degrees C", "%", or empty for an answer (then `by` is 1 or -1).
        says: the answer in one sentence.
        makes_it_a_yes: what has to be done, every one of them; empty for a yes.
        ways: how the check would read once it is done, one for each alternative in the first of them.
        lines: all lines of the gate, in order.
        dew_c: the dew point [degrees C].
        margin_c: the hull above it [degrees C].
    """

    passed: bool
    deciding: str
    by: float
    unit: str
    says: str
    makes_it_a_yes: tuple[str, ...]
    ways: tuple[AirCheck, ...]
    lines: tuple[Line, ...]
    dew_c: float
    margin_c: float

    @property
    def failing(self) -> tuple[Line, ...]:
        """The lines that fail, worst first."""
        return tuple(sorted((line for line in self.lines if not line.passed), key=lambda line: line.share))


def gate(check: AirCheck, rule: GateRule | None = None) -> Gate:
    """Whether this hull may be coated in this air, by which figure, and what would make it a yes.

    Raises:
        ValueError: the air is at 0 % humidity.
    """
    rule = rule or GateRule()
    dew_c = hundredths(dew_point_c(check.air_c, check.rh_pct))
    lines = _lines(check, rule, dew_c)
    decides = min(lines, key=lambda line: line.share)
    failing = [line for line in lines if not line.passed]
    todo, ways = _cure(check, rule, {line.field for line in failing}, dew_c)
    if failing:
        others = [line.says for line in failing if line is not decides]
        says = f"No: {'; '.join([decides.says, *others])}."
    else:
        says = f"Yes. Closest to its limit: {decides.says}."
    return Gate(
        passed=not failing,
        deciding=decides.field,
        by=decides.by,
        unit=decides.unit,
        says=says,
        makes_it_a_yes=todo,
        ways=ways,
        lines=lines,
        dew_c=dew_c,
        margin_c=hundredths(check.hull_c - dew_c),
    )


def _lines(check: AirCheck, rule: GateRule, dew_c: float) -> tuple[Line, ...]:
    """All lines in their order; `dew_c` is rounded already."""
    margin_c = hundredths(check.hull_c - dew_c)
    lines = [
        _measured(
            "margin_c",
            margin_c - rule.margin_c,
            rule.margin_c,
            f"the hull at {_fig(check.hull_c)} is {_fig(abs(margin_c))} degrees C "
            f"{'above' if margin_c >= 0 else 'below'} the dew point of {_fig(dew_c)} and must be "
            f"{_fig(rule.margin_c)} above it",
        ),
        _measured(
            "max_rh_pct",
            rule.max_rh_pct - check.rh_pct,
            rule.max_rh_pct,
            f"humidity is {_fig(check.rh_pct)} % and may be {_fig(rule.max_rh_pct)}",
        ),
        _measured(
            "least_hull_c",
            check.hull_c - rule.least_hull_c,
            rule.least_hull_c,
            f"the hull is at {_fig(check.hull_c)} degrees C and must be {_fig(rule.least_hull_c)}",
        ),
        _steady(check, rule),
    ]
    if check.night_c is None:
        lines.append(_answer("least_night_c", False, "nobody knows how cold tonight gets"))
    else:
        lines.append(
            _measured(
                "least_night_c",
                check.night_c - rule.least_night_c,
                rule.least_night_c,
                f"the night gets down to {_fig(check.night_c)} degrees C and must stay at "
                f"{_fig(rule.least_night_c)}",
            )
        )
    if rule.ask_tonight:
        heat = {True: "the heat is on tonight", False: "the heat is off tonight"}
        unsaid = "nobody said whether the heat is on tonight"
        says = unsaid if check.heat_on_tonight is None else heat[check.heat_on_tonight]
        lines.append(_answer("heat_on_tonight", check.heat_on_tonight is True, says))
        watch = check.watch.strip()
        lines.append(
            _answer("watch", bool(watch), f"{watch} checks tonight" if watch else "nobody checks tonight")
        )
    return tuple(lines)


def _steady(check: AirCheck, rule: GateRule) -> Line:
    """Rising or steady, against a reading neither too young nor too old to tell."""
    before_c, before_h = check.hull_before_c, check.hull_before_h
    if before_c is None or before_h is None:
        return _answer("steady_c", False, "no reading before says whether the hull is rising")
    if not BEFORE_LEAST_H <= before_h <= BEFORE_MOST_H:
        age = "young" if before_h < BEFORE_LEAST_H else "old"
        return _answer(
            "steady_c",
            False,
            f"the reading before, {_fig(before_h)} h ago, is too {age} to say whether the hull is rising",
        )
    return _measured(
        "steady_c",
        rule.steady_c + check.hull_c - before_c,
        rule.steady_c,
        f"the hull went from {_fig(before_c)} to {_fig(check.hull_c)} degrees C in {_fig(before_h)} h and "
        f"may fall by {_fig(rule.steady_c)}",
    )


def _measured(field: str, by: float, limit: float, says: str) -> Line:
    by = hundredths(by)
    unit = "%" if field == "max_rh_pct" else "degrees C"
    apart = f"{_fig(abs(by))} {unit}"
    how = "just at the limit" if by == 0 else f"{apart} to spare" if by > 0 else f"out by {apart}"
    return Line(field, by, unit, by / limit if limit > 0 else by, f"{says}, {how}")


def _answer(field: str, good: bool, says: str) -> Line:
    value = 1.0 if good else -1.0
    return Line(field, value, "", value, says)


def _cure(
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
        reach = f"up to {_fig(WARMEST_C)} degrees C nor drying down to {_fig(DRIEST_PCT)} %"
        todo.append(f"Wait for other air: neither heating {reach} is enough.")
    ways = [way for _, way in found] or ([] if todo else [check])
    if "steady_c" in failing:
        hulls = {_fig(way.hull_c) for way in ways}
        than = f" than {hulls.pop()} degrees C" if len(hulls) == 1 else ""
        again = f"read it again after {_fig(BEFORE_LEAST_H)} h"
        todo.append(f"Hold the hull steady and {again}: no colder{than}.")
        ways = [replace(way, hull_before_c=way.hull_c, hull_before_h=BEFORE_LEAST_H) for way in ways]
    if "least_night_c" in failing:
        least = f"{_fig(rule.least_night_c)} degrees C or warmer"
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
        steps.append(f"heat the air to {_fig(air_c)} degrees C (humidity falls to {_fig(rh_pct)} %)")
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
    says = f"bring the air to {_fig(rh_pct)} % or drier at {_fig(check.air_c)} degrees C"
    return _with_hull(check, replace(check, rh_pct=rh_pct), hull_c, [says])


def _hull_needed_c(hull_c: float, *least_c: float) -> float:
    """The hull as it is where that does, else the warmest of the needs, up to the next tenth."""
    needed = hundredths(max(least_c))
    return hull_c if hundredths(hull_c) >= needed else ceil(needed * 10 - 1e-9) / 10


def _with_hull(check: AirCheck, way: AirCheck, hull_c: float, steps: list[str]) -> list[tuple[str, AirCheck]]:
    if hull_c > check.hull_c:
        if hull_c > WARMEST_C:
            return []
        steps = [*steps, f"warm the hull to {_fig(hull_c)} degrees C"]
    return [(" and ".join(steps), replace(way, hull_c=hull_c))]


def _fig(value: float) -> str:
    """A figure with as many of its two decimals as it needs."""
    return f"{hundredths(value):.2f}".rstrip("0").rstrip(".")
