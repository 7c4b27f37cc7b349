"""The cheapest way to fit one job into a schedule, all other jobs fixed: exact under all nine rules.

A shortest path over (step, row, slot), where a row is an option in a place, on arrays of labels. Standing
on is one running minimum: each label carries the number of its unbroken run, so a minimum never crosses a
break. What couples two ends of one trip (swap cycles, shunts at both ends) is left out at first, tried on
the path that comes out, and charged there before trying again: each round is a lower bound, so the first
path without a surprise is the cheapest.
"""

from dataclasses import dataclass

from scheduling.engine.compiled import NEVER, Compiled, compile_problem, put_air
from scheduling.engine.jobtable import job_table
from scheduling.engine.labels import Labels
from scheduling.engine.path import only_begun, trace
from scheduling.engine.schedule import Rule, StepTime
from scheduling.engine.state import State
from scheduling.engine.surprises import charge_merging_rings, find_surprises
from scheduling.engine.views import Charges, Prices, look

__all__ = ["Compiled", "Fit", "Prices", "State", "compile_problem", "insert", "stand_out"]

NO_RULES: frozenset[Rule] = frozenset()


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
        while True:
            fit = _fit(Labels(state, table, charges, prices), limit)
            if fit is None or not find_surprises(state, table, fit.times, charges, prices):
                return fit
    finally:
        if begun:
            put_air(state.compiled, state.left, table.job, 1)


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
    if views.run_end[number, -1]:
        return None
    return int(views.key_end[number, -1])
