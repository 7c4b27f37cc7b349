"""For one boat the chain of reasons: why her last stage is then, why the one before, back to a fact or today.

Each link asks why a stage is not as early as the link after it would need. A link that names her own stage
goes on there, one that names another boat with the stage with which that boat makes room; a date on which it
can't be goes on at the last date before on which it could. A fact, the first day and money end it.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from scheduling.engine.around import Around, wish
from scheduling.engine.blocks import blocks
from scheduling.engine.compiled import compile_problem
from scheduling.engine.contradictions import unplaceable
from scheduling.engine.insertion import Fit, State, insert
from scheduling.engine.problem import Job, Problem
from scheduling.engine.schedule import RULES, Rule, Schedule, StepTime
from scheduling.engine.whys import Why, as_why, why_not

MOST_LINKS = 60
"""Longer chains are cut: nobody reads them."""
ONE_BY_ONE: tuple[Rule, ...] = ("stand", "hands", "lane", "air", "pins", "gate", "windows", "chain", "fit")
"""The rules, in the order in which each is lifted to find a way for a boat that has none."""


@dataclass(frozen=True, slots=True)
class _Ask:
    """Why piece `number` of these times of a job does not start at `start`."""

    job: Job
    times: tuple[StepTime, ...]
    number: int
    start: int


def chain(problem: Problem, schedule: Schedule, job_id: str) -> tuple[Why, ...]:
    """The links from a job's last stage back to today, a fact or money, the last stage's first.

    For a job left out: along the way she would take if the rule that keeps her out were lifted. Raises
    KeyError if there is no such job.
    """
    return chains(problem, schedule, [job_id])[job_id]


def chains(
    problem: Problem,
    schedule: Schedule,
    job_ids: Sequence[str],
    should_stop: Callable[[], bool] = lambda: False,
) -> dict[str, tuple[Why, ...]]:
    """The chain of each of these jobs, as `chain` has it, in their order; of those up to the stop."""
    around = Around(compile_problem(problem), schedule)
    found: dict[str, tuple[Why, ...]] = {}
    for job_id in job_ids:
        if should_stop():
            break
        found[job_id] = tuple(_chain(around, around.compiled.jobs[job_id]))
    return found


def _chain(around: Around, job: Job) -> Iterator[Why]:
    times = around.times.get(job.id)
    if times is None:
        yield from _left_out(around, job)
    elif times[-1].option >= 0:  # else nothing is planned of her
        last = len(times) - 1
        yield from _links(around, _Ask(job, times, last, times[last].start - 1), set())


def _left_out(around: Around, job: Job) -> Iterator[Why]:
    """Where she would go, what keeps her from it, and why that is so."""
    state, compiled = around.state.copy(), around.compiled
    state.take_back(job.id)
    fit = insert(state, job.id, hurry=True) or _with_one_place(state, job.id)
    lifts = [(rule,) for rule in ONE_BY_ONE] + list(combinations(ONE_BY_ONE, 2))
    while fit is None and lifts:
        fit = insert(state, job.id, lifted=frozenset(lifts.pop(0)), hurry=True)
    if fit is None or not job.steps:
        never = unplaceable(compiled.problem).get(job.id)
        if never is not None and never.rule in RULES:
            place, step = compiled.problem.places[0].id, job.steps[0].id if job.steps else ""
            yield Why(
                job=job.id,
                step=step,
                rule=never.rule,
                kind="step",
                who=step,
                start=0,
                until=compiled.slots,
                target_kind="job",
                target=job.id,
                says=never.says,
                place=place,
            )
        return
    first = len(fit.times) - len(job.steps)
    for number in range(first, len(fit.times)):
        time = fit.times[number]
        with around.without(job.id):
            asked = wish(compiled, job, fit.times, number, time.start)
            found = blocks(around, asked, replace(time, place=""))
            named = [as_why(around, asked, block, 0) for block in found]
        if named:
            yield named[0]
            after = _next(around, _Ask(job, fit.times, number, time.start), named[0])
            yield from _links(around, after, set()) if after is not None else ()
            return
    with around.without(job.id):
        dear = why_not(around, job.id, fit.times, first, fit.times[first].start, around.total)[0]
    yield replace(dear, says="there is a way for her, but it costs more than to leave her out")
    last = len(fit.times) - 1
    yield from _links(around, _Ask(job, fit.times, last, fit.times[last].start - 1), set())


def _with_one_place(state: State, job_id: str) -> Fit | None:
    """Her earliest finish if one place were empty, the one that brings most; None if no single one does."""
    best: Fit | None = None
    for place in range(len(state.compiled.room)):
        emptied = state.copy()
        emptied.here[place] = 0
        fit = insert(emptied, job_id, hurry=True)
        if fit is not None and (best is None or fit.times[-1].end < best.times[-1].end):
            best = fit
    return best


def _links(around: Around, ask: _Ask, seen: set[tuple[str, int, int]]) -> list[Why]:
    """The links from this question on; of several reasons one that does not end in her own money.

    Where moving her alone is only dear, something else than her stage before is in the way of a link on the
    way there: that is the reason then.
    """
    key = (ask.job.id, ask.number, ask.start)
    if key in seen or len(seen) >= MOST_LINKS:
        return []
    seen.add(key)
    with around.without(ask.job.id):
        found = why_not(around, ask.job.id, ask.times, ask.number, ask.start, around.total)
    ways = []
    for why in found:
        after = _next(around, ask, why)
        ways.append([why, *(_links(around, after, seen) if after is not None else [])])
        if ways[-1][-1].rule != "cost" or ways[-1][-1].job != ask.job.id:
            return ways[-1]
    return ways[0]


def _next(around: Around, ask: _Ask, why: Why) -> _Ask | None:
    """What to ask after this reason; None where it is a fact, the first day or money."""
    if why.kind == "step":
        return _own_stage(around, ask, why)
    if why.by:
        return _other_boat(around, why)
    if why.kind in ("window", "closed", "hand", "resource"):
        start = _could_be_before(around, ask)
        return replace(ask, start=start) if start is not None else None
    return None


def _own_stage(around: Around, ask: _Ask, why: Why) -> _Ask | None:
    """Her stage before, or the one after that must follow soon, with this one where it is wished."""
    begun = ask.job.begun is not None
    place = around.compiled.place_index[why.place]
    asked = wish(around.compiled, ask.job, ask.times, ask.number, ask.start, place, why.option)
    if asked.before is not None and asked.before.step == why.who:
        if asked.before.option < 0:
            return None
        done = ask.start - asked.step.wait_min
        start = _last_start(around, ask.job, asked.times, ask.number - 1, done)
        return _Ask(ask.job, asked.times, ask.number - 1, start)
    following, now = ask.job.steps[ask.number + 1 - begun], ask.times[ask.number + 1]
    if following.wait_max is None or now.start <= asked.end + following.wait_max:
        return None  # it would only last too long
    start = min(asked.end + following.wait_max, now.start - 1)
    return _Ask(ask.job, asked.times, ask.number + 1, start)


def _other_boat(around: Around, why: Why) -> _Ask | None:
    """The stage with which the other boat makes room: by when it would have to start."""
    times = around.times.get(why.by)
    if times is None:
        return None
    number = next(i for i, t in enumerate(times) if t.step == why.by_step)
    if times[number].option < 0:
        return None
    job, start = around.compiled.jobs[why.by], times[number].start - 1
    if why.rule in ("stand", "lane") and times[number].start >= why.until:
        start = min(start, why.start)
    elif why.rule in ("stand", "lane") and times[number].end == why.until:
        start = _last_start(around, job, times, number, done=why.start)
    return _Ask(job, times, number, start)


def _last_start(around: Around, job: Job, times: tuple[StepTime, ...], number: int, done: int) -> int:
    """The last slot before the planned one from which a piece is done before slot `done`; -1 = none."""
    step = job.steps[number - (job.begun is not None)]
    table = around.compiled.books.tables[step.options[times[number].option].table or ""]
    for start in range(min(done, times[number].start) - 1, -1, -1):
        end = table.finish[start]
        if end is not None and end <= done:
            return start
    return -1


def _could_be_before(around: Around, ask: _Ask) -> int | None:
    """The last slot before, at which nothing that is so whatever is planned is in the way."""
    with around.without(ask.job.id):
        for start in range(ask.start - 1, -1, -1):
            asked = wish(around.compiled, ask.job, ask.times, ask.number, start)
            if not asked.possible:
                continue
            found = blocks(around, asked, ask.times[ask.number])
            if not any(b.kind in ("window", "closed", "hand", "resource") and not b.by for b in found):
                return start
    return None
