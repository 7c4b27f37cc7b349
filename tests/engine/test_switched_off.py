"""Insertion, model and witness hold all nine rules each by itself: with one switched off in one, it is seen.

`quarrel` is what the three are held against each other with. It finds nothing in many yards as they are, and
something as soon as any rule is taken out of any of the three.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

from scheduling.engine import insertion, rules, witness
from scheduling.engine.builds import settle
from scheduling.engine.compiled import Compiled, compile_problem
from scheduling.engine.finish import cp_solve
from scheduling.engine.insertion import insert, stand_out
from scheduling.engine.jobtable import JobTable, job_table
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import RULES, Rule
from scheduling.engine.state import State
from tests.engine.random_yards import lane_problem, random_problem, swapping_problem

YARDS = 90
SLOW = pytest.mark.slow  # the first yard in which a gate bites comes late
IN_THE_MODEL: dict[Rule, set[str]] = {"stand": {"stand", "swaps"}, "hands": {"hands", "resources"}}
"""The model's functions for a rule, where they are not one of the rule's name."""


def yard(seed: int) -> Problem:
    if seed % 3 == 2:
        return swapping_problem(seed)
    return lane_problem(seed) if seed % 3 == 1 else random_problem(seed, jobs=3, slots=20, places=3)


def all_but_one(told: Problem) -> tuple[State, str] | None:
    """A plan of all boats but one, who can still be placed or left out, each at her cheapest in turn."""
    state, names = State(compile_problem(told)), [job.id for job in told.jobs]
    random.Random(told.name).shuffle(names)
    return (state, names[-1]) if all(settle(state, name) for name in names[:-1]) else None


def breaches(told: Problem, state: State) -> set[str]:
    return {breach.rule for breach in witness.check(told, state.schedule()) if not breach.fact}


def quarrel(told: Problem) -> str:
    """What insertion, model and witness disagree about in the placing of one boat; "" if in nothing.

    The cheapest way to place her costs the same by insertion and by a model proven optimal; the witness
    refuses neither plan; and it refuses every plan that is cheaper because one rule is lifted for her.
    """
    found = all_but_one(told)
    if found is None:
        return ""
    state, name = found
    without, best = state.copy(), state.copy()
    if stand_out(state, name) is None or not settle(best, name):
        return ""
    without.leave_out(name)
    if breaches(told, best) or breaches(told, without):
        return "the witness refuses what insertion placed"
    model = cp_solve(told, hint=without.schedule(), free={name}, seconds=60, workers=1, seed=1)
    if model.status != "proven" or model.schedule is None or model.total != best.total:
        return f"insertion says {best.total}, the model {model.total}"
    if any(not breach.fact for breach in witness.check(told, model.schedule)):
        return "the witness refuses what the model placed"
    for rule in RULES:
        other, lawless = state.copy(), insert(state, name, lifted=frozenset({rule}))
        if lawless is not None:
            other.put(name, lawless.times)
            if other.total < best.total and not breaches(told, other):
                return f"cheaper without {rule}, and the witness lets it pass"
    return ""


# --- Switches ---------------------------------------------------------------------------------------------
@contextmanager
def insertion_without(rule: Rule) -> Iterator[None]:
    def lifting(
        compiled: Compiled, job_id: str, lifted: frozenset[Rule] = frozenset(), hurry: bool = False
    ) -> JobTable:
        return job_table(compiled, job_id, lifted | {rule}, hurry)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(insertion, "job_table", lifting)
        yield


@contextmanager
def model_without(rule: Rule) -> Iterator[None]:
    whole = list(rules.RULES)
    out = IN_THE_MODEL.get(rule, {rule})
    assert out <= {each.__name__ for each in whole}
    rules.RULES[:] = [each for each in whole if each.__name__ not in out]
    try:
        yield
    finally:
        rules.RULES[:] = whole


@contextmanager
def witness_without(rule: Rule) -> Iterator[None]:
    assert rule in {each.__name__ for each in witness.RULES}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(witness, "RULES", [each for each in witness.RULES if each.__name__ != rule])
        yield


# --- Tests ------------------------------------------------------------------------------------------------
def test_with_all_rules_on_the_three_agree_in_every_yard() -> None:
    assert {seed: said for seed in range(YARDS) if (said := quarrel(yard(seed)))} == {}


@pytest.mark.parametrize("switched", [insertion_without, model_without, witness_without])
@pytest.mark.parametrize("rule", [pytest.param(r, marks=SLOW) if r == "gate" else r for r in RULES])
def test_a_rule_switched_off_in_one_of_the_three_is_seen(
    rule: Rule, switched: Callable[[Rule], contextmanager[None]]
) -> None:
    with switched(rule):
        said = next((said for seed in range(YARDS) if (said := quarrel(yard(seed)))), "")
    assert (said == f"cheaper without {rule}, and the witness lets it pass") == (switched is witness_without)
    assert said


def test_every_rule_has_its_switch_in_each_of_the_three() -> None:
    names = {each.__name__ for each in rules.RULES}
    assert names == set().union(*(IN_THE_MODEL.get(rule, {rule}) for rule in RULES))
    assert [each.__name__ for each in witness.RULES] == list(RULES)
