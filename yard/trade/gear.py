"""Lifting gear: what a hoist and its slings may take, until when, and in what wind."""

import calendar
from datetime import date, timedelta
from math import cos, radians
from typing import NamedTuple

MEAN_KN, GUST_KN, GUST_HIGH_SIDES_KN = 18.0, 24.0, 22.0
"""[kn] most wind at the hoist: mean, gust, and gust for high sides. Common practice; the gust 20 to 25, the
manager's; the machine's own manual rules where it says less."""

ACCESSORY_MONTHS, MACHINE_MONTHS = 6, 12
"""[months] most between thorough examinations of slings, strops and shackles, and of other lifting gear,
unless a written scheme of examination says otherwise. Source: Lifting Operations and Lifting Equipment
Regulations 1998, regulation 9(3); Northern Ireland SR 1999/304, regulation 9(3)."""

WARN_DAYS = 30
"""[d] before a certificate ends it is warned of. Common practice; 14 to 60, changed in the code only."""


class WindLimit(NamedTuple):
    """Most wind [kn] that is lifted in; of the yard, or of a machine's manual."""

    mean_kn: float
    gust_kn: float


YARD_WIND = WindLimit(MEAN_KN, GUST_KN)
"""The yard's own limit where it has set none."""


class Wind(NamedTuple):
    """The wind as it is [kn]."""

    mean_kn: float
    gust_kn: float


class Hoist(NamedTuple):
    """A hoist: load it is marked for [kg], day its certificate ends, width between its legs [m], and its
    manual's wind, if the manual says one."""

    name: str
    safe_load_kg: float
    certificate_until: date | None
    inside_width_m: float
    manual: WindLimit | None = None


class SlingPair(NamedTuple):
    """A pair of slings: load the pair is marked for with legs upright [kg], day its certificate ends, and the
    angle between the two legs of a sling [degrees], 0 where they hang upright."""

    name: str
    safe_load_kg: float
    certificate_until: date | None
    angle_deg: float = 0.0


class Line(NamedTuple):
    """One figure held against its limit. `holds` is False where it refuses; `warns` asks to be looked at."""

    name: str
    holds: bool
    figure: float
    limit: float
    unit: str
    says: str
    warns: bool = False


def leg_factor(angle_deg: float) -> float:
    """Pull in each of two legs over the load [-], for the angle between them [degrees]: 0.5 hanging upright,
    1 at 120. Statics: 1 / (2 cos(angle / 2)).

    Raises:
        ValueError: under 0 or over 120 degrees, where no sling is used.
    """
    if not 0 <= angle_deg <= 120:
        raise ValueError(
            f"Legs {angle_deg:g} degrees apart cannot lift; spread or lengthen the slings to 120 at most."
        )
    return 1 / (2 * cos(radians(angle_deg / 2)))


def examined_until(examined_on: date, *, accessory: bool, scheme_until: date | None = None) -> date:
    """Last day a thorough examination holds for: six months on for slings and what hangs with them,
    twelve for other gear, or what the written scheme of examination says."""
    if scheme_until is not None:
        return scheme_until
    months = examined_on.month - 1 + (ACCESSORY_MONTHS if accessory else MACHINE_MONTHS)
    year, month = examined_on.year + months // 12, months % 12 + 1
    return date(year, month, min(examined_on.day, calendar.monthrange(year, month)[1]))


def certificate(name: str, until: date | None, day: date) -> Line:
    """Whether gear may lift on `day` by its certificate: blocked after its last day, warned of before."""
    if until is None:
        says = f"No certificate of the {name} is entered; it may not lift before one is."
        return Line(f"certificate of {name}", False, 0.0, 0.0, "d", says)
    left = (until - day).days
    holds, warns = left >= 0, 0 <= left <= WARN_DAYS
    if not holds:
        says = f"The certificate of the {name} ended on {until:%d/%m/%Y}, {-left} d before."
    else:
        says = f"The certificate of the {name} ends on {until:%d/%m/%Y}, in {left} d."
        says += " Have it examined in time." if warns else ""
    return Line(f"certificate of {name}", holds, float(left), 0.0, "d", says, warns)


def warn_from(until: date) -> date:
    """First day on which the end of a certificate is warned of."""
    return until - timedelta(days=WARN_DAYS)


def wind_limit(yard: WindLimit, manual: WindLimit | None = None, *, high_sides: bool = True) -> WindLimit:
    """The wind [kn] that stops lifting: the lower of the yard's and the machine's manual; for high sides
    gusts of no more than theirs."""
    limits = [yard, manual] if manual is not None else [yard]
    gusts = [limit.gust_kn for limit in limits] + ([GUST_HIGH_SIDES_KN] if high_sides else [])
    return WindLimit(min(limit.mean_kn for limit in limits), min(gusts))
