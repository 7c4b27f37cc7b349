"""How much work a search may still do, by the clock or by its insertions."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field


@dataclass(slots=True)
class Budget:
    """How much work is left: insertions if `work` is given, else `seconds`."""

    seconds: float
    work: int | None
    should_stop: Callable[[], bool]
    began: float = field(default_factory=time.monotonic)
    spent: int = 0

    def over(self) -> bool:
        """Whether the work is done, the time is up or somebody asked to stop."""
        if self.work is not None:
            return self.spent >= self.work or self.should_stop()
        return time.monotonic() - self.began >= self.seconds or self.should_stop()

    def share(self) -> float:
        """The share of the work, or of the time, that is done."""
        if self.work is not None:
            return min(self.spent / max(self.work, 1), 1.0)
        return min((time.monotonic() - self.began) / max(self.seconds, 1e-9), 1.0)

    def tries(self) -> float:
        """How many insertions there will have been in all, as fast as they have gone so far."""
        if self.work is not None:
            return self.work
        return self.spent * self.seconds / max(time.monotonic() - self.began, 1e-9)

    def part(self, parts: int) -> "Budget":
        """One of so many equal parts of what is left, from now on."""
        if self.work is not None:
            return Budget(0.0, max((self.work - self.spent) // parts, 1), self.should_stop)
        left = self.seconds - (time.monotonic() - self.began)
        return Budget(max(left, 0.0) / parts, None, self.should_stop)
