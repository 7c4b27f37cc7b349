"""Finish tables as arrays, read once each, whichever steps use them."""

from dataclasses import dataclass

import numpy as np

from scheduling.engine.compiled import Bools, Compiled, Ints


@dataclass(frozen=True, slots=True)
class FinishTable:
    """A finish table on arrays, W slots."""

    finish: Ints  # W: where work from each slot ends, past the axis where none can start
    can: Bools  # W: where work can start
    falls: bool  # a later start may end earlier
    price: Ints  # W [minor units]


@dataclass(frozen=True, slots=True)
class Ends:
    """Where work by a finish table ends if something follows it, or nothing does; W slots."""

    finish: Ints  # W: W at most
    over: Ints  # W: the same with the least wait
    last_start: Ints  # W: 1 + the last start that is over by each slot, or 0; right if the table never falls
    can: Bools  # W: where a start leaves time for all of that


def finish_table(compiled: Compiled, name: str, *, windows: bool = True) -> FinishTable:
    """The arrays of the table of this name; without `windows` where a start is possible is lifted."""
    return compiled.once(("finish", name, windows), lambda: _read(compiled, name, windows))


def ends_of(compiled: Compiled, name: str, wait: int | None, *, windows: bool = True) -> Ends:
    """Where work by this table ends, and `wait` slots more until what follows; None = nothing follows."""

    def find() -> Ends:
        width, table = compiled.slots, finish_table(compiled, name, windows=windows)
        over = table.finish + (wait or 0)
        can = table.can & (table.finish <= width if wait is None else over < width)
        last_start = np.searchsorted(over, np.arange(width), side="right")
        return Ends(np.minimum(table.finish, width), np.minimum(over, width), last_start, can)

    return compiled.once(("ends", name, wait, windows), find)


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
