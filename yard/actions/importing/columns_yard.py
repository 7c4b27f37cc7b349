"""Columns of the yard itself: its settings, places and kit."""

from __future__ import annotations

from yard.actions.importing.common import AIR, RETIRED, SHED
from yard.actions.importing.tables import File, Link, columns_of
from yard.models import (
    Air,
    AirMonth,
    AwaySite,
    Bay,
    DayRule,
    Hoist,
    Kit,
    Season,
    Shed,
    Sling,
    Yard,
    YardSettings,
)

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
                "tide_allowance_m": "water kept in hand for high air pressure",
                "sill_level_m": "bottom of the dock above the tide table's datum",
                "retention_months": "how long names of owners are kept [months]",
                "link_days": "how long a private link works [days]",
                "book_firm_pct": "the quantile of drying that is booked for a firm date [%]",
                "book_tide_pct": "the same for a date on a tide [%]",
                "book_week_pct": "the same for a date that names a week [%]",
                "book_month_pct": "the same for a date that names a month [%]",
                "book_wish_pct": "the same for a wish [%]",
                "least_hull_c": "coldest hull to coat [degrees C]",
                "least_night_c": "coldest night before coating [degrees C]",
                "target_over_topside": "target of a boat without one: this over her dry topside [points]",
                "spots_at_target_pct": "signed dry: spots at the target or below [%]",
                "spot_over_max": "signed dry: how far over the target a spot may be [points]",
                "early_days": "how long before her day a boat may go back in the water [days]",
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
                "split_day": "whether the yard sands till noon and coats after, so that dust spoils no coat",
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
)
