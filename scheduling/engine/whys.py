"""Why each stage does not start a slot earlier, and for one boat the chain of reasons back to today.

A wish for the stage one slot earlier, all else as planned, is checked in its own place and in every other
that it may be in. What stands in the way where least does is the reason; where nothing does, it is money.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from scheduling.engine.around import Around, Wish, wish
from scheduling.engine.blocks import Block, Kind, blocks
from scheduling.engine.compiled import compile_problem
from scheduling.engine.cost import own_cost
from scheduling.engine.problem import Problem
from scheduling.engine.sayings import says
from scheduling.engine.schedule import Rule, Schedule, StepTime

EVERYWHERE: frozenset[Kind] = frozenset(("today", "arrival", "hold", "gate", "begun", "step"))
"""What is the same in every place; a pinned day is, too."""

Target = Literal["job", "step", "place", "resource", "skills", "table", "plan"]
TARGETS: dict[Kind, Target] = {
    "arrival": "job",
    "hold": "step",
    "pin": "step",
    "gate": "step",
    "begun": "step",
    "step": "step",
    "window": "table",
    "closed": "place",
    "job": "job",
    "swap": "place",
    "resource": "resource",
    "hand": "skills",
    "size": "place",
    "posted": "plan",
}
"""Where a reader goes to change what binds; else to the job herself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """One reason why a step of a job does not start in slot `start`, where it binds until `until`.

    Several for one step bind together. `place` and `option` say where the step would be; `amount` is what
    it would cost more.
    """

    job: str
    step: str
    rule: Rule | Literal["cost"]
    kind: Kind
    who: str  # the id of what binds; for hours the skills, joined by " or "
    start: int
    until: int
    target_kind: Target
    target: str  # an id of that kind; the skills joined by " or "
    says: str
    by: str = ""  # the other job that has it
    by_step: str = ""
    place: str = ""
    option: int = 0
    amount: int = 0  # [minor units]


def whys(problem: Problem, schedule: Schedule) -> tuple[Why, ...]:
    """For every planned step of every job in the plan, why it does not start a slot earlier."""
    around, found = Around(compile_problem(problem), schedule), []
    for job in problem.jobs:
        times = around.times.get(job.id)
        if times is None:
            continue
        with around.without(job.id):
            for number in range(len(times) - len(job.steps), len(times)):
                found += why_not(around, job.id, times, number, times[number].start - 1, around.total)
    return tuple(found)


def why_not(
    around: Around, job_id: str, times: Sequence[StepTime], number: int, start: int, total: int
) -> list[Why]:
    """Why piece `number` of these times does not start at `start`; the job must be out of the state.

    `total` is what the plan costs with her in it as planned [minor units].
    """
    job, now = around.compiled.jobs[job_id], times[number]
    if start < 0:
        asked = wish(around.compiled, job, times, number, 0)
        first = Block(rule="windows", kind="today", who=job_id, start=0, until=0)
        return [as_why(around, asked, first, 0)]
    asked = wish(around.compiled, job, times, number, start)
    found = blocks(around, asked, now)
    if not found:
        return [_why_dear(around, asked, now, total)]
    pinned = asked.step.pin_start not in (None, start)
    if not pinned and not any(block.kind in EVERYWHERE for block in found):
        free: list[Wish] = []
        for other in _elsewhere(around, asked, now, all_of_them=len(found) > 1):
            there = blocks(around, other, now)
            if not there:
                free.append(other)
            elif len(there) < len(found) and not any(block.kind in EVERYWHERE for block in there):
                asked, found = other, there
        if free:
            books = around.compiled.books
            cheapest = min(free, key=lambda w: sum(own_cost(books, job, w.times).values()))
            return [_why_dear(around, cheapest, now, total)]
    return [as_why(around, asked, block, 0) for block in found]


def _elsewhere(around: Around, asked: Wish, now: StepTime, all_of_them: bool) -> Iterator[Wish]:
    """The same step at the same time in every other way; unless all are wanted, only where she has room."""
    compiled, state, job = around.compiled, around.state, asked.job
    for number, option in enumerate(asked.step.options):
        for name in option.places:
            place = compiled.place_index[name]
            if (place, number) == (asked.place, asked.option):
                continue
            other = wish(compiled, job, asked_times(asked, now), asked.number, asked.start, place, number)
            if not all_of_them:
                same = name == now.place or (other.before is not None and other.before.place == name)
                gone = other.times[other.number].leaves
                full = state.here[place, asked.start : gone] >= compiled.room[place]
                if not other.possible or (not same and (full.any() or not compiled.fits(job, place))):
                    continue
            yield other


def asked_times(asked: Wish, now: StepTime) -> tuple[StepTime, ...]:
    """The times of a wish with its piece as planned again."""
    times = list(asked.times)
    times[asked.number] = now
    return tuple(times)


def _why_dear(around: Around, asked: Wish, now: StepTime, total: int) -> Why:
    """Nothing is in the way: what it would cost."""
    compiled, state = around.compiled, around.state
    state.put(asked.job.id, asked.times)
    try:
        amount, problem = state.total - total, compiled.problem
    finally:
        state.take(asked.job.id)
    kind: Kind = "money" if amount > 0 else "free"
    posted = asked.step.posted
    if amount > 0 and posted is not None and (posted.place, posted.start) == (now.place, now.start):
        kind = "posted" if amount <= problem.change_price else "money"
    place = problem.places[asked.place].id
    where = "" if place == now.place else place
    dear = Block(rule="chain", kind=kind, who=asked.job.id, start=asked.start, until=now.start, place=where)
    return replace(as_why(around, asked, dear, amount), rule="cost")


def as_why(around: Around, asked: Wish, block: Block, amount: int) -> Why:
    """A block of a wish as a reason, in words; `amount` is what it would cost more [minor units]."""
    target_kind = TARGETS.get(block.kind, "job")
    target = block.who if target_kind != "job" or block.kind == "job" else asked.job.id
    return Why(
        job=asked.job.id,
        step=asked.step.id,
        rule=block.rule,
        kind=block.kind,
        who=block.who,
        start=block.start,
        until=block.until,
        target_kind=target_kind,
        target="" if target_kind == "plan" else target,
        says=says(around, asked, block),
        by=block.by,
        by_step=block.by_step,
        place=around.compiled.problem.places[asked.place].id,
        option=asked.option,
        amount=amount,
    )
