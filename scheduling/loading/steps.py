"""A stage that waits, as steps of a job: one, or one for each part it is planned in."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from math import ceil, floor

from scheduling.engine.problem import Option, Step
from scheduling.loading.axis import UNTIL_TOLD_DAYS
from scheduling.loading.dry_stages import doses_left, drying_options
from scheduling.loading.stages import WORKING_TO_CALENDAR, Yard, options_of
from scheduling.loading.tables import Stand
from yard.models import Hold, Stage, Treatment
from yard.models.schemes import StageKind


@dataclass(frozen=True)
class Part:
    """Which stage (and part of it) a step stands for; `fact` = she is in it, or stands after it, already."""

    stage: Stage
    part: int
    label: str
    fact: bool = False


def steps_of(
    yard: Yard,
    treatment: Treatment,
    stage: Stage,
    parts: dict[str, Part],
    doses: dict[int, float] | None = None,
    standing: Stand | None = None,
) -> list[Step] | None:
    """The steps of a stage, one a part; None where a part can be done nowhere.

    A stage of drying has the `doses` [days in a tent] by part that are left of it. While its first part waits
    she dries where she is `standing`.
    """
    found = _options_by_part(yard, treatment, stage, doses, standing)
    if not all(found.values()):
        return None
    first = min(found, default=1)
    hold = yard.records.holds.get(stage.pk)
    earliest, why = held_until(yard, hold)
    pin = yard.records.pins.get(stage.pk)
    steps = []
    for part, options in found.items():
        step_id = str(stage.pk) if stage.parts == 1 else f"{stage.pk}.{part}"
        label = stage.name if stage.parts == 1 else f"{stage.name} {part} of {stage.parts}"
        parts[step_id] = Part(stage, 0 if stage.parts == 1 else part, label)
        alone = part == first
        steps.append(
            Step(
                id=step_id,
                label=label,
                kind=stage.kind,
                options=options,
                wait_min=_slots(stage.wait_min_d, ceil) if alone else 0,
                wait_max=_slots(stage.wait_max_d, floor) if alone and stage.wait_max_d is not None else None,
                earliest=earliest if alone else 0,
                earliest_why=why if alone else "",
                dries=stage.kind == StageKind.DRY,
                pin_place=yard.places.place_of.get(pin.bay_id) if pin and pin.bay_id else None,
                pin_start=yard.axis.at(pin.first_day) if pin and pin.first_day and alone else None,
            )
        )
    return steps


def _slots(days: Decimal, rounding: Callable[[float], int]) -> int:
    """Calendar days [d] between two stages as slots."""
    return rounding(float(days) / WORKING_TO_CALENDAR)


def held_until(yard: Yard, hold: Hold | None) -> tuple[int, str]:
    """The slot until which a hold keeps a stage, and for whom she waits."""
    if hold is None:
        return 0, ""
    until = hold.expected_on or yard.axis.today + timedelta(days=UNTIL_TOLD_DAYS)
    return min(yard.axis.at(until), yard.axis.slots - 1), hold.whom or hold.get_reason_display()


def _options_by_part(
    yard: Yard, treatment: Treatment, stage: Stage, doses: dict[int, float] | None, standing: Stand | None
) -> dict[int, tuple[Option, ...]]:
    demands = yard.records.demands.get(stage.pk, [])
    if stage.kind != StageKind.DRY:
        return dict.fromkeys(range(1, stage.parts + 1), options_of(yard, stage, treatment, demands))
    left = doses if doses is not None else doses_left(yard, stage, treatment)
    first = min(left, default=1)
    return {
        part: drying_options(yard, stage, treatment, demands, dose, standing if part == first else None)
        for part, dose in left.items()
    }
