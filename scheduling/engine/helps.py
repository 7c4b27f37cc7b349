"""What would help: the yard packed again with one thing more, and what that saves, as a range.

Candidates are ranked by what the prices of the yard say a slot of each is worth, then by how many stages wait
for it; the best few are tried in earnest. With each, and once without, the plan there is goes through the
same search for as many insertions under three seeds. What the worst plan with it saves against the best
without is more than the seeds make; where that is nothing, there is no clear gain.
"""

import random
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date

from scheduling.engine.builds import settle
from scheduling.engine.candidates import WEEK, candidates
from scheduling.engine.compiled import Compiled, compile_problem
from scheduling.engine.improve import Budget, improve, start_search
from scheduling.engine.insertion import Prices, State
from scheduling.engine.more import MoreKind, Relaxation, with_more
from scheduling.engine.openings import with_day
from scheduling.engine.prices import priced_bound
from scheduling.engine.problem import Problem
from scheduling.engine.relaxing import state_in
from scheduling.engine.schedule import Schedule
from scheduling.engine.slots import late_days
from scheduling.engine.whys import Why, whys

BEST = 8
"""So many candidates are tried in earnest."""
SEEDS = 3
MOST_OF_A_KIND, MOST_OF_ONE = {"day": 3, "lift day": 3, "promise": 3}, 2
"""At most so many of a kind, and of months of one skill, are among them."""
RANK_SECONDS, RANK_STEPS = 1.0, 200
"""[s] for the prices, and their steps at most."""
SHARE = 0.8
"""Of its share of the time the first search takes so much; the rest is for what each yard needs besides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Help:
    """One thing more (see Relaxation) and what it saves [minor units], least and most of the seeds.

    `clear` if even the least is more than nothing; `price` is what it costs, if the yard has said so.
    """

    kind: MoreKind
    what: str
    amount: int
    start: int
    until: int
    like: str = ""
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
    """The helps tried in `seconds`, the clear ones first, then by what they save.

    `on_help` is told each as it is found, `on_progress` (searches done, of how many). With `work` each search
    makes so many insertions, whatever the clock says. `more` are the candidates (None: all that can be
    derived from the yard and its plan). Stopped or out of time, it returns what is found.
    """
    run = _Run(problem, schedule, seconds, seed, work, should_stop or (lambda: False), on_progress)
    found = []
    for each in run.helps(candidates(problem, schedule) if more is None else more):
        found.append(each)
        if on_help is not None:
            on_help(each)
    return tuple(sorted(found, key=lambda h: (not h.clear, -h.saves_low - h.saves_high)))


# --- ranking ------------------------------------------------------------------------------------------------
def ranked(
    problem: Problem,
    schedule: Schedule,
    things: Sequence[Relaxation],
    *,
    seconds: float = RANK_SECONDS,
    steps: int = RANK_STEPS,
) -> tuple[Relaxation, ...]:
    """The candidates that prices or a stage's reason speak for, the most promising first."""
    compiled = compile_problem(problem)
    until, total = time.monotonic() + seconds, state_in(problem, problem, schedule).total
    _, prices, _ = priced_bound(compiled, total, steps, lambda: time.monotonic() >= until)
    reasons = whys(problem, schedule)
    rates = [(_worth(compiled, schedule, prices, t), _named(compiled, reasons, t)) for t in things]
    order = sorted(range(len(things)), key=lambda i: (-rates[i][0], -rates[i][1]))
    alike: Counter[str] = Counter()
    best = []
    for i in order:
        thing = things[i]
        limit = MOST_OF_A_KIND.get(thing.kind)
        key = thing.kind if limit is not None else f"{thing.kind} {thing.what}"
        if not any(rates[i]) or alike[key] >= (limit or MOST_OF_ONE):
            continue
        alike[key] += 1
        best.append(thing)
    return tuple(best)


def _worth(compiled: Compiled, schedule: Schedule, prices: Prices, thing: Relaxation) -> int:
    """[minor units] what the prices (of one job more or less) say it is worth."""
    span = slice(thing.start, thing.until)
    match thing.kind:
        case "hand":
            rows = [i for i, (name, s) in enumerate(compiled.rows) if name == "skills" and thing.what in s]
            return thing.amount * int(prices.row[rows, span].sum())
        case "kit":
            return thing.amount * int(prices.row[compiled.row_of["resource", thing.what], span].sum())
        case "bay":
            return int(prices.place[compiled.place_index[thing.what], span].sum())
        case "fitted":
            return int(prices.place[compiled.place_index[thing.like], span].sum())
        case "day":
            before = max(thing.start - 1, 0)
            hours = [i for i, (name, _) in enumerate(compiled.rows) if name == "skills"]
            sooner = _late(compiled, schedule, thing)
            return sooner + int((prices.row[hours, before] * compiled.plain[hours, before]).sum())
        case "lift day" | "promise":
            return _late(compiled, schedule, thing)


def _late(compiled: Compiled, schedule: Schedule, thing: Relaxation) -> int:
    """[minor units] lateness that a later promise takes away, or a lift day or one day more at most."""
    problem, saved = compiled.problem, 0
    for job in problem.jobs:
        times = schedule.jobs.get(job.id)
        late = late_days(problem.days, job.due, times[-1].end) if times else 0
        if thing.kind == "promise" and job.id == thing.what:
            saved += job.late_price * min(late, thing.amount) if times else job.late_price * WEEK
        elif thing.kind == "day" and late and times and times[0].start < thing.start < times[-1].end:
            saved += job.late_price
        elif thing.kind == "lift day" and late and times and times[-1].start > thing.start:
            earlier = late_days(problem.days, job.due, thing.start + 1)
            saved = max(saved, job.late_price * (late - earlier))
    return saved


def _named(compiled: Compiled, reasons: Sequence[Why], thing: Relaxation) -> int:
    """How many stages wait for it."""
    place = thing.like or thing.what

    def speaks(why: Why) -> bool:
        if why.start >= thing.until or why.until <= thing.start:
            return False
        match thing.kind:
            case "hand":
                return why.kind == "hand" and thing.what in why.who.split(" or ")
            case "kit":
                return why.kind == "resource" and why.who == thing.what
            case "bay" | "fitted":
                return why.rule in ("stand", "lane", "air") and why.place == place
            case "day":
                return why.kind == "hand"
            case _:
                return False

    return sum(1 for why in reasons if speaks(why))


# --- trying -------------------------------------------------------------------------------------------------
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

    def helps(self, things: Sequence[Relaxation]) -> Iterator[Help]:
        """Each of the best candidates, tried."""
        best = ranked(self.problem, self.schedule, things, seconds=min(RANK_SECONDS, self.seconds / 10))[
            :BEST
        ]
        self.searches = SEEDS * (len(best) + 1)
        without = self._totals(self.problem) if best else None
        for thing in best if without is not None else ():
            totals = self._totals(with_more(self.problem, thing))
            if totals is None or without is None:
                return
            yield _judged(thing, without, [total + self._shift(thing) for total in totals])

    def _over(self) -> bool:
        timed = not self.given and time.monotonic() - self.began >= self.seconds
        return timed or self.should_stop()

    def _totals(self, yard: Problem) -> list[int] | None:
        """What the plan costs after each seed's search in this yard; None if there was no time for all."""
        start = state_in(self.problem, yard, self.schedule)
        _settle_all(start)
        search, totals = start_search(start.compiled), []
        for number in range(SEEDS):
            if self._over():
                return None
            budget = Budget(self._share(), self.work, self._over)
            state = improve(search, start, random.Random(self.seed + number), budget)
            if self.work is None:
                self.work = max(budget.spent, 1)  # the clock gave the first its work; all others get the same
            if self._over() and number + 1 < SEEDS:
                return None
            totals.append(min(state.total, start.total))
            self.done += 1
            if self.on_progress is not None:
                self.on_progress(self.done, self.searches)
        return totals

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


def _settle_all(state: State) -> None:
    """Each job out and in again where she is cheapest, those left out first: the plan gets no dearer."""
    for name in sorted(state.compiled.jobs, key=lambda name: name in state.times):
        if name in state.times:
            times = state.take(name)
            if not settle(state, name):
                state.put(name, times)
        else:
            state.take_back(name)
            if not settle(state, name):
                state.leave_out(name)


def _judged(thing: Relaxation, without: Sequence[int], with_it: Sequence[int]) -> Help:
    low, high = min(without) - max(with_it), max(without) - min(with_it)
    clear = low > 0
    return Help(
        kind=thing.kind,
        what=thing.what,
        amount=thing.amount,
        start=thing.start,
        until=thing.until,
        like=thing.like,
        price=thing.price,
        saves_low=max(low, 0),
        saves_high=max(high, 0),
        clear=clear,
        says=thing.says if clear else f"{thing.says}: no clear gain",
    )
