"""The posted plan after something has happened: what still fits stays, and no more moves than must or pays.

The Problem is today's. The posted plan is put into it again; boats that no longer fit are put in anew at the
price of each changed placement, others making room where they must; then the boats touched and their
neighbours are searched for a cheaper way; at last each boat that moved goes back if she can do so alone.
"""

import random
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

from scheduling.engine import witness
from scheduling.engine.bays import keep_bays
from scheduling.engine.builds import first_plan
from scheduling.engine.compiled import Compiled, compile_problem
from scheduling.engine.improve import Budget
from scheduling.engine.insertion import State, insert
from scheduling.engine.jsonio import BadInput
from scheduling.engine.moved import Moved, moved_from, reason_of
from scheduling.engine.postings import elsewhere, posted_in, posted_of, ways
from scheduling.engine.problem import Problem, Step
from scheduling.engine.refit import refit
from scheduling.engine.rework import go_back, rework
from scheduling.engine.room import Desk, first_repair
from scheduling.engine.schedule import Schedule, Unplaced, WitnessRefused

Pair = tuple[str, str]  # (job, step)

BEAT = 0.25
"""[s] at least between two plans that are told."""
FINISH = 0.15
"""The share of the time kept back for going back, bays, reasons and witness."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """A plan for today's yard that disturbs the posted one as little as pays.

    `total` and `cost` [minor units] are the witness's, of `posted_in(problem, posted)`.
    """

    status: Literal["kept", "repaired", "stopped"]
    schedule: Schedule
    moved: tuple[Moved, ...] = ()
    thawed: tuple[Pair, ...] = ()  # frozen steps that a fact forces to be elsewhere; none of a boat left out
    cost: Mapping[str, int]
    total: int
    first_s: float = 0.0  # [s] until the first repaired plan
    first_total: int = 0
    seconds: float = 0.0
    tries: int = 0  # insertions made
    seed: int = 1


def repair(
    problem: Problem,
    posted: Schedule | None = None,
    *,
    seconds: float = 2.0,
    seed: int = 1,
    work: int | None = None,
    frozen: int | None = None,
    on_better: Callable[[Repair], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Repair:
    """The posted plan repaired in `seconds`, or with `work` insertions whatever the clock says.

    What each step's `posted` says goes before the plan `posted`, which may be left away. Steps posted before
    slot `frozen` (None: as the Problem says) stay, with the place and start they have, unless a fact forces
    them (`thawed`). Where all still fits, the posted plan comes back as it is, without a search. `on_better`
    is told the first plan and then better ones, each checked. Raises WitnessRefused, and BadInput if nothing
    is posted.
    """
    posted = posted_of(problem) if posted is None else posted
    if posted is None:
        raise BadInput("jobs: no step says where it is posted, so there is nothing to repair")
    frozen = problem.frozen if frozen is None else frozen
    run = _Run(problem, posted, seconds, seed, work, frozen, on_better, should_stop or (lambda: False))
    return run.result()


def stand_on_posted(problem: Problem) -> tuple[Problem, Repair | None]:
    """What a search goes on from: the Problem with its frozen steps pinned, and the posted plan moved no
    more than it must be; its `thawed` are all that were let go, also of a boat that stays out for now. As it
    is, and None, where nothing is posted. Raises WitnessRefused."""
    posted = posted_of(problem)
    if posted is None:
        return problem, None
    run = _Run(problem, posted, 0.0, 1, 0, problem.frozen, None, lambda: False)
    mended = run.result()
    return as_frozen(problem, run.thawed), replace(mended, thawed=run.thawed)


# --- Frozen days ------------------------------------------------------------------------------------------
def as_frozen(problem: Problem, thawed: tuple[Pair, ...]) -> Problem:
    """What a plan is held against: the Problem with its frozen steps, but these, pinned where posted."""
    return freeze(problem, problem.frozen, thawed)[0]


def freeze(problem: Problem, before: int, thawed: Sequence[Pair] = ()) -> tuple[Problem, tuple[Pair, ...]]:
    """The Problem with each step posted before slot `before`, but those `thawed`, pinned there; and these.

    A step with a pin of its own that says otherwise keeps that, and so does one that is thawed.
    """
    found: list[Pair] = []
    jobs = []
    for job in problem.jobs:
        steps = []
        for step in job.steps:
            if _freezes(step, before) and step.posted is not None and (job.id, step.id) not in thawed:
                found.append((job.id, step.id))
                step = replace(step, pin_place=step.posted.place, pin_start=step.posted.start)
            steps.append(step)
        same = all(a is b for a, b in zip(steps, job.steps, strict=True))
        jobs.append(job if same else replace(job, steps=tuple(steps)))
    return (replace(problem, jobs=tuple(jobs)) if found else problem), tuple(found)


def _freezes(step: Step, before: int) -> bool:
    posted = step.posted
    return (
        posted is not None
        and posted.start < before
        and step.pin_place in (None, posted.place)
        and step.pin_start in (None, posted.start)
        and None in (step.pin_place, step.pin_start)  # else she is pinned there anyway
    )


# --- One repair -------------------------------------------------------------------------------------------
class _Run:
    """One repair: what it was asked, and where it stands."""

    def __init__(
        self,
        problem: Problem,
        posted: Schedule,
        seconds: float,
        seed: int,
        work: int | None,
        frozen: int,
        on_better: Callable[[Repair], None] | None,
        should_stop: Callable[[], bool],
    ) -> None:
        self.began = time.monotonic()
        self.posted, self.seconds, self.seed, self.work = posted, seconds, seed, work
        self.on_better, self.should_stop = on_better, should_stop
        self.today, self.before = posted_in(problem, posted), frozen
        self.frozen = freeze(self.today, frozen)[1]
        self.thawed: tuple[Pair, ...] = ()
        self.stopped = False
        self.tries = self.first_total = 0
        self.first_s = self.said = 0.0

    def result(self) -> Repair:
        """Replay, put in anew, search, go back, check."""
        desk, state, out = self._replayed()
        if not out:
            kept = self._kept(desk, state)
            if kept is not None:
                return kept
        elif (found := self._first(desk, state, out)) is not None:
            desk, state = found
        else:  # facts leave no other way: everybody anew
            state = first_plan(desk.compiled)
        desk, state = self._settled(desk, state)
        self.first_s, self.first_total = self._passed(), state.total
        self._say(desk, state, always=True)
        left = self.seconds * (1 - FINISH) - self._passed()
        budget = Budget(max(left, 0.0), self.work, self._asked_to_stop)
        state = rework(desk, state, random.Random(self.seed), budget, lambda s: self._say(desk, s))
        desk, state = self._settled(desk, state)
        return self._checked(desk, state, "stopped" if self.stopped else "repaired")

    def _passed(self) -> float:
        return time.monotonic() - self.began

    def _asked_to_stop(self) -> bool:
        self.stopped = self.stopped or self.should_stop()
        return self.stopped

    def _compiled(self, thawed: Sequence[Pair]) -> Compiled:
        """The yard with the frozen steps, but these, pinned."""
        return compile_problem(freeze(self.today, self.before, thawed)[0])

    def _desk(self) -> Desk:
        compiled = self._compiled(self.thawed)
        found = ways(compiled, self.posted)
        new = (name for name, way in found.items() if way is None and name not in self.posted.unplaced)
        return Desk(compiled, found, new=frozenset(new))

    def _replayed(self) -> tuple[Desk, State, list[str]]:
        desk = self._desk()
        state, out = refit(desk.compiled, desk.ways, self.posted)
        return desk, state, out

    def _kept(self, desk: Desk, state: State) -> Repair | None:
        """The posted plan as it is, if nothing stands against it."""
        plan = Schedule(jobs=state.schedule().jobs, unplaced=self.posted.unplaced)
        try:
            return self._repair(desk, state, plan, "kept")
        except WitnessRefused:
            return None  # bays of a pool must change

    def _first(self, desk: Desk, state: State, out: list[str]) -> tuple[Desk, State] | None:
        """The boats that are out put in anew; frozen placements give way only where nothing else goes."""
        while True:
            found = first_repair(desk, state, out)
            self.tries += desk.tries
            stuck = next((name for name in out if self._stuck(name, found)), None)
            if stuck is None:
                return (desk, found) if found is not None else None
            self.thawed += self._least_thaw(desk, state if found is None else found, stuck)
            desk, state, out = self._replayed()

    def _stuck(self, name: str, found: State | None) -> bool:
        """Whether a job is left out, or all are lost, while some of her placements are frozen."""
        return (found is None or name not in found.times) and bool(self._frozen_of(name))

    def _frozen_of(self, name: str) -> list[Pair]:
        return [pair for pair in self.frozen if pair[0] == name and pair not in self.thawed]

    def _least_thaw(self, desk: Desk, state: State, name: str) -> tuple[Pair, ...]:
        """The fewest frozen placements of a job without which she has a way; all of them if none will do."""
        pairs = self._frozen_of(name)
        for count in range(1, len(pairs)):
            for some in combinations(pairs, count):
                here = _moved_to(self._compiled((*self.thawed, *some)), state)
                here.take_back(name)
                self.tries += 1
                if insert(here, name) is not None:
                    return some
        return tuple(pairs)

    def _settled(self, desk: Desk, state: State) -> tuple[Desk, State]:
        """The plan with each boat back who can go back, and each thawed placement frozen if it can be."""
        self.tries += desk.tries
        while True:
            state = go_back(desk, state)
            again = next(self._frozen_again(state), None)
            if again is None:
                return desk, state
            self.thawed, state = again
            desk = replace(self._desk(), tries=0)

    def _frozen_again(self, state: State) -> Iterator[tuple[tuple[Pair, ...], State]]:
        """(what stays thawed, the plan) for each thawed placement that can be as it was posted after all."""
        for pair in self.thawed:
            rest = tuple(other for other in self.thawed if other != pair)
            here = _moved_to(self._compiled(rest), state)
            here.take(pair[0]) if pair[0] in here.times else here.take_back(pair[0])
            self.tries += 1
            fit = insert(here, pair[0])
            if fit is not None:
                here.put(pair[0], fit.times)
                yield rest, here

    # --- results --------------------------------------------------------------------------------------------
    def _say(self, desk: Desk, state: State, always: bool = False) -> None:
        now = self._passed()
        if self.on_better is not None and (always or now - self.said >= BEAT):
            self.said = now
            self.on_better(self._checked(desk, state, "repaired"))

    def _checked(self, desk: Desk, state: State, status: Literal["repaired", "stopped"]) -> Repair:
        plan = state.schedule(self._unplaced(desk, state))
        return self._repair(desk, state, keep_bays(desk.compiled.problem, plan, self.posted), status)

    def _unplaced(self, desk: Desk, state: State) -> dict[str, Unplaced]:
        reasons = dict(self.posted.unplaced)
        for name in desk.ways:
            if name not in state.times and name not in reasons:
                why = reason_of(desk, state, name)
                rule = why.rule if why.cause != "new" else "cost"
                reasons[name] = Unplaced(rule=rule, says=why.says)
        return reasons

    def _repair(
        self,
        desk: Desk,
        state: State,
        plan: Schedule,
        status: Literal["kept", "repaired", "stopped"],
    ) -> Repair:
        thawed = elsewhere(self.today, self.thawed, plan)
        problem = freeze(self.today, self.before, thawed)[0]
        breaches = [breach for breach in witness.check(problem, plan) if not breach.fact]
        if breaches:
            raise WitnessRefused(breaches, plan)
        cost = witness.cost(problem, plan)
        return Repair(
            status=status,
            schedule=plan,
            moved=() if status == "kept" else moved_from(desk, state, plan, self.posted),
            thawed=thawed,
            cost=cost,
            total=sum(cost.values()),
            first_s=round(self.first_s or self._passed(), 3),
            first_total=self.first_total or sum(cost.values()),
            seconds=round(self._passed(), 3),
            tries=self.tries,
            seed=self.seed,
        )


def _moved_to(compiled: Compiled, state: State) -> State:
    """The same plan as a State of another Problem with the same jobs."""
    other = State(compiled)
    for name in state.out:
        other.leave_out(name)
    for name, times in state.times.items():
        other.put(name, times)
    return other
