"""May we coat now? The gate before coats, asked from a phone; it writes nothing."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from yard.forms import Spec, fields, number, number_or_none, one_of, read, text, text_in
from yard.models import Role, YardSettings
from yard.pages.frame import page
from yard.roles import Actor, side
from yard.trade.air import check_air, check_surface, dew_point_c, doubts_about_air
from yard.trade.cautions import DEFER, cautions_for
from yard.trade.gate import AirCheck, Gate, GateRule, gate
from yard.trade.ranges import Doubt

HEAT = {"": None, "yes": True, "no": False}


def needed(typed: str) -> Decimal:
    """A figure without which there is no answer."""
    if not typed:
        raise ValueError("Without this figure there is no answer: read it and type it.")
    return number(typed)


MEASURED = (
    Spec("air_c", "Air, by the keel", needed, unit="°C"),
    Spec("rh_pct", "Humidity", needed, unit="%"),
    Spec("hull_c", "Hull at the coldest place", needed, unit="°C"),
    Spec("hull_before_c", "Hull before", number_or_none, unit="°C", trade="is she rising?"),
    Spec("hull_before_h", "How long before", number_or_none, unit="h", trade="half an hour to six"),
)
TONIGHT = (
    Spec("night_c", "Coldest tonight, at the hull", number_or_none, unit="°C"),
    Spec(
        "heat", "Heat on tonight", one_of(HEAT), choices=(("", "nobody said"), ("yes", "yes"), ("no", "no"))
    ),
    Spec("watch", "Who checks tonight", text()),
)
SPECS = (*MEASURED, *TONIGHT)


@dataclass(frozen=True)
class Answer:
    """The gate in words: what decides, what else fails, what would make it a yes, the air."""

    passed: bool
    decides: str
    also: tuple[str, ...]
    to_do: tuple[str, ...]
    dew: str


@require_safe
@side(Role.MANAGER, Role.CREW)
def air(request: HttpRequest, who: Actor) -> HttpResponse:
    """The form; once it is filled in, first the answer. Everything is in the address, so it can be kept."""
    typed = request.GET
    asked = any(text_in(typed, spec.name) for spec in SPECS)
    wrong: dict[str, str] = {}
    doubts: list[Doubt] = []
    answer = None
    if asked:
        values, wrong = read(SPECS, typed)
        wrong = wrong or impossible(values)
        if not wrong:
            check = check_of(values)
            doubts = [] if "sure" in typed else doubts_about(check)
            answer = None if doubts else answer_of(gate(check, rule_of(who.yard.settings)))
    shown = fields(SPECS, {"watch": who.person.name if who.person else ""}, typed if asked else None, wrong)
    context = {
        "answer": answer,
        "measured": shown[: len(MEASURED)],
        "tonight": shown[len(MEASURED) :],
        "told": [(spec.name, f"{spec.label}: {wrong[spec.name]}") for spec in SPECS if spec.name in wrong],
        "doubts": [(doubt.field, told(doubt.says)) for doubt in doubts],
        "asked_fields": {doubt.field for doubt in doubts},
        "rule": rule_of(who.yard.settings),
        "cautions": cautions_for("coat"),
        "defer": DEFER,
        "errors": bool(wrong),
    }
    return page(request, who, "today/air.html", "Today", context)


def impossible(values: Mapping[str, Any]) -> dict[str, str]:
    """What cannot be, each in its field and a sentence."""
    found = {}
    for name, value in values.items():
        try:
            if isinstance(value, Decimal) and name.endswith("_c"):
                check_surface(float(value)) if name.startswith("hull") else check_air(float(value), 50.0)
            elif name == "rh_pct":
                dew_point_c(20.0, float(value))
        except ValueError as no:
            found[name] = told(str(no))
    before_c, before_h = values["hull_before_c"], values["hull_before_h"]
    if (before_c is None) != (before_h is None):
        says = "Give the hull's temperature before together with how many hours before."
        found["hull_before_c" if before_c is None else "hull_before_h"] = says
    elif before_h is not None and before_h <= 0:
        found["hull_before_h"] = "The reading before must be before: give more than 0 hours."
    return found


def check_of(values: Mapping[str, Any]) -> AirCheck:
    """The air check as typed."""
    plain: dict[str, Any] = {
        name: float(value) if isinstance(value, Decimal) else value for name, value in values.items()
    }
    return AirCheck(heat_on_tonight=plain.pop("heat"), **plain)


def doubts_about(check: AirCheck) -> list[Doubt]:
    """What reads like a slip in any of its figures, each in its own field."""
    found = doubts_about_air(check.air_c, check.rh_pct, check.hull_c)
    if check.hull_before_c is not None:
        before = doubts_about_air(check.hull_before_c, check.rh_pct)
        found += [doubt._replace(field="hull_before_c") for doubt in before if doubt.field == "air_c"]
    if check.night_c is not None:
        night = doubts_about_air(check.night_c, check.rh_pct)
        found += [doubt._replace(field="night_c") for doubt in night if doubt.field == "air_c"]
    return found


def rule_of(settings: YardSettings) -> GateRule:
    """The yard's own limits."""
    return GateRule(
        margin_c=float(settings.margin_c),
        max_rh_pct=float(settings.air_max_rh_pct),
        least_hull_c=float(settings.least_hull_c),
        least_night_c=float(settings.least_night_c),
    )


def answer_of(found: Gate) -> Answer:
    """The gate's answer as the page says it."""
    decides = next(line for line in found.lines if line.field == found.deciding)
    margin = f"{abs(found.margin_c):g}\u00a0°C {'above' if found.margin_c >= 0 else 'below'}"
    return Answer(
        passed=found.passed,
        decides=told(decides.says),
        also=tuple(told(line.says) for line in found.failing if line is not decides),
        to_do=tuple(told(says) for says in found.makes_it_a_yes),
        dew=f"Dew point {found.dew_c:g}\u00a0°C; the hull is {margin} it.",
    )


def told(says: str) -> str:
    """A sentence of the trade as the page writes it."""
    says = says.replace(" degrees C", "\u00a0°C").replace(" %", "\u00a0%")
    return f"{says[:1].upper()}{says[1:]}{'' if says[-1:] in '.?!' else '.'}"
