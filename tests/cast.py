"""Who and what the tests play with: a small yard, its people, a stranger, and another yard."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from typing import Any, TypeVar

import factory
from django.db import transaction
from factory.django import DjangoModelFactory

from yard.models import (
    Air,
    Bay,
    Boat,
    Demand,
    Hoist,
    Hold,
    Kit,
    Membership,
    Meter,
    Owner,
    Person,
    Scheme,
    SchemeStage,
    Season,
    Shed,
    Skill,
    Spot,
    User,
    Yard,
    YardSettings,
)
from yard.roles import Actor

TODAY = date(2026, 11, 24)
PASSWORD = "only in tests"  # noqa: S105
T = TypeVar("T")


@contextmanager
def made_once(make: Callable[[], T], blocker: Any) -> Iterator[T]:
    """Make records that all tests of a file begin with; each test's own changes are taken back to them."""
    with blocker.unblock(), transaction.atomic():
        yield make()
        transaction.set_rollback(True)


class YardFactory(DjangoModelFactory[Yard]):
    class Meta:
        model = Yard
        skip_postgeneration_save = True

    name = factory.Sequence(lambda n: f"Yard {n}")
    slug = factory.Sequence(lambda n: f"yard-{n}")
    settings = factory.RelatedFactory("tests.cast.SettingsFactory", factory_related_name="yard")


class SettingsFactory(DjangoModelFactory[YardSettings]):
    class Meta:
        model = YardSettings


class SeasonFactory(DjangoModelFactory[Season]):
    class Meta:
        model = Season

    yard = factory.SubFactory(YardFactory)
    name = factory.Sequence(lambda n: f"winter {n}")
    first_day = date(2026, 10, 1)
    last_day = date(2027, 5, 31)


class ShedFactory(DjangoModelFactory[Shed]):
    class Meta:
        model = Shed

    yard = factory.SubFactory(YardFactory)
    name = factory.Sequence(lambda n: f"shed {n}")


class AirFactory(DjangoModelFactory[Air]):
    class Meta:
        model = Air

    shed = factory.SubFactory(ShedFactory)
    name = factory.Sequence(lambda n: f"air {n}")
    kind = "heated"
    day_c = 16


class BayFactory(DjangoModelFactory[Bay]):
    """A bay in an air of the same yard and shed."""

    class Meta:
        model = Bay

    yard = factory.SubFactory(YardFactory)
    air = factory.SubFactory(AirFactory, shed__yard=factory.SelfAttribute("...yard"))
    shed = factory.LazyAttribute(lambda bay: bay.air.shed)
    name = factory.Sequence(lambda n: f"B{n}")
    length_m = 12
    beam_m = 4
    height_m = 5
    load_t = 12


class OwnerFactory(DjangoModelFactory[Owner]):
    class Meta:
        model = Owner

    yard = factory.SubFactory(YardFactory)
    name = factory.Sequence(lambda n: f"Owner {n}")


class BoatFactory(DjangoModelFactory[Boat]):
    class Meta:
        model = Boat

    yard = factory.SubFactory(YardFactory)
    name = factory.Sequence(lambda n: f"Boat {n}")
    length_m = 10
    beam_m = 3
    draught_m = 1.5
    stand_height_m = 3.5
    displacement_t = 5


class SkillFactory(DjangoModelFactory[Skill]):
    class Meta:
        model = Skill

    yard = factory.SubFactory(YardFactory)
    name = factory.Sequence(lambda n: f"skill {n}")


class PersonFactory(DjangoModelFactory[Person]):
    class Meta:
        model = Person

    yard = factory.SubFactory(YardFactory)
    name = factory.Sequence(lambda n: f"Person {n}")


class MeterFactory(DjangoModelFactory[Meter]):
    class Meta:
        model = Meter

    yard = factory.SubFactory(YardFactory)
    name = factory.Sequence(lambda n: f"meter {n}")


class KitFactory(DjangoModelFactory[Kit]):
    class Meta:
        model = Kit

    yard = factory.SubFactory(YardFactory)
    name = factory.Sequence(lambda n: f"kit {n}")
    kind = "extractor"
    count = 3


class HoistFactory(DjangoModelFactory[Hoist]):
    class Meta:
        model = Hoist

    yard = factory.SubFactory(YardFactory)
    name = factory.Sequence(lambda n: f"hoist {n}")
    safe_load_t = 25
    inside_width_m = 4.9


class SchemeFactory(DjangoModelFactory[Scheme]):
    """A scheme without stages; `full_scheme` has them."""

    class Meta:
        model = Scheme

    yard = factory.SubFactory(YardFactory)
    name = factory.Sequence(lambda n: f"scheme {n}")


class StageNormFactory(DjangoModelFactory[SchemeStage]):
    class Meta:
        model = SchemeStage

    scheme = factory.SubFactory(SchemeFactory)
    position = factory.Sequence(lambda n: 10 * n + 10)
    kind = "wash"
    name = "wash"


def full_scheme(yard: Yard) -> Scheme:
    """lift, peel, dry, coat, relaunch: the shortest recipe that meets hoist, hands, gate and tide."""
    scheme = SchemeFactory(yard=yard, name="full", target_reading=18)
    skill = SkillFactory(yard=yard, name="peel")
    for position, kind, place in (
        (10, "lift", "dock"),
        (20, "peel", "pad"),
        (30, "dry", "heat"),
        (40, "coat", "heat"),
        (50, "relaunch", "dock"),
    ):
        norm = StageNormFactory(scheme=scheme, position=position, kind=kind, name=kind, place=place)
        if kind == "peel":
            Demand.objects.create(scheme_stage=norm, skill=skill, hours_per_m2=1, area="peel")
    return scheme


class Cast:
    """One yard with a manager, a crew member, an office hand; a stranger; another yard, with its manager."""

    def __init__(self) -> None:
        self.yard = YardFactory(name="Quiet Creek", slug="quiet-creek")
        self.other_yard = YardFactory(name="Far Creek", slug="far-creek")
        self.season = SeasonFactory(yard=self.yard, name="2026/27")
        self.manager = self._actor("manager")
        self.crew = self._actor("crew", person=PersonFactory(yard=self.yard, name="Hand"))
        self.office = self._actor("office")
        self.other_manager = self._actor("manager", yard=self.other_yard, name="other-manager")
        self.stranger = self.account("stranger")
        self.meter = MeterFactory(yard=self.yard)
        self.shed = ShedFactory(yard=self.yard, name="H")
        self.air = AirFactory(shed=self.shed, name="HW")
        self.bay = BayFactory(yard=self.yard, air=self.air, name="H1")
        self.next_bay = BayFactory(yard=self.yard, air=self.air, name="H2")
        self.owner = OwnerFactory(yard=self.yard, name="Her Owner")
        self.boat = BoatFactory(yard=self.yard, owner=self.owner, name="Teasel")
        for step, code in enumerate(("T1", "P1", "S1"), start=1):
            Spot.objects.create(boat=self.boat, code=code, walk_order=step, is_reference=code == "T1")
        self.scheme = full_scheme(self.yard)

    @property
    def actors(self) -> dict[str, Actor]:
        """The actors of the yard, by role."""
        return {"manager": self.manager, "crew": self.crew, "office": self.office}

    def account(self, name: str, **fields: Any) -> User:
        return User.objects.create_user(username=name, password=PASSWORD, **fields)

    def _actor(self, role: str, *, yard: Yard | None = None, person: Any = None, name: str = "") -> Actor:
        yard = yard or self.yard
        user = self.account(name or role)
        Membership.objects.create(yard=yard, user=user, role=role, person=person)
        return Actor(user, yard, role, person, TODAY)


def open_hold(stage: Any) -> Hold:
    """A hold for the owner since yesterday."""
    return Hold.objects.create(stage=stage, from_on=date(2026, 11, 23), reason="owner")
