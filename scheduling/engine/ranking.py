"""Which candidates are worth trying: by the prices of the yard, and by how many stages wait for them.

Prices say what one more or less is worth at the margin, and nothing of a day that is not there: what a lift
day, a Saturday and a later promise are worth is read off the late boats.
"""

import time
from collections import Counter
from collections.abc import Sequence

from scheduling.engine.candidates import WEEK
from scheduling.engine.climb import Climb
from scheduling.engine.compiled import Compiled, compile_problem
from scheduling.engine.insertion import Prices
from scheduling.engine.more import MoreKind, Relaxation
from scheduling.engine.problem import Problem
from scheduling.engine.relaxing import state_in
from scheduling.engine.schedule import Schedule
from scheduling.engine.slots import late_days
from scheduling.engine.whys import Why, whys

MOST_OF_A_KIND: dict[MoreKind, int] = {
    "hand": 6,
    "kit": 6,
    "bay": 4,
    "fitted": 3,
    "day": 3,
    "lift day": 3,
    "promise": 3,
}
MOST_OF_ONE = 2
"""At most so many of a kind, and of months of one skill, are among the first."""
RANK_SECONDS, RANK_STEPS, FEW_STEPS = 0.6, 200, 40
"""[s] for the prices, and their steps: at most, and where the clock may not count. Measured: with 0.3 s for
the reasons of all stages of 32 boats, candidates are in order within a second of processor."""


def ranked(
    problem: Problem,
    schedule: Schedule,
    things: Sequence[Relaxation],
    *,
    seconds: float = RANK_SECONDS,
    steps: int = RANK_STEPS,
) -> tuple[Relaxation, ...]:
    """The candidates that prices or a stage's reason speak for: the best of each kind, then the next.

    What lateness and what prices say is not alike, so kinds are not compared by it.
    """
    compiled = compile_problem(problem)
    until, total = time.monotonic() + seconds, state_in(problem, problem, schedule).total
    climb = Climb(problem, total)
    climb.go_on(steps, lambda: time.monotonic() >= until)
    prices = climb.prices()
    reasons = whys(problem, schedule)
    rates = [(_worth(compiled, schedule, prices, t), _named(compiled, reasons, t)) for t in things]
    order = sorted(range(len(things)), key=lambda i: (-rates[i][0], -rates[i][1]))
    alike: Counter[str] = Counter()
    best = []
    for i in order:
        thing = things[i]
        kind, one = thing.kind, f"{thing.kind}: {thing.what}"
        if any(rates[i]) and alike[kind] < MOST_OF_A_KIND[kind] and alike[one] < MOST_OF_ONE:
            alike.update((kind, one))
            best.append((alike[kind], thing))
    return tuple(thing for _, thing in sorted(best, key=lambda pair: pair[0]))


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
