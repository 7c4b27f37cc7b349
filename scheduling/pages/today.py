"""Today: the crew's list of a day, with started, done and held."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from scheduling.forms import parse_day, parse_hours
from scheduling.loading.winter import Winter, bay_in, shut_days, stage_in, waters_of
from scheduling.pages.frame import day_in, key_in, page, season_page, text_in, winter_of
from scheduling.pages.jobs import day_list
from yard.actions.base import Refused, Stale
from yard.actions.stages import Hours, finish_stage, hold_stage, release_stage, start_stage
from yard.actions.treatments import bring_in, open_stay, shift
from yard.models import HoldReason, Role, Stage
from yard.roles import Actor
from yard.trade.cautions import DEFER

WORDS = ("start", "done", "hold", "release", "move")


@require_safe
@season_page(Role.MANAGER, Role.CREW)
def today(request: HttpRequest, who: Actor) -> HttpResponse:
    """The list of a day: `?day=2026-11-24`, today unless said."""
    return show(request, who, day_in(request.GET.get("day")) or who.today)


def show(
    request: HttpRequest, who: Actor, on: date, *, stage: int = 0, refused: str = "", status: int = 200
) -> HttpResponse:
    """The page, also after a refused form: what was typed stands there still, beside the sentence."""
    winter = winter_of(who, demands=True)
    reach = timedelta(days=120)
    shut = shut_days(winter, on - reach, on + reach)
    following = next(
        on + timedelta(days=ahead) for ahead in range(1, 120) if on + timedelta(days=ahead) not in shut
    )
    listed = day_list(winter, on, shut)
    jobs = listed.jobs
    loose = refused
    for job in [*jobs, *listed.waiting]:
        if job.stage.pk == stage:
            job.refused, job.typed, loose = refused, request.POST.dict(), ""
    context = {
        "on": on,
        "is_today": on == who.today,
        "may_act": on <= who.today,
        "shut": shut.get(on, ""),
        "jobs": jobs,
        "visits": listed.visits,
        "waiting": listed.waiting,
        "waiting_open": any(job.refused for job in listed.waiting),
        "next_on": following,
        "next_jobs": day_list(winter, following, shut).jobs if on >= who.today else [],
        "waters": _high_waters(winter, on),
        "reasons": HoldReason.choices,
        "winter": winter,
        "defer": DEFER,
        "refused": loose,
        "errors": bool(refused),
        "days": [on - timedelta(days=1), on + timedelta(days=1)],
    }
    return page(request, who, "today/today.html", "Today", context, status)


@require_POST
@season_page(Role.MANAGER, Role.CREW)
def act(request: HttpRequest, who: Actor, stage: int, word: str) -> HttpResponse:
    """Start, finish, hold, release a stage, or say that she has been moved: `word` is one of `WORDS`."""
    found = stage_in(who.yard, stage)
    if found is None or word not in WORDS:
        raise Http404("No such stage.")
    on = day_in(request.POST.get("day")) or who.today
    try:
        said = _do(who, word, found, on, request.POST)
    except (Refused, Stale) as no:
        return show(request, who, on, stage=found.pk, refused=no.sentence, status=no.status)
    except ValueError as wrong:
        return show(request, who, on, stage=found.pk, refused=str(wrong), status=422)
    clock = timezone.now().astimezone(ZoneInfo(who.yard.timezone))
    messages.success(request, f"Saved {clock:%H:%M}: {said}")
    return redirect(f"{reverse('today', args=[who.yard.slug])}?day={on.isoformat()}")


def _do(who: Actor, word: str, stage: Stage, on: date, typed: Mapping[str, str]) -> str:
    """Call the action; return what was done, in a sentence."""
    key = key_in(typed.get("key"))
    name = f"{stage.treatment.boat.name}, {stage.name}"
    if word == "start":
        return f"{name}: started. {start_stage(who, stage=stage, on=on, key=key).said}".strip()
    if word == "done":
        work = _work(who, parse_hours(typed.get("hours", "")))
        return f"{name}: done. {finish_stage(who, stage=stage, on=on, work=work, key=key).said}".strip()
    if word == "hold":
        expected = text_in(typed, "expected")
        hold_stage(
            who,
            stage=stage,
            reason=text_in(typed, "reason"),
            whom=text_in(typed, "whom"),
            note=text_in(typed, "note"),
            expected_on=parse_day(expected, who.today) if expected else None,
            key=key,
        )
        return f"{name}: held."
    if word == "release":
        release_stage(who, stage=stage, note=text_in(typed, "note"), key=key)
        return f"{name}: goes on."
    bay = bay_in(who.yard, text_in(typed, "bay"))
    if bay is None:
        raise Refused("There is no such bay: look at the list again.")
    come = shift if open_stay(stage.treatment) else bring_in
    stay = come(who, treatment=stage.treatment, bay=bay, on=on, key=key)
    return f"{stage.treatment.boat.name} stands in {bay.name}. {stay.said}".strip()


def _work(who: Actor, hours: Decimal | None) -> list[Hours]:
    """The hours of the person who says so; an account that stands for nobody has none."""
    if hours is None:
        return []
    if who.person is None:
        raise Refused("Your account stands for no person of the yard, so it has no hours: leave them empty.")
    return [Hours(who.person, hours)]


def _high_waters(winter: Winter, on: date) -> list[tuple[str, str]]:
    """Clock and height [m] of the day's high waters."""
    zone = ZoneInfo(winter.yard.timezone)
    highs = [(row.at.astimezone(zone), row.height_m) for row in waters_of(winter.yard, on, on) if row.is_high]
    return [(f"{at:%H:%M}", f"{height:.1f}") for at, height in highs if at.date() == on]
