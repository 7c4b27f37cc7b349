"""From a Problem to a Result: first plan, improvement on each core, CP-SAT where it pays, the witness.

Nothing found is lost: whatever ends the search, the best plan so far is finished, checked and returned.
"""

import random
import time
from collections.abc import Callable
from dataclasses import replace

from scheduling.engine import slots, witness
from scheduling.engine.branching import Branching
from scheduling.engine.child import GRACE
from scheduling.engine.climb import Climb
from scheduling.engine.colour import colour
from scheduling.engine.compiled import Compiled, compile_problem
from scheduling.engine.contradictions import unplaceable
from scheduling.engine.cost import cost_of
from scheduling.engine.explain import kept_by
from scheduling.engine.improve import Budget, Search, first_plan, improve, start_search
from scheduling.engine.insertion import State
from scheduling.engine.problem import Problem
from scheduling.engine.proving import MANY_ROUNDS, STEPS, found_by, prove_with_another
from scheduling.engine.repair import Pair, stand_on_posted
from scheduling.engine.rounded import rounded
from scheduling.engine.schedule import BoundPrices, Kept, Result, Schedule, Unplaced, WitnessRefused
from scheduling.engine.second import Second

FEW_JOBS, FEW_STARTS = 12, 40_000
"""Up to so many jobs, and places of each option x slots, CP-SAT takes the whole yard: 10,000 are proven in
seconds, of 150,000 (the example of 12 boats) a minute proves nothing."""
SEARCH_SHARE = 0.4
"""The share of the time that goes to the search before CP-SAT takes over."""
BEAT, TELLING = 1.0, 20
"""[s] at least between two plans that are told, and how many times as long as telling the last one took."""
LOOK = 2.0
"""[s] of search at a time while plans are parted: a cooling in the example of 12 boats."""
LEAST_FOR_SECOND = 3.0
"""[s] of search below which a second process is not worth its start."""
PRICE_SHARE, LEAST_TO_PRICE = 0.1, 5.0
"""The share of the time or work for the bound by prices, [s] below which it is left away."""
BRANCH_SHARE, SEARCHED = 0.4, 12.0
"""The share of the time for the bound of a yard of few boats (ROUNDED_JOBS), where plans are parted, too, by
both processes; and [s] of search after which all of it goes there, since parts lead to cheap plans, too (the
example of 12 boats, measured)."""
PHASES = ("first plan", "search", "prices", "proof", "reasons")
"""What a run does, one after the other: the bound by prices and CP-SAT's proof only where they pay."""
ROUNDED_JOBS = 15
"""Up to so many jobs prices count whole pieces of work, too: in the example of 12 boats that closes a third
of the gap in twice the time, on that of 40 next to nothing (measured)."""
WORK_OF_CP = 0.002
"""CP-SAT's units of work for each insertion of the work given."""


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
    run = _Run(problem, seconds, workers, seed, work, on_better, should_stop or (lambda: False))
    run.began, run.on_phase, run.proof = began, on_phase or run.on_phase, proof
    run.start = mended.schedule if start is None and mended is not None else start
    run.thawed = mended.thawed if mended is not None else ()
    return run.result()


class _Run:
    """One solve: what it was asked, and the best so far."""

    def __init__(
        self,
        problem: Problem,
        seconds: float,
        workers: int,
        seed: int,
        work: int | None,
        on_better: Callable[[Result], None] | None,
        should_stop: Callable[[], bool],
    ) -> None:
        self.problem, self.seconds, self.workers, self.seed, self.work = problem, seconds, workers, seed, work
        self.on_better, self.should_stop = on_better, should_stop
        self.on_phase: Callable[[str], None] = lambda _: None
        self.start: Schedule | None = None
        self.proof = True
        self.thawed: tuple[Pair, ...] = ()
        self.prices: BoundPrices | None = None
        self.began, self.quiet_until = time.monotonic(), 0.0
        self.stopped = self.proven = False
        self.bound: int | None = None
        self.alone: int | None = None
        self.bound_by = ""
        self.tries = self.first_total = 0
        self.first_plan_s = 0.0

    def result(self) -> Result:
        """Search, finish, check."""
        self.on_phase("first plan")
        compiled = compile_problem(self.problem)
        state = first_plan(compiled)
        self.first_plan_s, self.first_total = self._passed(), state.total
        state = self._from_start(compiled, state)
        best, best_total = state.schedule(), state.total
        self._tell(best, always=True)
        self.on_phase("search")
        second = self._second()
        try:
            search = start_search(compiled)
            self.alone = self.bound = search.bound
            self.bound_by = "each boat alone"
            better = self._improve(search, state, second)
            self.tries = search.tries
            if search.climb is not None:
                self._bounded(search.climb)
            if better.total < best_total:
                best, best_total = better.schedule(), better.total
            if second is not None:
                best, best_total = self._take_over(second, best, best_total)
            if second is None or self._few():
                best, best_total = self._price(search, best, best_total)
        finally:
            if second is not None:
                second.end()
        best, best_total = self._finish_small(best, best_total, search)
        self.on_phase("reasons")
        return self._final(compiled, best)

    def _from_start(self, compiled: Compiled, state: State) -> State:
        """The plan to start from, if it may be and is cheaper than `state`."""
        if self.start is None or any(not b.fact for b in witness.check(self.problem, self.start)):
            return state
        given = state_of(compiled, self.start)
        return given if given.total < state.total else state

    # --- parts ----------------------------------------------------------------------------------------------
    def _passed(self) -> float:
        return time.monotonic() - self.began

    def _small(self) -> bool:
        jobs, slots_ = self.problem.jobs, len(self.problem.days)
        ways = sum(len(option.places) for job in jobs for step in job.steps for option in step.options)
        return len(jobs) <= FEW_JOBS and ways * slots_ <= FEW_STARTS

    def _asked_to_stop(self) -> bool:
        self.stopped = self.stopped or self.should_stop()
        return self.stopped

    def _second(self) -> Second | None:
        """A second process with another seed, where there is enough to do for it."""
        left = self.seconds - self._passed()
        if self.workers < 2 or (self._small() and self.work is not None):
            return None
        if self.work is None and left < LEAST_FOR_SECOND:
            return None
        if not self._small():
            left = max(left - 1.0 - 2 * self._to_finish(), 1.0)  # so that it is done when we are
        if self._few():  # then both prove
            left -= self._to_price()
        return Second(self.problem, seed=self.seed + 1, seconds=left, work=self.work, proves=not self._few())

    def _improve(self, search: Search, state: State, second: Second | None) -> State:
        share = SEARCH_SHARE if self._small() else 1.0
        time_left = (self.seconds - self._passed()) * share - (0 if self._small() else self._to_finish())
        if second is None or self._few():
            time_left -= self._to_price()
        budget = Budget(max(time_left, 0.0), self.work, self._asked_to_stop)
        return improve(search, state, random.Random(self.seed), budget, lambda s: self._tell(s.schedule()))

    def _to_finish(self) -> float:
        """[s] kept back for colours, reasons and witness: on a busy machine more, as the first plan shows."""
        needed = max(0.1 + 0.02 * len(self.problem.jobs), 2 * self.first_plan_s)
        return min(0.15 * self.seconds, needed)

    def _to_price(self) -> float:
        """[s] kept for the bound by prices: in the second process if there is one, with few boats in both."""
        if not self.proof or self._small() or self.seconds < LEAST_TO_PRICE:
            return 0.0
        if self._few():
            return max(BRANCH_SHARE * self.seconds, self.seconds - SEARCHED)
        return PRICE_SHARE * self.seconds

    def _few(self) -> bool:
        return len(self.problem.jobs) <= ROUNDED_JOBS

    def _price(self, search: Search, best: Schedule, total: int) -> tuple[Schedule, int]:
        """A better bound than each boat alone, where prices give one; and a plan, if that leads to one."""
        rounds = MANY_ROUNDS
        if self.work is not None:
            rounds = int(PRICE_SHARE * self.work / max(len(self.problem.jobs), 1))
        elif not self._to_price():
            return best, total
        if self._small() or total == self.bound or not self.proof:
            return best, total
        self.on_phase("prices")
        until = self.seconds - self._to_finish()

        def over() -> bool:
            return self._asked_to_stop() or (self.work is None and self._passed() >= until)

        def keep(plan: Schedule) -> None:
            nonlocal best, total
            best, total = self._cheaper(plan, best, total)
            self._tell(best)

        def look() -> int:
            found = improve(search, state_of(search.compiled, best), rng, Budget(LOOK, None, over))
            if found.total < total:
                keep(found.schedule())
            return total

        rng = random.Random(self.seed + 2)  # the second process has the next one
        told = rounded(self.problem) if self._few() else self.problem
        climb = (None if self._few() else search.climb) or Climb(told, total)
        before = climb.tries
        climb.go_on(min(rounds, STEPS), over)
        self.tries += climb.tries - before
        self._bounded(climb)
        if not self._few():
            return best, total
        self.on_phase("proof")
        parts, left = Branching(climb, self.seed), until - self._passed()
        if self.workers > 1 and self.work is None and left > LEAST_FOR_SECOND:
            proof = prove_with_another(self.problem, parts, left, over, keep, look)
        else:
            parts.go_on(rounds - climb.tries // len(told.jobs), over, keep)
            proof = found_by(parts)
        self.tries += proof.tries
        if proof.bound > (self.bound or 0):
            self.bound, self.bound_by = proof.bound, "branching"
        return self._cheaper(proof.schedule, best, total)

    def _cheaper(self, found: Schedule | None, best: Schedule, total: int) -> tuple[Schedule, int]:
        cost = sum(cost_of(self.problem, found).values()) if found is not None else total
        return (found, cost) if found is not None and cost < total else (best, total)

    def _bounded(self, climb: Climb) -> None:
        if climb.bound > (self.bound or 0):
            self.bound, self.bound_by, self.prices = climb.bound, "prices", climb.told()

    def _take_over(self, second: Second, best: Schedule, total: int) -> tuple[Schedule, int]:
        """The plan of the second process if it is better; with work given, once that is done."""
        left = self.seconds + BEAT / 2 - self._to_finish() - self._passed()
        found = second.best(
            wait=self.work is not None and not self._asked_to_stop(),
            stop=self._asked_to_stop,
            patience=GRACE if self.work is not None or self.stopped else min(max(left, 0.1), GRACE),
        )
        self.tries += second.tries
        if second.bound is not None and second.bound > (self.bound or 0):
            self.bound, self.bound_by, self.prices = second.bound, second.bound_by, second.prices
        return self._cheaper(found, best, total)

    def _finish_small(self, best: Schedule, total: int, search: Search) -> tuple[Schedule, int]:
        """CP-SAT on the whole yard, with the plan as a hint, for what is left of the time."""
        left = self.seconds - self._passed() - self._to_finish()
        if (
            not self._small()
            or total == self.bound
            or self._asked_to_stop()
            or (self.work is None and left < 0.5)
        ):
            return best, total
        self.on_phase("proof")
        from scheduling.engine.finish import cp_solve  # noqa: PLC0415 ortools takes a second to load

        answer = cp_solve(
            self.problem,
            hint=best,
            free=None,
            seconds=left if self.work is None else 3600.0,
            workers=self.workers if self.work is None else 1,
            seed=self.seed,
            should_stop=self._asked_to_stop,
            deterministic=None if self.work is None else self.work * WORK_OF_CP,
            alone={name: search.alone_cost(name) for name in search.alone},
        )
        if answer.bound is not None and answer.bound > (self.bound or 0):
            self.bound, self.bound_by, self.prices = answer.bound, "CP-SAT", None
        if answer.schedule is not None and answer.total is not None and answer.total < total:
            if any(not breach.fact for breach in witness.check(self.problem, answer.schedule)):
                return best, total  # the plan we have is sound; never trade it for one that is not
            best, total = answer.schedule, answer.total
        if answer.status == "proven" and answer.total == total:
            self.proven, self.bound, self.bound_by = True, total, self.bound_by or "CP-SAT"
        return best, total

    # --- results --------------------------------------------------------------------------------------------
    def _tell(self, schedule: Schedule, always: bool = False) -> None:
        now = self._passed()
        if self.on_better is None or (not always and now < self.quiet_until):
            return
        self.on_better(self._checked(schedule, {}))
        self.quiet_until = now + max(BEAT, TELLING * (self._passed() - now))

    def _final(self, compiled: Compiled, schedule: Schedule) -> Result:
        state = state_of(compiled, schedule)
        kept = kept_by(state)
        return self._checked(_with_reasons(self.problem, schedule, kept), kept)

    def _checked(self, schedule: Schedule, kept: dict[str, Kept]) -> Result:
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
        proven = self.proven or total == self.bound
        return Result(
            status="proven" if proven else "stopped" if self.stopped else "found",
            schedule=schedule,
            cost=cost,
            total=total,
            bound=self.bound,
            bound_by=self.bound_by,
            alone=self.alone,
            prices=self.prices,
            late_jobs=sum(1 for days_ in late if days_),
            late_days=sum(late),
            kept=kept,
            seconds=round(self._passed(), 3),
            first_plan_s=round(self.first_plan_s, 3),
            first_total=self.first_total,
            tries=self.tries,
            seed=self.seed,
            thawed=self.thawed,
        )


def state_of(compiled: Compiled, schedule: Schedule) -> State:
    """The state that a schedule is: for moves by hand, explanations and further search."""
    state = State(compiled)
    for job in compiled.problem.jobs:
        if job.id in schedule.jobs:
            state.put(job.id, schedule.jobs[job.id])
        else:
            state.leave_out(job.id)
    return state


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
