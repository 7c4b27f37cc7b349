"""The cheapest plan of a small problem, by trial; the witness says what is a plan, and what it costs.

The lists of chains, their own cost and the quick conflicts below only decide what need not be tried. Were one
of them wrong, this optimum would be too dear, and an engine that is right would beat it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np

from scheduling.engine.problem import Job, Option, Problem
from scheduling.engine.schedule import Rule, Schedule, StepTime, Unplaced
from scheduling.engine.slots import late_days, spans
from scheduling.engine.witness import check, cost

LEFT_OUT = Unplaced(rule="cost", says="it is cheaper to leave her out")


@dataclass
class Choices:
    """What one job can do, cheapest first; None = left out. `planned` and `begun` are bits that may clash."""

    job: Job
    own: np.ndarray  # [minor units]
    times: list[tuple[StepTime, ...] | None]
    planned: np.ndarray  # (choices, words)
    begun: np.ndarray  # (choices, words)


Done = list[tuple[Job, tuple[StepTime, ...] | None]]


def bites(problem: Problem, rule: Rule, best: tuple[int, Schedule], tries: int = 2000) -> bool:
    """Whether the best plan would cost less without the rule; False also if not seen within `tries`."""
    return cheapest(problem, without=frozenset({rule}), known=best, tries=tries)[0] < best[0]


def cheapest(
    problem: Problem,
    *,
    without: frozenset[Rule] = frozenset(),
    known: tuple[int, Schedule] | None = None,
    tries: int = 10**9,
) -> tuple[int, Schedule]:
    """(total cost, schedule) of the best of all plans that keep every rule but those in `without`.

    If a plan is `known`, the search ends with the first that is cheaper; `known` comes back if there is none.
    """
    choices = [_choices(problem, job, without) for job in problem.jobs]
    choices = [_from_the_first_legal(problem, each, without) for each in choices]
    orders = list(permutations(choices))[::3]
    best = known or min((_one_by_one(problem, order, without) for order in orders), key=lambda pair: pair[0])
    least = sum(int(each.own[0]) for each in choices)
    choices = [_legal(problem, each, without, best[0] - least + int(each.own[0])) for each in choices]

    def put(done: Done, rest: list[Choices]) -> None:
        nonlocal best, tries
        tries -= 1
        if tries < 0:
            return
        paid = _paid(problem, done, without)
        if paid is None:
            return
        if not rest:
            if paid < best[0]:
                best = paid, _part(problem, done)[1]
                tries = 0 if known else tries
            return
        spare = best[0] - paid - sum(int(each.own[0]) for each in rest)
        if spare <= 0:
            return
        # the job with the fewest choices within reach of the best is next
        reach = [int(np.searchsorted(each.own, each.own[0] + spare)) for each in rest]
        which = reach.index(min(reach))
        now, later = rest[which], [*rest[:which], *rest[which + 1 :]]
        for i, own in enumerate(now.own.tolist()):
            if paid + own + sum(int(each.own[0]) for each in later) >= best[0]:
                return
            after = [_without_clashes(each, now.planned[i], now.begun[i]) for each in later]
            if not all(len(each.own) for each in after):
                continue
            if paid + own + sum(int(each.own[0]) for each in after) < best[0]:
                put([*done, (now.job, now.times[i])], after)

    put([], choices)
    return best


def _paid(problem: Problem, done: Done, without: frozenset[Rule]) -> int | None:
    """What the witness counts for these jobs alone in the yard; None if they break a rule there."""
    told, schedule = _part(problem, done)
    if any(b.rule not in without and not b.fact for b in check(told, schedule)):
        return None
    return sum(cost(told, schedule).values())


def _one_by_one(problem: Problem, order: Iterable[Choices], without: frozenset[Rule]) -> tuple[int, Schedule]:
    """Each job in turn at the cheapest that goes beside those before: some plan, to begin with."""
    done: Done = []
    rest = list(order)
    paid = 0
    while rest:
        now, *rest = rest
        for i, times in enumerate(now.times):
            both = _paid(problem, [*done, (now.job, times)], without)
            if both is not None:
                done, paid = [*done, (now.job, times)], both
                rest = [_without_clashes(each, now.planned[i], now.begun[i]) for each in rest]
                break
        else:
            return sum(job.drop_price for job in problem.jobs), _part(
                problem, [(j, None) for j in problem.jobs]
            )[1]
    return paid, _part(problem, done)[1]


def _from_the_first_legal(problem: Problem, choices: Choices, without: frozenset[Rule]) -> Choices:
    first = next(
        i
        for i, times in enumerate(choices.times)
        if _paid(problem, [(choices.job, times)], without) is not None
    )
    return _only(choices, np.arange(first, len(choices.own)))


def _legal(problem: Problem, choices: Choices, without: frozenset[Rule], limit: int) -> Choices:
    """The same without what is dearer than `limit` or breaks a rule even alone in the yard."""
    keep = []
    for i in range(int(np.searchsorted(choices.own, limit, side="right"))):
        paid = _paid(problem, [(choices.job, choices.times[i])], without)
        if paid is not None:
            assert paid == choices.own[i], (choices.job.id, choices.times[i], paid)
            keep.append(i)
    return _only(choices, np.array(keep, dtype=int))


def _part(problem: Problem, done: Done) -> tuple[Problem, Schedule]:
    """The problem with these jobs alone, and their schedule."""
    names = {job.id for job, _ in done}
    told = replace(problem, jobs=tuple(job for job in problem.jobs if job.id in names))
    return told, Schedule(
        jobs={job.id: times for job, times in done if times is not None},
        unplaced={job.id: LEFT_OUT for job, times in done if times is None},
    )


def _only(choices: Choices, keep: np.ndarray) -> Choices:
    return Choices(
        job=choices.job,
        own=choices.own[keep],
        times=[choices.times[i] for i in keep],
        planned=choices.planned[keep],
        begun=choices.begun[keep],
    )


def _without_clashes(choices: Choices, planned: np.ndarray, begun: np.ndarray) -> Choices:
    """What is left beside a choice of another job; two boats that have begun in one bay are facts."""
    clash = (choices.planned & (planned | begun)) | (choices.begun & planned)
    return _only(choices, np.flatnonzero(~clash.any(axis=1)))


# --- What a job can do ------------------------------------------------------------------------------------
def _choices(problem: Problem, job: Job, without: frozenset[Rule]) -> Choices:
    """Every chain that is worth trying: for a job that has not begun, none dearer than leaving her out."""
    limit = job.drop_price if job.begun is None else sum(j.drop_price for j in problem.jobs)
    found: list[tuple[int, tuple[StepTime, ...] | None]] = [(job.drop_price, None)]
    found += list(_chains(problem, job, limit, without))
    found.sort(key=lambda pair: pair[0])
    bits = [_bits(problem, job, times, without) for _, times in found]
    return Choices(
        job=job,
        own=np.array([own for own, _ in found]),
        times=[times for _, times in found],
        planned=np.array([planned for planned, _ in bits]),
        begun=np.array([begun for _, begun in bits]),
    )


def _chains(
    problem: Problem, job: Job, limit: int, without: frozenset[Rule]
) -> Iterator[tuple[int, tuple[StepTime, ...]]]:
    """(own cost, times) of every chain of the job that costs at most `limit`."""
    tables = {table.id: table for table in problem.tables}
    price = {place.id: place.price for place in problem.places}
    upto = np.concatenate([[0], np.cumsum(spans(problem.days))]).tolist()  # [calendar days] before each slot

    def stands(option: Option, place: str, start: int, leaves: int) -> int:
        return (price[place] + option.stand_price) * (upto[leaves] - upto[max(start, 0)])

    def go_on(done: list[StepTime], options: list[Option], paid: int) -> Iterator[tuple[int, list[StepTime]]]:
        """`done` has its last leave still open; `paid` counts all but that last stand."""
        i = len(done) - (job.begun is not None)
        last = done[-1] if done else None
        if i == len(job.steps) and last is not None:
            paid += stands(options[-1], last.place, last.start, last.end)
            paid += job.late_price * late_days(problem.days, job.due, last.end)
            if paid <= limit:
                yield paid, [*done[:-1], replace(last, leaves=last.end)]
            return
        step = job.steps[i]
        least, most = (last.end, len(problem.days)) if last else (0, len(problem.days))
        if last and "chain" not in without:
            least += step.wait_min
            most = most if step.wait_max is None else last.end + step.wait_max + 1
        if "windows" not in without:
            least = max(least, job.earliest, step.earliest)
        if "gate" not in without and step.coats:
            least = max(least, step.gate or 0)
        starts = range(least, min(most, len(problem.days)))
        if "pins" not in without and step.pin_start is not None:
            starts = range(max(least, step.pin_start), min(starts.stop, step.pin_start + 1))
        for number, option in enumerate(step.options):
            table = tables[option.table or ""]
            for start in starts:
                end = table.finish[start]
                if end is None:
                    continue
                base = paid + option.price + (table.price[start] if table.price else 0)
                if last:
                    base += stands(options[-1], last.place, last.start, start)
                if base > limit:
                    continue
                for place in option.places:
                    if "pins" not in without and step.pin_place not in (None, place):
                        continue
                    now = base
                    up = last is not None and last.place == place and options[-1].rig == option.rig
                    now += option.rig_price if option.rig is not None and not up else 0
                    now += problem.move_price if last is not None and last.place != place else 0
                    if step.posted and (step.posted.place, step.posted.start) != (place, start):
                        now += problem.change_price
                    if now > limit:
                        continue
                    before = [*done[:-1], replace(last, leaves=start)] if last else []
                    yield from go_on(
                        [*before, _time(step.id, place, number, start, end)], [*options, option], now
                    )

    if job.begun is None:
        started = go_on([], [], 0)
    else:
        begun = job.begun
        started = go_on([_time(begun.step, begun.place, -1, -1, begun.end)], [begun.option], 0)
    for paid, times in started:
        yield paid, tuple(times)


def _time(step: str, place: str, option: int, start: int, end: int) -> StepTime:
    return StepTime(step=step, place=place, option=option, start=start, end=end, leaves=end)


# --- Quick conflicts --------------------------------------------------------------------------------------
def _bits(
    problem: Problem, job: Job, times: tuple[StepTime, ...] | None, without: frozenset[Rule]
) -> tuple[np.ndarray, np.ndarray]:
    """(planned, begun): a bit a slot for each bay filled and each thing of which more than half is taken."""
    slots, tables = len(problem.days), {table.id: table for table in problem.tables}
    rows = [place.id for place in problem.places]
    rows += [resource.id for resource in problem.resources]
    skills = sorted({skill for hand in problem.hands for skill in hand.skills})
    planned = np.zeros((len(rows) + len(skills), slots), dtype=bool)
    begun = np.zeros_like(planned)
    single = {place.id for place in problem.places if place.room == 1}
    if times is None and job.begun is not None and job.begun.place in single and "stand" not in without:
        begun[rows.index(job.begun.place)] = True
    in_begun = job.begun is not None
    for time in times or ():
        in_begun = in_begun and job.begun is not None and time.place == job.begun.place
        if time.place in single and "stand" not in without:
            row = begun if in_begun else planned
            row[rows.index(time.place), max(time.start, 0) : time.leaves] = True
        if time.start < 0 or "hands" in without:
            continue
        option = next(s for s in job.steps if s.id == time.step).options[time.option]
        calendar = tables[option.table or ""].open
        opens = problem.calendars[calendar] if calendar else (1,) * slots
        for n, resource in enumerate(problem.resources, len(problem.places)):
            for slot in range(time.start, time.leaves):
                works = slot < time.end and opens[slot]
                amount = option.holds.get(resource.id, 0) + (option.uses.get(resource.id, 0) if works else 0)
                planned[n, slot] |= 2 * amount > resource.capacity[slot]
        for n, skill in enumerate(skills, len(rows)):
            for slot in range(time.start, time.end):
                there = sum(hand.minutes[slot] for hand in problem.hands if skill in hand.skills)
                if opens[slot]:
                    planned[n, slot] |= 2 * option.skills.get(skill, 0) > there
    return np.packbits(planned.ravel()), np.packbits(begun.ravel())
