"""The rows of a job's table, step by step: where each option can be, and what is alike in all places."""

from typing import Any

import numpy as np

from scheduling.engine import cost
from scheduling.engine.compiled import NEVER, Amounts, Bools, Compiled, Ints, Takes
from scheduling.engine.finishtable import ends_of, finish_table
from scheduling.engine.needs import Need, lines_of, need_of
from scheduling.engine.problem import Job, Option, Step
from scheduling.engine.schedule import Rule
from scheduling.engine.steptable import StepTable, step_table


def _lawful(job: Job, step: Step, can: Bools, lifted: frozenset[Rule]) -> Bools:
    lawful = can.copy()
    if "windows" not in lifted:
        lawful[: max(job.earliest, step.earliest)] = False
    if step.coats and step.gate is not None and "gate" not in lifted:
        lawful[: step.gate] = False
    if step.pin_start is not None and "pins" not in lifted:
        keep = lawful[step.pin_start] if step.pin_start < len(lawful) else False
        lawful[:] = False
        if keep:
            lawful[step.pin_start] = True
    return lawful


def job_rows(compiled: Compiled, job: Job, lifted: frozenset[Rule]) -> dict[str, Any]:
    """The fields of the JobTable of a job with the rules in `lifted` lifted for her."""
    return _Rows(compiled, job, lifted).fields()


class _Rows:
    """The rows of a job as they are found, step by step; then its table."""

    def __init__(self, compiled: Compiled, job: Job, lifted: frozenset[Rule]) -> None:
        self.compiled, self.job, self.lifted = compiled, job, lifted
        self.nowhere = len(compiled.room)
        self.home = compiled.place_index[job.begun.place] if job.begun is not None else -1
        self.here: list[Ints] = []  # by mode: the place of each row
        self.need: list[Ints] = []  # by mode: the need of each row
        self.looks: list[tuple[int, int, int]] = []  # by mode: what standing there looks like, but the place
        self.option: list[int] = []
        self.lines: dict[str, list[Ints]] = {
            name: [] for name in ("finish", "ends", "last_start", "lawful", "start_price")
        }
        self.holds: dict[Amounts, int] = {(): 0}
        self.needs: dict[object, int] = {}
        self.need_list: list[Need] = []
        self.rigs: dict[str | None, int] = {None: 0}
        self.takes: dict[int, tuple[Takes, int]] = {}  # by identity: takes and the number of its need
        self.mover_use: dict[int, Ints] = {}
        self.rows = 0

    def fields(self) -> dict[str, Any]:
        """Step by step, and what is the same for all of them."""
        steps: list[StepTable] = []
        begun = self.job.begun
        begun_rig = self._rig(begun.option) if begun is not None else 0
        for number, step in enumerate(self.job.steps):
            steps.append(self._step(number, step, steps[-1] if steps else None, begun_rig))
        return self._assemble(steps)

    def _rig(self, option: Option) -> int:
        return self.rigs.setdefault(option.rig, len(self.rigs))

    def _step(self, number: int, step: Step, before: StepTable | None, begun_rig: int) -> StepTable:
        lo, first = self.rows, len(self.here)
        following = self.job.steps[number + 1] if number + 1 < len(self.job.steps) else None
        waits: tuple[int, int | None] = (0, None)
        if following is not None and "chain" not in self.lifted:
            waits = following.wait_min, following.wait_max
        modes, rigs, prices, falls = [], [], [], False
        for o, option in enumerate(step.options):
            for here in self._places(step, option):
                self._mode(number, step, option, here, waits[0])
                self.option.append(o)
                modes.append((len(self.here) - 1, self.rows - lo - len(here), self.rows - lo))
                rigs += [self._rig(option)] * len(here)
                prices += [option.rig_price if option.rig is not None else 0] * len(here)
                windows = "windows" not in self.lifted
                falls |= finish_table(self.compiled, option.table or "", windows=windows).falls
        here, told = _joined(self.here[first:]), (self.home, begun_rig, lo, *waits, falls)
        return self.compiled.once(
            ("step", id(before), here.tobytes(), *told, *modes, *rigs, *prices),
            lambda: step_table(
                self.compiled,
                self.home,
                before,
                begun_rig,
                lo=lo,
                here=here,
                modes=modes,
                rig=np.array(rigs, dtype=np.int64),
                rig_price=np.array(prices, dtype=np.int64),
                waits=waits,
                falls=falls,
            ),
        )

    def _places(self, step: Step, option: Option) -> list[Ints]:
        """Where an option can be: all places alike against the posted plan together."""
        compiled = self.compiled
        here = compiled.where(option.places)
        begun = self.home in here.tolist()
        if step.pin_place is not None and "pins" not in self.lifted:
            pinned = compiled.place_index[step.pin_place]
            here, begun = here[here == pinned], begun and pinned == self.home
        if "fit" not in self.lifted:
            here = here[compiled.fit(self.job)[here]]
        if begun:
            here = np.append(here, self.nowhere)
        if step.posted is None:
            return [here] if here.size else []
        there = compiled.place_index.get(step.posted.place, -1)
        kept = (here == there) | ((here == self.nowhere) & (there == self.home))
        return [part for part in (here[kept], here[~kept]) if part.size]

    def _mode(self, number: int, step: Step, option: Option, here: Ints, wait_min: int) -> None:
        compiled, job = self.compiled, self.job
        name, windows = option.table or "", "windows" not in self.lifted
        wait = wait_min if number + 1 < len(job.steps) else None
        ends = ends_of(compiled, name, wait, windows=windows)
        lawful = _lawful(job, step, ends.can, self.lifted)
        real = here
        if here[-1] == self.nowhere:
            real = np.append(here[:-1], self.home)
        price = finish_table(compiled, name, windows=windows).price + option.price
        if step.posted is not None:
            place = compiled.problem.places[int(real[0])].id
            price = price + np.array(cost.change_row(compiled.problem, job, number, place))
        price[~lawful] = NEVER
        lines: tuple[Any, ...] = ends.finish, ends.over, ends.last_start, lawful, price
        for line, found in zip(self.lines.values(), lines, strict=True):
            line.append(found)
        self.here.append(here)
        airs = compiled.air[real]
        need = np.empty(len(here), dtype=np.int64)
        for air in set(airs.tolist()):
            which = airs == air
            take = compiled.takes(option, int(real[which.argmax()]))
            need[which] = self._need(take)
            self._uses_mover(take, which)
        self.need.append(need)
        hold = () if "hands" in self.lifted else take.hold
        self.looks.append(
            (int(option.movable), self.holds.setdefault(hold, len(self.holds)), option.stand_price)
        )
        self.rows += len(here)

    def _need(self, take: Takes) -> int:
        if id(take) not in self.takes:
            mark, wants = self.compiled.once(
                ("need", id(take), self.lifted), lambda: need_of(take, self.lifted)
            )
            if mark not in self.needs:
                self.needs[mark] = len(self.need_list)
                self.need_list.append(wants)
            self.takes[id(take)] = take, self.needs[mark]
        return self.takes[id(take)][1]

    def _uses_mover(self, take: Takes, which: Bools) -> None:
        mover = self.compiled.mover
        if mover is None or "hands" in self.lifted:
            return
        work, hold = dict(take.work).get(mover, 0), dict(take.hold).get(mover, 0)
        if work or hold:
            opened = np.ones(self.compiled.slots, dtype=np.int64) if take.open is None else take.open
            rows = (np.flatnonzero(which) + self.rows).tolist()
            self.mover_use |= dict.fromkeys(rows, hold + work * opened.astype(np.int64))

    def _assemble(self, steps: list[StepTable]) -> dict[str, Any]:
        compiled, job, width, count = self.compiled, self.job, self.compiled.slots, len(self.here)
        here, mode = _joined(self.here), np.repeat(np.arange(count), [len(h) for h in self.here])
        real = np.where(here == self.nowhere, self.home, here)
        looks = np.array(self.looks, dtype=np.int64).reshape(-1, 3)[mode]
        keys = [here, looks[:, 0], looks[:, 1], looks[:, 2] + compiled.price[real]]
        if job.begun is not None:  # the view of what has begun, and of standing there left out
            option = job.begun.option
            held = compiled.takes(option, self.home).hold if "hands" not in self.lifted else ()
            hold = self.holds.setdefault(held, len(self.holds))
            rate = option.stand_price + int(compiled.price[self.home])
            more = [(self.nowhere, option.movable, hold, rate), (self.nowhere, option.movable, 0, 0)]
            keys = [np.append(key, [one[n] for one in more]) for n, key in enumerate(keys)]
        views, view = _distinct(keys)
        begun_view, out_view = (int(view[-2]), int(view[-1])) if job.begun is not None else (-1, -1)
        view = view[: len(here)]
        need = _joined(self.need)
        holds = list(self.holds)
        lines = {
            name: np.array(found, dtype=bool if name == "lawful" else np.int64).reshape(count, width)
            for name, found in self.lines.items()
        }
        home_in_lane = job.begun is not None and (compiled.in_front | compiled.behind)[self.home]
        return dict(
            job=job,
            lifted=self.lifted,
            steps=steps,
            place=real,
            begun=here == self.nowhere,
            mode=mode,
            option=self.option,
            takes=[take for take, _ in self.takes.values()],
            **lines,
            view=view,
            view_at=view[:, None] * (width + 1),
            view_place=views[0],
            view_rate=views[3][:, None],
            holds=holds,
            held_views=[
                (amounts, np.flatnonzero(views[2] == number))
                for number, amounts in enumerate(holds)
                if amounts
            ],
            needs=self.need_list,
            need=need,
            need_at=need[:, None] * (width + 1),
            **compiled.once(("lines", *self.needs), lambda: lines_of(self.need_list, width)),
            home=self.home,
            begun_view=begun_view,
            out_view=out_view,
            late=np.array(cost.late_row(compiled.problem, job), dtype=np.int64),
            **self._front(view, views, holds),
            mover_use=self.mover_use,
            in_lane=bool((compiled.in_front | compiled.behind)[real].any() or home_in_lane),
        )

    def _front(self, view: Ints, views: list[Ints], holds: list[Amounts]) -> dict[str, Any]:
        compiled = self.compiled
        real = np.where(views[0] == self.nowhere, self.home, views[0])
        front = np.flatnonzero(compiled.in_front[real])
        mover = -1 if compiled.mover is None else compiled.mover
        own = np.array([dict(amounts).get(mover, 0) for amounts in holds], dtype=np.int64)
        return {
            "front_views": front,
            "front_line": np.searchsorted(front, view),
            "front_places": real[front],
            "front_movable": views[1][front].astype(bool)[:, None],
            "front_own": own[views[2][front]][:, None],
        }


def _joined(parts: list[Ints]) -> Ints:
    return np.concatenate(parts) if parts else np.zeros(0, dtype=np.int64)


def _distinct(keys: list[Ints]) -> tuple[list[Ints], Ints]:
    """The distinct columns of `keys`, row by row of them, and for each column which of these it is."""
    order = np.lexsort(keys[::-1])
    ordered = [key[order] for key in keys]
    new = np.zeros(len(order), dtype=bool)
    new[:1] = True
    for key in ordered:
        new[1:] |= key[1:] != key[:-1]
    number = np.empty(len(order), dtype=np.int64)
    number[order] = np.cumsum(new) - 1
    return [key[new] for key in ordered], number
