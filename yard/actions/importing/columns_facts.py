"""Columns of what was measured, done and said."""

from __future__ import annotations

from yard.actions.importing.cells import Excused, Text
from yard.actions.importing.common import HERS, METER, OF_STAGE, PERSON, POSITION, STAGE, TREATMENT
from yard.actions.importing.tables import Column, File, Link, columns_of
from yard.models import DrySigned, Promise, Reading, Round, WashRecord, Work

FILES: tuple[File, ...] = (
    File(
        "rounds.csv",
        Reading,
        "Moisture readings: one row a spot. A row without a spot is the mean of all and is kept as a spot "
        "called “mean”. Rows of one boat, day, meter and mode are one round.",
        key=("boat", "season", "day_on", "meter", "mode", "spot"),
        links=(TREATMENT, METER, PERSON),
        columns=columns_of(
            Reading,
            HERS
            | {
                "day_on": "",
                "meter": "the meter",
                "mode": "",
                "spot": "the spot, as marked in spots.csv; empty: the mean",
                "value": "the reading, on the meter's scale",
                "person": "who took it",
                "air_c": "",
                "rh_pct": "",
                "surface_dry": "",
                "taken_at": "",
            },
            needed=("boat", "meter"),
            own=(
                Column("spot", Text(longest=12), "the spot, as marked in spots.csv; empty: the mean"),
                *columns_of(
                    Round,
                    {
                        "day_on": "the day",
                        "mode": "how deep the meter read",
                        "air_c": "the air [degrees C]",
                        "rh_pct": "its humidity [%]",
                        "surface_dry": "whether the surface was dry",
                        "taken_at": "when",
                    },
                ),
            ),
        ),
    ),
    File(
        "dry_signed.csv",
        DrySigned,
        "Who said that she is dry.",
        order=("treatment_id",),
        key=("boat", "season"),
        links=(TREATMENT, Link("by", "people.csv", ("by",))),
        where={"superseded": False},
        columns=columns_of(
            DrySigned,
            HERS
            | {
                "by": "who signed",
                "signed_on": "the day",
                "excused": "",
                "film_test": "whether a taped film showed no damp",
                "heat_off_h": "how long heat was off before the last round [h]",
                "note": "anything else",
            },
            needed=("boat",),
            own=(Column("excused", Excused(), "spots that were excused", field="excused", default=[]),),
        ),
    ),
    File(
        "promises.csv",
        Promise,
        "Dates told to owners. A later row of a boat replaces the one before it; all are kept.",
        order=("treatment_id", "pk"),
        key=("boat", "season", "kind", "promised_on", "said_on", "how", "odds_pct", "plan_number", "note"),
        repeated=True,
        chained=True,
        links=(TREATMENT,),
        columns=columns_of(
            Promise,
            HERS
            | {
                "kind": "how hard the date is",
                "promised_on": "the date",
                "said_on": "the day it was told",
                "said_by": "",
                "how": "how it was told",
                "odds_pct": "the odds it had [%]",
                "plan_number": "the plan it was read from",
                "note": "anything else",
            },
            needed=("boat",),
            own=(
                Column("said_by", Text(), "the account of who told it; accounts are no part of the folder"),
            ),
        ),
    ),
    File(
        "washes.csv",
        WashRecord,
        "Washes that were given, in a stage that washes or dries: one a day. What a hull's rounds say of her "
        "drying counts from her last wash.",
        order=("stage__treatment_id", "day_on", "pk"),
        key=("boat", "season", "position", "day_on"),
        where={"superseded": False},
        links=(STAGE,),
        columns=columns_of(
            WashRecord,
            OF_STAGE
            | {
                "day_on": "the day",
                "minutes": "how long [min]",
                "water_c": "the water at the lance [degrees C]; empty for a cold rinse, or if not known",
                "note": "anything else",
            },
            needed=("boat",),
            own=(POSITION,),
        ),
    ),
    File(
        "work.csv",
        Work,
        "Hours that were worked.",
        order=("day_on", "pk"),
        key=("boat", "season", "position", "person", "day_on"),
        repeated=True,
        where={"superseded": False},
        links=(STAGE, PERSON),
        columns=columns_of(
            Work,
            OF_STAGE
            | {"person": "who worked", "day_on": "the day", "hours": "how long [h]", "note": "what was done"},
            needed=("boat",),
            own=(POSITION,),
        ),
    ),
)
