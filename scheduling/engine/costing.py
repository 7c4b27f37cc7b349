"""What one thing more costs, where the yard has said what an hour of work or a day of a kit costs."""

from collections.abc import Iterable

from scheduling.engine.cost import option_of
from scheduling.engine.insertion import State
from scheduling.engine.more import Relaxation
from scheduling.engine.problem import Problem


def price_of(problem: Problem, thing: Relaxation, plans: Iterable[State]) -> int | None:
    """[minor units] what a thing costs that these plans with it take; None where the yard has set no price.

    A hand is paid all the hours she is there; a Saturday costs the hours that the plan which works most on it
    works; a kit the calendar days from the first to the last on which more of it is used than there was. A
    later promise costs nothing but a call. Heat, bay-days and moves are in what each plan costs.
    """
    match thing.kind:
        case "promise":
            return 0
        case "hand" if problem.hour_price is not None:
            works = [any(h.minutes[s] for h in problem.hands) for s in range(thing.start, thing.until)]
            return thing.amount * sum(works) * problem.hour_price // 60
        case "day" if problem.hour_price is not None:
            return max((_minutes_on(plan, thing) for plan in plans), default=0) * problem.hour_price // 60
        case "kit":
            kit = next(r for r in problem.resources if r.id == thing.what)
            if kit.one_price is not None:
                days = max((_days_over(problem, plan, thing) for plan in plans), default=0)
                return thing.amount // kit.one * days * kit.one_price
    return thing.price


def _minutes_on(plan: State, thing: Relaxation) -> int:
    """[min] of work on a day."""
    problem = plan.compiled.problem
    slot = next(s for s, day in enumerate(problem.days) if day.isoformat() == thing.what)
    calendars = {t.id: None if t.open is None else problem.calendars[t.open] for t in problem.tables}
    total = 0
    for name, times in plan.times.items():
        for time in times:
            option = option_of(plan.compiled.jobs[name], time)
            opens = calendars.get(option.table or "")
            if time.start <= slot < time.end and (opens is None or opens[slot]):
                total += sum(option.skills.values())
    return total


def _days_over(problem: Problem, plan: State, thing: Relaxation) -> int:
    """[calendar days] from the first to the last on which a plan uses more of a kit than there was."""
    compiled, before = plan.compiled, next(r.capacity for r in problem.resources if r.id == thing.what)
    row = compiled.row_of["resource", thing.what]
    used = compiled.capacity[row] - plan.left[row]
    over = [s for s, most in enumerate(before) if used[s] > most]
    return (problem.days[over[-1]] - problem.days[over[0]]).days + 1 if over else 0
