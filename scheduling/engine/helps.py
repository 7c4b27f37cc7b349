"""What would help: the yard packed again with one thing more, and what that saves, as a range.

The plan there is goes through a search of its own first, so that nothing counts as help that packing
again would bring; where that alone is a clear gain, it is said. Candidates are ranked by what the prices of
the yard say a slot of each is worth, then by how many stages wait for it. Of the first of them those that
save most when the boats that lose most go where they are cheapest are tried in earnest: with each, and once
without, the plan goes through the same search for as many insertions under three seeds. The range is from
the worst plan with it against the best without to the best against the worst. A gain is clear if even the
least is more than the plans without it differ among themselves, more than moving a boat once (so exact no
price of a winter is), and more than the thing costs.
"""

import random
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from scheduling.engine.builds import settle
from scheduling.engine.candidates import candidates
from scheduling.engine.costing import price_of, taken_of
from scheduling.engine.improve import Budget, improve, start_search
from scheduling.engine.insertion import State
from scheduling.engine.more import MoreKind, Relaxation, with_more
from scheduling.engine.openings import with_day
from scheduling.engine.problem import Problem
from scheduling.engine.ranking import FEW_STEPS, RANK_SECONDS, RANK_STEPS, ranked
from scheduling.engine.relaxing import state_in
from scheduling.engine.schedule import Schedule

BEST = 8
"""So many candidates are tried in earnest."""
SEEDS = 3
OF_A_KIND = 2
"""Of them so many of a kind: a yard short of bays would else hear of nothing that can be had this winter."""
SIFTED = 20
"""So many of the first candidates are sifted by a few insertions."""
AGAIN_SHARE, AGAIN = 0.2, 3
"""The share of the time for packing again first; where the work is given, that of so many searches."""
LOSERS, SIFT_SHARE = 12, 0.4
"""Boats put in anew to sift a candidate, and the share of the time after which no more are sifted."""
SHARE = 0.7
"""Of its share of the time the first search takes so much; the rest is for what each yard needs besides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Help:
    """One thing more (see Relaxation) from `day` on and what it saves [minor units], least and most; or, of
    the kind "again", what packing again with nothing more saves.

    `clear` if even the least is a gain (see above); `price` [minor units] is what it costs, None if the yard
    has not said so; `taken` is how much of it, [min] of hands or [calendar days] of a kit.
    """

    kind: MoreKind | Literal["again"]
    what: str
    amount: int
    start: int
    until: int
    day: date
    like: str = ""
    taken: int = 0
    price: int | None = None
    saves_low: int
    saves_high: int
    clear: bool
    says: str


def helps(
    problem: Problem,
    schedule: Schedule,
    *,
    seconds: float = 30.0,
    seed: int = 1,
    on_help: Callable[[Help], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    work: int | None = None,
    more: Sequence[Relaxation] | None = None,
    on_progress: Callable[[int, int], None] | None = None,
) -> tuple[Help, ...]:
    """The helps tried in `seconds`, the clear ones first, then by what they save less what they cost.

    `on_help` is told each as it is found, `on_progress` (searches done, of how many). With `work` each search
    makes so many insertions, whatever the clock says. `more` are the candidates (None: all that can be
    derived from the yard and its plan). Stopped or out of time, it returns what is found.
    """
    run = _Run(problem, schedule, seconds, seed, work, should_stop or (lambda: False), on_progress)
    found = []
    for each in run.helps(more):
        found.append(each)
        if on_help is not None:
            on_help(each)
    return in_order(found)


def in_order(found: Iterable[Help]) -> tuple[Help, ...]:
    """The clear ones first, then by what they save less what they cost."""
    return tuple(sorted(found, key=lambda h: (not h.clear, 2 * (h.price or 0) - h.saves_low - h.saves_high)))


@dataclass(slots=True)
class _Run:
    problem: Problem
    schedule: Schedule
    seconds: float
    seed: int
    work: int | None
    should_stop: Callable[[], bool]
    on_progress: Callable[[int, int], None] | None
    began: float = field(default_factory=time.monotonic)
    done: int = 0
    searches: int = 0
    given: bool = False

    def __post_init__(self) -> None:
        self.given = self.work is not None

    def helps(self, more: Sequence[Relaxation] | None) -> Iterator[Help]:
        """Each of the best candidates, tried."""
        before = state_in(self.problem, self.problem, self.schedule)
        start = self._packed_again(before)
        self.schedule = start.schedule()
        saves = before.total - start.total
        if saves > self.problem.move_price:
            yield Help(
                kind="again",
                what="",
                amount=0,
                start=0,
                until=len(self.problem.days),
                day=self.problem.days[0],
                price=0,
                saves_low=saves,
                saves_high=saves,
                clear=True,
                says="packing again with nothing more",
            )
        things = candidates(self.problem, self.schedule) if more is None else more
        seconds = float("inf") if self.given else min(RANK_SECONDS, self.seconds / 10)
        steps = FEW_STEPS if self.given else RANK_STEPS
        first = ranked(self.problem, self.schedule, things, seconds=seconds, steps=steps)
        best = self._sifted(first[:SIFTED], start)
        self.searches = SEEDS * (len(best) + 1)
        without = self._plans(start) if best else None
        for thing in best if without is not None else ():
            wider = state_in(self.problem, with_more(self.problem, thing), self.schedule)
            settle_all(wider)
            plans = self._plans(wider)
            if plans is None or without is None:
                return
            yield self._judged(thing, without, plans)

    def _packed_again(self, before: State) -> State:
        """The plan there is, searched for a cheaper one in the yard as it is."""
        start = before.copy()
        settle_all(start)
        budget = Budget(
            AGAIN_SHARE * self.seconds, None if self.work is None else AGAIN * self.work, self.should_stop
        )
        found = improve(start_search(start.compiled), start, random.Random(self.seed), budget)
        return min(start, found, key=lambda plan: plan.total)

    def _sifted(self, things: Sequence[Relaxation], start: State) -> list[Relaxation]:
        """The best few by what is saved with each when the boats that lose most are put in anew; those for
        which there was no time come after, as they are."""
        if len(things) <= BEST:
            return list(things)
        search, jobs = start_search(start.compiled), start.compiled.jobs
        loss = {n: start.own.get(n, jobs[n].drop_price) - search.alone_cost(n) for n in jobs}
        losers = sorted(jobs, key=lambda n: (n in start.times, -loss[n]))[:LOSERS]
        totals: dict[int, int] = {}
        for number, thing in enumerate(things):
            if self._over(SIFT_SHARE):
                break
            state = state_in(self.problem, with_more(self.problem, thing), self.schedule)
            settle_all(state, losers)
            totals[number] = state.total + self._shift(thing)
        order = sorted(range(len(things)), key=lambda number: (number not in totals, totals.get(number, 0)))
        best: list[Relaxation] = []
        for thing in (things[number] for number in order):
            if len(best) < BEST and sum(each.kind == thing.kind for each in best) < OF_A_KIND:
                best.append(thing)
        return best

    def _over(self, share: float = 1.0) -> bool:
        timed = not self.given and time.monotonic() - self.began >= share * self.seconds
        return timed or self.should_stop()

    def _plans(self, start: State) -> list[State] | None:
        """The plan after each seed's search from here; None if there was no time for all."""
        search, plans = start_search(start.compiled), []
        for number in range(SEEDS):
            if self._over():
                return None
            budget = Budget(self._share(), self.work, self._over)
            state = improve(search, start, random.Random(self.seed + number), budget)
            if self.work is None:
                self.work = max(budget.spent, 1)  # the clock gave the first its work; all others get the same
            if self._over() and budget.spent < self.work:
                return None  # a search cut short would not be the same search
            plans.append(min(state, start, key=lambda plan: plan.total))
            self.done += 1
            if self.on_progress is not None:
                self.on_progress(self.done, self.searches)
        return plans

    def _share(self) -> float:
        left = self.seconds - (time.monotonic() - self.began)
        return max(SHARE * left / max(self.searches - self.done, 1), 0.01)

    def _shift(self, thing: Relaxation) -> int:
        """[minor units] what a plan costs less only because the days are divided otherwise."""
        if thing.kind != "day" or date.fromisoformat(thing.what) in self.problem.days:
            return 0
        same = with_day(self.problem, date.fromisoformat(thing.what))
        now = state_in(self.problem, self.problem, self.schedule).total
        return max(now - state_in(self.problem, same, self.schedule).total, 0)

    def _judged(self, thing: Relaxation, without: Sequence[State], plans: Sequence[State]) -> Help:
        before, shift = [plan.total for plan in without], self._shift(thing)
        after = [plan.total + shift for plan in plans]
        low, high = max(min(before) - max(after), 0), max(max(before) - min(after), 0)
        taken = taken_of(self.problem, thing, plans)
        price = price_of(self.problem, thing, taken)
        noise = max(max(before) - min(before), self.problem.move_price)
        return Help(
            kind=thing.kind,
            what=thing.what,
            amount=thing.amount,
            start=thing.start,
            until=thing.until,
            day=self.problem.days[thing.start],
            like=thing.like,
            taken=taken,
            price=price,
            saves_low=low,
            saves_high=high,
            clear=low > max(noise, price or 0),
            says=thing.says,
        )


def settle_all(state: State, names: Iterable[str] | None = None) -> None:
    """These jobs (or all) out and in again where each is cheapest, those left out first: no dearer a plan."""
    for name in sorted(state.compiled.jobs if names is None else names, key=lambda n: n in state.times):
        if name in state.times:
            times = state.take(name)
            if not settle(state, name):
                state.put(name, times)
        else:
            state.take_back(name)
            if not settle(state, name):
                state.leave_out(name)
