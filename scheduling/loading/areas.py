"""The three areas of a boat, from what the yard has written down and measured of her."""

from yard.models import Boat
from yard.trade.dims import Dims
from yard.trade.hull import Areas, three_areas


def areas_of(boat: Boat) -> Areas:
    """Peel, coat and antifoul area [m2], each with its range and where it comes from.

    Raises:
        ValueError: naming what no hull can have, such as a beam above the length.
    """
    measured = (("peel", boat.peel_m2), ("coat", boat.coat_m2), ("antifoul", boat.antifoul_m2))
    return three_areas(
        Dims(
            hull_kind=boat.hull_kind or "other",
            keel_kind=boat.keel_kind or "other",
            length_m=float(boat.length_m),
            beam_m=float(boat.beam_m),
            draught_m=float(boat.draught_m),
            displacement_t=float(boat.weighed_t or boat.displacement_t),
            lwl_m=_or_none(boat.lwl_m),
            bwl_m=_or_none(boat.bwl_m),
            canoe_draught_m=_or_none(boat.canoe_draught_m),
        ),
        [(float(girth.position_m), float(girth.girth_m)) for girth in boat.girths.all()],
        {name: float(area) for name, area in measured if area},
    )


def likely_m2(boat: Boat) -> dict[str, float]:
    """The likely figure of each area [m2], that hours are counted by.

    Raises:
        ValueError: as `areas_of` does.
    """
    found = areas_of(boat)
    return {"peel": found.peel.m2.likely, "coat": found.coat.m2.likely, "antifoul": found.antifoul.m2.likely}


def _or_none(value: object) -> float | None:
    return float(str(value)) if value else None
