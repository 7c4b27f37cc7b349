"""How sure her date is, on the Desk and on her page."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from scheduling.loading.winter import read_winter
from scheduling.models import Board, Forecast, Plan, Reckoning
from scheduling.pages.odds import Odds, odds, out_of, verdict_of
from tests.cast import TODAY
from tests.scheduling.full_winter import FullWinter
from yard.models import Promise, Treatment, YardSettings
from yard.templatetags.days import day

LIKELY, SAFE, LATE = date(2027, 3, 5), date(2027, 3, 19), date(2027, 4, 2)


def client_of(user: Any) -> Client:
    client = Client()
    client.force_login(user)
    return client


def alder() -> Treatment:
    return Treatment.objects.get(boat__name="Alder")


def forecast(**values: Any) -> Forecast:
    """Alder's forecast in the posted plan: half her dots by LIKELY, nine in ten by SAFE."""
    plan = Board.objects.get(posted__isnull=False).posted
    at = timezone.make_aware(datetime(TODAY.year, TODAY.month, TODAY.day, 12))
    given = {
        "as_of": at,
        "likely_on": LIKELY,
        "safe_on": SAFE,
        "likely_pct": 60,
        "safe_pct": 90,
        "promise_date": None,
        "odds_pct": None,
        "dots": [LIKELY.isoformat()] * 12 + [SAFE.isoformat()] * 6 + [LATE.isoformat(), None],
    }
    return Forecast.objects.create(plan=plan, treatment=alder(), **{**given, **values})


def said(full: FullWinter) -> Odds | None:
    winter = read_winter(full.cast.yard, TODAY)
    assert winter is not None
    return odds(winter, next(boat for boat in winter.boats if boat.name == "Alder"))


def promised(on: date, said_on: date = TODAY) -> None:
    Promise.objects.filter(treatment=alder()).update(superseded=True)
    Promise.objects.create(treatment=alder(), kind="firm", promised_on=on, said_on=said_on, how="phone")


def test_both_days_are_said_with_their_odds(full: FullWinter) -> None:
    forecast()
    found = said(full)
    assert found is not None
    assert (
        found.dates == "Likely by the end of Friday 5 March 2027 (6 in 10); "
        "safe to plan for Friday 19 March 2027 (9 in 10), if nobody re-plans. Reckoned at 12:00."
    )


def test_a_day_beyond_the_season_is_said_to_be_none(full: FullWinter) -> None:
    row = forecast(safe_on=None)
    found = said(full)
    assert found is not None and "no day of this season is safe (9 in 10), if nobody re-plans." in found.dates
    forecast(likely_on=None, safe_on=None, as_of=row.as_of + timedelta(hours=1))  # the later one counts
    found = said(full)
    assert found is not None
    assert found.dates.startswith("Not even likely (6 in 10) on any day of this season, if nobody re-plans.")


def test_odds_of_another_day_are_said_to_be_old(full: FullWinter) -> None:
    forecast(as_of=timezone.make_aware(datetime(2026, 11, 20, 12)))
    found = said(full)
    assert found is not None and found.dates.endswith(" Reckoned on Fri 20 Nov.")


def test_when_it_was_last_found_to_be_so_is_said_though_nothing_changed(full: FullWinter) -> None:
    row = forecast(as_of=timezone.make_aware(datetime(2026, 11, 20, 12)))
    again = timezone.make_aware(datetime(2026, 11, 24, 14, 5))
    Reckoning.objects.create(season=row.plan.season, plan=row.plan, held_at=again)
    found = said(full)
    assert found is not None and found.dates.endswith(" Reckoned at 14:05.")


# --- How her day moved ------------------------------------------------------------------------------------
def days_ago(days: float) -> datetime:
    return timezone.now() - timedelta(days=days)


@pytest.fixture
def posted_long_ago(full: FullWinter) -> FullWinter:
    Plan.objects.filter(posted_at__isnull=False).update(posted_at=days_ago(30))
    Promise.objects.all().update(superseded=True)
    return full


def test_a_day_that_moved_in_a_week_is_said_with_its_greatest_cause(posted_long_ago: FullWinter) -> None:
    forecast(as_of=days_ago(20), safe_on=SAFE - timedelta(days=30), likely_on=SAFE - timedelta(days=40))
    forecast(as_of=days_ago(8), safe_on=SAFE)
    forecast(as_of=days_ago(6), safe_on=SAFE + timedelta(days=2), because="Small.")
    forecast(as_of=days_ago(5), safe_on=SAFE + timedelta(days=14), because="Her “Heat” takes 9 days longer.")
    forecast(as_of=days_ago(4), safe_on=SAFE + timedelta(days=9), because="It dried after all.")
    found = said(posted_long_ago)
    assert found is not None
    says = f"On {day(days_ago(7).date())} safe was Fri 19 Mar: 9 days later now."
    assert found.moved == f"{says} Her “Heat” takes 9 days longer."
    for user, url in (
        (posted_long_ago.cast.office.user, "/quiet-creek/desk/?q=Alder"),
        (posted_long_ago.cast.manager.user, f"/quiet-creek/boat/{alder().boat_id}/"),
        (posted_long_ago.cast.manager.user, "/quiet-creek/wall/"),
    ):
        assert says in client_of(user).get(url).content.decode()


def test_what_changed_since_she_was_promised_a_day_counts_from_the_end_of_that_day(
    posted_long_ago: FullWinter,
) -> None:
    promised(SAFE, said_on=date(2026, 11, 10))
    told = timezone.make_aware(datetime(2026, 11, 10, 15))
    Plan.objects.filter(posted_at__isnull=False).update(posted_at=told - timedelta(days=1))
    forecast(as_of=told, safe_on=LATE)
    forecast(as_of=told + timedelta(days=1), safe_on=SAFE, because="It dried after all.")
    found = said(posted_long_ago)
    assert found is not None
    assert (
        found.moved == "When she was promised, safe was Fri 2 Apr: 14 days earlier now. It dried after all."
    )


def test_a_day_beyond_the_season_is_said_to_have_been_none(posted_long_ago: FullWinter) -> None:
    forecast(as_of=days_ago(8), safe_on=SAFE)
    forecast(as_of=days_ago(3), safe_on=None, because="Her “Heat” takes 90 days longer.")
    found = said(posted_long_ago)
    assert found is not None
    assert "safe was Fri 19 Mar; now no day of this season is. Her “Heat”" in found.moved
    forecast(as_of=days_ago(2), safe_on=SAFE)
    found = said(posted_long_ago)
    assert found is not None and found.moved == ""


def test_where_nothing_was_reckoned_a_week_ago_the_first_forecast_after_it_counts(
    posted_long_ago: FullWinter,
) -> None:
    forecast(as_of=days_ago(5), safe_on=SAFE)
    forecast(as_of=days_ago(2), safe_on=LATE)
    found = said(posted_long_ago)
    assert found is not None
    assert found.moved == f"On {day(days_ago(5).date())} safe was Fri 19 Mar: 14 days later now."


def test_few_days_are_no_news_for_the_wall(posted_long_ago: FullWinter) -> None:
    forecast(as_of=days_ago(8), safe_on=SAFE)
    forecast(as_of=days_ago(3), safe_on=SAFE + timedelta(days=3))
    page = client_of(posted_long_ago.cast.manager.user).get("/quiet-creek/wall/").content.decode()
    assert "Days that moved" not in page


# --- The odds of her own day ------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("pct", "word", "look"),
    [(90, "makes her tide", "ok"), (89, "tight", "watch"), (60, "tight", "watch"), (59, "misses", "risk")],
)
def test_the_state_of_a_promise_goes_by_the_yards_settings(
    full: FullWinter, pct: int, word: str, look: str
) -> None:
    settings = YardSettings.objects.get(yard=full.cast.yard)
    assert verdict_of(pct, settings) == (word, look)
    settings.watch_pct = settings.at_risk_pct = pct
    assert verdict_of(pct, settings)[0] == "makes her tide"


def test_the_odds_kept_are_those_of_the_day_that_was_promised_then(full: FullWinter) -> None:
    promised(SAFE)
    forecast(promise_date=SAFE, odds_pct=94)
    found = said(full)
    assert found is not None
    assert (found.promise, found.word) == ("Odds of Fri 19 Mar: 94 in 100.", "makes her tide")


def test_a_day_promised_since_is_weighed_by_the_twenty_dots(full: FullWinter) -> None:
    forecast(promise_date=SAFE, odds_pct=94)
    promised(LIKELY)
    found = said(full)
    assert found is not None
    assert (found.promise, found.word) == ("Odds of Fri 5 Mar: 6 in 10.", "tight")


def test_a_boat_nobody_asked_for_has_no_odds_of_a_day(full: FullWinter) -> None:
    forecast()
    Promise.objects.filter(treatment=alder()).update(superseded=True)
    Treatment.objects.filter(pk=alder().pk).update(wanted_on=None)
    found = said(full)
    assert found is not None and (found.promise, found.word, found.look) == ("", "", "")


@pytest.mark.parametrize(
    ("kind", "job", "what", "says"),
    [
        ("common", "", "winter", "It hangs most on how cold and damp the winter is."),
        ("weather", "", "hoist", "It hangs most on wind at the hoist."),
        ("amount", "Alder", "Heat", "It hangs most on her own “Heat”."),
        ("amount", "Bramble", "Heat", "It hangs most on Bramble's “Heat”."),
        ("hold", "Bramble", "Peel", "It hangs most on the answer to Bramble's “Peel”."),
    ],
)
def test_what_her_date_hangs_on_is_said_with_its_boat(
    full: FullWinter, kind: str, job: str, what: str, says: str
) -> None:
    boat = Treatment.objects.filter(boat__name=job).first()
    forecast(
        hangs=[{"kind": kind, "job": str(boat.pk) if boat else "", "what": what, "share_pct": 50, "days": 9}]
    )
    found = said(full)
    assert found is not None and found.hangs == says


def test_odds_are_said_in_tens_where_they_are(full: FullWinter) -> None:
    assert [out_of(pct) for pct in (0, 7, 60, 94, 100)] == [
        "less than 1 in 100",
        "7 in 100",
        "6 in 10",
        "94 in 100",
        "more than 99 in 100",
    ]


def test_without_a_forecast_nothing_is_said(full: FullWinter) -> None:
    assert said(full) is None
    page = client_of(full.cast.office.user).get("/quiet-creek/desk/?q=Alder").content.decode()
    assert "Likely by the end" not in page


def test_a_boat_that_is_done_has_no_odds_any_more(full: FullWinter) -> None:
    forecast()
    alder().stages.update(status="done", started_on=TODAY, finished_on=TODAY)
    assert said(full) is None


def test_the_desk_and_her_page_say_it_and_the_crew_see_no_promise(full: FullWinter) -> None:
    promised(SAFE)
    forecast(promise_date=SAFE, odds_pct=94)
    her = f"/quiet-creek/boat/{alder().boat_id}/"
    for user, url in ((full.cast.office.user, "/quiet-creek/desk/?q=Alder"), (full.cast.manager.user, her)):
        page = client_of(user).get(url).content.decode()
        assert "Likely by the end of Friday 5 March 2027" in page
        assert "Odds of Fri 19 Mar: 94 in 100." in page and "makes her tide" in page
    page = client_of(full.cast.crew.user).get(her).content.decode()
    assert "safe to plan for Friday 19 March 2027" in page
    assert "94 in 100" not in page and "makes her tide" not in page


def test_a_day_that_the_plan_keeps_but_most_winters_miss_has_no_green_tag(full: FullWinter) -> None:
    winter = read_winter(full.cast.yard, TODAY)
    assert winter is not None and winter.posted is not None
    back = next(boat for boat in winter.boats if boat.name == "Alder").afloat_on(winter.posted)
    assert back is not None
    promised(back + timedelta(days=2))
    desk = client_of(full.cast.office.user)
    hers = alder()
    addresses = ("desk/?q=Alder", f"boat/{hers.boat_id}/", f"desk/ask/{hers.pk}/")
    noon = forecast(dots=[back.isoformat()] * 20).as_of
    for look, says in (
        ("tag ok", "keeps her day, 2 days to spare"),
        ("tag ", f"plan {winter.posted.number} keeps her day, 2 days to spare"),
    ):
        for address in addresses:
            html = desk.get(f"/quiet-creek/{address}").content.decode()
            assert f'<span class="{look}">{says}</span>' in html, address
        if look == "tag ok":
            forecast(dots=[None] * 20, as_of=noon + timedelta(hours=1))  # the later one counts
