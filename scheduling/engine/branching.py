"""A closer bound for a small yard: its plans parted in two again and again, each part with prices of its own.

Prices mix ways of a job that no plan can mix. So the plans are parted by when one of her steps starts, or by
whether it is done in one place; each part has a bound of its own, and the least of all parts' holds for all.
The part with the least bound is parted first (branch and bound, Land & Doig 1960; bounds by prices at each
node as in Fisher 1981). The prices of a part lead to plans, too, often the cheapest.
"""

import heapq
import random
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import gcd

import numpy as np

from scheduling.engine.builds import plan_at
from scheduling.engine.climb import Climb, Mixture
from scheduling.engine.compiled import Ints, compile_problem
from scheduling.engine.prices import Floats, Way, whole
from scheduling.engine.problem import Job, Option, Problem, Step, Table
from scheduling.engine.schedule import Schedule, StepTime
from scheduling.engine.state import State
from scheduling.engine.witness import check

ROUNDS = 4
"""Rounds of the climb in each part: with 12 the bound of the 12-boat example rises more slowly (measured)."""
ELSEWHERE = 8.0
"""[slots] as far apart as two places count; from 2 to 16 it is the same there (measured)."""
LOOKS = 2
"""A plan is made in one of so many parts that are looked at; it takes a seventh of the time of two halves."""
KEPT = 200
"""Open parts up to which arrays are kept for each."""
TAKEN = 1e-3
"""The share from which on a way counts as taken."""


@dataclass(frozen=True, slots=True)
class Cut:
    """Plans in which a step of a job starts before a slot, or in one place; and all others."""

    job: str
    step: int  # the number among her steps
    before: int = 0  # [slot]; 0 = it is the place
    place: str = ""

    def has(self, times: Sequence[StepTime], inside: bool) -> bool:
        """Whether a job's times are among those plans, or (not `inside`) among the others."""
        time = [time for time in times if time.option >= 0][self.step]
        return (time.place == self.place if self.place else time.start < self.before) == inside


@dataclass(frozen=True, slots=True)
class Half:
    """The plans on one side of a cut."""

    cut: Cut
    inside: bool

    def keeps(self, way: Way) -> bool:
        """Whether a way of the job that is cut at is one of these plans'; to leave her out is kept anew."""
        return bool(way.times) and self.cut.has(way.times, self.inside)


@dataclass(frozen=True, slots=True, order=True)
class _Part:
    """Some of the plans, and what is known of what they cost."""

    value: int  # [parts] no plan of them costs less
    number: int
    problem: Problem = field(compare=False)
    climb: Climb = field(compare=False)
    halves: tuple[Half, ...] = field(default=(), compare=False)  # whose plans are all in it


class Branching:
    """The parts in which a yard's plans are looked at, and the bound that they prove together."""

    def __init__(self, climb: Climb, seed: int = 1) -> None:
        """`climb` has been gone on with, and not been shut."""
        problem = climb.dual.compiled.problem
        self.climb, self.coin, self.seed, self.rng = climb, coin(problem), seed, random.Random(seed)
        self.above = climb.above  # [parts] the cost of the cheapest plan known
        self.plan: Schedule | None = None  # it, if it was found here
        self.open = [_Part(climb.value, 0, problem, climb)]
        self.looked = self.made = self.tries = 0
        self.stuck = False

    @property
    def bound(self) -> int:
        """[minor units] what no plan can cost less than; at most what the cheapest known one costs."""
        least = min((self._whole(part.value) for part in self.open), default=self.above)
        return whole(min(least, self.above), self.climb.parts)

    @property
    def done(self) -> bool:
        """Whether no part is left in which a plan could be cheaper, or none that can be parted."""
        return self.stuck or not self.open or self._whole(self.open[0].value) >= self.above

    def learn(self, total: int) -> None:
        """A plan costs so much [minor units]: what is no cheaper need not be looked for."""
        if total * self.climb.parts < self.above:
            self.above, self.plan = total * self.climb.parts, None

    def go_on(
        self,
        rounds: int,
        should_stop: Callable[[], bool] = lambda: False,
        on_plan: Callable[[Schedule], None] = lambda _: None,
    ) -> None:
        """Part the plans further, with so many rounds of climbing in all; `on_plan` is told cheaper ones."""
        while rounds > 0 and not self.done and not should_stop():
            part = self.open[0]
            cut = where_to_cut(part.problem, part.climb)
            if cut is None:
                self._take_whole(part, on_plan)
                self.stuck = not self.done
                return
            if self.looked % LOOKS == 0:
                self._look(part, on_plan)
            self.looked += 1
            halves = [self._half(part, Half(cut, inside), should_stop) for inside in (True, False)]
            rounds -= 2 * ROUNDS
            heapq.heappop(self.open)
            for half in halves:
                if self._whole(half.value) < self.above:
                    heapq.heappush(self.open, half)

    def _half(self, part: _Part, half: Half, should_stop: Callable[[], bool]) -> _Part:
        """The plans of a part that are on one side of a cut."""
        problem = with_cut(part.problem, half.cut, half.inside)
        climb = part.climb.parted(problem, half.cut.job, half.keeps, self.above - self.coin + 1)
        climb.go_on(ROUNDS, should_stop)
        climb.shut(len(self.open) > KEPT)
        self.tries += climb.tries
        self.made += 1
        return _Part(max(climb.value, part.value), self.made, problem, climb, (*part.halves, half))

    def leave_half(self) -> tuple[tuple[Half, ...], ...]:
        """Let go of every second part, for somebody else to look at: by halves that its plans are all in."""
        parts = sorted(self.open)
        self.open = parts[0::2]  # in order, so it is a heap
        return tuple(part.halves for part in parts[1::2])

    def take(self, parts: Iterable[tuple[Half, ...]], should_stop: Callable[[], bool]) -> None:
        """Look at these parts alone; what there is no time to part is looked at as a whole."""
        (whole_,) = self.open
        self.open = []
        for halves in parts:
            part = whole_
            for half in halves:
                if not should_stop():
                    part = self._half(part, half, should_stop)
            heapq.heappush(self.open, part)

    def _look(self, part: _Part, on_plan: Callable[[Schedule], None]) -> None:
        """Make a plan at the prices of a part: first who is the least mixed, and by chance."""
        compiled = part.climb.compiled or compile_problem(part.problem)
        rank = {
            name: (job.begun is None, -float(mixture.share.max()) * self.rng.random())
            for (name, job), mixture in zip(compiled.jobs.items(), part.climb.jobs, strict=True)
        }
        state = plan_at(compiled, part.climb.best, sorted(rank, key=rank.__getitem__))
        self.tries += len(rank)
        if state is not None:
            self._keep(state, on_plan)

    def _take_whole(self, part: _Part, on_plan: Callable[[Schedule], None]) -> None:
        """The ways of a part in which none is mixed, if they make a plan."""
        state = State(part.climb.compiled or compile_problem(part.problem))
        for job, mixture in zip(part.problem.jobs, part.climb.jobs, strict=True):
            times = mixture.ways[int(mixture.share.argmax())].times
            if times:
                state.put(job.id, times)
            else:
                state.leave_out(job.id)
        if all(breach.fact for breach in check(part.problem, state.schedule())):
            self._keep(state, on_plan)

    def _keep(self, state: State, on_plan: Callable[[Schedule], None]) -> None:
        if state.total < self.above:
            self.above, self.plan = state.total, state.schedule()
            on_plan(self.plan)

    def _whole(self, value: int) -> int:
        """[parts] what no plan can cost less than if it can't cost less than this: plans cost whole coins."""
        return -(-value // self.coin) * self.coin


def coin(problem: Problem) -> int:
    """The largest amount of which all that a plan can cost is a multiple; 1 if nothing costs anything."""
    options = [o for job in problem.jobs for step in job.steps for o in step.options]
    options += [job.begun.option for job in problem.jobs if job.begun]
    prices = [problem.move_price, problem.shunt_price, problem.change_price]
    prices += [place.price for place in problem.places]
    prices += [price for table in problem.tables for price in table.price]
    prices += [price for job in problem.jobs for price in (job.late_price, job.drop_price)]
    prices += [price for o in options for price in (o.price, o.stand_price, o.rig_price)]
    return max(gcd(*prices), 1)


def where_to_cut(problem: Problem, climb: Climb) -> Cut | None:
    """The step whose start, or place, is the most mixed in the ways taken; None if none is mixed."""
    best, found = 0.0, None
    for job, mixture in zip(problem.jobs, climb.jobs, strict=True):
        for score, cut in _cuts(job, mixture):
            if score > best:
                best, found = score, cut
    return found


def _cuts(job: Job, mixture: Mixture) -> Iterator[tuple[float, Cut]]:
    """(by how many slots the ways on both sides differ, in the mean, cut) for each step of a job."""
    taken = [
        (share, [time for time in way.times if time.option >= 0])
        for share, way in zip(mixture.share.tolist(), mixture.ways, strict=True)
        if share > TAKEN and way.times
    ]
    if len(taken) < 2:
        return
    shares = np.array([share for share, _ in taken])
    shares /= shares.sum()
    for number in range(len(job.steps)):
        times = [steps[number] for _, steps in taken]
        score, before = _parting(np.array([time.start for time in times]), shares)
        if before:
            yield score, Cut(job.id, number, before=before)
        for place in sorted({time.place for time in times}):
            here = float(shares[[time.place == place for time in times]].sum())
            yield here * (1 - here) * ELSEWHERE, Cut(job.id, number, place=place)


def _parting(starts: Ints, shares: Floats) -> tuple[float, int]:
    """(score, slot) before which some of the starts are, so that both sides are large and far apart."""
    best, found = 0.0, 0
    for slot in np.unique(starts)[1:].tolist():
        early = starts < slot
        part = float(shares[early].sum())
        apart = (starts[~early] @ shares[~early]) / (1 - part) - (starts[early] @ shares[early]) / part
        score = part * (1 - part) * float(apart)
        if score > best:
            last = int(starts[early].max())
            best, found = score, (last + slot + 1) // 2
    return best, found


def with_cut(problem: Problem, cut: Cut, inside: bool) -> Problem:
    """The Problem with those plans only in which the job is left out, or is as the cut says, or is not."""
    jobs, tables = {job.id: job for job in problem.jobs}, {table.id: table for table in problem.tables}
    job = jobs[cut.job]
    step = job.steps[cut.step]
    if cut.place:
        step = _by_place(step, cut.place, inside, tables)
    elif inside:
        step = replace(step, options=tuple(_early(o, cut.before, tables) for o in step.options))
    else:
        step = replace(step, earliest=max(step.earliest, cut.before))
    steps = (*job.steps[: cut.step], step, *job.steps[cut.step + 1 :])
    jobs[job.id] = replace(job, steps=steps)
    return replace(problem, jobs=tuple(jobs.values()), tables=tuple(tables.values()))


def _by_place(step: Step, place: str, inside: bool, tables: dict[str, Table]) -> Step:
    """The step in this place only, or anywhere else."""
    kept: list[Option] = []
    for option in step.options:
        places = tuple(name for name in option.places if (name == place) == inside)
        kept.append(replace(option, places=places) if places else _early(option, 0, tables))
    return replace(step, options=tuple(kept))


def _early(option: Option, slot: int, tables: dict[str, Table]) -> Option:
    """The option, if it starts before this slot; its table is added to `tables`."""
    table = tables[option.table or ""]
    name = f"{table.id} before {slot}"
    if name not in tables:
        finish = tuple(end if s < slot else None for s, end in enumerate(table.finish))
        tables[name] = replace(table, id=name, finish=finish)
    return replace(option, table=name)
