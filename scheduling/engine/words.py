"""What stands in the way of a path that keeps every rule but one, in words of the yard."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from scheduling.engine.compiled import Bools, Takes
from scheduling.engine.contradictions import size_in_words
from scheduling.engine.cost import Stay, option_of, stays_of
from scheduling.engine.insertion import State
from scheduling.engine.jobtable import job_table
from scheduling.engine.problem import Job, Step
from scheduling.engine.sayings import day_of, job_name, place_name, short, step_name, taken, working_days
from scheduling.engine.schedule import Rule, StepTime


class Words:
    """Says what is in the way of a path that keeps every rule but one."""

    def __init__(self, state: State, job: Job, times: Sequence[StepTime]) -> None:
        self.state, self.job, self.times = state, job, times
        self.compiled = state.compiled
        self.days = self.compiled.problem.days

    def why(self, rule: Rule) -> tuple[str, str]:
        """One sentence, and the step it speaks of ("" = none in particular)."""
        saying = {
            "chain": self._chain,
            "stand": self._stand,
            "fit": self._fit,
            "lane": self._lane,
            "air": self._air,
            "hands": self._hands,
            "windows": self._windows,
            "pins": self._pins,
            "gate": self._gate,
        }
        return saying[rule]() or (PLAIN[rule], "")

    # --- words -------------------------------------------------------------------------------------------
    def _day(self, slot: int) -> str:
        return day_of(self.days, slot)

    def _place(self, place: int) -> str:
        return place_name(self.compiled.problem.places[place])

    def _name(self, job_id: str) -> str:
        return job_name(self.compiled.jobs[job_id])

    def _step(self, time: StepTime) -> Step | None:
        return next((s for s in self.job.steps if s.id == time.step), None)

    def _steps(self) -> list[tuple[StepTime, Step, str]]:
        found = []
        for time in self.times:
            step = self._step(time)
            if step is not None:
                found.append((time, step, step_name(step)))
        return found

    def _others(self) -> list[tuple[str, Stay]]:
        found = []
        for name, times in self.state.times.items():
            found += [(name, stay) for stay in stays_of(name, times)]
        for job in self.compiled.problem.jobs:
            if job.begun is not None and job.id not in self.state.times and job.id != self.job.id:
                end = self.compiled.slots if job.id in self.state.out else job.begun.end
                found.append((job.id, Stay(job.id, job.begun.place, -1, end, ())))
        return found

    # --- one rule each --------------------------------------------------------------------------------------
    def _chain(self) -> tuple[str, str] | None:
        before: StepTime | None = None
        for time, step, label in self._steps():
            end = before.end if before else self.job.begun.end if self.job.begun else 0
            if time.start < end + step.wait_min:
                return f"{label} waits {working_days(step.wait_min)} after what comes before it", step.id
            if step.wait_max is not None and time.start > end + step.wait_max:
                return (
                    f"{label} waits {working_days(step.wait_max)} at most after what comes before it",
                    step.id,
                )
            before = time
        return None

    def _stand(self) -> tuple[str, str] | None:
        compiled = self.compiled
        for stay in stays_of(self.job.id, self.times):
            place = compiled.place_index[stay.place]
            start = max(stay.start, 0)
            full = self.state.here[place, start : stay.end] >= compiled.room[place]
            if not full.any():
                continue
            x = start + int(np.flatnonzero(full)[-1])
            there = [
                (s.end, name) for name, s in self._others() if s.place == stay.place and s.start <= x < s.end
            ]
            if not there:
                continue
            end, name = min(there)
            named = compiled.problem.places[place]
            return taken(self.days, named, end, self._name(name)), stay.pieces[0].step
        for x, come_from, go_to in self._moves():
            if self.state.arrows[x] and self.state.swap_change(x, self.job.id, come_from, go_to) != 0:
                return f"no place is free to change round on {self._day(x)}", ""
        return None

    def _moves(self) -> list[tuple[int, int, int]]:
        stays = stays_of(self.job.id, self.times)
        index = self.compiled.place_index
        return [(b.start, index[a.place], index[b.place]) for a, b in pairwise(stays)]

    def _fit(self) -> tuple[str, str] | None:
        for time, step, label in self._steps():
            place = self.compiled.problem.places[self.compiled.place_index[time.place]]
            for name, limit in place.limits.items():
                size = self.job.size.get(name, 0)
                if size > limit:
                    there = self._place(self.compiled.place_index[place.id])
                    hers, most = size_in_words(name, size), size_in_words(name, limit)
                    return f"no free place for {label} takes her {hers}; {there} takes {most}", step.id
        return None

    def _lane(self) -> tuple[str, str] | None:
        compiled = self.compiled
        for stay in stays_of(self.job.id, self.times):
            place = compiled.place_index[stay.place]
            for x in (stay.start, stay.end):
                if not 0 <= x < compiled.slots:
                    continue
                for name, other in self._others():
                    front = compiled.place_index[other.place]
                    if front in compiled.shallower[place] and other.start < x < other.end:
                        return (
                            f"{self._name(name)} in {self._place(front)} is in the way on {self._day(x)}",
                            stay.pieces[0].step,
                        )
            for x in range(max(stay.start + 1, 0), min(stay.end, compiled.slots)):
                if self.state.events[place, x]:
                    who = self._passes(place, x)
                    return f"in {self._place(place)} she would be in the way of {who} on {self._day(x)}", ""
        return None

    def _passes(self, place: int, x: int) -> str:
        for name, stay in self._others():
            behind = self.compiled.place_index[stay.place] in self.compiled.deeper[place]
            if behind and x in (stay.start, stay.end):
                return self._name(name)
        return "others"

    def _air(self) -> tuple[str, str] | None:
        for time, step, label in self._steps():
            takes = self._takes(time)
            span = slice(time.start, time.end)
            for row in (*takes.feels, *takes.harms):
                short = self.state.left[row, span] < 0
                if short.any():
                    kind = self.compiled.rows[row][1][1]
                    until = self._clear_from(self.state.left[row] >= 0, time.start + int(np.argmax(short)))
                    if row in takes.feels:
                        return f"{label} waits for the {kind} of others until {self._day(until)}", step.id
                    return f"the {kind} of {label} would spoil others' work until {self._day(until)}", step.id
        return None

    def _takes(self, time: StepTime) -> Takes:
        return self.compiled.takes(option_of(self.job, time), self.compiled.place_index[time.place])

    @staticmethod
    def _clear_from(fine: Bools, x: int) -> int:
        later = np.flatnonzero(fine[x:])
        return x + int(later[0]) if later.size else len(fine)

    def _hands(self) -> tuple[str, str] | None:
        for time, step, label in self._steps():
            takes = self._takes(time)
            for amounts, opened, end in (
                (takes.work, takes.open, time.end),
                (takes.hold, None, time.leaves),
            ):
                for row, amount in amounts:
                    fine = self.state.left[row] >= amount
                    busy = ~fine[time.start : end] if opened is None else (~fine & opened)[time.start : end]
                    if busy.any():
                        until = self._clear_from(fine, time.start + int(np.flatnonzero(busy)[-1]))
                        return self._short(row, label, until), step.id
        mover = self.compiled.mover
        if mover is not None:
            for x, _, _ in self._moves():
                if self.state.left[mover, x] < 1:
                    return f"no trip is left on {self._day(x)}", ""
        return None

    def _short(self, row: int, label: str, until: int) -> str:
        kind, what = self.compiled.rows[row]
        if kind == "skills":
            return short(self.compiled.problem, "hand", " or ".join(sorted(what)), label, until)
        return short(self.compiled.problem, "resource", what, label, until)

    def _windows(self) -> tuple[str, str] | None:
        compiled = self.compiled
        for time, step, label in self._steps():
            can = job_table(compiled, self.job.id)
            allowed = can.lawful_starts(
                self.job.steps.index(step), time.option, compiled.place_index[time.place]
            )
            if time.start < self.job.earliest:
                return f"she is not there before {self._day(self.job.earliest)}", step.id
            if time.start < step.earliest:
                why = f": {step.earliest_why}" if step.earliest_why else ""
                return f"{label} can't start before {self._day(step.earliest)}{why}", step.id
            if allowed is not None and not allowed[time.start]:
                until = self._clear_from(allowed, time.start)
                if until < compiled.slots:
                    return f"{label} has no window before {self._day(until)}", step.id
                return f"{label} has no window left this season", step.id
            place = compiled.place_index[time.place]
            shut = compiled.closed[place, time.start : time.leaves]
            if shut.any():
                until = self._clear_from(~compiled.closed[place], time.start + int(np.flatnonzero(shut)[-1]))
                return f"{self._place(place)} is closed until {self._day(until)}", step.id
        return None

    def _pins(self) -> tuple[str, str] | None:
        for time, step, label in self._steps():
            if step.pin_place not in (None, time.place):
                pinned = self._place(self.compiled.place_index[step.pin_place or ""])
                return f"{label} is pinned to {pinned}", step.id
            if step.pin_start not in (None, time.start):
                return f"{label} is pinned to {self._day(step.pin_start or 0)}", step.id
        return None

    def _gate(self) -> tuple[str, str] | None:
        for time, step, label in self._steps():
            if step.coats and step.gate is not None and time.start < step.gate:
                return f"{label} waits for signed dry, forecast for {self._day(step.gate)}", step.id
        return None


PLAIN: dict[Rule, str] = {
    "chain": "the waits between her stages take the time",
    "stand": "no place is free for her earlier",
    "fit": "no free place takes her",
    "lane": "boats in a lane are in the way",
    "air": "work beside her would spoil hers, or hers theirs",
    "hands": "too few hands, kits or trips",
    "windows": "there is no window for her work earlier",
    "pins": "she is pinned",
    "gate": "she waits for signed dry",
}
"""What to say where the path shows no single cause."""
