"""Short cautions for work that can hurt someone, by kind of stage.

They remind; they decide nothing. Local rules and the competent person decide, and every list says so. Each
names the body whose guidance it follows. The wording is from memory of that guidance; the yard's own risk
assessment overrules it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

DEFER = "Local rules and the competent person decide."


@dataclass(frozen=True)
class Caution:
    """One sentence for the card, and the body that issues the guidance."""

    says: str
    issuer: str


HSE = "Health and Safety Executive"
YARD = "common practice"

_LIFT = (
    Caution(
        "Every lift is planned by a competent person; nobody aboard, nobody under the load.",
        f"{HSE}, lifting (LOLER 1998)",
    ),
    Caution(
        "No lift above the yard's wind limit or past the certificate's date.", f"{HSE}, lifting (LOLER 1998)"
    ),
)
_DUST = (
    Caution("Extraction on first, then a face-fitted P3 mask: GRP dust.", f"{HSE}, COSHH and HSG53"),
    Caution("Trestles and staging checked before you climb.", f"{HSE}, Work at Height Regulations 2005"),
)
_RESIN = (
    Caution(
        "Resin and hardener sensitise skin for life: nitrile or butyl gloves, no solvent on hands.",
        f"{HSE}, RR79",
    ),
    Caution(
        "Solvent vapour and sparks make fire: no heater, sander or grinder near wet solvented paint.",
        f"{HSE}, DSEAR 2002",
    ),
)
_TENT = (
    Caution("Heaters left alone need a cut-out, a detector and a named watch.", YARD),
    Caution(
        "A tented hull can be a confined space: never alone without somebody knowing.",
        f"{HSE}, confined spaces",
    ),
)

CAUTIONS: Mapping[str, tuple[Caution, ...]] = MappingProxyType(
    {
        "lift": _LIFT,
        "relaunch": _LIFT,
        "mast": (
            Caution(
                "Nobody under the mast; none in gusts above the crane's limit.",
                f"{HSE}, lifting (LOLER 1998)",
            ),
        ),
        "strip": (
            Caution(
                "Only the yard's own people move stands; check the props before you pull on a fitting.",
                YARD,
            ),
        ),
        "peel": (
            *_DUST,
            Caution(
                "Vibration: log your trigger time and stop at the yard's limit.",
                f"{HSE}, Vibration Regulations 2005",
            ),
        ),
        "blast": (
            Caution(
                "Supplied-air helmet, screens, exclusion zone: everybody else out.",
                f"{HSE}, COSHH essentials CN7",
            ),
            Caution("No sand and no free silica as grit.", f"{HSE}, COSHH Schedule 2"),
        ),
        "wash": (
            Caution(
                "Lance and steam scald and cut: face shield, never towards a person.", f"{HSE}, PUWER 1998"
            ),
            Caution(
                "Wash water is trade effluent: contain it, nothing to ground or dock.",
                "Environment Agency and its sister bodies",
            ),
        ),
        "dry": _TENT,
        "laminate": _RESIN,
        "fair": _DUST,
        "coat": _RESIN,
        "antifoul": (
            *_RESIN,
            Caution("A biocide: wet-sand only, collect it as hazardous waste.", f"{HSE}, biocidal products"),
        ),
        "cure": (),
        "refit": (
            Caution(
                "Battery or 110 V tools in the wet, with a residual-current device.",
                f"{HSE}, HSG85 and HSG107",
            ),
        ),
    }
)
"""By kind of stage; kinds that are missing carry no caution of their own."""


def cautions_for(kind: str) -> tuple[Caution, ...]:
    """The cautions of a kind of stage; none for a kind that is not listed."""
    return CAUTIONS.get(kind, ())
