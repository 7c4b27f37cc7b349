"""What the names in a Problem stand for, the other way round: the records somebody would change."""

from dataclasses import dataclass, field
from typing import Literal, cast

from scheduling.engine.whys import Why
from scheduling.loading.loaded import Loaded
from scheduling.loading.resources import LIFTS, TRIPS
from yard.models import Hoist, Kit, Skill, Yard
from yard.models.kit import KitKind

About = Literal[
    "boat", "stage", "bay", "kit", "hoist", "air", "shed", "skill", "outside", "tide", "days", "plan"
]
"""Kinds of record a reason is about. Outsiders' days, tides, working days and the posted plan have no key."""


@dataclass(frozen=True)
class Target:
    """The records a reason is about: a treatment, a stage, all bays of a pool, all kits of a kind, ..."""

    about: About
    pks: tuple[int, ...] = ()


@dataclass(frozen=True)
class Targets:
    """What the reasons in one Problem are about, for a yard whose kits, hoists and skills are read once."""

    loaded: Loaded
    kits: dict[str, list[int]] = field(default_factory=dict)  # "kind" and "kind:size"
    hoists: tuple[int, ...] = ()
    skills: dict[str, int] = field(default_factory=dict)

    def of(self, why: Why) -> Target:
        """What would have to change for the reason to go."""
        match why.target_kind:
            case "job":
                return Target("boat", (int(why.target),))
            case "step":
                return Target("stage", (self.loaded.refs.parts[why.job, why.target].stage.pk,))
            case "place":
                return Target("bay", tuple(bay.pk for bay in self.loaded.refs.bays.get(why.target, ())))
            case "skills":
                names = why.target.split(" or ")
                return Target("skill", tuple(self.skills[name] for name in names if name in self.skills))
            case "resource":
                return self._resource(why.target)
            case "table":
                return Target("tide" if why.target.startswith("tide ") else "days")
            case "plan":
                return Target("plan")

    def _resource(self, name: str) -> Target:
        if name == TRIPS:
            return Target("kit", tuple(self.kits.get(KitKind.MOVER, ())))
        if name == LIFTS:
            return Target("hoist", self.hoists)
        kind, _, rest = name.partition(":")
        if kind == "outside":
            return Target("outside")
        if kind == "kit":
            return Target("kit", tuple(self.kits.get(rest, ())))
        # power:air:1, power:shed:1, tents:air:1
        where, _, pk = rest.partition(":")
        return Target(cast(About, where), (int(pk),))


def targets_of(yard: Yard, loaded: Loaded) -> Targets:
    """Read what is needed to say what reasons are about, in three queries."""
    kits: dict[str, list[int]] = {}
    for pk, kind, size in Kit.objects.of(yard).filter(retired_on=None).values_list("pk", "kind", "size"):
        for name in {kind, f"{kind}:{size}"}:
            kits.setdefault(name, []).append(pk)
    hoists = tuple(Hoist.objects.of(yard).filter(retired_on=None).values_list("pk", flat=True))
    return Targets(loaded, kits, hoists, dict(Skill.objects.of(yard).values_list("name", "pk")))
