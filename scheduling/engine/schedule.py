"""What the engine answers: when and where each step is, who stays out and why, at what cost."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import ClassVar, Literal

COST_KINDS = ("late", "moves", "shunts", "places", "heat", "extra", "breaks", "changes", "left_out")
"""Kinds of cost [minor units], always shown by kind; `RULES.md` says what each counts."""

Rule = Literal["chain", "stand", "fit", "lane", "air", "hands", "windows", "pins", "gate"]
RULES: tuple[Rule, ...] = ("chain", "stand", "fit", "lane", "air", "hands", "windows", "pins", "gate")


@dataclass(frozen=True, slots=True, kw_only=True)
class StepTime:
    """One step in one place. Work is [start, end), she stands there until `leaves`; -1 = before the axis
    starts."""

    step: str
    place: str
    option: int  # index into the step's options; -1 for what has begun
    start: int
    end: int
    leaves: int
    unit: str | None = None  # the bay, where the place is a pool


@dataclass(frozen=True, slots=True, kw_only=True)
class Unplaced:
    """A job left out, with the rule that keeps her out, in one sentence."""

    rule: Rule | Literal["cost"]
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What keeps a job from finishing earlier: with this one rule lifted for her, she would be `days`
    earlier."""

    rule: Rule
    says: str
    days: int  # [calendar days]
    step: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """Every job of the Problem is either in `jobs`, with all its steps (what has begun first), or in
    `unplaced`."""

    jobs: Mapping[str, tuple[StepTime, ...]] = field(default_factory=dict)
    unplaced: Mapping[str, Unplaced] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Breach:
    """A rule the schedule breaks, found by the witness."""

    rule: Rule
    job: str
    slot: int
    says: str
    fact: bool = False  # the yard's own records say so: reported, not refused
    step: str = ""


class WitnessRefused(Exception):
    """The plan found breaks a rule: nothing may be stored. Carries the `breaches` and the `schedule`."""

    def __init__(self, breaches: Sequence[Breach], schedule: Schedule) -> None:
        super().__init__("; ".join(breach.says for breach in breaches[:3]))
        self.breaches, self.schedule = tuple(breaches), schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class HandPrices:
    """What a minute of anybody with any of these skills is worth [minor units], by slot."""

    skills: tuple[str, ...]
    prices: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LanePrices:
    """What is asked [minor units], by slot, of who comes to `behind` or goes from it, and of who stands on in
    `front` then: of one who can be moved no more than the price of a shunt for each."""

    front: str
    behind: str
    comes: tuple[int, ...]
    goes: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AirPrices:
    """What is asked [minor units], by slot, of one job whose work makes a kind of dirt in an air, and if
    hers is spoiled by it."""

    job: str
    air: str
    kind: str
    makes: tuple[int, ...]
    spoiled: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundPrices:
    """Prices that prove a bound, none below 0; what is not named is worth nothing.

    Each row has a price for each slot: of standing in a place, of a unit of a resource (a trip, where it is
    the mover), of a minute of hands, of passing in a lane, of one job's work in an air. `prices.bound_of`
    works out the bound from them.
    """

    parts: int = 1  # so many of what prices count in are a minor unit
    places: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    resources: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    hands: tuple[HandPrices, ...] = ()
    lanes: tuple[LanePrices, ...] = ()
    airs: tuple[AirPrices, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """A schedule with what was found out on the way."""

    greatest: ClassVar[int] = 10**18  # sums of what a Problem may hold

    format: Literal[1] = 1
    status: Literal["proven", "found", "stopped"]
    schedule: Schedule
    cost: Mapping[str, int]  # by kind, as the witness counts it [minor units]
    total: int
    bound: int | None = None  # [minor units] no plan can cost less; None = unproven
    bound_by: str = ""
    alone: int | None = None  # [minor units] the sum of what each job would cost alone in an empty yard
    prices: BoundPrices | None = None  # that prove `bound`, where it is by prices
    late_jobs: int = 0
    late_days: int = 0  # [calendar days] unplaced jobs count until the last day of the axis
    kept: Mapping[str, Kept] = field(default_factory=dict)
    seconds: float = 0.0
    first_plan_s: float = 0.0
    first_total: int = 0  # [minor units] of the first complete plan
    tries: int = 0  # insertions made
    seed: int = 1
    thawed: tuple[tuple[str, str], ...] = ()  # (job, step) that a fact moves inside the frozen days
