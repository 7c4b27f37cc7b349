"""A boat's hull as her page has it: the areas her work is counted by, and her next lift."""

from dataclasses import dataclass
from datetime import date

from scheduling.loading.areas import areas_of
from scheduling.loading.hoists import lift_of
from scheduling.loading.winter import BoatWinter, Winter
from yard.models import StageKind, Status
from yard.trade.lifting import Lift
from yard.trade.tides import CAUTION


@dataclass(frozen=True)
class HullShown:
    """Her areas, each by name with its sentence; what had to be assumed; her next lift and its day."""

    areas: tuple[tuple[str, str], ...]
    assumed: tuple[str, ...]
    wrong: str  # what her records say that cannot be
    lift: Lift | None
    provided: tuple[str, ...]
    lift_on: date
    caution: str = CAUTION


def hull_of(winter: Winter, boat: BoatWinter) -> HullShown:
    """Reckon her areas, and hold her next lift against the hoist."""
    hers, day = boat.treatment.boat, next_lift(winter, boat)
    try:
        areas = areas_of(hers)
        lift = lift_of(winter.yard, hers, winter.settings, day)
    except ValueError as no:
        return HullShown((), (), str(no), None, (), day)
    named = (("To peel", areas.peel), ("To coat", areas.coat), ("To antifoul", areas.antifoul))
    says = tuple((name, area.says) for name, area in named)
    if lift is None:
        return HullShown(says, areas.assumed, "", None, (), day)
    return HullShown(says, areas.assumed, "", lift.lift, lift.provided, day)


def next_lift(winter: Winter, boat: BoatWinter) -> date:
    """The day of her next lift, in or out: as planned, else today."""
    for stage in boat.stages:
        if stage.kind in (StageKind.LIFT, StageKind.RELAUNCH) and stage.status == Status.WAITING:
            return boat.first_day(winter.posted, stage) or winter.today
    return winter.today
