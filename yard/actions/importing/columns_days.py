"""Columns of people, of what is out, and of tides."""

from __future__ import annotations

from yard.actions.importing.cells import Many, Number, Text, Time, Word
from yard.actions.importing.common import PERSON, RETIRED, SHED
from yard.actions.importing.tables import Column, File, Link, columns_of
from yard.models import (
    DayRule,
    LiftsSold,
    OutsideDay,
    Person,
    Skill,
    Stoppage,
    TideTable,
    TideWater,
    WorkingWeek,
)

WEEKDAYS = ("mon_h", "tue_h", "wed_h", "thu_h", "fri_h", "sat_h", "sun_h")

FILES: tuple[File, ...] = (
    File(
        "skills.csv",
        Skill,
        "What only some people can do.",
        key=("skill",),
        columns=columns_of(Skill, {"skill=name": "what it is called"} | RETIRED),
    ),
    File(
        "people.csv",
        Person,
        "People who work on boats, and what they can do.",
        key=("person",),
        columns=columns_of(
            Person,
            {
                "person=name": "the name",
                "job": "what they are",
                "phone": "telephone",
                "under_18": "under 18 years",
                "opted_out_48h": "may work more than 48 hours a week, agreed in writing",
                "skills": "",
                "note": "anything else",
            }
            | RETIRED,
            own=(Column("skills", Many(says_what="skills"), "what they can do, as named in skills.csv"),),
        ),
    ),
    File(
        "weeks.csv",
        WorkingWeek,
        "Hours on boats by weekday, from a day on until a later row of the same person.",
        key=("person", "from_on"),
        links=(PERSON,),
        columns=(
            *columns_of(WorkingWeek, {"person": "the person", "from_on": "from this day on"}),
            *(Column(day, Number(2, 7), "hours that day [h]; empty: as before") for day in WEEKDAYS),
        ),
    ),
    File(
        "stoppages.csv",
        Stoppage,
        "What or who is out from day to day. A row without bay, shed, hoist, kit or person is of the whole "
        "yard.",
        key=("first_day", "kind", "bay", "shed", "hoist", "kit", "person"),
        repeated=True,
        where={"called_off_on": None},
        links=(
            Link("bay", "bays.csv", ("bay",)),
            SHED,
            Link("hoist", "hoists.csv", ("hoist",)),
            Link("kit", "kits.csv", ("kit",)),
            PERSON,
        ),
        columns=columns_of(
            Stoppage,
            {
                "first_day": "first day out",
                "last_day": "last day out; empty: until told",
                "kind": "what kind it is",
                "why": "why",
                "bay": "a bay that is out",
                "shed": "a shed that has no heat, or is closed",
                "hoist": "a hoist that is out",
                "kit": "a kit that is out",
                "person": "a person who is away",
                "count": "how many of the kit; empty for all",
            },
        ),
    ),
    File(
        "lifts_sold.csv",
        LiftsSold,
        "Lifts that the laid-up fleet has already.",
        order=("first_day", "pk"),
        key=("first_day", "last_day"),
        repeated=True,
        columns=columns_of(
            LiftsSold, {"first_day": "from this day", "last_day": "to this day", "lifts_a_day": "lifts a day"}
        ),
    ),
    File(
        "outside_days.csv",
        OutsideDay,
        "Days on which people from outside come.",
        order=("day", "who"),
        key=("who", "day"),
        columns=columns_of(
            OutsideDay,
            {"who": "who comes", "day": "when", "capacity": "boats they can take", "note": "anything else"},
        ),
    ),
    File(
        "tide_tables.csv",
        TideTable,
        "Tide tables: whose heights they are. The waters themselves stand in tides.csv.",
        key=("place", "year"),
        columns=columns_of(
            TideTable,
            {
                "place": "the place",
                "year": "the year",
                "datum": "what the heights stand on",
                "source": "where the table was taken from",
            },
        ),
    ),
    File(
        "tides.csv",
        TideWater,
        "High and low waters. A place's year that is given here replaces the one before it whole.",
        key=("place", "day", "time", "clock"),
        columns=columns_of(
            TideWater,
            {
                "place": "the place",
                "day": "the day",
                "time": "",
                "clock": "",
                "height_m": "height above the datum",
                "water": "",
            },
            needed=("place",),
            own=(
                Column("day", columns_of(DayRule, {"day": ""})[0].kind, "the day, by the clock", needed=True),
                Column("time", Time(), "the time, by the clock", needed=True),
                Column("clock", Text(), "GMT, BST or UTC; empty: the clock on the yard's wall"),
                Column("water", Word(("high", "low")), "high or low water", needed=True),
            ),
        ),
    ),
)
