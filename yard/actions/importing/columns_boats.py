"""Columns of the recipes, of what they go by, and of the boats."""

from __future__ import annotations

from dataclasses import replace

from yard.actions.importing.common import (
    BOAT,
    METER,
    NORM_WORDS,
    POSITION,
    RETIRED,
    SHEET,
    SKILL,
    demand_columns,
)
from yard.actions.importing.tables import File, Link, columns_of
from yard.models import Boat, CoatingSheet, Demand, Girth, Meter, Owner, RegimeNorm, Scheme, SchemeStage, Spot

FILES: tuple[File, ...] = (
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
        "drying_norms.csv",
        RegimeNorm,
        "How fast hulls dry at this yard. A regime without a row goes by common practice.",
        order=("regime",),
        key=("regime",),
        columns=columns_of(
            RegimeNorm,
            {
                "regime": "what she is dried in",
                "half_life_low_d": "days in which readings fall halfway to their end, at the fastest [d]",
                "half_life_likely_d": "the same, as mostly [d]",
                "half_life_high_d": "the same, at the slowest [d]",
                "at_c": "the temperature of the air that this is meant at [degrees C]",
                "source": "where the figures come from",
            },
        ),
    ),
    File(
        "coating_sheets.csv",
        CoatingSheet,
        "How the yard's epoxies cure and may be coated over; hours are hours at 20 degrees C.",
        key=("sheet",),
        columns=columns_of(
            CoatingSheet,
            {
                "sheet=name": "what it is called",
                "least_c": "coldest hull it may go on [degrees C]",
                "activation_kj": "how strongly warmth speeds its cure [kJ/mol]",
                "cure_h_20": "till she may be in the water [h]",
                "recoat_min_h_20": "the next coat from [h]",
                "recoat_max_h_20": "the next coat till, without abrading [h]",
                "tacky_min_h_20": "thumb-tacky, for the tie coat or first antifoul, from [h]",
                "tacky_max_h_20": "thumb-tacky till [h]",
                "solids_pct": "solids by volume [%]",
                "film_um": "dry film of one coat [micrometres]",
                "source": "where the figures come from",
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
        links=(Link("scheme", "schemes.csv", ("scheme",)), SHEET),
        columns=columns_of(
            SchemeStage,
            {"scheme": "the scheme", "position": ""} | NORM_WORDS,
            own=(replace(POSITION, field="position"),),
        ),
    ),
    File(
        "demands.csv",
        Demand,
        "What a recipe's stage demands: one row a skill or kit. The rows of a stage replace those before "
        "them whole.",
        order=("scheme_stage__scheme_id", "scheme_stage__position", "pk"),
        key=(),
        links=(Link("scheme_stage", "scheme_stages.csv", ("scheme", "position")), SKILL),
        columns=demand_columns(Demand, {"scheme": "the scheme", "position": ""}),
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
        "Hulls, as declared and as weighed. Two boats of one name are told apart by a number: “Name” and "
        "“Name #2”.",
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
)
