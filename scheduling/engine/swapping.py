"""Boats that change round among full places in one slot, and the free place that takes.

Asked for a slot as it is, or with one boat more there: `job` stands in place `come_from` before slot x and in
`go_to` from x on; -1 = nowhere.
"""

from collections.abc import Sequence

from scheduling.engine.compiled import Compiled, Ints
from scheduling.engine.cost import rings

Trip = tuple[int, int, str]  # from place, to place, who
Ring = tuple[frozenset[int], tuple[str, ...]]  # places, boats


def knotted(arrows: Sequence[Trip]) -> bool:
    """Whether there can be a swap cycle among these arrows."""
    return len(arrows) > 1 and len({a for a, _, _ in arrows} & {b for _, b, _ in arrows}) > 1


def rings_at(
    compiled: Compiled,
    here: Ints,
    arrows: Sequence[Trip],
    x: int,
    job: str = "",
    come_from: int = -1,
    go_to: int = -1,
) -> list[Ring]:
    """The swap cycles of these arrows at slot x, where so many stand `here` (places x slots)."""
    if come_from >= 0 and go_to >= 0 and come_from != go_to:
        arrows = (*arrows, (come_from, go_to, job))
    if not knotted(arrows):
        return []
    before = here[:, x - 1] if x else compiled.begun_at
    full = ((before >= compiled.room) & (here[:, x] >= compiled.room)).tolist()
    for place in {come_from, go_to} - {-1}:
        room, was = compiled.room[place], before[place]
        if x:
            was = was + _counts(compiled, job, place, x - 1, come_from)
        full[place] = was >= room and here[place, x] + _counts(compiled, job, place, x, go_to) >= room
    inside = [(a, b, who) for a, b, who in arrows if full[a] and full[b]]
    found = rings([(a, b) for a, b, _ in inside])
    return [(ring, tuple(who for a, b, who in inside if a in ring and b in ring)) for ring in found]


def has_free_place(compiled: Compiled, here: Ints, x: int, ring: Ring, job: str, go_to: int) -> bool:
    """Whether one of the boats of a swap cycle can be put somewhere else meanwhile."""
    for z, place in enumerate(compiled.problem.places):
        if place.lane is not None or z in ring[0] or compiled.closed[z, x]:
            continue
        if here[z, x] + _counts(compiled, job, z, x, go_to) >= compiled.room[z]:
            continue
        if any(compiled.fits(compiled.jobs[boat], z) for boat in ring[1]):
            return True
    return False


def _counts(compiled: Compiled, job: str, place: int, x: int, stands: int) -> int:
    """1 if the boat that stands in `stands` is to be added at slot x (her facts are counted already)."""
    if place != stands or not job:
        return 0
    begun = compiled.jobs[job].begun
    known = begun is not None and compiled.place_index[begun.place] == place and x < begun.end
    return 0 if known else 1
