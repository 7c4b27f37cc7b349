"""What is drawn for a winter: how far each amount leans, when holds end, which days weather stops what."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from scheduling.engine.handovers import Piece
from scheduling.engine.problem import Problem
from scheduling.engine.spreads import MILLE, Spread

Reals = npt.NDArray[np.float64]
Source = tuple[str, str]  # (job, the spread or step it is drawn for); no job = common to many


@dataclass(frozen=True, slots=True)
class Draws:
    """Standard normal draws, a row a source: the higher, the slower. `own` is what is not common."""

    runs: int
    own: dict[Source, Reals]
    common: dict[str, Reals]
    stopped: dict[str, npt.NDArray[np.bool_]]  # by resource: slot x run

    def of(self, job: str, name: str, spread: Spread) -> Reals:
        """How a spread leans for a job in each run."""
        own = self.own[job, name]
        if not spread.share_pct:
            return own
        share = spread.share_pct / 100
        leans: Reals = share**0.5 * self.common[spread.common] + (1 - share) ** 0.5 * own
        return leans


def drawn(problem: Problem, pieces: Sequence[Piece], runs: int, seed: int) -> Draws:
    """Everything that is drawn: the same for one name and seed whatever else there is, weather by the day.

    So a date that nothing has touched is the same when it is reckoned again.
    """
    placed = sorted(pieces, key=lambda piece: piece.index)
    sources: dict[Source, None] = {}
    for piece in placed:
        part = piece.step or piece.begun
        if part is not None and part.spread is not None:
            sources[piece.job.id, part.spread] = None
        if part is not None and part.until:
            sources[piece.job.id, held_name(piece)] = None
    names = sorted({problem.spreads[name].common for _, name in sources if name in problem.spreads} - {""})
    common = {name: _rng(seed, name).standard_normal(runs) for name in names}
    stopped = {
        resource.id: np.array(
            [
                _rng(seed, resource.id, day.isoformat()).random(runs) * MILLE < odds
                for day, odds in zip(problem.days, resource.lost, strict=True)
            ]
        )
        for resource in problem.resources
        if any(resource.lost)
    }
    own = {source: _rng(seed, *source).standard_normal(runs) for source in sources}
    return Draws(runs, own, common, stopped)


def _rng(seed: int, *names: str) -> np.random.Generator:
    return np.random.default_rng([seed, *(int.from_bytes(name.encode()) for name in names)])


def case_of(cases: Sequence[int], leans: Reals) -> npt.NDArray[np.int64]:
    """The case of each run: all are equally likely, and the higher it leans the later the case."""
    count = len(cases)
    edges = [NormalDist().inv_cdf(i / count) for i in range(1, count)]
    return np.array(cases, dtype=np.int64)[np.searchsorted(edges, leans)]


def held_name(piece: Piece) -> str:
    """The name under which the end of a hold is drawn."""
    return f"{piece.time.step} held"
