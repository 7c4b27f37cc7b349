"""What a solve was asked, and what of its time each part of it may take."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from scheduling.engine.problem import Problem

FEW_JOBS, FEW_STARTS = 12, 40_000
"""Up to so many jobs, and places of each option x slots, CP-SAT takes the whole yard: 10,000 are proven in
seconds, of 150,000 (the example of 12 boats) a minute proves nothing."""
SEARCH_SHARE = 0.4
"""The share of the time that goes to the search before CP-SAT takes over."""
LEAST_FOR_SECOND = 3.0
"""[s] of search below which a second process is not worth its start."""
PRICE_SHARE, LEAST_TO_PRICE = 0.1, 5.0
"""The share of the time or work for the bound by prices, [s] below which it is left away."""
BRANCH_SHARE, SEARCHED = 0.4, 12.0
"""The share of the time for the bound of a yard of few boats (ROUNDED_JOBS), where plans are parted, too, by
both processes; and [s] of search after which all of it goes there, since parts lead to cheap plans, too (the
example of 12 boats, measured)."""
ROUNDED_JOBS = 15
"""Up to so many jobs prices count whole pieces of work, too: in the example of 12 boats that closes a third
of the gap in twice the time, on that of 40 next to nothing (measured)."""
MANY_ROUNDS = 10**6  # more than anybody waits for


@dataclass(kw_only=True)
class Asked:
    """What a solve was asked; how much of its time has passed, and who may have the rest."""

    problem: Problem
    seconds: float
    workers: int
    seed: int
    work: int | None  # insertions by each worker, whatever the clock says
    proof: bool  # whether a bound better than that of the search is looked for
    should_stop: Callable[[], bool]
    began: float = field(default_factory=time.monotonic)
    first_plan_s: float = 0.0
    stopped: bool = False

    def passed(self) -> float:
        """[s] since it was asked."""
        return time.monotonic() - self.began

    def stop(self) -> bool:
        """Whether somebody asked to stop; who has asked once is not asked again."""
        self.stopped = self.stopped or self.should_stop()
        return self.stopped

    def small(self) -> bool:
        """Whether CP-SAT takes the whole yard."""
        jobs, slots = self.problem.jobs, len(self.problem.days)
        ways = sum(len(option.places) for job in jobs for step in job.steps for option in step.options)
        return len(jobs) <= FEW_JOBS and ways * slots <= FEW_STARTS

    def few(self) -> bool:
        """Whether prices count whole pieces of work, too, and plans are parted."""
        return len(self.problem.jobs) <= ROUNDED_JOBS

    # --- shares [s] -----------------------------------------------------------------------------------------
    def left(self) -> float:
        """[s] left to search and to prove, before what is kept back to finish."""
        return self.seconds - self.to_finish() - self.passed()

    def to_finish(self) -> float:
        """[s] kept back for colours, reasons and witness: on a busy machine more, as the first plan shows."""
        needed = max(0.1 + 0.02 * len(self.problem.jobs), 2 * self.first_plan_s)
        return min(0.15 * self.seconds, needed)

    def to_price(self) -> float:
        """[s] kept for the bound by prices: in the second process if there is one, with few boats in both."""
        if not self.proof or self.small() or self.seconds < LEAST_TO_PRICE:
            return 0.0
        if self.few():
            return max(BRANCH_SHARE * self.seconds, self.seconds - SEARCHED)
        return PRICE_SHARE * self.seconds

    def rounds(self) -> int:
        """Rounds of prices and of parts: none where no bound is looked for, a share of the work if given."""
        if self.small() or not self.proof:
            return 0
        if self.work is not None:
            return int(PRICE_SHARE * self.work / max(len(self.problem.jobs), 1))
        return MANY_ROUNDS if self.to_price() else 0

    def to_search(self, alone: bool) -> float:
        """[s] for the search in this process, with or without another beside it."""
        left = SEARCH_SHARE * (self.seconds - self.passed()) if self.small() else self.left()
        return max(left - (self.to_price() if alone or self.few() else 0.0), 0.0)

    def for_second(self) -> float | None:
        """[s] for a second process, so that it is done when we are; None if it is not worth its start."""
        left = self.seconds - self.passed()
        if self.workers < 2 or (self.small() and self.work is not None):
            return None
        if self.work is None and left < LEAST_FOR_SECOND:
            return None
        if not self.small():
            left = max(left - 1.0 - 2 * self.to_finish(), 1.0)
        return left - (self.to_price() if self.few() else 0.0)  # then both prove
