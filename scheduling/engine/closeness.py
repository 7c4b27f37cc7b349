"""How close a plan is to the best there can be, as far as that is proven."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Closeness:
    """What is known of a plan in which every boat has a place."""

    gap: int  # [minor units] the most that any other plan could save
    gap_pct: float  # [%] the same, of all the plan's money
    avoidable: int | None  # [minor units] what it costs above each boat alone in an empty yard
    unavoidable_pct: float | None  # [%] of that which no plan can save


def closeness(total: int, bound: int | None, alone: int | None, left_out: int) -> Closeness | None:
    """How close a plan of `total` is to the best one, by a `bound` that none can beat.

    `alone` is the sum of what each boat would cost alone, `left_out` the number of boats without a place;
    money in [minor units]. None where nothing may be claimed: there is no bound (or one that can't be of this
    plan's yard), or the yard is overfull, so that the price of leaving boats out says more than the plan.
    """
    if bound is None or bound > total or left_out:
        return None
    gap = total - bound
    gap_pct = 100 * gap / total if total else 0.0
    if alone is None or alone > bound:
        return Closeness(gap=gap, gap_pct=gap_pct, avoidable=None, unavoidable_pct=None)
    avoidable = total - alone
    unavoidable_pct = 100 * (bound - alone) / avoidable if avoidable else 100.0
    return Closeness(gap=gap, gap_pct=gap_pct, avoidable=avoidable, unavoidable_pct=unavoidable_pct)
