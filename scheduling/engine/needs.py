"""What work asks of the slots it is done in: lines of (need, row of the yard), looked at all at once."""

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


def need_of(take: Takes, lifted: frozenset[Rule]) -> Need:
    """What work that takes so much asks, with the rules in `lifted` lifted; what is held counts, too."""
    need: dict[int, int] = {}
    if "hands" not in lifted:
        held = dict(take.hold)
        for row, amount in take.work:
            need[row] = need.get(row, 0) + amount
        need = {row: amount + held.get(row, 0) for row, amount in need.items()}
    clean = () if "air" in lifted else (*take.feels, *take.harms)
    return Need(tuple(sorted(need.items())), take.open, clean, take.work)


def need_lines(needs: list[Need], width: int) -> dict[str, Any]:
    """The lines of all needs, as the fields of a JobTable."""
    rows: list[int] = []
    amounts: list[Any] = []
    first, some = [], []
    always = np.ones(width, dtype=bool)
    for number, need in enumerate(needs):
        lines = [(r, a, always if need.open is None else need.open) for r, a in need.amounts]
        lines += [(r, 0, always) for r in need.clean]
        if lines:
            first.append(len(rows))
            some.append(number)
        for row, amount, open_ in lines:
            rows.append(row)
            amounts.append(np.where(open_, amount, -WIDE_OPEN))
    return {
        "need_rows": np.array(rows, dtype=np.int64),
        "need_amounts": np.array(amounts, dtype=np.int64).reshape(-1, width),
        "need_first": np.array(first, dtype=np.int64),
        "need_some": np.array(some, dtype=np.int64),
    }
