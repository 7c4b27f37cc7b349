"""A winter small enough to reckon by hand: three boats, three bays alike, two stages each."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

from tests.cast import BayFactory, BoatFactory, Cast, SchemeFactory, StageNormFactory
from yard.actions.treatments import open_treatment
from yard.models import Scheme, Treatment

HERE = Path(__file__).parent
ARRIVES = date(2026, 12, 1)
NAMES = ("Alder", "Bramble", "Clover")


def engine(act: str) -> tuple[str, ...]:
    """The command of a simple engine that acts so: see `planning_engine`."""
    return (sys.executable, str(HERE / "planning_engine.py"), act)


def short_scheme(cast: Cast) -> Scheme:
    """Wash for two days, fair for three, in any bay."""
    scheme = SchemeFactory(yard=cast.yard, name="short")
    for position, kind, days in ((10, "wash", 2), (20, "fair", 3)):
        StageNormFactory(
            scheme=scheme,
            position=position,
            kind=kind,
            name=kind,
            place="any",
            days_low=days,
            days_likely=days,
            days_high=days,
        )
    return scheme


def small_winter(cast: Cast) -> list[Treatment]:
    """Open a short treatment for each of three boats; a third bay like the other two."""
    BayFactory(yard=cast.yard, air=cast.air, name="H3")
    scheme = short_scheme(cast)
    return [
        open_treatment(
            cast.manager,
            boat=BoatFactory(yard=cast.yard, owner=cast.owner, name=name),
            scheme=scheme,
            season=cast.season,
            arrives_on=ARRIVES,
            wanted_on=date(2027, 4, 1),
        )
        for name in NAMES
    ]
