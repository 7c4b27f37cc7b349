"""What one thing more costs, where the yard has said what an hour of work or a day of a kit costs."""

from collections.abc import Iterable

import numpy as np

from scheduling.engine.compiled import Compiled, Ints
from scheduling.engine.cost import option_of
from scheduling.engine.insertion import State
from scheduling.engine.more import Relaxation
from scheduling.engine.problem import Problem


def taken_of(problem: Problem, thing: Relaxation, plans: Iterable[State]) -> int:
    """How much of a thing the plan with it takes that takes most: [min] of hands, [calendar days] of a kit.

    Of a hand, the hours beyond what all others have who could do that work; of a Saturday, those worked on
    it; of a kit, the days from the first to the last on which more is used than there was. Else 0.
    """
    match thing.kind:
        case "hand":
            amounts = [_minutes_over(problem, plan, thing.what) for plan in plans]
        case "day":
            amounts = [_minutes_on(plan, thing.what) for plan in plans]
        case "kit":
            amounts = [_days_over(problem, plan, thing.what) for plan in plans]
        case _:
            amounts = []
    return max(amounts, default=0)


def price_of(problem: Problem, thing: Relaxation, taken: int) -> int | None:
    """[minor units] of as much of a thing as is `taken`; None where the yard has set no price.

    A later promise costs nothing but a call. Heat, bay-days and moves are in what each plan costs.
    """
    match thing.kind:
        case "promise":
            return 0
        case "hand" | "day" if problem.hour_price is not None:
            return taken * problem.hour_price // 60
        case "kit":
            kit = next(r for r in problem.resources if r.id == thing.what)
            if kit.one_price is not None:
                return thing.amount // kit.one * taken * kit.one_price
    return thing.price


def _used(compiled: Compiled, plan: State, row: int) -> Ints:
    """How much of a row a plan and the facts use in each slot."""
    used: Ints = compiled.capacity[row] - plan.left[row]
    return used


def _minutes_over(problem: Problem, plan: State, skill: str) -> int:
    """[min] of work, slot by slot, that the hands there were can't do, whoever does what."""
    compiled = plan.compiled
    over = np.zeros(compiled.slots, dtype=np.int64)
    for row, (kind, what) in enumerate(compiled.rows):
        if kind == "skills" and skill in what:
            there = sum(
                (np.array(h.minutes, dtype=np.int64) for h in problem.hands if what & set(h.skills)),
                np.zeros(compiled.slots, dtype=np.int64),
            )
            over = np.maximum(over, _used(compiled, plan, row) - there)
    return int(over.sum())


def _minutes_on(plan: State, day: str) -> int:
    """[min] of work on a day."""
    problem = plan.compiled.problem
    slot = next(s for s, each in enumerate(problem.days) if each.isoformat() == day)
    calendars = {t.id: None if t.open is None else problem.calendars[t.open] for t in problem.tables}
    total = 0
    for name, times in plan.times.items():
        for time in times:
            option = option_of(plan.compiled.jobs[name], time)
            opens = calendars.get(option.table or "")
            if time.start <= slot < time.end and (opens is None or opens[slot]):
                total += sum(option.skills.values())
    return total


def _days_over(problem: Problem, plan: State, kit: str) -> int:
    """[calendar days] from the first to the last on which a plan uses more of a kit than there was."""
    there = next(r.capacity for r in problem.resources if r.id == kit)
    used = _used(plan.compiled, plan, plan.compiled.row_of["resource", kit])
    over = [s for s, most in enumerate(there) if used[s] > most]
    return (problem.days[over[-1]] - problem.days[over[0]]).days + 1 if over else 0
