"""Which jobs to take out of a plan together: those that stand in each other's way in some sense."""

import random
from collections.abc import Callable, Sequence

from scheduling.engine.insertion import State

Wants = dict[str, tuple[tuple[str, int, int], ...]]  # job: (place, start, leaves) of the stays she wants

LEAST_WEIGHT, LEARN = 0.02, 0.01
"""No move is drawn less often than this; how fast what a move did last counts."""


class Ruin:
    """Draws jobs to take out, by several moves; those that led to a better plan are drawn more often."""

    def __init__(self, wants: Wants, loss: Callable[[State, str], int]) -> None:
        self.wants, self.loss = wants, loss
        self.moves: list[Callable[[State, random.Random, int], list[str]]] = [
            self.in_the_way,
            self.in_one_place,
            self.about_one_time,
            self.at_one_row,
            self.in_turn,
            self.by_chance,
        ]
        self.weights = [1.0] * len(self.moves)
        self.last = 0

    def draw(self, state: State, rng: random.Random, count: int) -> list[str]:
        """Up to `count` jobs, two at least if there are as many; the move is kept in `last`."""
        self.last = rng.choices(range(len(self.moves)), self.weights)[0]
        return self.moves[self.last](state, rng, count) or self.by_chance(state, rng, count)

    @property
    def ordered(self) -> bool:
        """Whether the order in which the last move named the jobs is the one to try."""
        return self.moves[self.last] == self.in_turn

    def tell(self, reward: float) -> None:
        """How well the last move did, from 0 to 1."""
        old = self.weights[self.last]
        self.weights[self.last] = max(LEAST_WEIGHT, old + LEARN * (reward - old))

    def by_chance(self, state: State, rng: random.Random, count: int) -> list[str]:
        """Any jobs."""
        names = list(state.compiled.jobs)
        return rng.sample(names, min(count, len(names)))

    def in_the_way(self, state: State, rng: random.Random, count: int) -> list[str]:
        """A job that loses much, and those that stand where and when she would stand if she were alone."""
        names = list(state.compiled.jobs)
        first = weighted(rng, names, [self.loss(state, name) for name in names])
        wanted: dict[str, list[tuple[int, int]]] = {}
        for place, start, end in self.wants[first]:
            wanted.setdefault(place, []).append((start, end))
        scores = {}
        for name, times in state.times.items():
            if name != first:
                shared = 0
                for time in times:
                    for start, end in wanted.get(time.place, ()):
                        shared += max(0, min(end, time.leaves) - max(start, time.start))
                scores[name] = (shared + 0.5) * rng.random()
        return [first, *sorted(scores, key=lambda name: -scores[name])[: count - 1]]

    def in_one_place(self, state: State, rng: random.Random, count: int) -> list[str]:
        """Those who stand in a well-used place, or in its lane, about one time."""
        compiled = state.compiled
        rooms = compiled.room.tolist()
        used = [u / max(room, 1) for u, room in zip(state.here.sum(axis=1).tolist(), rooms, strict=True)]
        place = rng.choices(range(len(rooms)), weights=[u * u + 1e-9 for u in used])[0]
        which = {place, *compiled.deeper[place], *compiled.shallower[place]}
        here = {compiled.problem.places[p].id for p in which}
        middle = rng.randrange(compiled.slots)
        scores: dict[str, float] = {}
        for name, times in state.times.items():
            for time in times:
                if time.place in here:
                    gap = max(time.start - middle, middle - time.leaves, 0) + rng.random() * 8
                    scores[name] = min(scores.get(name, gap), gap)
        return sorted(scores, key=lambda name: scores[name])[:count]

    def about_one_time(self, state: State, rng: random.Random, count: int) -> list[str]:
        """A job and those who are in the same places at about the same time."""
        names = list(state.times)
        if not names:
            return []
        first = rng.choice(names)
        piece = rng.choice(state.times[first])
        scores = {}
        for name, times in state.times.items():
            if name != first:
                gap = min(abs(t.start - piece.start) + (0 if t.place == piece.place else 8) for t in times)
                scores[name] = gap + rng.random() * 10
        return [first, *sorted(scores, key=lambda name: scores[name])[: count - 1]]

    def at_one_row(self, state: State, rng: random.Random, count: int) -> list[str]:
        """A job that loses much, and those who use what is nearly used up while she works."""
        compiled = state.compiled
        names = [name for name in state.times if state.marks[name].takes]
        if not names:
            return []
        first = weighted(rng, names, [self.loss(state, name) for name in names])
        time, takes = rng.choice(state.marks[first].takes)
        rows = [row for row, _ in (*takes.work, *takes.hold)]
        if not rows:
            return []
        lo, hi = max(time.start - 10, 0), time.leaves
        share = [
            float(state.left[r, lo:hi].sum()) / max(float(compiled.capacity[r, lo:hi].sum()), 1.0)
            for r in rows
        ]
        row = rng.choices(rows, [1.0 / (0.05 + max(s, 0.0)) for s in share])[0]
        scores: dict[str, float] = {}
        for name in names:
            if name != first:
                for other, amounts in state.marks[name].takes:
                    if any(r == row for r, _ in (*amounts.work, *amounts.hold)):
                        gap = max(other.start - hi, lo - other.leaves, 0) + rng.random() * 10
                        scores[name] = min(scores.get(name, gap), gap)
        return [first, *sorted(scores, key=lambda name: scores[name])[: count - 1]]

    def in_turn(self, state: State, rng: random.Random, count: int) -> list[str]:
        """Two jobs that follow each other in a well-used place, the later one first, then those between."""
        compiled = state.compiled
        rooms = compiled.room.tolist()
        used = [u / max(room, 1) for u, room in zip(state.here.sum(axis=1).tolist(), rooms, strict=True)]
        place = rng.choices(range(len(rooms)), weights=[u * u + 1e-9 for u in used])[0]
        name_of = compiled.problem.places[place].id
        line = sorted(
            {(t.start, name) for name, times in state.times.items() for t in times if t.place == name_of}
        )
        order = list(dict.fromkeys(name for _, name in line))
        if len(order) < 2:
            return []
        i = rng.randrange(len(order) - 1)
        j = min(len(order) - 1, i + rng.randint(1, 3))
        between = order[i + 1 : j]
        return [order[j], *between, order[i]] if rng.random() < 0.5 else [order[j], order[i], *between]


def weighted(rng: random.Random, names: Sequence[str], weights: Sequence[float]) -> str:
    """One name, drawn by weight."""
    return rng.choices(names, weights=weights)[0] if sum(weights) > 0 else rng.choice(names)
