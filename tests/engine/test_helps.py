"""What would help: yards in which the saving is known by hand, and what no help may ever say."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from scheduling.engine.candidates import candidates
from scheduling.engine.helps import BEST, Help, helps
from scheduling.engine.improve import first_plan, start_search
from scheduling.engine.insertion import compile_problem
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.more import Relaxation, with_more
from scheduling.engine.problem import Hand, Option, Table
from scheduling.engine.ranking import MOST_OF_A_KIND, ranked
from scheduling.engine.witness import cost
from tests.engine.random_yards import random_problem
from tests.engine.short_yards import FRIDAY, saturday_yard, tent_yard
from tests.engine.tiny import job, lengths, plan, problem, step


def as_told(found: tuple[Help, ...], says: str) -> tuple[int, int, bool]:
    (one,) = [each for each in found if each.says == says]
    return one.saves_low, one.saves_high, one.clear


# --- known by hand ---------------------------------------------------------------------------------------
@pytest.mark.parametrize("work", [2, 20, 200])
def test_the_second_tent_saves_the_week_that_a_boat_waits_however_long_is_searched(
    work: int,
) -> None:
    told = tent_yard()
    schedule = plan(told, one=[("a", 0)], two=[("b", 5)])
    # The second is done on Friday the 13th: seven days late at 100.
    assert as_told(helps(told, schedule, work=work), "one more tent L") == (700, 700, True)


def test_a_later_promise_saves_what_it_takes_off_and_no_more() -> None:
    told = tent_yard()
    schedule = plan(told, one=[("a", 0)], two=[("b", 5)])
    assert as_told(helps(told, schedule, work=10), "two promised a week later") == (700, 700, True)
    told = problem(job("one", step("dry", 5, "a"), due=date(2026, 11, 4)))
    found = helps(told, plan(told, one=[("a", 0)]), work=10)
    assert as_told(found, "one promised a week later") == (200, 200, True)


def test_one_more_coater_lets_two_coat_at_once() -> None:
    told = problem(
        job("one", step("coat", 5, "a", skills={"coat": 480}), due=FRIDAY),
        job("two", step("coat", 5, "b", skills={"coat": 480}), due=FRIDAY),
        hands=(Hand(id="h", skills=("coat",), minutes=(480,) * 10),),
    )
    found = helps(told, plan(told, one=[("a", 0)], two=[("b", 5)]), work=20)
    assert as_told(found, "one more hand for coat in November") == (700, 700, True)


def test_a_lift_day_brings_her_off_before_the_next_tide() -> None:
    tide = Table(id="tide", finish=(1, *(None,) * 6, 8, None, None))
    launch = replace(step("launch", 1, "b"), options=(Option(places=("b",), table="tide"),))
    told = problem(
        job("she", step("one", 2, "a"), launch, due=date(2026, 11, 4)),
        tables=(*lengths(10), tide),
        hands=(Hand(id="h", skills=("lift",), minutes=(480,) * 10),),
    )
    found = helps(told, plan(told, she=[("a", 0), ("b", 7)]), work=10)
    # Wednesday the 11th is seven days late; on Wednesday the 4th she is in time.
    assert as_told(found, "a lift day on Wed 4 Nov") == (700, 700, True)


def test_a_saturday_ends_work_over_the_weekend_before_monday() -> None:
    told = saturday_yard()
    # Six days from Monday end on Monday the 9th, three days late; with the Saturday one day late.
    found = helps(told, plan(told, she=[("a", 0)]), work=10)
    assert as_told(found, "work on Sat 7 Nov") == (200, 200, True)


def test_where_nobody_is_late_and_nothing_costs_nothing_helps() -> None:
    told = problem(job("she", step("one", 2, "a")), job("other", step("one", 2, "b")))
    found = helps(told, plan(told, she=[("a", 0)], other=[("b", 0)]), work=10)
    assert not [each for each in found if each.clear]


def test_what_is_no_more_than_the_seeds_make_is_called_no_clear_gain() -> None:
    told = tent_yard()
    idle = Relaxation(kind="kit", what="tent", amount=1, start=0, until=1, says="a tent on Monday")
    schedule = plan(told, one=[("a", 0)], two=[("b", 5)])
    for each in helps(told, schedule, work=10, more=[idle]):
        assert (each.saves_low, each.saves_high, each.clear) == (0, 0, False)
        assert each.says == "a tent on Monday"


def test_what_packing_again_would_bring_is_no_help() -> None:
    told = problem(job("she", step("one", 2, "a"), due=FRIDAY))
    late = plan(told, she=[("a", 7)])  # done on Thursday the 12th, six days late for nothing
    assert [t.says for t in candidates(told, late) if t.kind == "promise"] == ["she promised a week later"]
    (again,) = [h for h in helps(told, late, work=5) if h.kind == "promise" or h.saves_high]
    assert (again.kind, again.saves_low, again.price, again.clear) == ("again", 600, 0, True)
    assert (
        helps(replace(told, move_price=600), late, work=5) == ()
    )  # less than a move, and nothing else helps


def test_a_gain_of_less_than_a_move_of_one_boat_is_not_clear() -> None:
    told = tent_yard()
    schedule = plan(told, one=[("a", 0)], two=[("b", 5)])
    for move, clear in ((699, True), (700, False)):
        dear = replace(told, move_price=move)
        assert as_told(helps(dear, schedule, work=10), "one more tent L") == (700, 700, clear)


# --- what holds of any yard ------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "seed", [0, 1, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(2, 6))]
)
def test_no_help_promises_more_than_the_avoidable_cost(seed: int) -> None:
    told = random_problem(seed, jobs=4, slots=24, places=3)
    schedule = first_plan(compile_problem(told)).schedule()
    total = sum(cost(told, schedule).values())
    for each in helps(told, schedule, work=30):
        assert 0 <= each.saves_low <= each.saves_high
        assert each.saves_low > 0 or not each.clear
        if each.kind in ("day", "again"):
            continue  # of a day the days of its axis are others, so are the costs alone
        thing = Relaxation(
            kind=each.kind,
            what=each.what,
            amount=each.amount,
            start=each.start,
            until=each.until,
            like=each.like,
            says=each.says,
        )
        alone = start_search(compile_problem(with_more(told, thing))).bound
        assert each.saves_high <= total - alone


def test_few_are_tried_and_of_one_skill_or_kind_not_too_many() -> None:
    told = random_problem(3, jobs=6, slots=30, places=3)
    schedule = first_plan(compile_problem(told)).schedule()
    things = ranked(told, schedule, candidates(told, schedule), steps=20, seconds=60)
    for kind, most in MOST_OF_A_KIND.items():
        assert sum(1 for thing in things if thing.kind == kind) <= most
    assert len([each for each in helps(told, schedule, work=5) if each.kind != "again"]) <= BEST


def test_results_come_one_by_one_with_progress_and_a_stop_keeps_them() -> None:
    told = tent_yard()
    schedule = plan(told, one=[("a", 0)], two=[("b", 5)])
    came: list[Help] = []
    steps: list[tuple[int, int]] = []
    found = helps(
        told,
        schedule,
        work=5,
        on_help=came.append,
        on_progress=lambda done, of: steps.append((done, of)),
        should_stop=lambda: len(came) == 1,
    )
    assert found == tuple(came) and len(came) == 1
    assert from_json(Help, to_json(found[0])) == found[0]
    assert [done for done, _ in steps] == list(range(1, len(steps) + 1))
    assert steps[-1][0] <= steps[-1][1]
    assert helps(told, schedule, work=5, should_stop=lambda: True) == ()


def test_with_the_work_given_the_same_seed_says_the_same() -> None:
    told = random_problem(5, jobs=5, slots=26, places=3)
    schedule = first_plan(compile_problem(told)).schedule()
    things = ranked(told, schedule, candidates(told, schedule), steps=10, seconds=60)[:2]
    once, again = (helps(told, schedule, work=25, more=things) for _ in range(2))
    assert {each.what: each for each in once} == {each.what: each for each in again}
