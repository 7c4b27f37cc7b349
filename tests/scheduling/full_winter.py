"""A yard of the size the pages must carry: 32 boats, 36 bays, a posted plan half begun and a draft beside it.

The plan is laid out by a plain rule, not packed: the pages draw what they are given.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from math import cos, pi
from typing import Any

from scheduling.models import Board, Placement, Plan, Unplaced
from tests.cast import (
    TODAY,
    AirFactory,
    BayFactory,
    BoatFactory,
    Cast,
    HoistFactory,
    OwnerFactory,
    SchemeFactory,
    ShedFactory,
    StageNormFactory,
)
from yard.actions.treatments import open_treatment
from yard.models import (
    Air,
    Bay,
    Demand,
    Lane,
    Promise,
    Shed,
    Skill,
    Stage,
    Stay,
    TideTable,
    TideWater,
    Treatment,
    Yard,
    YardSettings,
)

DAY = timedelta(days=1)
NAMES = [
    "Alder",
    "Bramble",
    "Clover",
    "Dogwood",
    "Elder",
    "Fennel",
    "Gorse",
    "Hazel",
    "Ivy",
    "Juniper",
    "Knotgrass",
    "Larch",
    "Mallow",
    "Nettle",
    "Oxeye",
    "Privet",
    "Quince",
    "Rowan",
    "Sorrel",
    "Thistle",
    "Umber",
    "Vetch",
    "Willow",
    "Yarrow",
    "Aster",
    "Burdock",
    "Campion",
    "Dock",
    "Eyebright",
    "Foxglove",
    "Gentian",
    "Heather",
]
STAGES = (
    # kind, name, place, days, parts
    ("lift", "Lift and weigh", "dock", 1, 1),
    ("strip", "Strip fittings", "any", 3, 1),
    ("peel", "Peel", "outside", 2, 1),
    ("wash", "Wash", "outside", 4, 1),
    ("dry", "Dry", "any", 30, 2),
    ("fair", "Fill and fair", "heat", 5, 1),
    ("coat", "Coats", "heat", 4, 1),
    ("antifoul", "Antifoul", "heat", 1, 1),
    ("cure", "Cure", "heat", 5, 1),
    ("relaunch", "Relaunch", "dock", 1, 1),
)


class FullWinter:
    """The cast's yard, filled."""

    def __init__(self, cast: Cast) -> None:
        self.cast = cast
        self.heated = [cast.bay, cast.next_bay] + [
            self._bay(f"H{number}", cast.air) for number in range(3, 8)
        ]
        self.cold = self._cold()
        self.pad = self._open("P", 3, drained=True)
        self.ground = self._open("S", 20)
        HoistFactory(yard=cast.yard)
        Shed.objects.filter(pk=cast.shed.pk).update(door_width_m=5, door_height_m=5)
        self.skill = Skill.objects.create(yard=cast.yard, name="fair")
        self.scheme = self._scheme()
        self.treatments = [self._treatment(number, name) for number, name in enumerate(NAMES)]
        self.free = {bay.pk: TODAY for bay in [*self.heated, *self.cold, *self.pad, *self.ground]}
        self._facts()
        self.posted = self._plan(1, posted=True)
        self.draft = self._plan(2, posted=False)
        Board.objects.create(season=cast.season, posted=self.posted, draft=self.draft)
        tides_by_formula(cast.yard)

    def _bay(self, name: str, air: Air, **fields: Any) -> Bay:
        return BayFactory(yard=self.cast.yard, air=air, name=name, **fields)

    def _cold(self) -> list[Bay]:
        shed = ShedFactory(yard=self.cast.yard, name="C", door_width_m=5, door_height_m=5)
        air = AirFactory(shed=shed, name="C", kind="unheated", day_c=None)
        lanes = [Lane.objects.create(shed=shed, name=name) for name in ("1", "2")]
        return [
            self._bay(f"C{number + 1}", air, lane=lanes[number // 3], lane_place=number % 3 + 1)
            for number in range(6)
        ]

    def _open(self, letter: str, count: int, *, drained: bool = False) -> list[Bay]:
        shed = ShedFactory(yard=self.cast.yard, name=letter, drained=drained)
        air = AirFactory(shed=shed, name=letter, kind="open", day_c=None)
        return [self._bay(f"{letter}{number}", air) for number in range(1, count + 1)]

    def _scheme(self) -> Any:
        scheme = SchemeFactory(yard=self.cast.yard, name="whole")
        for number, (kind, name, place, days, parts) in enumerate(STAGES):
            norm = StageNormFactory(
                scheme=scheme, position=10 * number + 10, kind=kind, name=name, place=place, parts=parts,
                days_low=days, days_likely=days, days_high=days,
            )  # fmt: skip
            if kind == "fair":
                Demand.objects.create(scheme_stage=norm, skill=self.skill, hours_fixed=30)
            if kind == "dry":
                Demand.objects.create(scheme_stage=norm, skill=self.skill, hours_fixed=1, every_d=7)
        return scheme

    def _treatment(self, number: int, name: str) -> Treatment:
        yard = self.cast.yard
        owner = OwnerFactory(yard=yard, name=f"Owner of {name}", phone=f"01632 9600{number:02}")
        treatment = open_treatment(
            self.cast.manager,
            boat=BoatFactory(yard=yard, owner=owner, name=name, type="sloop"),
            scheme=self.scheme,
            season=self.cast.season,
            arrives_on=TODAY + timedelta(days=2 * number - 30),
            wanted_on=date(2027, 3, 1) + timedelta(days=2 * number),
        )
        if number % 2 == 0:
            Promise.objects.create(
                treatment=treatment, kind="week", promised_on=treatment.wanted_on, said_on=TODAY, how="phone"
            )
        return treatment

    def _facts(self) -> None:
        """The first six dry in heat, the next four stand on the ground with nothing begun but the lift."""
        for number, treatment in enumerate(self.treatments[:10]):
            bay = self.heated[number] if number < 6 else self.ground[number - 6]
            came = TODAY - timedelta(days=20 - number)
            Stay.objects.create(yard=treatment.yard, treatment=treatment, bay=bay, from_on=came)
            Treatment.objects.filter(pk=treatment.pk).update(state="here", arrived_on=came)
            stages = treatment.stages.order_by("position")
            for place, stage in enumerate(stages):
                if place < (4 if number < 6 else 1):
                    Stage.objects.filter(pk=stage.pk).update(status="done", started_on=came, finished_on=came)
                elif place == 4 and number < 6:
                    Stage.objects.filter(pk=stage.pk).update(status="running", started_on=came + DAY)

    def _plan(self, number: int, *, posted: bool) -> Plan:
        now = datetime(2026, 11, 24, 10, 42, tzinfo=UTC)
        says = "H3 is taken until Fri 5 Mar."
        kept = {str(self.treatments[30].pk): {"rule": "stand", "says": says, "days": 3}}
        plan = Plan.objects.create(
            yard=self.cast.yard, season=self.cast.season, number=number, made_by="pack", made_at=now,
            cost={"late": 42000 * number, "moves": 360000, "heat": 614000},
            bound=900000, late_days=7 * number,
            late_boats=2, posted_at=now if posted else None, kept=kept,
        )  # fmt: skip
        free = dict(self.free)
        for treatment in self.treatments[:-1]:
            self._place(plan, treatment, free, late=0 if posted else 2)
        Unplaced.objects.create(
            plan=plan,
            treatment=self.treatments[-1],
            rule="fit",
            says="Heather, 14.6 m, fits no bay with heat.",
        )
        return plan

    def _place(self, plan: Plan, treatment: Treatment, free: dict[int, date], *, late: int) -> None:
        """Lay one boat's open stages: outside, cold, heat, water; each bay is hers from when it is free."""
        at = max(TODAY, treatment.arrives_on) + timedelta(days=late if treatment.pk % 3 == 0 else 0)
        bay: Bay | None = None
        rows: list[dict[str, Any]] = []
        stages = list(treatment.stages.order_by("position"))
        for stage in [stage for stage in stages if stage.status != "done"]:
            for part in range(1, stage.parts + 1):
                wanted = self._where(stage, part, treatment)
                if wanted is None:
                    bay = None
                elif bay is None or bay not in wanted:
                    mine = [b for b in wanted if treatment.stays.filter(bay=b).exists()] if not rows else []
                    bay = mine[0] if mine else min(wanted, key=lambda b: (free[b.pk], b.pk))
                    at = at if mine else max(at, free[bay.pk])
                last = at + timedelta(days=round(stage.days_likely / stage.parts) - 1)
                rows.append({
                    "stage": stage, "part": part if stage.parts > 1 else 0, "label": f"{stage.name} {part}",
                    "bay": bay, "regime": ("cold", "tent")[part - 1] if stage.kind == "dry" else "",
                    "first_day": at, "last_day": last,
                })  # fmt: skip
                if bay:
                    free[bay.pk] = last + DAY
                at = last + DAY
        placements = []
        for row, following in zip(rows, [*rows[1:], None], strict=True):
            leaves = following["first_day"] if following else row["last_day"] + DAY
            if row["bay"]:
                free[row["bay"].pk] = max(free[row["bay"].pk], leaves)
            placements.append(Placement(plan=plan, leaves_on=max(leaves, row["last_day"] + DAY), **row))
        Placement.objects.bulk_create(placements)

    def _where(self, stage: Stage, part: int, treatment: Treatment) -> list[Bay] | None:
        if stage.kind in ("lift", "relaunch"):
            return None
        if stage.kind in ("strip", "peel", "wash"):
            return [*self.pad, *self.ground[:6]]
        if stage.kind == "dry" and part == 1 and not treatment.stays.filter(bay__in=self.heated).exists():
            return self.cold
        return self.heated


def tides_by_formula(yard: Yard) -> None:
    """High water by a formula: springs at dawn and dusk every fortnight."""
    YardSettings.objects.filter(yard=yard).update(sill_level_m=2)
    year = TideTable.objects.create(yard=yard, place="dock", datum="chart", source="none", year=2026)
    start = datetime(2026, 11, 1, 5, 54, tzinfo=UTC)
    waters = []
    for number in range(460):
        at = start + number * timedelta(hours=12, minutes=25)
        low_at = at + timedelta(hours=6, minutes=12)
        high = 4.45 + cos(2 * pi * number / 28.5)
        waters.append(TideWater(table=year, at=at, height_m=round(high, 2), is_high=True))
        waters.append(TideWater(table=year, at=low_at, height_m=round(5.9 - high, 2), is_high=False))
    TideWater.objects.bulk_create(waters)
