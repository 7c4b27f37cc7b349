"""From a Problem to a Result: first plan, improvement on each core, CP-SAT where it pays, the witness.

Nothing found is lost: whatever ends the search, the best plan so far is finished, checked and returned.
"""

import random
import time
from collections.abc import Callable
from dataclasses import replace

from scheduling.engine import slots, witness
from scheduling.engine.asked import Asked
from scheduling.engine.best import Best
from scheduling.engine.bounding import price, prove_small
from scheduling.engine.child import GRACE
from scheduling.engine.colour import colour
from scheduling.engine.compiled import Compiled, compile_problem
from scheduling.engine.contradictions import unplaceable
from scheduling.engine.explain import kept_by
from scheduling.engine.improve import Budget, Search, first_plan, improve, start_search
from scheduling.engine.problem import Problem
from scheduling.engine.repair import Pair, stand_on_posted
from scheduling.engine.schedule import Kept, Result, Schedule, Unplaced, WitnessRefused
from scheduling.engine.second import Second
from scheduling.engine.state import State

BEAT, TELLING = 1.0, 20
"""[s] at least between two plans that are told, and how many times as long as telling the last one took."""
PHASES = ("first plan", "search", "prices", "proof", "reasons")
"""What a run does, one after the other: the bound by prices and CP-SAT's proof only where they pay."""


def solve(
    problem: Problem,
    *,
    seconds: float = 10.0,
    workers: int = 2,
    seed: int = 1,
    work: int | None = None,
    on_better: Callable[[Result], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    on_phase: Callable[[str], None] | None = None,
    start: Schedule | None = None,
    proof: bool = True,
) -> Result:
    """The best plan found in `seconds`, or with `work` insertions by each worker whatever the clock says.

    `on_better` is told the first plan and then better ones, each checked; `on_phase` what is being done now
    (PHASES). Frozen steps stay where they are posted unless a fact forces them (`thawed`); the bound is of
    plans that keep them. The search goes on from `start`, else from the posted plan as it can still be, if
    that keeps the rules and costs less than the first plan. Without `proof` there is no bound by prices
    but that of the search. Raises WitnessRefused.
    """
    began = time.monotonic()
    problem, mended = stand_on_posted(problem)
    asked = Asked(
        problem=problem,
        seconds=seconds,
        workers=workers,
        seed=seed,
        work=work,
        proof=proof,
        should_stop=should_stop or (lambda: False),
        began=began,
    )
    thawed = mended.thawed if mended is not None else ()
    if start is None and mended is not None:
        start = mended.schedule
    return _Run(asked, on_better, on_phase or (lambda _: None), thawed).result(start)


class _Run:
    """One solve: what it was asked, who is told, and the best so far."""

    def __init__(
        self,
        asked: Asked,
        on_better: Callable[[Result], None] | None,
        on_phase: Callable[[str], None],
        thawed: tuple[Pair, ...] = (),
    ) -> None:
        self.asked, self.problem = asked, asked.problem
        self.on_better, self.on_phase, self.thawed = on_better, on_phase, thawed
        self.alone: int | None = None
        self.first_total = 0
        self.quiet_until = 0.0

    def result(self, start: Schedule | None) -> Result:
        """Search, finish, check."""
        asked = self.asked
        self.on_phase("first plan")
        compiled = compile_problem(self.problem)
        state = first_plan(compiled)
        asked.first_plan_s, self.first_total = asked.passed(), state.total
        state = self._from_start(compiled, state, start)
        self.best = best = Best(self.problem, state.schedule(), state.total)
        self._tell(best.schedule, always=True)
        self.on_phase("search")
        second = self._second()
        try:
            search = start_search(compiled)
            self.alone = search.bound
            best.bounded(search.bound, "each boat alone")
            self._improve(search, state, alone=second is None)
            if second is not None:
                self._take_over(second)
            if second is None or asked.few():
                price(asked, search, best, self.on_phase, self._tell)
        finally:
            if second is not None:
                second.end()
        prove_small(asked, search, best, self.on_phase)
        self.on_phase("reasons")
        kept = kept_by(State.of(compiled, best.schedule))
        return self._checked(_with_reasons(self.problem, best.schedule, kept), kept)

    def _from_start(self, compiled: Compiled, state: State, start: Schedule | None) -> State:
        """The plan to start from, if it may be and is cheaper than `state`."""
        if start is None or any(not breach.fact for breach in witness.check(self.problem, start)):
            return state
        given = State.of(compiled, start)
        return given if given.total < state.total else state

    # --- parts ----------------------------------------------------------------------------------------------
    def _second(self) -> Second | None:
        """A second process with another seed, where there is enough to do for it."""
        asked, seconds = self.asked, self.asked.for_second()
        if seconds is None:
            return None
        return Second(
            self.problem, seed=asked.seed + 1, seconds=seconds, work=asked.work, proves=not asked.few()
        )

    def _improve(self, search: Search, state: State, alone: bool) -> None:
        """The search of this process, and the bound by the prices that it looked for."""
        asked, best = self.asked, self.best
        budget = Budget(asked.to_search(alone), asked.work, asked.stop)
        rng = random.Random(asked.seed)
        better = improve(search, state, rng, budget, lambda state: self._tell(state.schedule()))
        best.tries = search.tries
        if search.climb is not None:
            best.priced(search.climb)
        best.offer(better.schedule())

    def _take_over(self, second: Second) -> None:
        """The plan of the second process if it is better; with work given, once that is done."""
        asked, best = self.asked, self.best
        by_work = asked.work is not None
        found = second.best(
            wait=by_work and not asked.stop(),
            stop=asked.stop,
            patience=GRACE if by_work or asked.stopped else min(max(asked.left() + BEAT / 2, 0.1), GRACE),
        )
        best.tries += second.tries
        best.bounded(second.bound, second.bound_by, second.prices)
        best.offer(found)

    # --- results --------------------------------------------------------------------------------------------
    def _tell(self, schedule: Schedule, always: bool = False) -> None:
        now = self.asked.passed()
        if self.on_better is None or (not always and now < self.quiet_until):
            return
        self.on_better(self._checked(schedule, {}))
        self.quiet_until = now + max(BEAT, TELLING * (self.asked.passed() - now))

    def _checked(self, schedule: Schedule, kept: dict[str, Kept]) -> Result:
        asked, best = self.asked, self.best
        schedule = colour(self.problem, schedule)
        breaches = [breach for breach in witness.check(self.problem, schedule) if not breach.fact]
        if breaches:
            raise WitnessRefused(breaches, schedule)
        cost = witness.cost(self.problem, schedule)
        total, days = sum(cost.values()), self.problem.days
        late = []
        for job in self.problem.jobs:
            times = schedule.jobs.get(job.id)
            late.append(
                slots.late_days(days, job.due, times[-1].end)
                if times
                else slots.unplaced_late_days(days, job.due)
            )
        return Result(
            status="proven" if total == best.bound else "stopped" if asked.stopped else "found",
            schedule=schedule,
            cost=cost,
            total=total,
            bound=best.bound,
            bound_by=best.bound_by,
            alone=self.alone,
            prices=best.prices,
            late_jobs=sum(1 for days_ in late if days_),
            late_days=sum(late),
            kept=kept,
            seconds=round(asked.passed(), 3),
            first_plan_s=round(asked.first_plan_s, 3),
            first_total=self.first_total,
            tries=best.tries,
            seed=asked.seed,
            thawed=self.thawed,
        )


def _with_reasons(problem: Problem, schedule: Schedule, kept: dict[str, Kept]) -> Schedule:
    """The same schedule, each job left out with the rule that keeps her out: what can't be comes first."""
    out = [job.id for job in problem.jobs if job.id not in schedule.jobs]
    never = unplaceable(problem) if out else {}
    reasons = {}
    for name in out:
        reason = kept.get(name)
        cost = Unplaced(rule="cost", says="to place her costs more than to leave her out")
        here = Unplaced(rule=reason.rule, says=reason.says) if reason is not None else cost
        reasons[name] = never.get(name, here)
    return replace(schedule, unplaced=reasons)
