"""What bounds are worth: beside a linear programme, and what each rule left away by prices costs a plan."""

import time
from collections.abc import Callable, Iterator
from dataclasses import replace

from scheduling.engine.climb import Climb
from scheduling.engine.compiled import compile_problem
from scheduling.engine.improve import first_plan, start_search
from scheduling.engine.problem import Job, Option, Place, Problem, Step
from scheduling.engine.solve import solve
from tests.engine.columns import best_by_columns


def below_columns(told: Problem, seconds: float) -> float:
    """[%] by how much the bound after so many seconds of the processor is below the linear programme's."""
    above, began = first_plan(compile_problem(told)).total, time.process_time()
    climb = Climb(told, above)
    climb.go_on(10**6, lambda: time.process_time() - began >= seconds)
    value, _ = best_by_columns(told, above)
    return 100 * (value - climb.bound) / value


def alone_s(told: Problem) -> float:
    """[s] of the processor to find out what each boat would cost alone, the least of five."""
    took = []
    for _ in range(5):
        compiled = compile_problem(told)
        began = time.process_time()
        start_search(compiled)
        took.append(time.process_time() - began)
    return min(took)


def without_lanes(told: Problem) -> Problem:
    """Nobody stands in anybody's way."""
    return replace(told, places=tuple(replace(p, lane=None, depth=None) for p in told.places))


def without_air(told: Problem) -> Problem:
    """No dust spoils anything."""
    return replace(told, places=tuple(replace(p, air=None) for p in told.places))


def pools_only(told: Problem) -> Problem:
    """The bays of each lane as one pool, and no air; who is pinned to one of them is pinned to the pool."""
    lanes: dict[str, list[Place]] = {}
    for place in told.places:
        lanes.setdefault(place.lane or place.id, []).append(place)
    name = {place.id: lane for lane, places in lanes.items() for place in places}
    pools = [
        replace(
            places[0],
            id=lane,
            room=sum(place.room for place in places),
            units=tuple(place.id for place in places) if len(places) > 1 else places[0].units,
            lane=None,
            depth=None,
            air=None,
        )
        for lane, places in lanes.items()
    ]

    def option(old: Option) -> Option:
        return replace(old, places=tuple(dict.fromkeys(name[place] for place in old.places)))

    def step(old: Step) -> Step:
        posted = old.posted and replace(old.posted, place=name[old.posted.place])
        pinned = old.pin_place and name[old.pin_place]
        return replace(old, options=tuple(map(option, old.options)), pin_place=pinned, posted=posted)

    def job(old: Job) -> Job:
        begun = old.begun
        if begun is not None:
            bay = begun.place if len(lanes[name[begun.place]]) > 1 else begun.unit
            begun = replace(begun, place=name[begun.place], unit=bay, option=option(begun.option))
        return replace(old, begun=begun, steps=tuple(map(step, old.steps)))

    return replace(told, places=tuple(pools), airs=(), jobs=tuple(map(job, told.jobs)))


def free_swaps(told: Problem) -> Problem:
    """Boats change round among full places without another trip or a free place."""
    return replace(told, swaps="free")


RELAXED: dict[str, Callable[[Problem], Problem]] = {
    "no lanes": without_lanes,
    "no air": without_air,
    "free swaps": free_swaps,
    "none of the three": lambda told: free_swaps(without_air(without_lanes(told))),
}
"""The rules that prices leave away, taken from the yard itself."""


def relaxed(told: Problem, work: int, seed: int = 1) -> Iterator[tuple[str, int]]:
    """[minor units] what the plan costs after so many insertions: as it is, then with rules taken away."""
    for name, taken in {"as it is": lambda told: told, **RELAXED}.items():
        yield name, solve(taken(told), work=work, workers=1, seed=seed).total
