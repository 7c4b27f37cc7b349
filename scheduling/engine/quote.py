"""One more boat, or a few, against the posted plan: when would she be back, and what would that cost?

Without moving others the answer is one insertion, exact. With moving others her neighbours make room where
that saves more than the changes cost; nobody is left out for her sake.
"""

import random
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from scheduling.engine import slots, witness
from scheduling.engine.bays import free_bays, keep_bays
from scheduling.engine.compiled import Compiled, compile_problem
from scheduling.engine.contradictions import unplaceable
from scheduling.engine.cost import books_of
from scheduling.engine.explain import held_up
from scheduling.engine.improve import Budget
from scheduling.engine.insertion import Fit, State, insert
from scheduling.engine.moved import Moved, moved_from
from scheduling.engine.postings import Broken, Way, posted_in, ways
from scheduling.engine.problem import Job, Problem, Table
from scheduling.engine.refit import conflicts
from scheduling.engine.repair import freeze
from scheduling.engine.rework import go_back, rework
from scheduling.engine.room import Desk, make_room
from scheduling.engine.schedule import Schedule, StepTime, Unplaced, WitnessRefused

FINISH = 0.15
"""The share of the time kept back for going back, bays, reasons and witness."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """What one more boat comes to. Money in minor units.

    A piece in a pool without a `unit` has room, but no one bay is free all that time: somebody must change
    bays. Of boats quoted together, `cost_rise` is what each adds in turn; with others moved, what she pays.
    """

    job: str
    fits: bool
    times: tuple[StepTime, ...] = ()
    end: date | None = None  # last day of work
    late_days: int = 0  # [calendar days] after her due day
    cost_rise: int = 0  # what the whole plan costs more with her, changes of others at their price
    bound: int = 0  # what she costs at least, whatever others do: against the best plan without her
    moved: tuple[Moved, ...] = ()  # of the posted plan; empty without moving others
    out: Unplaced | None = None  # why she does not fit
    seconds: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Quotes:
    """What some boats come to together, and the whole plan with them."""

    quotes: tuple[Quote, ...]
    cost_rise: int  # [minor units] of all that fit
    schedule: Schedule


# --- The posted plan, made ready once ---------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Standing:
    """The posted plan as it stands, ready for any number of quotes. Quotes change nothing in it."""

    problem: Problem
    posted: Schedule
    compiled: Compiled
    state: State
    ways: dict[str, Way] = field(repr=False)
    lawful: bool  # what today's yard allows; else a quote is as good as the plan

    @classmethod
    def of(cls, problem: Problem, posted: Schedule, frozen: int | None = None) -> "Standing":
        """Make it ready; steps posted before slot `frozen` (None: as the Problem says) are not moved for any
        quote."""
        told, _ = freeze(posted_in(problem, posted), problem.frozen if frozen is None else frozen)
        compiled = compile_problem(told)
        found, state = ways(compiled, posted), State(compiled)
        lawful = True
        for name, way in found.items():
            if way is None or isinstance(
                way, Broken
            ):  # nobody knows where: she is where she began, if at all
                state.leave_out(name)
                lawful &= name in posted.unplaced
            else:
                state.put(name, way)
        return cls(told, posted, compiled, state, found, lawful and not conflicts(state, list(state.times)))

    def with_jobs(self, jobs: Sequence[Job], tables: Sequence[Table]) -> State:
        """A State with the posted plan, of the Problem with these jobs, not in it yet. Raises BadInput."""
        jobs = [replace(job, steps=tuple(replace(step, posted=None) for step in job.steps)) for job in jobs]
        told = replace(
            self.problem,
            jobs=(*self.problem.jobs, *jobs),
            tables=(*self.problem.tables, *tables),
        )
        if all(self._is_known(job) for job in jobs):
            compiled = replace(
                self.compiled,
                problem=told,
                books=books_of(told),
                jobs=self.compiled.jobs | {job.id: job for job in jobs},
                takes_cache=dict(self.compiled.takes_cache),
                shared=dict(self.compiled.shared),
            )
            state = self.state.copy()
            state.compiled = compiled
            state.cost += sum(job.drop_price for job in jobs)  # not in the plan yet
            return state
        state = State(compile_problem(told))
        for name in self.state.out:
            state.leave_out(name)
        for name, times in self.state.times.items():
            state.put(name, times)
        return state

    def _is_known(self, job: Job) -> bool:
        """Whether the arrays of the yard serve this job, too: no fact, skill or dirt that they lack."""
        options = [option for step in job.steps for option in step.options]
        skills = {skill for option in options for skill, amount in option.skills.items() if amount}
        known = frozenset().union(*self.compiled.unions)
        kinds = {kind for option in options for kind in (*option.makes, *option.spoiled_by)}
        dirt = {name[1] for what, name in self.compiled.rows if what == "dirt"}
        return job.begun is None and skills <= known and kinds <= dirt


# --- Quotes -----------------------------------------------------------------------------------------------
def quote(
    standing: Standing,
    enquiry: Job,
    *,
    tables: Sequence[Table] = (),
    moving: bool = False,
    **how: Any,
) -> Quote:
    """What one more boat comes to; `tables` are those of her own. More in `quotes`."""
    return quotes(standing, [enquiry], tables=tables, moving=moving, **how).quotes[0]


def quotes(
    standing: Standing,
    enquiries: Sequence[Job],
    *,
    tables: Sequence[Table] = (),
    moving: bool = False,
    seconds: float = 1.0,
    work: int | None = None,
    seed: int = 1,
    on_better: Callable[[Quotes], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Quotes:
    """What boats that are not in the Problem come to together, each if she fits.

    Without `moving`, nothing of the posted plan changes. With it, others may move, and are searched for
    `seconds` or `work` insertions; it is never dearer then. `on_better` is told the first answer. Raises
    BadInput for a job that does not belong in this Problem, WitnessRefused if others moved break a rule.
    """
    began = time.monotonic()
    state = standing.with_jobs(enquiries, tables)
    names = [job.id for job in enquiries]
    state, rises = _put_in(state, names)
    if not moving:
        return _answer(standing, state, names, rises, began)
    known = standing.ways | dict.fromkeys(names)
    desk = Desk(state.compiled, known, frozenset((*standing.state.times, *names)), frozenset(names))
    for name in names:
        if name not in state.times:
            state = make_room(desk, state, name) or state
    if on_better is not None:
        on_better(_moved_answer(standing, desk, state, names, began))
    left = seconds * (1 - FINISH) - (time.monotonic() - began)
    budget = Budget(max(left, 0.0), work, should_stop or (lambda: False))
    state = go_back(desk, rework(desk, state, random.Random(seed), budget))
    return _moved_answer(standing, desk, state, names, began)


def _put_in(state: State, names: Sequence[str]) -> tuple[State, dict[str, int]]:
    """The State with each job that fits where it is cheapest, and what each made it dearer.

    Earliest due first; if they are in each other's way the other way round, too, and the cheaper is taken.
    """
    alone = {name: insert(state, name) for name in names}
    jobs = state.compiled.jobs
    order = sorted(names, key=lambda name: (jobs[name].due, name))
    best, rises = _one_by_one(state, order, alone)
    apart = sum(fit.cost for fit in alone.values() if fit is not None)
    if len(names) > 1 and (len(rises) < len(names) or sum(rises.values()) > apart):
        other, others = _one_by_one(state, order[::-1], alone)
        if (-len(others), sum(others.values())) < (-len(rises), sum(rises.values())):
            return other, others
    return best, rises


def _one_by_one(
    state: State, order: Sequence[str], alone: Mapping[str, Fit | None]
) -> tuple[State, dict[str, int]]:
    state, rises = state.copy(), dict[str, int]()
    for name in order:
        fit = insert(state, name) if rises else alone[name]
        if fit is not None:
            state.put(name, fit.times)
            rises[name] = fit.cost
    return state, rises


# --- Answers ----------------------------------------------------------------------------------------------
def _answer(
    standing: Standing, state: State, names: Sequence[str], rises: dict[str, int], began: float
) -> Quotes:
    """The answer without moving others: each insertion is the cheapest, so it is its own bound."""
    problem = state.compiled.problem
    plan = state.schedule(_reasons(standing, state, names))
    for name in rises:
        plan = replace(plan, jobs={**plan.jobs, name: free_bays(problem, plan, name)})
    found = [_quote(state, plan, name, rises.get(name, 0), rises.get(name, 0), (), began) for name in names]
    return Quotes(quotes=tuple(found), cost_rise=sum(rises.values()), schedule=plan)


def _moved_answer(standing: Standing, desk: Desk, state: State, names: Sequence[str], began: float) -> Quotes:
    """The answer with others moved, checked by the witness."""
    problem, jobs = state.compiled.problem, state.compiled.jobs
    plan = keep_bays(problem, state.schedule(_reasons(standing, state, names)), standing.posted)
    breaches = [breach for breach in witness.check(problem, plan) if not breach.fact]
    if breaches and standing.lawful:
        raise WitnessRefused(breaches, plan)
    moved = tuple(m for m in moved_from(desk, state, plan, standing.posted) if m.job not in names)
    dropped = sum(jobs[name].drop_price for name in names if name not in state.times)
    rise = state.total - dropped - standing.state.total
    found = []
    for name in names:
        alone = insert(State.alone(state.compiled, jobs[name]), name)
        own = rise if len(names) == 1 else state.own.get(name, 0)
        found.append(_quote(state, plan, name, own, alone.cost if alone else 0, moved, began))
    return Quotes(quotes=tuple(found), cost_rise=rise, schedule=plan)


def _reasons(standing: Standing, state: State, names: Sequence[str]) -> dict[str, Unplaced]:
    """Why each job that is out is out."""
    why = {name: _why(state, name) for name in names if name not in state.times}
    return {**standing.posted.unplaced, **why}


def _quote(
    state: State,
    plan: Schedule,
    name: str,
    rise: int,
    bound: int,
    moved: tuple[Moved, ...],
    began: float,
) -> Quote:
    times, days, job = plan.jobs.get(name), state.compiled.problem.days, state.compiled.jobs[name]
    seconds = round(time.monotonic() - began, 4)
    if times is None:
        return Quote(job=name, fits=False, bound=bound, out=plan.unplaced[name], seconds=seconds)
    return Quote(
        job=name,
        fits=True,
        times=times,
        end=slots.last_day(days, times[-1].end),
        late_days=slots.late_days(days, job.due, times[-1].end),
        cost_rise=rise,
        bound=bound,
        moved=moved,
        seconds=seconds,
    )


def _why(state: State, name: str) -> Unplaced:
    """What keeps a job out."""
    never = unplaceable(state.compiled.problem)
    if name in never:
        return never[name]
    kept = held_up(state, name)
    if kept is None:
        return Unplaced(rule="cost", says="there is no way for her with the others where they are")
    return Unplaced(rule=kept.rule, says=kept.says)
