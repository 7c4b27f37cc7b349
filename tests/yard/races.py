"""Many hands at once on one site, in threads with connections of their own: prints what came of it as JSON.

Run by test_races.py as a process of its own, since a test's database is one transaction that nobody else can
see.
"""

from __future__ import annotations

import json
import os
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from decimal import Decimal
from functools import partial
from threading import Barrier
from typing import Any
from uuid import uuid4

HANDS = 16


def at_once(jobs: Sequence[Callable[[], Any]]) -> list[Any]:
    """Do the jobs with as many hands as there are, all beginning together; a refusal is an answer."""
    from django.db import connection

    from yard.actions.base import Refused, Stale

    begin = Barrier(min(HANDS, len(jobs)))

    def do(number: int) -> Any:
        if number < begin.parties:
            begin.wait(30)
        try:
            return jobs[number]()
        except (Refused, Stale) as no:
            return no
        finally:
            connection.close()

    with ThreadPoolExecutor(begin.parties) as pool:
        return list(pool.map(do, range(len(jobs))))


def one_bay(cast: Any) -> dict[str, Any]:
    """Fifty boats into one bay."""
    from tests.cast import TODAY, BoatFactory
    from yard.actions.treatments import bring_in, open_treatment
    from yard.models import Stay

    treatments = [
        open_treatment(
            cast.manager,
            boat=BoatFactory(yard=cast.yard),
            scheme=cast.scheme,
            season=cast.season,
            arrives_on=TODAY,
        )
        for _ in range(50)
    ]
    answers = at_once(
        [lambda t=t: bring_in(cast.crew, treatment=t, bay=cast.bay, on=TODAY) for t in treatments]
    )
    holder = Stay.objects.get(bay=cast.bay).treatment.boat.name
    losers = [str(answer) for answer in answers if isinstance(answer, Exception)]
    return {"losers": len(losers), "told_who": sum(holder in said for said in losers)}


def pairs(cast: Any) -> dict[str, int]:
    """A hundred times two people save the same version of a bay, by the action."""
    from yard.actions.places import save_bay
    from yard.models import Bay

    count: Counter[str] = Counter()
    for _ in range(100):
        version = Bay.objects.get(pk=cast.bay.pk).version
        jobs = [
            lambda m=metres, v=version: save_bay(cast.manager, bay=cast.bay, version=v, length_m=Decimal(m))
            for metres in (10 + version % 2, 20 + version % 2)
        ]
        count.update(type(answer).__name__ for answer in at_once(jobs))
    return dict(count)


def pairs_unguarded(cast: Any) -> dict[str, int]:
    """The same by plain saves: the control, which shows that the race is a race."""
    from yard.models import Bay

    lost = 0
    for number in range(20):
        read = Barrier(2)

        def save(metres: int, read: Barrier = read) -> None:
            bay = Bay.objects.get(pk=cast.next_bay.pk)
            read.wait(30)
            bay.length_m = Decimal(metres)
            bay.save()

        answers = at_once([partial(save, number + 10), partial(save, number + 50)])
        lost += answers == [None, None]
    return {"both_thought_they_won": lost}


def twice(cast: Any) -> dict[str, int]:
    """Two hundred rounds, each sent twice under its key."""
    from tests.cast import TODAY
    from yard.actions.rounds import record_round
    from yard.actions.treatments import open_treatment
    from yard.models import Delivery, Entry, Reading, Round

    treatment = open_treatment(
        cast.manager, boat=cast.boat, scheme=cast.scheme, season=cast.season, arrives_on=TODAY
    )

    def send(day: date, key: Any) -> int:
        return record_round(
            cast.crew,
            treatment=treatment,
            meter=cast.meter,
            readings={"P1": Decimal(40)},
            day_on=day,
            sure=True,  # days in no order
            key=key,
        ).pk

    sent = [(TODAY - timedelta(days=back), uuid4()) for back in range(200)]
    answers = at_once([lambda d=day, k=key: send(d, k) for day, key in sent for _ in range(2)])
    return {
        "rounds": Round.objects.count(),
        "readings": Reading.objects.count(),
        "deliveries": Delivery.objects.count(),
        "entries": Entry.objects.filter(action="record_round").count(),
        "alike": sum(a == b for a, b in zip(answers[::2], answers[1::2], strict=True)),
    }


if __name__ == "__main__":
    os.environ["DJANGO_SETTINGS_MODULE"] = "yard.settings"
    import django

    django.setup()
    from tests.cast import Cast

    sys.stdout.write(json.dumps(globals()[sys.argv[1]](Cast())))
