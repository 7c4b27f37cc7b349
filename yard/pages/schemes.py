"""The yard's recipes: each stage with its norms, where they come from, and a form to change them."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from yard.actions.schemes import save_scheme_stage
from yard.forms import Sent, Spec, fields, mistakes, number, number_or_none, one_of, plain, send, text, whole
from yard.loading import regime_norms_of, scheme_in, schemes_of, sheets_of, stage_in
from yard.models import CoatingSheet, Demand, Role, Scheme, SchemeStage, StageKind, Yard
from yard.pages.frame import page
from yard.pages.norms import COMMON, DRYING, Drying, drying_of, sheet_says
from yard.roles import Actor, side
from yard.templatetags.days import SIGNS
from yard.trade.labour import Norm, norm_for, norms_of

COMMON_SHEET = "the sheet every yard starts with: a solvent-free epoxy, common practice"
AIRED = (StageKind.WASH, StageKind.DRY)
"""Kinds of stages in which she dries."""


@dataclass(frozen=True)
class Line:
    """A stage as its card shows it: the yard's norms in words, and what the trade says beside them."""

    stage: SchemeStage
    days: str
    waits: str
    demands: list[str]
    coats: list[str]
    breaks: str
    trade: str
    drying: list[Drying]


@require_safe
@side(Role.MANAGER, Role.CREW, Role.OFFICE)
def schemes(request: HttpRequest, who: Actor) -> HttpResponse:
    """List the yard's schemes with the days their stages take together."""
    rows = [(scheme, *_together(scheme)) for scheme in schemes_of(who.yard)]
    return page(request, who, "yard/schemes.html", "", {"rows": rows})


@require_safe
@side(Role.MANAGER, Role.CREW, Role.OFFICE)
def scheme(request: HttpRequest, who: Actor, scheme: int) -> HttpResponse:
    """Show a scheme's stages; the crew see no money, and only the manager changes a norm."""
    found = scheme_in(who.yard, scheme)
    if found is None:
        raise Http404("No such scheme.")
    context = {
        "scheme": found,
        "lines": lines_of(found, drying_of(regime_norms_of(who.yard)), money=who.role != Role.CREW),
        "together": _together(found)[1],
        "may_change": who.role == Role.MANAGER,
    }
    return page(request, who, "yard/scheme.html", "", context)


@require_http_methods(["GET", "HEAD", "POST"])
@side(Role.MANAGER)
def stage(request: HttpRequest, who: Actor, stage: int) -> HttpResponse:
    """The form of one stage's norms, with the trade's own beside each."""
    found = stage_in(who.yard, stage)
    if found is None:
        raise Http404("No such stage.")
    sheets = sheets_of(who.yard)
    specs, sent = specs_of(found, sheets), Sent()
    typed = request.POST if request.method == "POST" else None
    if typed is not None:
        looked_at = found
        sent = send(specs, typed, lambda values, version: _save(who, looked_at, version or 0, values))
        if sent.saved:
            messages.success(request, f"Saved: {found.name}. Treatments that are open keep their norms.")
            address = reverse("scheme", args=[who.yard.slug, found.scheme_id])
            return redirect(f"{address}#stage-{found.pk}")
        found = stage_in(who.yard, stage) or found
    context = {
        "title": found.name,
        "kind": found.kind,
        "about": f"Scheme {found.scheme.name}. A treatment that is open keeps the norms it came with; "
        "new ones take these.",
        "back": (reverse("scheme", args=[who.yard.slug, found.scheme_id]), f"Scheme {found.scheme.name}"),
        "fields": fields(specs, stored_of(found), typed, sent.wrong),
        "version": found.scheme.version,
        "trade": trade_says(found),
        "parts": [(norm, hours_says(norm)) for norm in norms_of(found.kind)],
        "drying": drying_of(regime_norms_of(who.yard)) if found.kind in AIRED else [],
        "mistakes": mistakes(specs, sent.wrong),
        "errors": bool(sent.wrong),
    }
    return page(request, who, "yard/change.html", "", context, sent.status)


def _save(who: Actor, stage: SchemeStage, version: int, values: dict[str, Any]) -> SchemeStage:
    """Give the stage its norms and its demands their hours."""
    hours: dict[int, tuple[Decimal, Decimal]] = {}
    for demand in stage.demands.all():
        fixed = values.pop(f"hours_fixed_{demand.pk}")
        hours[demand.pk] = (fixed, values.pop(f"hours_per_m2_{demand.pk}", demand.hours_per_m2))
    return save_scheme_stage(who, stage=stage, version=version, norms=values, demands=hours)


# --- The form's fields ------------------------------------------------------------------------------------
def specs_of(stage: SchemeStage, sheets: list[CoatingSheet]) -> list[Spec]:
    """The fields of a stage's form; only a coat stage has coats."""
    days, waits, hours, coats = "Days of work", "Wait after the stage before", "Hours", "Coats"
    found = [
        Spec("days_low", "Low", number, "working days", group=days),
        Spec("days_likely", "Likely", number, "working days", group=days),
        Spec("days_high", "High", number, "working days", group=days),
        Spec("wait_min_d", "At least", number, "calendar days", group=waits),
        Spec("wait_max_d", "At most", number_or_none, "calendar days; empty for any", group=waits),
    ]
    for demand in stage.demands.all():
        name, each = _who(demand), _each(demand)
        found.append(Spec(f"hours_fixed_{demand.pk}", f"{name}, fixed", number, f"hours{each}", group=hours))
        if demand.area:
            label, unit = f"{name}, by area", f"hours per m² to {demand.area}{each}"
            found.append(Spec(f"hours_per_m2_{demand.pk}", label, number, unit, group=hours))
    if stage.kind == StageKind.COAT:
        kept = {sheet.pk: sheet for sheet in [*sheets, *([stage.sheet] if stage.sheet else [])]}
        by_key = {"": None, **{str(pk): sheet for pk, sheet in kept.items()}}
        words = tuple((key, sheet.name if sheet else COMMON_SHEET) for key, sheet in by_key.items())
        found += [
            Spec("coats", "Coats of epoxy", whole, "under water", "4 to 6, common practice", coats),
            Spec("coats_a_day", "Coats on one day", whole, "1 or 2", "2 only with hull ≥ 18 °C", coats),
            Spec("sheet", "Coating sheet", one_of(by_key), group=coats, choices=words),
        ]
    money = f"in {stage.scheme.yard.currency}, for a wash and abrade"
    found += [
        Spec("breaks_allowed", "Windows that may break", whole, "in the stage", group="Broken windows"),
        Spec("break_money", "Price of each", number, money, group="Broken windows"),
        Spec(
            "source",
            "Source",
            text("Say where the figures come from: your own boats, or whose practice."),
            "your own boats, a maker's sheet, common practice",
            group="Where these come from",
        ),
    ]
    return found


def stored_of(stage: SchemeStage) -> dict[str, Any]:
    """What stands in the records, by the form's names."""
    names = ("days_low", "days_likely", "days_high", "wait_min_d", "wait_max_d", "breaks_allowed")
    found = {name: getattr(stage, name) for name in (*names, "break_money", "coats", "coats_a_day", "source")}
    found["sheet"] = stage.sheet_id
    for demand in stage.demands.all():
        found[f"hours_fixed_{demand.pk}"] = demand.hours_fixed
        found[f"hours_per_m2_{demand.pk}"] = demand.hours_per_m2
    return found


# --- Norms in words ---------------------------------------------------------------------------------------
def lines_of(scheme: Scheme, drying: list[Drying], *, money: bool) -> list[Line]:
    """All stages in words; the trade, which reckons all work of a kind together, beside its first stage."""
    found, first = [], dict[str, SchemeStage]()
    for stage in scheme.stages.all():
        other = first.setdefault(stage.kind, stage)
        trade = trade_says(stage) if other is stage else f"The trade counts it with “{other.name}” above."
        found.append(line(stage, trade if trade_says(stage) else "", drying, money=money))
    return found


def trade_says(stage: SchemeStage) -> str:
    """The trade's norm for a stage's kind with its source, in a sentence; nothing where it has none."""
    known = norm_for(stage.kind, _counts(stage))
    return f"{known.says.removesuffix('.')} ({_once(known.source)})." if known else ""


def line(stage: SchemeStage, trade: str, drying: list[Drying], *, money: bool) -> Line:
    """A stage's norms in words; the price of a broken window only with `money`."""
    coats = []
    if stage.kind == StageKind.COAT and stage.coats:
        coats = [
            f"{stage.coats} coat{'s' * (stage.coats > 1)}, "
            + ("two on a warm day" if stage.coats_a_day == 2 else "one a day"),
            sheet_says(stage.sheet),
        ]
    elif stage.kind == StageKind.CURE:
        coats = [sheet_says(stage.sheet)] if stage.sheet else []
    breaks = ""
    if stage.breaks_allowed:
        price = f", {_money(stage)} each" if money else ""
        count = f"{stage.breaks_allowed} window{'s' * (stage.breaks_allowed > 1)}"
        breaks = f"{count} may break{price}: wash and abrade"
    return Line(
        stage,
        span(stage.days_low, stage.days_likely, stage.days_high, "working day"),
        waits_of(stage),
        [demand_says(demand) for demand in stage.demands.all()],
        coats,
        breaks,
        trade,
        [one for one in drying if one.regime in DRYING[stage.kind]] if stage.kind in DRYING else [],
    )


def span(low: Decimal, likely: Decimal, high: Decimal, unit: str) -> str:
    """Low to high with the likely one between: "15 to 28 working days, likely 20"."""
    if low == high:
        return f"{plain(low)} {unit}{'' if low == 1 else 's'}"
    return f"{plain(low)} to {plain(high)} {unit}s, likely {plain(likely)}"


def waits_of(stage: SchemeStage) -> str:
    """The wait after the stage before [calendar days]; nothing where there is none."""
    least, most = stage.wait_min_d, stage.wait_max_d
    if most is not None:
        return f"waits {plain(least)} to {plain(most)} days after the stage before"
    return (
        f"waits at least {plain(least)} day{'' if least == 1 else 's'} after the stage before"
        if least
        else ""
    )


def demand_says(demand: Demand) -> str:
    """What a stage demands, in words."""
    if demand.held:
        return f"{_who(demand)}: {demand.kit_count} held for the whole stay"
    hours = [f"{plain(demand.hours_fixed)} h"] if demand.hours_fixed else []
    if demand.hours_per_m2:
        hours.append(f"{plain(demand.hours_per_m2)} h per m² to {demand.area}")
    says = " and ".join(hours) + _each(demand)
    if demand.people > 1:
        says += f", {demand.people} at once"
    if demand.lifts:
        says += f"{', ' if says else ''}{demand.lifts} lift{'s' * (demand.lifts > 1)}"
    return f"{_who(demand)}: {says}"


def hours_says(norm: Norm) -> str:
    """A norm of the trade: low to high with its unit."""
    hours = norm.person_hours
    return f"{hours.low:g} to {hours.high:.3g} {norm.unit}, likely {hours.likely:.3g}"


def _once(sources: str) -> str:
    """Sources of several norms, what they share said once."""
    found = sources.split("; ")
    shared = COMMON if any(one.startswith(COMMON) for one in found) else ""
    rest = [one.removeprefix(COMMON).removeprefix(": ") for one in found]
    return "; ".join(one for one in dict.fromkeys([shared, *rest]) if one)


def _who(demand: Demand) -> str:
    return str(demand).replace("_", " ").capitalize()


def _each(demand: Demand) -> str:
    """Whether the hours are for each visit inside the stage."""
    if demand.every_d:
        return " each day" if demand.every_d == 1 else f" each visit, every {plain(demand.every_d)} days"
    return f" each visit, {demand.times} times" if demand.times else ""


def _counts(stage: SchemeStage) -> dict[str, float] | None:
    """What is known of the counts that the trade's norm goes by."""
    return {"coats": stage.coats} if stage.kind == StageKind.COAT and stage.coats else None


def _money(stage: SchemeStage) -> str:
    yard: Yard = stage.scheme.yard
    return f"{SIGNS.get(yard.currency, yard.currency + ' ')}{plain(stage.break_money)}"


def _together(scheme: Scheme) -> tuple[int, str]:
    """How many stages a scheme has, and the days of all of them together."""
    stages = list(scheme.stages.all())
    low, likely, high = (
        sum((getattr(stage, name) for stage in stages), Decimal(0))
        for name in ("days_low", "days_likely", "days_high")
    )
    return len(stages), span(low, likely, high, "working day")
