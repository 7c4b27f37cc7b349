"""The Wall of the demo yard with a real plan: its limits, and bars that stand beside each other."""

from __future__ import annotations

import re
from collections import defaultdict
from itertools import pairwise
from typing import Any

import pytest
from django.apps import apps
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from scheduling.actions.packing import work_on
from scheduling.actions.packs import ask_pack
from scheduling.actions.plans import post_plan
from scheduling.loading.winter import read_winter
from scheduling.models import Board, Pack, Reasons
from scheduling.pages.strips import Strip, strips_of
from tests.cast import PASSWORD, TODAY
from tests.scheduling.test_reasons import WHERE
from yard.models import Membership, Person, Season, User
from yard.roles import Actor, actor_for

pytestmark = pytest.mark.slow


def manager_of(season: Season) -> Actor:
    who = actor_for(User.objects.get(username="manager"), season.yard.slug)
    assert who is not None
    return who


@pytest.fixture
def packed(season: Season, settings: Any) -> Pack:
    """The demo yard packed for some seconds, with nobody but a manager and one of the crew."""
    settings.SHEDTIDE_TODAY = TODAY
    for role, person in (("manager", None), ("crew", Person.objects.of(season.yard).first())):
        user = User.objects.create_user(role, password=PASSWORD)
        Membership.objects.create(yard=season.yard, user=user, role=role, person=person)
    pack = ask_pack(manager_of(season), season=season, seconds=5)
    work_on(pack.pk, worker="test")
    pack.refresh_from_db()
    assert pack.plan, pack.reason
    return pack


def page(packed: Pack, role: str, side: str) -> bytes:
    client = Client()
    client.force_login(User.objects.get(username=role))
    with CaptureQueriesContext(connection) as queries:
        answer = client.get(f"/{packed.yard.slug}/{side}/")
    assert answer.status_code == 200
    assert len(queries) <= 25
    assert len(answer.content) <= 100_000
    return answer.content


def test_the_demo_yards_pages_keep_to_their_limits_and_name_every_boat(packed: Pack) -> None:
    wall = page(packed, "manager", "wall")
    assert len(re.findall(rb"<[a-z]", wall)) <= 1_400
    for treatment in packed.season.treatments.all():
        assert treatment.boat.name.encode() in wall
    page(packed, "crew", "today")
    page(packed, "manager", "desk")


def test_no_two_boats_are_drawn_in_one_bay_at_once(packed: Pack) -> None:
    winter = read_winter(packed.yard, TODAY, draft=True)
    assert winter is not None
    bays: dict[int, list[Strip]] = defaultdict(list)
    for boat in winter.boats:
        for strip in strips_of(boat, packed.plan, TODAY):
            if strip.bay is not None and strip.until > TODAY:
                bays[strip.bay].append(strip)
    assert sum(len(strips) for strips in bays.values()) > 40
    for strips in bays.values():
        for before, after in pairwise(sorted(strips, key=lambda strip: strip.first)):
            assert before.until <= after.first, (before.boat.name, after.boat.name, after.first)


def test_every_day_the_plan_gives_a_boat_is_drawn(packed: Pack) -> None:
    """What the plan has from tomorrow on stands on the board where the plan has it."""
    winter = read_winter(packed.yard, TODAY, draft=True)
    assert winter is not None and packed.plan is not None
    for boat in winter.boats:
        strips = strips_of(boat, packed.plan, TODAY)
        for row in boat.placed.get(packed.plan.pk, []):
            if row.first_day > TODAY:
                assert any(
                    strip.bay == row.bay_id and strip.first <= row.first_day and row.last_day < strip.until
                    for strip in strips
                ), (boat.name, row.label)


def test_each_planned_stage_of_the_demo_yard_says_why_and_every_way_leads_somewhere(packed: Pack) -> None:
    plan = packed.plan
    assert plan is not None
    board = Board.objects.get()
    post_plan(manager_of(packed.season), board=board, version=board.version, plan=plan)
    known: dict[str, set[int]] = {}
    for row in Reasons.objects.filter(plan=plan):
        planned = plan.placements.filter(stage__treatment=row.treatment_id, stage__status="waiting")
        assert {why["stage"] for why in row.stages} >= set(planned.values_list("stage", flat=True))
        for why in row.stages + row.chain:
            known.setdefault(why["about"], set()).update(why["pks"])
    for about, pks in known.items():
        if about in WHERE:
            model: Any = apps.get_model(WHERE[about])
            assert model.objects.of(packed.yard).filter(pk__in=pks).count() == len(pks) > 0, about
    assert len(known) >= 5
    for role in ("manager", "crew"):
        client = Client()
        client.force_login(User.objects.get(username=role))
        ways = set()
        for treatment in packed.season.treatments.all():
            text = client.get(f"/{packed.yard.slug}/boat/{treatment.boat_id}/").content.decode()
            ways |= set(re.findall(r'<a href="([^"#]*)[^"]*">See ', text))
        assert len(ways) >= 10
        for way in ways:
            assert client.get(way.replace("&amp;", "&")).status_code == 200, (role, way)
