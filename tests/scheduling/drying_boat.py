"""One boat that dries: washed on the pad, in a tent since 10 November, read weekly, and a posted plan."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from scheduling.loading.boatdrying import BoatDrying, read_boat_drying
from scheduling.loading.winter import read_winter
from scheduling.models import Board, Placement, Plan
from tests.cast import TODAY, AirFactory, BayFactory, Cast, MeterFactory, PersonFactory, ShedFactory
from yard.actions.treatments import open_treatment
from yard.models import Bay, DrySigned, Meter, Reading, Round, Spot, Stage, Stay, Treatment, WashRecord

CAME, INTO_HEAT = date(2026, 10, 1), date(2026, 11, 10)
WASHES = (date(2026, 10, 20), date(2026, 10, 27))
LEVELS = {
    date(2026, 10, 24): 56,  # before the last wash
    date(2026, 10, 28): 55,  # within 48 h of it
    date(2026, 11, 3): 50,
    INTO_HEAT: 47,
    date(2026, 11, 17): 38,
    TODAY: 31,
}
"""What spot P1 read; S1 reads 4 less, so the level of two spots is P1's."""
TOPSIDE = 14


class DryingBoat:
    """Teasel of the cast, her facts, and a posted plan that takes her out of the tent on 7 December."""

    def __init__(
        self, cast: Cast, levels: Mapping[date, int] = LEVELS, *, parts: tuple[int, ...] = (1, 2)
    ) -> None:
        self.cast = cast
        self.meter = MeterFactory(yard=cast.yard, name="deep meter")
        Bay.objects.filter(pk=cast.bay.pk).update(tent_size="M")
        ground = ShedFactory(yard=cast.yard, name="P", drained=True)
        self.pad = BayFactory(
            yard=cast.yard, air=AirFactory(shed=ground, name="P", kind="open", day_c=None), name="P1"
        )
        self.treatment: Treatment = open_treatment(
            cast.manager, boat=cast.boat, scheme=cast.scheme, season=cast.season, arrives_on=CAME
        )
        Treatment.objects.filter(pk=self.treatment.pk).update(state="here", arrived_on=CAME)
        Stay.objects.create(
            yard=cast.yard, treatment=self.treatment, bay=self.pad, from_on=CAME, until_on=INTO_HEAT
        )
        Stay.objects.create(yard=cast.yard, treatment=self.treatment, bay=cast.bay, from_on=INTO_HEAT)
        self.set("lift", status="done", started_on=CAME, finished_on=CAME)
        self.set("peel", status="done", started_on=CAME, finished_on=CAME)
        self.set("dry", status="running", started_on=date(2026, 10, 20), tented=True)
        for day in WASHES:
            WashRecord.objects.create(stage=self.stage("dry"), day_on=day)
        for day, value in levels.items():
            self.read(day, {"P1": value, "S1": value - 4, "T1": TOPSIDE})
        self._plan(parts)

    def stage(self, kind: str) -> Stage:
        return Stage.objects.get(treatment=self.treatment, kind=kind)

    def set(self, kind: str, **fields: Any) -> None:
        Stage.objects.filter(treatment=self.treatment, kind=kind).update(**fields)

    def read(self, day: date, values: Mapping[str, float], meter: Meter | None = None) -> None:
        taken = Round.objects.create(treatment=self.treatment, meter=meter or self.meter, day_on=day)
        for code, value in values.items():
            spot = Spot.objects.get(boat=self.cast.boat, code=code)
            Reading.objects.create(round=taken, spot=spot, value=Decimal(str(value)))

    def sign(self, on: date, **fields: Any) -> DrySigned:
        by = PersonFactory(yard=self.cast.yard, name="Foreman")
        return DrySigned.objects.create(treatment=self.treatment, by=by, signed_on=on, **fields)

    def drying(self) -> BoatDrying:
        """As her page reckons it on the demo's day."""
        winter = read_winter(self.cast.yard, TODAY)
        assert winter is not None
        boat = winter.boat(self.treatment.pk)
        assert boat is not None
        return read_boat_drying(winter, boat)

    def _plan(self, parts: tuple[int, ...]) -> None:
        """A posted plan with those parts of her drying."""
        now = datetime(2026, 11, 24, 10, 42, tzinfo=UTC)
        plan = Plan.objects.create(
            yard=self.cast.yard,
            season=self.cast.season,
            number=1,
            made_by="pack",
            made_at=now,
            posted_at=now,
        )
        for kind, part, bay, regime, first, last, leaves in (
            ("dry", 1, self.cast.bay, "tent", INTO_HEAT, date(2026, 12, 6), date(2026, 12, 7)),
            ("dry", 2, self.pad, "weather", date(2026, 12, 7), date(2027, 1, 20), date(2027, 2, 1)),
            ("coat", 0, self.cast.bay, "", date(2027, 2, 1), date(2027, 2, 5), date(2027, 2, 6)),
        ):
            if kind == "dry" and part not in parts:
                continue
            Placement.objects.create(
                plan=plan,
                stage=self.stage(kind),
                part=part,
                bay=bay,
                regime=regime,
                first_day=first,
                last_day=last,
                leaves_on=leaves,
            )
        Board.objects.create(season=self.cast.season, posted=plan)
