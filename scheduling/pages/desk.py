"""The Desk: where is she, what is next, when is she afloat, what was promised; and record a promise."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_POST, require_safe

from scheduling.forms import NotADay, parse_day
from scheduling.loading.winter import BoatWinter, Winter, treatment_in
from scheduling.pages.frame import page, season_page, text_in, winter_of
from scheduling.pages.odds import Odds, odds
from scheduling.pages.sentences import KIND, following, tag, verdict, waiting_for, where
from yard.actions.base import Refused
from yard.actions.promises import record_promise
from yard.models import OPEN_STATES, DateKind, How, Promise, Role
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

ADDRESSED = frozenset({"mr", "mrs", "ms", "miss", "dr", "sir", "madam"})


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
    odds: Odds | None


@dataclass(frozen=True)
class Miss:
    """A boat whose planned relaunch misses her day, by so many days; None where no plan places her."""

    boat: BoatWinter
    days: int | None
    afloat_on: date | None
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
        "meant": meant(winter, asked) if asked and not found else [],
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
        promised = record_promise(
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
    messages.success(request, _promised(winter_of(who), promised))
    return redirect(f"{reverse('desk', args=[who.yard.slug])}?{urlencode({'q': found.boat.name})}")


def _promised(winter: Winter, promised: Promise) -> str:
    """What was recorded, what it replaces, and whether the posted plan keeps it."""
    boat = next(one for one in winter.boats if one.treatment.pk == promised.treatment_id)
    replaced: Any = promised.replaces
    former = f" instead of {longday(replaced.promised_on)}" if replaced else ""
    kept = f" The posted plan {verdict(boat, winter.posted)[1]}." if winter.posted else ""
    if boat.afloat_on(winter.posted) is None and winter.posted:
        kept = " The posted plan has no relaunch for her."
    return f"Promised {boat.name} for {longday(promised.promised_on)}{former}.{kept}"


def search(winter: Winter, asked: str) -> list[BoatWinter]:
    """Boats in whose name and owner all the words typed are found, or whose telephone holds the digits.

    A whole name comes alone. A number with the country's code is found too: its last nine digits count.
    """
    known = [(boat, _spoken(boat)) for boat in winter.boats]
    for boat in winter.boats:
        if boat.name.casefold() == asked.casefold():
            return [boat]
    words, digits = _words(asked), re.sub(r"\D", "", asked)[-9:]
    if len(digits) >= 3 and not re.search(r"[^\W\d_]", asked):
        return [boat for boat in winter.boats if digits in _phone(boat)]
    together = [boat for boat, spoken in known if words and " ".join(words) in spoken]
    return together or [boat for boat, spoken in known if words and all(word in spoken for word in words)]


def meant(winter: Winter, asked: str) -> list[BoatWinter]:
    """Boats whose name, or whose owner's, has a word much like one typed: what a slip of the finger meant."""
    asked_words = _words(asked)
    return [
        boat
        for boat in winter.boats
        if any(get_close_matches(word, _spoken(boat).split(), n=1, cutoff=0.75) for word in asked_words)
    ]


def _spoken(boat: BoatWinter) -> str:
    """Name of boat and owner, word by word in small letters."""
    owner = boat.treatment.boat.owner
    return " ".join(re.findall(r"\w+", f"{boat.name} {owner.name if owner else ''}".casefold()))


def _phone(boat: BoatWinter) -> str:
    owner = boat.treatment.boat.owner
    return re.sub(r"\D", "", owner.phone) if owner else ""


def _words(asked: str) -> list[str]:
    """The words that count: how a caller is addressed is in no record."""
    return [word for word in re.findall(r"\w+", asked.casefold()) if word not in ADDRESSED]


def tell(winter: Winter, boat: BoatWinter) -> Told:
    """All there is to say about one boat, by the posted plan."""
    plan = winter.posted
    sure = odds(winter, boat)
    look, says = tag(boat, plan, sure.look if sure else "")
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
        odds=sure,
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
            found.append(Miss(boat, None, None, "left out of the plan"))
        elif days is not None and days > 0:
            found.append(Miss(boat, days, boat.afloat_on(plan), verdict(boat, plan)[1]))
    return sorted(found, key=lambda miss: -(miss.days if miss.days is not None else 999))
