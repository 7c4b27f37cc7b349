"""A path that is given is lawful where the witness says so; of boats in each other's way no more go than
must."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

from scheduling.engine import witness
from scheduling.engine.builds import first_plan
from scheduling.engine.cost import stays_of
from scheduling.engine.insertion import State, compile_problem
from scheduling.engine.postings import Broken, posted_in, ways
from scheduling.engine.problem import Place, Posted, Problem
from scheduling.engine.refit import broken_by, refit, who
from scheduling.engine.schedule import RULES, StepTime
from tests.engine import one_job
from tests.engine.random_yards import random_problem
from tests.engine.tiny import begun, broken, job, plan, problem, step


def tried(seeds: range) -> Iterator[tuple[Problem, State, str, tuple[StepTime, ...]]]:
    """Plans of random yards with one boat taken out, and ways of hers, most of them not lawful."""
    for seed in seeds:
        told = random_problem(seed, jobs=4, slots=18, places=3)
        state = first_plan(compile_problem(told))
        names = [name for name in state.times if state.compiled.jobs[name].steps]
        if state.out or not names:
            continue
        rng = random.Random(seed)
        name = rng.choice(names)
        state.take(name)
        every = list(islice(one_job.ways(told, state.compiled.jobs[name]), 20_000))
        for times in rng.sample(every, min(len(every), 60)):
            yield told, state, name, times


def test_a_path_breaks_a_rule_where_it_does_to_the_witness(test_size: str) -> None:
    seen = {"fine": 0} | dict.fromkeys(RULES, 0)
    for told, state, name, times in tried(range(20 if test_size == "small" else 400)):
        found = broken_by(state, name, times)
        with_her = state.copy()
        with_her.put(name, times)
        breaches = broken(told, with_her.schedule())
        assert (found is None) == (not breaches), (told.name, name, found, breaches)
        if found is not None:
            assert found.rule in {rule for rule, _, _ in breaches}, (told.name, name, found, breaches)
        seen[found.rule if found else "fine"] += 1
    assert all(seen[rule] for rule in ("fine", "stand", "lane", "air", "hands", "windows", "pins", "gate")), (
        seen
    )


def test_trying_a_path_leaves_the_state_as_it_was() -> None:
    for _, state, name, times in tried(range(6)):
        left, here, total = state.left.copy(), state.here.copy(), state.total
        broken_by(state, name, times)
        assert (state.left == left).all()
        assert (state.here == here).all()
        assert state.total == total


def test_a_plan_that_still_fits_comes_out_as_it_is() -> None:
    for seed in range(40):
        told = random_problem(seed, jobs=6, slots=30, places=3)
        posted = first_plan(compile_problem(told)).schedule()
        compiled = compile_problem(posted_in(clean(told), posted))
        state, out = refit(compiled, ways(compiled, posted), posted)
        assert out == [], seed
        assert state.schedule().jobs == posted.jobs, seed


def clean(told: Problem) -> Problem:
    """The same yard with nothing posted."""
    jobs = tuple(
        replace(each, steps=tuple(replace(s, posted=None) for s in each.steps)) for each in told.jobs
    )
    return replace(told, jobs=jobs)


def test_none_of_those_taken_out_could_be_put_back() -> None:
    outs = 0
    for seed in range(40):
        told = random_problem(seed, jobs=7, slots=30, places=4)
        posted = first_plan(compile_problem(told)).schedule()
        hands = tuple(replace(h, minutes=tuple(m // 2 for m in h.minutes)) for h in told.hands)
        after = replace(posted_in(clean(told), posted), hands=hands)
        compiled = compile_problem(after)
        found = ways(compiled, posted)
        state, out = refit(compiled, found, posted)
        if all(compiled.jobs[name].begun is None for name in out):  # those would stand in the way of others
            assert broken(after, state.schedule()) == [], seed
        for name in out:
            way = found[name]
            assert isinstance(way, Broken) or (way and broken_by(state, name, way)), (seed, name)
            outs += 1
    assert outs > 20


def test_a_longer_drying_breaks_the_chain_of_its_boat_only() -> None:
    told = problem(
        job("she", step("dry", 2, "a"), step("coat", 1, "a")),
        job("other", step("one", 1, "b")),
    )
    posted = plan(told, she=[("a", 0), ("a", 2)], other=[("b", 0)])
    slow = replace(
        told.jobs[0],
        steps=(replace(told.jobs[0].steps[0], options=step("dry", 4, "a").options), told.jobs[0].steps[1]),
    )
    after = posted_in(replace(told, jobs=(slow, told.jobs[1])), posted)
    compiled = compile_problem(after)
    state, out = refit(compiled, ways(compiled, posted), posted)
    assert (out, list(state.times)) == (["she"], ["other"])


def test_who_is_in_the_way_is_named() -> None:
    told = problem(
        job("she", step("one", 2, "a")),
        job("other", step("one", 3, "a")),
        job("third", step("one", 3, "b")),
        places=(Place(id="a"), Place(id="b")),
    )
    state = State(compile_problem(told))
    both = plan(told, she=[("a", 1)], other=[("a", 0)], third=[("b", 0)]).jobs
    state.put("other", both["other"])
    state.put("third", both["third"])
    found = broken_by(state, "she", both["she"])
    assert found == Broken(rule="stand", step="one", slot=1, what="a")
    assert who(state, both["she"], found) == ("other",)


def test_what_a_step_says_of_itself_goes_before_the_plan() -> None:
    told = problem(
        job("she", step("one", 1, "a", "b", posted=Posted(place="b", start=3)), step("two", 1, "b"))
    )
    posted = plan(told, she=[("a", 0), ("b", 5)])
    steps = posted_in(told, posted).jobs[0].steps
    assert [(s.posted.place, s.posted.start) for s in steps if s.posted] == [("b", 3), ("b", 5)]


def test_a_boat_that_has_begun_since_goes_on_from_where_she_is() -> None:
    before = problem(job("she", step("one", 2, "a"), step("two", 1, "b")))
    posted = plan(before, she=[("a", 0), ("b", 3)])
    told = problem(job("she", step("two", 1, "b"), begun=begun("a", 1, name="one")))
    compiled = compile_problem(posted_in(told, posted))
    (way,) = ways(compiled, posted).values()
    assert way is not None
    assert not isinstance(way, Broken)
    assert [(t.place, t.start, t.end, t.leaves) for t in way] == [("a", -1, 1, 3), ("b", 3, 4, 4)]
    assert [stay.place for stay in stays_of("she", way)] == ["a", "b"]
    state, out = refit(compiled, {"she": way}, posted)
    assert out == []
    assert witness.check(told, state.schedule()) == []
