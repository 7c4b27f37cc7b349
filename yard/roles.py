"""Manager, crew, office: who somebody is in a yard, and the guards in front of its pages."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from functools import wraps
from typing import Any, Concatenate, ParamSpec
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponseBase

from yard.models import Membership, Person, Role, User, Yard

P = ParamSpec("P")


@dataclass(frozen=True)
class Actor:
    """Somebody acting in a yard today: the first argument of every action and every page."""

    user: User
    yard: Yard
    role: str
    person: Person | None
    today: date


def yard_today(yard: Yard) -> date:
    """The day it is in the yard; SHEDTIDE_TODAY fixes it for demonstrations and tests."""
    fixed: date | None = settings.SHEDTIDE_TODAY
    return fixed or datetime.now(ZoneInfo(yard.timezone)).date()


def actor_for(user: User | AnonymousUser, yard_slug: str) -> Actor | None:
    """Who this account is in that yard, in one query; None if it has no open membership there.

    Being a superuser opens no yard.
    """
    if not isinstance(user, User) or not user.is_active:
        return None
    membership = (
        Membership.objects.select_related("yard", "person")
        .filter(user=user, yard__slug=yard_slug, yard__retired_on__isnull=True, ended_on__isnull=True)
        .first()
    )
    if membership is None:
        return None
    yard = membership.yard
    return Actor(user, yard, membership.role, membership.person, yard_today(yard))


def memberships_of(user: User) -> list[Membership]:
    """The yards an account may enter and its role in each, by name."""
    return list(
        Membership.objects.select_related("yard")
        .filter(user=user, yard__retired_on__isnull=True, ended_on__isnull=True)
        .order_by("yard__name")
    )


def side(
    *roles: str,
) -> Callable[
    [Callable[Concatenate[HttpRequest, Actor, P], HttpResponseBase]], Callable[..., HttpResponseBase]
]:
    """Guard a page under `<slug:yard>/`: it gets the actor as its second argument.

    Nobody logged in is sent to log in (302). Another yard, and one that does not exist, are both not found
    (404), so that names of yards do not leak. The wrong role is refused (403).
    """
    unknown = set(roles) - set(Role.values)
    if unknown or not roles:
        raise ValueError(f"a page is for some of {Role.values}, not {roles}")

    def guard(
        view: Callable[Concatenate[HttpRequest, Actor, P], HttpResponseBase],
    ) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def guarded(request: HttpRequest, yard: str, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            who = actor_for(request.user, yard)
            if who is None:
                raise Http404("No such yard.")
            if who.role not in roles:
                raise PermissionDenied(f"This page is for {' and '.join(roles)}.")
            return view(request, who, *args, **kwargs)

        marked: Any = guarded
        marked.roles = roles
        return guarded

    return guard
