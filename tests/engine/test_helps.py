"""What would help: yards in which the saving is known by hand, and what no help may ever say."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from scheduling.engine.candidates import candidates
from scheduling.engine.costing import price_of, taken_of
from scheduling.engine.helps import BEST, Help, helps
from scheduling.engine.improve import first_plan, start_search
from scheduling.engine.insertion import compile_problem
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.more import Relaxation, with_more
from scheduling.engine.problem import Air, Hand, Option, Place, Problem, Resource, Table
from scheduling.engine.ranking import MOST_OF_A_KIND, ranked
from scheduling.engine.relaxing import state_in
from scheduling.engine.witness import cost
from tests.engine.random_yards import random_problem
from tests.engine.tiny import job, lengths, plan, problem, step

FRIDAY = date(2026, 11, 6)


def tent_yard() -> Problem:
    """Two boats that dry five days in the one tent and are due on the first Friday."""
    return problem(
        job("one", step("dry", 5, "a", holds={"tent": 1}), due=FRIDAY),
        job("two", step("dry", 5, "b", holds={"tent": 1}), due=FRIDAY),
        resources=(Resource(id="tent", label="tent L", capacity=(1,) * 10),),
    )


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


def saturday_yard() -> Problem:
    """One boat that is faired an hour a day for six days."""
    crew = Table(id="crew", finish=(6, 7, 8, 9, 10, *(None,) * 5), open="crew")
    fair = Option(places=("a",), table="crew", skills={"fair": 60})
    return problem(
        job("she", replace(step("fair", 1, "a"), options=(fair,)), due=FRIDAY),
        tables=(crew,),
        calendars={"crew": (1,) * 10},
        hands=(Hand(id="h", skills=("fair",), minutes=(60,) * 10),),
    )


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


# --- what it costs ---------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("a_day", "price", "clear"), [(None, None, True), (99, 495, True), (140, 700, False)]
)
def test_a_kit_costs_the_days_on_which_more_of_it_is_used_than_there_was(
    a_day: int | None, price: int | None, clear: bool
) -> None:
    told = tent_yard()
    told = replace(told, resources=(replace(told.resources[0], one_price=a_day),))
    schedule = plan(told, one=[("a", 0)], two=[("b", 5)])
    # The second tent saves 700 and stands for the five days from Monday to Friday.
    (tent,) = [h for h in helps(told, schedule, work=20) if h.kind == "kit"]
    assert (tent.says, tent.taken, tent.price, tent.clear) == ("one more tent L", 5, price, clear)


def test_a_hand_is_paid_the_hours_that_the_others_do_not_have() -> None:
    told = problem(
        job("one", step("coat", 2, "a", skills={"coat": 300}), due=FRIDAY),
        job("two", step("coat", 2, "b", skills={"coat": 240}), due=FRIDAY),
        hands=(Hand(id="h", skills=("coat", "fair"), minutes=(480,) * 10),),
        hour_price=600,
    )
    hand = next(t for t in candidates(told, plan(told)) if t.kind == "hand")
    wider = with_more(told, hand)
    both = state_in(told, wider, plan(told, one=[("a", 0)], two=[("b", 0)]))
    after = state_in(told, wider, plan(told, one=[("a", 0)], two=[("b", 2)]))
    # At once they ask for 540 minutes a day on two days, of which she who is there has 480.
    assert taken_of(told, hand, [after, both]) == 2 * 60
    assert taken_of(told, hand, [after]) == 0
    assert price_of(told, hand, 2 * 60) == 2 * 600


def test_whoever_of_the_others_can_do_it_does_it_first() -> None:
    told = problem(
        job("one", step("fair", 1, "a", skills={"fair": 480})),
        job("two", step("coat", 1, "b", skills={"coat": 300})),
        hands=(
            Hand(id="h", skills=("coat", "fair"), minutes=(480,) * 10),
            Hand(id="i", skills=("coat",), minutes=(200,) * 10),
        ),
    )
    hand = next(t for t in candidates(told, plan(told)) if t.what == "coat")
    both = state_in(told, with_more(told, hand), plan(told, one=[("a", 0)], two=[("b", 0)]))
    # The fairing takes the first all day; of 300 minutes of coating the second has 200.
    assert taken_of(told, hand, [both]) == 100


def test_one_more_hand_is_for_the_rest_of_a_month_after_the_frozen_days() -> None:
    told = problem(
        job("one", step("coat", 2, "a", skills={"coat": 480})),
        slots=25,
        frozen=4,
        hands=(Hand(id="h", skills=("coat",), minutes=(480,) * 25),),
    )
    spans = [(t.start, t.until, t.says) for t in candidates(told, plan(told)) if t.kind == "hand"]
    # From Monday the 2nd of November: 21 working days, of which four are frozen.
    assert spans == [
        (4, 21, "one more hand for coat in November"),
        (21, 25, "one more hand for coat in December"),
    ]


def test_a_saturday_costs_the_hours_that_are_worked_on_it() -> None:
    told = replace(saturday_yard(), hour_price=120)
    found = helps(told, plan(told, she=[("a", 0)]), work=10)
    # One hour of fairing on the Saturday; it saves two days.
    (day,) = [each for each in found if each.kind == "day"]
    assert (day.taken, day.price, day.saves_low, day.clear) == (60, 120, 200, True)


def test_a_later_promise_costs_a_call_and_a_bay_what_nobody_has_said() -> None:
    told = tent_yard()
    later = Relaxation(kind="promise", what="one", amount=7, start=0, until=10, says="")
    bay = Relaxation(kind="bay", what="a", amount=1, start=0, until=10, says="")
    assert (price_of(told, later, 0), price_of(told, bay, 0)) == (0, None)
    assert price_of(told, replace(bay, price=5), 0) == 5


# --- what can be had -------------------------------------------------------------------------------------
def test_nobody_works_on_a_saturday_after_a_closed_friday() -> None:
    told = saturday_yard()
    short = replace(told, hands=(replace(told.hands[0], minutes=(60, 60, 60, 60, 0, *(60,) * 5)),))
    assert [t.what for t in candidates(told, plan(told)) if t.kind == "day"] == ["2026-11-07"]
    assert [t for t in candidates(short, plan(short)) if t.kind == "day"] == []


def test_who_comes_on_the_friday_does_not_come_on_the_saturday_too() -> None:
    told = replace(visit_yard(anew=1), frozen=0, calendars={"crew": (1,) * 10})
    tables = tuple(replace(t, open="crew") if t.anew else t for t in told.tables)
    saturday = Relaxation(kind="day", what="2026-11-07", amount=1, start=5, until=6, says="")
    wider = with_more(replace(told, tables=tables), saturday)
    (visits,) = [t for t in wider.tables if t.anew]
    assert [s for s, end in enumerate(visits.finish) if end is not None] == [4, 8]  # as before, one day on


def visit_yard(anew: int | None) -> Problem:
    """One boat that is there on Monday; a surveyor comes on the first Friday and the second Wednesday."""
    visits = Table(
        id="visits", finish=(*(None,) * 4, 5, None, None, 8, None, None), worth="day", amount=1, anew=anew
    )
    look = replace(step("look", 1, "a"), options=(Option(places=("a",), table="visits", uses={"him": 1}),))
    return problem(
        job("she", step("one", 1, "a"), look, due=date(2026, 11, 3)),
        tables=(*lengths(10), visits),
        worths={"day": (1,) * 10},
        resources=(
            Resource(id="him", label="surveyor", unit="boats", capacity=(0, 0, 0, 0, 1, 0, 0, 1, 0, 0)),
        ),
        hands=(Hand(id="h", skills=("any",), minutes=(480,) * 10),),
    )


@pytest.mark.parametrize(
    ("anew", "frozen", "says"),
    [
        (2, 0, "one more day of the surveyor: Wed 4 Nov"),
        (1, 3, "one more day of the surveyor: Thu 5 Nov"),
        (None, 1, "a lift day on Tue 3 Nov with a hired crane"),
        (4, 0, None),  # asked today he comes no sooner than he does
    ],
)
def test_a_day_more_is_one_for_which_somebody_can_still_be_asked(
    anew: int | None, frozen: int, says: str | None
) -> None:
    told = replace(visit_yard(anew), frozen=frozen)
    found = [t for t in candidates(told, plan(told, she=[("a", 0), ("a", 4)])) if t.kind == "lift day"]
    assert [thing.says for thing in found] == ([says] if says else [])
    for thing in found:
        wider = with_more(told, thing)
        assert wider.resources[0].capacity[thing.start] == 1
        assert wider.tables[-1].finish[thing.start] == thing.start + 1


def test_one_more_boat_a_day_is_only_for_the_days_on_which_somebody_comes() -> None:
    told = visit_yard(anew=2)
    (thing,) = [t for t in candidates(told, plan(told)) if t.kind == "kit"]
    assert thing.says == "one more boat a day for the surveyor"
    assert with_more(told, thing).resources[0].capacity == (0, 0, 0, 0, 2, 0, 0, 2, 0, 0)


def test_there_is_no_second_dock_no_more_room_for_tents_and_no_heat_on_open_ground() -> None:
    told = replace(
        tent_yard(),
        airs=(Air(id="shed"), Air(id="sky")),
        places=(Place(id="a", air="sky"), Place(id="b", air="shed"), Place(id="dock")),
    )
    wet = Table(id="tide", finish=(1, *(None,) * 8, 10))
    lift = Option(places=("dock",), table="tide")
    both = Option(places=("b",), table="1")
    more = job(
        "x", replace(step("lift", 1, "dock"), options=(lift,)), replace(step("dry", 1, "b"), options=(both,))
    )
    told = replace(told, tables=(*told.tables, wet), jobs=(*told.jobs, more))

    def found(fixed: tuple[str, ...]) -> set[tuple[str, str]]:
        things = candidates(replace(told, fixed=fixed), plan(told))
        return {(t.kind, t.what) for t in things if t.kind in ("bay", "fitted", "kit")}

    assert found(()) == {("bay", "a"), ("bay", "b"), ("kit", "tent")}
    assert found(("tent",)) == {("bay", "a"), ("bay", "b")}


def test_of_a_kit_that_is_used_by_the_hour_one_more_is_a_whole_one() -> None:
    peel = step("peel", 1, "a", uses={"peel": 270})
    heat = step("heat", 1, "a", holds={"heater": 3, "power": 9000})
    told = problem(
        job("she", peel, heat),
        resources=(
            Resource(id="peel", label="peel kit", capacity=(540,) * 10, one=540),
            Resource(id="heater", label="heater", capacity=(3,) * 10),
            Resource(id="power", label="power in C", unit="W", capacity=(9000,) * 10),
        ),
    )
    kits = [(t.amount, t.says) for t in candidates(told, plan(told)) if t.kind == "kit"]
    assert kits == [(540, "one more peel kit"), (3, "3 more: heater"), (9000, "9 kW more power in C")]


# --- what holds of any yard ------------------------------------------------------------------------------
@pytest.mark.parametrize("seed", range(6))
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
