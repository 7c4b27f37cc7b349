"""Columns of the winter: treatments, how far they are, and where each boat stands."""

from __future__ import annotations

from dataclasses import replace

from yard.actions.importing.cells import OrNone, Text
from yard.actions.importing.common import (
    BOAT,
    HERS,
    NORM_WORDS,
    OF_STAGE,
    POSITION,
    SEASON,
    SHEET,
    SKILL,
    STAGE,
    TREATMENT,
    demand_columns,
)
from yard.actions.importing.tables import Column, File, Link, columns_of
from yard.models import (
    Hold,
    SchemeStage,
    Shed,
    Stage,
    StageDemand,
    Stay,
    Treatment,
)


def _stage_columns() -> tuple[Column, ...]:
    """The columns of a treatment's stage: where it stands, and what differs from the scheme."""
    plain = columns_of(SchemeStage, NORM_WORDS)
    blank = {source.name: source for source in SchemeStage._meta.concrete_fields}
    loose = []
    for column in plain:
        source = blank[column.field or column.name]
        kind = (
            OrNone(column.kind, None if source.null else "") if source.null or source.blank else column.kind
        )
        loose.append(
            replace(
                column,
                kind=kind,
                needed=False,
                about=f"{column.about.partition('; empty')[0]}; empty: as in the scheme",
            )
        )
    told = columns_of(
        Stage,
        OF_STAGE
        | {
            "status": "how far it is",
            "started_on": "the day it began",
            "finished_on": "the day it ended",
            "done_pct": "how much of a running stage is behind her [%]",
            "extra": "whether it was put in besides the scheme",
        },
        needed=("boat",),
        own=(replace(POSITION, field="position"),),
    )
    return (*told, *loose)


FILES: tuple[File, ...] = (
    File(
        "treatments.csv",
        Treatment,
        "A boat's run through a scheme. A second one in a season is written with “#2” after the season. "
        "A new one gets the scheme's stages at once; stages.csv then says how far she is.",
        key=("boat", "season"),
        numbered=True,
        links=(
            BOAT,
            SEASON,
            Link("scheme", "schemes.csv", ("scheme",)),
            Link("away_site", "away_sites.csv", ("away_site",)),
        ),
        columns=columns_of(
            Treatment,
            HERS
            | {
                "scheme": "the scheme",
                "state": "where she is as a whole",
                "arrives_on": "the day she is to come",
                "arrived_on": "the day she came",
                "wanted_on": "the day she is wanted back",
                "wanted_kind": "how hard that day is",
                "weight_pct": "what a late day weighs [%]",
                "wetness": "how wet the laminate was found",
                "surveyor": "her surveyor",
                "target_reading": "the reading that counts as dry for her",
                "away_site": "the site she is at, if away",
                "note": "anything else",
                "own_stages": "",
            },
            needed=("boat",),
            own=(
                Column("season", Text(), HERS["season"]),
                Column(
                    "own_stages",
                    columns_of(Shed, {"drained": ""})[0].kind,
                    "yes: she gets only the stages that stages.csv gives her, none from the scheme",
                    default=False,
                ),
            ),
        ),
    ),
    File(
        "stages.csv",
        Stage,
        "How far each treatment is, and where its stages differ from the scheme. Stages not named wait.",
        order=("treatment_id", "position"),
        key=("boat", "season", "position"),
        links=(TREATMENT, SHEET),
        columns=_stage_columns(),
    ),
    File(
        "stage_demands.csv",
        StageDemand,
        "What a treatment's stage demands, where it differs from the scheme. The rows of a stage replace "
        "those before them whole.",
        order=("stage__treatment_id", "stage__position", "pk"),
        key=(),
        links=(STAGE, SKILL),
        columns=demand_columns(StageDemand, OF_STAGE),
    ),
    File(
        "holds.csv",
        Hold,
        "Stages that are or were held: for whom or what.",
        order=("stage__treatment_id", "from_on", "pk"),
        key=("boat", "season", "position", "from_on", "reason"),
        repeated=True,
        links=(STAGE,),
        columns=columns_of(
            Hold,
            OF_STAGE
            | {
                "from_on": "held from this day",
                "until_on": "the day the hold ended; empty: held now",
                "reason": "for whom or what",
                "whom": "who it is",
                "asked_on": "the day they were asked",
                "expected_on": "the day the answer is due",
                "note": "anything else",
            },
            needed=("boat",),
            own=(POSITION,),
        ),
    ),
    File(
        "stays.csv",
        Stay,
        "Where each boat really stands and stood.",
        order=("treatment_id", "from_on", "pk"),
        key=("boat", "season", "bay", "from_on"),
        repeated=True,
        links=(TREATMENT, Link("bay", "bays.csv", ("bay",))),
        columns=columns_of(
            Stay,
            HERS
            | {
                "bay": "the bay",
                "from_on": "the day she came to it",
                "until_on": "the day she left it; empty: there now",
            },
            needed=("boat",),
        ),
    ),
)
