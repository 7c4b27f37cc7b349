"""Her owner rings: can she be back by another day? Answered against the posted plan; nothing is stored."""

from datetime import date
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from scheduling.actions.quoting import Answer, Ground, NoPlan, answer, as_planned, ground
from scheduling.engine.schedule import WitnessRefused
from scheduling.forms import NotADay, parse_day
from scheduling.loading.enquiry import CannotAsk, with_day
from scheduling.loading.winter import treatment_in
from scheduling.pages.asking import (
    UNSOUND,
    Sure,
    back,
    broken,
    if_they_move,
    notes,
    rises,
    stretches,
    sure,
    yes,
)
from scheduling.pages.frame import page, season_page, text_in, winter_of
from scheduling.pages.odds import odds
from scheduling.pages.sentences import KIND, tag
from yard.models import Role, Treatment
from yard.roles import Actor
from yard.templatetags.days import day, days_of


@require_safe
@season_page(Role.MANAGER, Role.OFFICE)
def ask(request: HttpRequest, who: Actor, treatment: int) -> HttpResponse:
    """The form and, with a day in `?by=`, the answer: as the plan stands, else with others moving."""
    found = treatment_in(who.yard, treatment)
    if found is None:
        raise Http404("No such treatment.")
    winter = winter_of(who)
    hers = winter.boat(treatment)
    sure_now = odds(winter, hers) if hers else None
    typed, wrong = text_in(request.GET, "by"), ""
    told: dict[str, Any] = {}
    if "by" in request.GET:
        try:
            told = _told(who, found, _day(typed, who.today))
        except NotADay as no:
            wrong = str(no)
        except WitnessRefused:
            told = {"cannot": UNSOUND}
    context = {
        "treatment": found,
        "boat": hers,
        "afloat_on": hers.afloat_on(winter.posted) if hers else None,
        "verdict": tag(hers, winter.posted, sure_now.look if sure_now else "") if hers else None,
        "kind_says": KIND.get(hers.promise.kind, "") if hers and hers.promise else "",
        "typed": typed,
        "wrong": wrong,
        "errors": bool(wrong),
        "posted": winter.posted,
        **told,
    }
    return page(request, who, "desk/ask.html", "Desk", context, 422 if wrong else 200)


def _day(text: str, today: date) -> date:
    found = parse_day(text, today)
    if found < today:
        raise NotADay("That day is past: type one from today on.")
    return found


def _told(who: Actor, treatment: Treatment, by: date) -> dict[str, Any]:
    """The answer for the page; where there can be none, the sentence that says why."""
    try:
        asked = with_day(treatment.season, who.today, treatment.pk, by)
        on = ground(asked)
    except NoPlan:
        return {"no_plan": True}
    except (CannotAsk, ValueError) as no:
        return {"cannot": str(no)}
    still = as_planned(on) if on.back_on is not None and on.back_on <= by else answer(on)
    moving = not still.in_time and not still.impossible
    moved = answer(on, moving=True) if moving else still
    found = moved if moved.in_time else still
    how_sure = sure(on, found, by)
    lead, look = _lead(on, still, moved, how_sure)
    return {
        "by": by,
        "found": found,
        "lead": lead,
        "look": look,
        "sure": how_sure,
        "stretches": stretches(found.rows),
        "moving": moving,
        "broken": broken(found.moves),
        "rises": rises(found) if found.in_time else [],
        "rise": sum(found.rise.values()),
        "less": -sum(found.rise.values()),
        "notes": notes(on),
    }


def _lead(on: Ground, still: Answer, moved: Answer, sure: Sure | None) -> tuple[str, str]:
    """What to say on the telephone, and its look: of the answer with the others where they are, and with
    others moved where it was asked for."""
    by = still.due
    if still.in_time and still.back_on is not None:
        says, look = yes(still, sure)
        when = back(still.rows, still.back_on)
        if still.plan is on.plan:
            spare = (by - still.back_on).days
            return f"{says}, as it is planned: {when}{f', {days_of(spare)} before' if spare else ''}.", look
        return f"{says}: {when}, if she alone is planned anew.", look
    if moved.in_time and moved.back_on is not None:
        says, look = yes(moved, sure)
        return f"{says}: {back(moved.rows, moved.back_on)}.", look
    no = f"No, not even with others moving: no way was found to have her back by {day(by)}."
    if still.not_before is None:
        no = "No: there is no day on which she could be back."
    elif still.impossible:
        no = f"No: with nobody else planned she could not be back before {day(still.not_before)}."
    if still.back_on is None:
        return no, "risk"
    earliest = f"As the plan stands the earliest day is {day(still.back_on)}"
    if moved.back_on is not None and moved.back_on < still.back_on:
        earliest += f"; {if_they_move(moved.moves)} it is {day(moved.back_on)}"
    return f"{no} {earliest}.", "risk"
