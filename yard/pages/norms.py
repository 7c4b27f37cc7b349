"""How fast hulls dry and how epoxy cures at this yard: the norms every scheme goes by, and forms for them."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from yard.actions.drying import save_regime_norm
from yard.actions.schemes import save_coating_sheet
from yard.forms import Sent, Spec, fields, mistakes, number, plain, send, text
from yard.loading import regime_norms_of, sheet_in, sheets_of
from yard.models import CoatingSheet, Regime, RegimeNorm, Role, StageKind
from yard.pages.frame import page
from yard.roles import Actor, side
from yard.trade import drying as trade
from yard.trade.curing import SHEET_RANGES

DRYING: Mapping[str, tuple[str, ...]] = {
    StageKind.WASH: (Regime.WEATHER, Regime.COLD),
    StageKind.DRY: (Regime.TENT, Regime.COLD, Regime.BLANKETS),
}
"""The regimes in which a hull dries during a stage of a kind."""

COMMON = "common practice"
ASK_SOURCE = "Say where the figures come from: your own boats, a maker's sheet, or whose practice."


@dataclass(frozen=True)
class Drying:
    """A regime's half-life in words, where it comes from, and the trade's own beside it."""

    regime: str
    name: str
    says: str
    source: str
    own: bool
    trade: str
    trade_source: str


SHEET_FIELDS = (
    ("least_c", "Coldest hull", "°C", "10 to 15 for barrier coats", "Cure"),
    ("activation_kj", "Activation energy", "kJ/mol", "", "Cure"),
    ("cure_h_20", "Full cure", "hours at 20 °C", "", "Cure"),
    ("recoat_min_h_20", "Next coat from", "hours at 20 °C", "", "Overcoat windows"),
    ("recoat_max_h_20", "Next coat until", "hours at 20 °C", "", "Overcoat windows"),
    ("tacky_min_h_20", "Tie coat or antifoul from", "hours at 20 °C", "2 to 8", "Overcoat windows"),
    ("tacky_max_h_20", "Tie coat or antifoul until", "hours at 20 °C", "2 to 8", "Overcoat windows"),
    ("solids_pct", "Solids by volume", "per cent", "", "Film"),
    ("film_um", "Dry film of a coat", "µm", "", "Film"),
)
"""Name, label, unit, what is common where the trade keeps no range of its own, and group."""


@require_safe
@side(Role.MANAGER, Role.CREW, Role.OFFICE)
def norms(request: HttpRequest, who: Actor) -> HttpResponse:
    """Show half-lives by regime and coating sheets, each with its source and what is common practice."""
    context = {
        "drying": drying_of(regime_norms_of(who.yard)),
        "sheets": [(sheet, sheet_rows(sheet)) for sheet in sheets_of(who.yard)],
        "may_change": who.role == Role.MANAGER,
    }
    return page(request, who, "yard/norms.html", "", context)


@require_http_methods(["GET", "HEAD", "POST"])
@side(Role.MANAGER)
def regime(request: HttpRequest, who: Actor, regime: str) -> HttpResponse:
    """The form of one regime's half-lives."""
    if regime not in Regime.values:
        raise Http404("No such regime.")
    norm, specs, sent = trade.REGIMES[regime], regime_specs(regime), Sent()
    typed = request.POST if request.method == "POST" else None
    if typed is not None:
        sent = send(
            specs,
            typed,
            lambda values, version: save_regime_norm(who, regime=regime, version=version, **values),
        )
        if sent.saved:
            messages.success(request, f"Saved: drying {Regime(regime).label}.")
            return redirect(f"{reverse('norms', args=[who.yard.slug])}#{regime}")
    row = regime_norms_of(who.yard).get(regime)
    context = {
        "title": f"Drying {Regime(regime).label}",
        "kind": StageKind.DRY,
        "about": "A half-life is the days in which readings fall halfway to where they end, at that "
        "temperature. One boat in ten is quicker than low, one slower than high.",
        "back": (reverse("norms", args=[who.yard.slug]), "Norms"),
        "fields": fields(specs, regime_stored(row, norm), typed, sent.wrong),
        "version": row.version if row else "",
        "mistakes": mistakes(specs, sent.wrong),
        "errors": bool(sent.wrong),
    }
    return page(request, who, "yard/change.html", "", context, sent.status)


@require_http_methods(["GET", "HEAD", "POST"])
@side(Role.MANAGER)
def sheet(request: HttpRequest, who: Actor, sheet: int) -> HttpResponse:
    """The form of one coating sheet."""
    found = sheet_in(who.yard, sheet)
    if found is None:
        raise Http404("No such sheet.")
    return _sheet(request, who, found)


@require_http_methods(["GET", "HEAD", "POST"])
@side(Role.MANAGER)
def new_sheet(request: HttpRequest, who: Actor) -> HttpResponse:
    """The form of a coating sheet that is added."""
    return _sheet(request, who, None)


def _sheet(request: HttpRequest, who: Actor, found: CoatingSheet | None) -> HttpResponse:
    specs, sent = sheet_specs(), Sent()
    typed = request.POST if request.method == "POST" else None
    if typed is not None:

        def save(values: dict[str, Any], version: int | None) -> CoatingSheet:
            """Over the version that was looked at; a sheet that is added has none."""
            return save_coating_sheet(who, sheet=found, version=version or 0 if found else None, **values)

        sent = send(specs, typed, save)
        if sent.saved:
            messages.success(request, f"Saved: {sent.saved}.")
            return redirect(f"{reverse('norms', args=[who.yard.slug])}#sheet-{sent.saved.pk}")
        found = sheet_in(who.yard, found.pk) if found else None
    known = found or CoatingSheet(yard=who.yard)
    context = {
        "title": found.name if found else "Add a coating sheet",
        "kind": StageKind.COAT,
        "about": "The maker's sheet rules. A coat stage that goes by this sheet is planned by these figures.",
        "back": (reverse("norms", args=[who.yard.slug]), "Norms"),
        "fields": fields(specs, {spec.name: getattr(known, spec.name) for spec in specs}, typed, sent.wrong),
        "version": found.version if found else "",
        "mistakes": mistakes(specs, sent.wrong),
        "errors": bool(sent.wrong),
    }
    return page(request, who, "yard/change.html", "", context, sent.status)


# --- Fields -----------------------------------------------------------------------------------------------
def regime_specs(regime: str) -> list[Spec]:
    """The fields of a regime's form, the trade's figures beside them."""
    norm = trade.REGIMES[regime]
    low, likely, high = (f"{figure:g}, {COMMON}" for figure in norm.half_life)
    half, source = "Half-life", "Where these come from"
    return [
        Spec("half_life_low_d", "Low", number, "calendar days", low, half),
        Spec("half_life_likely_d", "Likely", number, "calendar days", likely, half),
        Spec("half_life_high_d", "High", number, "calendar days", high, half),
        Spec("at_c", "Meant at", number, "°C of the air, under blankets of the hull", f"{norm.at_c:g}", half),
        Spec("source", "Source", text(ASK_SOURCE), "your own boats, or whose practice", norm.source, source),
    ]


def regime_stored(row: RegimeNorm | None, norm: trade.RegimeNorm) -> dict[str, Any]:
    """What a regime goes by, under the form's names: the yard's own row, else the trade's figures."""
    if row:
        names = ("half_life_low_d", "half_life_likely_d", "half_life_high_d", "at_c", "source")
        return {name: getattr(row, name) for name in names}
    low, likely, high = (Decimal(f"{figure:g}") for figure in norm.half_life)
    return {
        "half_life_low_d": low,
        "half_life_likely_d": likely,
        "half_life_high_d": high,
        "at_c": Decimal(f"{norm.at_c:g}"),
        "source": norm.source,
    }


def sheet_specs() -> list[Spec]:
    """The fields of a sheet's form, what is common beside them."""
    figures = [
        Spec(name, label, number, unit, common(name, told), group)
        for name, label, unit, told, group in SHEET_FIELDS
    ]
    return [
        Spec("name", "Name", text("Give the sheet a name."), "no brand is needed: what it is", group="Name"),
        *figures,
        Spec("source", "Source", text(ASK_SOURCE), "the maker's sheet and its date", group="Source"),
    ]


# --- In words ---------------------------------------------------------------------------------------------
def common(name: str, told: str) -> str:
    """What is common practice for a figure of a sheet; nothing where nobody says."""
    known = SHEET_RANGES.get(name)
    told = f"{known.low:g} to {known.high:g}" if known else told
    return f"{told}, {COMMON}" if told else ""


def sheet_rows(sheet: CoatingSheet) -> list[tuple[str, str, str]]:
    """Each figure of a sheet: label, value with its unit, and what is common."""
    return [
        (label, f"{plain(getattr(sheet, name))} {unit}", common(name, told))
        for name, label, unit, told, _ in SHEET_FIELDS
    ]


def sheet_says(sheet: CoatingSheet | None) -> str:
    """What a stage's coats go by, in a sentence."""
    known = sheet or CoatingSheet()
    name = sheet.name if sheet else "no sheet: as for a solvent-free epoxy"
    return (
        f"{name}: next coat from {plain(known.recoat_min_h_20)} to {plain(known.recoat_max_h_20)} h, "
        f"full cure {plain(known.cure_h_20)} h at 20 °C; hull from {plain(known.least_c)} °C"
        + (f" ({sheet.source})" if sheet and sheet.source else "")
    )


def drying_of(own: Mapping[str, RegimeNorm]) -> list[Drying]:
    """Every regime in words: the yard's own norm where it has one, else the trade's."""
    found = []
    for regime, norm in trade.REGIMES.items():
        row = own.get(regime)
        stored = regime_stored(row, norm)
        low, likely, high, at_c = (
            plain(stored[name])
            for name in ("half_life_low_d", "half_life_likely_d", "half_life_high_d", "at_c")
        )
        found.append(
            Drying(
                regime,
                str(Regime(regime).label),
                f"{low} to {high} days, likely {likely}, at {at_c} °C",
                stored["source"],
                row is not None,
                f"{norm.half_life.low:g} to {norm.half_life.high:g} days at {norm.at_c:g} °C",
                norm.source,
            )
        )
    return found
