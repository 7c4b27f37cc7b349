"""The Desk: where is she, what is next, when is she afloat, what was promised; and record a promise."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_POST, require_safe

from scheduling.forms import NotADay, parse_day
from scheduling.loading.winter import BoatWinter, Winter, treatment_in
from scheduling.pages.frame import page, season_page, text_in, winter_of
from scheduling.pages.sentences import KIND, following, verdict, waiting_for, where
from yard.actions.base import Refused
from yard.actions.promises import record_promise
from yard.models import OPEN_STATES, DateKind, How, Role
from yard.roles import Actor
from yard.templatetags.days import longday

KINDS: Mapping[str, str] = {
    DateKind.FIRM: "firm: she sails whatever happens",
    DateKind.TIDE: "on that tide",
    DateKind.WEEK: "in that week",
    DateKind.MONTH: "in that month",
    DateKind.WISH: "a wish, nothing promised",
}
"""Kinds of a promise as the office says them."""


@dataclass(frozen=True)
class Told:
    """All the Desk says about one boat."""

    boat: BoatWinter
    where: str
    following: str
    waits: str
    afloat_on: date | None
    look: str
    verdict: str
    left_out: str
    may_promise: bool


@dataclass(frozen=True)
class Miss:
    """A boat whose planned relaunch misses her day, by so many days; None where no plan places her."""

    boat: BoatWinter
    days: int | None
    says: str


@require_safe
@season_page(Role.MANAGER, Role.OFFICE)
def desk(request: HttpRequest, who: Actor) -> HttpResponse:
    """Search with `?q=` by boat, owner or telephone; one boat found is told at once."""
    return show(request, who, request.GET.get("q", ""))


def show(
    request: HttpRequest,
    who: Actor,
    asked: str,
    *,
    only: int = 0,
    wrong: tuple[str, str] = ("", ""),
    status: int = 200,
) -> HttpResponse:
    """The page, also after a refused form: `wrong` is the field and its sentence; what was typed stays."""
    winter = winter_of(who)
    asked = asked.strip()
    found = search(winter, asked) if asked else []
    if only:
        found = [boat for boat in winter.boats if boat.treatment.pk == only]
    told = tell(winter, found[0]) if len(found) == 1 else None
    context = {
        "asked": asked,
        "found": [] if told else [(boat, where(winter, boat)) for boat in found],
        "nothing": bool(asked) and not found,
        "told": told,
        "kind_says": KIND.get(told.boat.promise.kind, "") if told and told.boat.promise else "",
        "misses": misses(winter),
        "kinds": KINDS.items(),
        "hows": How.choices,
        "typed": request.POST,
        "wrong_field": wrong[0],
        "wrong": wrong[1],
        "errors": bool(wrong[1]),
        "winter": winter,
    }
    return page(request, who, "desk/desk.html", "Desk", context, status)


@require_POST
@season_page(Role.MANAGER, Role.OFFICE)
def promise(request: HttpRequest, who: Actor, treatment: int) -> HttpResponse:
    """Record a date told to the owner."""
    found = treatment_in(who.yard, treatment)
    if found is None:
        raise Http404("No such treatment.")
    posted = winter_of(who).posted
    try:
        promised_on = parse_day(text_in(request.POST, "date"), who.today)
        record_promise(
            who,
            treatment=found,
            promised_on=promised_on,
            kind=text_in(request.POST, "kind"),
            how=text_in(request.POST, "how"),
            note=text_in(request.POST, "note"),
            plan_number=posted.number if posted else None,
        )
    except NotADay as no:
        return show(request, who, "", only=found.pk, wrong=("date", str(no)), status=422)
    except Refused as no:
        field = "date" if no.field in ("promised_on", "") else no.field
        return show(request, who, "", only=found.pk, wrong=(field, no.sentence), status=no.status)
    messages.success(request, f"Promised {found.boat.name} for {longday(promised_on)}.")
    return redirect(f"{reverse('desk', args=[who.yard.slug])}?{urlencode({'q': found.boat.name})}")


def search(winter: Winter, asked: str) -> list[BoatWinter]:
    """Boats whose name, owner or telephone holds what was typed; a whole name comes alone."""
    words, digits = asked.casefold(), re.sub(r"\D", "", asked)
    found = []
    for boat in winter.boats:
        owner = boat.treatment.boat.owner
        if boat.name.casefold() == words:
            return [boat]
        phone = re.sub(r"\D", "", owner.phone) if owner else ""
        if (
            words in boat.name.casefold()
            or (owner and words in owner.name.casefold())
            or (len(digits) >= 3 and digits in phone)
        ):
            found.append(boat)
    return found


def tell(winter: Winter, boat: BoatWinter) -> Told:
    """All there is to say about one boat, by the posted plan."""
    plan = winter.posted
    look, says = verdict(boat, plan)
    out = boat.unplaced.get(plan.pk) if plan else None
    return Told(
        boat=boat,
        where=where(winter, boat),
        following=following(winter, boat, plan),
        waits=waiting_for(boat.hold) if boat.hold else "",
        afloat_on=boat.afloat_on(plan),
        look=look,
        verdict=says,
        left_out=out.says if out else "",
        may_promise=boat.treatment.state in OPEN_STATES,
    )


def misses(winter: Winter) -> list[Miss]:
    """Boats the posted plan brings back too late or not at all, the worst first."""
    plan = winter.posted
    if plan is None:
        return []
    found = []
    for boat in winter.boats:
        days = boat.late_days(plan)
        if plan.pk in boat.unplaced:
            found.append(Miss(boat, None, "left out of the plan"))
        elif days is not None and days > 0:
            found.append(Miss(boat, days, verdict(boat, plan)[1]))
    return sorted(found, key=lambda miss: -(miss.days if miss.days is not None else 999))
