"""What would help: the manager asks what one thing more would save, and reads what it costs."""

from dataclasses import dataclass
from math import ceil

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_POST

from scheduling.actions.packs import ask_pack, reap_packs, says, stop_pack
from scheduling.engine.helps import Help
from scheduling.loading.helps import helps_of, others_pack
from scheduling.loading.winter import Winter
from scheduling.models import PackKind
from scheduling.pages.frame import page, season_page, winter_of
from yard.actions.base import Refused
from yard.models import Role
from yard.roles import Actor
from yard.templatetags.days import capital, days_of, money


@dataclass(frozen=True)
class Line:
    """One thing more: what, with where to look at it; what it saves, costs and leaves, in words."""

    what: str
    href: str
    saves: str
    costs: str
    leaves: str
    clear: bool


@season_page(Role.MANAGER)
def helps(request: HttpRequest, who: Actor) -> HttpResponse:
    """GET: what was found, for htmx as a part of the page. POST: ask for it anew."""
    if request.method == "POST":
        try:
            ask_pack(who, season=winter_of(who).season, kind=PackKind.HELPS)
        except Refused as no:
            return show(request, who, refused=no.sentence, status=no.status)
        return redirect("helps", who.yard.slug)
    return show(request, who)


@require_POST
@season_page(Role.MANAGER)
def stop(request: HttpRequest, who: Actor) -> HttpResponse:
    """Stop looking; what was found until then is kept."""
    last = helps_of(winter_of(who))
    if last is None:
        return show(request, who, refused="Nobody has asked yet what would help.", status=422)
    try:
        stop_pack(who, pack=last.pack)
    except Refused as no:
        return show(request, who, refused=no.sentence, status=no.status)
    return redirect("helps", who.yard.slug)


def show(request: HttpRequest, who: Actor, *, refused: str = "", status: int = 200) -> HttpResponse:
    """The page, also after a refusal."""
    winter, now = winter_of(who), timezone.now()
    reap_packs(now, season=winter.season)
    last = helps_of(winter)
    context = {
        "winter": winter,
        "last": last,
        "says": says(last.pack, now) if last else "",
        "lines": [line_of(winter, each) for each in last.found] if last else [],
        "busy": others_pack(winter),
        # Where "today" is fixed, as in a demonstration, the clock's day is not the yard's.
        "day_known": settings.SHEDTIDE_TODAY is None,
        "refused": refused,
    }
    polled = request.htmx and not refused  # type: ignore[attr-defined]
    template = "wall/helps_found.html" if polled else "wall/helps.html"
    response = page(request, who, template, "Wall", context, status)
    if polled and not (last and last.at_work):
        response["HX-Refresh"] = "true"  # the button is there again
    return response


def line_of(winter: Winter, each: Help) -> Line:
    """A help in words. What nobody has set a price for pays if it costs less than it saves at least."""
    currency, price = winter.yard.currency, each.price
    saves = between(each.saves_low, each.saves_high, currency)
    costs, leaves = (
        f"price: ask{',' if each.taken else ''}{_amount(each)}",
        f"pays below {_rounded(each.saves_low, currency, up=False)}",
    )
    if price is not None:
        costs = f"{money(price, currency)}{_amount(each)}" if price else "nothing"
        leaves = between(each.saves_low - price, each.saves_high - price, currency)
    what = capital(each.says)
    if each.kind == "promise":
        costs = "a call"
        boat = winter.boat(int(each.what))
        if boat is not None and boat.promise is None:
            what = what.replace(" promised ", " back ")
    return Line(
        what=what,
        href=_where(winter, each),
        saves=saves,
        costs=costs,
        leaves=leaves if each.clear else "no clear gain",
        clear=each.clear,
    )


def _amount(each: Help) -> str:
    """For how many hours or days a thing costs what it does."""
    if not each.taken:
        return ""
    return (
        f" for {ceil(each.taken / 60)} h" if each.kind in ("hand", "day") else f" for {days_of(each.taken)}"
    )


def between(low: int, high: int, currency: str) -> str:
    """A range of money [minor units] in two figures, outwards: 123400 to 187600 is "£1,200 to £1,900"."""
    least, most = _rounded(low, currency, up=False), _rounded(high, currency, up=True)
    if low == 0:
        return f"up to {most}" if high else "nothing"
    return least if low == high else f"{least} to {most}"


def _rounded(minor: int, currency: str, *, up: bool) -> str:
    whole = ceil(minor / 100) if up else minor // 100
    step = 10 ** max(len(str(abs(whole))) - 2, 0)
    return money((-(-whole // step) if up else whole // step) * step * 100, currency)


def _where(winter: Winter, each: Help) -> str:
    """Where it can be looked at: her page, or the Wall from the week on in which it is to be had."""
    slug = winter.yard.slug
    if each.kind == "promise":
        boat = winter.boat(int(each.what))
        return reverse("boat", args=[slug, boat.treatment.boat_id]) if boat else ""
    looked_at = {"plan": "posted"}
    if each.kind in ("hand", "day", "lift day"):
        looked_at |= {"weeks": "8", "from": each.day.isoformat()}
    return f"{reverse('wall', args=[slug])}?{urlencode(looked_at)}"
