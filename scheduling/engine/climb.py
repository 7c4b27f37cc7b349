"""The best prices, climbed to round by round: a proximal bundle method over the ways jobs were seen to take.

Of each job the ways seen so far are kept. At any prices the cheapest of them is at least what her insertion
would find, so together they are a model of the bound that is never too low. Each round moves from the best
prices to where that model is highest, less a penalty for the distance, and then asks the insertions
(Lemarechal 1975; parted by job as in Feltenmark & Kiwiel 2000). What the model is asked is solved the other
way round: mixtures of each job's ways that cost least with a price on what they take beyond what is there.
"""

from collections.abc import Callable

import numpy as np

from scheduling.engine.airprices import Modes
from scheduling.engine.compiled import Bools, Compiled, Ints, compile_problem, compiled_again
from scheduling.engine.prices import Dual, Floats, Way, in_parts, parts_of, told, whole
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import BoundPrices
from scheduling.engine.views import Prices

FIRST_STEP = 20.0
"""The first step, in lengths of one at whose end the bound would be as high as a plan if no job changed her
way; measured. One too long is soon cut."""
LONGER, SHORTER, GOOD = 3.0, 0.5, 0.5
"""How a step grows that brings a GOOD share of what the model says, and shrinks that brings nothing."""
SWEEPS, CLOSE, CLOSE_IN_PARTS, TURNS = 20, 0.1, 1.0, 4
"""Rounds over all jobs in which the model is solved, at most, or until so near [share of what it says], in
parts of the plans less so; and of Newton's rule along a line."""
NOWHERE = 1e-4
"""The share of the first step from which on steps lead nowhere."""
MOST_WAYS = 60
"""Ways kept of a job."""


class Climb:
    """The best prices found so far for a Problem, and the bound they prove."""

    def __init__(self, problem: Problem, above: int) -> None:
        """`above` [minor units] is the cost of any plan; it sets the length of the first step."""
        self.parts = parts_of(problem)
        compiled = compile_problem(in_parts(problem, self.parts))
        self.compiled: Compiled | None = compiled
        self.dual = Dual(compiled)
        self.above, self.air = above * self.parts, self.dual.air
        self.there, self.most = self.dual.there(), self.dual.most().ravel()
        self.tries = 0  # insertions made
        self.worth = np.zeros(self.there.size)  # of the most there is, in parts: the best prices
        self.value, self.best = -1, self.dual.prices(self.worth.reshape(self.there.shape))
        self.least: list[int] = []  # by job: what she pays at the best prices [parts]
        self.jobs = [Mixture() for _ in compiled.jobs]
        self.modes = Modes(self.dual.air, self.dual.first_air * self.there.shape[1], self.there.shape[1])
        self.step = self.first_step = 0.0
        self.close = CLOSE

    @property
    def bound(self) -> int:
        """[minor units] what no plan can cost less than."""
        return whole(self.value, self.parts)

    @property
    def settled(self) -> bool:
        """Whether there is nothing more to look for: any plan's cost is reached, or steps lead nowhere."""
        return self.value >= self.above or (self.value >= 0 and self.step < NOWHERE * self.first_step)

    def parted(self, problem: Problem, job_id: str, keeps: Callable[[Way], bool], above: int) -> "Climb":
        """A climb that goes on from these prices in the same yard with fewer ways open to one job.

        `problem` has its money in parts, as this one's has; `keeps` says of a way of hers whether it is
        still open in it. A bound of `above` [parts] is enough.
        """
        other = Climb.__new__(Climb)
        other.parts, other.above, other.tries = self.parts, above, 1
        other.there, other.most = self.there, self.most
        other.air = self.air  # that what it has learnt is of the same things
        before = self.compiled
        compiled = compiled_again(before, problem, job_id) if before is not None else compile_problem(problem)
        other.compiled, other.dual = compiled, Dual(compiled, self.air)
        other.step = self.first_step if self.settled else self.step
        other.first_step, other.close = self.first_step, CLOSE_IN_PARTS
        number = list(compiled.jobs).index(job_id)
        other.jobs = [mixture.only(keeps if n == number else None) for n, mixture in enumerate(self.jobs)]
        other.modes = self.modes.copy()
        least, way = other.dual.least(job_id, self.best)  # all others pay what they did
        other.jobs[number].see(way)
        other.least = [*self.least[:number], least, *self.least[number + 1 :]]
        other.worth, other.best = self.worth, self.best
        other.value = self.value - self.least[number] + least
        return other

    def shut(self, wholly: bool) -> None:
        """Let go of arrays: it can't be gone on with any more, but others can go on from it.

        Unless `wholly` those are kept that make it easy to go on from.
        """
        del self.dual
        self.best.paid.clear()
        if wholly:
            self.compiled = None

    def prices(self, scale: float = 1.0) -> Prices:
        """The best prices, each multiplied by `scale`, in whole minor units."""
        return self.best.times(scale / self.parts)

    def told(self) -> BoundPrices:
        """The best prices by name."""
        return told(self.dual, self.parts, self.best)

    def go_on(self, rounds: int, should_stop: Callable[[], bool] = lambda: False) -> None:
        """Look for better prices, in so many rounds with an insertion of each job."""
        for _ in range(rounds):
            if self.settled or should_stop():
                break
            if self.value < 0:
                self._look(self.worth)
                self._first_step()
                continue
            before = self.value
            worth, said = self._model()
            gain = self._look(worth) - before
            if gain <= 0:
                self.step *= SHORTER
            elif gain >= GOOD * (said - before):
                self.step *= LONGER

    def _look(self, worth: Floats) -> int:
        """The bound at these prices [parts]; they are kept if they are the best, and the ways in any case."""
        prices = self.dual.prices(worth.reshape(self.there.shape))
        value, found = self.dual.value(prices)
        self.tries += len(found)
        for job, (_, way) in zip(self.jobs, found, strict=True):
            job.see(way)
        if value > self.value:
            self.value, self.worth, self.best = value, worth, prices
            self.least = [least for least, _ in found]
        return value

    def _first_step(self) -> None:
        """So many steps, each of which would bring the bound to `above` if no job changed her way."""
        over = self._over()
        over[over < 0] = 0
        self.step = FIRST_STEP * (self.above - self.value) / max(float(over @ over), 1e-9)
        self.first_step = self.step

    def _over(self) -> Floats:
        """By how much the mixtures of ways take more than there is, less where it is left."""
        over = -self.there.ravel()
        for job in self.jobs:
            job.add_to(over)
        self.modes.add_to(over)
        return over

    def _model(self) -> tuple[Floats, float]:
        """The prices at which the model is highest within this step, and what it says there [parts].

        What no mixture can take too much of has no price, and is left away.
        """
        over, most = self._over(), np.zeros(self.there.size)
        for job in self.jobs:
            most += job.most(self.there.size)
        self.modes.add_most(most)
        live = (most > self.there.ravel()) | (self.worth > 0)
        live[:1] |= not live.any()  # that there is something to number
        for job in self.jobs:
            job.narrow(live)
        self.modes.narrow(live)
        centre, over, there, top = self.worth[live], over[live], self.there.ravel()[live], self.most[live]
        worth, fine = np.minimum(np.maximum(centre + self.step * over, 0), top), 0.0
        limit = top if np.isfinite(top).any() else None
        for _ in range(SWEEPS):
            said, off = -float(worth @ there), 0.0
            for job in self.jobs:
                least, more = job.mix(centre, worth, over, limit, self.step, fine)
                said, off = said + least, off + more
            least, more = self.modes.mix(centre, worth, over, self.step)
            said, off = said + least, off + more
            fine = self.close * max(said - self.value, 0) / len(self.jobs)
            if off <= fine * len(self.jobs):
                break
        said = -float(worth @ there) + sum(float(job.costs(worth).min()) for job in self.jobs)
        said += self.modes.least(worth)
        found = np.zeros(self.there.size)
        found[live] = worth
        return found, said


class Mixture:
    """The ways seen of one job, and how much of each is taken: 1 in all."""

    def __init__(self) -> None:
        self.ways: list[Way] = []
        self.share = np.zeros(0)

    def see(self, way: Way) -> None:
        """Keep a way, unless it is known; the first one is taken whole."""
        if any(way.same(known) for known in self.ways):
            return
        self.share = np.append(self.share, 0.0 if self.ways else 1.0)
        self.ways.append(way)
        if len(self.ways) > MOST_WAYS:
            gone = int(self.share[:-1].argmin())
            del self.ways[gone]
            self.share = np.delete(self.share, gone)
            self.share /= self.share.sum()

    def only(self, keeps: Callable[[Way], bool] | None) -> "Mixture":
        """A copy with these ways only, in the shares they had; all if None."""
        other = Mixture()
        kept = [n for n, way in enumerate(self.ways) if keeps is None or keeps(way)]
        other.ways, other.share = [self.ways[n] for n in kept], self.share[kept]
        if kept:
            total = other.share.sum()
            other.share = other.share / total if total > 0 else np.full(len(kept), 1 / len(kept))
        return other

    def add_to(self, over: Floats) -> None:
        """Add what the mixture takes."""
        for way, share in zip(self.ways, self.share, strict=True):
            over[way.at] += share * way.use

    def most(self, size: int) -> Floats:
        """The most that any of the ways takes of each of `size` things."""
        found = np.zeros(size)
        for way in self.ways:
            found[way.at] = np.maximum(found[way.at], way.use)
        return found

    def narrow(self, live: Bools) -> None:
        """The ways one after the other in flat arrays, with the live things only, numbered anew.

        Each way begins with nothing of the first thing, that none is empty.
        """
        number = live.cumsum() - 1
        ends = np.cumsum([len(w.at) for w in self.ways])
        starts = np.append(0, ends[:-1])
        at = np.insert(np.concatenate([w.at for w in self.ways]), starts, -1)
        use = np.insert(np.concatenate([w.use for w in self.ways]), starts, 0.0)
        kept = live[at] | (at < 0)
        self.at, self.use = number[at[kept]], use[kept]
        self.at[at[kept] < 0] = 0
        self.starts = (kept.cumsum() - 1)[starts + np.arange(len(starts))]
        self.ends, self.size = [*self.starts.tolist(), len(self.at)], int(live.sum())
        self.cost = np.array([w.cost for w in self.ways], dtype=float)
        self.pairs = dict[tuple[int, int], tuple[Ints, Floats]]()

    def costs(self, worth: Floats) -> Floats:
        """What each way costs at these prices of the live things."""
        found: Floats = self.cost + np.add.reduceat(worth[self.at] * self.use, self.starts)
        return found

    def mix(
        self, centre: Floats, worth: Floats, over: Floats, top: Floats | None, step: float, fine: float
    ) -> tuple[float, float]:
        """Shift from the dearest way taken to the cheapest one, as far as it pays; `worth` and `over` follow.

        No price is above `top`. The cost of the cheapest at the prices before, and by how much the mixture
        was dearer: up to `fine` it is left as it is.
        """
        costs = self.costs(worth)
        to, of = int(costs.argmin()), int(np.where(self.share > 0, costs, -np.inf).argmax())
        least = float(costs[to])
        more = float(costs @ self.share) - least
        if more <= fine or costs[of] <= least:
            return least, more
        at, change = self._change(to, of)
        bends, most, shift = step * change, float(self.share[of]), 0.0
        base, dearer = centre[at] + step * over[at], float(self.cost[to] - self.cost[of])
        upto = top[at] if top is not None else None
        for _ in range(TURNS):
            now = base + shift * bends
            free = now > 0
            paid = np.maximum(now, 0)
            if upto is not None:
                free &= now < upto
                paid = np.minimum(paid, upto)
            slope, bend = dearer + float(change @ paid), float(bends @ (change * free))
            before = shift
            shift = min(max(shift - slope / bend, 0.0), most) if bend else most * (slope < 0)
            if shift == before:
                break
        self.share[of] = self.share[of] - shift if shift < most else 0.0
        self.share[to] += shift
        over[at] += shift * change
        paid = np.maximum(base + shift * bends, 0)
        worth[at] = paid if upto is None else np.minimum(paid, upto)
        return least, more

    def _change(self, to: int, of: int) -> tuple[Ints, Floats]:
        """Of what one way takes more than another, and how much."""
        if (to, of) not in self.pairs:
            these, those = (slice(self.ends[n] + 1, self.ends[n + 1]) for n in (to, of))
            more = np.zeros(self.size)
            more[self.at[these]] = self.use[these]
            more[self.at[those]] -= self.use[those]
            at = more.nonzero()[0]
            self.pairs[to, of] = at, more[at]
        return self.pairs[to, of]
