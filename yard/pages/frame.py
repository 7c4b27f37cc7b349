"""What every page of a yard has: its sides, its day, and who looks at it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from yard.models import Role
from yard.roles import Actor

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
