"""In which order jobs take each machine of a blocking job shop: orders taken out and put back, cooled.

A machine is let go when the job's next operation starts, so "a before b" is an arc from the next operation of
a to b; swaps are cycles of such arcs of length nothing. All longest paths are kept in one matrix: an arc
x -> y of length w can be had if the path y -> x is no longer than -w. Put back is, again and again, the arc
that is left no choice, else the one whose other direction would make the longest path. (Iterated greedy on
alternative graphs: M. Pranzo, D. Pacciarelli, Journal of Heuristics 22, 2016, from memory.)
"""

import math
import random
import time
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scheduling.engine.compiled import Ints
from scheduling.engine.published import JobShop

Paths = npt.NDArray[np.int32]  # node x node: the longest path between two, NO_PATH if there is none

NO_PATH = -(10**6)
ROUNDS = 2_000
"""Orders tried in the first cooling; each that follows begins anew and takes twice as many."""
HOT, COLD = 0.03, 0.5
"""Temperature at the start as a share of the makespan, at the end [unit]; straight down, measured on la20."""
ANYHOW = 0.3
"""The share of arcs that are put back at random."""
SHARES = (0.1, 0.2, 0.3)


@dataclass(frozen=True, slots=True)
class _Graph:
    """Paths of the jobs alone, and for each pair of operations on one machine both arcs: from, to, length."""

    paths: Paths  # 0 is the start, the last node the end
    source: Ints  # pair x 2
    target: Ints
    length: Ints
    jobs: Ints  # pair x 2: whose operations they are


def search_orders(shop: JobShop, target: int, seconds: float, seed: int = 1) -> list[list[int]]:
    """Starts by job and operation of the shortest plan found; the search ends when it is `target` long.

    All in the shop's unit of time; `seconds` [s] are the clock's.
    """
    graph, rng, until = _graph(shop), random.Random(seed), time.monotonic() + seconds
    rounds = ROUNDS
    best, least = _cooled(graph, rng, rounds, target, until)
    while least > target and time.monotonic() < until:
        rounds *= 2
        other, length = _cooled(graph, rng, rounds, target, until)
        if length < least:
            best, least = other, length
    starts, sizes = iter(best[0, 1:-1].tolist()), [len(job) for job in shop.jobs]
    return [[next(starts) for _ in range(size)] for size in sizes]


def _cooled(graph: _Graph, rng: random.Random, rounds: int, target: int, until: float) -> tuple[Paths, int]:
    """(paths, makespan) of the shortest plan of one cooling."""
    paths, chosen = None, np.full(len(graph.source), -1)
    while paths is None:
        chosen[:] = -1
        paths = _put_back(graph, graph.paths.copy(), chosen, -NO_PATH, rng)
    best, least = paths, int(paths[0, -1])
    current = least
    for round_ in range(rounds):
        if least <= target or time.monotonic() > until:
            break
        heat = least * HOT * (1 - round_ / rounds) + COLD
        limit = int(current - heat * math.log(1.0 - rng.random()))
        tried = chosen.copy()
        tried[_taken_out(graph, paths, rng)] = -1
        after = _put_back(graph, _paths_of(graph, tried), tried, limit, rng)
        if after is not None:
            paths, chosen, current = after, tried, int(after[0, -1])
            if current < least:
                best, least = after, current
    return best, least


def _taken_out(graph: _Graph, paths: Paths, rng: random.Random) -> Ints:
    """All pairs of one or two jobs, the pairs among three or four, any, or those in a stretch of time."""
    way, pairs, jobs = rng.random(), len(graph.source), range(int(graph.jobs.max()) + 1)
    if way < 0.3:
        return np.flatnonzero(np.isin(graph.jobs, rng.sample(jobs, rng.choice((1, 2)))).any(axis=1))
    if way < 0.5:
        return np.flatnonzero(np.isin(graph.jobs, rng.sample(jobs, rng.choice((3, 4)))).all(axis=1))
    if way < 0.8:
        return np.array(rng.sample(range(pairs), int(pairs * rng.choice(SHARES))), dtype=np.int64)
    middle, width = rng.random() * paths[0, -1], rng.choice(SHARES) * paths[0, -1]
    return np.flatnonzero((abs(paths[0][graph.target] - middle) < width).all(axis=1))


def _put_back(graph: _Graph, paths: Paths, chosen: Ints, limit: int, rng: random.Random) -> Paths | None:
    """All pairs that are not `chosen` chosen, in place, the makespan at most `limit`; None if it can't be."""
    free = np.flatnonzero(chosen < 0)
    source, target, length = graph.source[free], graph.target[free], graph.length[free]
    while free.size:
        through = paths[0][source] + length + paths[:, -1][target]
        barred = (paths[target, source] > -length) | (through > limit)
        forced = np.flatnonzero(barred[:, 0] | barred[:, 1])
        if forced.size:
            picks = [(k, int(barred[k, 0])) for k in forced.tolist()]
        elif rng.random() < ANYHOW:
            k = rng.randrange(free.size)
            picks = [(k, int(through[k, 1] < through[k, 0]))]
        else:
            k, worst = divmod(int(through.argmax()), 2)
            picks = [(k, 1 - worst)]
        for k, way in picks:
            x, y, w = int(source[k, way]), int(target[k, way]), int(length[k, way])
            if barred[k, way] or paths[y, x] > -w:
                return None
            if paths[x, y] < w:
                np.maximum(paths, paths[:, x, None] + (paths[y] + w), out=paths)
            chosen[free[k]] = way
        left = np.ones(free.size, dtype=bool)
        left[[k for k, _ in picks]] = False
        free, source, target, length = free[left], source[left], target[left], length[left]
    return paths if paths[0, -1] <= limit else None


def _paths_of(graph: _Graph, chosen: Ints) -> Paths:
    """The longest paths with the arcs chosen so far."""
    kept = np.flatnonzero(chosen >= 0)
    ways, paths = chosen[kept], graph.paths.copy()
    np.maximum.at(
        paths,
        (graph.source[kept, ways], graph.target[kept, ways]),
        graph.length[kept, ways].astype(paths.dtype),
    )
    return _closed(paths)


def _closed(paths: Paths) -> Paths:
    for middle in range(len(paths)):
        np.maximum(paths, paths[:, middle, None] + paths[middle], out=paths)
    np.maximum(paths, NO_PATH, out=paths)
    return paths


def _graph(shop: JobShop) -> _Graph:
    """The nodes are the start, each operation in turn, and the end."""
    ops = [(j, i) for j, job in enumerate(shop.jobs) for i in range(len(job))]
    node = {op: number for number, op in enumerate(ops, 1)}
    paths = np.full((len(ops) + 2, len(ops) + 2), NO_PATH, dtype=np.int32)
    np.fill_diagonal(paths, 0)
    for j, i in ops:
        paths[0, node[j, i]] = 0
        paths[node[j, i], node.get((j, i + 1), -1)] = shop.jobs[j][i][1]

    def arc(a: tuple[int, int], b: tuple[int, int]) -> tuple[int, int, int]:
        after = (a[0], a[1] + 1)
        return (node[after], node[b], 0) if after in node else (node[a], node[b], shop.jobs[a[0]][a[1]][1])

    pairs = [
        (a, b)
        for n, a in enumerate(ops)
        for b in ops[n + 1 :]
        if a[0] != b[0] and shop.jobs[a[0]][a[1]][0] == shop.jobs[b[0]][b[1]][0]
    ]
    arcs = np.array([[arc(a, b), arc(b, a)] for a, b in pairs], dtype=np.int64)
    jobs = np.array([(a[0], b[0]) for a, b in pairs], dtype=np.int64)
    return _Graph(_closed(paths), arcs[..., 0], arcs[..., 1], arcs[..., 2], jobs)
