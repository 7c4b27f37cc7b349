"""The cheapest way to fit one job into a schedule, all other jobs fixed: exact under all nine rules.

A shortest path over (step, row, slot), where a row is an option in a place, on arrays of labels. Standing
on is one running minimum: each label carries the number of its unbroken run, so a minimum never crosses a
break. What couples two ends of one trip (swap cycles, shunts at both ends) is left out at first, tried on
the path that comes out, and charged there before trying again: each round is a lower bound, so the first
path without a surprise is the cheapest.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from scheduling.engine.compiled import NEVER, RUN, Compiled, compile_problem, put_air
from scheduling.engine.jobtable import JobTable, job_table
from scheduling.engine.labels import Labels
from scheduling.engine.path import only_begun, trace
from scheduling.engine.reach import window_below
from scheduling.engine.schedule import Rule, StepTime
from scheduling.engine.state import State
from scheduling.engine.surprises import charge_merging_rings, find_surprises
from scheduling.engine.views import Charges, Prices, look

__all__ = ["Compiled", "Fit", "Prices", "State", "compile_problem", "insert", "stand_out"]

NO_RULES: frozenset[Rule] = frozenset()
MARGIN = 8
"""How many times as much above her least a job may cost in the next try, if there is no way as guessed."""


@dataclass(frozen=True, slots=True)
class Fit:
    """What the total cost rises by with the job placed so [minor units], and her times."""

    cost: int
    times: tuple[StepTime, ...]


def insert(
    state: State,
    job_id: str,
    *,
    lifted: frozenset[Rule] = NO_RULES,
    prices: Prices | None = None,
    hurry: bool = False,
    limit: int = NEVER,
) -> Fit | None:
    """The cheapest way to place a job that is not in `state`, or None if there is none.

    The cost counts what the plan pays more because of her (shunts and swaps of others, too), against her
    not being there, without her `drop_price`; with `prices`, what she pays at them as well. With `hurry`
    the earliest finish comes before all cost (and `cost` is of no use). Ways that cost `limit` or more are
    as good as none.
    """
    table = job_table(state.compiled, job_id, lifted, hurry)
    begun = table.job.begun is not None
    if begun:
        put_air(state.compiled, state.left, table.job, -1)  # her own dirt doesn't spoil her own work
    try:
        charges = Charges()
        charge_merging_rings(state, table, charges, prices)
        for cap in _caps(table, min(limit, NEVER), prices is not None):
            fit = _cheapest(state, table, prices, charges, cap)
            if fit is not None:
                above = 2 * (fit.cost - table.least) + table.least // 16
                table.guess[prices is not None] = fit.cost + above
                return fit
        return None
    finally:
        if begun:
            put_air(state.compiled, state.left, table.job, 1)


def _caps(table: JobTable, limit: int, priced: bool) -> Iterator[int]:
    """Limits to try in turn, the last one `limit`: the closer one is, the fewer slots need be looked at."""
    above = table.guess.get(priced, table.least + table.least // 4) - table.least + 1
    for _ in range(2):
        if table.least + above >= limit:
            break
        yield table.least + above
        above *= MARGIN
    yield limit


def _cheapest(state: State, table: JobTable, prices: Prices | None, charges: Charges, cap: int) -> Fit | None:
    """The cheapest way to place a job that costs less than `cap`."""
    merging = int(np.maximum(state.rings - 1, 0).sum())  # so many swaps she may save others
    window = window_below(
        table, NEVER if merging and prices else cap + merging * state.compiled.problem.move_price
    )
    if window is None:
        return None
    apart = False
    while True:
        labels = Labels(state, table, charges, prices, window, apart)
        fit = _fit(labels, cap)
        if fit is None:
            return None
        if labels.came_back and not apart:
            apart = True
        elif not find_surprises(state, table, fit.times, charges, prices):
            return fit


def _fit(labels: Labels, limit: int) -> Fit | None:
    """The path that these labels lead to, if it costs less than `limit`."""
    if not labels.table.steps:
        only = only_begun(labels)
        return Fit(*only) if only is not None and only[0] < limit else None
    end = labels.cheapest()
    if end is None or end[0] >= limit:
        return None
    cost, row, start = end
    return Fit(cost, trace(labels, row, start))


def stand_out(state: State, job_id: str) -> int | None:
    """What the plan pays more if this job, not in `state`, is left out: shunts of others where she stands.

    None if she has begun and can't stand in her place until the end of the axis.
    """
    table = job_table(state.compiled, job_id)
    if table.job.begun is None:
        return 0
    views, number = look(state, table, Charges(), None), table.out_view
    cost = int(views.key_end[number, -1] - views.key_end[number, 0])
    return cost if cost < RUN else None
