"""Forecasts follow the facts: reckoned anew by the workers, once, and only what changed is stored."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone

from scheduling.actions import reckoning
from scheduling.actions.because import News, sentence
from scheduling.actions.forecasts import keep_forecasts, odds_of
from scheduling.actions.overrun import order_of
from scheduling.actions.plans import post_plan, put_on_board
from scheduling.actions.reading import schedule_of
from scheduling.actions.reckoning import GAP, LOST, reckon, reckon_due
from scheduling.actions.snapshots import weigh
from scheduling.engine.causes import Cause
from scheduling.engine.risk import winters
from scheduling.loading import load
from scheduling.models import Board, Forecast, MadeBy, Plan, Reckoning
from scheduling.tasks import beat
from tests.cast import TODAY, Cast
from tests.scheduling.planning_engine import result_of
from tests.scheduling.test_forecasts import a_risk
from yard.actions.base import Refused
from yard.actions.promises import record_promise
from yard.actions.stages import hold_stage, start_stage
from yard.actions.stoppages import stop_work
from yard.actions.treatments import bring_in
from yard.models import Bay, Season, Treatment

SECOND = timedelta(seconds=1)


@pytest.fixture
def posted(winter: Cast) -> Plan:
    """The small winter's plan, each boat in a bay of her own as soon as she comes; reckoned a minute ago."""
    loaded = load(winter.season)
    judged = weigh(loaded.problem, result_of(loaded.problem))
    assert not judged.clashes
    put_on_board(
        winter.season,
        loaded,
        judged,
        made_by=MadeBy.HAND,
        problem_sha256=loaded.sha256,
        by=winter.manager.user,
        risk=odds_of(winter.season, loaded, judged.result.schedule),
    )
    board = Board.objects.get(season=winter.season)
    assert board.draft is not None
    plan = post_plan(winter.manager, board=board, version=board.version, plan=board.draft)
    assert reckon_due(timezone.now() + 60 * SECOND) == 1
    ago = timezone.now() - 60 * SECOND
    Reckoning.objects.update(at=ago, held_at=ago)
    return plan


def alder() -> Treatment:
    return Treatment.objects.get(boat__name="Alder")


def hold(winter: Cast, until: date) -> None:
    hold_stage(winter.manager, stage=alder().stages.get(kind="wash"), reason="owner", expected_on=until)


def newest(name: str = "Alder") -> Forecast:
    row = Forecast.objects.filter(treatment__boat__name=name).order_by("-as_of").first()
    assert row is not None
    return row


# --- What is reckoned -------------------------------------------------------------------------------------
def test_what_nothing_has_touched_is_the_same_and_adds_no_row(winter: Cast, posted: Plan) -> None:
    loaded = load(winter.season)
    order, plan = order_of(loaded, posted), schedule_of(loaded, posted)
    assert winters(loaded.problem, order, runs=20) == winters(loaded.problem, plan, runs=20)
    Reckoning.objects.update(digest="")
    assert reckon(winter.season, timezone.now())
    assert Forecast.objects.count() == 3  # those of the plan itself


def test_a_hold_moves_her_dates_and_nobody_elses_and_is_named(winter: Cast, posted: Plan) -> None:
    was = newest()
    hold(winter, date(2027, 1, 20))
    assert reckon_due(timezone.now()) == 1
    row = newest()
    assert row.safe_on is not None and was.safe_on is not None
    assert row.safe_on > date(2027, 1, 20) > was.safe_on  # wash and fair come after the answer
    assert row.because == "Her “wash” is held until about Wed 20 Jan."
    assert Forecast.objects.count() == 4


def test_a_boat_that_waits_for_her_bay_names_the_boat_that_is_held(winter: Cast, posted: Plan) -> None:
    """Bramble is to have Alder's bay a month after her, and the yard has no other."""
    bay = posted.placements.filter(stage__treatment=alder()).first().bay  # type: ignore[union-attr]
    hers = posted.placements.filter(stage__treatment__boat__name="Bramble")
    for row in hers:
        days = {
            name: getattr(row, name) + timedelta(days=28) for name in ("first_day", "last_day", "leaves_on")
        }
        hers.model._base_manager.filter(pk=row.pk).update(bay=bay, **days)
    Bay.objects.exclude(pk=bay.pk).update(retired_on=TODAY)
    Reckoning.objects.update(digest="")
    assert reckon(winter.season, timezone.now() + 60 * SECOND)
    hold(winter, date(2027, 3, 1))
    assert reckon(winter.season, timezone.now() + 90 * SECOND)
    assert newest("Bramble").because == "Alder's “wash” is held until about Mon 1 Mar."


def test_what_has_begun_counts_and_a_step_that_was_due_and_has_not_begun_is_named(
    winter: Cast, posted: Plan, settings: Any
) -> None:
    settings.SHEDTIDE_TODAY = TODAY + timedelta(days=21)  # she was to come on 1 December
    with pytest.raises(Refused):
        schedule_of(load(winter.season), posted)
    assert reckon_due(timezone.now()) == 1
    row = newest()
    assert row.likely_on == TODAY + timedelta(days=27)  # from Tuesday: two days of wash, three of fair
    assert row.because == "Her “wash” was to have begun and has not."


def test_a_promise_alone_is_a_new_row(winter: Cast, posted: Plan) -> None:
    record_promise(
        winter.manager, treatment=alder(), promised_on=date(2027, 3, 1), kind="firm", how="phone", note=""
    )
    assert reckon_due(timezone.now()) == 1
    assert (newest().promise_date, newest().because) == (date(2027, 3, 1), "")
    assert Forecast.objects.count() == 4


def test_a_boat_that_was_begun_elsewhere_is_where_the_records_say(
    winter: Cast, posted: Plan, settings: Any
) -> None:
    settings.SHEDTIDE_TODAY = date(2026, 12, 1)
    placed = posted.placements.filter(stage__treatment=alder()).first()
    assert placed is not None
    taken = set(posted.placements.values_list("bay", flat=True)) - {placed.bay_id}
    other = Bay.objects.filter(pk__in=taken).first()  # another boat's by the plan
    assert other is not None
    bring_in(winter.manager, treatment=alder(), bay=other, on=TODAY)
    start_stage(winter.manager, stage=alder().stages.get(kind="wash"), on=TODAY)
    assert reckon_due(timezone.now()) == 1
    later = {row.treatment.boat.name for row in Forecast.objects.filter(as_of=newest("Bramble").as_of)}
    assert later  # they have dates, whoever stands in whose bay


# --- When -------------------------------------------------------------------------------------------------
def test_where_nothing_is_to_do_one_query_says_so(
    winter: Cast, posted: Plan, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(1):
        assert reckon_due(timezone.now()) == 0


def test_a_season_is_reckoned_once_in_ten_seconds_at_most(winter: Cast, posted: Plan) -> None:
    hold(winter, date(2027, 3, 1))
    now = timezone.now()
    assert [reckon_due(now + seconds * SECOND) for seconds in (0, 5, 9)] == [1, 0, 0]


def test_an_entry_stored_late_is_seen_once_more(winter: Cast, posted: Plan) -> None:
    """Its transaction may end after the records were read."""
    hold(winter, date(2027, 3, 1))
    now = timezone.now()
    assert [reckon_due(now + n * GAP) for n in (0, 1, 2, 3)] == [1, 1, 0, 0]
    assert Forecast.objects.count() == 4


def test_a_new_day_is_reckoned(winter: Cast, posted: Plan, settings: Any) -> None:
    settings.SHEDTIDE_TODAY = TODAY + timedelta(days=1)
    assert [reckon_due(timezone.now() + n * GAP) for n in (0, 1)] == [1, 0]


def test_a_plan_that_is_posted_is_reckoned_and_others_of_the_yard_are_not(winter: Cast, posted: Plan) -> None:
    Plan.objects.filter(pk=posted.pk).update(replaced_at=timezone.now())
    Board.objects.update(posted=None)
    hold(winter, date(2027, 3, 1))
    assert reckon_due(timezone.now()) == 0


def test_a_closed_season_is_not_reckoned(winter: Cast, posted: Plan) -> None:
    hold(winter, date(2027, 3, 1))
    Season.objects.filter(pk=winter.season.pk).update(closed_on=TODAY)
    assert reckon_due(timezone.now()) == 0


def test_the_workers_beat_reckons_what_is_due(winter: Cast, posted: Plan) -> None:
    hold(winter, date(2027, 3, 1))
    beat()
    assert newest().because == "Her “wash” is held until about Mon 1 Mar."


# --- Two workers ------------------------------------------------------------------------------------------
def test_two_workers_never_reckon_one_season_at_once(
    winter: Cast, posted: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    others: list[bool] = []

    def meanwhile(season: Season) -> Any:
        others.append(reckon(season, timezone.now()))
        return load(season)

    monkeypatch.setattr(reckoning, "load", meanwhile)
    hold(winter, date(2027, 3, 1))
    assert reckon_due(timezone.now()) == 1
    assert others == [False]


def test_a_claim_that_was_lost_with_its_worker_runs_out(winter: Cast, posted: Plan) -> None:
    hold(winter, date(2027, 3, 1))
    now = timezone.now()
    Reckoning.objects.update(claimed_at=now)
    assert [reckon_due(now + wait) for wait in (GAP, LOST - SECOND, LOST)] == [0, 0, 1]


def test_who_has_lost_the_claim_stores_nothing(
    winter: Cast, posted: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    def too_long(season: Season) -> Any:
        Reckoning.objects.update(claimed_at=timezone.now() + LOST)  # another has taken it
        return load(season)

    monkeypatch.setattr(reckoning, "load", too_long)
    hold(winter, date(2027, 3, 1))
    assert reckon_due(timezone.now()) == 0
    assert Forecast.objects.count() == 3


def test_odds_that_cannot_be_reckoned_are_not_tried_without_end(
    winter: Cast, posted: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    held_at = Reckoning.objects.get().held_at
    monkeypatch.setattr(reckoning, "odds_of", lambda *_: None)
    hold(winter, date(2027, 3, 1))
    now = timezone.now() + 30 * SECOND
    assert [reckon_due(now + n * GAP) for n in (0, 1)] == [1, 0]
    assert Forecast.objects.count() == 3
    assert Reckoning.objects.get().held_at == held_at  # no page says that they still hold


def test_a_day_whose_cause_cannot_be_found_moves_all_the_same(
    winter: Cast, posted: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise KeyError

    monkeypatch.setattr(reckoning, "cause_of", broken)
    hold(winter, date(2027, 3, 1))
    assert reckon_due(timezone.now()) == 1
    assert Forecast.objects.count() > 3


# --- What the cause is called -----------------------------------------------------------------------------
def test_another_plan_is_the_cause_of_another_day(winter: Cast, posted: Plan) -> None:
    plan = Plan.objects.create(
        yard=winter.yard, season=winter.season, number=2, made_by="hand", made_at=timezone.now()
    )
    [row] = keep_forecasts(plan, a_risk(alder()), timezone.now())
    assert row.because == "Plan 2 plans her work differently from plan 1."


@pytest.mark.parametrize(
    ("kind", "days", "says"),
    [
        ("length", 6.2, "Her “wash” takes 6 days longer than expected before."),
        ("length", -0.8, "Her “wash” takes 1 day less than expected before."),
        ("begin", 3.0, "Her “wash” was to have begun and has not."),
        ("arrival", 4.0, "She comes on Tue 1 Dec."),
        ("held", -4.0, "Her “wash” may begin sooner than before."),
        ("days", 9.0, "Her “wash” has a later day on which it can be done."),
        ("hours", 2.0, "People or kit for her “wash” are free later."),
        ("new", 0.0, "Her “wash” is new."),
    ],
)
def test_each_kind_of_cause_is_a_sentence(
    winter: Cast, posted: Plan, kind: Any, days: float, says: str
) -> None:
    loaded, job = load(winter.season), str(alder().pk)
    step = next(one.steps[0].id for one in loaded.problem.jobs if one.id == job)
    news = News({}, {}, (("Ann is out from Mon 30 Nov", frozenset({"spray"})),), ("tent L is out",), ())
    cause = Cause(kind=kind, job=job, step=step, label="", days=days)
    assert sentence(cause, job, loaded, news, later=days >= 0) == says


def test_of_those_who_are_out_one_is_named_who_could_do_the_work(winter: Cast, posted: Plan) -> None:
    loaded, job = load(winter.season), str(alder().pk)
    step = next(one.steps[0] for one in loaded.problem.jobs if one.id == job)
    sprays = replace(step, options=tuple(replace(option, skills={"spray": 60}) for option in step.options))
    jobs = tuple(
        replace(one, steps=(sprays, *one.steps[1:])) if one.id == job else one for one in loaded.problem.jobs
    )
    loaded = replace(loaded, problem=replace(loaded.problem, jobs=jobs))
    out = (("Bob is out", frozenset({"peel"})), ("Ann is out from Mon 30 Nov", frozenset({"fair", "spray"})))
    cause = Cause(kind="hours", job=job, step=step.id, label="", days=2.0)
    said = sentence(cause, job, loaded, News({}, {}, out, ("tent L is out",), ()), later=True)
    assert said == "People or kit for her “wash” are free later: Ann is out from Mon 30 Nov."


def test_where_little_tips_the_scales_that_is_said(winter: Cast, posted: Plan) -> None:
    """A tide is missed though nothing moved by much: no step is to blame."""
    loaded, job = load(winter.season), str(alder().pk)
    step = next(one.steps[0].id for one in loaded.problem.jobs if one.id == job)
    cause = Cause(kind="begin", job=job, step=step, label="", days=-0.1)
    said = sentence(cause, job, loaded, News({}, {}, (), (), ()), later=True)
    assert said == "It takes little for her “wash” to miss a day."


def test_a_stoppage_is_named_where_people_or_kit_are_short(winter: Cast, posted: Plan) -> None:
    bay = Bay.objects.filter(pk__in=posted.placements.values("bay")).first()
    assert bay is not None
    stop_work(
        winter.manager,
        subject=bay,
        kind="closed",
        first_day=date(2026, 12, 1),
        last_day=date(2026, 12, 31),
        why="roof",
    )
    assert reckon_due(timezone.now()) == 1
    told = [row.because for row in Forecast.objects.exclude(because="")]
    assert len(told) == 1  # whoever stands there; bays of a pool are one, those left take the others
    assert told[0].endswith(f": {bay.name} is out from Tue 1 Dec to Thu 31 Dec.")
