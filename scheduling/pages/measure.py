"""Where the crew measure and wash a hull: a round, a wash, a reading that was wrong."""

import re
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from scheduling.loading.measuring import Measurable, Taken, measurable, reading_of
from scheduling.loading.winter import BoatWinter, Winter
from scheduling.pages.frame import key_in, page, season_page, text_in, winter_of
from scheduling.pages.measure_fields import (
    MEAN_FIELD,
    air_specs,
    round_defaults,
    round_specs,
    spot_specs,
    tenths,
    unread,
    walk,
    wash_specs,
)
from scheduling.pages.measure_says import drying_says
from yard.actions.base import Refused
from yard.actions.boats import mean_spot
from yard.actions.drying import record_wash
from yard.actions.rounds import asked_about, correct_reading, record_round, slips_of
from yard.forms import fields, plain, read
from yard.models import Role
from yard.roles import Actor
from yard.templatetags.days import day, shortday
from yard.trade.ranges import Doubt

ROUNDS_SHOWN = 8
"""How many of her last rounds the page lists, and offers to correct."""

CORRECTION = {"reading": "Which", "value": "The right figure", "why": "Why"}

Wrong = Mapping[str, str]


@require_safe
@season_page(Role.MANAGER, Role.CREW)
def measure(request: HttpRequest, who: Actor, boat: int) -> HttpResponse:
    """The page: a round first, the rest folded below."""
    return show(request, who, hers(who, boat))


@require_POST
@season_page(Role.MANAGER, Role.CREW)
def take_round(request: HttpRequest, who: Actor, boat: int) -> HttpResponse:
    """Record a round; what reads like a slip is asked about first, each in its sentence."""
    her = hers(who, boat)
    treatment, found, typed = her.treatment, measurable(her.treatment), request.POST
    specs = [*round_specs(found, who.today), *spot_specs(found), *air_specs()]
    values, wrong = read(specs, typed)
    if wrong:
        return show(request, who, her, part="round", wrong=wrong)
    readings = {one.code: values.pop(one.name) for one in walk(found)}
    readings = {code: value for code, value in readings.items() if value is not None}
    try:
        doubts = [*unread(found, readings), *asked_about(treatment, readings=readings, **values)]
        sure = _meant(typed, doubts)
        if doubts and not sure:
            # A round that is there already would be refused after all the questions were answered.
            already = _there_already(found, values)
            return show(request, who, her, part="round", wrong=already, doubts=[] if already else doubts)
        if found.mean_only and text_in(typed, MEAN_FIELD):
            mean_spot(who, boat=treatment.boat)
        record_round(
            who, treatment=treatment, readings=readings, sure=sure, key=key_in(typed.get("key")), **values
        )
    except Refused as no:
        return show(request, who, her, part="round", wrong={_field(found, no.field): no.sentence})
    messages.success(
        request, f"Saved: {her.name}, round of {day(values['day_on'])}. {_now(who, boat, values['day_on'])}"
    )
    return redirect("boat", who.yard.slug, boat)


@require_POST
@season_page(Role.MANAGER, Role.CREW)
def wash(request: HttpRequest, who: Actor, boat: int) -> HttpResponse:
    """Record a wash of the stage she is washed or dried in."""
    her = hers(who, boat)
    values, wrong = read(wash_specs(who.today), request.POST)
    stage = measurable(her.treatment).wash_stage
    if wrong:
        return show(request, who, her, part="wash", wrong=wrong)
    if stage is None:
        says = "Neither washing nor drying has begun: start that stage on Today, then record the wash."
        return show(request, who, her, part="wash", wrong={"": says})
    on = values.pop("wash_on")
    try:
        record_wash(who, stage=stage, day_on=on, key=key_in(request.POST.get("key")), **values)
    except Refused as no:
        field = {"day_on": "wash_on"}.get(no.field, no.field)
        return show(request, who, her, part="wash", wrong={field: no.sentence})
    messages.success(request, f"Saved: {her.name}, washed on {day(on)}. {_now(who, boat)}")
    return redirect("boat", who.yard.slug, boat)


@require_POST
@season_page(Role.MANAGER, Role.CREW)
def correct(request: HttpRequest, who: Actor, boat: int) -> HttpResponse:
    """Put another figure in a reading's place, or withdraw it; the old one stays, struck through."""
    her, typed = hers(who, boat), request.POST
    number = text_in(typed, "reading")
    reading = reading_of(boat, who.yard, int(number)) if re.fullmatch(r"[0-9]{1,18}", number) else None
    if reading is None:
        says = "Choose the reading that was wrong; one that was corrected already stands there anew."
        return show(request, who, her, part="correct", wrong={"reading": says})
    value: Decimal | None = None
    try:
        if "withdraw" not in typed:
            needed = tenths("Type the right figure like 14 or 14,5, or withdraw the reading.", least=True)
            value = needed(text_in(typed, "value"))
        doubts = [] if value is None else [Doubt("value", one.says) for one in slips_of(reading, value)]
        sure = _meant(typed, doubts)
        if doubts and not sure:
            return show(request, who, her, part="correct", doubts=doubts)
        correct_reading(who, reading=reading, value=value, why=text_in(typed, "why"), sure=sure)
    except ValueError as no:
        return show(request, who, her, part="correct", wrong={"value": str(no)})
    except Refused as no:
        return show(request, who, her, part="correct", wrong={no.field: no.sentence})
    old = plain(reading.value)
    done = f"{old} withdrawn" if value is None else f"{plain(value)} instead of {old}"
    messages.success(request, f"Corrected: {her.name}, {reading.spot}: {done}. {_now(who, boat)}")
    # The form's own address leads to its place on the page; what was done is said on top.
    return redirect(f"{reverse('measure', args=[who.yard.slug, boat])}#main")


# --- The page -----------------------------------------------------------------------------------------------
def hers(who: Actor, boat: int) -> BoatWinter:
    """The boat in this season's winter; not found where she is not in it."""
    return _hers(winter_of(who), boat)


def _hers(winter: Winter, boat: int) -> BoatWinter:
    found = next((one for one in winter.boats if one.treatment.boat_id == boat), None)
    if found is None:
        raise Http404("No such boat this season.")
    return found


def show(
    request: HttpRequest,
    who: Actor,
    her: BoatWinter,
    *,
    part: str = "",
    wrong: Wrong | None = None,
    doubts: Sequence[Doubt] = (),
) -> HttpResponse:
    """The page, also after a form that was refused or asked about: what was typed stays in it."""
    found, typed = measurable(her.treatment), request.POST
    wrong = wrong or {}

    def of(name: str, specs: Sequence[Any], stored: Mapping[str, Any]) -> Any:
        return fields(specs, stored, typed if part == name else None, wrong if part == name else None)

    specs = {
        "round": [*round_specs(found, who.today), *spot_specs(found), *air_specs()],
        "wash": wash_specs(who.today),
    }.get(part, [])
    labels = {spec.name: spec.label for spec in specs} or CORRECTION
    offered = [taken for taken in found.rounds[:ROUNDS_SHOWN] if _may_correct(who, taken)]
    context = {
        "her": her,
        "found": found,
        "part": part,
        "round_fields": of("round", round_specs(found, who.today), round_defaults(found, who.today)),
        "spot_fields": of("round", spot_specs(found), {}),
        "air_fields": of("round", air_specs(), {}),
        "air_open": part == "round" and any(text_in(typed, spec.name) for spec in air_specs()),
        "wash_fields": of("wash", wash_specs(who.today), {"wash_on": shortday(who.today)}),
        "rounds": found.rounds[:ROUNDS_SHOWN],
        "more_rounds": max(0, len(found.rounds) - ROUNDS_SHOWN),
        "offered": [(taken, [one for one in taken.figures if one.reading]) for taken in offered],
        "chosen": text_in(typed, "reading") if part == "correct" else "",
        "typed": typed if part == "correct" else {},
        "wrong": wrong,
        # What belongs to a field of the page stands beside it too, and the sentence on top leads there.
        "told": [
            (name, f"{labels[name]}: {says}") if name in labels else ("", says)
            for name, says in wrong.items()
        ],
        "doubts": [(_field(found, doubt.field), doubt.says) for doubt in doubts],
        "may_sign": who.role == Role.MANAGER,
        "asked_fields": {_field(found, doubt.field) for doubt in doubts},
        "key": (key_in(typed.get("key")) if part == "round" and "key" not in wrong else None) or uuid4(),
        "wash_key": (key_in(typed.get("key")) if part == "wash" and "key" not in wrong else None) or uuid4(),
        "errors": bool(wrong or doubts),
    }
    status = 422 if wrong or doubts else 200
    return page(request, who, "today/measure.html", "Today", context, status)


def _there_already(found: Measurable, values: Mapping[str, Any]) -> Wrong:
    """The refusal of a second round of one day with one meter, if there is a first."""
    new = tuple(values[name] for name in ("day_on", "meter", "mode"))
    if all((one.round.day_on, one.round.meter, one.round.mode) != new for one in found.rounds):
        return {}
    return {"day_on": "A round of that day with that meter is there already: correct its readings below."}


def _meant(typed: QueryDict, doubts: Sequence[Doubt]) -> bool:
    """Whether the tick was set that answers these doubts: it answers those that stood beside it, not those
    that a figure typed since brings up."""
    return "sure" in typed and {doubt.says for doubt in doubts} <= set(typed.getlist("asked"))


def _may_correct(who: Actor, taken: Taken) -> bool:
    """Crew correct what they read themselves, on the same day; `correct_reading` holds them to it."""
    own = who.person is not None and taken.round.person_id == who.person.pk
    return who.role == Role.MANAGER or (own and taken.round.day_on == who.today)


def _field(found: Measurable, name: str) -> str:
    """The field of the page a refusal or a doubt stands beside: a spot's code is that spot's field."""
    return next((one.name for one in walk(found) if one.code == name), name)


def _now(who: Actor, boat: int, on: date | None = None) -> str:
    """How she stands now that it is stored."""
    winter = winter_of(who)
    return drying_says(winter, _hers(winter, boat), on)
