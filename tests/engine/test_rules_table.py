"""Every rule in the model's table of contents bites: without it the cheapest schedule costs less."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from scheduling.engine.problem import Air, Hand, Place, Problem, Resource
from scheduling.engine.rules import RULES
from tests.engine.model import total
from tests.engine.tiny import begun, job, problem, step

MONDAY, NEVER = date(2026, 11, 2), date(2026, 12, 24)
HALL = {"places": (Place(id="a", air="hall"), Place(id="b", air="hall")), "airs": (Air(id="hall"),)}
LANE = {"places": (Place(id="a", lane="l", depth=1), Place(id="b", lane="l", depth=2))}


def one(**values: object) -> Problem:
    """One boat with one day of work, due on Monday, in place a; some of what is said here is in her way."""
    size = values.pop("size", {})
    return problem(job("x", step("coat", 1, "a", **values), due=MONDAY, size=size, signed_dry=True))


def two(mine: dict[str, object], other: dict[str, object], **values: object) -> Problem:
    """A boat that is in slot 0 in a, and one that would like to be in slot 0, too, in b."""
    first = job("x", step("peel", 2, "a", pin_start=0, **mine), due=NEVER)
    return problem(first, job("y", step("coat", 1, "b", **other), due=MONDAY), **values)


def swap() -> Problem:
    boats = (("x", "a", "b"), ("y", "b", "a"))
    return problem(
        *(job(name, step("coat", 1, there), begun=begun(here, 1), due=NEVER) for name, here, there in boats)
    )


def chained() -> Problem:
    return problem(job("x", step("peel", 1, "a"), step("coat", 1, "b", wait_min=2), due=date(2026, 11, 3)))


def crowded() -> Problem:
    return problem(*(job(name, step("coat", 1, "a"), due=MONDAY) for name in "xy"))


def in_a_lane() -> Problem:
    return two({"movable": False}, {"pin_start": 1}, **LANE)


def small() -> Problem:
    boat = job("x", step("coat", 1, "a"), size={"length": 12})
    return problem(boat, places=(Place(id="a", limits={"length": 9}),))


YARDS: dict[str, Callable[[], Problem]] = {
    "chain": chained,
    "stand": crowded,
    "swaps": swap,
    "fit": small,
    "lane": in_a_lane,
    "air": lambda: two({"makes": ("dust",)}, {"spoiled_by": ("dust",)}, **HALL),
    "hands": lambda: two(
        {"skills": {"peel": 60}}, {"skills": {"coat": 60}},
        hands=(Hand(id="h", skills=("peel", "coat"), minutes=(100,) * 10),),
    ),
    "resources": lambda: two(
        {"uses": {"kit": 1}}, {"uses": {"kit": 1}}, resources=(Resource(id="kit", capacity=(1,) * 10),)
    ),
    "windows": lambda: one(earliest=2),
    "pins": lambda: one(pin_start=3),
    "gate": lambda: one(coats=True, gate=2),
}  # fmt: skip


@pytest.mark.parametrize("rule", [rule.__name__ for rule in RULES])
def test_taking_a_rule_out_makes_the_cheapest_schedule_cheaper(rule: str):
    yard = YARDS[rule]()
    with_it, without_it = total(yard), total(yard, rule)
    assert with_it is not None and without_it is not None
    assert with_it > without_it
