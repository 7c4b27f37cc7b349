"""Prices in a lane: of standing in front when somebody passes, and of passing her who stands there.

Of each pair of places, one in front of the other, and each slot: either somebody stands in front and stays,
or somebody comes in behind, not both (rule 4); and the same of going. Where who stands in front can be moved,
both can be for the price of a shunt, so from her no more than that is asked. Relaxed like all else that
prices see, such a row is worth what it asks of both, less what it would cost if both were there by halves.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scheduling.engine.compiled import Compiled, Ints
from scheduling.engine.cost import option_of, stays_of
from scheduling.engine.problem import Job
from scheduling.engine.schedule import StepTime

KINDS = 4  # blocks of rows: comes and goes against who can't be moved; comes and goes against anybody
Pair = tuple[int, int]  # (place in front, place behind it)


@dataclass(frozen=True, slots=True)
class LaneCharges:
    """By place and slot [minor units]: what it costs to be where others pass, and to pass."""

    fixed: Ints  # to stand on across the slot's border for who can't be moved ...
    movable: Ints  # ... and for who can
    come: Ints  # to come to a place behind others
    go: Ints  # to go from there
    rows: Ints  # KINDS x pairs x slots: what each row is worth, from which all this is worked out

    def times(self, scale: float) -> "LaneCharges":
        """These prices, each multiplied by `scale` and rounded down."""
        lines = (self.fixed, self.movable, self.come, self.go, self.rows)
        return LaneCharges(*(np.floor(line * scale).astype(np.int64) for line in lines))


def pairs_of(compiled: Compiled) -> list[Pair]:
    """The pairs of places of a lane with room for one, in each of which at most one has begun."""
    one = (compiled.room == 1) & (compiled.begun_at <= 1)
    places = range(len(one))
    return [(f, b) for b in places for f in compiled.shallower[b] if one[f] and one[b]]


def divided(lines: Ints, shunt_price: int) -> Ints:
    """KINDS x pairs x slots, as much as possible asked of everybody.

    `lines` is 2 x pairs x slots, for coming and for going: what is asked of who can't be moved. Never less is
    proven so than with another division.
    """
    anybody = np.minimum(lines, shunt_price)
    return np.concatenate([lines - anybody, anybody])


def charges_of(compiled: Compiled, pairs: Sequence[Pair], rows: Ints) -> LaneCharges:
    """What the prices of the rows, KINDS x pairs x slots, ask of one job in each place and slot."""
    fixed, movable, come, go = (np.zeros((len(compiled.room), compiled.slots), np.int64) for _ in range(4))
    for number, (front, behind) in enumerate(pairs):
        comes, goes = rows[0, number] + rows[2, number], rows[1, number] + rows[3, number]
        fixed[front] += comes + goes
        movable[front] += rows[2, number] + rows[3, number]
        come[behind] += comes
        go[behind] += goes
    return LaneCharges(fixed, movable, come, go, rows)


def uses_of(compiled: Compiled, pairs: Sequence[Pair], job: Job, times: Sequence[StepTime]) -> Ints:
    """KINDS x pairs x slots: what a job's way takes of the rows.

    While what has begun lasts it is a fact, and in the way of the others without a price.
    """
    uses = np.zeros((KINDS, len(pairs), compiled.slots), dtype=np.int64)
    known = job.begun.end if job.begun is not None else 0
    stays = [(compiled.place_index[stay.place], stay) for stay in stays_of(job.id, times)]
    for number, (front, behind) in enumerate(pairs):
        for place, stay in stays:
            if place == behind:
                if stay.start >= 0:
                    uses[0::2, number, stay.start] += 1
                if stay.end < compiled.slots:
                    uses[1::2, number, stay.end] += 1
            elif place == front:
                for piece in stay.pieces:
                    first = max(piece.start + (piece.start == stay.start), known, 0)
                    kinds = slice(2, 4) if option_of(job, piece).movable else slice(0, 4)
                    uses[kinds, number, first : piece.leaves] += 1
    return uses
