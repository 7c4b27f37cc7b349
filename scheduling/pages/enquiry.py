"""A caller with a boat that nobody has recorded: can the yard take her, and when would she be back?

The form is asked by its address alone: nothing is stored, and an answer can be kept as a bookmark.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from scheduling.actions.quoting import Answer, NoPlan, answer, ground
from scheduling.engine.schedule import WitnessRefused
from scheduling.forms import NotADay, parse_day
from scheduling.loading.areas import areas_of
from scheduling.loading.enquiry import (
    HEIGHT_UNKNOWN,
    CannotAsk,
    Newcomer,
    newcomer,
    stage_hours,
    with_newcomer,
)
from scheduling.loading.winter import season_of
from scheduling.pages.asking import (
    UNSOUND,
    Sure,
    back,
    broken,
    comes,
    notes,
    rises,
    stretches,
    sure,
    yes,
)
from scheduling.pages.frame import NoSeason, page, season_page
from yard.forms import Spec, fields, length, mistakes, number, one_of, plain, read, text_in
from yard.loading import scheme_in, schemes_of
from yard.models import Boat, HullKind, KeelKind, Role, Scheme, Season, Units
from yard.roles import Actor
from yard.templatetags.days import capital, day, days_of, longday
from yard.trade.dims import Dims, check_dims, doubts_about_dims
from yard.trade.hull import Areas, in_words
from yard.trade.labour import hours_by_stage
from yard.trade.ranges import Range

NAME = "the caller's boat"

NO_HEIGHT = "Her height is not known: it is held against no door and no bay. Ask for it before you promise."

SIZES = {
    "length_m": "length",
    "beam_m": "beam",
    "draught_m": "draught",
    "displacement_t": "displacement",
}
"""Fields that the trade holds against each other, with the words its sentences begin with."""

NOTHING = Range(0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Hours:
    """Person-hours in whole hours, stage by stage and in all, beside the trade's; empty where nobody says."""

    stages: Mapping[int, str]
    total: str
    trade: str


@require_safe
@season_page(Role.MANAGER, Role.OFFICE)
def enquiry(request: HttpRequest, who: Actor) -> HttpResponse:
    """The form and, with a boat in the address, the answer; with `moving` also what would have to move."""
    season = season_of(who.yard, who.today)
    if season is None:
        raise NoSeason
    specs = _specs(who, schemes_of(who.yard))
    typed = request.GET if any(spec.name in request.GET for spec in specs) else None
    wrong: dict[str, str] = {}
    doubtful: dict[str, str] = {}
    told: dict[str, Any] = {}
    if typed is not None:
        values, wrong = read(specs, typed)
        scheme = _scheme(who, text_in(typed, "scheme"), wrong)
        wrong = _at_odds(season, who.today, values) | wrong
        if not wrong and not typed.get("sure"):
            doubtful = _doubts(values)
        if scheme is not None and not wrong and not doubtful:
            try:
                told = _told(who, season, scheme, values, moving=bool(typed.get("moving")))
            except WitnessRefused:
                told = {"cannot": UNSOUND}
    status = 422 if wrong or doubtful else 200
    context = {
        "fields": fields(specs, {}, typed or {}, wrong or doubtful),
        "mistakes": mistakes(specs, wrong or doubtful),
        "doubtful": doubtful,
        "errors": bool(wrong or doubtful),
        "asked": typed is not None,
        "moving_url": _with_moving(request),
        "season": season,
        **told,
    }
    return page(request, who, "desk/enquiry.html", "Desk", context, status)


def _told(
    who: Actor, season: Season, scheme: Scheme, values: Mapping[str, Any], *, moving: bool
) -> dict[str, Any]:
    """The answer for the page; where there can be none, the sentence that says why."""
    new = _boat(season, scheme, values, who.today)
    try:
        on = ground(with_newcomer(season, who.today, new))
    except NoPlan:
        return {"no_plan": True}
    except (CannotAsk, ValueError) as no:
        return {"cannot": str(no)}
    found = answer(on, moving=moving)
    how_sure = sure(on, found, values["wanted_on"])
    lead, look = _lead(found, how_sure, moving=moving)
    areas = areas_of(new.treatment.boat)
    hours = _hours(new, areas)
    return {
        "found": found,
        "lead": lead,
        "look": look,
        "question": _question(season, scheme, values, who.today),
        "sure": how_sure,
        "stretches": stretches(found.rows, hours.stages),
        "hours": hours,
        "areas": f"{in_words(areas.peel.m2)} to peel, {in_words(areas.coat.m2)} to coat, "
        f"{in_words(areas.antifoul.m2)} to antifoul.",
        "assumed": areas.assumed,
        "notes": notes(on) + ([NO_HEIGHT] if values["stand_height_m"] is None else []),
        "moving": moving,
        "may_move": not moving and not found.in_time and not found.impossible,
        "broken": broken(found.moves),
        "rises": rises(found),
        "rise": sum(found.rise.values()),
        "less": -sum(found.rise.values()),
    }


def _question(season: Season, scheme: Scheme, values: Mapping[str, Any], today: date) -> str:
    """What is answered, as it was read: the boat in metres and tonnes, the scheme, days with their year."""
    length, beam, draught, tonnes = (plain(values[name]) for name in SIZES)
    height = f", {plain(values['stand_height_m'])} m high" if values["stand_height_m"] else ""
    boat = f"{length} m long, {beam} m wide, {draught} m of draught{height}, {tonnes} t"
    comes = f"from {longday(values['comes_on'] or today)}"
    by = (
        longday(values["wanted_on"])
        if values["wanted_on"]
        else f"the season’s end, {longday(season.last_day)}"
    )
    return f"{boat}; scheme {scheme}; {comes}; back by {by}?"


def _lead(found: Answer, sure: Sure | None, *, moving: bool) -> tuple[str, str]:
    """What to say on the telephone, and its look."""
    if found.not_before is None:
        return "No: not even an empty yard could take her.", "risk"
    if found.back_on is None:
        if moving:
            return "No: not even with others moving was room found for her.", "risk"
        return "No: as the plan stands there is no room for her.", "risk"
    first, last = comes(found.rows), back(found.rows, found.back_on)
    if found.in_time:
        says, look = yes(found, sure)
        return f"{says}: {first}, {last}, if nothing slips.", look
    then = f"{capital(first)}, {last}, {days_of(found.late_days)} late, if nothing slips."
    if found.impossible:
        return f"No: {day(found.due)} can't be done even with nobody else planned. {then}", "risk"
    if moving:
        return f"No way was found to have her back by {day(found.due)}. {then}", "risk"
    return f"Not by {day(found.due)} as the plan stands. {then}", "watch"


# --- The form ---------------------------------------------------------------------------------------------
def _specs(who: Actor, schemes: Sequence[Scheme]) -> list[Spec]:
    feet = who.yard.units == Units.FEET
    metres, unit = length(feet=feet), "ft" if feet else "m, or 33 ft"
    boat, job = "The boat", "What is asked"
    hulls = [("", "not known"), *HullKind.choices]
    keels = [("", "not known"), *KeelKind.choices]
    return [
        Spec("length_m", "Length", metres, unit, group=boat),
        Spec("beam_m", "Beam", metres, unit, group=boat),
        Spec("draught_m", "Draught", metres, unit, group=boat),
        Spec("stand_height_m", "Height", lambda text: metres(text) if text else None,
             "keel to highest point, mast off; empty if not known", group=boat),
        Spec("displacement_t", "Weight", _tonnes, "tonnes", group=boat),
        Spec("hull_kind", "Hull", one_of({key: key for key, _ in hulls}), group=boat, choices=_said(hulls)),
        Spec("keel_kind", "Keel", one_of({key: key for key, _ in keels}), group=boat, choices=_said(keels)),
        Spec("scheme", "Scheme", _chosen, group=job,
             choices=[("", "choose one"), *((str(one.pk), one.name) for one in schemes if one.stages.all())]),
        Spec("comes_on", "She can come from", lambda text: _day(text, who.today),
             "like 11 1 2027 or 11 Jan; empty: at once", group=job),
        Spec("wanted_on", "Back by", lambda text: _day(text, who.today),
             "empty: by the season’s end", group=job),
    ]  # fmt: skip


def _said(choices: Sequence[tuple[str, Any]]) -> list[tuple[str, str]]:
    return [(key, str(label).lower()) for key, label in choices]


def _tonnes(text: str) -> Any:
    try:
        found = number(re.sub(r"\s*(t|tonnes?)$", "", text.lower()))
    except ValueError as no:
        raise ValueError("Type her weight in tonnes, like 5 or 5,5.") from no
    if found <= 0:
        raise ValueError("A weight is more than 0.")
    return found


def _chosen(text: str) -> str:
    if not text:
        raise ValueError("Choose the scheme she needs.")
    return text


def _day(text: str, today: date) -> date | None:
    if not text:
        return None
    found = parse_day(text, today)
    if found < today:
        raise NotADay("That day is past: type one from today on.")
    return found


def _scheme(who: Actor, text: str, wrong: dict[str, str]) -> Scheme | None:
    """The scheme with its stages.

    Raises:
        Http404: if the yard has none of that number.
    """
    if "scheme" in wrong:
        return None
    found = scheme_in(who.yard, int(text)) if text.isascii() and text.isdigit() and len(text) < 19 else None
    if found is None:
        raise Http404("No such scheme.")
    if found.retired_on or not found.stages.all():
        wrong["scheme"] = f"The scheme {found} has no stages or is given up: choose another."
        return None
    return found


def _at_odds(season: Season, today: date, values: Mapping[str, Any]) -> dict[str, str]:
    """What of the values that could be read can't be true together, a sentence a field."""
    found: dict[str, str] = {}
    comes_on, wanted_on = values.get("comes_on") or today, values.get("wanted_on")
    if comes_on > season.last_day:
        found["comes_on"] = f"The season ends on {longday(season.last_day)}: type an earlier day."
    elif wanted_on and wanted_on > season.last_day:
        found["wanted_on"] = (
            f"The season ends on {longday(season.last_day)}: type an earlier day, or leave it empty."
        )
    elif wanted_on and wanted_on < comes_on:
        found["wanted_on"] = "She is wanted before she comes: change one of the two days."
    if values.keys() >= SIZES.keys():
        try:
            check_dims(_dims(values))
        except ValueError as no:
            says = str(no)
            field = next(
                (name for name, word in SIZES.items() if says.startswith(f"Her {word} ")), "length_m"
            )
            found[field] = says
    return found


def _doubts(values: Mapping[str, Any]) -> dict[str, str]:
    """What reads like a slip, a sentence a field."""
    return {doubt.field: doubt.says for doubt in doubts_about_dims(_dims(values))}


def _dims(values: Mapping[str, Any]) -> Dims:
    return Dims(
        hull_kind=values.get("hull_kind") or "other",
        keel_kind=values.get("keel_kind") or "other",
        length_m=float(values["length_m"]),
        beam_m=float(values["beam_m"]),
        draught_m=float(values["draught_m"]),
        displacement_t=float(values["displacement_t"]),
    )


def _boat(season: Season, scheme: Scheme, values: Mapping[str, Any], today: date) -> Newcomer:
    boat = Boat(
        name=NAME,
        stand_height_m=values["stand_height_m"] or HEIGHT_UNKNOWN,
        hull_kind=values["hull_kind"],
        keel_kind=values["keel_kind"],
        **{name: values[name] for name in SIZES},
    )
    return newcomer(season, scheme, boat, comes_on=values["comes_on"] or today, wanted_on=values["wanted_on"])


def _with_moving(request: HttpRequest) -> str:
    """The same question with others moving."""
    asked = request.GET.copy()
    asked["moving"] = "1"
    return f"?{asked.urlencode()}#answer"


# --- Hours ------------------------------------------------------------------------------------------------
def _hours(new: Newcomer, areas: Areas) -> Hours:
    stages = {stage.pk: stage_hours(stage, new.demands[stage.pk], areas) for stage in new.stages}
    total = NOTHING
    for hours in stages.values():
        total = total.plus(hours)
    m2 = {name: getattr(areas, name).m2 for name in ("peel", "coat", "antifoul")}
    trade = NOTHING
    for kind in {stage.kind for stage in new.stages}:
        trade = trade.plus(hours_by_stage(kind, m2))
    return Hours({pk: _span(hours) for pk, hours in stages.items()}, _span(total), _span(trade))


def _span(hours: Range) -> str:
    """Hours as "18 (15 to 24)"; nothing for none."""
    low, likely, high = (round(figure) for figure in hours)
    if not hours.high:
        return ""
    return f"{likely} ({low} to {high})" if low != high else str(likely)
