"""What would help, as the manager reads it: what each thing saves, costs and leaves, and of which plan."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from html import unescape
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext, override_settings
from django.utils import timezone

from scheduling.actions.claims import claim_pack, store_result
from scheduling.actions.packs import ask_pack
from scheduling.actions.plans import post_plan
from scheduling.engine.helps import Help
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.problem import Problem
from scheduling.loading.winter import pack_of
from scheduling.models import Board, Pack, PackKind, PackState, Plan
from scheduling.pages.helps import between
from tests.cast import TODAY, Cast
from tests.scheduling.planning_engine import result_of
from tests.scheduling.winter import small_winter
from yard.actions.promises import record_promise
from yard.models import Treatment

PAGE = "/quiet-creek/wall/helps/"
BUTTON = "Work out what would help"


def post(cast: Cast) -> Plan:
    """Pack the season as simply as can be and post the plan."""
    pack = ask_pack(cast.manager, season=cast.season)
    claim = claim_pack("test", pack.pk)
    assert claim is not None
    plan = store_result(claim, to_json(result_of(from_json(Problem, claim.problem))))
    assert plan is not None
    board = Board.objects.get(season=cast.season)
    return post_plan(cast.manager, board=board, version=board.version, plan=plan)


@pytest.fixture(scope="module")
def small(django_db_setup: None, django_db_blocker: Any) -> Iterator[Cast]:
    """The small winter with its first plan posted, made once a module."""
    with django_db_blocker.unblock(), override_settings(SHEDTIDE_TODAY=TODAY), transaction.atomic():
        cast = Cast()
        small_winter(cast)
        post(cast)
        yield cast
        transaction.set_rollback(True)


@pytest.fixture
def posted(small: Cast, db: None, settings: Any) -> Cast:
    settings.SHEDTIDE_TODAY = TODAY
    return small


@pytest.fixture
def manager(posted: Cast) -> Client:
    client = Client()
    client.force_login(posted.manager.user)
    return client


@pytest.fixture
def asked(posted: Cast) -> Pack:
    """A pack in the queue that was asked what would help against the posted plan."""
    return ask_pack(posted.manager, season=posted.season, kind=PackKind.HELPS)


def a_help(kind: str, says: str, **values: Any) -> dict[str, Any]:
    known: dict[str, Any] = {
        "kind": kind, "what": "x", "amount": 1, "start": 5, "until": 9, "day": date(2026, 12, 1),
        "says": says, "saves_low": 0, "saves_high": 0, "clear": False,
    }  # fmt: skip
    return dict(to_json(Help(**known | values)))


def ended(pack: Pack, *found: dict[str, Any], state: PackState = PackState.DONE, why: str = "so") -> None:
    """The pack as a worker leaves it."""
    Pack.objects.filter(pk=pack.pk).update(
        state=state, progress={"helps": list(found)}, reason=why, finished_at=timezone.now()
    )


def words(client: Client, address: str = PAGE, **headers: Any) -> str:
    """What is written on the page, a space where there was a tag."""
    page = client.get(address, **headers)
    assert page.status_code == 200
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", page.content.decode())).split())


def test_what_an_earlier_version_stored_is_worked_out_again(manager: Client, asked: Pack) -> None:
    ended(asked, {"kind": "bay", "gone": 1})
    assert "Work" in words(manager)


# --- Asking -----------------------------------------------------------------------------------------------
def test_the_manager_asks_and_sees_how_far_it_is(manager: Client) -> None:
    plan = Plan.objects.get()
    assert BUTTON in words(manager)
    answer = manager.post(PAGE)
    assert (answer.status_code, answer["Location"]) == (302, PAGE)
    pack = Pack.objects.latest("pk")
    assert (pack.kind, pack.state, pack.start_from) == ("helps", "queued", plan)
    Pack.objects.filter(pk=pack.pk).update(
        state="working", phase="5 of 27 searches", progress={"searches": [5, 27]}
    )
    html = manager.get(PAGE).content.decode()
    assert "Working: 5 of 27 searches." in html and 'max="27" value="5"' in html
    assert '<noscript><meta http-equiv="refresh"' in html and f'hx-get="{PAGE}"' in html
    assert BUTTON not in html


def test_what_is_polled_is_a_part_of_the_page_and_is_asked_for_no_more_once_it_has_ended(
    manager: Client, asked: Pack
) -> None:
    answer = manager.get(PAGE, HTTP_HX_REQUEST="true")
    part = answer.content.decode()
    assert part.startswith('<div id="found" hx-get') and "<html" not in part
    assert "HX-Refresh" not in answer
    ended(asked, a_help("kit", "one more tent L"))
    answer = manager.get(PAGE, HTTP_HX_REQUEST="true")
    part = answer.content.decode()
    assert "hx-get" not in part and "One more tent L" in part
    assert answer["HX-Refresh"] == "true"


def test_without_a_posted_plan_it_says_what_to_do_first(manager: Client) -> None:
    Board.objects.update(posted=None)
    assert "Pack the sheds on the Wall and post the plan." in words(manager)
    assert BUTTON not in words(manager)
    answer = manager.post(PAGE)
    assert answer.status_code == 422 and "post the plan first" in answer.content.decode()


def test_while_the_packer_is_at_work_on_a_plan_it_is_not_asked(posted: Cast, manager: Client) -> None:
    ask_pack(posted.manager, season=posted.season)
    assert "The packer is at work" in words(manager) and BUTTON not in words(manager)
    answer = manager.post(PAGE)
    assert answer.status_code == 422 and "at work on this season already" in answer.content.decode()


# --- What is found ----------------------------------------------------------------------------------------
def test_each_thing_has_what_it_saves_and_costs_and_what_is_left_over(manager: Client, asked: Pack) -> None:
    treatment = Treatment.objects.get(boat__name="Alder")
    saves = {"saves_low": 123_400, "saves_high": 187_600, "clear": True}
    ended(
        asked,
        a_help("kit", "one more tent L", price=40_000, taken=20, **saves),
        a_help("bay", "one more bay like H1", **saves),
        a_help("promise", "Alder promised a week later", what=str(treatment.pk), price=0, **saves),
        a_help(
            "again",
            "packing again with nothing more",
            price=0,
            saves_low=50_000,
            saves_high=50_000,
            clear=True,
        ),
        a_help("day", "work on Sat 12 Dec", price=135_400, taken=1_775, saves_high=40_000),
    )
    text = words(manager)
    for line in (
        # 834 to 1,476 are left, said outwards in two figures.
        "One more tent L £1,200 to £1,900 £400 for 20 days £830 to £1,500",
        "One more bay like H1 £1,200 to £1,900 price: ask pays below £1,200",
        "Alder back a week later £1,200 to £1,900 a call £1,200 to £1,900",
        "Packing again with nothing more £500 nothing £500",
        "Work on Sat 12 Dec up to £400 £1,354 for 30 h no clear gain",
    ):
        assert line in text
    assert text.index("Alder back") < text.index("One more tent L") < text.index("Work on Sat")
    assert f"Worked out against plan {Plan.objects.latest('pk').number}." in text


def test_only_who_was_promised_a_day_is_promised_a_later_one(
    posted: Cast, manager: Client, asked: Pack
) -> None:
    alder = Treatment.objects.get(boat__name="Alder")
    ended(asked, a_help("promise", "Alder promised a week later", what=str(alder.pk)))
    assert "Alder back a week later nothing" in words(manager)
    record_promise(posted.manager, treatment=alder, kind="week", promised_on=date(2027, 4, 5), how="phone")
    assert "Alder promised a week later nothing" in words(manager)


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0, 0, "nothing"),
        (0, 1_201, "up to £13"),
        (50_000, 50_000, "£500"),
        (123_400, 187_600, "£1,200 to £1,900"),
        (99_999, 100_001, "£990 to £1,100"),
        (-123_400, 1_000, "−£1,300 to £10"),
    ],
)
def test_a_range_is_said_in_two_figures_outwards(low: int, high: int, said: str) -> None:
    assert between(low, high, "GBP") == said


def test_each_thing_leads_to_where_it_can_be_looked_at(manager: Client, asked: Pack) -> None:
    treatment = Treatment.objects.get(boat__name="Alder")
    ended(
        asked,
        a_help("promise", "Alder promised a week later", what=str(treatment.pk)),
        a_help("hand", "one more hand for coat in December"),
        a_help("kit", "one more tent L"),
    )
    html = manager.get(PAGE).content.decode()
    for href, what in (
        (f"/quiet-creek/boat/{treatment.boat_id}/", "Alder back a week later"),
        ("/quiet-creek/wall/?plan=posted&amp;weeks=8&amp;from=2026-12-01", "One more hand for coat"),
        ("/quiet-creek/wall/?plan=posted", "One more tent L"),
    ):
        assert f'<a href="{href}">{what}' in html
        assert manager.get(href.replace("&amp;", "&")).status_code == 200


def test_what_has_no_price_is_to_be_asked_for_by_its_days(manager: Client, asked: Pack) -> None:
    ended(asked, a_help("lift day", "one more day of the blaster", taken=1, saves_low=100, saves_high=100))
    assert "price: ask, for 1 day no clear gain" in words(manager)


def test_where_nothing_helps_it_says_so(manager: Client, asked: Pack) -> None:
    ended(asked)
    assert "Nothing was found that would help." in words(manager)
    ended(asked, a_help("kit", "one more tent L"))
    assert "Nothing that was tried would clearly help." in words(manager)
    assert "One more tent L nothing price: ask no clear gain" in words(manager)


def test_a_failure_is_said_and_it_can_be_asked_again(manager: Client, asked: Pack) -> None:
    ended(asked, state=PackState.FAILED, why="The engine ran out of memory.")
    assert "It could not be worked out. The engine ran out of memory." in words(manager)
    assert BUTTON in words(manager)


def test_stop_keeps_what_is_found(manager: Client, asked: Pack) -> None:
    Pack.objects.filter(pk=asked.pk).update(
        state="working", progress={"helps": [a_help("kit", "one more tent L")], "searches": [6, 27]}
    )
    assert "One more tent L" in words(manager)
    assert manager.post(f"{PAGE}stop/").status_code == 302
    asked.refresh_from_db()
    assert asked.stop_asked_at is not None
    assert "Stopping" in words(manager)
    ended(asked, a_help("kit", "one more tent L"), state=PackState.STOPPED)
    assert "Stopped; what was found until then is kept." in words(manager)
    assert "One more tent L" in words(manager) and BUTTON in words(manager)
    assert manager.post(f"{PAGE}stop/").status_code == 422


def test_what_is_stopped_before_it_began_has_found_nothing_and_judges_nothing(
    manager: Client, asked: Pack
) -> None:
    assert manager.post(f"{PAGE}stop/").status_code == 302
    text = words(manager)
    assert "Stopped before anything was found." in text and "Nothing was found" not in text


def test_the_wall_says_that_the_packer_is_busy_with_what_would_help(manager: Client, asked: Pack) -> None:
    answer = manager.post("/quiet-creek/wall/pack/")
    assert answer.status_code == 422
    assert "working out what would help: stop it on the page “What would help?”" in answer.content.decode()


# --- Of which plan ----------------------------------------------------------------------------------------
def test_once_another_plan_is_posted_the_figures_are_said_to_be_of_the_old_one(
    posted: Cast, manager: Client, asked: Pack
) -> None:
    old = Plan.objects.latest("pk")
    ended(asked, a_help("kit", "one more tent L"))
    assert "Another plan" not in words(manager)
    post(posted)
    said = f"Another plan is posted since: these figures are of plan {old.number}."
    assert said in words(manager) and "One more tent L" in words(manager)


def test_what_was_noted_in_the_yard_since_is_said_not_to_be_counted(
    posted: Cast, manager: Client, asked: Pack
) -> None:
    ended(asked, a_help("kit", "one more tent L"))
    assert "noted in the yard since" not in words(manager)
    record_promise(
        posted.manager,
        treatment=Treatment.objects.get(boat__name="Alder"),
        kind="week",
        promised_on=date(2027, 4, 5),
        how="phone",
    )
    assert "Something has been noted in the yard since" in words(manager)


def test_the_wall_leads_here_and_does_not_take_this_for_a_plan(
    posted: Cast, manager: Client, asked: Pack
) -> None:
    assert f'href="{PAGE}"' in manager.get("/quiet-creek/wall/").content.decode()
    last = pack_of(posted.season)
    assert last is not None and last.kind == PackKind.PACK


def test_the_page_takes_no_more_queries_however_much_is_found(manager: Client, asked: Pack) -> None:
    counts = []
    for found in (1, 8):
        ended(asked, *(a_help("kit", f"one more tent {n}") for n in range(found)))
        with CaptureQueriesContext(connection) as queries:
            manager.get(PAGE)
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 22
