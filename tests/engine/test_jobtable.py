"""Tables of jobs: what boats have in common is held once, however many boats there are."""

from __future__ import annotations

from scheduling.engine.compiled import compile_problem
from scheduling.engine.jobtable import job_table
from scheduling.engine.problem import Place
from tests.engine.tiny import job, problem, step


def test_boats_alike_share_the_tables_of_their_steps() -> None:
    told = problem(
        job("she", step("one", 2, "a", "b"), late_price=1),
        job("other", step("one", 2, "a", "b"), late_price=2),
        job("longer", step("one", 2, "a"), late_price=2),
    )
    compiled = compile_problem(told)
    she, other, longer = (job_table(compiled, name) for name in ("she", "other", "longer"))
    assert she.steps[0] is other.steps[0]
    assert she.steps[0] is not longer.steps[0]


def test_what_is_the_same_in_all_places_of_an_option_is_held_once() -> None:
    """Twenty places, one option: twenty rows, one line of finishes."""
    names = [f"p{n}" for n in range(20)]
    told = problem(job("she", step("one", 3, *names)), places=tuple(Place(id=name) for name in names))
    table = job_table(compile_problem(told), "she")
    assert (len(table.place), table.finish.shape) == (20, (1, 10))
    assert table.finish[0].tolist() == [
        3,
        4,
        5,
        6,
        7,
        8,
        9,
        10,
        10,
        10,
    ]  # no start is possible in the last two


def test_where_a_step_may_start_is_known_by_place() -> None:
    told = problem(job("she", step("one", 3, "a", earliest=2)))
    table = job_table(compile_problem(told), "she")
    lawful = table.lawful_starts(0, 0, 0)
    assert lawful is not None
    assert lawful.tolist() == [False, False, *[True] * 6, False, False]
    assert table.lawful_starts(0, 0, 1) is None
