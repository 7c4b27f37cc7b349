"""What work asks of the slots it is done in: distinct lines of (row of the yard, least left)."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from scheduling.engine.compiled import WIDE_OPEN, Amounts, Bools, Takes
from scheduling.engine.schedule import Rule


@dataclass(frozen=True, slots=True)
class Need:
    """What work asks of each slot: (row, least left) in its open slots, rows that must be clean in all."""

    amounts: Amounts
    open: Bools | None
    clean: tuple[int, ...]
    work: Amounts  # what the work itself takes in its open slots


def need_of(take: Takes, lifted: frozenset[Rule]) -> tuple[object, Need]:
    """What work that takes so much asks, with the rules in `lifted` lifted; what is held counts, too.

    And a mark that is the same for those that ask and take the same in each slot.
    """
    need: dict[int, int] = {}
    if "hands" not in lifted:
        held = dict(take.hold)
        for row, amount in take.work:
            need[row] = need.get(row, 0) + amount
        need = {row: amount + held.get(row, 0) for row, amount in need.items()}
    clean = () if "air" in lifted else (*take.feels, *take.harms)
    wants = Need(tuple(sorted(need.items())), take.open, clean, take.work)
    opened = None if wants.open is None else wants.open.tobytes()
    return (wants.amounts, opened, wants.clean, wants.work), wants


def lines_of(needs: list[Need], width: int) -> dict[str, Any]:
    """The distinct lines of all needs, as the fields of a JobTable."""
    rows: list[int] = []
    amounts: list[Any] = []
    known: dict[object, int] = {}
    by_need: list[list[int]] = []
    always = np.ones(width, dtype=bool)
    for need in needs:
        lines = [(r, a, always if need.open is None else need.open) for r, a in need.amounts]
        lines += [(r, 0, always) for r in need.clean]
        mine = []
        for row, amount, open_ in lines:
            key = (row, amount, open_.tobytes())
            if key not in known:
                known[key] = len(rows)
                rows.append(row)
                amounts.append(np.where(open_, amount, -WIDE_OPEN))
            mine.append(known[key])
        by_need.append(mine)
    most = max(map(len, by_need), default=0)
    return {
        "need_rows": np.array(rows, dtype=np.int64),
        "need_amounts": np.array(amounts, dtype=np.int64).reshape(-1, width),
        "need_lines": [
            np.array([mine[n] if n < len(mine) else len(rows) for mine in by_need], dtype=np.int64)
            for n in range(max(most, 1))
        ],
    }
