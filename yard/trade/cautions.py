"""Short cautions for work that can hurt someone, by kind of stage, gravest first.

They remind; they decide nothing. Local rules and the competent person decide, and every list says so. Each
names the body whose guidance it follows, or says that it is common practice. The wording is from memory of
that guidance; the yard's own risk assessment overrules it.
"""

from collections.abc import Mapping
from enum import IntEnum
from types import MappingProxyType
from typing import NamedTuple

DEFER = "Local rules and the competent person decide."


class Gravity(IntEnum):
    """What happens at worst where a caution is not kept: the lower, the earlier it is shown."""

    KILLS = 1
    MAIMS = 2
    SPOILS = 3


class Caution(NamedTuple):
    """One sentence for the card, the body that issues the guidance, and how grave it is."""

    says: str
    issuer: str
    gravity: Gravity


KILLS, MAIMS, SPOILS = Gravity
HSE = "Health and Safety Executive"
LOLER = f"{HSE}, lifting (LOLER 1998)"
DSEAR = f"{HSE}, DSEAR 2002"
COSHH = f"{HSE}, COSHH Regulations 2002"
RR79 = f"{HSE}, RR79"
RPE = f"{HSE}, COSHH and HSG53"
ELECTRIC = f"{HSE}, Electricity at Work Regulations 1989, HSG85 and HSG107"
HEIGHT = f"{HSE}, Work at Height Regulations 2005"
PUWER = f"{HSE}, PUWER 1998"
WATERS = "Environment Agency and its sister bodies"
YARD = "common practice"

# --- Shared by several kinds of work ----------------------------------------------------------------------
_WET_TOOLS = Caution(
    "In the wet, battery or 110 V centre-tapped tools only, behind a 30 mA residual-current device.",
    ELECTRIC,
    KILLS,
)
_HEIGHT = Caution("Trestles, staging and props checked before you climb.", HEIGHT, KILLS)
_ALONE = Caution(
    "Nobody works alone unless somebody knows where and asks after them at a set hour.",
    f"{HSE}, lone working (INDG73)",
    KILLS,
)
_CONFINED = Caution(
    "Lockers, tanks and a tented hull can be confined spaces: test and air them before you go in.",
    f"{HSE}, Confined Spaces Regulations 1997",
    KILLS,
)
_SPARKS = Caution(
    "Solvent vapour and sparks make fire: no heater, sander or grinder near wet solvented work.",
    DSEAR,
    KILLS,
)
_TENT_HEATER = Caution("No tent heater within four hours of solvent, and only after airing.", DSEAR, KILLS)
_MASK = Caution(
    "P3 mask or powered hood, clean-shaven; each wearer's face-fit test is of the last two years.", RPE, MAIMS
)
_EXTRACTION = Caution("Extraction runs first; its own test is no older than 14 months.", COSHH, MAIMS)
_SKIN = Caution(
    "Resin and hardener sensitise skin for life: nitrile or butyl gloves, no solvent on hands.",
    RR79,
    MAIMS,
)
_VIBRATION = Caution(
    "Vibration: log your trigger time and stop at the yard's limit; ears covered.",
    f"{HSE}, Vibration and Noise Regulations 2005",
    MAIMS,
)
_EFFLUENT = Caution(
    "Wash water and slurry are trade effluent: contain them, nothing to ground or dock.", WATERS, SPOILS
)

_LIFT = (
    Caution(
        "Every lift is planned by a competent person; nobody aboard, nobody under the load.", LOLER, KILLS
    ),
    Caution("No lift above the yard's wind limit or past the certificate's date.", LOLER, KILLS),
    Caution("At the dock's edge: lifejacket on, and never alone.", f"{HSE}, safety in docks (L148)", KILLS),
    Caution(
        "Heights of tide are for planning only: confirm them from the official table and by eye.",
        "UK Hydrographic Office and the harbour authority",
        SPOILS,
    ),
)
_DUST = (_HEIGHT, _MASK, _EXTRACTION, _VIBRATION)
_RESIN = (_SPARKS, _CONFINED, _SKIN, _MASK)
_HEATED = (
    Caution(
        "Heaters left at night: overheat cut-out, detector, a residual-current device on each circuit.",
        f"{HSE}, HSG85, and the yard's fire risk assessment",
        KILLS,
    ),
    _TENT_HEATER,
    _CONFINED,
    _ALONE,
    Caution(
        "No night of heat without the insurer's word and a named watch with a telephone.",
        "the yard's insurer",
        MAIMS,
    ),
)

# --- By kind ----------------------------------------------------------------------------------------------
_BY_KIND: Mapping[str, tuple[Caution, ...]] = {
    "lift": _LIFT,
    "strip": (
        Caution("Only the yard's own people move props; look at them before you pull.", YARD, KILLS),
        Caution(
            "Gas and petrol vapour lie in bilges: air them, batteries off, before a tool is on.",
            DSEAR,
            KILLS,
        ),
        Caution("A rudder is dropped in slings, never onto a foot or a shoulder.", LOLER, MAIMS),
        _HEIGHT,
    ),
    "survey": (
        _HEIGHT,
        Caution("No mains meter or lamp on a wet hull.", ELECTRIC, KILLS),
        Caution("Eyes covered when you tap, scrape or open a blister: it squirts acid.", COSHH, MAIMS),
    ),
    "peel": (
        *_DUST,
        _WET_TOOLS,
        Caution("Peeler unplugged before a hand is near its blade; nobody else in reach.", PUWER, MAIMS),
        Caution(
            "Old antifouling can hold tin, copper and lead: collect it as hazardous waste.", WATERS, SPOILS
        ),
    ),
    "blast": (
        Caution(
            "Supplied-air helmet, screens, exclusion zone: everybody else out.",
            f"{HSE}, COSHH essentials CN7",
            KILLS,
        ),
        Caution(
            "The exclusion zone stops work next door too, the hoist's among it, until the blaster is done.",
            f"{HSE}, COSHH essentials CN7",
            MAIMS,
        ),
        Caution("No sand and no free silica as grit.", f"{HSE}, COSHH Schedule 2", MAIMS),
        Caution("Hoses tied at each coupling; nozzle shuts when it is let go.", PUWER, MAIMS),
        Caution("Grit and dust are sheeted in, swept up and taken away as waste.", WATERS, SPOILS),
    ),
    "wash": (
        Caution("Lance and steam scald and cut: face shield, never towards a person.", PUWER, MAIMS),
        _WET_TOOLS,
        Caution("Heaters, lamps and meters stay dead until the hull and floor are dry.", ELECTRIC, KILLS),
        _EFFLUENT,
    ),
    "dry": (
        *_HEATED,
        Caution("Vacuum blankets are never left unattended.", "the maker's manual", MAIMS),
        Caution(
            "Hull skin: 35 °C and no more than 40; with a core 30 and 35; blankets as their manual says.",
            YARD,
            SPOILS,
        ),
    ),
    "laminate": (
        *_RESIN,
        Caution(
            "Peroxide catalyst blinds: goggles, and never mixed straight into accelerator.", COSHH, MAIMS
        ),
        Caution(
            "Styrene: extraction on; the limit is 100 ppm over 8 hours, 250 over 15 minutes.",
            f"{HSE}, EH40",
            MAIMS,
        ),
        Caution("Mixed resin runs hot in the pot: small mixes, leftovers spread outside.", YARD, MAIMS),
    ),
    "fair": (
        *_DUST,
        Caution("No sanding within reach of wet solvented work: dust, spark and vapour burn.", DSEAR, KILLS),
        Caution("Filler sanded green sensitises as wet resin does: gloves and sleeves.", RR79, MAIMS),
    ),
    "coat": (
        *_RESIN,
        _TENT_HEATER,
        Caution(
            "Two-pack polyurethane sprayed can cause asthma: supplied air, everybody else out.", RPE, MAIMS
        ),
    ),
    "antifoul": (
        *_RESIN,
        Caution(
            "A biocide: wet-sand only, collect it as hazardous waste.", f"{HSE}, biocidal products", SPOILS
        ),
    ),
    "cure": (
        *_HEATED,
        Caution("Green resin and its wash water sensitise: gloves until she is cured.", RR79, MAIMS),
    ),
    "refit": (
        _WET_TOOLS,
        _HEIGHT,
        _CONFINED,
        Caution("Charging batteries give off gas that explodes: air first, no spark near.", DSEAR, MAIMS),
    ),
    "mast": (
        Caution("Nobody under the mast; none in gusts above the crane's limit.", LOLER, KILLS),
        Caution("Mast and jib stay clear of overhead lines.", f"{HSE}, GS6", KILLS),
    ),
    "relaunch": (
        *_LIFT,
        Caution("She stays in the slings until every sea-cock has been looked at.", YARD, SPOILS),
    ),
    "other": (
        Caution("New work has its risks written down before it starts.", f"{HSE}, risk assessment", MAIMS),
    ),
}

CAUTIONS: Mapping[str, tuple[Caution, ...]] = MappingProxyType(
    {kind: tuple(sorted(found, key=lambda one: one.gravity)) for kind, found in _BY_KIND.items()}
)
"""By kind of stage, gravest first; mere waiting carries none."""


def cautions_for(kind: str) -> tuple[Caution, ...]:
    """The cautions of a kind of stage, gravest first; none for a kind that is not listed."""
    return CAUTIONS.get(kind, ())
