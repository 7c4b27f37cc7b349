"""What every page of a yard has: its sides, its day, who looks at it; and how a refused form comes back."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import wraps
from typing import Any, Concatenate, ParamSpec
from uuid import UUID
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from scheduling.forms import YEARS
from scheduling.loading.winter import Winter, read_winter
from yard.models import Role
from yard.roles import Actor, side

P = ParamSpec("P")

SIDES: Mapping[str, tuple[str, ...]] = {
    "Wall": (Role.MANAGER,),
    "Today": (Role.MANAGER, Role.CREW),
    "Desk": (Role.MANAGER, Role.OFFICE),
}


@dataclass(frozen=True)
class Side:
    """One of the sides an actor may open."""

    name: str
    url: str


def sides_of(who: Actor) -> list[Side]:
    """The sides this role may open, its own first where it has only one."""
    return [
        Side(name, reverse(name.lower(), args=[who.yard.slug]))
        for name, roles in SIDES.items()
        if who.role in roles
    ]


def page(
    request: HttpRequest, who: Actor, template: str, at: str, context: Mapping[str, Any], status: int = 200
) -> HttpResponse:
    """Render a page with the bar on top; `at` is the side it belongs to."""
    frame = {"who": who, "sides": sides_of(who), "at": at}
    with timezone.override(ZoneInfo(who.yard.timezone)):
        response = render(request, template, {**frame, **context}, status=status)
    # A phone goes from hand to hand: after log-out nothing of the yard may come back from its cache.
    response["Cache-Control"] = "no-store"
    return response


class NoSeason(LookupError):
    """The yard has no season to show."""


def winter_of(who: Actor, *, draft: bool = False, demands: bool = False) -> Winter:
    """The season's winter.

    Raises:
        NoSeason: if the yard has none; `season_page` says what to do.
    """
    winter = read_winter(who.yard, who.today, draft=draft, demands=demands)
    if winter is None:
        raise NoSeason
    return winter


def season_page(
    *roles: str,
) -> Callable[
    [Callable[Concatenate[HttpRequest, Actor, P], HttpResponseBase]], Callable[..., HttpResponseBase]
]:
    """Guard a page as `side` does; where the yard has no season it says how one comes in."""

    def guard(
        view: Callable[Concatenate[HttpRequest, Actor, P], HttpResponseBase],
    ) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def shown(request: HttpRequest, who: Actor, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            try:
                return view(request, who, *args, **kwargs)
            except NoSeason:
                return page(request, who, "yard/no_season.html", "", {})

        return side(*roles)(shown)

    return guard


def day_in(value: str | None) -> date | None:
    """A day from an address (2026-11-24); None if it is not one, or none of this century or the next."""
    try:
        day = date.fromisoformat(value) if value else None
    except ValueError:
        return None
    return day if day and day.year in YEARS else None


def text_in(typed: Mapping[str, str], name: str) -> str:
    """What was typed into a field, without blanks around it and without what no database takes."""
    return typed.get(name, "").replace("\x00", "").strip()


def key_in(value: str | None) -> UUID | None:
    """The key of a form that may be sent twice; None if it has none."""
    try:
        return UUID(value) if value else None
    except ValueError:
        return None
