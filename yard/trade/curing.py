"""Cure and overcoat windows by temperature: hours are counted as what they are worth at 20 degrees C.

One Arrhenius rate serves both ends of an overcoat window, so in cold air the least and the greatest time
stretch together.
The product's sheet rules; `GENERIC` stands in where the yard has entered none.
"""

from collections.abc import Mapping
from math import inf, isfinite
from types import MappingProxyType
from typing import NamedTuple

from yard.trade.drying import rate_ratio
from yard.trade.ranges import Doubt, Range

CURING_ACTIVATION_KJ = 55.0
"""[kJ/mol] epoxide with primary amine, 55 to 60: Thermochimica Acta 447 (2006) 167-177. The product's sheet
rules."""

LEAST_C = 10.0
"""[degrees C] below this nothing counts towards cure; 10 to 12 for barrier coats. Common practice; a
product's sheet may
ask for more, the yard for no less."""

OUTDOORS_LEAST_C = 10.0
"""[degrees C] below this no hour outdoors counts towards cure, whatever the sheet says. Common practice."""

KEPT_IN_D = 3.0
"""[calendar days] that she stays in after the last coat before cure may go on outdoors. Common practice; 3 to
7, the yard's."""

SLINGS_H_20 = 72.0
"""[h at 20 degrees C] of cure before slings or pads may press on new epoxy. Common practice; 48 to 96, the
yard's."""

WRAPPED_SLINGS_H = 24.0
"""[h] after the last antifoul before wrapped slings or pads may press on it. Common practice; the yard's."""

DAY_FROM_H, DAY_TO_H = 8.0, 20.0
"""[h of the clock] between which the day's temperature holds, else the night's: half and half. Common
practice."""


class CoatingSheet(NamedTuple):
    """What a product's sheet says of one coat.

    Below `least_c` [degrees C] nothing counts towards cure; `coat_from_c` is the coldest hull it may go on,
    `night_from_c` the coldest night after, `two_from_c` the coldest hull for two coats in a day.
    `activation_kj` [kJ/mol] is that of cure. Hours ending in `_h_20` [h] are at 20 degrees C: full cure, the
    least and the greatest overcoat time, the thumb-tacky time for a tie coat or antifoul. `solids_pct` [per
    cent by volume]; `film_um` [um] dry film of a coat.
    """

    least_c: float
    activation_kj: float
    cure_h_20: float
    recoat_min_h_20: float
    recoat_max_h_20: float
    tacky_min_h_20: float
    tacky_max_h_20: float
    solids_pct: float
    film_um: float
    source: str
    coat_from_c: float = 12.0
    night_from_c: float = 10.0
    two_from_c: float = 18.0


GENERIC = CoatingSheet(
    least_c=LEAST_C,
    activation_kj=CURING_ACTIVATION_KJ,
    cure_h_20=144.0,
    recoat_min_h_20=6.0,
    recoat_max_h_20=36.0,
    tacky_min_h_20=2.0,
    tacky_max_h_20=8.0,
    solids_pct=100.0,
    film_um=125.0,
    source="common practice, from memory: solvent-free epoxy barrier coat; the product's sheet rules",
)
"""A solvent-free epoxy barrier coat where the yard has entered no sheet. Common practice, from memory; the
yard's manager changes it."""

SHEET_RANGES: Mapping[str, Range] = MappingProxyType(
    {
        "activation_kj": Range(50.0, 55.0, 60.0),
        "cure_h_20": Range(120.0, 144.0, 168.0),
        "recoat_min_h_20": Range(4.0, 6.0, 8.0),
        "recoat_max_h_20": Range(24.0, 36.0, 48.0),
        "film_um": Range(100.0, 125.0, 150.0),
    }
)
"""What sheets of solvent-free epoxy say from one to another, in the units of `CoatingSheet`. Common practice,
from memory; for show."""


class Window(NamedTuple):
    """When the next coat may go on, counted from the coat before [h]; inf where that time never comes."""

    opens_h: float
    closes_h: float

    @property
    def says(self) -> str:
        """The window in words."""
        if not isfinite(self.opens_h):
            return "Too cold: the coat never gets far enough to take the next one."
        return f"The next coat may go on from {self.opens_h:.1f} to {self.closes_h:.1f} h after this one."


def rate(temperature_c: float, sheet: CoatingSheet = GENERIC) -> float:
    """How fast it cures beside 20 degrees C [-], at `temperature_c` [degrees C], however cold.

    Raises:
        ValueError: if the temperature is no number or at or below absolute zero.
    """
    if not (isfinite(temperature_c) and temperature_c > -273.15):
        raise ValueError(f"{temperature_c} is no temperature in degrees C: enter the hull's reading.")
    return rate_ratio(temperature_c, 20.0, sheet.activation_kj)


def counted_rate(temperature_c: float, sheet: CoatingSheet = GENERIC, *, outdoors: bool = False) -> float:
    """What an hour at `temperature_c` [degrees C] counts towards cure [h at 20 degrees C]: 0 below the least.

    Below it the film sets without reaction (it vitrifies) and only looks cured: Coatings 13(3) 592 (2023).
    """
    least_c = max(sheet.least_c, OUTDOORS_LEAST_C) if outdoors else sheet.least_c
    return 0.0 if temperature_c < least_c else rate(temperature_c, sheet)


def hours_at_20(
    hours: float, temperature_c: float, sheet: CoatingSheet = GENERIC, *, outdoors: bool = False
) -> float:
    """What `hours` [h] at `temperature_c` [degrees C] are worth at 20 degrees C [h]; nothing below the least.

    Raises:
        ValueError: if the hours are below zero or the temperature is none.
    """
    if not hours >= 0:
        raise ValueError(f"{hours} hours of cure: enter none or more.")
    return hours * counted_rate(temperature_c, sheet, outdoors=outdoors)


def doubling_hours_at_20(hours: float, temperature_c: float, sheet: CoatingSheet = GENERIC) -> float:
    """What `hours` [h] are worth at 20 degrees C [h] by the doubling rule, for comparison only: twice as fast
    for every 10 degrees more.

    A handbook's rule of thumb, from memory; it stands for 47.8 kJ/mol between 10 and 20 degrees C.
    """
    return 0.0 if temperature_c < sheet.least_c else hours * 2 ** ((temperature_c - 20.0) / 10.0)


def night_and_day_at_20(
    hours: float, day_c: float, night_c: float, sheet: CoatingSheet = GENERIC, *, outdoors: bool = False
) -> float:
    """What `hours` [h] of half day at `day_c`, half night at `night_c` [degrees C] are worth at 20 degrees C
    [h].

    Averaging the temperature first would count too little: the rate is not linear.
    """
    return hours_at_20(hours / 2, day_c, sheet, outdoors=outdoors) + hours_at_20(
        hours / 2, night_c, sheet, outdoors=outdoors
    )


def hours_needed(hours_20: float, temperature_c: float, sheet: CoatingSheet = GENERIC) -> float:
    """Hours at a steady `temperature_c` [degrees C] for what takes `hours_20` [h] at 20 [h]; inf below the
    least temperature."""
    if not hours_20 >= 0:
        raise ValueError(f"{hours_20} hours of cure: enter none or more.")
    counts = counted_rate(temperature_c, sheet)
    return hours_20 / counts if counts else (inf if hours_20 else 0.0)


def overcoat_window(started: float, day_c: float, night_c: float, sheet: CoatingSheet = GENERIC) -> Window:
    """When the next coat of epoxy may go on over one put on at `started` [h of the clock, 0 to 24].

    `day_c` and `night_c` [degrees C] are the hull's, and hold day after day. The far end counts hours below
    the product's least temperature too, since nothing says that a cold film stays open to the next coat.

    Raises:
        ValueError: if `started` is no hour of the clock or a temperature is none.
    """
    return _window(started, day_c, night_c, sheet, sheet.recoat_min_h_20, sheet.recoat_max_h_20)


def tacky_window(started: float, day_c: float, night_c: float, sheet: CoatingSheet = GENERIC) -> Window:
    """When tie coat or first antifoul may go on over the last epoxy, while that is thumb-tacky.

    Arguments and errors as in `overcoat_window`. Missed, the epoxy is abraded first.
    """
    return _window(started, day_c, night_c, sheet, sheet.tacky_min_h_20, sheet.tacky_max_h_20)


def checked(sheet: CoatingSheet) -> CoatingSheet:
    """The sheet itself, if it can be true.

    Raises:
        ValueError: naming the first figure that can't be, and what to enter.
    """
    for name in ("activation_kj", "cure_h_20", "recoat_max_h_20", "tacky_max_h_20", "film_um"):
        if not getattr(sheet, name) > 0:
            raise ValueError(f"{name} is {getattr(sheet, name)}: enter the sheet's figure, above zero.")
    for least, greatest in (
        ("recoat_min_h_20", "recoat_max_h_20"),
        ("tacky_min_h_20", "tacky_max_h_20"),
    ):
        if not 0 <= getattr(sheet, least) <= getattr(sheet, greatest):
            raise ValueError(f"{least} must lie between 0 and {greatest}: enter both from the sheet.")
    if not 0 < sheet.solids_pct <= 100:
        raise ValueError("solids_pct must lie above 0 and at most at 100 per cent by volume.")
    return sheet


def doubts_about_sheet(sheet: CoatingSheet) -> list[Doubt]:
    """What in a sheet could be meant but reads like a slip of units."""
    doubts = []
    for name in ("least_c", "coat_from_c", "night_from_c", "two_from_c"):
        value = getattr(sheet, name)
        if value > 35:
            celsius = (value - 32) / 1.8
            doubts.append(
                Doubt(name, f"{value:g} degrees C? That reads like Fahrenheit: {celsius:.1f} degrees C.")
            )
    if sheet.solids_pct <= 1:
        share = sheet.solids_pct * 100
        doubts.append(
            Doubt(
                "solids_pct", f"{sheet.solids_pct:g} per cent? That reads like a share: {share:g} per cent."
            )
        )
    if sheet.film_um < 10:
        doubts.append(Doubt("film_um", f"{sheet.film_um:g} um? A roller coat is 100 to 150 um thick."))
    if sheet.cure_h_20 < 24:
        doubts.append(
            Doubt("cure_h_20", f"{sheet.cure_h_20:g} h to full cure? That reads like days: 5 to 7 d.")
        )
    return doubts


def _window(
    started: float, day_c: float, night_c: float, sheet: CoatingSheet, least: float, greatest: float
) -> Window:
    if not 0 <= started <= 24:
        raise ValueError(f"{started} is no hour of the clock: enter 0 to 24.")
    counted = (counted_rate(day_c, sheet), counted_rate(night_c, sheet))
    return Window(
        _hours_until(least, started, *counted),
        _hours_until(greatest, started, rate(day_c, sheet), rate(night_c, sheet)),
    )


def _hours_until(amount: float, started: float, by_day: float, by_night: float) -> float:
    """Hours after the hour `started` of the clock until `amount` [h at 20 degrees C] is reached, at two rates
    [-]."""
    if amount <= 0:
        return 0.0
    whole_day = (DAY_TO_H - DAY_FROM_H) * by_day + (24 - DAY_TO_H + DAY_FROM_H) * by_night
    if whole_day <= 0:
        return inf
    hours = 24.0 * max(0, int(amount / whole_day) - 1)
    left = amount - hours / 24.0 * whole_day
    clock = started
    while True:
        day = DAY_FROM_H <= clock < DAY_TO_H
        until = DAY_TO_H if day else DAY_FROM_H + (24.0 if clock >= DAY_TO_H else 0.0)
        pace = by_day if day else by_night
        if pace * (until - clock) >= left:
            return hours + left / pace
        hours += until - clock
        left -= pace * (until - clock)
        clock = until % 24.0
