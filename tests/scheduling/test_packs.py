"""The life of a pack: who may write when, what is kept, and that the posted plan is never touched."""

from __future__ import annotations

import json
import subprocess
import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings as django_settings
from django.utils import timezone

from scheduling.actions import packing, packs
from scheduling.actions.claims import (
    Claim,
    beat_pack,
    claim_pack,
    end_stopped,
    fail_pack,
    release_pack,
    store_result,
)
from scheduling.actions.packing import work_on
from scheduling.actions.packs import LEASE, ask_pack, reap_packs, says, sign_of_life, stop_pack
from scheduling.actions.plans import post_plan
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.problem import Problem
from scheduling.models import Beat, Board, Pack, PackKind, Placement, Plan, Unplaced
from scheduling.runner import ENGINE, ROOT
from tests.cast import BoatFactory, Cast
from tests.scheduling.planning_engine import result_of
from tests.scheduling.winter import NAMES, engine
from yard.actions.base import NotAllowed, NotYours, Refused
from yard.actions.treatments import open_treatment
from yard.models import Entry, Stage
from yard.roles import Actor, actor_for

Packed = Callable[..., Pack]
LATER = timedelta(minutes=5)


@pytest.fixture
def woken(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The packs that workers were woken for."""
    found: list[int] = []
    monkeypatch.setattr(packs, "wake", lambda pk: bool(found.append(pk)) or True)
    return found


@pytest.fixture
def asked(winter: Cast) -> Pack:
    """A pack in the queue."""
    return ask_pack(winter.manager, season=winter.season, seconds=5)


@pytest.fixture
def claim(asked: Pack) -> Claim:
    """A worker's hold on that pack."""
    claim = claim_pack("first", asked.pk)
    assert claim is not None
    return claim


def good(claim: Claim) -> dict:
    """An answer that breaks no rule."""
    return to_json(result_of(from_json(Problem, claim.problem)))


def actor_of(pack: Pack) -> Actor:
    """Who asked for it."""
    who = actor_for(pack.asked_by, pack.yard.slug)
    assert who is not None
    return who


def now_of(pack: Pack) -> Pack:
    """The row as it stands now."""
    return Pack.objects.get(pk=pack.pk)


# --- Asking -----------------------------------------------------------------------------------------------
def test_asking_keeps_the_problem_and_wakes_a_worker_once_the_row_is_stored(
    winter: Cast, woken: list[int], django_capture_on_commit_callbacks
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        pack = ask_pack(winter.manager, season=winter.season, seconds=5)
        assert woken == []
    assert woken == [pack.pk]
    assert (pack.state, pack.tries) == ("queued", 0)
    assert [job["label"] for job in pack.problem["jobs"]] == list(NAMES)
    assert len(pack.problem_sha256) == 64


def test_only_the_manager_of_the_yard_may_ask_or_stop(winter: Cast) -> None:
    for who in (winter.crew, winter.office):
        with pytest.raises(NotAllowed):
            ask_pack(who, season=winter.season)
    with pytest.raises(NotYours):
        ask_pack(winter.other_manager, season=winter.season)
    pack = ask_pack(winter.manager, season=winter.season)
    with pytest.raises(NotAllowed):
        stop_pack(winter.crew, pack=pack)
    with pytest.raises(NotYours):
        stop_pack(winter.other_manager, pack=pack)


def test_one_pack_at_a_time_for_a_season(winter: Cast, asked: Pack) -> None:
    with pytest.raises(Refused, match="at work on this season already"):
        ask_pack(winter.manager, season=winter.season)


@pytest.mark.parametrize("seconds", [0, 571])
def test_the_time_of_a_pack_has_bounds(winter: Cast, seconds: int) -> None:
    with pytest.raises(Refused, match="1 to 570 seconds"):
        ask_pack(winter.manager, season=winter.season, seconds=seconds)


def test_a_season_that_is_over_or_closed_is_not_packed(winter: Cast) -> None:
    winter.season.last_day = winter.manager.today.replace(day=1)
    winter.season.save()
    with pytest.raises(Refused, match="No working day is left"):
        ask_pack(winter.manager, season=winter.season)
    winter.season.closed_on = winter.manager.today
    winter.season.save()
    with pytest.raises(Refused, match="closed"):
        ask_pack(winter.manager, season=winter.season)


def test_a_boat_that_the_records_contradict_is_named_and_left_out_and_the_rest_is_packed(
    winter: Cast, packed: Packed
) -> None:
    scheme = winter.scheme  # needs a hoist, and the yard has none
    boat = BoatFactory(yard=winter.yard, owner=winter.owner, name="Dodder")
    treatment = open_treatment(
        winter.manager, boat=boat, scheme=scheme, season=winter.season, arrives_on=winter.manager.today
    )
    pack = packed()
    assert pack.state == "done"
    assert [sentence.split()[0] for sentence in pack.progress["contradictions"]] == ["Dodder"]
    left_out = Unplaced.objects.get(plan=pack.plan)
    assert (left_out.treatment, left_out.rule) == (treatment, "records")
    assert left_out.says == pack.progress["contradictions"][0]
    assert Placement.objects.filter(plan=pack.plan).values("stage__treatment").distinct().count() == 3


# --- From claim to plan -----------------------------------------------------------------------------------
def test_a_pack_that_is_done_is_the_draft_with_all_its_placements(
    packed: Packed, board: Callable[[], Board]
) -> None:
    pack = packed()
    assert (pack.state, pack.reason, pack.token, pack.lease_until) == ("done", "", None, None)
    plan = board().draft
    assert plan is not None and plan == pack.plan and board().posted is None
    assert plan.placements.count() == 2 * len(NAMES)
    assert {row.bay.name for row in plan.placements.select_related("bay")} == {"H1", "H2", "H3"}
    assert plan.problem_sha256 == pack.problem_sha256
    assert (plan.number, plan.made_by, plan.parent) == (1, "pack", None)
    assert sum(plan.cost.values()) == pack.best_cost


def test_progress_has_the_first_plan_and_a_curve_of_better_ones(packed: Packed) -> None:
    progress = packed().progress
    assert progress["first_plan_s"] == 0.1
    assert [seconds for seconds, _ in progress["curve"]] == [0.1, 0.2]


def test_a_long_curve_is_thinned_out_but_keeps_its_ends(claim: Claim) -> None:
    pulse = packing._Pulse(claim, lambda: False)
    for second in range(500):
        pulse.hear({"event": "plan", "seconds": second, "result": {"total": 1000 - second, "cost": {}}})
    curve = pulse.progress["curve"]
    assert len(curve) <= packing.CURVE
    assert curve[0] == [0, 1000] and curve[-1] == [499, 501]


def test_the_next_draft_replaces_the_one_before_and_has_it_as_its_parent(
    packed: Packed, board: Callable[[], Board]
) -> None:
    first, second = packed().plan, packed().plan
    assert second is not None and first is not None
    assert board().draft == second and second.parent == first
    assert second.number == 2
    assert second.digest == first.digest


def test_what_the_records_became_while_the_engine_thought_does_not_lose_the_plan(claim: Claim) -> None:
    stage = Stage.objects.filter(treatment__boat__name="Alder").earliest("position")
    Stage.objects.filter(pk=stage.pk).update(status="running", started_on="2026-11-24")
    plan = store_result(claim, good(claim))
    assert plan is not None and plan.placements.filter(stage=stage).exists()


def test_the_cost_that_is_stored_is_the_witness_s_own_count(claim: Claim) -> None:
    boast = good(claim) | {"cost": {"late": 0}, "total": 0, "bound": 10**9}
    plan = store_result(claim, boast)
    assert plan is not None and sum(plan.cost.values()) > 0
    assert plan.bound is None  # a bound above the cost is none


def test_a_pack_that_finds_nothing_better_keeps_the_plan_that_stands_and_says_so(
    asked: Pack, claim: Claim
) -> None:
    problem = from_json(Problem, claim.problem)
    first = store_result(claim, good(claim))
    pack = ask_pack(actor_of(asked), season=asked.season)
    again = claim_pack("worker", pack.pk)
    assert again is not None and first is not None
    late = store_result(again, to_json(result_of(problem, later=110)))
    assert late is not None and (late.digest, late.cost) == (first.digest, first.cost)
    assert late.parent == first
    assert says(now_of(pack), timezone.now()) == "Done. Nothing better than plan 1 was found."


# --- Claims and leases ------------------------------------------------------------------------------------
@pytest.mark.reliability(8)
def test_a_message_that_comes_three_times_makes_one_plan(winter: Cast, asked: Pack) -> None:
    did = [work_on(asked.pk, worker=f"worker {n}", command=engine("good")) for n in range(3)]
    assert did == [True, False, False]
    assert Plan.objects.count() == 1


@pytest.mark.reliability(8)
def test_a_worker_that_was_given_up_writes_nothing(asked: Pack, claim: Claim) -> None:
    reap_packs(timezone.now() + LATER)
    second = claim_pack("second", asked.pk)
    assert second is not None and second.token != claim.token
    before = now_of(asked)
    assert beat_pack(claim, {"phase": "of the dead", "best_cost": 1}) is False
    assert store_result(claim, good(claim)) is None
    assert fail_pack(claim, "of the dead") is False
    assert end_stopped(claim, "of the dead") is False
    assert release_pack(claim) is False
    after = now_of(asked)
    assert (after.state, after.token, after.phase) == (before.state, before.token, before.phase)
    assert Plan.objects.count() == 0
    assert store_result(second, good(second)) is not None


def test_a_beat_renews_the_lease_and_shows_how_far_it_is(asked: Pack, claim: Claim) -> None:
    Pack.objects.filter(pk=asked.pk).update(lease_until=timezone.now())
    assert beat_pack(claim, {"phase": "improving", "best_cost": 700, "bound": 600, "curve": [[1, 700]]})
    pack = now_of(asked)
    assert (pack.phase, pack.best_cost, pack.bound) == ("improving", 700, 600)
    assert pack.progress == {"contradictions": [], "curve": [[1, 700]]}
    assert pack.lease_until is not None and pack.lease_until > timezone.now() + LEASE / 2
    assert Beat.last().keys() == {"worker"}


def test_a_lease_that_ran_out_puts_the_pack_back_into_the_queue_and_wakes_a_worker(
    asked: Pack, claim: Claim, woken: list[int]
) -> None:
    assert reap_packs(timezone.now()) == 0
    assert reap_packs(timezone.now() + LATER) == 1
    pack = now_of(asked)
    assert (pack.state, pack.token, pack.tries) == ("queued", None, 1)
    assert woken == [asked.pk]


def test_at_the_third_time_the_pack_has_failed(asked: Pack, woken: list[int]) -> None:
    for _ in range(3):
        assert claim_pack("worker", asked.pk) is not None
        reap_packs(timezone.now() + LATER)
    pack = now_of(asked)
    assert (pack.state, pack.tries) == ("failed", 3)
    assert "died on this 3 times" in pack.reason
    assert len(woken) == 2
    assert claim_pack("worker", asked.pk) is None


def test_a_pack_that_nobody_begins_is_called_out_again_but_not_at_every_look(
    asked: Pack, woken: list[int]
) -> None:
    reap_packs(timezone.now())
    assert woken == []
    look = timezone.now() + timedelta(seconds=31)
    for _ in range(5):
        reap_packs(look, season=asked.season)
    assert woken == [asked.pk]
    assert now_of(asked).state == "queued"


def test_a_look_at_one_season_reads_once_and_writes_nothing_while_all_is_well(
    asked: Pack, claim: Claim, django_assert_num_queries
) -> None:
    with django_assert_num_queries(1):
        reap_packs(timezone.now(), season=asked.season)


def test_a_worker_that_has_to_end_gives_its_pack_back_and_that_is_no_try(asked: Pack) -> None:
    assert work_on(asked.pk, worker="one", ending=lambda: True, command=engine("deaf"))
    pack = now_of(asked)
    assert (pack.state, pack.tries, pack.token) == ("queued", 0, None)
    assert work_on(asked.pk, worker="two", command=engine("good"))
    assert now_of(asked).state == "done"


def test_the_problem_is_dropped_a_month_after_the_pack_has_ended(packed: Packed) -> None:
    pack = packed()
    reap_packs(timezone.now() + timedelta(days=29))
    assert now_of(pack).problem is not None
    reap_packs(timezone.now() + timedelta(days=31))
    assert now_of(pack).problem is None


# --- Stopping ---------------------------------------------------------------------------------------------
def test_a_queued_pack_that_is_stopped_never_begins(winter: Cast, asked: Pack) -> None:
    pack = stop_pack(winter.manager, pack=asked)
    assert (pack.state, pack.plan) == ("stopped", None)
    assert work_on(asked.pk, worker="late", command=engine("good")) is False


def test_stop_keeps_the_best_found_as_the_draft(
    winter: Cast, asked: Pack, board: Callable[[], Board], monkeypatch: pytest.MonkeyPatch
) -> None:
    hear = packing._Pulse.hear

    def hear_and_stop(self, line) -> None:
        hear(self, line)
        if line["event"] == "plan" and not now_of(asked).stop_asked_at:
            stop_pack(winter.manager, pack=asked)

    monkeypatch.setattr(packing._Pulse, "hear", hear_and_stop)
    assert work_on(asked.pk, worker="one", command=engine("patient"))
    pack = now_of(asked)
    assert pack.state == "stopped" and pack.plan == board().draft
    assert pack.plan is not None and pack.plan.placements.count() == 6
    assert says(pack, timezone.now()).endswith("The draft is new.")


def test_a_pack_that_has_ended_can_not_be_stopped(winter: Cast, packed: Packed) -> None:
    with pytest.raises(Refused, match="ended already"):
        stop_pack(winter.manager, pack=packed())


def test_a_pack_that_is_stopped_while_its_worker_is_dead_is_stopped_by_the_reaper(
    winter: Cast, asked: Pack, claim: Claim, woken: list[int]
) -> None:
    assert stop_pack(winter.manager, pack=asked).state == "working"
    reap_packs(timezone.now() + LATER)
    assert now_of(asked).state == "stopped" and woken == []


# --- What would help --------------------------------------------------------------------------------------
@pytest.fixture
def posted(winter: Cast, packed: Packed, board: Callable[[], Board]) -> Plan:
    """A plan of the small winter that is posted."""
    plan = packed().plan
    assert plan is not None
    return post_plan(winter.manager, board=board(), version=board().version, plan=plan)


@pytest.mark.parametrize("kind", [PackKind.HELPS, PackKind.REPAIR])
def test_with_no_plan_posted_nothing_can_be_mended_or_helped(
    winter: Cast, packed: Packed, kind: PackKind
) -> None:
    packed()
    with pytest.raises(Refused, match="pack the sheds and post the plan first"):
        ask_pack(winter.manager, season=winter.season, kind=kind)


def test_each_kind_takes_its_own_time_unless_told_otherwise(winter: Cast, posted: Plan) -> None:
    for kind, seconds in ((PackKind.PACK, 15), (PackKind.REPAIR, 5), (PackKind.HELPS, 30)):
        pack = ask_pack(winter.manager, season=winter.season, kind=kind)
        assert (pack.kind, pack.seconds) == (kind, seconds)
        stop_pack(winter.manager, pack=pack)
    assert ask_pack(winter.manager, season=winter.season, kind=PackKind.HELPS, seconds=7).seconds == 7


def test_what_would_help_is_kept_on_the_pack_and_makes_no_plan(
    posted: Plan, packed: Packed, board: Callable[[], Board]
) -> None:
    before = board()
    pack = packed(kind=PackKind.HELPS)
    assert (pack.state, pack.plan, pack.token) == ("done", None, None)
    assert [each["saves_low"] for each in pack.progress["helps"]] == [1200, 0]
    assert pack.progress["searches"] == [2, 2]
    assert (board().draft, board().posted, board().version) == (before.draft, posted, before.version)
    assert says(pack, timezone.now()) == "Done. 2 things were tried."


def test_stop_keeps_the_helps_found(
    winter: Cast, posted: Plan, packed: Packed, monkeypatch: pytest.MonkeyPatch
) -> None:
    hear = packing._Pulse.hear

    def hear_and_stop(self, line) -> None:
        hear(self, line)
        if line["event"] == "help":
            stop_pack(winter.manager, pack=Pack.objects.latest("pk"))

    monkeypatch.setattr(packing._Pulse, "hear", hear_and_stop)
    pack = packed("patient", kind=PackKind.HELPS)
    assert (pack.state, pack.plan) == ("stopped", None)
    assert [each["saves_low"] for each in pack.progress["helps"]] == [0]
    assert pack.progress["searches"] == [1, 2]


# --- Failing ----------------------------------------------------------------------------------------------
def test_a_failure_leaves_the_posted_plan_and_the_draft_as_they_were(
    winter: Cast, packed: Packed, board: Callable[[], Board]
) -> None:
    packed()
    posted = post_plan(winter.manager, board=board(), version=board().version, plan=board().draft)
    draft = packed().plan
    before = board()
    pack = packed("dies")
    assert pack.state == "failed" and "killed from outside" in pack.reason
    after = board()
    assert (after.posted, after.draft, after.version) == (posted, draft, before.version)
    posted.refresh_from_db()
    assert posted.replaced_at is None and posted.placements.count() == 6


@pytest.mark.reliability(3)
def test_a_plan_that_the_witness_refuses_is_never_stored_and_is_kept_to_be_replayed(packed: Packed) -> None:
    pack = packed("clash")
    assert pack.state == "failed" and pack.reason.startswith("The witness refuses the plan:")
    assert pack.progress["breaches"] and Plan.objects.count() == 0
    folder = Path(django_settings.SHEDTIDE_DATA) / pack.progress["refused"]
    kept = {path.stem: json.loads(path.read_text()) for path in folder.iterdir()}
    assert kept["problem"] == pack.problem
    assert kept["plan"]["schedule"]["jobs"] and kept["breaches"] == pack.progress["breaches"]
    replay = [*ENGINE, "check", str(folder / "problem.json"), str(folder / "plan.json")]
    done = subprocess.run(replay, cwd=ROOT, capture_output=True, text=True, check=False)
    found = [json.loads(line)["says"] for line in done.stdout.splitlines()]
    assert done.returncode == 1 and found == kept["breaches"]


def test_an_answer_that_is_no_result_is_a_failure_that_names_the_place(packed: Packed) -> None:
    pack = packed("vague")
    assert pack.state == "failed" and "can't be read" in pack.reason
    assert Plan.objects.count() == 0


def test_a_bay_that_the_records_do_not_know_is_a_failure_and_no_crash(asked: Pack, claim: Claim) -> None:
    answer = json.loads(json.dumps(good(claim)).replace('"H2"', '"H9"'))
    assert store_result(claim, answer) is None
    assert now_of(asked).state == "failed"


def test_every_ending_is_in_the_history(winter: Cast, packed: Packed) -> None:
    packed(), packed("dies")
    actions = Entry.objects.filter(about_label="scheduling.pack").values_list("action", flat=True)
    assert sorted(actions) == ["ask_pack", "ask_pack", "failed_pack", "store_result"]


# --- The broker -------------------------------------------------------------------------------------------
@pytest.mark.reliability(14)
def test_with_the_broker_down_a_pack_is_queued_all_the_same_and_says_when_it_starts(
    winter: Cast, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks
) -> None:
    def down(*_: object, **__: object) -> None:
        raise packs.BrokerError("no route to the broker")

    monkeypatch.setattr(packs.current_app, "send_task", down)
    with django_capture_on_commit_callbacks(execute=True):
        pack = ask_pack(winter.manager, season=winter.season)
    assert now_of(pack).state == "queued"
    assert says(pack, timezone.now()) == "Queued; it starts when the packer is back."
    sign_of_life(timezone.now())
    assert says(pack, timezone.now()) == "Queued; it starts in a moment."
    assert says(pack, timezone.now() + LATER) == "Queued; it starts when the packer is back."


def test_a_claim_with_a_token_nobody_gave_out_writes_nothing(asked: Pack, claim: Claim) -> None:
    assert store_result(replace(claim, token=uuid.uuid4()), good(claim)) is None
    assert now_of(asked).state == "working"
