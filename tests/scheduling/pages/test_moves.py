"""Mending the posted plan from the Wall: what moves, why, and which promises that would miss."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from django.utils.html import strip_tags

from scheduling.actions.claims import store_result
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.problem import Problem
from scheduling.engine.repair import repair
from scheduling.loading.winter import read_winter
from scheduling.models import Board, Forecast, Pack, PackKind, Plan
from scheduling.pages import moves
from tests.cast import TODAY, Cast
from tests.scheduling.test_moves import asked, close, searched
from yard.actions.promises import record_promise
from yard.models import Owner, Treatment, YardSettings

WALL = "/quiet-creek/wall/"


@pytest.fixture
def manager(winter: Cast) -> Client:
    client = Client()
    client.force_login(winter.manager.user)
    return client


@pytest.fixture
def posted(winter: Cast, manager: Client) -> Plan:
    """Alder in H1, Bramble in H2, Clover in H3, from 1 to 7 December."""
    plan = searched(winter)
    manager.post(f"{WALL}post/", {"number": plan.number})
    return Plan.objects.get(posted_at__isnull=False)


def mend(winter: Cast) -> Pack:
    """The posted plan mended in this process."""
    claim = asked(winter, PackKind.REPAIR)
    store_result(claim, to_json(repair(from_json(Problem, claim.problem), work=20)))
    return Pack.objects.get(pk=claim.pack_id)


def promise(winter: Cast, boat: str, on: date) -> None:
    treatment = Treatment.objects.get(boat__name=boat)
    record_promise(winter.manager, treatment=treatment, promised_on=on, kind="firm", how="phone")


def words(page: bytes) -> str:
    """What the page says, without its tags."""
    return " ".join(strip_tags(page.decode()).replace("&amp;", "&").split())


def test_what_moves_is_listed_boat_by_boat_with_its_reason(
    winter: Cast, posted: Plan, manager: Client
) -> None:
    close(winter, "H2")
    mend(winter)
    said = words(manager.get(WALL).content)
    assert "These 2 placements move" in said
    assert "Bramble, because H2 is closed on Tue 1 Dec." in said
    assert "wash: Tue 1 Dec → Thu 10 Dec, H2" in said and "fair: Thu 3 Dec → Mon 14 Dec, H2" in said
    assert "No promise that the posted plan keeps would be missed." in said
    assert "frozen days" not in said
    assert "These 2 placements" not in words(manager.get(WALL, {"plan": "posted"}).content)


def test_what_moves_within_the_frozen_days_is_marked(winter: Cast, posted: Plan, manager: Client) -> None:
    YardSettings.objects.filter(yard=winter.yard).update(frozen_days=6)  # until 1 December
    close(winter, "H2")
    mend(winter)
    assert words(manager.get(WALL).content).count("frozen days") == 1


def test_a_promise_it_would_miss_is_named_with_whom_to_ring(
    winter: Cast, posted: Plan, manager: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    Owner.objects.filter(pk=winter.owner.pk).update(name="A. Quill", phone="01632 960123")
    for boat in ("Bramble", "Clover"):  # posted until the 7th; the first bay is free again on the 8th
        promise(winter, boat, date(2026, 12, 11))
    promise(winter, "Alder", date(2026, 12, 4))  # late as posted, and no later now
    close(winter, "H2")
    mend(winter)
    page = manager.get(WALL).content
    missed = (
        "Bramble, promised Fri 11 Dec (firm): 3 days late, in time as posted; ring A. Quill, 01632 960123"
    )
    assert missed in words(page)
    assert b'href="tel:01632960123"' in page
    assert "Alder, promised" not in words(page)
    monkeypatch.setattr(Plan, "may_change", Plan.may_change | {"moves"})
    Plan.objects.filter(pk=Board.objects.get().draft_id).update(moves=[])  # as if they could not be found
    page = manager.get(WALL).content
    assert missed in words(page) and "placements move" not in words(page)


def test_where_what_moves_could_not_be_found_the_wall_does_not_look_as_if_nothing_moved(
    winter: Cast, posted: Plan, manager: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    unsaid = "What this draft moves, and why, was not worked out."
    searched(winter)  # as it is posted
    assert unsaid not in words(manager.get(WALL).content)

    def fail(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("scheduling.actions.moves.moves", fail)
    close(winter, "H2")
    plan = mend(winter).plan
    assert plan is not None and plan.moves == []
    assert unsaid in words(manager.get(WALL).content)
    assert unsaid not in words(manager.get(WALL, {"plan": "posted"}).content)


def test_a_promise_it_puts_at_risk_is_named_with_its_odds(
    winter: Cast, posted: Plan, manager: Client, django_assert_max_num_queries: Any
) -> None:
    for boat in ("Alder", "Bramble", "Clover"):
        promise(winter, boat, date(2026, 12, 24))
    close(winter, "H2")
    plan = mend(winter).plan
    for boat, was, now in (("Alder", 95, 91), ("Bramble", 92, 71), ("Clover", 80, 40)):
        treatment = Treatment.objects.get(boat__name=boat)
        for each, odds in ((posted, was), (plan, now)):
            Forecast.objects.create(
                plan=each, treatment=treatment, as_of=timezone.now() + timedelta(minutes=1), likely_pct=60,
                safe_pct=90, promise_date=date(2026, 12, 24), odds_pct=odds, dots=[],
            )  # fmt: skip
    YardSettings.objects.filter(yard=winter.yard).update(
        likely_pct=30, safe_pct=95
    )  # no promise is held to these
    with django_assert_max_num_queries(25):
        said = words(manager.get(WALL).content)
    assert "Promises it puts at risk" in said and "Alder, promised" not in said
    clover = said.index("Clover, promised Thu 24 Dec (firm): odds of 40 %, 80 % as posted")
    assert clover < said.index("Bramble, promised Thu 24 Dec (firm): odds of 71 %, 92 % as posted")


def test_the_boats_in_her_way_are_linked(winter: Cast, posted: Plan, manager: Client) -> None:
    entry = searched(winter, later=1).moves[0]  # Alder's
    other = Treatment.objects.get(boat__name="Bramble").pk
    entry |= {"cause": "boat", "says": "H1 is full on Tue 1 Dec: Bramble", "others": [other]}
    seen = read_winter(winter.yard, TODAY, draft=True)
    assert seen is not None and seen.draft is not None
    seen.draft.moves = [entry]
    (told,) = moves.moves_of(seen, seen.draft).boats
    assert (told.boat.name, told.why) == ("Alder", "H1 is full on Tue 1 Dec: ")
    assert [one.name for one in told.others] == ["Bramble"]


def test_a_stage_whose_day_is_over_says_when_it_was_posted(
    winter: Cast, posted: Plan, manager: Client, settings: Any
) -> None:
    settings.SHEDTIDE_TODAY = date(2026, 12, 3)  # and nobody has begun to wash
    mend(winter)
    said = words(manager.get(WALL).content)
    assert "because wash has no day left in the posted plan" in said
    assert "wash: Tue 1 Dec → Thu 3 Dec, H1" in said


def test_of_very_many_moves_each_boat_shows_her_first(
    winter: Cast, posted: Plan, manager: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    searched(winter, later=1)
    said = words(manager.get(WALL).content)
    assert "These 6 placements move" in said and "more" not in said
    monkeypatch.setattr(moves, "MOST", 5)
    assert words(manager.get(WALL).content).count("and 1 more") == 3


def test_mending_is_asked_for_only_where_a_plan_is_posted(winter: Cast, manager: Client) -> None:
    assert b"Mend the plan" not in manager.get(WALL).content
    refused = manager.post(f"{WALL}pack/", {"kind": "repair"})
    assert refused.status_code == 422
    assert "pack the sheds and post the plan first" in words(refused.content)
    assert not Pack.objects.exists()


def test_the_button_asks_for_a_repair_and_the_wall_shows_that_it_is_at_work(
    winter: Cast, posted: Plan, manager: Client
) -> None:
    assert b"Mend the plan" in manager.get(WALL).content
    assert manager.post(f"{WALL}pack/", {"kind": "repair"}).status_code == 302
    pack = Pack.objects.latest("pk")
    assert (pack.kind, pack.seconds) == ("repair", 5)
    assert "Mending the plan" in words(manager.get(WALL).content)
    assert Board.objects.get().posted == posted


def test_a_plan_that_still_holds_is_said_so(winter: Cast, posted: Plan, manager: Client) -> None:
    mend(winter)
    assert "The posted plan still holds; nothing has to move. That was at" in words(manager.get(WALL).content)
