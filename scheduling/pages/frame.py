"""What every page of a season has: its winter, and how days and keys in addresses and forms are read."""

from collections.abc import Callable
from datetime import date
from functools import wraps
from typing import Concatenate, ParamSpec
from uuid import UUID

from django.http import HttpRequest, HttpResponseBase

from scheduling.forms import YEARS
from scheduling.loading.winter import Winter, read_winter
from yard.forms import text_in
from yard.pages.frame import page, sides_of
from yard.roles import Actor, side

__all__ = [
    "NoSeason",
    "day_in",
    "key_in",
    "page",
    "season_page",
    "sides_of",
    "text_in",
    "winter_of",
]

P = ParamSpec("P")


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


def key_in(value: str | None) -> UUID | None:
    """The key of a form that may be sent twice; None if it has none."""
    try:
        return UUID(value) if value else None
    except ValueError:
        return None
