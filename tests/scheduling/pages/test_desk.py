"""The Desk: one boat in sentences, promises recorded, promises the plan misses."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client

from scheduling.loading.winter import read_winter
from scheduling.models import Board
from scheduling.pages.desk import meant, misses, search
from scheduling.pages.sentences import following, verdict, waiting_for, where
from tests.cast import TODAY
from tests.scheduling.full_winter import FullWinter
from yard.models import Boat, Hold, Promise, Stage, Stay, Treatment

DESK = "/quiet-creek/desk/"


@pytest.fixture
def office(full: FullWinter) -> Client:
    client = Client()
    client.force_login(full.cast.office.user)
    return client


def winter_in(full: FullWinter) -> Any:
    winter = read_winter(full.cast.yard, TODAY)
    assert winter is not None
    return winter


def told(full: FullWinter, name: str) -> tuple[str, str]:
    winter = winter_in(full)
    boat = next(boat for boat in winter.boats if boat.name == name)
    return where(winter, boat), following(winter, boat, winter.posted)


# --- Sentences --------------------------------------------------------------------------------------------
def test_where_she_is_and_since_when_is_one_sentence(full: FullWinter) -> None:
    assert told(full, "Alder")[0] == "She is drying in bay H1, shed H; “Dry” began on Thu 5 Nov."
    assert (
        told(full, "Gorse")[0]
        == "She has stood in bay S1, hardstanding S, since Tue 10 Nov; nothing is being done to her now."
    )
    assert told(full, "Heather")[0].startswith("She is due here on ")


def test_a_boat_that_did_not_come_is_said_not_to_have_come(full: FullWinter) -> None:
    Treatment.objects.filter(boat__name="Heather").update(arrives_on=TODAY - timedelta(days=2))
    assert told(full, "Heather")[0] == "She was due here on Sun 22 Nov and has not come."


def test_a_boat_back_in_the_water_is_said_to_be_afloat(full: FullWinter) -> None:
    treatment = Treatment.objects.get(boat__name="Alder")
    Stay.objects.filter(treatment=treatment).update(until_on=TODAY)
    Stage.objects.filter(treatment=treatment).update(status="done", started_on=TODAY, finished_on=TODAY)
    Treatment.objects.filter(pk=treatment.pk).update(state="afloat")
    assert told(full, "Alder") == ("She has been afloat since Tue 24 Nov.", "")


def test_what_is_next_has_its_day_and_bay_from_the_posted_plan(full: FullWinter) -> None:
    assert told(full, "Gorse")[1] == "Next: Strip fittings, from about Tue 24 Nov in bay S1."
    assert told(full, "Heather")[1] == "Next: Lift and weigh; no plan says when yet."


def test_whom_we_wait_for_is_said_once(full: FullWinter) -> None:
    stage = Stage.objects.get(treatment__boat__name="Gorse", kind="strip")
    hold = Hold(stage=stage, from_on=TODAY, reason="surveyor", whom="the surveyor", asked_on=TODAY)
    assert waiting_for(hold) == "Waiting for the surveyor since Tue 24 Nov."
    hold.whom, hold.expected_on = "A. Name", date(2026, 12, 3)
    assert waiting_for(hold) == "Waiting for the surveyor (A. Name) since Tue 24 Nov, expected Thu 3 Dec."


@pytest.mark.parametrize(
    ("days", "says"),
    [
        (-1, "misses by 1 day"),
        (-5, "misses by 5 days"),
        (0, "keeps her day"),
        (2, "keeps her day, 2 days to spare"),
    ],
)
def test_the_planned_relaunch_keeps_or_misses_her_day_by_so_many_days(
    full: FullWinter, days: int, says: str
) -> None:
    winter = winter_in(full)
    boat = next(boat for boat in winter.boats if boat.name == "Alder")
    assert boat.promise
    boat.promise.promised_on = boat.afloat_on(winter.posted) + timedelta(days=days)
    assert verdict(boat, winter.posted)[1] == says


def test_the_due_day_is_the_promise_else_the_wish_else_the_seasons_end(full: FullWinter) -> None:
    boats = {boat.name: boat for boat in winter_in(full).boats}
    assert boats["Alder"].promise and boats["Alder"].due == boats["Alder"].promise.promised_on
    assert boats["Bramble"].promise is None and boats["Bramble"].due == boats["Bramble"].treatment.wanted_on
    boats["Bramble"].treatment.wanted_on = None
    assert boats["Bramble"].due == full.cast.season.last_day


# --- Search -----------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("asked", "names"),
    [
        ("clov", ["Clover"]),
        ("CLOVER", ["Clover"]),
        ("owner of iv", ["Ivy"]),
        ("01632 960002", ["Clover"]),
        ("96-00-02", ["Clover"]),
        ("01632960002", ["Clover"]),
        ("+44 1632 960002", ["Clover"]),
        ("Mrs ivy owner", ["Ivy"]),
        ("privet 960002", []),
        ("zz", []),
        ("02", []),
    ],
)
def test_a_boat_is_found_by_name_owner_or_telephone(full: FullWinter, asked: str, names: list[str]) -> None:
    assert [boat.name for boat in search(winter_in(full), asked)] == names


def test_a_whole_name_comes_alone_though_it_is_part_of_another(full: FullWinter) -> None:
    Boat.objects.filter(name="Clover").update(name="Ivy Two")
    assert [boat.name for boat in search(winter_in(full), "ivy")] == ["Ivy"]
    assert [boat.name for boat in search(winter_in(full), "iv")] == ["Ivy", "Ivy Two", "Privet"]


def test_a_slip_of_the_finger_is_answered_with_what_may_be_meant(full: FullWinter, office: Client) -> None:
    winter = winter_in(full)
    assert [boat.name for boat in meant(winter, "Clovre")] == ["Clover"]
    assert meant(winter, "zz") == []
    text = office.get(DESK, {"q": "Clovre"}).content.decode()
    assert "Did you mean one of these?" in text
    assert '<a href="?q=Clover">' in text


def test_the_page_tells_one_boat_at_once_and_lists_several(office: Client) -> None:
    one = office.get(DESK, {"q": "Clover"}).content.decode()
    assert "She is drying in bay H3" in one
    assert "Friday 5 March 2027" in one
    several = office.get(DESK, {"q": "owner of"}).content.decode()
    assert "32 boats" in several
    nothing = office.get(DESK, {"q": "<script>"}).content.decode()
    assert "No boat of this season" in nothing
    assert "<script>" not in nothing


def test_boats_whose_relaunch_misses_the_promise_are_listed_with_whom_to_ring(
    full: FullWinter, office: Client
) -> None:
    found = misses(winter_in(full))
    assert [miss.boat.name for miss in found][:2] == ["Heather", "Eyebright"]
    text = office.get(DESK).content.decode()
    assert "misses by" in text
    assert "01632 960031" in text


def test_without_a_posted_plan_the_office_is_told_where_it_comes_from(
    full: FullWinter, office: Client
) -> None:
    Board.objects.update(posted=None)
    assert "the manager posts one on the Wall" in office.get(DESK).content.decode()


# --- Promises ---------------------------------------------------------------------------------------------
def promise(office: Client, **fields: str) -> Any:
    treatment = Treatment.objects.get(boat__name="Clover")
    form = {"date": "1 Apr", "kind": "tide", "how": "letter", "note": "asked twice", **fields}
    return office.post(f"{DESK}promise/{treatment.pk}/", form, follow=True)


def test_a_promise_is_recorded_with_who_when_how_and_the_plan_it_was_read_from(
    full: FullWinter, office: Client
) -> None:
    page = promise(office)
    said = "Promised Clover for Thursday 1 April 2027 instead of Friday 5 March 2027. The posted plan "
    assert said in page.content.decode()
    kept = Promise.objects.get(treatment__boat__name="Clover", superseded=False)
    assert (kept.promised_on, kept.kind, kept.how, kept.said_on) == (
        date(2027, 4, 1),
        "tide",
        "letter",
        TODAY,
    )
    assert (kept.by, kept.plan_number) == (full.cast.office.user, 1)
    assert Promise.objects.filter(treatment__boat__name="Clover", superseded=True).count() == 1


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"date": "soon"}, "27 Mar"),
        ({"date": "1 4 2026"}, "That day is past"),
        ({"date": "31/02"}, "There is no 31 February."),
        ({"kind": "perhaps"}, "kind"),
        ({"how": "pigeon"}, "how"),
    ],
)
def test_a_refused_promise_keeps_what_was_typed_and_says_why(
    office: Client, fields: dict[str, str], says: str
) -> None:
    page = promise(office, **fields)
    assert page.status_code == 422
    text = page.content.decode()
    assert says in text.lower() or says in text
    assert 'value="asked twice"' in text
    assert "<title>Error:" in text
    assert Promise.objects.get(treatment__boat__name="Clover").promised_on == date(2027, 3, 5)


# --- One boat ---------------------------------------------------------------------------------------------
def test_the_boats_page_shows_stages_done_running_and_planned_to_every_role(full: FullWinter) -> None:
    boat = Boat.objects.get(name="Alder")
    for actor in full.cast.actors.values():
        client = Client()
        client.force_login(actor.user)
        text = client.get(f"/quiet-creek/boat/{boat.pk}/").content.decode()
        for words in ("Peel", ">done<", ">running<", ">planned<", "Planned relaunch"):
            assert words in text, actor.role
        assert ("Owner of Alder" in text) == (actor.role != "crew")


def test_a_boat_that_is_not_in_this_season_is_not_found(full: FullWinter, office: Client) -> None:
    assert office.get(f"/quiet-creek/boat/{full.cast.boat.pk}/").status_code == 404


def test_the_manager_corrects_a_wrong_tap_and_says_why(full: FullWinter) -> None:
    dry = Stage.objects.get(treatment__boat__name="Alder", kind="dry")
    manager = Client()
    manager.force_login(full.cast.manager.user)
    address = f"/quiet-creek/boat/{dry.treatment.boat_id}/correct/"
    form = {"stage": f"{dry.pk}.{dry.version}", "started_on": "10 Nov", "finished_on": "", "why": ""}
    refused = manager.post(address, form)
    assert refused.status_code == 422
    assert "Say why it is corrected." in refused.content.decode()
    assert 'value="10 Nov"' in refused.content.decode()
    assert manager.post(address, {**form, "why": "tapped a week late"}).status_code == 302
    dry.refresh_from_db()
    assert (dry.status, dry.started_on) == ("running", date(2026, 11, 10))
    assert manager.post(address, {**form, "why": "again"}).status_code == 409


@pytest.mark.parametrize(
    "fields", [{"stage": ""}, {"stage": "7"}, {"stage": "0.1"}, {"stage": "٣.1"}, {"started_on": "soon"}]
)
def test_a_correction_that_names_no_stage_or_no_day_is_refused(
    full: FullWinter, fields: dict[str, str]
) -> None:
    dry = Stage.objects.get(treatment__boat__name="Alder", kind="dry")
    manager = Client()
    manager.force_login(full.cast.manager.user)
    form = {"stage": f"{dry.pk}.{dry.version}", "why": "x", **fields}
    assert manager.post(f"/quiet-creek/boat/{dry.treatment.boat_id}/correct/", form).status_code == 422
