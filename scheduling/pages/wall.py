"""The Wall: the season by bay, the packer, the draft against the posted plan."""

from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from scheduling.actions.packs import ask_pack, reap_packs, says, stop_pack
from scheduling.actions.plans import BrokenByFacts, post_plan, undo
from scheduling.loading.winter import Winter, pack_of, pinned_stages, reasons_of
from scheduling.models import OPEN_PACKS, Pack, PackKind, PackState, Plan
from scheduling.pages.board import WINTER, ZOOMS, draw
from scheduling.pages.compare import against, explained, held, needs, overtaken
from scheduling.pages.frame import day_in, page, season_page, winter_of
from scheduling.pages.moves import moves_of
from scheduling.pages.odds import shifted
from scheduling.pages.reasons import reader_of
from scheduling.pages.ribbon import ribbon
from yard.actions.base import Refused, Stale
from yard.models import Role
from yard.roles import Actor


@require_safe
@season_page(Role.MANAGER)
def wall(request: HttpRequest, who: Actor) -> HttpResponse:
    """Show the season: `?plan=posted` the posted plan although there is a draft, `?weeks=8&from=…` a part."""
    return show(request, who)


def show(
    request: HttpRequest, who: Actor, *, refused: str = "", to_accept: Sequence[str] = (), status: int = 200
) -> HttpResponse:
    """The whole page, also after a refused form."""
    winter = winter_of(who, draft=True)
    looked_at = request.GET.get("plan") == "posted"
    plan = (winter.posted if looked_at else None) or winter.draft or winter.posted
    zoom = request.GET.get("weeks", WINTER)
    zoom = zoom if any(zoom == str(known.weeks) for known in ZOOMS) else WINTER
    grid = draw(winter, plan, pinned_stages(winter.season), zoom, day_in(request.GET.get("from")))
    other = winter.posted if plan is winter.draft else None
    reader = reader_of(winter, who, posted=plan is winter.posted)
    troubled = needs(winter, plan)
    reasons = reasons_of(plan, [need.boat.treatment.pk for need in troubled])
    context = {
        "winter": winter,
        "plan": plan,
        "is_draft": plan is not None and plan is winter.draft,
        "grid": grid,
        "ribbon": ribbon(winter, grid.first, 7 * grid.weeks, grid.shut_days),
        "zooms": ZOOMS,
        "zoom": zoom,
        "kept_plan": "&plan=posted" if looked_at else "",
        "day_known": _day_known(winter, plan),
        "needs": explained(reader, troubled, reasons),
        "held": held(winter),
        "overtaken": overtaken(winter, plan),
        "shifted": shifted(winter),
        "beside": against(winter, plan, other) if plan else None,
        "moves": moves_of(winter, plan) if plan and other else None,
        "keep": _keeping(winter, plan),
        "refused": refused,
        "to_accept": to_accept,
        **_packing(winter),
    }
    return page(request, who, "wall/wall.html", "Wall", context, status)


@season_page(Role.MANAGER)
def pack(request: HttpRequest, who: Actor) -> HttpResponse:
    """GET: how far the packer has come, as a part of the page. POST: ask for a pack, or (`kind`) a repair."""
    winter = winter_of(who)
    if request.method == "POST":
        mend = request.POST.get("kind") == PackKind.REPAIR
        try:
            ask_pack(who, season=winter.season, kind=PackKind.REPAIR if mend else PackKind.PACK)
        except Refused as no:
            return show(request, who, refused=no.sentence, status=no.status)
        return redirect("wall", who.yard.slug)
    if not request.htmx:  # type: ignore[attr-defined]
        return redirect("wall", who.yard.slug)
    packing = _packing(winter)
    response = page(request, who, "wall/packing.html", "Wall", packing)
    if not packing["packing"]:
        # The draft is another one now, and with it the whole page.
        response["HX-Refresh"] = "true"
    return response


@require_POST
@season_page(Role.MANAGER)
def stop(request: HttpRequest, who: Actor) -> HttpResponse:
    """Stop the pack that is at work; the best it has found is kept."""
    running = pack_of(winter_of(who).season)
    if running is None:
        return show(request, who, refused="No pack is at work.", status=422)
    try:
        stop_pack(who, pack=running)
    except Refused as no:
        return show(request, who, refused=no.sentence, status=no.status)
    return redirect("wall", who.yard.slug)


@require_POST
@season_page(Role.MANAGER)
def post(request: HttpRequest, who: Actor) -> HttpResponse:
    """Post the draft that was looked at: the yard works to it from now on."""
    winter = winter_of(who, draft=True)
    draft, board = winter.draft, winter.board
    if board is None or draft is None or str(draft.number) != request.POST.get("number"):
        return show(
            request, who, refused="That draft is no longer the newest: look at this one first.", status=409
        )
    try:
        posted = post_plan(
            who,
            board=board,
            version=board.version,
            plan=draft,
            accept_breaches=request.POST.getlist("accept"),
        )
    except BrokenByFacts as no:
        return show(request, who, refused=no.sentence, to_accept=no.breaches, status=no.status)
    except (Refused, Stale) as no:
        return show(request, who, refused=no.sentence, status=no.status)
    messages.success(request, f"Plan {posted.number} is posted: crew and office see it now.")
    return redirect("wall", who.yard.slug)


@require_POST
@season_page(Role.MANAGER)
def back(request: HttpRequest, who: Actor) -> HttpResponse:
    """Go back to the draft before this one."""
    winter = winter_of(who, draft=True)
    if winter.board is None:
        return show(request, who, refused="There is no draft to go back from.", status=422)
    try:
        plan = undo(who, board=winter.board, version=winter.board.version)
    except (Refused, Stale) as no:
        return show(request, who, refused=no.sentence, status=no.status)
    left = "the posted plan stands alone" if plan.posted_at else f"the draft is plan {plan.number} again"
    messages.success(request, f"Taken back: {left}.")
    return redirect("wall", who.yard.slug)


def _packing(winter: Winter) -> dict[str, Any]:
    """The pack at work, or why the last one failed; one whose worker is lost is taken back first."""
    reap_packs(timezone.now(), season=winter.season)
    last = pack_of(winter.season)
    at_work = last if last and last.state in OPEN_PACKS else None
    waited = round((timezone.now() - last.asked_at).total_seconds()) if last else 0
    failed = last if last and last.state == PackState.FAILED else None
    return {
        "packing": at_work,
        "failed": failed,
        "holds": last if last and last.state == PackState.DONE and last.plan is None else None,
        "pack_note": last.reason if last and last.state in (PackState.DONE, PackState.STOPPED) else "",
        "contradictions": _contradictions(last),
        "pack_says": says(last, timezone.now()) if last else "",
        "pack_seconds": waited,
        "pack_pct": min(round(100 * waited / last.seconds), 99) if last else 0,
        "pack_url": reverse("pack", args=[winter.yard.slug]),
    }


def _day_known(winter: Winter, plan: Plan | None) -> bool:
    """Whether the clock's day is the yard's day: not where "today" is fixed, as in a demonstration."""
    if plan is None or plan.posted_at is None or settings.SHEDTIDE_TODAY is None:
        return True
    return timezone.localdate(plan.posted_at, ZoneInfo(winter.yard.timezone)) == winter.today


def _contradictions(last: Pack | None) -> list[str]:
    """What the last pack found to be impossible in the records, in the yard's words."""
    return list(last.progress.get("contradictions", [])) if last else []


def _keeping(winter: Winter, plan: Plan | None) -> str:
    """How many boats keep their day, in a sentence."""
    if plan is None:
        return ""
    boats = [boat for boat in winter.boats if plan.pk in boat.placed or plan.pk in boat.unplaced]
    keep = sum(1 for boat in boats if (days := boat.late_days(plan)) is not None and days <= 0)
    return f"{keep} of {len(boats)} boats keep their day"
