"""One job as arrays: a row for each (step, option, place) she may use, ready for the insertion.

All that doesn't depend on the other jobs is worked out here, once: finish tables, prices, windows, pins,
fit, gate.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from scheduling.engine import cost
from scheduling.engine.compiled import NEVER, Amounts, Bools, Compiled, Ints, Takes
from scheduling.engine.needs import Need, lines_of, need_of
from scheduling.engine.problem import Job, Option, Step
from scheduling.engine.reach import least_through
from scheduling.engine.schedule import Rule
from scheduling.engine.steptable import BEGUN, StepTable, step_table

HURRY = NEVER // 4
"""What a finish in the last slot costs her who is in a hurry [minor units]."""


@dataclass(slots=True)
class JobTable:
    """A job as arrays; C rows, W slots."""

    job: Job
    number: int  # no other table of the Problem has it
    steps: list[StepTable]
    place: Ints  # by row; the begun place's real index for begun rows
    begun: Bools  # by row
    option: list[tuple[int, int]]  # by row: (step number, option number)
    options: list[Option]
    takes: list[Takes]
    finish: Ints  # C x W; past the axis where it can't start
    lawful: Bools  # C x W
    start_cost: Ints  # C x W: NEVER where it can't start; else price at the start less `stand` until then
    stand: Ints  # C x (W + 1): what standing costs before each slot
    views: list[tuple[int, bool, int]]  # (place or BEGUN, movable, hold number)
    view: Ints  # by row
    view_place: Ints  # by view; the number of places for BEGUN
    holds: list[Amounts]
    held_views: list[tuple[Amounts, Ints]]  # what is held, and the views that hold it
    at_end: Ints  # C x W: index into a views x (W + 1) array where the work (and least wait) ends
    needs: list[Need]  # distinct demands of work
    need: Ints  # by row
    need_rows: Ints  # distinct lines: rows of the yard ...
    need_amounts: Ints  # ... x W: the least that must be left, less than nothing where it is not open
    need_lines: list[Ints]  # by need: its first line, its second, ...; their number where it has no more
    needs_end: Ints  # C x W: index into a needs x (W + 1) array at the finish
    ends: Ints  # C x W: finish and least wait, W at most
    last_start: (
        Ints  # C x W: index of the last start that is over by each slot, into its step's padded labels
    )
    home: int  # the place of what has begun; -1 if nothing has
    begun_view: int  # its view
    out_view: int  # the view of standing there left out
    begun_stand: Ints  # W + 1: what standing there costs
    late: Ints  # W + 1
    front_views: Ints  # views that others may have to pass in a lane ...
    front_line: Ints  # ... by row: which of them, where it is one ...
    front_places: Ints  # ... where ...
    front_movable: Bools  # ... as a column: whether she can be moved ...
    front_own: Ints  # ... as a column: trips she holds herself
    lifted: frozenset[Rule]
    last_cost: Ints  # rows of the last step x W: what standing until the finish costs, and being late then
    mover_use: dict[int, Ints] = field(
        default_factory=dict
    )  # by row: own use of the mover in each slot of work
    in_lane: bool = False
    through: Ints = field(default_factory=lambda: np.zeros((0, 0), dtype=np.int64))  # steps x W: see `reach`
    least: int = 0  # [minor units] of all of that
    guess: dict[bool, int] = field(default_factory=dict)  # [minor units] what she may cost, priced or not


def job_table(
    compiled: Compiled, job_id: str, lifted: frozenset[Rule] = frozenset(), hurry: bool = False
) -> JobTable:
    """The arrays of a job, with the rules in `lifted` lifted for her; made once.

    With `hurry` each slot later costs more than anything else, so the cheapest way is the earliest finish.
    """
    key = (job_id, lifted, hurry)
    if key not in compiled.job_cache:
        table = _build(compiled, compiled.jobs[job_id], lifted)
        if hurry:
            table.late += np.arange(compiled.slots + 1) * (HURRY // compiled.slots)
        _reach(compiled, table)
        compiled.job_cache[key] = table
    found: JobTable = compiled.job_cache[key]
    return found


def _reach(compiled: Compiled, table: JobTable) -> None:
    """Work out the last cost, and what the ways of this job cost at least."""
    if not table.steps:
        return
    last, begun = slice(table.steps[-1].lo, table.steps[-1].hi), None
    ends = table.finish[last]
    table.last_cost = table.late[ends] + np.take_along_axis(table.stand[last], ends, axis=1)
    if table.job.begun is not None:
        wait = table.job.steps[0].wait_min if "chain" not in table.lifted else 0
        begun = table.job.begun.end + wait, table.begun_stand
    names = ("stand", "late", "ends", "start_cost")
    table.through = least_through(compiled, table.steps, {n: getattr(table, n) for n in names}, begun)
    table.least = int(table.through[0].min(initial=NEVER))


def _row_places(
    compiled: Compiled, job: Job, step: Step, option: Option, lifted: frozenset[Rule]
) -> list[int]:
    found = []
    for name in option.places:
        place = compiled.place_index[name]
        if step.pin_place not in (None, name) and "pins" not in lifted:
            continue
        if "fit" in lifted or compiled.fits(job, place):
            found.append(place)
        if job.begun is not None and name == job.begun.place:
            found.append(BEGUN)
    return found


def _finish(compiled: Compiled, option: Option, lifted: frozenset[Rule]) -> tuple[Ints, Bools]:
    """The finish of each slot, filled from the next start that is possible, and where a start is possible."""
    key = (option.table or "", "windows" in lifted)
    if key not in compiled.finish_cache:
        compiled.finish_cache[key] = _read_finish(compiled, *key)
    return compiled.finish_cache[key]


def _read_finish(compiled: Compiled, table: str, windows_lifted: bool) -> tuple[Ints, Bools]:
    width, told = compiled.slots, compiled.books.tables[table].finish
    row = np.array([0 if end is None else end for end in told], dtype=np.int64)
    can = row > 0
    if windows_lifted:
        length = width
        for s in range(width - 1, -1, -1):
            if can[s]:
                length = int(row[s]) - s
            elif s + length <= width:
                row[s], can[s] = s + length, True
    following = np.where(can, np.arange(width), width)
    following = np.minimum.accumulate(following[::-1])[::-1]
    return np.append(row, width + 1)[following], can


def _lawful(job: Job, step: Step, can: Bools, lifted: frozenset[Rule]) -> Bools:
    lawful = can.copy()
    if "windows" not in lifted:
        lawful[: max(job.earliest, step.earliest)] = False
    if step.coats and step.gate is not None and "gate" not in lifted:
        lawful[: step.gate] = False
    if step.pin_start is not None and "pins" not in lifted:
        keep = lawful[step.pin_start] if step.pin_start < len(lawful) else False
        lawful[:] = False
        if keep:
            lawful[step.pin_start] = True
    return lawful


def _build(compiled: Compiled, job: Job, lifted: frozenset[Rule]) -> JobTable:
    width, problem = compiled.slots, compiled.problem
    days = np.array(compiled.books.days_before, dtype=np.int64)
    steps: list[StepTable] = []
    places: list[int] = []
    rows: list[tuple[int, int]] = []
    finish: list[Ints] = []
    lawful: list[Bools] = []
    price: list[Ints] = []
    for number, step in enumerate(job.steps):
        lo = len(rows)
        found = [
            (p, o)
            for o, option in enumerate(step.options)
            for p in _row_places(compiled, job, step, option, lifted)
        ]
        found.sort(key=lambda row: (row[0] if row[0] != BEGUN else len(compiled.room), row[1]))
        tables = [_finish(compiled, option, lifted) for option in step.options]
        following = job.steps[number + 1] if number + 1 < len(job.steps) else None
        laws = [_lawful(job, step, can, lifted) for _, can in tables]
        extras = [
            np.array(compiled.books.tables[option.table or ""].price or (0,) * width, dtype=np.int64)
            + option.price
            for option in step.options
        ]
        for place, o in found:
            real = compiled.place_index[job.begun.place] if place == BEGUN and job.begun else place
            places.append(place)
            rows.append((number, o))
            finish.append(tables[o][0])
            lawful.append(laws[o])
            changes = cost.change_row(problem, job, number, problem.places[real].id) if step.posted else 0
            price.append(extras[o] + np.array(changes))
        chain = "chain" not in lifted
        wait_min = following.wait_min if following and chain else 0
        wait_max = following.wait_max if following and chain else None
        plain = wait_max is None and all(np.all(np.diff(tables[o][0]) >= 0) for o in {o for _, o in found})
        steps.append(step_table(compiled, job, steps, rows, places, lo, wait_min, wait_max, plain))
    return _assemble(compiled, job, lifted, steps, places, rows, finish, lawful, price, days)


def _number(found: dict[object, int], key: object) -> int:
    return found.setdefault(key, len(found))


def _assemble(
    compiled: Compiled,
    job: Job,
    lifted: frozenset[Rule],
    steps: list[StepTable],
    places: list[int],
    rows: list[tuple[int, int]],
    finish_rows: list[Ints],
    lawful_rows: list[Bools],
    price_rows: list[Ints],
    days: Ints,
) -> JobTable:
    width, count = compiled.slots, len(rows)
    shape = (count, width)
    finish = np.array(finish_rows, dtype=np.int64).reshape(shape)
    lawful = np.array(lawful_rows, dtype=bool).reshape(shape)
    price = np.array(price_rows, dtype=np.int64).reshape(shape)
    begun = compiled.place_index[job.begun.place] if job.begun else BEGUN
    real = np.array([begun if p == BEGUN else p for p in places], dtype=np.int64)
    options = [job.steps[n].options[o] for n, o in rows]
    takes = [compiled.takes(option, int(p)) for option, p in zip(options, real, strict=True)]
    stand = np.array(
        [
            (compiled.problem.places[p].price + o.stand_price) * days
            for p, o in zip(real, options, strict=True)
        ],
        dtype=np.int64,
    ).reshape(count, width + 1)
    holds: dict[object, int] = {(): 0}
    views: dict[object, int] = {}
    needs: dict[object, int] = {}
    need_list: list[Need] = []
    view, need, mover_use = [], [], {}
    known: dict[int, int] = {}  # takes seen already, in `takes` all the while
    for row, (place, option, take) in enumerate(zip(places, options, takes, strict=True)):
        hold = () if "hands" in lifted else take.hold
        view.append(_number(views, (place, option.movable, _number(holds, hold))))
        if id(take) not in known:
            wants = need_of(take, lifted)
            mark = (wants.amounts, None if wants.open is None else wants.open.tobytes(), wants.clean)
            if mark not in needs:
                need_list.append(wants)
            known[id(take)] = _number(needs, mark)
        need.append(known[id(take)])
        own = [
            dict(a).get(compiled.mover, 0) if compiled.mover is not None else 0
            for a in (take.work, take.hold)
        ]
        if any(own) and "hands" not in lifted:
            mover_use[row] = own[1] + own[0] * (
                np.ones(width, np.int64) if take.open is None else take.open.astype(np.int64)
            )
    begun_view = out_view = -1
    begun_stand = np.zeros(width + 1, dtype=np.int64)
    if job.begun is not None:
        take = compiled.takes(job.begun.option, begun)
        hold = () if "hands" in lifted else take.hold
        begun_view = _number(views, (BEGUN, job.begun.option.movable, _number(holds, hold)))
        out_view = _number(views, (BEGUN, job.begun.option.movable, 0))
        begun_stand = (compiled.problem.places[begun].price + job.begun.option.stand_price) * days
    waits = np.zeros((count, 1), dtype=np.int64)
    in_step = np.zeros(count, dtype=np.int64)
    for step in steps:
        waits[step.lo : step.hi] = step.wait_min
        in_step[step.lo : step.hi] = np.arange(step.hi - step.lo)
    ends = finish + waits
    last = steps[-1].lo if steps else 0
    lawful[:last] &= ends[:last] < width
    lawful &= finish <= width
    clipped = np.minimum(ends, width)
    views_, needs_ = np.array(view, dtype=np.int64), np.array(need, dtype=np.int64)
    start_cost = np.where(lawful, price - stand[:, :width], NEVER)
    return JobTable(
        job=job,
        number=len(compiled.job_cache),
        steps=steps,
        place=real,
        begun=np.array([p == BEGUN for p in places], dtype=bool),
        option=rows,
        options=options,
        takes=takes,
        finish=np.minimum(finish, width),
        lawful=lawful,
        start_cost=start_cost,
        stand=stand,
        views=list(views),  # type: ignore[arg-type]
        view=views_,
        **_views(compiled, list(views), list(holds)),  # type: ignore[arg-type]
        holds=list(holds),  # type: ignore[arg-type]
        at_end=views_[:, None] * (width + 1) + clipped,
        needs=need_list,
        need=needs_,
        **lines_of(need_list, width),
        needs_end=needs_[:, None] * (width + 1) + np.minimum(finish, width),
        ends=clipped,
        last_start=_last_start(ends, width) + (width + 1) * in_step[:, None],
        home=begun,
        begun_view=begun_view,
        out_view=out_view,
        begun_stand=begun_stand,
        **_front(compiled, begun, views_, list(views), list(holds)),  # type: ignore[arg-type]
        late=np.array(cost.late_row(compiled.problem, job), dtype=np.int64),
        lifted=lifted,
        last_cost=np.zeros((0, width), dtype=np.int64),
        mover_use=mover_use,
        in_lane=any(
            compiled.deeper[p] or compiled.shallower[p]
            for p in {*real.tolist(), *([begun] if job.begun else [])}
        ),
    )


def _views(compiled: Compiled, views: list[tuple[int, bool, int]], holds: list[Amounts]) -> dict[str, Any]:
    places = [len(compiled.room) if place == BEGUN else place for place, _, _ in views]
    held = [
        (amounts, np.array([v for v, view in enumerate(views) if view[2] == n], dtype=np.int64))
        for n, amounts in enumerate(holds)
        if amounts
    ]
    return {"view_place": np.array(places, dtype=np.int64), "held_views": held}


def _front(
    compiled: Compiled, home: int, view: Ints, views: list[tuple[int, bool, int]], holds: list[Amounts]
) -> dict[str, Any]:
    real = [home if place == BEGUN else place for place, _, _ in views]
    front = [v for v, place in enumerate(real) if compiled.deeper[place]]
    own = [dict(holds[views[v][2]]).get(-1 if compiled.mover is None else compiled.mover, 0) for v in front]
    return {
        "front_views": np.array(front, dtype=np.int64),
        "front_line": np.searchsorted(front, view),
        "front_places": np.array([real[v] for v in front], dtype=np.int64),
        "front_movable": np.array([views[v][1] for v in front], dtype=bool).reshape(-1, 1),
        "front_own": np.array(own, dtype=np.int64).reshape(-1, 1),
    }


def _last_start(ends: Ints, width: int) -> Ints:
    """C x W: 1 + the last start t with ends[t] <= e, or 0: right where no row of `ends` falls."""
    out = np.zeros(ends.shape, dtype=np.int64)
    for row in range(len(ends)):
        out[row] = np.searchsorted(ends[row], np.arange(width), side="right")
    return out
