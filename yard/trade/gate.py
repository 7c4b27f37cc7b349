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
of its own limit (`by` / limit) it is its `share`. The tightest line decides a yes, the worst failing line a
no. A question that is answered has a share of 1, one that is not 0: a figure that fails decides before it,
for it can't be talked away.

So that a phone gets the same answers, every figure is rounded to hundredths, halves up, before it is
compared: `hundredths`. `gate_cases.json` is the table both must agree with.

The limits are ISO 8502-4:2017's way (air, humidity, dew point, coldest surface), written for steel and used
on GRP as practice. Below a dew point of 0 frost would form a little sooner than this dew point says, see
`air`; with a hull of 5 degrees C or more that decides nothing.
"""

from dataclasses import dataclass

from yard.trade.air import dew_point_c
from yard.trade.air_check import BEFORE_LEAST_H, BEFORE_MOST_H, AirCheck, GateRule, figure, hundredths
from yard.trade.gate_ways import ways_to_a_yes

__all__ = ["AirCheck", "Gate", "GateRule", "Line", "gate"]


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
        return tuple(sorted((line for line in self.lines if not line.passed), key=_deciding))


def gate(check: AirCheck, rule: GateRule | None = None) -> Gate:
    """Whether this hull may be coated in this air, by which figure, and what would make it a yes.

    Raises:
        ValueError: the air is at 0 % humidity.
    """
    rule = rule or GateRule()
    dew_c = hundredths(dew_point_c(check.air_c, check.rh_pct))
    lines = _lines(check, rule, dew_c)
    decides = min(lines, key=_deciding)
    failing = [line for line in lines if not line.passed]
    todo, ways = ways_to_a_yes(check, rule, {line.field for line in failing}, dew_c)
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
            f"the hull at {figure(check.hull_c)} is {figure(abs(margin_c))} degrees C "
            f"{'above' if margin_c >= 0 else 'below'} the dew point of {figure(dew_c)} and must be "
            f"{figure(rule.margin_c)} above it",
        ),
        _measured(
            "max_rh_pct",
            rule.max_rh_pct - check.rh_pct,
            rule.max_rh_pct,
            f"humidity is {figure(check.rh_pct)} % and may be {figure(rule.max_rh_pct)}",
        ),
        _measured(
            "least_hull_c",
            check.hull_c - rule.least_hull_c,
            rule.least_hull_c,
            f"the hull is at {figure(check.hull_c)} degrees C and must be {figure(rule.least_hull_c)}",
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
                f"the night gets down to {figure(check.night_c)} degrees C and must stay at "
                f"{figure(rule.least_night_c)}",
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
            f"the reading before, {figure(before_h)} h ago, is too {age} to say whether the hull is rising",
        )
    return _measured(
        "steady_c",
        rule.steady_c + check.hull_c - before_c,
        rule.steady_c,
        f"the hull went from {figure(before_c)} to {figure(check.hull_c)} degrees C in {figure(before_h)} h "
        f"and may fall by {figure(rule.steady_c)}",
    )


def _measured(field: str, by: float, limit: float, says: str) -> Line:
    by = hundredths(by)
    unit = "%" if field == "max_rh_pct" else "degrees C"
    apart = f"{figure(abs(by))} {unit}"
    how = "just at the limit" if by == 0 else f"{apart} to spare" if by > 0 else f"out by {apart}"
    return Line(field, by, unit, by / limit if limit > 0 else by, f"{says}, {how}")


def _answer(field: str, good: bool, says: str) -> Line:
    return Line(field, 1.0 if good else -1.0, "", 1.0 if good else 0.0, says)


def _deciding(line: Line) -> tuple[bool, float]:
    return line.passed, line.share
