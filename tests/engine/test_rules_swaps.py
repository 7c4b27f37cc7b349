"""Swaps in the model against trial of everything: few places, most of them full when the axis starts."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

from scheduling.engine.problem import Place, Posted, Problem, Resource
from scheduling.engine.rules.swaps import cycles_of
from tests.engine.brute import cheapest
from tests.engine.model import solved, total
from tests.engine.tiny import begun, broken, job, problem, step, working_days


def full_yard(seed: int) -> Problem:
    """Three or four boats in three or four places, pools and overfull places among them, over six slots."""
    rng = random.Random(seed)
    places = [
        Place(id="a", room=rng.choice((1, 1, 2))),
        Place(id="b", room=rng.choice((1, 2))),
        Place(id="c"),
    ]
    if rng.random() < 0.4:
        limits, closed = {"length": rng.choice((5, 9))}, rng.choice(((), ((2, 4),)))
        places.append(Place(id="d", limits=limits, closed=closed))
    bays = [place.id for place in places for _ in range(place.room)]
    rng.shuffle(bays)
    if seed % 3 == 0:
        bays[0] = bays[1]  # two boats where there may be room for one
    boats = []
    for number in range(rng.choice((3, 4))):
        steps = []
        for name in range(rng.choice((1, 1, 2))):
            some = rng.sample("abc", rng.choice((1, 1, 2)))
            posted = Posted(place=rng.choice(some), start=rng.randrange(1, 4)) if rng.random() < 0.6 else None
            steps.append(step(f"s{name}", rng.choice((1, 1, 2)), *some, posted=posted))
        under_way = number < len(bays) and rng.random() < 0.85
        boats.append(
            job(
                f"j{number}",
                *steps,
                begun=begun(bays[number], rng.choice((0, 1, 1, 2))) if under_way else None,
                size={"length": rng.choice((4, 8))},
                due=working_days(3)[rng.randrange(3)],
                late_price=rng.choice((5, 30)),
                drop_price=rng.choice((200, 900)),
            )
        )
    return problem(
        *boats,
        slots=6,
        places=tuple(places),
        move_price=rng.choice((1, 10)),
        change_price=rng.choice((0, 40)),
        mover="mover",
        resources=(Resource(id="mover", capacity=(rng.choice((2, 3, 5)),) * 6),),
    )


def test_in_full_yards_the_model_finds_what_trial_of_everything_finds(test_size: str):
    kinds: Counter[str] = Counter()
    for seed in range({"small": 45, "full": 300, "soak": 3000}[test_size]):
        told = full_yard(seed)
        answer = solved(told)
        assert answer.status == "proven", seed
        assert broken(told, answer.schedule) == [], seed
        assert cheapest(told, known=(answer.total, answer.schedule))[0] == answer.total, seed
        kinds.update(type(cycle).__name__ for cycle in cycles_of(told, answer.schedule))
        kinds["dearer"] += answer.total > total(replace(told, swaps="free"))
    assert kinds["dearer"] >= 5
    assert kinds["Ring"] + kinds["Crowd"] >= 1
