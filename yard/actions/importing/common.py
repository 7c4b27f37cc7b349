"""What several files have in common: links to each other, and columns that stand in more than one."""

from __future__ import annotations

from yard.actions.importing.cells import Whole
from yard.actions.importing.tables import Column, Link, columns_of
from yard.models import Demand, StageDemand

RETIRED = {"retired_on": "the day it was given up, if it was"}

SEASON = Link("season", "seasons.csv", ("season",))
SHED = Link("shed", "sheds.csv", ("shed",))
AIR = Link("air", "airs.csv", ("shed", "air"))
PERSON = Link("person", "people.csv", ("person",))
SHEET = Link("sheet", "coating_sheets.csv", ("sheet",))
METER = Link("meter", "meters.csv", ("meter",))
BOAT = Link("boat", "boats.csv", ("boat",))
TREATMENT = Link("treatment", "treatments.csv", ("boat", "season"))
STAGE = Link("stage", "stages.csv", ("boat", "season", "position"))
SKILL = Link("skill", "skills.csv", ("skill",))

HERS = {"boat": "the boat", "season": "the season; may be left out where there is only one"}
OF_STAGE = HERS | {"position": "the stage's position in her list"}
POSITION = Column("position", Whole(), "the stage's position; tens leave room between", needed=True)

NORM_WORDS = {
    "kind": "what kind of stage it is",
    "stage=name": "what the yard calls it",
    "place": "where it may be done",
    "movable": "whether she can be moved while it runs",
    "wait_min_d": "least wait after the stage before [calendar days]",
    "wait_max_d": "greatest wait after the stage before [calendar days]",
    "makes": "what it puts into the air",
    "spoiled_by": "what in the air spoils it",
    "days_low": "shortest it takes; drying: of a hull of low wetness [working days]",
    "days_likely": "what it takes mostly; drying: of a hull of middling wetness [working days]",
    "days_high": "longest it takes; drying: of a hull of high wetness [working days]",
    "breaks_allowed": "how many overcoat windows may break",
    "break_money": "what a broken window costs",
    "coats": "of a coat stage: how many coats of epoxy",
    "coats_a_day": "how many of them on one day, 1 or 2",
    "sheet": "the coating they are of; empty: a common solvent-free epoxy",
    "parts": "in how many equal parts it is planned",
    "tented": "whether a tent with heaters does for heated air",
    "outside_who": "whose days it must be done on",
    "tide": "whether it needs a tide the hoist can use",
    "source": "where the figures come from",
}
NEED_WORDS = {
    "skill": "whose hours; empty for none",
    "kit_kind": "what kit; empty for none",
    "kit_count": "how many of the kit",
    "lifts": "how many lifts by the hoist",
    "people": "how many people at once",
    "hours_fixed": "hours, whatever her size [h]",
    "hours_per_m2": "hours by her size [h/m2 of the area]",
    "area": "which area the hours are counted by",
    "every_d": "a visit every so many days, with these hours each [d]",
    "times": "so many visits, with these hours each",
    "held": "whether the kit is kept for the whole stay",
}


def demand_columns(model: type[Demand] | type[StageDemand], first: dict[str, str]) -> tuple[Column, ...]:
    """The columns of what a stage demands, behind those that name the stage."""
    return columns_of(model, first | NEED_WORDS, needed=("boat", "scheme"), own=(POSITION,))
