"""The table of all files and columns that can be read and written, in the order in which they are read."""

from __future__ import annotations

from dataclasses import replace

from yard.actions.importing.cells import Excused, Many, Number, OrNone, Text, Time, Whole, Word
from yard.actions.importing.tables import Column, File, Link, columns_of
from yard.models import (
    Air,
    AirMonth,
    AwaySite,
    Bay,
    Boat,
    DayRule,
    Demand,
    DrySigned,
    Girth,
    Hoist,
    Hold,
    Kit,
    LiftsSold,
    Meter,
    OutsideDay,
    Owner,
    Person,
    Promise,
    Reading,
    Round,
    Scheme,
    SchemeStage,
    Season,
    Shed,
    Skill,
    Sling,
    Spot,
    Stage,
    StageDemand,
    Stay,
    Stoppage,
    TideTable,
    TideWater,
    Treatment,
    Work,
    WorkingWeek,
    Yard,
    YardSettings,
)

WEEKDAYS = ("mon_h", "tue_h", "wed_h", "thu_h", "fri_h", "sat_h", "sun_h")
RETIRED = {"retired_on": "the day it was given up, if it was"}

SEASON = Link("season", "seasons.csv", ("season",))
SHED = Link("shed", "sheds.csv", ("shed",))
AIR = Link("air", "airs.csv", ("shed", "air"))
PERSON = Link("person", "people.csv", ("person",))
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


def _stage_columns() -> tuple[Column, ...]:
    """The columns of a treatment's stage: where it stands, and what differs from the scheme."""
    plain = columns_of(SchemeStage, NORM_WORDS)
    blank = {c.field: SchemeStage._meta.get_field(c.field) for c in plain}
    loose = []
    for column in plain:
        source = blank[column.field]
        kind = (
            OrNone(column.kind, None if source.null else "") if source.null or source.blank else column.kind
        )
        loose.append(
            replace(column, kind=kind, needed=False, about=f"{column.about}; empty: as in the scheme")
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


def _of_stage(model: type[Demand] | type[StageDemand], first: dict[str, str]) -> tuple[Column, ...]:
    return columns_of(model, first | NEED_WORDS, needed=("boat", "scheme"), own=(POSITION,))


FILES: tuple[File, ...] = (
    File(
        "yard.csv",
        Yard,
        "The yard and its settings. This file has a row for each setting: its name, then its value.",
        key=("slug",),
        turned=True,
        columns=columns_of(
            Yard,
            {
                "name": "what the yard is called",
                "slug": "its name in addresses: small letters, figures and dashes; unique on the machine",
                "timezone": "its time zone",
                "nation": "whose bank holidays it keeps",
                "currency": "its currency, three letters",
                "units": "how lengths are shown",
                "latitude": "degrees north",
                "longitude": "degrees east, minus for west",
            },
        )
        + columns_of(
            YardSettings,
            {
                "likely_pct": "the share of winters the likely date holds in [%]",
                "safe_pct": "the share of winters the safe date holds in [%]",
                "watch_pct": "odds from which a promise makes her tide [%]",
                "at_risk_pct": "odds below which a promise misses [%]",
                "frozen_days": "working days ahead that are left as posted",
                "late_day_money": "price of a day late, at weight 100",
                "move_money": "price of a move",
                "pull_out_money": "price of pulling a boat out of a lane and putting her back",
                "bay_day_money": "price of a day in a bay under a roof",
                "heat_day_money": "price of a day of heat",
                "change_money": "price of a stage moved against the posted plan",
                "left_out_money": "price of a boat left out of the plan",
                "overtime_hour_money": "price of an hour of overtime",
                "work_from": "when work begins",
                "work_to": "when work ends",
                "open_weekdays": "seven figures, Monday first: 1 open, 0 closed",
                "margin_c": "how far the hull must be above the dew point to coat [degrees C]",
                "air_max_rh_pct": "dampest air to coat in [%]",
                "air_check_hours": "how long an air check holds [h]",
                "hoist_load_pct": "how much of its safe load the hoist may lift [%]",
                "tide_clearance_m": "water under the keel for the slings",
                "sill_level_m": "bottom of the dock above the tide table's datum",
                "retention_months": "how long names of owners are kept [months]",
                "link_days": "how long a private link works [days]",
            },
        ),
    ),
    File(
        "seasons.csv",
        Season,
        "Winters.",
        key=("season",),
        columns=columns_of(
            Season,
            {
                "season=name": "what it is called",
                "first_day": "its first day",
                "last_day": "its last day",
                "closed_on": "the day it was closed",
            },
        ),
    ),
    File(
        "days.csv",
        DayRule,
        "Days that are open or closed whatever the weekday and the bank holidays say.",
        order=("day",),
        key=("day",),
        columns=columns_of(
            DayRule, {"day": "the day", "open": "open, or closed", "reason": "why"}, needed=("open",)
        ),
    ),
    File(
        "sheds.csv",
        Shed,
        "Roofs, and open stretches of ground, which have no door.",
        key=("shed",),
        columns=columns_of(
            Shed,
            {
                "shed=name": "what it is called",
                "door_width_m": "the door's width",
                "door_height_m": "the door's height",
                "power_kw": "power for heaters and the like [kW]",
                "drained": "whether washing water is caught",
            }
            | RETIRED,
        ),
    ),
    File(
        "airs.csv",
        Air,
        "Bodies of dust, steam and warmth: a whole shed, a part behind a curtain, the open pad.",
        key=("shed", "air"),
        links=(SHED,),
        columns=columns_of(
            Air,
            {
                "shed": "the shed it is in",
                "air=name": "what it is called",
                "kind": "how it is kept",
                "day_c": "by day, if heated [degrees C]",
                "night_c": "by night, if heated [degrees C]",
                "rh_pct": "humidity, if it is kept [%]",
                "settle_h": "how long dust hangs after the work [h]",
                "power_kw": "this part's own circuit [kW]",
                "tents_max": "how many tents can stand in it",
            }
            | RETIRED,
        ),
    ),
    File(
        "air_months.csv",
        AirMonth,
        "What an air is like in each month.",
        order=("air_id", "month"),
        key=("shed", "air", "month"),
        links=(AIR,),
        columns=columns_of(
            AirMonth,
            {
                "shed": "the shed",
                "air": "the air",
                "month": "the month, 1 to 12",
                "mean_c": "its mean [degrees C]",
                "rh_pct": "its mean humidity [%]",
            },
            needed=("shed",),
        ),
    ),
    File(
        "bays.csv",
        Bay,
        "Places for one boat each, with the greatest boat they take.",
        key=("bay",),
        links=(SHED, AIR, Link("lane", "", ("shed", "lane"))),
        columns=columns_of(
            Bay,
            {
                "bay=name": "what it is called",
                "shed": "the shed it is in",
                "air": "the air it is in",
                "lane": "its row behind one door, if it has no free way out",
                "lane_place": "its place in the lane, 1 at the door",
                "length_m": "longest boat",
                "beam_m": "widest boat",
                "height_m": "highest boat as she stands; empty under the sky",
                "load_t": "heaviest boat [t]",
                "tent_size": "the tent that can be put up there; empty for none",
            }
            | RETIRED,
        ),
    ),
    File(
        "away_sites.csv",
        AwaySite,
        "Other sites where boats can stand.",
        key=("site",),
        columns=columns_of(
            AwaySite, {"site=name": "what it is called", "travel_h": "the way there [h]"} | RETIRED
        ),
    ),
    File(
        "kits.csv",
        Kit,
        "Anything limited that is used or held.",
        key=("kit",),
        columns=columns_of(
            Kit,
            {
                "kit=name": "what it is called",
                "kind": "what kind it is",
                "count": "how many there are",
                "size": "of a tent: its size",
                "kw": "power of one [kW]",
                "set_h": "hours to put one up [h]",
                "strike_h": "hours to take it down [h]",
                "rate_m2_h": "how fast it works [m2/h]",
                "price_day_money": "price of one a day",
                "for_tent_s": "how many go into a small tent",
                "for_tent_m": "how many go into a middling tent",
                "for_tent_l": "how many go into a large tent",
                "safe_load_t": "of a mover: what it carries [t]",
                "adds_height_m": "of a mover: how much higher a boat stands on it",
                "moves_a_day": "of a mover: moves a day",
                "note": "anything else",
            }
            | RETIRED,
        ),
    ),
    File(
        "hoists.csv",
        Hoist,
        "What lifts boats out of the water and in again.",
        key=("hoist",),
        columns=columns_of(
            Hoist,
            {
                "hoist=name": "what it is called",
                "safe_load_t": "the load it is marked for [t]",
                "certificate_until": "last day of its certificate",
                "minutes_a_lift": "time for a lift [min]",
                "lifts_a_day": "lifts a day at most",
                "inside_width_m": "width between its legs",
                "wind_mean_kn": "mean wind that stops it [kn]",
                "wind_gust_kn": "gust that stops it [kn]",
            }
            | RETIRED,
        ),
    ),
    File(
        "slings.csv",
        Sling,
        "Pairs of slings.",
        key=("hoist", "sling"),
        links=(Link("hoist", "hoists.csv", ("hoist",)),),
        columns=columns_of(
            Sling,
            {
                "hoist": "the hoist they belong to",
                "sling=name": "what they are called",
                "safe_load_t": "the load they are marked for [t]",
                "certificate_until": "last day of their certificate",
            }
            | RETIRED,
        ),
    ),
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
        "What or who is out from day to day. A row without bay, shed, hoist, kit or person is of the whole yard.",
        key=("first_day", "kind", "bay", "shed", "hoist", "kit", "person"),
        repeated=True,
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
    File(
        "meters.csv",
        Meter,
        "Moisture meters.",
        key=("meter",),
        columns=columns_of(
            Meter,
            {
                "meter=name": "what it is called",
                "scale_low": "driest it shows",
                "scale_high": "wettest it shows",
            }
            | RETIRED,
        ),
    ),
    File(
        "schemes.csv",
        Scheme,
        "The yard's recipes.",
        key=("scheme",),
        links=(METER,),
        columns=columns_of(
            Scheme,
            {
                "scheme=name": "what it is called",
                "meter": "the meter it is judged by",
                "target_reading": "the reading that counts as dry, on the meter's scale",
            }
            | RETIRED,
        ),
    ),
    File(
        "scheme_stages.csv",
        SchemeStage,
        "The stages of each recipe, with norms.",
        order=("scheme_id", "position"),
        key=("scheme", "position"),
        links=(Link("scheme", "schemes.csv", ("scheme",)),),
        columns=columns_of(
            SchemeStage,
            {"scheme": "the scheme", "position": ""} | NORM_WORDS,
            own=(replace(POSITION, field="position"),),
        ),
    ),
    File(
        "demands.csv",
        Demand,
        "What a recipe's stage demands: one row a skill or kit. The rows of a stage replace those before them whole.",
        order=("scheme_stage__scheme_id", "scheme_stage__position", "pk"),
        key=(),
        links=(Link("scheme_stage", "scheme_stages.csv", ("scheme", "position")), SKILL),
        columns=_of_stage(Demand, {"scheme": "the scheme", "position": ""}),
    ),
    File(
        "owners.csv",
        Owner,
        "Who pays. Two owners of one name are told apart by a number: “A. Name” and “A. Name #2”.",
        key=("owner",),
        numbered=True,
        columns=columns_of(
            Owner,
            {
                "owner=name": "the name",
                "phone": "telephone",
                "email": "e-mail",
                "address": "address",
                "note": "anything else",
            },
        ),
    ),
    File(
        "boats.csv",
        Boat,
        "Hulls, as declared and as weighed. Two boats of one name are told apart by a number: “Name” and “Name #2”.",
        key=("boat",),
        numbered=True,
        links=(Link("owner", "owners.csv", ("owner",)),),
        columns=columns_of(
            Boat,
            {
                "boat=name": "her name",
                "owner": "whose she is",
                "type": "what she is, in the yard's words",
                "hull_kind": "what sort of hull",
                "keel_kind": "what is under it",
                "length_m": "length over all",
                "lwl_m": "length on the waterline",
                "beam_m": "greatest beam",
                "bwl_m": "beam on the waterline",
                "draught_m": "draught",
                "canoe_draught_m": "draught of the hull without the keel",
                "stand_height_m": "keel to highest point, mast off",
                "displacement_t": "displacement as declared [t]",
                "weighed_t": "as weighed [t]",
                "weighed_on": "when she was weighed",
                "mast_m": "length of the mast",
                "laminate_mm": "thickness of the laminate [mm]",
                "core": "whether it has a foam or balsa core",
                "peel_m2": "area to peel, measured [m2]",
                "coat_m2": "area to coat, measured [m2]",
                "antifoul_m2": "area to antifoul, measured [m2]",
            }
            | RETIRED,
        ),
    ),
    File(
        "girths.csv",
        Girth,
        "Girths of a hull below the waterline.",
        order=("boat_id", "position_m"),
        key=("boat", "position_m"),
        links=(BOAT,),
        columns=columns_of(
            Girth, {"boat": "the boat", "position_m": "so far aft of the stem", "girth_m": "the girth there"}
        ),
    ),
    File(
        "spots.csv",
        Spot,
        "Marked places on a hull, where readings are taken.",
        order=("boat_id", "walk_order"),
        key=("boat", "spot"),
        links=(BOAT,),
        columns=columns_of(
            Spot,
            {
                "boat": "the boat",
                "spot=code": "the mark",
                "walk_order": "its place in the walk round her",
                "is_reference": "whether it is on the dry topside",
                "where": "where it is",
            }
            | RETIRED,
        ),
    ),
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
        "How far each treatment is, and where its stages differ from the scheme. Stages not named are waiting.",
        order=("treatment_id", "position"),
        key=("boat", "season", "position"),
        links=(TREATMENT,),
        columns=_stage_columns(),
    ),
    File(
        "stage_demands.csv",
        StageDemand,
        "What a treatment's stage demands, where it differs from the scheme. The rows of a stage replace those before "
        "them whole.",
        order=("stage__treatment_id", "stage__position", "pk"),
        key=(),
        links=(STAGE, SKILL),
        columns=_of_stage(StageDemand, OF_STAGE),
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
    File(
        "rounds.csv",
        Reading,
        "Moisture readings: one row a spot. A row without a spot is the mean of all and is kept as a spot called “mean”. "
        "Rows of one boat, day, meter and mode are one round.",
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
        "work.csv",
        Work,
        "Hours that were worked; a wash, too, is work of its stage.",
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

BY_NAME = {file.name: file for file in FILES}
