"""Better bounds than those of the search: by prices, by plans parted in two, and CP-SAT on a small yard.

Each may lead to a cheaper plan, too; the best of a solve is told both.
"""

import random
from collections.abc import Callable

from scheduling.engine import witness
from scheduling.engine.asked import LEAST_FOR_SECOND, Asked
from scheduling.engine.best import Best
from scheduling.engine.branching import Branching
from scheduling.engine.climb import Climb
from scheduling.engine.improve import Budget, Search, improve
from scheduling.engine.proving import STEPS, found_by, prove_with_another
from scheduling.engine.rounded import rounded
from scheduling.engine.schedule import Schedule
from scheduling.engine.state import State

LOOK = 2.0
"""[s] of search at a time while plans are parted: one walk, cooled, in the example of 12 boats."""
WORK_OF_CP = 0.002
"""CP-SAT's units of work for each insertion of the work given."""
LEAST_FOR_CP = 0.5
"""[s] below which CP-SAT proves nothing."""


def price(
    asked: Asked,
    search: Search,
    best: Best,
    on_phase: Callable[[str], None],
    on_plan: Callable[[Schedule], None],
) -> None:
    """Look for a better bound by prices, with few boats by parts of the plans, too; tell `on_plan` plans."""
    rounds = asked.rounds()
    if not rounds or best.total == best.bound:
        return
    on_phase("prices")

    def over() -> bool:
        return asked.stop() or (asked.work is None and asked.left() <= 0)

    climb = None if asked.few() else search.climb
    if climb is None:
        climb = Climb(rounded(asked.problem) if asked.few() else asked.problem, best.total)
    before = climb.tries
    climb.go_on(min(rounds, STEPS), over)
    best.tries += climb.tries - before
    best.priced(climb)
    if asked.few():
        on_phase("proof")
        _part(asked, search, best, climb, rounds, over, on_plan)


def _part(
    asked: Asked,
    search: Search,
    best: Best,
    climb: Climb,
    rounds: int,
    over: Callable[[], bool],
    on_plan: Callable[[Schedule], None],
) -> None:
    """Part the plans, going on from the best prices of all of them, in two processes where there are two."""
    rng = random.Random(asked.seed + 2)  # the second process has the one between

    def keep(plan: Schedule) -> None:
        if best.offer(plan):
            on_plan(plan)

    def look() -> int:
        state = State.of(search.compiled, best.schedule)
        keep(improve(search, state, rng, Budget(LOOK, None, over)).schedule())
        return best.total

    parts, left = Branching(climb, asked.seed), asked.left()
    if asked.workers > 1 and asked.work is None and left > LEAST_FOR_SECOND:
        proof = prove_with_another(asked.problem, parts, left, over, keep, look)
    else:
        parts.go_on(rounds - climb.tries // len(asked.problem.jobs), over, keep)
        proof = found_by(parts)
    best.tries += proof.tries
    best.bounded(proof.bound, "branching", best.prices)
    best.offer(proof.schedule)


def prove_small(asked: Asked, search: Search, best: Best, on_phase: Callable[[str], None]) -> None:
    """CP-SAT on the whole of a small yard, with the plan as a hint, for what is left of the time."""
    left = asked.left()
    if not asked.small() or best.total == best.bound or asked.stop():
        return
    if asked.work is None and left < LEAST_FOR_CP:
        return
    on_phase("proof")
    from scheduling.engine.finish import cp_solve  # noqa: PLC0415 ortools takes a second to load

    answer = cp_solve(
        asked.problem,
        hint=best.schedule,
        free=None,
        seconds=left if asked.work is None else 3600.0,
        workers=asked.workers if asked.work is None else 1,
        seed=asked.seed,
        should_stop=asked.stop,
        deterministic=None if asked.work is None else asked.work * WORK_OF_CP,
        alone={name: search.alone_cost(name) for name in search.alone},
    )
    best.bounded(answer.bound, "CP-SAT")
    if answer.schedule is not None and answer.total is not None and answer.total < best.total:
        if any(not breach.fact for breach in witness.check(asked.problem, answer.schedule)):
            return  # the plan we have is sound; never trade it for one that is not
        best.offer(answer.schedule)
    if answer.status == "proven" and answer.total == best.total:
        best.bounded(best.total, "CP-SAT")
