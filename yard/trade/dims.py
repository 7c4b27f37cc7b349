"""The dimensions of a boat that her areas are reckoned from, and what cannot be or reads like a slip."""

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import NamedTuple

from yard.trade.ranges import Doubt

SEA_T_M3 = 1.025
"""[t/m3] sea water, 1.020 to 1.030. Nature's; nobody changes it."""

FOOT_M = 0.3048
"""[m] one foot, by definition."""

LIGHTEST = 0.8
"""[kg/m3] displacement over length cubed below which lengths read like feet; the lightest cruising hulls have
2, a heavy one 8. Common practice."""

DEEPEST, WIDEST, NARROWEST = 0.32, 0.6, 0.15
"""[-] draught and beam over length past which one of them reads like feet or like a slip. Common
practice."""

LONGEST_M = 30.0
"""[m] a boat past this reads like feet. Common practice."""

AREA_APART = 1.3
"""[-] a typed area so many times as large or as small as her dimensions give is asked about. Common
practice."""


class Dims(NamedTuple):
    """What is written down of a boat: lengths [m], displacement [t], planforms [m2]; None where not known.

    `hull_kind`: sail, motor, motor_sailer, multihull (two hulls), other. `keel_kind`: fin, long, bilge,
    lifting, none, other. `keel_is_metal` None: long keels are taken as moulded, all others as metal.
    `line_above_m`: the yard's line above the waterline.
    """

    hull_kind: str
    keel_kind: str
    length_m: float
    beam_m: float
    draught_m: float
    displacement_t: float
    lwl_m: float | None = None
    bwl_m: float | None = None
    canoe_draught_m: float | None = None
    keel_is_metal: bool | None = None
    keel_planform_m2: float | None = None
    rudder_planform_m2: float | None = None
    line_above_m: float | None = None

    @property
    def hulls(self) -> int:
        """How many hulls she has."""
        return 2 if self.hull_kind == "multihull" else 1


def check_dims(dims: Dims) -> None:
    """Refuse dimensions that no boat has.

    Raises:
        ValueError: naming the dimension and what to do.
    """
    for field, value in dims._asdict().items():
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            may_be_none = field in ("line_above_m", "rudder_planform_m2", "keel_planform_m2")
            if not isfinite(value) or value < 0 or (value == 0 and not may_be_none):
                raise ValueError(f"Her {_name(field)} of {value:g} cannot be; give a figure above nought.")
    _not_above(dims, "beam_m", "length_m")
    _not_above(dims, "lwl_m", "length_m")
    _not_above(dims, "bwl_m", "beam_m")
    _not_above(dims, "bwl_m", "lwl_m")
    _not_above(dims, "canoe_draught_m", "draught_m")
    _not_above(dims, "draught_m", "length_m")
    box_t = (dims.lwl_m or dims.length_m) * (dims.bwl_m or dims.beam_m) * dims.draught_m * SEA_T_M3
    if dims.displacement_t > box_t:
        raise ValueError(
            f"Her displacement of {dims.displacement_t:g} t is more than the water she could push aside"
            f" ({box_t:.1f} t); give it in tonnes, or correct her length, beam or draught."
        )
    if dims.line_above_m is not None and dims.line_above_m > 1:
        raise ValueError(
            f"A line {dims.line_above_m:g} m above the waterline is past her topsides; give it in metres,"
            " 0.05 to 0.10 mostly."
        )


def check_girths(dims: Dims, girths: Sequence[tuple[float, float]]) -> None:
    """Refuse girths that cannot be hers.

    Raises:
        ValueError: naming the girth and what to do.
    """
    aft = dims.lwl_m or dims.length_m
    longest = dims.beam_m + 2 * dims.draught_m
    seen = set()
    for position, girth in girths:
        if not 0 <= position <= aft:
            raise ValueError(
                f"A girth {position:g} m aft of the stem lies outside her waterline of {aft:g} m;"
                f" give a position from 0 to {aft:g} m."
            )
        if position in seen:
            raise ValueError(f"Two girths stand at {position:g} m; keep one of them.")
        seen.add(position)
        if not 0 <= girth <= longest:
            raise ValueError(
                f"A girth of {girth:g} m at {position:g} m cannot be: with her beam and draught it is at most"
                f" {longest:.2f} m from waterline to waterline; measure again, in metres."
            )
    if len(girths) >= 3 and not any(girth for _, girth in girths):
        raise ValueError("All her girths are nought; measure them from waterline to waterline.")


def check_measured(measured: Mapping[str, float]) -> None:
    """Refuse typed areas that cannot be.

    Raises:
        ValueError: naming the area and what to do.
    """
    for name, value in measured.items():
        if name not in ("peel", "coat", "antifoul"):
            raise ValueError(f"There is no area “{name}”; the three are peel, coat and antifoul.")
        if not isfinite(value) or value <= 0:
            raise ValueError(f"A measured {name} area of {value:g} m² cannot be; give one above nought.")


def doubts_about_dims(dims: Dims) -> list[Doubt]:
    """What could be meant but reads like feet or a slip; empty where all is plain."""
    doubts = []
    light = 1000 * dims.displacement_t / dims.length_m**3 < LIGHTEST
    if light or dims.length_m > LONGEST_M:
        doubts.append(Doubt("length_m", _feet("long", dims.length_m)))
    elif dims.beam_m > WIDEST * dims.length_m and dims.hull_kind != "multihull":
        doubts.append(Doubt("beam_m", _feet("wide", dims.beam_m)))
    elif dims.beam_m < NARROWEST * dims.length_m:
        doubts.append(
            Doubt(
                "beam_m", f"{dims.beam_m:g} m wide and {dims.length_m:g} m long? Say whether both are metres."
            )
        )
    if not light and dims.draught_m > DEEPEST * dims.length_m:
        doubts.append(Doubt("draught_m", _feet("deep", dims.draught_m)))
    return doubts


def doubts_about_area(name: str, measured_m2: float, by_dimensions_m2: float) -> list[Doubt]:
    """Whether a typed area is far from what her dimensions give [m2]."""
    if by_dimensions_m2 / AREA_APART <= measured_m2 <= by_dimensions_m2 * AREA_APART:
        return []
    in_m2 = measured_m2 * FOOT_M**2
    feet = in_m2 * AREA_APART > by_dimensions_m2 > in_m2 / AREA_APART
    hint = f" It reads like square feet: {in_m2:.1f} m²." if feet else ""
    return [
        Doubt(
            f"{name}_m2",
            f"{measured_m2:g} m² to {name}? Her dimensions give about {by_dimensions_m2:.0f} m².{hint}"
            " Say which.",
        )
    ]


def _not_above(dims: Dims, field: str, limit: str) -> None:
    """Refuse a dimension that is above another one."""
    value, most = getattr(dims, field), getattr(dims, limit)
    if value is not None and most is not None and value > most:
        feet = f" It reads like feet: {value * FOOT_M:.2f} m." if value * FOOT_M < most else ""
        raise ValueError(
            f"Her {_name(field)} of {value:g} m is more than her {_name(limit)} of {most:g} m;"
            f" correct one of them.{feet}"
        )


def _feet(how: str, value: float) -> str:
    return f"{value:g} m {how}? That reads like feet: {value * FOOT_M:.2f} m. Say which."


def _name(field: str) -> str:
    """A dimension as the yard says it."""
    names = {
        "lwl_m": "waterline length",
        "bwl_m": "waterline beam",
        "line_above_m": "line above the waterline",
    }
    return names.get(field) or field.rsplit("_", 1)[0].replace("_", " ")
