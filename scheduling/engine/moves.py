"""A plan beside the posted one: every step that moves, with the reason."""

from scheduling.engine.compiled import compile_problem
from scheduling.engine.moved import Moved, moved_from
from scheduling.engine.postings import posted_of, ways
from scheduling.engine.problem import Problem
from scheduling.engine.room import Desk
from scheduling.engine.schedule import Schedule
from scheduling.engine.state import State


def moves(problem: Problem, schedule: Schedule) -> tuple[Moved, ...]:
    """Every step of a plan that is not where its Problem says it is posted; none where nothing is posted.

    The reasons are those of the Problem as it is given: `as_frozen`, where frozen days are to hold.
    """
    posted = posted_of(problem)
    if posted is None:
        return ()
    compiled = compile_problem(problem)
    return moved_from(Desk(compiled, ways(compiled, posted)), State.of(compiled, schedule), schedule, posted)
