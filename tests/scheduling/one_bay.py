"""Three boats that follow each other through one bay, five working days each: who moves for
whom is reckoned on the fingers."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from scheduling.models import Board, Placement, Plan
from tests.cast import Cast
from tests.scheduling.winter import small_winter
from yard.models import Bay, Treatment

POSTED = {"Alder": date(2026, 12, 1), "Bramble": date(2026, 12, 8), "Clover": date(2026, 12, 15)}
"""Each boat's first day, a Tuesday: wash Tuesday and Wednesday, fair Thursday to Monday."""


def one_bay(cast: Cast, placed: Iterable[str] = POSTED) -> dict[str, Treatment]:
    """The small winter with the bay H1 alone, and a plan of the boats `placed` posted; the boats by name."""
    treatments = {treatment.boat.name: treatment for treatment in small_winter(cast)}
    Bay.objects.exclude(pk=cast.bay.pk).update(retired_on=date(2026, 11, 1))
    post(cast, {name: treatments[name] for name in placed})
    return treatments


def post(cast: Cast, treatments: dict[str, Treatment]) -> Plan:
    """Post the plan in which each of these boats comes on her day of `POSTED`."""
    now = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
    plan = Plan.objects.create(
        yard=cast.yard, season=cast.season, number=1, made_by="hand", made_at=now, posted_at=now
    )
    for name, treatment in treatments.items():
        first = POSTED[name]
        wash, fair = treatment.stages.order_by("position")
        for stage, offset, last in ((wash, 0, 1), (fair, 2, 6)):
            Placement.objects.create(
                plan=plan,
                stage=stage,
                label=stage.name,
                bay=cast.bay,
                first_day=first + timedelta(days=offset),
                last_day=first + timedelta(days=last),
                leaves_on=first + timedelta(days=last + 1),
            )
    Board.objects.create(season=cast.season, posted=plan)
    return plan
