"""Which jobs to take out of a plan together: those that stand in each other's way in some sense.

Looked at as one array of pieces for all jobs, so that a draw costs the same few operations in a yard of
any size; and the bigger the yard, the closer together in time are those taken out.
"""

import random
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from scheduling.engine.compiled import Bools, Compiled, Takes
from scheduling.engine.insertion import State

Floats = npt.NDArray[np.float64]
Wants = dict[str, tuple[tuple[str, int, int], ...]]  # job: (place, start, leaves) of the stays she wants

LEAST_WEIGHT, LEARN = 0.02, 0.01
"""No move is drawn less often than this; how fast what a move did last counts."""
CHANCE, ELSEWHERE = 10.0, 8.0
"""[slots] how much nearer, at most, a job counts by chance in a yard of FEW boats; how much farther off one
counts that is in another place."""
FEW = 40
PASSING = 20.0
"""[slots] for how long a job counts as standing there who stands in front when another wants to pass, or who
wants to pass; measured on the demo yard (0.3 % in the mean of three seeds)."""
NOTHING = -1
"""The place of a piece that a job does not have."""


class Ruin:
    """Draws jobs to take out, by several moves; those that led to a better plan are drawn more often."""

    def __init__(self, compiled: Compiled, wants: Wants, least: dict[str, int]) -> None:
        self.compiled, self.names = compiled, list(compiled.jobs)
        self.number = {name: i for i, name in enumerate(self.names)}
        index = compiled.place_index
        self.wants = {name: [(index[p], s, e) for p, s, e in stays] for name, stays in wants.items()}
        self.least = np.array([least[name] for name in self.names], dtype=np.float64)
        self.drop = np.array([compiled.jobs[name].drop_price for name in self.names], dtype=np.float64)
        shape = len(self.names), max((len(job.steps) for job in compiled.jobs.values()), default=0) + 1
        self.start, self.leaves = np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64)
        self.place = np.full(shape, NOTHING, dtype=np.int64)
        self.takes = np.zeros(shape, dtype=np.int64)  # the number of what the piece takes; 0 = nothing
        self.loss = np.zeros(len(self.names))  # [minor units] what each job costs above her least
        self.taken: dict[int, int] = {}  # by identity of a Takes: its number
        self.uses = np.zeros((1, len(compiled.rows)), dtype=bool)  # by number: the rows it takes from
        self.chance = CHANCE * min(1.0, FEW / max(len(self.names), 1))
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

    def see(self, state: State, names: list[str] | None = None) -> None:
        """Look at the plan anew, or only at where these jobs are in it."""
        for name in names if names is not None else self.names:
            i, times = self.number[name], state.times.get(name, ())
            self.place[i] = NOTHING
            for k, (time, takes) in enumerate(state.marks[name].takes if times else ()):
                self.start[i, k], self.leaves[i, k] = time.start, time.leaves
                self.place[i, k] = self.compiled.place_index[time.place]
                self.takes[i, k] = self._number(takes)
            self.loss[i] = max(state.own.get(name, self.drop[i]) - self.least[i], 0)

    def _number(self, takes: Takes) -> int:
        found = self.taken.get(id(takes))
        if found is None:
            found = self.taken[id(takes)] = len(self.uses)
            row = np.zeros((1, self.uses.shape[1]), dtype=bool)
            row[0, [r for r, _ in (*takes.work, *takes.hold)]] = True
            self.uses = np.concatenate((self.uses, row))
        return found

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

    # --- moves ----------------------------------------------------------------------------------------------
    def by_chance(self, state: State, rng: random.Random, count: int) -> list[str]:
        """Any jobs."""
        return rng.sample(self.names, min(count, len(self.names)))

    def in_the_way(self, state: State, rng: random.Random, count: int) -> list[str]:
        """A job that loses much, and those that stand where and when she would if she were alone, or that are
        in her way in a lane then."""
        first = self._losing(rng)
        shared = np.zeros(self.place.shape)
        for place, start, end in self.wants[self.names[first]]:
            both = np.minimum(self.leaves, end) - np.maximum(self.start, start)
            shared += np.where(self.place == place, np.maximum(both, 0), 0)
            shared += PASSING * self._passing(place, start, end)
        return self._with(first, -(shared.sum(axis=1) + 0.5) * _draws(rng, len(self.names)), count)

    def _passing(self, place: int, start: int, end: int) -> Floats:
        """Jobs x pieces: how often one passes the other if she is in a place from slot `start` to `end`."""
        found = np.zeros(self.place.shape)
        if self.compiled.behind[place]:
            front = np.isin(self.place, self.compiled.shallower[place])
            for x in (start, end):
                found += front & (self.start < x) & (x < self.leaves)
        if self.compiled.in_front[place]:
            deeper = np.isin(self.place, self.compiled.deeper[place])
            for at in (self.start, self.leaves):
                found += deeper & (start < at) & (at < end)
        return found

    def in_one_place(self, state: State, rng: random.Random, count: int) -> list[str]:
        """Those who stand in a well-used place, or in its lane, about one time."""
        place, middle = self._used(state, rng), rng.randrange(self.compiled.slots)
        lane = [place, *self.compiled.deeper[place], *self.compiled.shallower[place]]
        near = self._nearest(np.isin(self.place, lane), middle, middle)
        return self._first(near + self.chance * 0.8 * _draws(rng, len(near)), count)

    def about_one_time(self, state: State, rng: random.Random, count: int) -> list[str]:
        """A job and those who are in the same places at about the same time."""
        pieces = np.argwhere(self.place != NOTHING)
        if not len(pieces):
            return []
        first, k = pieces[rng.randrange(len(pieces))].tolist()
        gap = np.abs(self.start - self.start[first, k]) + ELSEWHERE * (self.place != self.place[first, k])
        gap = np.where(self.place == NOTHING, np.inf, gap).min(axis=1)
        return self._with(first, gap + self.chance * _draws(rng, len(gap)), count)

    def at_one_row(self, state: State, rng: random.Random, count: int) -> list[str]:
        """A job that loses much, and those who use what is nearly used up while she works."""
        first = self._losing(rng)
        has = np.flatnonzero(self.place[first] != NOTHING)
        if not has.size:
            return []
        k = int(rng.choice(has.tolist()))
        rows = np.flatnonzero(self.uses[self.takes[first, k]])
        if not rows.size:
            return []
        lo, hi = max(int(self.start[first, k]) - 10, 0), int(self.leaves[first, k])
        left, there = state.left[rows, lo:hi].sum(axis=1), self.compiled.capacity[rows, lo:hi].sum(axis=1)
        scarce = 1.0 / (0.05 + np.maximum(left / np.maximum(there, 1.0), 0.0))
        row = rng.choices(rows.tolist(), scarce.tolist())[0]
        near = self._nearest(self.uses[:, row][self.takes] & (self.place != NOTHING), lo, hi)
        return self._with(first, near + self.chance * _draws(rng, len(near)), count)

    def in_turn(self, state: State, rng: random.Random, count: int) -> list[str]:
        """Two jobs that follow each other in a well-used place, the later one first, then those between."""
        jobs, ks = np.nonzero(self.place == self._used(state, rng))
        order = list(dict.fromkeys(jobs[np.lexsort((jobs, self.start[jobs, ks]))].tolist()))
        if len(order) < 2:
            return []
        i = rng.randrange(len(order) - 1)
        line = [self.names[job] for job in order[i : min(len(order) - 1, i + rng.randint(1, 3)) + 1]]
        one, between, other = line[0], line[1:-1], line[-1]
        return [other, *between, one] if rng.random() < 0.5 else [other, one, *between]

    # --- parts ----------------------------------------------------------------------------------------------
    def _losing(self, rng: random.Random) -> int:
        """A job, drawn by what she loses."""
        total = float(self.loss.sum())
        if total <= 0:
            return rng.randrange(len(self.names))
        return min(int(np.searchsorted(np.cumsum(self.loss), rng.random() * total)), len(self.names) - 1)

    def _used(self, state: State, rng: random.Random) -> int:
        """A place, drawn by how well it is used."""
        used = state.here.sum(axis=1) / np.maximum(self.compiled.room, 1)
        return rng.choices(range(len(used)), weights=(used * used + 1e-9).tolist())[0]

    def _nearest(self, which: Bools, lo: int, hi: int) -> Floats:
        """[slots] by job: how far off the nearest of `which` of her pieces is from lo to hi."""
        gap = np.maximum(np.maximum(self.start - hi, lo - self.leaves), 0)
        found: Floats = np.where(which, gap, np.inf).min(axis=1)
        return found

    def _first(self, scores: Floats, count: int) -> list[str]:
        """The jobs with the least scores."""
        order = np.argsort(scores, kind="stable")[:count].tolist()
        return [self.names[i] for i in order if scores[i] < np.inf]

    def _with(self, first: int, scores: Floats, count: int) -> list[str]:
        """This job and those with the least scores."""
        scores[first] = np.inf
        scores[self.place[:, 0] == NOTHING] = np.inf
        return [self.names[first], *self._first(scores, count - 1)]


def _draws(rng: random.Random, count: int) -> Floats:
    """So many numbers from 0 to 1."""
    found: Floats = np.random.default_rng(rng.getrandbits(64)).random(count)
    return found
