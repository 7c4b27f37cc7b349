"""The rows of one step and how they hang on those of the step before: standing on, rigs that are up."""

from dataclasses import dataclass

import numpy as np

from scheduling.engine.compiled import Compiled, Ints


@dataclass(slots=True)
class StepTable:
    """The rows of one step: lo to hi - 1 of the job's.

    A place is named by its number, and the stay that has begun by the number of places (as if it were one
    more); a group is the rows of one place.
    """

    lo: int
    hi: int
    modes: list[tuple[int, int, int]]  # (mode, first of its rows in the step, last + 1)
    wait_min: int  # until the step after this one
    wait_max: int | None
    plain: bool  # waits without end and no table falls: the fast flood is exact
    here: Ints  # by row: its place
    groups: Ints  # the places, rising
    members: list[Ints]  # by group, and one of none: its first row, its second (or last), ...
    before: list[Ints]  # the same of the step before, or of what has begun ...
    before_rig: Ints  # ... the rigs of its rows ...
    from_place: Ints  # ... the real places of its groups ...
    straight: bool  # ... each group is the row of its number
    same_group: Ints  # by row: group of its place in the step before; the number of groups if there is none
    rig: Ints  # by row: the number of its rig; 0 for none
    rig_price: Ints  # by row, as a column
    rig_up: list[Ints]  # by row: a row of the step before that has its rig up already; their number if none
    come: Ints  # by row: its place; the number of places where nobody comes by a trip
    hard: bool  # coming differs from row to row
    deep: bool  # a place behind others in a lane is among the rows
    from_lane: bool  # the step before has places behind others in a lane
    rigged: bool  # a rig may have to be paid for
    front_rows: Ints  # rows in places that others may have to pass
    move_group: Ints  # by row, as a column: the last group of its real place in the step before, or -1
    merge: tuple[int, int] | None  # two groups of the step before that are one real place

    def goes_on(self, row: int) -> list[int]:
        """The rows of the step before in the same place as this one."""
        group = int(self.same_group[row])
        return sorted({int(rows[group]) for rows in self.before} - {len(self.before_rig)})


def step_table(
    compiled: Compiled,
    home: int,
    before: StepTable | None,
    begun_rig: int,
    *,
    lo: int,
    here: Ints,
    modes: list[tuple[int, int, int]],
    rig: Ints,
    rig_price: Ints,
    waits: tuple[int, int | None],
    falls: bool,
) -> StepTable:
    """The table of the step after `before`, or after what has begun in `home` (-1 if nothing has)."""
    nowhere = len(compiled.room)
    if before is not None:
        old_groups, old_members, old_rig = before.groups, before.members, before.rig
    elif home >= 0:
        old_groups, old_rig = np.array([nowhere]), np.array([begun_rig])
        old_members = [np.array([0, 1])]
    else:
        old_groups, old_rig = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
        old_members = [np.zeros(1, dtype=np.int64)]
    groups, group_of = np.unique(here, return_inverse=True)
    back = nowhere in old_groups.tolist() and home in old_groups.tolist()
    same = np.full(nowhere + 1, len(old_groups), dtype=np.int64)
    same[old_groups] = np.arange(len(old_groups))
    move = np.where(same < len(old_groups), same, -1)
    if home >= 0 and not back:
        move[home] = max(move[home], move[nowhere])
    move[nowhere] = move[home] if home >= 0 else -1
    same_group = same[here]
    old_real = np.where(old_groups == nowhere, home, old_groups)
    real = np.where(here == nowhere, home, here)
    wait_min, wait_max = waits
    return StepTable(
        lo=lo,
        hi=lo + len(here),
        modes=modes,
        wait_min=wait_min,
        wait_max=wait_max,
        plain=wait_max is None and not falls,
        here=here,
        groups=groups,
        members=_members(group_of, len(groups)),
        before=old_members,
        before_rig=old_rig,
        from_place=old_real,
        straight=len(old_members) == 1 and bool((np.diff(old_members[0]) == 1).all()),
        same_group=same_group,
        rig=rig,
        rig_price=rig_price[:, None],
        rig_up=_rig_up(same_group, rig, old_members, old_rig),
        come=here,
        hard=bool((here == nowhere).any() or compiled.behind[real].any()),
        deep=bool(compiled.behind[real].any()),
        from_lane=bool(compiled.behind[old_real].any()),
        rigged=bool(rig_price.any()),
        front_rows=np.flatnonzero(compiled.in_front[real]),
        move_group=move[here][:, None],
        merge=(int(same[home]), int(same[nowhere])) if back else None,
    )


def _members(group_of: Ints, count: int) -> list[Ints]:
    """By group, and one of none: its first row, its second (its last if it has no more), ..."""
    rows = np.argsort(group_of, kind="stable")
    sizes = np.bincount(group_of, minlength=count)
    starts = np.cumsum(sizes) - sizes
    return [
        np.append(rows[starts + np.minimum(n, sizes - 1)], len(rows))
        for n in range(int(sizes.max(initial=1)))
    ]


def _rig_up(same_group: Ints, rig: Ints, old_members: list[Ints], old_rig: Ints) -> list[Ints]:
    """By row: rows of the step before in the same place with the same rig; their number for none."""
    found, none = [], len(old_rig)
    rigs = np.append(old_rig, -1)
    for members in old_members:
        rows = members[same_group]
        up = (rig > 0) & (rigs[rows] == rig)
        if up.any():
            found.append(np.where(up, rows, none))
    return found
