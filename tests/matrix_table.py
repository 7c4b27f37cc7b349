"""Every address of the site, who may use it and what they get. An address that is not listed here fails the
suite.

To add a page, add its row: the route as the address book has it, the roles, what GET and POST answer them
(405 where
the page has no such method), the objects in its address, and what a form sends. Everybody else's answers
follow.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tests.cast import TODAY, BoatFactory, Cast, SeasonFactory, full_scheme
from yard.actions.stoppages import stop_work
from yard.actions.treatments import open_treatment
from yard.models import CoatingSheet, Stoppage, Treatment, Yard
from yard.roles import Actor

MANAGER, CREW, OFFICE = "manager", "crew", "office"
ADMIN = "admin/"
"""Addresses under this one belong to the admin site and have tests of their own."""


def nothing(cast: Cast) -> dict[str, Any]:
    """No object in the address; or an empty form."""
    return {}


@dataclass(frozen=True)
class Page:
    """A page of a yard.

    Nobody logged in is sent to log in (302); who is no member of the yard finds nothing (404); a wrong role
    is refused
    (403); and an object of another yard is not found (404), whoever asks.
    """

    roles: set[str]
    get: int = 200
    post: int = 405
    mine: Callable[[Cast], dict[str, Any]] = nothing
    theirs: Callable[[Cast], dict[str, Any]] = nothing
    form: Callable[[Cast], dict[str, Any]] = nothing


@dataclass(frozen=True)
class Open:
    """An address outside any yard: what it answers, and what it answers those logged in if that differs."""

    get: int
    post: int
    get_known: int | None = None
    post_known: int | None = None


def treatment_of(cast: Cast) -> Treatment:
    """Her open treatment, made once."""
    found = Treatment.objects.of(cast.yard).first()
    return found or open_treatment(
        cast.manager, boat=cast.boat, scheme=cast.scheme, season=cast.season, arrives_on=TODAY
    )


def their_treatment(cast: Cast) -> Treatment:
    """A treatment in the other yard, made once."""
    found = Treatment.objects.of(cast.other_yard).first()
    return found or open_treatment(
        cast.other_manager,
        boat=BoatFactory(yard=cast.other_yard),
        scheme=full_scheme(cast.other_yard),
        season=SeasonFactory(yard=cast.other_yard),
        arrives_on=TODAY,
    )


def a_sheet(yard: Yard) -> CoatingSheet:
    """A coating sheet of a yard, made once."""
    return CoatingSheet.objects.get_or_create(yard=yard, name="plain epoxy")[0]


def a_stoppage(manager: Actor) -> Stoppage:
    """A day on which the manager's yard is closed, made once."""
    found = Stoppage.objects.of(manager.yard).first()
    return found or stop_work(
        manager, subject=None, kind="closed", first_day=TODAY, last_day=TODAY, why="storm"
    )


TABLE: dict[str, Page | Open] = {
    "healthz": Open(get=200, post=405),
    "": Open(get=302, post=405, get_known=200),
    "login/": Open(get=200, post=200),
    "logout/": Open(get=405, post=302),
    "<slug:yard>/schemes/": Page({MANAGER, CREW, OFFICE}),
    "<slug:yard>/schemes/<int:scheme>/": Page(
        {MANAGER, CREW, OFFICE},
        mine=lambda cast: {"scheme": cast.scheme.pk},
        theirs=lambda cast: {"scheme": their_treatment(cast).scheme_id},
    ),
    "<slug:yard>/schemes/stage/<int:stage>/": Page(
        {MANAGER},
        post=422,
        mine=lambda cast: {"stage": cast.scheme.stages.get(kind="lift").pk},
        theirs=lambda cast: {"stage": their_treatment(cast).scheme.stages.get(kind="lift").pk},
    ),
    "<slug:yard>/norms/": Page({MANAGER, CREW, OFFICE}),
    "<slug:yard>/norms/drying/<slug:regime>/": Page(
        {MANAGER}, post=422, mine=lambda cast: {"regime": "tent"}
    ),
    "<slug:yard>/norms/sheet/": Page({MANAGER}, post=422),
    "<slug:yard>/norms/sheet/<int:sheet>/": Page(
        {MANAGER},
        post=422,
        mine=lambda cast: {"sheet": a_sheet(cast.yard).pk},
        theirs=lambda cast: {"sheet": a_sheet(cast.other_yard).pk},
    ),
    "<slug:yard>/wall/": Page({MANAGER}),
    "<slug:yard>/wall/pack/": Page({MANAGER}, get=302, post=302),
    "<slug:yard>/wall/pack/stop/": Page({MANAGER}, get=405, post=422),
    "<slug:yard>/wall/helps/": Page({MANAGER}, post=422),
    "<slug:yard>/wall/helps/stop/": Page({MANAGER}, get=405, post=422),
    "<slug:yard>/wall/out/": Page({MANAGER}, post=422),
    "<slug:yard>/wall/out/<int:stoppage>/back/": Page(
        {MANAGER},
        get=405,
        post=422,
        mine=lambda cast: {"stoppage": a_stoppage(cast.manager).pk},
        theirs=lambda cast: {"stoppage": a_stoppage(cast.other_manager).pk},
    ),
    "<slug:yard>/wall/out/<int:stoppage>/off/": Page(
        {MANAGER},
        get=405,
        post=409,
        mine=lambda cast: {"stoppage": a_stoppage(cast.manager).pk},
        theirs=lambda cast: {"stoppage": a_stoppage(cast.other_manager).pk},
    ),
    "<slug:yard>/wall/post/": Page({MANAGER}, get=405, post=409),
    "<slug:yard>/wall/undo/": Page({MANAGER}, get=405, post=422),
    "<slug:yard>/today/": Page({MANAGER, CREW}),
    "<slug:yard>/today/stage/<int:stage>/<slug:word>/": Page(
        {MANAGER, CREW},
        get=405,
        post=302,
        mine=lambda cast: {"stage": treatment_of(cast).stages.get(kind="lift").pk, "word": "start"},
        theirs=lambda cast: {"stage": their_treatment(cast).stages.get(kind="lift").pk, "word": "start"},
        form=lambda cast: {"day": TODAY.isoformat()},
    ),
    "<slug:yard>/desk/": Page({MANAGER, OFFICE}),
    "<slug:yard>/desk/enquiry/": Page({MANAGER, OFFICE}),
    "<slug:yard>/desk/ask/<int:treatment>/": Page(
        {MANAGER, OFFICE},
        mine=lambda cast: {"treatment": treatment_of(cast).pk},
        theirs=lambda cast: {"treatment": their_treatment(cast).pk},
    ),
    "<slug:yard>/desk/promise/<int:treatment>/": Page(
        {MANAGER, OFFICE},
        get=405,
        post=302,
        mine=lambda cast: {"treatment": treatment_of(cast).pk},
        theirs=lambda cast: {"treatment": their_treatment(cast).pk},
        form=lambda cast: {"date": "01/04/2027", "kind": "week", "how": "phone"},
    ),
    "<slug:yard>/boat/<int:boat>/": Page(
        {MANAGER, CREW, OFFICE},
        mine=lambda cast: {"boat": treatment_of(cast).boat_id},
        theirs=lambda cast: {"boat": their_treatment(cast).boat_id},
    ),
    "<slug:yard>/boat/<int:boat>/correct/": Page(
        {MANAGER},
        get=405,
        post=422,
        mine=lambda cast: {"boat": treatment_of(cast).boat_id},
        theirs=lambda cast: {"boat": their_treatment(cast).boat_id},
    ),
    "<slug:yard>/boat/<int:boat>/arrival/": Page(
        {MANAGER, OFFICE},
        get=405,
        post=422,
        mine=lambda cast: {"boat": treatment_of(cast).boat_id},
        theirs=lambda cast: {"boat": their_treatment(cast).boat_id},
    ),
    "<slug:yard>/boat/<int:boat>/measure/": Page(
        {MANAGER, CREW},
        mine=lambda cast: {"boat": treatment_of(cast).boat_id},
        theirs=lambda cast: {"boat": their_treatment(cast).boat_id},
    ),
    "<slug:yard>/boat/<int:boat>/measure/round/": Page(
        {MANAGER, CREW},
        get=405,
        post=422,
        mine=lambda cast: {"boat": treatment_of(cast).boat_id},
        theirs=lambda cast: {"boat": their_treatment(cast).boat_id},
    ),
    "<slug:yard>/boat/<int:boat>/measure/wash/": Page(
        {MANAGER, CREW},
        get=405,
        post=422,
        mine=lambda cast: {"boat": treatment_of(cast).boat_id},
        theirs=lambda cast: {"boat": their_treatment(cast).boat_id},
    ),
    "<slug:yard>/boat/<int:boat>/measure/reading/": Page(
        {MANAGER, CREW},
        get=405,
        post=422,
        mine=lambda cast: {"boat": treatment_of(cast).boat_id},
        theirs=lambda cast: {"boat": their_treatment(cast).boat_id},
    ),
    "<slug:yard>/boat/<int:boat>/sign/": Page(
        {MANAGER},
        post=422,
        mine=lambda cast: {"boat": treatment_of(cast).boat_id},
        theirs=lambda cast: {"boat": their_treatment(cast).boat_id},
    ),
    "<slug:yard>/air/": Page({MANAGER, CREW}),
}
