"""Today: what the crew sees of a day, and what comes of started, done and held."""

from __future__ import annotations

import re
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from scheduling.loading.winter import read_winter, shut_days
from scheduling.models import Placement
from scheduling.pages.jobs import DayList, day_list
from tests.cast import TODAY
from tests.scheduling.full_winter import FullWinter
from yard.models import Bay, Demand, Entry, Hold, Kit, Owner, Stage, StageDemand, Stay, Work

ADDRESS = "/quiet-creek/today/"
DAY = timedelta(days=1)


@pytest.fixture
def crew(full: FullWinter) -> Client:
    client = Client()
    client.force_login(full.cast.crew.user)
    return client


def listed(full: FullWinter, on: date = TODAY) -> DayList:
    winter = read_winter(full.cast.yard, TODAY, demands=True)
    assert winter is not None
    return day_list(winter, on, shut_days(winter, on - 120 * DAY, on + 120 * DAY))


def stage(boat: str, kind: str) -> Stage:
    return Stage.objects.get(treatment__boat__name=boat, kind=kind)


def url(which: Stage, word: str) -> str:
    return f"{ADDRESS}stage/{which.pk}/{word}/"


# --- The list ---------------------------------------------------------------------------------------------
def test_the_list_has_each_boat_once_with_bay_stage_and_how_far_it_got(full: FullWinter) -> None:
    jobs = listed(full).jobs
    names = [job.boat.name for job in jobs]
    assert len(names) == len(set(names))
    hazel = next(job for job in jobs if job.boat.name == "Gorse")
    assert (hazel.bay.name if hazel.bay else "", hazel.stage.name, hazel.part) == (
        "S1",
        "Strip fittings",
        "day 1 of 3",
    )


def test_boats_that_only_dry_stand_apart_from_the_jobs(full: FullWinter) -> None:
    waiting = [job.boat.name for job in listed(full).waiting]
    assert waiting == ["Alder", "Bramble", "Clover", "Dogwood", "Elder", "Fennel"]


def test_a_closed_day_asks_for_no_work_but_what_the_plan_puts_on_it(full: FullWinter) -> None:
    saturday = TODAY + 4 * DAY
    strip = stage("Gorse", "strip")
    row = Placement.objects.get(plan=full.posted, stage=strip)
    days = {"first_day": TODAY, "last_day": saturday + 2 * DAY, "leaves_on": saturday + 3 * DAY}
    for last, expected in ((saturday + 2 * DAY, False), (saturday, True)):
        Placement.objects.filter(plan=full.posted, stage=strip)._raw_delete("default")
        days |= {"last_day": last, "leaves_on": last + DAY}
        Placement.objects.create(plan=full.posted, stage=strip, bay=row.bay, **days)
        found = listed(full, saturday)
        assert ("Gorse" in [job.boat.name for job in found.jobs]) == expected
        assert "Alder" in [job.boat.name for job in found.waiting], "she dries on Saturdays too"


def test_hours_of_a_stage_are_shared_out_over_its_days(full: FullWinter) -> None:
    """30 h of fairing over the stage's working days in the plan."""
    fair = stage("Alder", "fair")
    row = Placement.objects.get(plan=full.posted, stage=fair)
    Stage.objects.filter(treatment=fair.treatment, kind="dry").update(status="done", finished_on=TODAY - DAY)
    Placement.objects.filter(pk=row.pk)._raw_delete("default")
    Placement.objects.create(
        plan=full.posted,
        stage=fair,
        bay=row.bay,
        first_day=TODAY,
        last_day=TODAY + 2 * DAY,
        leaves_on=TODAY + 3 * DAY,
    )
    job = next(job for job in listed(full).jobs if job.boat.name == "Alder")
    assert (job.hours, job.skills, job.part) == (10, "fair", "day 1 of 3")


def test_what_is_held_or_comes_too_early_is_last_and_says_what_to_do(full: FullWinter) -> None:
    Hold.objects.create(
        stage=stage("Gorse", "strip"), from_on=TODAY, reason="owner", whom="Mrs Owner of Gorse"
    )
    job = listed(full).jobs[-1]
    assert job.boat.name == "Gorse"
    assert job.stops == "Waiting for Mrs Owner of Gorse since Tue 24 Nov."


def test_a_stage_before_that_is_open_is_what_stops_the_next(full: FullWinter) -> None:
    lift = stage("Gorse", "lift")
    Stage.objects.filter(pk=lift.pk).update(status="running", finished_on=None)
    Stage.objects.filter(pk=lift.pk).update(status="waiting", started_on=None)
    job = next(job for job in listed(full).jobs if job.boat.name == "Gorse")
    assert job.stops == "Lift and weigh is not started: finish it first."


def test_what_is_still_open_today_stops_nothing_on_a_day_to_come(full: FullWinter) -> None:
    """Gorse's peel follows her three days of stripping: on Friday nobody can say yet that it is stopped."""
    job = next(job for job in listed(full, TODAY + 3 * DAY).jobs if job.boat.name == "Gorse")
    assert (job.stage.kind, job.stops) == ("peel", "")


def test_what_should_have_started_before_today_is_still_on_the_list_and_says_so(full: FullWinter) -> None:
    strip = stage("Gorse", "strip")
    Placement.objects.filter(plan=full.posted, stage=strip)._raw_delete("default")
    Placement.objects.create(
        plan=full.posted,
        stage=strip,
        bay=full.ground[0],
        first_day=TODAY - 4 * DAY,
        last_day=TODAY - DAY,
        leaves_on=TODAY,
    )
    job = next(job for job in listed(full).jobs if job.boat.name == "Gorse")
    assert job.overdue == "planned for Fri 20 Nov"


def test_a_round_is_due_when_the_last_is_a_week_old_and_never_twice_a_week(full: FullWinter) -> None:
    """Fennel dries since 10 November: rounds are due on the 17th, the 24th, and on 1 December."""
    due = [on for on in (TODAY + number * DAY for number in range(8)) if any(
        visit.boat.name == "Fennel" for visit in listed(full, on).visits
    )]  # fmt: skip
    assert due == [TODAY, date(2026, 12, 1)]


def test_the_same_visits_of_hands_and_kit_are_one_wash(full: FullWinter) -> None:
    StageDemand.objects.filter(stage=stage("Fennel", "dry")).update(every_d=None, times=4)
    demand = StageDemand.objects.get(stage=stage("Fennel", "dry"))
    Kit.objects.create(yard=full.cast.yard, name="hot washer", kind="hot_wash")
    demand.pk, demand.kit_kind, demand.skill = None, "hot_wash", None
    demand.save()
    found = [visit for number in range(11) for visit in listed(full, TODAY + number * DAY).visits]
    assert {visit.what for visit in found if visit.boat.name == "Fennel"} == {"Hot wash"}


def test_visits_wait_over_closed_days_for_the_next_open_one(full: FullWinter) -> None:
    """A round that falls on Saturday 28 November is due on Monday the 30th."""
    Stage.objects.filter(pk=stage("Fennel", "dry").pk).update(started_on=date(2026, 11, 21))
    due = [on for on in (TODAY + number * DAY for number in range(8)) if any(
        visit.boat.name == "Fennel" for visit in listed(full, on).visits
    )]  # fmt: skip
    assert due == [date(2026, 11, 30)]


# --- The page ---------------------------------------------------------------------------------------------
def test_the_page_shows_the_day_within_100_kb_and_25_queries(crew: Client) -> None:
    with CaptureQueriesContext(connection) as queries:
        page = crew.get(ADDRESS)
    assert page.status_code == 200
    assert len(queries) <= 25
    assert len(page.content) <= 100_000


def test_the_crew_see_no_owner_no_telephone_and_no_money(full: FullWinter, crew: Client) -> None:
    for address in ("today/", f"boat/{full.treatments[2].boat_id}/"):
        text = crew.get(f"/quiet-creek/{address}").content.decode()
        assert "Owner of" not in text
        assert "01632" not in text
        assert "£" not in text
        assert "romise" not in text
    assert Owner.objects.filter(name="Owner of Clover").exists()


def test_cautions_stand_on_the_first_job_and_leave_the_decision_where_it_belongs(crew: Client) -> None:
    text = crew.get(ADDRESS).content.decode()
    assert "nobody under the load" in text
    assert "Local rules and the competent person decide." in text


def test_a_day_to_come_has_a_list_but_no_buttons(crew: Client) -> None:
    text = crew.get(f"{ADDRESS}?day=2026-11-25").content.decode()
    assert "Strip fittings, day 2 of 3" in re.sub(r"</?strong>", "", text)
    assert '<button class="go' not in text


@pytest.mark.parametrize("day", ["2026-02-30", "x", "0000-00-00", "9" * 300, "2026-11-24\x00"])
def test_a_day_that_is_none_is_taken_as_today(crew: Client, day: str) -> None:
    assert crew.get(ADDRESS, {"day": day}).status_code == 200


# --- Started, done, held ----------------------------------------------------------------------------------
def test_started_then_done_is_stored_and_answered_at_once(crew: Client) -> None:
    strip = stage("Gorse", "strip")
    page = crew.post(url(strip, "start"), {"key": str(uuid4()), "day": "2026-11-24"}, follow=True)
    assert "Gorse, Strip fittings: started." in page.content.decode()
    page = crew.post(
        url(strip, "done"), {"key": str(uuid4()), "day": "2026-11-24", "hours": "6,5"}, follow=True
    )
    assert "Gorse, Strip fittings: done." in page.content.decode()
    strip.refresh_from_db()
    assert (strip.status, strip.finished_on) == ("done", TODAY)
    assert [str(work.hours) for work in Work.objects.filter(stage=strip)] == ["6.50"]


def test_the_same_form_sent_twice_is_done_once(crew: Client) -> None:
    strip, form = stage("Gorse", "strip"), {"key": str(uuid4()), "day": "2026-11-24"}
    for _ in range(2):
        assert crew.post(url(strip, "start"), form).status_code == 302
    assert Entry.objects.filter(action="start_stage").count() == 1


def test_each_card_has_a_key_of_its_own(crew: Client) -> None:
    keys = re.findall(r'name="key" value="([^"]+)"', crew.get(ADDRESS).content.decode())
    assert len(set(keys)) >= len(listed_stages(crew))


def listed_stages(crew: Client) -> set[str]:
    return set(re.findall(r'id="s(\d+)"', crew.get(ADDRESS).content.decode()))


def test_a_refused_start_says_why_on_its_card_and_changes_nothing(crew: Client) -> None:
    page = crew.post(url(stage("Gorse", "peel"), "start"), {"day": "2026-11-24"})
    assert page.status_code == 422
    text = page.content.decode()
    assert "Finish “Strip fittings” first" in text
    assert "<title>Error:" in text
    assert Stage.objects.get(pk=stage("Gorse", "peel").pk).status == "waiting"


def test_a_hold_with_a_day_that_is_none_keeps_what_was_typed(crew: Client) -> None:
    form = {
        "day": "2026-11-24",
        "reason": "parts",
        "whom": "the chandler",
        "expected": "soonish",
        "note": "anode",
    }
    page = crew.post(url(stage("Gorse", "strip"), "hold"), form)
    assert page.status_code == 422
    text = page.content.decode()
    for words in (
        'value="the chandler"',
        'value="soonish"',
        'value="anode"',
        '<option value="parts" selected>',
        "27 Mar",
    ):
        assert words in text
    assert not Hold.objects.exists()


def test_held_and_released(crew: Client) -> None:
    strip = stage("Gorse", "strip")
    crew.post(
        url(strip, "hold"), {"reason": "parts", "whom": "anode", "expected": "27 Nov", "key": str(uuid4())}
    )
    hold = Hold.objects.get()
    assert (hold.reason, hold.expected_on) == ("parts", date(2026, 11, 27))
    page = crew.post(url(strip, "release"), {"note": "came", "key": str(uuid4())}, follow=True)
    assert "goes on" in page.content.decode()
    assert Hold.objects.get().until_on == TODAY


def test_a_boat_is_said_to_stand_in_the_bay_the_plan_has_for_her(full: FullWinter, crew: Client) -> None:
    strip = stage("Gorse", "strip")
    Stay.objects.filter(treatment=strip.treatment).update(bay=Bay.objects.get(name="S20"))
    text = crew.get(ADDRESS).content.decode()
    assert "She is in S1 now" in text
    crew.post(url(strip, "move"), {"bay": "S1", "day": "2026-11-24", "key": str(uuid4())})
    assert Stay.objects.get(treatment=strip.treatment, until_on=None).bay.name == "S1"


def test_a_bay_that_is_taken_is_refused_in_words(full: FullWinter, crew: Client) -> None:
    page = crew.post(url(stage("Gorse", "strip"), "move"), {"bay": "H1", "day": "2026-11-24"})
    assert page.status_code == 422
    assert "Not saved." in page.content.decode()


def test_a_word_that_is_no_action_is_not_found(crew: Client) -> None:
    assert crew.post(url(stage("Gorse", "strip"), "sink")).status_code == 404


def test_nothing_is_recorded_for_a_day_to_come(crew: Client) -> None:
    page = crew.post(url(stage("Gorse", "strip"), "start"), {"day": "2026-11-25"})
    assert page.status_code == 422
    assert Demand.objects.exists()
    assert Stage.objects.get(pk=stage("Gorse", "strip").pk).status == "waiting"
