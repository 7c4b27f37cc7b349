"""Wetted area of what hangs under and behind a hull, and of the band above her waterline."""

from yard.trade.dims import Dims
from yard.trade.ranges import Range

KEEL_SHARE = {
    "fin": Range(0.12, 0.16, 0.21),
    "long": Range(0.40, 0.50, 0.60),
    "bilge": Range(0.24, 0.32, 0.40),
    "lifting": Range(0.10, 0.18, 0.30),
    "none": Range(0.0, 0.0, 0.0),
}
KEEL_UNKNOWN = Range(0.0, 0.16, 0.40)
"""[-] planform of all keels over waterline length x depth below the canoe body, where the planform is not
known. Common practice; write the planform down to replace it."""

RUDDER_SHARE = {"motor": Range(0.01, 0.02, 0.03)}
RUDDER_SHARE_SAIL = Range(0.03, 0.04, 0.055)
"""[-] planform of the rudder over waterline length x draught, where not known. Common practice."""

BOTH_SIDES = 2 * 1.05
"""[-] wetted area of a fin or rudder over its planform: two sides and 5 per cent for their roundness.
Reckoned from common sections."""

BAND_SHARE = 2.15
"""[-] length of the waterline round both sides over waterline length. Reckoned from common waterlines."""

LINE_ABOVE_M = Range(0.05, 0.075, 0.10)
"""[m] how far above the waterline the work goes. Common practice; the yard's own line replaces it."""

MEASURED = 0.03
"""[-] half width of an area or planform that was measured, as a share of it. Common practice."""


def keel_m2(dims: Dims, lwl_m: float, canoe_draught_m: float) -> Range:
    """Wetted area of the keel or keels [m2]: from the planform, else by a share that her kind of keel has."""
    if dims.keel_planform_m2 is not None:
        return _measured(dims.keel_planform_m2)
    unknown = KEEL_SHARE["none"] if dims.hull_kind == "motor" else KEEL_UNKNOWN
    depth = max(0.0, dims.draught_m - canoe_draught_m)
    return KEEL_SHARE.get(dims.keel_kind, unknown).times(lwl_m * depth * BOTH_SIDES)


def rudder_m2(dims: Dims, lwl_m: float) -> Range:
    """Wetted area of the rudder or rudders [m2]: from the planform, else by a share."""
    if dims.rudder_planform_m2 is not None:
        return _measured(dims.rudder_planform_m2)
    share = RUDDER_SHARE.get(dims.hull_kind, RUDDER_SHARE_SAIL)
    return share.times(lwl_m * dims.draught_m * BOTH_SIDES)


def band_m2(dims: Dims, lwl_m: float) -> Range:
    """The band between the waterline and the yard's line above it [m2], on both hulls where she has two."""
    height = LINE_ABOVE_M if dims.line_above_m is None else Range(*[dims.line_above_m] * 3)
    return height.times(BAND_SHARE * lwl_m * dims.hulls)


def _measured(planform_m2: float) -> Range:
    area = planform_m2 * BOTH_SIDES
    return Range(area * (1 - MEASURED), area, area * (1 + MEASURED))
