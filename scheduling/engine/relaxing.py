"""The smallest set of named things more that brings every boat into an overfull plan.

Candidates are tried one at a time, then in pairs, then in threes: the boats left out are put into the yard
with them, all others as planned. The first size at which it works is taken, of its sets the one with the
cheapest plan after. It is the fewest of these candidates with the others where they are, no more: proven the
fewest there can be is only a single one, and that where a boat left out can be in no plan at all.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, permutations

from scheduling.engine import witness
from scheduling.engine.builds import settle
from scheduling.engine.candidates import candidates, later_promise, lift_day
from scheduling.engine.compiled import compile_problem
from scheduling.engine.insertion import State, insert
from scheduling.engine.more import Relaxation, first_slot, opened, schedule_over, windows, with_more
from scheduling.engine.problem import Job, Problem
from scheduling.engine.schedule import Schedule
from scheduling.engine.slots import late_days
from scheduling.engine.whys import Why

MOST = 6
"""Sets of more than so many are no answer."""
POOL = {2: 24, 3: 12}
"""How many of the best single candidates are tried in sets of this size."""
ORDERS = 6
"""In so many orders the boats left out are put in."""


@dataclass(frozen=True, slots=True)
class _Trial:
    """How a set of things does: boats still left out, and what the plan costs then."""

    things: tuple[Relaxation, ...]
    out: frozenset[str]
    total: int


def relaxations(
    problem: Problem,
    schedule: Schedule,
    *,
    seconds: float = 30.0,
    more: Sequence[Relaxation] | None = None,
    because: Sequence[Why] = (),
    should_stop: Callable[[], bool] | None = None,
    on_more: Callable[[], None] = lambda: None,
) -> tuple[Relaxation, ...]:
    """The fewest candidates with which every boat is in the plan; of as few those after which it costs least.

    None are needed if nobody is left out. Where no set of three does it, the best is added to, one at a
    time; empty if so many as MOST do not do it. `more` are the candidates (None: all that can be derived).
    What could lift one of the reasons in `because` is tried first, so that a short time goes to what matters.
    `on_more` is called once every candidate has been tried alone and none does it: at least two are needed.
    """
    out = [job for job in problem.jobs if job.id not in schedule.jobs]
    until = time.monotonic() + seconds

    def over() -> bool:
        return time.monotonic() >= until or (should_stop is not None and should_stop())

    if not out:
        return ()
    things = list(candidates(problem, schedule) if more is None else more)
    if more is None:
        things = [t for t in things if t.kind not in ("promise", "lift day")]
        things += [*_promises(problem, schedule, out), *_lift_days(problem, schedule, out)]
    things.sort(key=lambda thing: not any(_lifts(thing, why) for why in because))
    return _search(problem, schedule, things, over, on_more)


def _lifts(thing: Relaxation, why: Why) -> bool:
    """Whether a thing more could do something about a reason."""
    match thing.kind:
        case "hand":
            return why.kind == "hand" and thing.what in why.who.split(" or ")
        case "kit":
            return why.kind == "resource" and thing.what == why.who
        case "bay" | "fitted":
            return why.rule in ("stand", "lane", "air", "fit") or why.kind == "closed"
        case "lift day":
            return why.kind == "window"
        case "promise":
            return why.rule == "cost" and thing.what == why.job
        case "day":
            return False


def _search(
    problem: Problem,
    schedule: Schedule,
    things: Sequence[Relaxation],
    over: Callable[[], bool],
    on_more: Callable[[], None],
) -> tuple[Relaxation, ...]:
    tried: list[_Trial] = []
    found: list[_Trial] = []
    for thing in things:
        if over():
            break
        tried.append(_try(problem, schedule, (thing,)))
    for size in (1, 2, 3):
        if size > 1:
            tried.sort(key=lambda trial: (len(trial.out), trial.total))
            pool = [trial.things[0] for trial in tried[: POOL[size]]]
            found = []
            for group in combinations(pool, size):
                if over():
                    break
                found.append(_try(problem, schedule, group))
        else:
            found = tried
        done = [trial for trial in found if not trial.out]
        if done:
            return min(done, key=lambda trial: (_price(trial.things), trial.total)).things
        if size == 1 and len(tried) == len(things):
            on_more()
    return _added_to(problem, schedule, found or tried, tried, over)


def _added_to(
    problem: Problem,
    schedule: Schedule,
    sets: Sequence[_Trial],
    singles: Sequence[_Trial],
    over: Callable[[], bool],
) -> tuple[Relaxation, ...]:
    """The best of some sets, with what helps most added to it until it does; empty if it never does."""

    def key(trial: _Trial) -> tuple[int, int]:
        return len(trial.out), trial.total

    best = min(sets, key=key, default=None)
    while best is not None and best.out and len(best.things) < MOST and not over():
        things = best.things
        others = [trial.things[0] for trial in singles[: POOL[2]] if trial.things[0] not in things]
        best = min((_try(problem, schedule, (*things, other)) for other in others), key=key, default=None)
    return best.things if best is not None and not best.out else ()


def _price(things: Sequence[Relaxation]) -> int:
    return sum(thing.price or 0 for thing in things)


def _try(problem: Problem, schedule: Schedule, things: tuple[Relaxation, ...]) -> _Trial:
    """The boats left out put into the yard with these things, in several orders; the best of them."""
    wider = with_more(problem, *things)
    start = state_in(problem, wider, schedule)
    out = [job.id for job in wider.jobs if job.id not in start.times]
    best = _Trial(things, frozenset(out), start.total)
    for _, order in zip(range(ORDERS), permutations(out), strict=False):
        state = start.copy()
        for name in order:
            state.take_back(name)
            settle(state, name)
        left = frozenset(name for name in out if name not in state.times)
        if (len(left), state.total) < (len(best.out), best.total):
            best = _Trial(things, left, state.total)
        if not left:
            break
    return best


def state_in(problem: Problem, wider: Problem, schedule: Schedule) -> State:
    """A plan of `problem` in the wider yard; who can't stay as she was there is put in anew."""
    compiled = compile_problem(wider)
    state, over = State(compiled), schedule_over(problem, wider, schedule)
    moved = len(wider.days) != len(problem.days) or wider.tables != problem.tables
    broken = {b.job for b in witness.check(wider, over) if not b.fact} if moved else set()
    for name in compiled.jobs:
        if name in over.jobs and name not in broken:
            state.put(name, over.jobs[name])
        elif name not in over.jobs:
            state.leave_out(name)
    for name in compiled.jobs:
        if name in broken and not settle(state, name):
            state.leave_out(name)
    return state


def _promises(problem: Problem, schedule: Schedule, out: Sequence[Job]) -> list[Relaxation]:
    """For each boat left out who could be put in late, her promise as much later as she would be."""
    state, found = state_in(problem, problem, schedule), []
    for job in out:
        alone = state.copy()
        alone.take_back(job.id)
        fit = insert(alone, job.id)
        late = late_days(problem.days, job.due, fit.times[-1].end) if fit is not None else 0
        if fit is not None and late and fit.cost - late * job.late_price <= job.drop_price:
            found.append(later_promise(problem, job, late))
    return found


def _lift_days(problem: Problem, schedule: Schedule, out: Sequence[Job]) -> list[Relaxation]:
    """The days on which each boat left out would be lifted if any day would do."""
    few, found, width = windows(problem), {}, len(problem.days)
    tables = {table.id: table for table in problem.tables}
    open_ = tuple(
        opened(t, range(first_slot(problem, t), width)) if t.id in few else t for t in problem.tables
    )
    state = state_in(problem, replace(problem, tables=open_), schedule)
    for job in out:
        alone = state.copy()
        alone.take_back(job.id)
        fit = insert(alone, job.id, hurry=True)
        for time_, step in zip(fit.times[-len(job.steps) :], job.steps, strict=True) if fit else ():
            table = tables[step.options[time_.option].table or ""]
            if table.id in few and table.finish[time_.start] is None:
                day = lift_day(problem, table, time_.start)
                found[day.what, day.like] = day
    return list(found.values())
