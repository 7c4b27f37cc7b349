"""What is left of hands and resources in each slot of each drawn winter, as it is given out in a plan's
order."""

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from scheduling.engine.compiled import binding_unions
from scheduling.engine.problem import Option, Problem

Slots = npt.NDArray[np.int32]
Later = Callable[[Slots], tuple[Slots, Slots]]
"""From slots wanted, the starts that a step may have, and its ends."""


class Hours:
    """Rows of what is left: of each resource that work uses, and of each set of skills that can bind."""

    def __init__(self, problem: Problem, runs: int) -> None:
        self.problem, self.width = problem, len(problem.days)
        self.calendars = {table.id: table.open for table in problem.tables}
        by_job = [
            [option for step in job.steps for option in step.options]
            + ([job.begun.option] if job.begun else [])
            for job in problem.jobs
        ]
        options = [option for each in by_job for option in each]
        self.unions = binding_unions(problem, {skill for o in options for skill, m in o.skills.items() if m})
        used = {name for option in options for name, amount in option.uses.items() if amount}
        self.resources = [one for one in problem.resources if one.id in used]
        again = _asked_again(problem, options)
        lines = [_with_more(one.capacity, again.get(one.id, self.width)) for one in self.resources]
        for union in self.unions:
            able = [hand.minutes for hand in problem.hands if union & {*hand.skills}]
            lines.append(tuple(map(sum, zip(*able, strict=True))) if able else (0,) * self.width)
        # Whatever a winter does, each job takes from one slot once: small numbers need no wide ones.
        most = sum(
            max((amount for option in each for _, amount in self.needs(option)), default=0) for each in by_job
        )
        kind = np.int16 if most + max(map(max, lines), default=0) < 2**15 else np.int32
        self.left = [np.repeat(np.array(line, dtype=kind)[:, None], runs, axis=1) for line in lines]
        self.slots = np.arange(self.width, dtype=np.int16)[:, None]
        self.run = np.arange(runs)

    def needs(self, option: Option) -> list[tuple[int, int]]:
        """(row, amount) of each row that work in an option takes from."""
        amounts = [option.uses.get(one.id, 0) for one in self.resources]
        amounts += [sum(option.skills.get(skill, 0) for skill in union) for union in self.unions]
        return [(row, amount) for row, amount in enumerate(amounts) if amount]

    def fit(self, option: Option, start: Slots, end: Slots, later: Later) -> tuple[Slots, Slots]:
        """The first start, from `start` on, at which enough is left in every slot of work until its end."""
        needs = self.needs(option)
        first = int(min(start.min(), self.width))
        if not needs or first == self.width:
            return start, end
        short = np.zeros((self.width - first, len(self.run)), dtype=bool)
        for row, amount in needs:
            short |= self.left[row][first:] < amount
        opened = self._open(option)
        if opened is not None:
            short &= opened[first:]
        if not short.any():
            return start, end
        next_short = np.full((self.width - first + 1, len(self.run)), self.width, dtype=np.int16)
        next_short[:-1] -= short * (self.width - self.slots[first:])
        for slot in range(len(next_short) - 2, -1, -1):
            np.minimum(next_short[slot], next_short[slot + 1], out=next_short[slot])
        while True:
            at = next_short[np.minimum(start, self.width) - first, self.run]
            blocked = at < np.minimum(end, self.width)
            if not blocked.any():
                return start, end
            start, end = later(np.where(blocked, at + 1, start).astype(np.int32))

    def take(self, option: Option, start: Slots, end: Slots) -> None:
        """Take what work needs from `start` to `end`, in its open slots."""
        needs = self.needs(option)
        lo, hi = max(int(start.min()), 0), min(int(end.max()), self.width)
        if not needs or lo >= hi:
            return
        there = self.slots[lo:hi]
        works = (there >= start.astype(np.int16)) & (there < end.astype(np.int16))
        opened = self._open(option)
        if opened is not None:
            works &= opened[lo:hi]
        for row, amount in needs:
            left = self.left[row][lo:hi]
            left -= works * left.dtype.type(amount)

    def _open(self, option: Option) -> npt.NDArray[np.bool_] | None:
        """The slots in which it takes anything, as a column; None = all."""
        name = self.calendars[option.table] if option.table is not None else None
        return None if name is None else np.array(self.problem.calendars[name], dtype=bool)[:, None]


def _asked_again(problem: Problem, options: Sequence[Option]) -> dict[str, int]:
    """Resources of which nothing is left after the last start of work that may be asked for anew, and the
    slot after that."""
    after_last = {
        table.id: max((slot + 1 for slot, end in enumerate(table.finish) if end is not None), default=0)
        for table in problem.tables
        if table.anew is not None
    }
    asked = {
        (name, after_last[option.table])
        for option in options
        if option.table in after_last
        for name in option.uses
    }
    there = {one.id: one.capacity for one in problem.resources}
    return {name: after for name, after in sorted(asked) if not any(there[name][after:])}


def _with_more(capacity: tuple[int, ...], after: int) -> tuple[int, ...]:
    """As much from a slot on as there ever is before it."""
    return (*capacity[:after], *(max(capacity),) * (len(capacity) - after))
