"""One winter at a time, in plain Python, by the page of rules alone: what the fast replay must agree with.

It draws its own winters, and looks for each start slot by slot.
"""

from __future__ import annotations

import math
import random
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from itertools import combinations, pairwise
from statistics import NormalDist
from typing import Any

from scheduling.engine.problem import Begun, Job, Option, Problem, Step
from scheduling.engine.schedule import Schedule

NEVER = 10**6


@dataclass(eq=False)
class Part:
    """A piece of the plan: where the plan has it, and [(part, its "start" or "end", slots)] it waits for."""

    job: Job
    step: Step | None
    option: Option
    place: str
    unit: str | None
    start: int
    end: int
    leaves: int
    following: Part | None = None
    waits: list[tuple[Part, str, int]] = field(default_factory=list)
    room: tuple[int, list[tuple[Part, str]]] = (0, [])  # of these moments so many

    def gone(self) -> tuple[Part, str]:
        """The moment at which she leaves it."""
        return (self.following, "start") if self.following else (self, "end")


def replay(problem: Problem, schedule: Schedule, *, runs: int, seed: int) -> dict[str, list[date | None]]:
    """The last day of each job in each winter; None where that is beyond the axis."""
    parts = parts_of(problem, schedule)
    order = in_order(parts)
    tables = {table.id: table for table in problem.tables}
    found: dict[str, list[date | None]] = defaultdict(list)
    rng = random.Random(seed)
    for _ in range(runs):
        winter = Drawn(problem, rng)
        ends = one_winter(problem, order, tables, winter)
        for own in parts:
            if own[0].job.id in schedule.jobs and own[-1].end:
                end = ends[id(own[-1])][1]
                found[own[0].job.id].append(None if end >= NEVER else problem.days[end - 1])
    return dict(found)


class Drawn:
    """What one winter is like."""

    def __init__(self, problem: Problem, rng: random.Random) -> None:
        self.problem, self.rng = problem, rng
        self.leans: dict[Any, float] = {}
        self.stopped = {
            r.id: {s for s, odds in enumerate(r.lost) if rng.random() * 1000 < odds}
            for r in problem.resources
        }

    def lean(self, *key: str) -> float:
        if key not in self.leans:
            self.leans[key] = self.rng.gauss(0, 1)
        return self.leans[key]

    def factor(self, job: str, name: str) -> int:
        spread = self.problem.spreads[name]
        lean, share = self.lean(job, name), spread.share_pct / 100
        if share:
            lean = math.sqrt(share) * self.lean(spread.common) + math.sqrt(1 - share) * lean
        return case(spread.cases, lean)

    def until(self, job: str, part: Step | Begun) -> int:
        return case(part.until, self.lean(job, "until", part.id if isinstance(part, Step) else part.step))


def case(cases: tuple[int, ...], lean: float) -> int:
    return cases[min(len(cases) - 1, int(NormalDist().cdf(lean) * len(cases)))]


def one_winter(problem: Problem, order: list[Part], tables: Any, winter: Drawn) -> dict[int, list[int]]:
    """[start, end] of each part, by its identity: each as early as it can be, in the order given."""
    days = len(problem.days)
    times: dict[int, list[int]] = {}
    left = {one.id: list(one.capacity) for one in problem.resources}
    for option in [option for job in problem.jobs for step in job.steps for option in step.options]:
        table = tables[option.table]
        if table.anew is not None:  # who comes on days of theirs is asked to come again, as many as ever
            after = next(s for s in range(days + 1) if not any(table.finish[s:]))
            for one in problem.resources:
                if one.id in option.uses and not any(one.capacity[after:]):
                    left[one.id][after:] = [max(one.capacity)] * (days - after)
    skills = sets_of_skills(problem)
    for number, some in enumerate(skills):
        able = [hand for hand in problem.hands if some & set(hand.skills)]
        left[f"skills {number}"] = [sum(hand.minutes[slot] for hand in able) for slot in range(days)]
    closed = {p.id: [s for a, b in p.closed for s in range(a, b)] for p in problem.places}
    for part in order:
        needs = {name: amount for name, amount in part.option.uses.items() if amount}
        for number, some in enumerate(skills):
            minutes = sum(part.option.skills.get(skill, 0) for skill in some)
            if minutes:
                needs[f"skills {number}"] = minutes
        if part.step is None:
            start, end = -1, begun_end(problem, part, winter)
        else:
            first, asked = floor(part, winter), False
            for other, moment, lag in part.waits:
                first = max(first, times[id(other)][moment == "end"] + lag)
            many, freed = part.room
            leaving = sorted(times[id(other)][moment == "end"] for other, moment in freed)
            first = max([first, *leaving[:many]])
            table = tables[part.option.table]
            while True:
                start = next_start(problem, tables, part, first, closed, winter, asked)
                end = finish(problem, tables, part, start, winter)
                short = [
                    slot
                    for slot in work_slots(problem, tables, part, start, end)
                    if any(left[name][slot] < amount for name, amount in needs.items())
                ]
                if table.waiting or not short:
                    break
                first, asked = short[0] + 1, True
        for slot in work_slots(problem, tables, part, start, end):
            for name, amount in needs.items():
                left[name][slot] -= amount
        times[id(part)] = [start, end]
    return times


def work_slots(problem: Problem, tables: Any, part: Part, start: int, end: int) -> list[int]:
    """The slots in which a part needs people and resources."""
    calendar = tables[part.option.table].open if part.option.table else None
    span = range(min(max(start, 0), len(problem.days)), min(end, len(problem.days)))
    return [slot for slot in span if calendar is None or problem.calendars[calendar][slot]]


def next_start(
    problem: Problem,
    tables: Any,
    part: Part,
    first: int,
    closed: dict[str, list[int]],
    winter: Drawn,
    asked: bool,
) -> int:
    days, table = len(problem.days), tables[part.option.table]
    fits = [
        start
        for start in range(min(first, days), days)
        if can_start(problem, tables, part, start)
        and start not in closed[part.place]
        and not any(start in winter.stopped[name] for name in part.option.uses)
    ]
    if table.anew is not None:  # those who come on days of theirs are asked to come again
        booked = [slot for slot in fits if any(table.finish[slot:])]
        after = next(s for s in range(days + 1) if not any(table.finish[s:]))
        again = max(first, after) + table.anew
        if asked and first >= after + table.anew:  # he comes as it is: nobody asks once more
            again = first
        fits = booked or [slot for slot in fits if slot >= again]
    return fits[0] if fits else NEVER


def in_order(parts: list[list[Part]]) -> list[Part]:
    """By the plan's starts; of those in one slot the first that waits for none of the others still to come.

    Where all wait for a ring, one of those in it who go on where they stood does not wait, else the first in
    it.
    """
    every = [part for own in parts for part in own]
    stand = [pair for own in parts for pair in pairwise(own) if pair[0].place == pair[1].place]
    starts = {id(part): part.start for part in every}
    for _ in every:  # who waits for one who was to come later comes later, too
        for part in every:
            starts[id(part)] = max([starts[id(part)], *(starts[id(other)] for other in comes_after(part))])
    rest = sorted(every, key=lambda part: starts[id(part)])
    done: list[Part] = []
    while rest:
        same = [part for part in rest if starts[id(part)] == starts[id(rest[0])]]
        free = [part for part in same if not any(other in same for other in comes_after(part))]
        ready = [one for before, one in stand if one in same and before not in same]
        ringed = [] if free else [one for one in same if waits_for_itself(one, same)]
        part = (free or [one for one in ringed if one in ready] or ringed)[0]
        part.waits = [wait for wait in part.waits if wait[0] not in same]
        many, freed = part.room
        left = [one for one in freed if one[0] not in same]
        part.room = (many - len(freed) + len(left), left)  # those who go as she comes make room
        rest.remove(part)
        done.append(part)
    return done


def waits_for_itself(part: Part, among: list[Part]) -> bool:
    """Whether a part of those among them waits for another that in the end waits for it."""
    known = [other for other in comes_after(part) if other in among]
    for one in known:
        known += [other for other in comes_after(one) if other in among and other not in known]
    return part in known


def comes_after(part: Part) -> list[Part]:
    return [other for other, _, _ in part.waits] + [other for other, _ in part.room[1]]


def floor(part: Part, winter: Drawn) -> int:
    step, job = part.step, part.job
    assert step is not None
    held = winter.until(job.id, step) if step.until else step.earliest
    drawn_gate = job.begun is not None and job.begun.end == step.gate
    return max(
        job.earliest,
        held,
        part.start if step.told or step.pin_start is not None else 0,
        0 if step.gate is None or drawn_gate else step.gate,
    )


def can_start(problem: Problem, tables: Any, part: Part, slot: int) -> bool:
    table = tables[part.option.table]
    if table.finish[slot] is not None:
        return True
    return table.worth is not None and not any(table.finish[slot:]) and problem.worths[table.worth][slot] > 0


def finish(problem: Problem, tables: Any, part: Part, start: int, winter: Drawn) -> int:
    table, step = tables[part.option.table], part.step
    if start >= NEVER:
        return NEVER
    if step is None or step.spread is None or table.worth is None:
        if table.finish[start] is not None or table.worth is None:
            return NEVER if table.finish[start] is None else int(table.finish[start])
        left = table.amount
    else:
        left = max(1, math.ceil(table.amount * winter.factor(part.job.id, step.spread) / 1000))
    if table.before is not None:
        left = max(table.least, left - sum(problem.worths[table.before][:start]))
    return worked(problem.worths[table.worth], start, left)


def worked(worths: tuple[int, ...], start: int, left: int) -> int:
    for slot in range(start, len(worths)):
        left -= worths[slot]
        if left <= 0:
            return slot + 1
    return NEVER


def begun_end(problem: Problem, part: Part, winter: Drawn) -> int:
    begun = part.job.begun
    if part.step is not None or begun is None or begun.worth is None or not (begun.spread or begun.until):
        return part.end
    left = begun.amount
    if begun.spread:
        left = max(1, math.ceil(left * winter.factor(part.job.id, begun.spread) / 1000))
    return worked(problem.worths[begun.worth], winter.until(part.job.id, begun) if begun.until else 0, left)


# --- Who waits for whom -----------------------------------------------------------------------------------
def parts_of(problem: Problem, schedule: Schedule) -> list[list[Part]]:
    """The parts of each job in the plan or begun, with all they wait for."""
    found = []
    for job in problem.jobs:
        own: list[Part] = []
        steps = {step.id: step for step in job.steps}
        for time in schedule.jobs.get(job.id, ()):
            step = steps.get(time.step) if time.option >= 0 else None
            option = step.options[time.option] if step else job.begun.option  # type: ignore[union-attr]
            own.append(Part(job, step, option, time.place, time.unit, time.start, time.end, time.leaves))
        if not own and job.begun:
            b = job.begun
            own = [Part(job, None, b.option, b.place, b.unit, -1, b.end, len(problem.days))]
        for before, after in pairwise(own):
            before.following = after
            after.waits.append((before, "end", after.step.wait_min if after.step else 0))
        if own:
            found.append(own)
    every = [part for own in found for part in own]
    stays = [stay for own in found for stay in stays_of(own)]
    wait_for_bays(problem, stays)
    wait_in_lanes(problem, stays)
    wait_for_air(problem, every)
    for name in [r.id for r in problem.resources]:
        there = max(next(r.capacity for r in problem.resources if r.id == name))
        uses = [(p, p.option.holds.get(name, 0), p.leaves, p.gone()) for p in every]
        wait_for_share(every, uses, there)
    return found


def stays_of(own: list[Part]) -> list[list[Part]]:
    stays: list[list[Part]] = []
    for part in own:
        if stays and stays[-1][-1].place == part.place:
            stays[-1].append(part)
        else:
            stays.append([part])
    return stays


def wait_for_bays(problem: Problem, stays: list[list[Part]]) -> None:
    """In the order in which they come by the plan: with room for so many, as many less of those before must
    have gone, whoever they are, of all who have gone by the plan (of more where facts brought more in)."""
    for place in problem.places:
        here = [stay for stay in stays if stay[0].place == place.id]
        here.sort(key=lambda stay: (stay[0].start, stay[-1].leaves))
        for number, stay in enumerate(here):
            many = number - (place.room - 1)
            before = sorted(here[:number], key=lambda other: other[-1].leaves)
            gone = [other for other in before if other[-1].leaves <= max(stay[0].start, 0)]
            if stay[0].start >= 0 and many > 0:
                stay[0].room = (many, [other[-1].gone() for other in before[: max(many, len(gone))]])


def wait_in_lanes(problem: Problem, stays: list[list[Part]]) -> None:
    spots = {place.id: (place.lane, place.depth or 0) for place in problem.places if place.lane}
    inside = [stay for stay in stays if stay[0].place in spots]
    for front in inside:
        for behind in inside:
            (lane, near), (other, far) = spots[front[0].place], spots[behind[0].place]
            if lane != other or near >= far or front[0].job is behind[0].job:
                continue
            comes, goes = (behind[0], "start"), behind[-1].gone()
            for slot, moment, mover in (
                (behind[0].start, comes, behind[0]),
                (behind[-1].leaves, goes, behind[-1].following),
            ):
                if slot <= front[0].start:  # the event is earlier in the plan than her coming
                    if not front[0].option.movable and front[0].start >= 0:
                        front[0].waits.append((*moment, 0))
                    continue
                in_way = [part for part in front if part.leaves > slot] or front[-1:]
                if not in_way[0].option.movable and mover is not None and mover.start >= 0:
                    mover.waits.append((*front[-1].gone(), 0))


def wait_for_air(problem: Problem, every: list[Part]) -> None:
    airs = {air.id: air for air in problem.airs}
    of_place = {place.id: place.air for place in problem.places}
    for dusty in every:
        for tender in every:
            air = of_place[dusty.place]
            if air is None or air != of_place[tender.place] or airs[air].split_day:
                continue
            if dusty.job is tender.job or dusty.option.own_air or tender.option.own_air:
                continue
            if set(dusty.option.makes) & set(tender.option.spoiled_by):
                settle = airs[air].settle
                overrun = dusty.end + settle > tender.start and tender.end > dusty.start
                if dusty.start < tender.start if overrun else dusty.end + settle <= tender.start:
                    tender.waits.append((dusty, "end", settle))
                else:
                    dusty.waits.append((tender, "end", 0))


def wait_for_share(every: list[Part], uses: list[Any], there: int) -> None:
    """Takers in the order of their planned starts; givers are a list, looked through from the first."""
    place_in = {id(part): n for n, part in enumerate(every)}
    uses = sorted((use for use in uses if use[1]), key=lambda use: (use[0].start, place_in[id(use[0])]))
    unused = max(there, sum(use[1] for use in uses if use[0].start < 0))
    givers: list[list[Any]] = []  # [slot given back, amount, moment, job]
    for part, need, until, moment in uses:
        mine = [g for g in givers if g[3] == part.job.id][-1:]
        for giver in mine:
            share = min(need, giver[1])
            giver[1] -= share
            need -= share
        share = min(need, unused)
        unused -= share
        need -= share
        for giver in sorted(givers, key=lambda g: g[0]):  # none is still in use, but where facts overran
            share = min(need, giver[1])
            if share and part.start >= 0:
                part.waits.append((*giver[2], 0))
            giver[1] -= share
            need -= share
        amount = next(use[1] for use in uses if use[0] is part and use[3] == moment)
        givers.append([until, amount, moment, part.job.id])


def sets_of_skills(problem: Problem) -> list[set[str]]:
    """Every set of skills that somebody shares and that no other set says as much about."""
    asked = {k for j in problem.jobs for s in j.steps for o in s.options for k, m in o.skills.items() if m}
    asked |= {k for j in problem.jobs if j.begun for k, m in j.begun.option.skills.items() if m}
    found = []
    for size in range(1, len(asked) + 1):
        for some in combinations(sorted(asked), size):
            skills = set(some)
            able = [h for h in problem.hands if skills & set(h.skills)]
            others = [h for h in problem.hands if h not in able]
            whole = all(any(k in h.skills for h in others) for k in asked - skills)
            if able and whole and one_piece(skills, able):
                found.append(skills)
    return found


def one_piece(skills: set[str], able: list[Any]) -> bool:
    """Whether shared hands join the skills to one set."""
    joined = {min(skills)}
    while True:
        more = {k for h in able if joined & set(h.skills) for k in h.skills if k in skills} | joined
        if more == joined:
            return joined == skills
        joined = more
