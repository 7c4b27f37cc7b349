"""A Problem as arrays: rows of what there is in each slot, and what each option takes of them.

One row for each resource, for each set of skills that can bind, and for each kind of dirt in each air; work
fits in a slot if every row it takes from has enough left. The same rows serve every insertion, whatever the
rule.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from scheduling.engine import slots
from scheduling.engine.cost import Books, books_of
from scheduling.engine.problem import Job, Option, Problem

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Amounts = tuple[tuple[int, int], ...]  # (row, amount)
Shared = TypeVar("Shared")

NEVER = 1 << 40
"""Dearer than any plan [minor units]; sums of a few of them fit in 64 bits beside RUN."""
RUN = 1 << 43
"""The weight of one run number in a key: more than any sum of costs within one step."""
WIDE_OPEN = 1 << 30
"""As much as nobody uses up, where nothing is counted."""


@dataclass(frozen=True, slots=True)
class Takes:
    """What one option in one place takes, as (row, amount): in open slots of work, and while she stands."""

    work: Amounts
    all_work: Ints  # the same as a column of all rows
    hold: Amounts
    open: Bools | None  # None = every slot
    makes: tuple[int, ...]  # rows of dirt that others feel, `settle` slots longer than the work
    spoiled: tuple[int, ...]  # rows of tender work that others must not dirty
    feels: tuple[int, ...]  # rows of dirt that must be clean while she works: (spoiled_by)
    harms: tuple[int, ...]  # rows of tender work that must be absent while she works: (makes)
    settle: int


@dataclass(slots=True)
class Compiled:
    """The yard of a Problem on arrays; what jobs share is added as it is first asked for."""

    problem: Problem
    books: Books
    slots: int
    spans: Ints
    jobs: dict[str, Job]
    place_index: dict[str, int]
    room: Ints  # [boats] by place
    pool: list[bool]  # by place: whether it holds two boats or more
    closed: Bools  # place x slot
    open_room: Ints  # place x slot: room, nothing where it is closed
    deeper: list[list[int]]  # by place: the places behind it in its lane
    shallower: list[list[int]]
    in_front: Bools  # by place: whether there are places behind it in its lane
    behind: Bools  # by place: whether there are places in front of it
    air: Ints  # by place: the same number for the same air, or for none
    price: Ints  # by place [minor units a calendar day]
    days_before: Ints  # W + 1 [calendar days] that the slots before each slot stand for
    rows: list[
        tuple[str, Any]
    ]  # what each row is: ("resource", id), ("skills", set), ("dirt"/"tender", (air, kind))
    plain: Ints  # row x slot: what there is
    capacity: Ints  # row x slot: the same, or what facts use where that is more
    facts: Ints  # row x slot: what is left after the facts
    mover: int | None
    begun_at: Ints  # [boats] by place: stays that have begun
    row_of: dict[Any, int]
    unions: list[frozenset[str]]
    takes_cache: dict[Any, Takes] = field(default_factory=dict)
    shared: dict[Any, Any] = field(default_factory=dict)

    def once(self, key: Any, make: Callable[[], Shared]) -> Shared:
        """What `make` gives, made once for all jobs that ask for the same `key`."""
        if key not in self.shared:
            self.shared[key] = make()
        found: Shared = self.shared[key]
        return found

    def takes(self, option: Option, place: int) -> Takes:
        """What `option` takes in the place with this index."""
        key = (id(option), int(self.air[place]))
        found = self.takes_cache.get(key)
        if found is None:
            table = self.books.tables[option.table] if option.table is not None else None
            alike = (
                tuple(option.skills.items()),
                tuple(option.uses.items()),
                tuple(option.holds.items()),
                (option.makes, option.spoiled_by, option.own_air),
                self.problem.places[place].air,
                table.open if table is not None else None,
            )
            if alike not in self.takes_cache:
                self.takes_cache[alike] = self._takes(option, place)
            found = self.takes_cache[key] = self.takes_cache[alike]
        return found

    def _takes(self, option: Option, place: int) -> Takes:
        problem = self.problem
        work: list[tuple[int, int]] = []
        for union in self.unions:
            amount = sum(option.skills.get(skill, 0) for skill in union)
            if amount:
                work.append((self.row_of["skills", union], amount))
        work += [(self.row_of["resource", r], amount) for r, amount in option.uses.items() if amount]
        hold = tuple((self.row_of["resource", r], amount) for r, amount in option.holds.items() if amount)
        air = problem.places[place].air
        air_ = next((a for a in problem.airs if a.id == air), None)
        dirt: dict[str, tuple[int, ...]] = {"makes": (), "spoiled": (), "feels": (), "harms": ()}
        if air_ is not None and not option.own_air and not air_.split_day:
            for name, what, kinds in (
                ("makes", "dirt", option.makes),
                ("harms", "tender", option.makes),
                ("spoiled", "tender", option.spoiled_by),
                ("feels", "dirt", option.spoiled_by),
            ):
                dirt[name] = tuple(
                    self.row_of[what, (air, k)] for k in kinds if (what, (air, k)) in self.row_of
                )
        table = self.books.tables[option.table] if option.table is not None else None
        calendar = problem.calendars[table.open] if table is not None and table.open is not None else None
        opened = None if calendar is None else np.array(calendar) > 0
        column = np.zeros((len(self.rows), 1), dtype=np.int64)
        for row, amount in work:
            column[row, 0] += amount
        return Takes(tuple(work), column, hold, opened, settle=air_.settle if air_ else 0, **dirt)

    def fits(self, job: Job, place: int) -> bool:
        """Whether the place's limits take her."""
        return bool(self.fit(job)[place])

    def fit(self, job: Job) -> Bools:
        """By place: whether its limits take her."""

        def find() -> Bools:
            limits = [place.limits.items() for place in self.problem.places]
            return np.array([all(job.size.get(n, 0) <= limit for n, limit in each) for each in limits])

        return self.once(("fit", tuple(sorted(job.size.items()))), find)

    def where(self, places: tuple[str, ...]) -> Ints:
        """The places of these names, rising."""

        def find() -> Ints:
            return np.array(sorted({self.place_index[name] for name in places}), dtype=np.int64)

        return self.once(("where", places), find)


def compile_problem(problem: Problem) -> Compiled:
    """The arrays of a Problem, with what has begun already taken from them."""
    width = len(problem.days)
    index = {p.id: i for i, p in enumerate(problem.places)}
    closed = np.zeros((len(problem.places), width), dtype=bool)
    for i, place in enumerate(problem.places):
        for start, end in place.closed:
            closed[i, max(start, 0) : end] = True
    lanes: dict[str, list[int]] = {}
    for i, place in enumerate(problem.places):
        if place.lane is not None:
            lanes.setdefault(place.lane, []).append(i)
    depth = [p.depth or 0 for p in problem.places]
    mates = [lanes.get(p.lane, []) if p.lane is not None else [] for p in problem.places]
    options = [o for j in problem.jobs for s in j.steps for o in s.options]
    options += [j.begun.option for j in problem.jobs if j.begun]
    unions = binding_unions(problem, {s for o in options for s, amount in o.skills.items() if amount})
    rows: list[tuple[str, Any]] = [("resource", r.id) for r in problem.resources]
    lines = [list(r.capacity) for r in problem.resources]
    for union in unions:
        rows.append(("skills", union))
        able = [h.minutes for h in problem.hands if union & set(h.skills)]
        lines.append([sum(m) for m in zip(*able, strict=True)] if able else [0] * width)
    kinds = sorted({k for o in options for k in o.makes} & {k for o in options for k in o.spoiled_by})
    for air in problem.airs:
        for kind in kinds:
            rows += [("dirt", (air.id, kind)), ("tender", (air.id, kind))]
            lines += [[0] * width, [0] * width]
    row_of: dict[Any, int] = {name: i for i, name in enumerate(rows)}
    begun_at = np.zeros(len(problem.places), dtype=np.int64)
    for job in problem.jobs:
        if job.begun is not None:
            begun_at[index[job.begun.place]] += 1
    books = books_of(problem)
    airs = {air: n for n, air in enumerate(dict.fromkeys(p.air for p in problem.places))}
    deeper = [[m for m in mates[i] if depth[m] > depth[i]] for i in range(len(depth))]
    shallower = [[m for m in mates[i] if depth[m] < depth[i]] for i in range(len(depth))]
    compiled = Compiled(
        problem=problem,
        books=books,
        slots=width,
        spans=np.array(slots.spans(problem.days), dtype=np.int64),
        jobs={j.id: j for j in problem.jobs},
        place_index=index,
        room=np.array([p.room for p in problem.places], dtype=np.int64),
        pool=[p.room > 1 for p in problem.places],
        closed=closed,
        open_room=np.where(closed, 0, np.array([[p.room] for p in problem.places], dtype=np.int64)),
        deeper=deeper,
        shallower=shallower,
        in_front=np.array([bool(places) for places in deeper], dtype=bool),
        behind=np.array([bool(places) for places in shallower], dtype=bool),
        air=np.array([airs[p.air] for p in problem.places], dtype=np.int64),
        price=np.array([p.price for p in problem.places], dtype=np.int64),
        days_before=np.array(books.days_before, dtype=np.int64),
        rows=rows,
        plain=np.array(lines, dtype=np.int64).reshape(len(rows), width),
        capacity=np.array(lines, dtype=np.int64).reshape(len(rows), width),
        facts=np.zeros((len(rows), width), dtype=np.int64),
        mover=row_of["resource", problem.mover] if problem.mover is not None else None,
        begun_at=begun_at,
        row_of=row_of,
        unions=unions,
    )
    used = sum((facts_of(compiled, job) for job in problem.jobs), np.zeros_like(compiled.plain))
    compiled.capacity = np.maximum(compiled.plain, used)
    compiled.facts = compiled.capacity - used
    for job in problem.jobs:
        put_air(compiled, compiled.facts, job, 1)
    return compiled


def compiled_again(compiled: Compiled, problem: Problem, job_id: str) -> Compiled:
    """The arrays of a Problem that differs from that of `compiled` only in the steps of one job.

    In none may she do what nobody could do before.
    """
    return replace(
        compiled,
        problem=problem,
        books=books_of(problem),
        jobs={job.id: job for job in problem.jobs},
        # not what is known by the place in memory of an option, which may be another's by now
        takes_cache={key: takes for key, takes in compiled.takes_cache.items() if isinstance(key[0], tuple)},
        shared={key: found for key, found in compiled.shared.items() if key[0] != job_id},
    )


def facts_of(compiled: Compiled, job: Job) -> Ints:
    """Row x slot: what the begun work of a job uses, whether or not she is in the plan (air apart)."""
    used = np.zeros_like(compiled.plain)
    if job.begun is not None:
        takes = compiled.takes(job.begun.option, compiled.place_index[job.begun.place])
        for row, amount in (*takes.work, *takes.hold):
            used[row, : job.begun.end] += amount
    return used


def put_air(compiled: Compiled, left: Ints, job: Job, sign: int) -> None:
    """Take (sign 1) or give back (-1) in `left` what the begun work of `job` does to the air."""
    if job.begun is not None:
        takes = compiled.takes(job.begun.option, compiled.place_index[job.begun.place])
        for row in takes.makes:
            left[row, : job.begun.end + takes.settle] -= sign
        for row in takes.spoiled:
            left[row, : job.begun.end] -= sign


def binding_unions(problem: Problem, demanded: set[str]) -> list[frozenset[str]]:
    """The sets of skills whose hours can bind: joined by shared hands, with every skill that adds no hand.

    Any other set is implied by these: one that lacks such a skill by the whole, one in parts by its parts.
    """
    who = {s: frozenset(h.id for h in problem.hands if s in h.skills) for s in demanded}
    nobody = frozenset(s for s in demanded if not who[s])

    def closure(union: frozenset[str]) -> frozenset[str]:
        able = frozenset().union(*(who[s] for s in union))
        return frozenset(s for s in demanded if who[s] and who[s] <= able)

    found: set[frozenset[str]] = set()
    todo = [closure(frozenset((s,))) for s in demanded if who[s]]
    while todo:
        union = todo.pop()
        if union in found:
            continue
        found.add(union)
        able = frozenset().union(*(who[s] for s in union))
        todo += [closure(union | {s}) for s in demanded if s not in union and who[s] & able]
    return ([nobody] if nobody else []) + sorted(found, key=sorted)
