"""What must move when something has happened: the posted plan mended, each move with its reason."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.utils import timezone

from scheduling.actions.claims import Claim, claim_pack, store_result
from scheduling.actions.packing import work_on
from scheduling.actions.packs import ask_pack, says
from scheduling.actions.plans import post_plan
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.problem import Problem
from scheduling.engine.repair import repair
from scheduling.models import Board, Pack, PackKind, Plan
from tests.cast import Cast
from tests.scheduling.planning_engine import result_of
from tests.scheduling.winter import ARRIVES, engine
from yard.actions.stoppages import stop_work
from yard.models import Bay, Treatment, YardSettings

OnBoard = Callable[[], Board]
REPAIR = PackKind.REPAIR


@pytest.fixture
def posted(winter: Cast, board: OnBoard) -> Plan:
    """Alder in H1, Bramble in H2, Clover in H3: washed on 1 and 2 December, faired on 3, 4 and 7."""
    plan = searched(winter)
    return post_plan(winter.manager, board=board(), version=board().version, plan=plan)


@pytest.fixture
def mended(winter: Cast, posted: Plan) -> Callable[[], Pack]:
    """The posted plan mended in this process."""

    def mend() -> Pack:
        claim = asked(winter, REPAIR)
        store_result(claim, to_json(repair(from_json(Problem, claim.problem), work=20)))
        return Pack.objects.get(pk=claim.pack_id)

    return mend


def asked(winter: Cast, kind: PackKind) -> Claim:
    """A worker's hold on a new pack."""
    claim = claim_pack("test", ask_pack(winter.manager, season=winter.season, kind=kind).pk)
    assert claim is not None
    return claim


def searched(winter: Cast, *, later: int = 0) -> Plan:
    """The plan of a pack that puts each boat into her own bay, so many days later than she comes."""
    claim = asked(winter, PackKind.PACK)
    plan = store_result(claim, to_json(result_of(from_json(Problem, claim.problem), later=later)))
    assert plan is not None
    return plan


def close(winter: Cast, bay: str) -> None:
    """The floor of a bay is being mended until 9 December."""
    stop_work(
        winter.manager,
        subject=Bay.objects.get(yard=winter.yard, name=bay),
        kind="closed",
        first_day=ARRIVES,
        last_day=date(2026, 12, 9),
        why="floor",
    )


def lines(plan: Plan | None) -> list[tuple[Any, ...]]:
    """(boat, stage, bay and day before, bay and day now) of each move."""
    assert plan is not None
    boats = {row.pk: row.boat.name for row in Treatment.objects.select_related("boat")}
    bays = {row.pk: row.name for row in Bay.objects.all()}
    kinds = {row.stage_id: row.stage.kind for row in plan.placements.select_related("stage")}
    return [
        (
            boats[move["treatment"]],
            kinds[move["stage"]],
            *((bays[spot["bay"]], spot["first_day"]) for spot in (move["was"], move["now"])),
        )
        for move in plan.moves
    ]


# --- Mending ----------------------------------------------------------------------------------------------
@pytest.mark.reliability(25)
def test_with_nothing_happened_nothing_moves_and_no_plan_is_made(
    posted: Plan, mended: Callable[[], Pack], board: OnBoard
) -> None:
    version = board().version
    pack = mended()
    assert (pack.state, pack.plan, pack.token) == ("done", None, None)
    assert says(pack, timezone.now()) == "Done. The posted plan still holds; nothing has to move."
    assert (board().posted, board().draft, board().version) == (posted, None, version)
    assert Plan.objects.count() == 1


@pytest.mark.reliability(25)
def test_only_the_boat_that_can_not_stay_moves_and_says_why(
    winter: Cast, posted: Plan, mended: Callable[[], Pack], board: OnBoard
) -> None:
    close(winter, "H2")
    pack = mended()
    assert lines(pack.plan) == [  # as soon as her bay is open again, the weekend between
        ("Bramble", "wash", ("H2", "2026-12-01"), ("H2", "2026-12-10")),
        ("Bramble", "fair", ("H2", "2026-12-03"), ("H2", "2026-12-14")),
    ]
    plan = pack.plan
    assert plan is not None and plan == board().draft
    assert (plan.made_by, plan.parent, board().posted) == ("repair", posted, posted)
    assert {(move["cause"], move["rule"], move["says"]) for move in plan.moves} == {
        ("yard", "windows", "H2 is closed on Tue 1 Dec")
    }
    assert pack.state == "done" and says(pack, timezone.now()) == "Done. The draft is new."


@pytest.mark.parametrize(
    ("frozen_days", "marked"), [(3, [False, False]), (6, [True, False]), (8, [True, True])]
)
def test_a_move_within_the_frozen_days_is_marked(
    winter: Cast, mended: Callable[[], Pack], frozen_days: int, marked: list[bool]
) -> None:
    # From Tuesday 24 November: the 1st of December is the sixth working day, the 3rd the eighth.
    YardSettings.objects.filter(yard=winter.yard).update(frozen_days=frozen_days)
    close(winter, "H2")
    plan = mended().plan
    assert plan is not None and [move["frozen"] for move in plan.moves] == marked


def test_a_mended_plan_that_was_stopped_is_kept(winter: Cast, posted: Plan) -> None:
    close(winter, "H2")
    claim = asked(winter, REPAIR)
    found = to_json(repair(from_json(Problem, claim.problem), work=0, should_stop=lambda: True))
    plan = store_result(claim, found, stopped=True, why="Stopped.")
    assert plan is not None and plan.made_by == "repair"
    assert Pack.objects.get(pk=claim.pack_id).state == "stopped"


def test_the_engine_itself_mends_when_a_worker_asks_it(winter: Cast, posted: Plan) -> None:
    close(winter, "H2")
    pack = ask_pack(winter.manager, season=winter.season, kind=REPAIR)
    assert work_on(pack.pk, worker="test", command=engine("good"))
    pack.refresh_from_db()
    assert pack.plan is not None and [line[0] for line in lines(pack.plan)] == ["Bramble", "Bramble"]
    assert pack.best_cost == sum(pack.plan.cost.values())


def test_an_answer_that_is_no_repair_is_a_failure(winter: Cast, posted: Plan) -> None:
    claim = asked(winter, REPAIR)
    assert store_result(claim, {"status": "repaired", "total": 1}) is None
    pack = Pack.objects.get(pk=claim.pack_id)
    assert pack.state == "failed" and "can't be read" in pack.reason


# --- A pack against the posted plan -----------------------------------------------------------------------
def test_a_pack_says_too_what_it_moves_of_the_posted_plan(winter: Cast, posted: Plan) -> None:
    plan = searched(winter, later=1)
    assert len(lines(plan)) == 6
    assert lines(plan)[0] == ("Alder", "wash", ("H1", "2026-12-01"), ("H1", "2026-12-02"))
    assert {move["cause"] for move in plan.moves} == {"cost"}


def test_the_first_plan_moves_nothing(winter: Cast) -> None:
    assert searched(winter).moves == []


def test_what_moves_is_not_said_of_a_plan_that_is_posted_no_more(
    winter: Cast, posted: Plan, board: OnBoard
) -> None:
    draft = searched(winter)
    claim = asked(winter, PackKind.PACK)
    post_plan(winter.manager, board=board(), version=board().version, plan=draft)
    plan = store_result(claim, to_json(result_of(from_json(Problem, claim.problem), later=1)))
    assert plan is not None and plan.moves == []


@pytest.mark.reliability(25)
def test_a_search_that_moves_a_frozen_stage_without_need_is_refused(winter: Cast, posted: Plan) -> None:
    YardSettings.objects.filter(yard=winter.yard).update(frozen_days=7)
    claim = asked(winter, PackKind.PACK)
    answer = to_json(result_of(from_json(Problem, claim.problem), later=1))
    assert store_result(claim, answer) is None
    pack = Pack.objects.get(pk=claim.pack_id)
    assert pack.state == "failed" and pack.reason.startswith("The witness refuses the plan")
