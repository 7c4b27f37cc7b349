"""The rows of one step and how they hang on those of the step before: standing on, rigs that are up."""

from dataclasses import dataclass

import numpy as np

from scheduling.engine.compiled import Compiled, Ints
from scheduling.engine.problem import Job

BEGUN = -1
"""The place of a row that goes on in the stay that has begun."""


@dataclass(slots=True)
class StepTable:
    """The rows of one step: lo to hi - 1 of the job's."""

    lo: int
    hi: int
    wait_min: int  # until the step after this one
    wait_max: int | None
    plain: bool  # waits without end and no table falls: the fast flood is exact
    members: list[Ints]  # by group of rows in one place, and one of none: its first row, its second, ...
    group_place: Ints  # the real place of each group
    same_group: (
        Ints  # by row: group of the same place in the step before; the number of groups if there is none
    )
    rig_price: Ints  # by row, as a column
    rig_prices: list[int]  # the same
    rig_up: list[Ints]  # by row: a row of the step before that has its rig up already; their number if none
    goes_on: list[list[int]]  # by row: rows of the step before in the same place
    rigs: list[str | None]  # by row
    begun_rows: Ints  # rows that go on in the stay that has begun
    deep: bool  # a place behind others in a lane is among the rows
    come: Ints  # by row: its real place; the number of places where nobody comes by a trip
    hard: bool  # coming differs from row to row
    from_lane: bool  # the step before has places behind others in a lane
    rigged: bool  # a rig may have to be paid for
    front_rows: Ints  # rows in places that others may have to pass
    in_front: frozenset[int]  # the same
    move_group: Ints  # by row, as a column: the last group of its real place in the step before, or -1
    merge: tuple[int, int] | None  # two groups of the step before that are one real place


def step_table(
    compiled: Compiled,
    job: Job,
    before: list[StepTable],
    rows: list[tuple[int, int]],
    places: list[int],
    lo: int,
    wait_min: int,
    wait_max: int | None,
    plain: bool,
) -> StepTable:
    """The table of the rows from `lo` on, of the step after `before`."""
    hi = len(rows)
    here = places[lo:hi]
    groups = [i for i in range(hi - lo) if i == 0 or here[i] != here[i - 1]]
    begun = compiled.place_index[job.begun.place] if job.begun else BEGUN
    options = [job.steps[n].options[o] for n, o in rows[lo:hi]]
    if before:
        previous = before[-1]
        old_places = places[previous.lo : previous.hi]
        old_options = [job.steps[n].options[o] for n, o in rows[previous.lo : previous.hi]]
        old_groups = list(dict.fromkeys(old_places))
    else:
        old_places = [BEGUN] if job.begun else []
        old_options = [job.begun.option] if job.begun else []
        old_groups = old_places
    goes_on = [[j for j, old in enumerate(old_places) if old == place] for place in here]
    up = [
        [j for j in found if option.rig is not None and old_options[j].rig == option.rig]
        for found, option in zip(goes_on, options, strict=True)
    ]
    rig_up = []
    for n in range(max(map(len, up), default=0)):
        rig_up.append(
            np.array([found[n] if len(found) > n else len(old_places) for found in up], dtype=np.int64)
        )
    nowhere = len(compiled.room)
    here_real = [begun if p == BEGUN else p for p in here]
    real = [here_real[g] for g in groups]
    front_rows = [i for i, p in enumerate(here_real) if compiled.deeper[p]]
    moves = {
        begun if p == BEGUN else p: g
        for g, p in enumerate(old_groups)
        if p != BEGUN or begun not in old_groups
    }
    merge = None
    if BEGUN in old_groups and begun in old_groups:
        merge = (old_groups.index(begun), old_groups.index(BEGUN))
    return StepTable(
        lo=lo,
        hi=hi,
        wait_min=wait_min,
        wait_max=wait_max,
        plain=plain,
        members=_members(groups, hi - lo),
        group_place=np.array(real, dtype=np.int64),
        same_group=np.array(
            [old_groups.index(p) if p in old_groups else len(old_groups) for p in here], dtype=np.int64
        ),
        rig_price=np.array(
            [[o.rig_price if o.rig is not None else 0] for o in options], dtype=np.int64
        ).reshape(-1, 1),
        rig_prices=[o.rig_price if o.rig is not None else 0 for o in options],
        rig_up=rig_up,
        goes_on=goes_on,
        rigs=[o.rig for o in options],
        begun_rows=np.array([i for i, p in enumerate(here) if p == BEGUN], dtype=np.int64),
        deep=any(compiled.shallower[p] for p in real),
        come=np.array([nowhere if p == BEGUN else p for p in here], dtype=np.int64),
        hard=BEGUN in here or any(compiled.shallower[p] for p in real),
        from_lane=any(compiled.shallower[begun if p == BEGUN else p] for p in old_groups),
        rigged=any(o.rig is not None and o.rig_price for o in options),
        front_rows=np.array(front_rows, dtype=np.int64),
        in_front=frozenset(front_rows),
        move_group=np.array([[moves.get(p, -1)] for p in here_real], dtype=np.int64).reshape(-1, 1),
        merge=merge,
    )


def _members(groups: list[int], count: int) -> list[Ints]:
    """By group, and one of none: its first row, its second (its first again if it has no more), ..."""
    if not groups:
        return [np.array([count], dtype=np.int64)]
    spans = list(zip(groups, [*groups[1:], count], strict=True))
    return [
        np.array([min(start + n, end - 1) for start, end in spans] + [count], dtype=np.int64)
        for n in range(max(end - start for start, end in spans))
    ]
