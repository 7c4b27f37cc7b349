"""One thing more: what it does to a yard, and the fewest that bring every boat into an overfull plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from itertools import permutations

from scheduling.engine.candidates import candidates
from scheduling.engine.chains import chain
from scheduling.engine.improve import first_plan, settle
from scheduling.engine.insertion import State, compile_problem
from scheduling.engine.more import Relaxation, schedule_over, with_more
from scheduling.engine.openings import open_day, slot_for, with_day
from scheduling.engine.problem import Hand, Option, Place, Problem, Resource, Table
from scheduling.engine.relaxing import relaxations, state_in
from scheduling.engine.schedule import Schedule
from scheduling.engine.witness import check, cost
from tests.engine.random_yards import random_problem
from tests.engine.tiny import job, lengths, plan, problem, step

SATURDAY = date(2026, 11, 7)


def sound(told: Problem, schedule: Schedule) -> bool:
    return not [b for b in check(told, schedule) if not b.fact]


def crew_table(told: Problem, length: int) -> Table:
    """Work of so many days on which the crew works."""
    line = told.calendars["crew"]
    finish: list[int | None] = []
    for start in range(len(line)):
        open_ = [s for s in range(start, len(line)) if line[s]]
        finish.append(open_[length - 1] + 1 if line[start] and len(open_) >= length else None)
    return Table(id=f"crew {length}", finish=tuple(finish), open="crew")


# --- one thing more -----------------------------------------------------------------------------------------
def test_a_yard_with_one_thing_more_takes_every_plan_it_took() -> None:
    tried = 0
    for seed in range(8):
        told = random_problem(seed, jobs=4, slots=22, places=3)
        schedule = first_plan(compile_problem(told)).schedule()
        before = cost(told, schedule)
        for thing in candidates(told, schedule):
            if thing.kind == "day":
                continue  # it moves slots; its own test follows
            wider = with_more(told, thing)
            over = schedule_over(told, wider, schedule)
            assert sound(wider, over), (seed, thing)
            after = cost(wider, over)
            assert {k: v for k, v in after.items() if k != "late"} == {
                k: v for k, v in before.items() if k != "late"
            }
            assert after["late"] <= before["late"]
            tried += 1
    assert tried > 80


def test_a_day_that_was_no_slot_asks_no_hands_no_kits_and_no_room_until_it_is_opened() -> None:
    for seed in range(25):
        told = random_problem(seed, jobs=4, slots=22, places=3)
        schedule = first_plan(compile_problem(told)).schedule()
        for thing in candidates(told, schedule):
            if thing.kind != "day" or date.fromisoformat(thing.what) in told.days:
                continue
            wider = with_day(told, date.fromisoformat(thing.what))
            over = schedule_over(told, wider, schedule)
            # Work that must follow at once has a day between, and two who changed on one day are a day apart.
            assert {b.rule for b in check(wider, over) if not b.fact} <= {"chain", "lane"}
            opened = with_more(told, thing)
            assert len(opened.days) == len(told.days) + 1
            state = state_in(told, opened, schedule)
            assert sound(opened, state.schedule())


def test_a_worked_saturday_ends_work_of_the_crew_a_day_sooner_and_leaves_what_waits() -> None:
    told = problem(calendars={"crew": (1,) * 10})
    told = replace(
        told,
        hands=(Hand(id="h", skills=("fair",), minutes=(480,) * 10),),
        tables=(
            crew_table(told, 4),
            Table(id="cure", finish=(*range(3, 11), None, None), waiting=True),
        ),
    )
    opened = open_day(with_day(told, SATURDAY), 5)
    assert slot_for(opened, SATURDAY) == 5
    crew, cure = opened.tables
    # Thursday's four days ended on Tuesday (slot 6) and now end on Monday; Saturday is slot 5, Monday 6.
    assert told.tables[0].finish[3] == 7
    assert crew.finish[3] == 7 and opened.days[6] == date(2026, 11, 9)
    assert crew.finish[0] == 4
    assert crew.finish[5] == 9
    # Curing from Thursday lasted over Monday (slot 5, now 6).
    assert told.tables[1].finish[3] == 6 and cure.finish[3] == 7
    assert opened.hands[0].minutes[5] == 480


def test_a_hand_has_hours_in_her_month_on_working_days_only() -> None:
    told = problem(hands=(Hand(id="h", skills=("coat",), minutes=(480,) * 5 + (0,) * 5),))
    thing = Relaxation(kind="hand", what="coat", amount=480, start=3, until=8, says="one more")
    assert with_more(told, thing).hands[1].minutes == (0, 0, 0, 480, 480, 0, 0, 0, 0, 0)


def test_spans_are_days_of_the_yard_as_it_was_though_a_saturday_comes_before_them() -> None:
    told = problem(resources=(Resource(id="tent", capacity=(1,) * 10),))
    day = Relaxation(kind="day", what=SATURDAY.isoformat(), amount=1, start=5, until=6, says="")
    tent = Relaxation(kind="kit", what="tent", amount=1, start=5, until=7, says="")
    wider = with_more(told, day, tent)
    assert wider.resources[0].capacity == (1,) * 6 + (2, 2) + (1,) * 3


# --- the fewest ---------------------------------------------------------------------------------------------
def test_nothing_is_needed_where_nobody_is_left_out() -> None:
    told = problem(job("she", step("one", 2, "a")))
    assert relaxations(told, plan(told, she=[("a", 0)])) == ()


def test_the_one_tent_more_that_brings_her_in() -> None:
    told = problem(
        job("she", step("dry", 5, "a", "b", holds={"tent": 1})),
        job("one", step("dry", 5, "a", "b", holds={"tent": 1})),
        job("two", step("dry", 5, "a", "b", holds={"tent": 1})),
        places=(Place(id="a"), Place(id="b"), Place(id="c")),
        resources=(Resource(id="tent", label="tent L", capacity=(1,) * 10),),
    )
    schedule = plan(told, one=[("a", 0)], two=[("b", 5)])
    assert sound(told, schedule)
    two: list[bool] = []
    found = relaxations(told, schedule, on_more=lambda: two.append(True))
    assert [thing.says for thing in found] == ["one more tent L"]
    assert not two


def test_what_could_lift_a_reason_is_tried_first_where_time_is_short() -> None:
    """Many things could be more; time is for one try, and the chain says that she waits for a bay."""
    told = problem(
        job("she", step("dry", 5, "a", uses={"kit": 1})),
        job("one", step("dry", 5, "a", uses={"kit": 1}), step("coat", 5, "a")),
        places=(Place(id="a", label="H1"),),
        resources=(Resource(id="kit", label="peel kit", capacity=(2,) * 10),),
    )
    schedule = plan(told, one=[("a", 0), ("a", 5)])

    def after(tries: int) -> Callable[[], bool]:
        asked = iter(range(100))
        return lambda: next(asked) >= tries

    because = chain(told, schedule, "she")
    assert (because[0].rule, because[0].by) == ("stand", "one")
    assert relaxations(told, schedule, should_stop=after(1)) == ()
    [bay] = relaxations(told, schedule, because=because, should_stop=after(1))
    assert bay.kind == "bay"


def test_two_things_where_neither_alone_does_it() -> None:
    told = problem(
        job("she", step("dry", 5, "a", holds={"tent": 1})),
        job("one", step("dry", 5, "a", holds={"tent": 1}), step("coat", 5, "a", holds={"tent": 1})),
        places=(Place(id="a", label="H1"),),
        resources=(Resource(id="tent", label="tent L", capacity=(1,) * 10),),
    )
    schedule = plan(told, one=[("a", 0), ("a", 5)])
    two: list[bool] = []
    found = relaxations(told, schedule, on_more=lambda: two.append(True))
    assert sorted(thing.says for thing in found) == ["one more bay like H1", "one more tent L"]
    assert two == [True]  # that one is not enough is known before two are tried


def test_a_later_promise_where_only_money_keeps_her_out() -> None:
    told = problem(
        job("she", step("one", 5, "a"), due=date(2026, 11, 6), drop_price=300),
        job("one", step("one", 5, "a")),
        places=(Place(id="a", limits={"length": 99}),),
    )
    # She would be a week late: 700 against 300 to leave her out. One more bay would do as well.
    (thing,) = relaxations(
        told,
        plan(told, one=[("a", 0)]),
        more=[Relaxation(kind="promise", what="she", amount=7, start=0, until=10, says="later")],
    )
    assert thing.says == "later"
    derived = relaxations(told, plan(told, one=[("a", 0)]))
    assert [each.says for each in derived] in (["one more bay like a"], ["she promised a week later"])


def test_a_lift_day_where_no_tide_is_left_for_her() -> None:
    tide = Table(id="tide", finish=(None, 2, *(None,) * 8))
    launch = replace(step("launch", 1, "b"), options=(Option(places=("b",), table="tide"),))
    told = problem(
        job("she", step("one", 4, "a"), launch),
        tables=(*lengths(10), tide),
        hands=(Hand(id="h", skills=("lift",), minutes=(480,) * 10),),
    )
    assert [thing.says for thing in relaxations(told, plan(told))] == ["a lift day on Fri 6 Nov"]


def test_of_as_few_the_cheaper_by_price_and_none_where_three_and_more_do_not_do_it() -> None:
    told = problem(
        job("she", step("one", 5, "a")),
        job("other", step("one", 5, "a"), step("two", 5, "a")),
        places=(Place(id="a"),),
    )
    schedule = plan(told, other=[("a", 0), ("a", 5)])
    bay = Relaxation(kind="bay", what="a", amount=1, start=0, until=10, says="dear", price=9)
    same = replace(bay, says="cheap", price=2)
    assert [t.says for t in relaxations(told, schedule, more=[bay, same])] == ["cheap"]
    tent = Relaxation(kind="promise", what="she", amount=7, start=0, until=10, says="of no use")
    assert relaxations(told, schedule, more=[tent]) == ()


def test_with_the_things_named_every_boat_goes_into_a_sound_plan() -> None:
    cleared = 0
    for seed in range(20):
        told = random_problem(seed, jobs=6, slots=26, places=3)
        schedule = first_plan(compile_problem(told)).schedule()
        if len(schedule.unplaced) > 1:
            continue
        things = relaxations(told, schedule, seconds=1)
        assert len(things) <= 6 and (schedule.unplaced or not things)
        if not things:
            continue
        state = state_in(told, with_more(told, *things), schedule)
        out = [name for name in schedule.unplaced if name not in state.times]
        assert any(all_in(state, order) for order in permutations(out)), (seed, things)
        cleared += 1
    assert cleared > 2


def all_in(start: State, order: Sequence[str]) -> bool:
    state = start.copy()
    for name in order:
        state.take_back(name)
        settle(state, name)
    return not state.schedule().unplaced and sound(state.compiled.problem, state.schedule())
