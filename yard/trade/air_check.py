"""What is read and answered before a coat, and the limits it is held against."""

from dataclasses import dataclass
from math import floor

from yard.trade.air import check_air, check_surface

BEFORE_LEAST_H, BEFORE_MOST_H = 0.5, 6.0
"""[h] a reading of the hull younger or older than this says nothing of whether she is rising now: a
thermometer's noise, and another time of day. 0.25 to 1 and 4 to 8, common practice."""

DRIEST_PCT = 30.0
"""[%] nobody is told to dry air further: dehumidifiers in a tent hardly get below. 25 to 40, common
practice."""


def hundredths(value: float) -> float:
    """`value` to two decimals, halves up: floor(100 x + 0.5) / 100, the same in every language."""
    return floor(value * 100 + 0.5) / 100


def figure(value: float) -> str:
    """A figure with as many of its two decimals as it needs."""
    return f"{hundredths(value):.2f}".rstrip("0").rstrip(".")


@dataclass(frozen=True)
class AirCheck:
    """What was read and answered before a coat, at the coldest place of the hull.

    Attributes:
        air_c: the air by the hull [degrees C].
        rh_pct: its humidity [%].
        hull_c: the hull's surface [degrees C].
        hull_before_c: the reading of the hull before [degrees C], None if there is none.
        hull_before_h: how long before [h], None if there is none.
        heat_on_tonight: whether the heat stays on tonight, None if nobody said.
        watch: who checks it tonight; empty if nobody does.
        night_c: how cold the hull's air gets tonight [degrees C], None if nobody knows.

    Raises:
        ValueError: a value cannot be, or one of the two about the reading before is missing.
    """

    air_c: float
    rh_pct: float
    hull_c: float
    hull_before_c: float | None = None
    hull_before_h: float | None = None
    heat_on_tonight: bool | None = None
    watch: str = ""
    night_c: float | None = None

    def __post_init__(self) -> None:
        check_air(self.air_c, self.rh_pct)
        check_surface(self.hull_c)
        if (self.hull_before_c is None) != (self.hull_before_h is None):
            raise ValueError("Give the hull's temperature before together with how many hours before.")
        if self.hull_before_c is not None:
            check_surface(self.hull_before_c)
        if self.hull_before_h is not None and not self.hull_before_h > 0:
            raise ValueError("The hull's reading before must be before: give more than 0 h.")
        if self.night_c is not None:
            check_air(self.night_c, self.rh_pct)


@dataclass(frozen=True)
class GateRule:
    """The limits; the yard sets them, a product's sheet may ask for more.

    Attributes:
        margin_c: the hull at least this far above the dew point [degrees C]; ISO 8502-4 as quoted by
            inspectors: 3.
        max_rh_pct: dampest air [%]; 85 as quoted by inspectors, 75 to 80 wiser for epoxy with amines.
        least_hull_c: coldest hull [degrees C]; 12 for barrier coats, 10 to 15, common practice.
        least_night_c: coldest night after [degrees C]; 10, common practice.
        steady_c: how far below the reading before still counts as steady [degrees C]: what a surface
            thermometer does by itself, 0.2 to 0.5, common practice.
        ask_tonight: whether the heat and a named watch are asked for; a yard that coats in summer may leave
            it out.

    Raises:
        ValueError: a temperature is not from 0 to 40 degrees C, or the humidity not from 30 to 100 %.
    """

    margin_c: float = 3.0
    max_rh_pct: float = 85.0
    least_hull_c: float = 12.0
    least_night_c: float = 10.0
    steady_c: float = 0.3
    ask_tonight: bool = True

    def __post_init__(self) -> None:
        for name in ("margin_c", "least_hull_c", "least_night_c", "steady_c"):
            if not 0 <= getattr(self, name) <= 40:
                raise ValueError(f"{name} must be from 0 to 40 degrees C.")
        if not DRIEST_PCT <= self.max_rh_pct <= 100:
            raise ValueError(f"max_rh_pct must be from {DRIEST_PCT:g} to 100 %.")
