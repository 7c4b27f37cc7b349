"""Finish tables as arrays, read once each, whichever steps use them."""

from dataclasses import dataclass, field

import numpy as np

from scheduling.engine.compiled import Bools, Compiled, Ints


@dataclass(frozen=True, slots=True)
class FinishTable:
    """A finish table on arrays, W slots."""

    finish: Ints  # W: where work from each slot ends, past the axis where none can start
    can: Bools  # W: where work can start
    falls: bool  # a later start may end earlier
    price: Ints  # W [minor units]
    waits: dict[int, tuple[Ints, Ints]] = field(default_factory=dict)  # by least wait: see `over`

    def over(self, wait: int) -> tuple[Ints, Ints]:
        """W and W: where work and least wait end, W at most; and 1 + the last start over by a slot, or 0.

        The second is right where no start that is possible ends earlier than one before it.
        """
        if wait not in self.waits:
            width, ends = len(self.finish), self.finish + wait
            last_start = np.searchsorted(ends, np.arange(width), side="right")
            self.waits[wait] = np.minimum(ends, width), last_start
        return self.waits[wait]


def finish_table(compiled: Compiled, name: str, *, windows: bool = True) -> FinishTable:
    """The arrays of the table of this name; without `windows` where a start is possible is lifted."""
    key = (name, windows)
    if key not in compiled.finish_cache:
        compiled.finish_cache[key] = _read(compiled, name, windows)
    found: FinishTable = compiled.finish_cache[key]
    return found


def _read(compiled: Compiled, name: str, windows: bool) -> FinishTable:
    width, table = compiled.slots, compiled.books.tables[name]
    row = np.array([0 if end is None else end for end in table.finish], dtype=np.int64)
    can = row > 0
    if not windows:
        length = width
        for s in range(width - 1, -1, -1):
            if can[s]:
                length = int(row[s]) - s
            elif s + length <= width:
                row[s], can[s] = s + length, True
    following = np.where(can, np.arange(width), width)
    following = np.minimum.accumulate(following[::-1])[::-1]
    finish = np.append(row, width + 1)[following]
    price = np.array(table.price or (0,) * width, dtype=np.int64)
    return FinishTable(finish, can, bool((np.diff(finish) < 0).any()), price)
