"""Yards that are short of one thing, so small that what more of it saves is known by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from scheduling.engine.problem import Hand, Option, Problem, Resource, Table
from tests.engine.tiny import job, lengths, problem, step

FRIDAY = date(2026, 11, 6)


def tent_yard() -> Problem:
    """Two boats that dry five days in the one tent and are due on the first Friday."""
    return problem(
        job("one", step("dry", 5, "a", holds={"tent": 1}), due=FRIDAY),
        job("two", step("dry", 5, "b", holds={"tent": 1}), due=FRIDAY),
        resources=(Resource(id="tent", label="tent L", capacity=(1,) * 10),),
    )


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
