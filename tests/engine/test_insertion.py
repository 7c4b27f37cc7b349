"""The insertion is the cheapest way to place one job, and every way it finds keeps all nine rules."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from scheduling.engine import witness
from scheduling.engine.compiled import Compiled, binding_unions
from scheduling.engine.cost import books_of, cost_of, own_cost
from scheduling.engine.improve import settle
from scheduling.engine.insertion import Fit, Prices, State, compile_problem, insert, stand_out
from scheduling.engine.problem import Air, Hand, Job, Place, Problem, Resource, Table
from scheduling.engine.schedule import Rule
from tests.engine.one_job import ways
from tests.engine.random_yards import random_problem
from tests.engine.tiny import begun, broken, job, lengths, plan, problem, step


def in_order(compiled: Compiled, rng: random.Random) -> list[str]:
    """What has begun first, boats with no step left before all; the rest at random."""
    names = list(compiled.jobs)
    rng.shuffle(names)
    jobs = compiled.jobs
    return sorted(names, key=lambda n: (not jobs[n].begun, bool(jobs[n].steps)))


def put_back(told: Problem, state: State, name: str) -> bool:
    """Insert one job, or leave her out, and hold its cost against the state's; False if neither can be."""
    before, drop = state.total, state.compiled.jobs[name].drop_price
    fit = insert(state, name)
    if fit is not None:
        state.put(name, fit.times)
        assert state.total - before == fit.cost - drop
        return True
    rise = stand_out(state, name)
    if rise is None:
        return False
    state.leave_out(name)
    assert state.total - before == rise
    return True


def sound(told: Problem, state: State) -> None:
    schedule = state.schedule()
    assert broken(told, schedule) == []
    assert sum(witness.cost(told, schedule).values()) == state.total


@pytest.mark.parametrize("facts_break", [False, True])
@pytest.mark.parametrize("jobs, slots, places", [(4, 25, 3), (8, 40, 5), (6, 30, 2)])
def test_thousands_of_insertions_break_no_rule_and_cost_what_they_say(
    jobs: int, slots: int, places: int, facts_break: bool, test_size: str
) -> None:
    placed, problems = 0, 12 if test_size == "small" else 40
    for seed in range(problems):
        told = random_problem(seed, jobs=jobs, slots=slots, places=places, facts_break=facts_break)
        rng, compiled = random.Random(seed), compile_problem(told)
        state, todo = State(compiled), in_order(compiled, rng)
        for _ in range(3):
            fine = [put_back(told, state, name) for name in todo]
            if not all(fine):
                break  # one that has begun fits nowhere: no plan
            sound(told, state)
            planned = [name for name in state.times if compiled.jobs[name].begun is None]
            placed += len(planned)
            todo = rng.sample(planned, min(len(planned), 3))
            for name in todo:
                state.take(name)
    assert placed > 2.5 * problems


def cheapest_by_trial(told: Problem, state: State, one: Job, limit: int | None) -> int | None:
    """The cheapest lawful way below `limit` [minor units], tried one by one; None if there is none."""
    books, found = books_of(told), []
    for times in ways(told, one):
        own = sum(own_cost(books, one, times).values())
        if limit is None or own < limit:
            found.append((own, times))
    found.sort(key=lambda pair: pair[0])
    if limit is None:  # the insertion says there is no way at all: try a thousand of them
        found = random.Random(1).sample(found, min(len(found), 1000))
    best = limit
    for own, times in found:
        if best is not None and own >= best:
            break
        tried = state.copy()
        tried.put(one.id, times)
        total = tried.total - state.total + one.drop_price
        if (best is None or total < best) and not broken(told, tried.schedule()):
            best = total
    return best


def test_no_way_of_placing_one_job_is_cheaper_than_the_insertion(test_size: str) -> None:
    compared, problems = 0, 8 if test_size == "small" else 100
    for seed in range(problems):
        told = random_problem(seed, jobs=4, slots=13, places=2 + seed % 2, facts_break=seed % 5 == 0)
        rng, compiled = random.Random(seed), compile_problem(told)
        state, todo = State(compiled), in_order(compiled, rng)
        facts = sum(1 for each in told.jobs if each.begun)
        for number, name in enumerate(todo):
            fit = insert(state, name)
            if number + 1 >= max(facts, 2):  # all that has begun is in, so the witness sees what we see
                limit = fit.cost if fit else None
                assert cheapest_by_trial(told, state, compiled.jobs[name], limit) == limit, (seed, name)
                compared += 1
            if not put_back(told, state, name):
                break
    assert compared >= 2 * problems


def test_a_priced_insertion_is_the_cheapest_at_these_prices(test_size: str) -> None:
    compared, problems = 0, 20 if test_size == "small" else 60
    for seed in range(problems):
        told = random_problem(seed, jobs=3, slots=12, places=2)
        if any(each.begun for each in told.jobs):
            continue
        rng, compiled = random.Random(seed), compile_problem(told)
        draw = np.random.default_rng(seed)
        row = draw.integers(0, 3, compiled.capacity.shape)
        row[[kind in ("dirt", "tender") for kind, _ in compiled.rows]] = 0
        place = draw.integers(0, 9, (len(told.places), compiled.slots))
        trip = draw.integers(0, 9, compiled.slots)
        if compiled.mover is not None:
            row[compiled.mover] = trip
        else:
            trip[:] = 0
        prices, state = Prices(place, row, trip), State(compiled)
        for name in in_order(compiled, rng):
            fit = insert(state, name, prices=prices)
            best = None
            for times in ways(told, compiled.jobs[name]):
                after = state.copy()
                after.put(name, times)
                paid = after.total - state.total + compiled.jobs[name].drop_price
                paid += int(
                    ((state.left - after.left) * row).sum() + ((after.here - state.here) * place).sum()
                )
                if (best is None or paid < best) and not broken(told, after.schedule()):
                    best = paid
            assert (fit.cost if fit else None) == best, (seed, name)
            compared += 1
            put_back(told, state, name)
    assert compared > problems / 2


# --- one rule at a time -----------------------------------------------------------------------------------
def fitted(told: Problem, name: str, **others: object) -> Fit | None:
    """The insertion of `name` beside the plan of the others."""
    state, schedule = State(compile_problem(told)), plan(told, **others)
    for other, times in schedule.jobs.items():
        if other in others:
            state.put(other, times)
    return insert(state, name)


def where(fit: Fit | None) -> list[tuple[str, int, int, int]]:
    assert fit is not None
    return [(t.place, t.start, t.end, t.leaves) for t in fit.times]


def test_waiting_takes_room() -> None:
    told = problem(
        job("she", step("one", 2, "a"), step("two", 2, "a", earliest=6)),
        job("other", step("one", 3, "a")),
        places=(Place(id="a"),),
    )
    assert where(fitted(told, "she", other=[("a", 0)])) == [("a", 3, 5, 6), ("a", 6, 8, 8)]
    assert fitted(told, "she", other=[("a", 4)]) is None


def test_a_greatest_wait_makes_her_start_later() -> None:
    told = problem(job("she", step("one", 1, "a"), step("two", 1, "a", earliest=6, wait_max=2)))
    assert where(fitted(told, "she"))[0][1] >= 3


def test_nobody_goes_in_behind_a_boat_that_is_fast() -> None:
    lane = (Place(id="front", lane="l", depth=1), Place(id="deep", lane="l", depth=2))
    told = problem(
        job("she", step("one", 1, "deep")),
        job("other", step("one", 5, "front", movable=False)),
        places=lane,
        shunt_price=7,
    )
    fit = fitted(told, "she", other=[("front", 0)])
    assert fit is not None and fit.times[0].start in (5, 6, 7, 8, 9)


def test_a_boat_in_front_that_can_be_moved_is_paid_for() -> None:
    lane = (Place(id="front", lane="l", depth=1), Place(id="deep", lane="l", depth=2))
    told = problem(
        job("she", step("one", 2, "deep", earliest=1)),
        job("other", step("one", 5, "front")),
        places=lane,
        shunt_price=7,
        tables=lengths(6),
        slots=6,
    )
    fit = fitted(told, "she", other=[("front", 0)])
    assert (
        fit is not None and fit.cost == 7 and fit.times[0].start == 3
    )  # in at 3 past her, out at 5 when she goes


def test_two_boats_change_places_only_with_a_free_one_beside_them() -> None:
    def told(*more: Place) -> Problem:
        return problem(
            job("she", step("one", 2, "a"), step("two", 2, "b", wait_max=0), late_price=0),
            job("other", step("one", 2, "b"), step("two", 2, "a")),
            places=(Place(id="a"), Place(id="b"), *more),
            move_price=10,
            slots=4,
        )

    others = {"other": [("b", 0), ("a", 2)]}
    assert fitted(told(), "she", **others) is None
    fit = fitted(told(Place(id="c")), "she", **others)
    assert fit is not None and fit.cost == 20  # her own move, and one more to change round


def test_she_goes_on_standing_where_she_has_begun_though_it_is_closed_and_too_small() -> None:
    small = Place(id="a", limits={"length": 9}, closed=((0, 10),))
    told = problem(
        job("she", step("one", 2, "a"), begun=begun("a", 3), size={"length": 12}),
        places=(small, Place(id="b")),
    )
    assert where(fitted(told, "she")) == [("a", -1, 3, 3), ("a", 3, 5, 5)]


def test_her_own_dust_does_not_spoil_her_own_coat() -> None:
    told = problem(
        job(
            "she",
            step("coat", 1, "a", spoiled_by=("dust",), wait_max=0),
            begun=begun("a", 2, makes=("dust",)),
        ),
        job("other", step("coat", 1, "b", spoiled_by=("dust",))),
        airs=(Air(id="hall", settle=3),),
        places=(Place(id="a", air="hall"), Place(id="b", air="hall")),
    )
    assert where(fitted(told, "she")) == [("a", -1, 2, 2), ("a", 2, 3, 3)]
    fit = fitted(told, "other")
    assert fit is not None and fit.times[0].start == 5


def test_one_person_is_not_sold_twice_under_two_skills() -> None:
    both = Hand(id="h", skills=("peel", "coat"), minutes=(480,) * 10)
    told = problem(
        job("she", step("one", 2, "a", skills={"coat": 300})),
        job("other", step("one", 3, "b", skills={"peel": 300})),
        hands=(both,),
    )
    assert where(fitted(told, "she", other=[("b", 0)])) == [("a", 3, 5, 5)]


def test_only_sets_of_skills_that_share_a_hand_are_counted() -> None:
    hands = [Hand(id="1", skills=("a", "b"), minutes=(1,)), Hand(id="2", skills=("c",), minutes=(1,))]
    told = Problem(days=problem().days[:1], places=(Place(id="p"),), tables=(), jobs=(), hands=tuple(hands))
    sets = {"".join(sorted(union)) for union in binding_unions(told, {"a", "b", "c", "d"})}
    assert sets == {"ab", "c", "d"}  # a alone is no tighter than a and b; d is done by nobody


def test_a_lifted_rule_is_lifted_for_her_alone() -> None:
    told = problem(
        job("she", step("one", 2, "a")), job("other", step("one", 5, "a")), places=(Place(id="a"),)
    )
    state = State(compile_problem(told))
    settle(state, "other")
    late, free = insert(state, "she"), insert(state, "she", lifted=frozenset[Rule](("stand",)))
    assert late is not None and free is not None
    assert (late.times[0].start, free.times[0].start) == (5, 0)


def test_work_that_falls_is_searched_exactly_too() -> None:
    falls = Table(id="falls", finish=(9, 4, 5, 6, 7, 8, 9, None, None, None))
    told = problem(
        job("she", step("one", 1, "a"), step("two", 1, "b")), tables=(*lengths(10), falls), places=PAIR
    )
    told = replace(told, jobs=(retabled(told.jobs[0], "falls"),))
    assert where(fitted(told, "she")) == [("a", 1, 4, 4), ("b", 4, 5, 5)]


PAIR = (Place(id="a", price=1), Place(id="b"))


def retabled(one: Job, table: str) -> Job:
    first = one.steps[0]
    option = replace(first.options[0], table=table)
    return replace(one, steps=(replace(first, options=(option,)), *one.steps[1:]), late_price=100)


def test_taking_out_gives_back_all_that_was_taken() -> None:
    for seed in range(30):
        told = random_problem(seed, jobs=6, slots=30, places=4)
        compiled = compile_problem(told)
        state = State(compiled)
        empty = state.copy()
        names = [name for name in in_order(compiled, random.Random(seed)) if settle(state, name)]
        random.Random(seed).shuffle(names)
        for name in names:
            state.take(name) if name in state.times else state.take_back(name)
        for what in ("left", "here", "begun", "events", "going", "ahead", "fixed", "rings"):
            assert (getattr(state, what) == getattr(empty, what)).all(), (seed, what)
        assert (state.total, state.pairs) == (empty.total, 0)


def test_a_trip_less_in_a_slot_moves_her_to_another() -> None:
    told = problem(
        job("she", step("one", 2, "a"), step("two", 1, "b")),
        resources=(Resource(id="trips", capacity=(1, 1, 0, 0, 1, 1, 1, 1, 1, 1)),),
        mover="trips",
    )
    assert where(fitted(told, "she"))[1] == ("b", 4, 5, 5)


def test_the_cost_of_a_plan_is_the_sum_of_its_insertions() -> None:
    told = random_problem(3, jobs=6, slots=40, places=4)
    state = State(compile_problem(told))
    for name in in_order(state.compiled, random.Random(3)):
        assert settle(state, name)
    assert sum(cost_of(told, state.schedule()).values()) == state.total


def test_a_boat_left_out_holds_nothing_and_gives_back_nothing() -> None:
    tent = Resource(id="tent", capacity=(1,) * 10)
    told = problem(job("she", step("one", 1, "a"), begun=begun("a", 2, holds={"tent": 1})), resources=(tent,))
    state = State(compile_problem(told))
    before = state.left.copy()
    state.leave_out("she")
    assert (state.left == before).all()
    state.take_back("she")
    assert (state.left == before).all()
