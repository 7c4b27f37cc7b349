"""Something happens: it is entered, the posted plan is mended, and no promise breaks without a word."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.test import Client

from scheduling.actions.claims import claim_pack, store_result
from scheduling.actions.packs import ask_pack
from scheduling.actions.plans import post_plan
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.problem import Problem
from scheduling.engine.repair import repair
from scheduling.engine.solve import solve
from scheduling.models import Board, Pack, Placement, Plan
from tests.cast import (
    TODAY,
    BayFactory,
    BoatFactory,
    Cast,
    HoistFactory,
    OwnerFactory,
    PersonFactory,
    SkillFactory,
    StageNormFactory,
)
from tests.scheduling.full_winter import tides_by_formula
from tests.scheduling.pages.test_moves import words
from tests.scheduling.winter import ARRIVES, NAMES, short_scheme
from yard.actions.promises import record_promise
from yard.actions.treatments import open_treatment
from yard.models import Demand, PersonSkill, Scheme, Stoppage, Treatment, WorkingWeek, YardSettings
from yard.roles import Actor

SITE = "/quiet-creek/"


@pytest.fixture
def yard(cast: Cast, settings: Any) -> Cast:
    """Three bays, and the scheme of two days of washing and three of fairing."""
    settings.SHEDTIDE_TODAY = TODAY
    BayFactory(yard=cast.yard, air=cast.air, name="H3")
    short_scheme(cast)
    return cast


@pytest.fixture
def manager(cast: Cast) -> Client:
    return client_of(cast.manager)


def client_of(who: Actor) -> Client:
    client = Client()
    client.force_login(who.user)
    return client


def scheme_of(cast: Cast) -> Scheme:
    return Scheme.objects.get(yard=cast.yard, name="short")


def boats_promised(cast: Cast, *days: date) -> None:
    """Alder, Bramble and Clover from 1 December, each promised for a day."""
    for number, (name, on) in enumerate(zip(NAMES, days, strict=True)):
        owner = OwnerFactory(yard=cast.yard, name=f"Owner of {name}", phone=f"01632 96010{number}")
        treatment = open_treatment(
            cast.manager,
            boat=BoatFactory(yard=cast.yard, owner=owner, name=name),
            scheme=scheme_of(cast),
            season=cast.season,
            arrives_on=ARRIVES,
        )
        record_promise(cast.manager, treatment=treatment, promised_on=on, kind="firm", how="phone")


def post_a_plan(cast: Cast) -> Plan:
    """The engine's own plan of the season, posted."""
    pack = ask_pack(cast.manager, season=cast.season)
    claim = claim_pack("test", pack.pk)
    assert claim is not None
    plan = store_result(claim, to_json(solve(from_json(Problem, claim.problem), work=20, workers=1)))
    board = Board.objects.get(season=cast.season)
    assert plan is not None and not plan.unplaced.exists()
    return post_plan(cast.manager, board=board, version=board.version, plan=plan)


def mend(manager: Client) -> Pack:
    """Ask on the Wall for the plan to be mended, and let it be done."""
    assert manager.post(f"{SITE}wall/pack/", {"kind": "repair"}).status_code == 302
    claim = claim_pack("test", Pack.objects.latest("pk").pk)
    assert claim is not None
    store_result(claim, to_json(repair(from_json(Problem, claim.problem), work=40)))
    return Pack.objects.get(pk=claim.pack_id)


def days_of(plan: Plan | None, kind: str) -> dict[str, date]:
    """The first day of a stage of each boat."""
    rows = Placement.objects.filter(plan=plan, stage__kind=kind).select_related("stage__treatment__boat")
    return {row.stage.treatment.boat.name: row.first_day for row in rows}


def moved(plan: Plan | None) -> set[str]:
    """The boats of which something moves."""
    assert plan is not None
    boats = {row.pk: row.boat.name for row in Treatment.objects.select_related("boat")}
    return {boats[move["treatment"]] for move in plan.moves}


@pytest.mark.moment(16)
def test_the_hoist_is_broken_for_three_days_and_the_lifts_wait_in_the_order_of_their_promises(
    yard: Cast, manager: Client
) -> None:
    norm = StageNormFactory(
        scheme=scheme_of(yard), position=30, kind="relaunch", name="relaunch", place="dock",
        days_low=1, days_likely=1, days_high=1,
    )  # fmt: skip
    Demand.objects.create(scheme_stage=norm, lifts=1)
    hoist = HoistFactory(yard=yard.yard, name="the hoist", lifts_a_day=1)
    tides_by_formula(yard.yard)
    YardSettings.objects.filter(yard=yard.yard).update(sill_level_m=0)
    boats_promised(yard, date(2026, 12, 9), date(2026, 12, 14), date(2026, 12, 15))
    posted = post_a_plan(yard)
    assert sorted(days_of(posted, "relaunch").values()) == [date(2026, 12, day) for day in (8, 9, 10)]

    out = {"subject": f"hoist.{hoist.pk}", "kind": "", "first_day": "8 Dec", "last_day": "10 Dec"}
    assert manager.post(f"{SITE}wall/out/", out | {"why": "gearbox"}).status_code == 302
    plan = mend(manager).plan

    # Friday, then Monday and Tuesday: each as early as one lift a day lets her, in the order of their days.
    assert days_of(plan, "relaunch") == {
        "Alder": date(2026, 12, 11),
        "Bramble": date(2026, 12, 14),
        "Clover": date(2026, 12, 15),
    }
    said = words(manager.get(f"{SITE}wall/").content)
    assert "because there is no free hoist for relaunch on" in said
    missed = (
        "Alder, promised Wed 9 Dec (firm): 2 days late, in time as posted; ring Owner of Alder, 01632 960100"
    )
    late, _, risky = said.partition("Promises it puts at risk")
    assert missed in late and "Bramble, promised" not in late
    assert (
        "Bramble, promised Mon 14 Dec (firm): odds of" in risky and "01632 960101" in risky
    )  # on her last day
    assert Board.objects.get().posted == posted


@pytest.mark.moment(17)
def test_a_boat_comes_nine_days_late_another_a_week_early_and_nobody_else_pays(
    yard: Cast, manager: Client
) -> None:
    boats_promised(yard, date(2026, 12, 11), date(2026, 12, 11), date(2026, 12, 11))
    posted = post_a_plan(yard)
    for name, day in (("Alder", "10 Dec"), ("Bramble", "24 Nov")):
        boat = Treatment.objects.get(boat__name=name)
        address = f"{SITE}boat/{boat.boat_id}/"
        assert "She comes on another day" in words(manager.get(address).content)
        sent = manager.post(f"{address}arrival/", {"version": boat.version, "arrives_on": day}, follow=True)
        assert f"{name} is expected on" in words(sent.content)
    plan = mend(manager).plan
    assert days_of(plan, "wash") == days_of(posted, "wash") | {"Alder": date(2026, 12, 10)}
    assert moved(plan) == {"Alder"}
    said = words(manager.get(f"{SITE}wall/").content)
    assert "Alder, promised Fri 11 Dec (firm): 5 days late, in time as posted; ring Owner of Alder" in said
    assert "Bramble, promised" not in said and "Clover, promised" not in said


@pytest.mark.parametrize(("typed", "says"), [("soon", "Type a day like"), ("23 11 2026", "That day is past")])
def test_a_day_that_can_not_be_is_refused_where_it_was_typed(
    yard: Cast, manager: Client, typed: str, says: str
) -> None:
    boats_promised(yard, *[date(2026, 12, 11)] * 3)
    boat = Treatment.objects.get(boat__name="Alder")
    page = manager.post(f"{SITE}boat/{boat.boat_id}/arrival/", {"version": boat.version, "arrives_on": typed})
    assert page.status_code == 422 and says in words(page.content)
    assert f'value="{typed}"' in page.content.decode()


def test_the_office_hears_on_the_telephone_that_she_comes_later_and_says_so_itself(
    yard: Cast, manager: Client
) -> None:
    boats_promised(yard, *[date(2026, 12, 11)] * 3)
    boat = Treatment.objects.get(boat__name="Alder")
    office, address = Client(), f"{SITE}boat/{boat.boat_id}/"
    office.force_login(yard.office.user)
    page = words(office.get(address).content)
    assert "She comes on another day" in page and "Correct a stage" not in page
    refused = office.post(f"{address}arrival/", {"version": boat.version, "arrives_on": "soon"})
    head, _, rest = refused.content.decode().partition("<h1>")
    assert 'role="alert"' in head and '<a href="#arrives_on">Type a day like' in head
    assert 'id="arrives_on-wrong"' in rest and 'aria-describedby="arrives_on-wrong"' in rest
    sent = office.post(f"{address}arrival/", {"version": boat.version, "arrives_on": "10 Dec"}, follow=True)
    assert "The posted plan stays until the manager mends it on the Wall." in words(sent.content)
    boat.refresh_from_db()
    assert boat.arrives_on == date(2026, 12, 10)


def test_who_came_while_her_day_was_typed_is_said_to_have_come(yard: Cast, manager: Client) -> None:
    boats_promised(yard, *[date(2026, 12, 11)] * 3)
    boat = Treatment.objects.get(boat__name="Alder")
    Treatment.objects.filter(pk=boat.pk).update(state="here", arrived_on=TODAY)
    page = manager.post(
        f"{SITE}boat/{boat.boat_id}/arrival/", {"version": boat.version, "arrives_on": "10 Dec"}
    )
    assert page.status_code == 422 and "Not saved." in words(page.content)
    assert "She comes on another day" not in words(page.content)


def test_a_hand_is_ill_for_two_days_and_the_work_of_one_boat_waits_for_him(
    yard: Cast, manager: Client, settings: Any
) -> None:
    """Each of three hands washes a boat on 1 and 2 December; with two there, one boat waits for the 3rd."""
    skill = SkillFactory(yard=yard.yard, name="wash")
    Demand.objects.create(scheme_stage=scheme_of(yard).stages.get(kind="wash"), skill=skill, hours_fixed=16)
    hands = [PersonFactory(yard=yard.yard, name=name) for name in ("Robin Hale", "Sage Moor", "Toby Lund")]
    for hand in hands:
        PersonSkill.objects.create(person=hand, skill=skill)
        for weekday in range(5):
            WorkingWeek.objects.create(person=hand, weekday=weekday, from_on=TODAY, hours=8)
    boats_promised(yard, *[date(2026, 12, 11)] * 3)
    posted = post_a_plan(yard)
    assert set(days_of(posted, "wash").values()) == {date(2026, 12, 1)}

    settings.SHEDTIDE_TODAY = date(2026, 12, 1)
    out = {"subject": f"person.{hands[0].pk}", "kind": "", "first_day": "1 Dec", "last_day": "2 Dec"}
    assert manager.post(f"{SITE}wall/out/", out).status_code == 302
    plan = mend(manager).plan
    assert plan is not None and sorted(days_of(plan, "wash").values()) == [
        date(2026, 12, 1), date(2026, 12, 1), date(2026, 12, 3)
    ]  # fmt: skip
    assert len(moved(plan)) == 1 and plan.placements.count() == posted.placements.count()
    said = words(manager.get(f"{SITE}wall/").content)
    assert (
        "because no hands to wash are free for wash on Tue 1 Dec" in said and "frozen days" in said
    )  # today's own work moves by a fact

    manager.post(f"{SITE}wall/post/", {"number": plan.number})
    (late,) = moved(plan)
    page = client_of(yard.crew).get(f"{SITE}boat/{Treatment.objects.get(boat__name=late).boat_id}/")
    assert "Thu 3 Dec" in words(page.content)
    settings.SHEDTIDE_TODAY = date(2026, 12, 3)
    assert "Robin Hale" not in words(manager.get(f"{SITE}wall/out/").content).split("Out now")[1]
    assert Stoppage.objects.count() == 1
