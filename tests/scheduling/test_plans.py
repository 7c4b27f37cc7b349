"""A plan is a value: posting marks it, undo points back, and nothing in it ever changes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from scheduling.actions.plans import BrokenByFacts, post_plan, undo
from scheduling.actions.reading import schedule_of
from scheduling.actions.snapshots import restore
from scheduling.engine.witness import check, cost
from scheduling.models import Board, Pack, Plan
from tests.cast import BayFactory, BoatFactory, Cast
from tests.scheduling.winter import ARRIVES
from yard.actions.base import NotAllowed, NotYours, Refused, Stale
from yard.actions.treatments import open_treatment
from yard.models import Entry, Scheme, Stage, Stay, Stoppage, Treatment

Packed = Callable[..., Pack]
OnBoard = Callable[[], Board]


@pytest.fixture
def posted(winter: Cast, packed: Packed, board: OnBoard) -> Plan:
    """A plan that is posted."""
    packed()
    return post(winter, board())


def post(winter: Cast, board: Board, **given: object) -> Plan:
    """Post the board's draft."""
    assert board.draft is not None
    return post_plan(winter.manager, board=board, version=board.version, plan=board.draft, **given)


# --- Posting ----------------------------------------------------------------------------------------------
def test_a_posted_plan_takes_the_place_of_the_one_before(
    winter: Cast, posted: Plan, packed: Packed, board: OnBoard
) -> None:
    assert board().posted == posted and board().draft is None
    assert posted.posted_by == winter.manager.user
    packed()
    second = post(winter, board())
    posted.refresh_from_db()
    assert board().posted == second and posted.replaced_at is not None
    entry = Entry.objects.filter(action="post_plan").latest("id")
    assert (entry.before, entry.after) == ({"posted": 1}, {"posted": 2, "accepted": []})


def test_only_the_manager_of_the_yard_posts_and_takes_back(
    winter: Cast, packed: Packed, board: OnBoard
) -> None:
    plan, now = packed().plan, board()
    for who in (winter.crew, winter.office):
        with pytest.raises(NotAllowed):
            post_plan(who, board=now, version=now.version, plan=plan)
        with pytest.raises(NotAllowed):
            undo(who, board=now, version=now.version)
    with pytest.raises(NotYours):
        post_plan(winter.other_manager, board=now, version=now.version, plan=plan)


@pytest.mark.reliability(5)
def test_who_looked_at_an_older_board_is_told_and_nothing_is_posted(
    winter: Cast, packed: Packed, board: OnBoard
) -> None:
    packed()
    seen = board()
    packed()
    with pytest.raises(Stale):
        post_plan(winter.manager, board=seen, version=seen.version, plan=seen.draft)
    with pytest.raises(Stale):
        undo(winter.manager, board=seen, version=seen.version)
    assert board().posted is None


def test_a_plan_is_posted_once(winter: Cast, posted: Plan, packed: Packed, board: OnBoard) -> None:
    packed()
    post(winter, board())
    with pytest.raises(Refused, match="posted before"):
        post_plan(winter.manager, board=board(), version=board().version, plan=posted)


def test_records_that_changed_without_harm_do_not_stand_in_the_way(
    winter: Cast, packed: Packed, board: OnBoard
) -> None:
    packed()
    BayFactory(yard=winter.yard, air=winter.air, name="H4")
    assert post(winter, board()).posted_at is not None


def test_a_plan_that_clashes_with_the_records_of_today_is_refused_in_words(
    winter: Cast, packed: Packed, board: OnBoard
) -> None:
    packed()
    Stoppage.objects.create(
        yard=winter.yard, bay=winter.bay, kind="closed", first_day=ARRIVES, last_day=None, why="roof"
    )
    with pytest.raises(Refused, match=r"no longer fits the yard's records: .*H1.* Pack again\."):
        post(winter, board())
    assert board().posted is None


def test_a_stage_that_was_to_start_and_has_not_is_a_clash(
    winter: Cast, packed: Packed, board: OnBoard, settings
) -> None:
    packed()
    settings.SHEDTIDE_TODAY = date(2026, 12, 2)
    with pytest.raises(Refused, match=r"wash was to start on 1 Dec and has not"):
        post(winter, board())


def test_a_stage_that_was_added_since_is_a_clash(winter: Cast, packed: Packed, board: OnBoard) -> None:
    packed()
    last = Stage.objects.filter(treatment__boat__name="Alder").latest("position")
    last.pk, last.position, last.name = None, last.position + 10, "second fairing"
    last.save()
    with pytest.raises(Refused, match="no day for Alder's second fairing"):
        post(winter, board())


def test_a_boat_that_came_since_is_left_out_and_is_no_clash(
    winter: Cast, packed: Packed, board: OnBoard
) -> None:
    packed()
    open_treatment(
        winter.manager,
        boat=BoatFactory(yard=winter.yard, owner=winter.owner, name="Dodder"),
        scheme=Scheme.objects.get(name="short"),
        season=winter.season,
        arrives_on=date(2027, 2, 1),
    )
    assert post(winter, board()).posted_at is not None


def test_what_the_records_themselves_break_is_posted_once_it_is_accepted(
    winter: Cast, packed: Packed, board: OnBoard
) -> None:
    packed()
    begin_in_a_small_bay(winter)
    with pytest.raises(BrokenByFacts) as refusal:
        post(winter, board())
    assert any("S1" in sentence for sentence in refusal.value.breaches)
    assert post(winter, board(), accept_breaches=refusal.value.breaches).posted_at is not None


def begin_in_a_small_bay(winter: Cast) -> None:
    """Alder's wash runs, in a bay that is too small for her by the rules."""
    treatment = Treatment.objects.get(boat__name="Alder")
    Treatment.objects.filter(pk=treatment.pk).update(state="here", arrived_on="2026-11-23")
    Stage.objects.filter(treatment=treatment, kind="wash").update(status="running", started_on="2026-11-23")
    bay = BayFactory(yard=winter.yard, air=winter.air, name="S1", length_m=6)
    Stay.objects.create(yard=winter.yard, treatment=treatment, bay=bay, from_on="2026-11-23")


# --- Reading back -----------------------------------------------------------------------------------------
def test_a_stored_plan_read_back_is_the_schedule_that_was_stored(packed: Packed) -> None:
    pack = packed()
    assert pack.problem and pack.refs and pack.plan
    loaded = restore(pack.problem, pack.refs)
    schedule = schedule_of(loaded, pack.plan)
    assert check(loaded.problem, schedule) == []
    counted = {kind: amount for kind, amount in cost(loaded.problem, schedule).items() if amount}
    assert counted == pack.plan.cost


# --- Undo -------------------------------------------------------------------------------------------------
@pytest.mark.reliability(23)
def test_undo_points_back_to_the_plan_before_and_changes_neither(
    winter: Cast, packed: Packed, board: OnBoard
) -> None:
    first, second = packed().plan, packed().plan
    before = undo(winter.manager, board=board(), version=board().version)
    assert before == first and board().draft == first
    assert Plan.objects.get(pk=second.pk).placements.count() == 6
    assert Entry.objects.filter(action="undo").count() == 1


def test_undo_past_the_posted_plan_leaves_no_draft(
    winter: Cast, posted: Plan, packed: Packed, board: OnBoard
) -> None:
    packed()
    assert undo(winter.manager, board=board(), version=board().version) == posted
    assert board().draft is None and board().posted == posted
    with pytest.raises(Refused, match="no draft"):
        undo(winter.manager, board=board(), version=board().version)


def test_before_the_first_draft_there_is_nothing(winter: Cast, packed: Packed, board: OnBoard) -> None:
    packed()
    with pytest.raises(Refused, match="Nothing is before"):
        undo(winter.manager, board=board(), version=board().version)
