"""One job as arrays: a row for each (step, option, place) she may use, ready for the insertion.

All that doesn't depend on the other jobs is worked out here, once: finish tables, prices, windows, pins,
fit, gate. What is the same in all places of an option is kept once, as a mode.
"""

from dataclasses import dataclass, field

import numpy as np

from scheduling.engine.compiled import NEVER, Amounts, Bools, Compiled, Ints, Takes
from scheduling.engine.jobrows import job_rows
from scheduling.engine.needs import Need
from scheduling.engine.problem import Job
from scheduling.engine.reach import least_through
from scheduling.engine.schedule import Rule
from scheduling.engine.steptable import StepTable

HURRY = NEVER // 4
"""What a finish in the last slot costs her who is in a hurry [minor units]."""


@dataclass(slots=True)
class JobTable:
    """A job as arrays; C rows, M modes (an option of a step), W slots."""

    job: Job
    lifted: frozenset[Rule]
    steps: list[StepTable]
    place: Ints  # by row; the begun place's real index for begun rows
    begun: Bools  # by row
    mode: Ints  # by row
    option: list[int]  # by mode: its number in the step
    takes: list[Takes]
    finish: Ints  # M x W; W at most where it can start
    ends: Ints  # M x W: finish and least wait, W at most
    last_start: Ints  # M x W: 1 + the last start that is over by each slot, or 0
    lawful: Bools  # M x W
    start_price: Ints  # M x W: NEVER where it can't start
    view: Ints  # by row: how standing there looks
    view_at: Ints  # by row, as a column: where its view begins in a views x (W + 1) array
    view_place: Ints  # by view; the number of places for the stay that has begun
    view_rate: Ints  # by view, as a column [minor units a calendar day]
    holds: list[Amounts]
    held_views: list[tuple[Amounts, Ints]]  # what is held, and the views that hold it
    needs: list[Need]  # distinct demands of work
    need: Ints  # by row
    need_at: Ints  # by row, as a column: where its need begins in a needs x (W + 1) array
    need_rows: Ints  # distinct lines: rows of the yard ...
    need_amounts: Ints  # ... x W: the least that must be left, less than nothing where it is not open
    need_lines: list[Ints]  # by need: its first line, its second, ...; their number where it has no more
    home: int  # the place of what has begun; -1 if nothing has
    begun_view: int  # its view
    out_view: int  # the view of standing there left out
    late: Ints  # W + 1
    front_views: Ints  # views that others may have to pass in a lane ...
    front_line: Ints  # ... by row: which of them, where it is one ...
    front_places: Ints  # ... where ...
    front_movable: Bools  # ... as a column: whether she can be moved ...
    front_own: Ints  # ... as a column: trips she holds herself
    mover_use: dict[int, Ints]  # by row: own use of the mover in each slot of work
    in_lane: bool
    through: Ints = field(default_factory=lambda: np.zeros((0, 0), dtype=np.int64))  # steps x W: see `reach`
    least: int = 0  # [minor units] of all of that
    guess: dict[bool, int] = field(default_factory=dict)  # [minor units] what she may cost, priced or not

    def lawful_starts(self, number: int, option: int, place: int) -> Bools | None:
        """By slot: whether step `number` may start in that option and place; None if never there."""
        step = self.steps[number]
        for mode, lo, hi in step.modes:
            if self.option[mode] == option and place in self.place[step.lo + lo : step.lo + hi]:
                lawful: Bools = self.lawful[mode]
                return lawful
        return None


def job_table(
    compiled: Compiled, job_id: str, lifted: frozenset[Rule] = frozenset(), hurry: bool = False
) -> JobTable:
    """The arrays of a job, with the rules in `lifted` lifted for her; made once.

    With `hurry` each slot later costs more than anything else, so the cheapest way is the earliest finish.
    """

    def make() -> JobTable:
        table = JobTable(**job_rows(compiled, compiled.jobs[job_id], lifted))
        if hurry:
            table.late += np.arange(compiled.slots + 1) * (HURRY // compiled.slots)
        if table.steps:
            table.through = least_through(compiled, table)
            table.least = int(table.through[0].min(initial=NEVER))
        return table

    return compiled.once((job_id, lifted, hurry), make)
