"""What can't be, whatever else is planned: found by name before any solving, in the yard's own words.

Each is about one job in an otherwise empty yard: a job named here is in no plan, but not only she.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scheduling.engine.problem import Job, Option, Place, Problem, Step
from scheduling.engine.schedule import Rule, Unplaced

Row = np.ndarray[Any, np.dtype[np.bool_]]
Amounts = np.ndarray[Any, np.dtype[np.int64]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """Why a step of a job can be in no plan."""

    job: str
    step: str
    rule: Rule
    says: str


@dataclass(frozen=True, slots=True)
class _Way:
    """One option of a step in one place."""

    option: Option
    place: Place


def contradictions(problem: Problem) -> list[Contradiction]:
    """The first contradiction of each step; steps that can't follow each other where there is no other."""
    found: list[Contradiction] = []
    known = _Known(problem)
    for job in problem.jobs:
        yard = _Yard(known, job)
        mine = [each for step in job.steps if (each := yard.step(step)) is not None]
        found += mine or yard.chain()
    return found


def unplaceable(problem: Problem) -> dict[str, Unplaced]:
    """The jobs that can be in no plan, each with the first reason."""
    found: dict[str, Unplaced] = {}
    for each in contradictions(problem):
        found.setdefault(each.job, Unplaced(rule=each.rule, says=each.says))
    return found


class _Known:
    """What is the same for every job, reckoned once."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self.slots = problem, len(problem.days)
        self.places = {place.id: place for place in problem.places}
        self.resources = {each.id: each for each in problem.resources}
        self.capacity = {each.id: np.array(each.capacity, dtype=np.int64) for each in problem.resources}
        skills = {skill for hand in problem.hands for skill in hand.skills}
        self.minutes: dict[str, Amounts] = {
            skill: np.sum([hand.minutes for hand in problem.hands if skill in hand.skills], axis=0)
            for skill in skills
        }
        self.starts, self.ends, self.open = {}, {}, {}
        for table in problem.tables:
            self.starts[table.id] = np.array([end is not None for end in table.finish])
            self.ends[table.id] = np.array([s if end is None else end for s, end in enumerate(table.finish)])
            opened = problem.calendars[table.open] if table.open is not None else (1,) * self.slots
            self.open[table.id] = np.array(opened, dtype=bool)
        self._enough: dict[Any, Row] = {}
        self._not_closed: dict[Any, Row] = {}

    def clear(self, table: str | None, bad: Row) -> Row:
        """The starts from which none of the slots of the work is `bad`."""
        before = np.concatenate([[0], np.cumsum(bad)])
        row: Row = before[self.ends[table or ""]] == before[: self.slots]
        return row

    def not_closed(self, table: str | None, closed: tuple[tuple[int, int], ...]) -> Row:
        """The starts from which the work is over before the place is closed."""
        key = (table, closed)
        if key not in self._not_closed:
            bad = np.zeros(self.slots, dtype=bool)
            for start, end in closed:
                bad[start:end] = True
            self._not_closed[key] = self.clear(table, bad)
        return self._not_closed[key]

    def enough(self, option: Option) -> Row:
        """The starts from which the yard has all that the work needs, were there no other job."""
        parts = (option.skills, option.uses, option.holds)
        key = (option.table, *(tuple(sorted(part.items())) for part in parts))
        if key not in self._enough:
            row, opened = np.ones(self.slots, dtype=bool), self.open[option.table or ""]
            for _, needs, there in self.needs(option):
                row &= self.clear(option.table, (there < needs) & opened)
            for name, needs in option.holds.items():
                row &= self.clear(option.table, self.capacity[name] < needs)
            self._enough[key] = row
        return self._enough[key]

    def needs(self, option: Option) -> Iterator[tuple[str, int, Amounts]]:
        """(what in words, how much, how much there is in each slot) of what the work demands."""
        for skill, needs in option.skills.items():
            there = self.minutes.get(skill, np.zeros(self.slots, dtype=np.int64))
            yield f"min of {skill} a day", needs, there
        for name in {**option.holds, **option.uses}:
            needs = option.uses.get(name, 0) + option.holds.get(name, 0)
            resource = self.resources[name]
            unit = f"{resource.unit} of " if resource.unit else ""
            yield unit + (resource.label or name), needs, self.capacity[name]


class _Yard:
    """One job in an otherwise empty yard."""

    def __init__(self, known: _Known, job: Job) -> None:
        self.known, self.job, self.slots = known, job, known.slots
        self.places, self.starts = known.places, known.starts
        self.home = job.begun.place if job.begun else None

    # --- One step ---
    def step(self, step: Step) -> Contradiction | None:
        """The first thing that keeps this step from being done at all."""
        ways = [_Way(option, self.places[name]) for option in step.options for name in option.places]
        if step.pin_place is not None:
            ways = [way for way in ways if way.place.id == step.pin_place]
            if not ways:
                return self._no(
                    step, "pins", f"can't be done in {self._place(step.pin_place)}, where it is pinned"
                )
        fitting = [way for way in ways if way.place.id == self.home or not self._too_big(way.place)]
        if not fitting:
            pinned = step.pin_place is not None
            return self._no(step, "pins" if pinned else "fit", self._does_not_fit(ways, pinned))
        able = [way for way in fitting if self._nobody(way.option) is None]
        if not able:
            return self._no(
                step, "hands", f"needs {self._nobody(fitting[0].option)}, which nobody in the yard can do"
            )
        starts = {way.option.table: self.starts[way.option.table or ""] for way in able}
        if not any(row.any() for row in starts.values()):
            return self._no(step, "windows", "there is no day on which it can start and be finished in time")
        enough = [(way, self.starts[way.option.table or ""] & self.known.enough(way.option)) for way in able]
        if not any(row.any() for _, row in enough):
            return self._no(step, "hands", self._too_much(able[0].option))
        open_ = [(way, row & self._not_closed(way)) for way, row in enough]
        row = np.logical_or.reduce([each for _, each in open_])
        if not row.any():
            return self._no(step, *self._shut(step))
        return self._bounds(step, row)

    def _bounds(self, step: Step, row: Row) -> Contradiction | None:
        """Whether what is asked of the start leaves any of the slots in `row`."""
        last = int(np.flatnonzero(row)[-1])
        if self.job.earliest > last:
            return self._no(
                step, "windows", f"she is there on {self._day(self.job.earliest)}, {self._late(last)}"
            )
        if step.earliest > last:
            why = f" ({step.earliest_why})" if step.earliest_why else ""
            return self._no(
                step, "windows", f"waits until {self._day(step.earliest)}{why}, {self._late(last)}"
            )
        gate = step.gate if step.coats and step.gate is not None else 0
        if gate > last:
            return self._no(step, "gate", f"signed dry is forecast for {self._day(gate)}, {self._late(last)}")
        pin = step.pin_start
        if pin is None:
            return None
        early = max(self.job.earliest, step.earliest)
        if pin < early:
            return self._no(step, "pins", f"is pinned to {self._day(pin)}, before {self._day(early)}")
        if pin < gate:
            says = f"is pinned to {self._day(pin)}, before signed dry is forecast ({self._day(gate)})"
            return self._no(step, "pins", says)
        if pin >= self.slots or not row[pin]:
            return self._no(step, "pins", f"is pinned to {self._day(pin)}, when it can't start")
        return None

    def _not_closed(self, way: _Way) -> Row:
        closed = () if way.place.id == self.home else tuple(way.place.closed)
        return self.known.not_closed(way.option.table, closed)

    def _too_big(self, place: Place) -> list[str]:
        return [name for name, limit in place.limits.items() if self.job.size.get(name, 0) > limit]

    def _nobody(self, option: Option) -> str | None:
        """A skill that is demanded and that nobody has."""
        known = self.known.minutes
        return next((skill for skill, needs in option.skills.items() if needs and skill not in known), None)

    # --- One step after the other ---
    def chain(self) -> list[Contradiction]:
        """The first step that can't start after those before it have finished."""
        ends: list[int] | None = [self.job.begun.end] if self.job.begun else None
        for step in self.job.steps:
            starts = self._possible(step)
            row: Row = np.logical_or.reduce(starts)
            after: Row = row if ends is None else np.logical_and(row, self._after(step, ends))
            if not after.any():
                return [self._no(step, "chain", self._too_late(step, row, ends or [0]))]
            found: set[int] = set()
            for option, mine in zip(step.options, starts, strict=True):
                found.update(self.known.ends[option.table or ""][mine & after].tolist())
            ends = sorted(found)
        return []

    def _possible(self, step: Step) -> Row:
        """(options, slots): the starts that nothing but the other steps forbids."""
        rows = np.zeros((len(step.options), self.slots), dtype=bool)
        for row, option in zip(rows, step.options, strict=True):
            for name in option.places:
                place = self.places[name]
                fits = place.id == self.home or not self._too_big(place)
                if fits and step.pin_place in (None, name):
                    row |= self._not_closed(_Way(option, place))
            row &= self.starts[option.table or ""] & self.known.enough(option)
        rows[:, : max(self.job.earliest, step.earliest, step.gate or 0 if step.coats else 0)] = False
        if step.pin_start is not None:
            rows[:, np.arange(self.slots) != step.pin_start] = False
        return rows

    def _after(self, step: Step, ends: Sequence[int]) -> Row:
        row = np.zeros(self.slots, dtype=bool)
        for end in ends:
            last = self.slots if step.wait_max is None else end + step.wait_max + 1
            row[end + step.wait_min : last] = True
        return row

    def _too_late(self, step: Step, row: Row, ends: Sequence[int]) -> str:
        last, first = int(np.flatnonzero(row)[-1]), min(ends) + step.wait_min
        if first > last:
            return f"what comes before takes until {self._day(first)}, {self._late(last)}"
        return f"no day on which it can start is within its waits ({step.wait_min} to {step.wait_max} slots)"

    # --- Words ---
    def _no(self, step: Step, rule: Rule, says: str) -> Contradiction:
        who = f"{self.job.label or self.job.id}, {step.label or step.id}"
        return Contradiction(job=self.job.id, step=step.id, rule=rule, says=f"{who}: {says}")

    def _late(self, last: int) -> str:
        return f"but {self._day(last)} is the last day on which it can start"

    def _day(self, slot: int) -> str:
        days = self.known.problem.days
        if slot >= self.slots:
            return f"a day after {days[-1].day} {days[-1]:%b %Y}"
        return f"{days[slot].day} {days[slot]:%b %Y}"

    def _place(self, name: str) -> str:
        return self.places[name].label or name

    def _does_not_fit(self, ways: Sequence[_Way], pinned: bool) -> str:
        best = min((way.place for way in ways), key=lambda place: len(self._too_big(place)))
        name = self._too_big(best)[0]
        most = max((way.place for way in ways), key=lambda place: place.limits.get(name, 0))
        takes = f"takes {size_in_words(name, most.limits[name])}"
        size = size_in_words(name, self.job.size[name])
        if pinned:
            return f"is pinned to {self._place(most.id)}, which {takes}, and she has {size}"
        return f"{size}, and of the places for it the biggest, {self._place(most.id)}, {takes}"

    def _too_much(self, option: Option) -> str:
        for what, needs, there in self.known.needs(option):
            if needs > int(there.max()):
                return f"needs {needs} {what}, and there is never more than {int(there.max())}"
        return "there is no span of days with enough of all it needs"

    def _shut(self, step: Step) -> tuple[Rule, str]:
        if step.pin_place is not None:
            return (
                "pins",
                f"is pinned to {self._place(step.pin_place)}, which is closed whenever it could be done",
            )
        return "windows", "every place for it is closed whenever it could be done"


def size_in_words(name: str, value: int) -> str:
    """A size in words: lengths in mm read as metres, loads in kg as tonnes."""
    if name.endswith("_mm"):
        return f"{name[:-3]} {value / 1000:.2f} m"
    if name.endswith("_kg"):
        return f"{name[:-3]} {value / 1000:.2f} t"
    return f"{name} {value}"
