"""Films of paint: wet and dry, what a litre covers, litres for a hull, and whether what is on her is thick
enough.

On GRP no magnetic or eddy-current gauge reads, so a coat's record is what the wet-film comb said and what the
litres say: two estimates that should agree.
"""

from collections.abc import Mapping, Sequence
from math import ceil, inf, isfinite
from statistics import fmean
from types import MappingProxyType
from typing import NamedTuple

from yard.trade.ranges import Doubt, Range

LOSS: Mapping[str, Range] = MappingProxyType(
    {"faired": Range(0.10, 0.125, 0.15), "peeled": Range(0.25, 0.30, 0.40)}
)
"""[-] share of the litres that never becomes film, by roller: on faired GRP, and for the first coat on
laminate freshly peeled or blasted. Common practice; a yard with records of its own changes it."""

SYSTEM_UM = Range(400.0, 500.0, 600.0)
"""[um] dry film of a whole osmosis system of solvent-free epoxy, in four to six coats. Common practice; the
product's sheet rules."""

AGREE_WITHIN = 0.25
"""[-] by how much combs and litres may differ, as a share of the larger, before it is said. Common practice;
0.15 to 0.35, the yard's: a comb reads to 25 um and the loss is known to a tenth."""

SOURCES = MappingProxyType(
    {
        "80/20": "ISO 19840, as quoted by trade papers; strictly less than 20 % from memory",
        "90/10": "IMO performance standard for protective coatings, as quoted by trade papers",
    }
)
"""Where the rules of `acceptance` are from: neither standard's own text has been read."""

READS_ON_GRP = ("comb", "ultrasonic")
"""Gauges that read on GRP: the comb in the wet film, ultrasound in the dry one. From memory."""

NEEDS_METAL = ("magnetic", "eddy current")
"""Gauges that read on metal only: steel, or any metal that conducts. From memory."""


class FilmRecord(NamedTuple):
    """What one coat came to [um dry], by combs and by litres (None where not given), and how they agree.

    `estimate_um` is the lower of the two. `differ` [-] is their difference as a share of the larger.
    """

    estimate_um: float
    from_combs_um: float | None
    from_litres_um: float | None
    differ: float | None
    doubts: tuple[Doubt, ...]
    says: str


class Acceptance(NamedTuple):
    """Whether a film is thick enough: its mean and lowest reading [um], how many of how many lie below the
    nominal, which condition decided, and the same in words."""

    passed: bool
    deciding: str
    mean_um: float
    lowest_um: float
    below: int
    of: int
    says: str


def dry_from_wet_um(wet_um: float, solids_pct: float, thinner_pct: float = 0.0) -> float:
    """Dry film [um] left by a wet one [um] of a paint with `solids_pct` [per cent by volume], thinned by
    `thinner_pct` [per cent of the paint's volume].

    Raises:
        ValueError: if a film is below zero, the solids are not above 0 and up to 100, or thinner is below 0.
    """
    return _film(wet_um) * _solids(solids_pct) / (100.0 + _thinner(thinner_pct))


def wet_from_dry_um(dry_um: float, solids_pct: float, thinner_pct: float = 0.0) -> float:
    """Wet film to put on [um] for a dry one [um]; the reverse of `dry_from_wet_um`, with its errors."""
    return _film(dry_um) * (100.0 + _thinner(thinner_pct)) / _solids(solids_pct)


def spreading_m2_l(solids_pct: float, dry_um: float, loss: float = 0.0) -> float:
    """What a litre covers [m2/l] at a dry film of `dry_um` [um], of paint with `solids_pct` [per cent by
    volume], when a share `loss` [-] never becomes film.

    Raises:
        ValueError: if the film is not above zero, the solids are not above 0 and up to 100, or the loss is
            not from 0 to below 1.
    """
    if not dry_um > 0:
        raise ValueError(f"A dry film of {dry_um} um: enter one above zero.")
    return 10.0 * _solids(solids_pct) / _film(dry_um) * (1.0 - _loss(loss))


def litres(area_m2: float, dry_um: float, coats: int, solids_pct: float, loss: float) -> float:
    """Litres [l] for `coats` of `dry_um` [um] each on `area_m2` [m2]; the rest as in `spreading_m2_l`."""
    if not (area_m2 >= 0 and coats >= 0):
        raise ValueError("Area and coats can't be below zero.")
    return area_m2 * coats / spreading_m2_l(solids_pct, dry_um, loss)


def coats_for_um(total_um: float, film_um: float) -> int:
    """How many coats of `film_um` [um dry] it takes for `total_um` [um dry] at least."""
    if not film_um > 0:
        raise ValueError(f"A dry film of {film_um} um: enter one above zero.")
    return ceil(_film(total_um) / film_um - 1e-9)


def film_record(
    combs: Sequence[float],
    used_l: float | None,
    area_m2: float,
    solids_pct: float,
    *,
    loss: float = LOSS["faired"].likely,
    thinner_pct: float = 0.0,
    agree_within: float = AGREE_WITHIN,
) -> FilmRecord:
    """Dry film of one coat from comb readings [um wet] and from the litres `used_l` [l] on `area_m2` [m2].

    The litres are those of paint before thinning; `loss` [-] is the share that never became film.

    Raises:
        ValueError: if there is neither comb nor litres, or a value can't be.
    """
    if not area_m2 > 0:
        raise ValueError(f"An area of {area_m2} m2: enter the coat area, above zero.")
    if used_l is not None and not used_l >= 0:
        raise ValueError(f"{used_l} litres used: enter none or more.")
    by_comb = dry_from_wet_um(fmean(combs), solids_pct, thinner_pct) if combs else None
    by_litres = None
    if used_l is not None:
        by_litres = used_l * _solids(solids_pct) * (1.0 - _loss(loss)) * 10.0 / area_m2
    given = [film for film in (by_comb, by_litres) if film is not None]
    if not given:
        raise ValueError("Neither comb readings nor litres: enter one of them at least.")
    estimate, doubts = min(given), _doubts_about_combs(combs)
    if by_comb is None or by_litres is None:
        how = "the litres" if by_comb is None else "the comb"
        says = f"{estimate:.0f} um dry, by {how} alone."
        return FilmRecord(estimate, by_comb, by_litres, None, tuple(doubts), says)
    differ = abs(by_comb - by_litres) / max(given) if max(given) > 0 else 0.0
    says = f"{by_comb:.0f} um dry by comb, {by_litres:.0f} um by litres"
    if differ > agree_within:
        says += f": they differ by {differ:.0%}, more than {agree_within:.0%}."
        ask = "is she thicker where she was combed?" if by_comb > by_litres else "did much stay in the tray?"
        doubts.append(Doubt("litres", f"{says} Is area, litres or loss wrong, or {ask}"))
    else:
        says += f": they agree within {agree_within:.0%}; the lower counts."
    return FilmRecord(estimate, by_comb, by_litres, differ, tuple(doubts), says)


def acceptance(
    readings: Sequence[float], nominal_um: float, rule: str = "80/20", *, gauge: str = "ultrasonic"
) -> Acceptance:
    """Whether dry-film `readings` [um] come up to `nominal_um` [um], by a rule.

    "80/20": the mean is the nominal or more, every reading 80 % of it or more, and **fewer than** 20 % of
    them lie below the nominal: two of ten is too many. "90/10": 90 % of the readings or more are the nominal
    or more, and none is below 90 % of it. A reading at the nominal is not below it.

    Raises:
        ValueError: if there is no reading, the nominal is not above zero, the rule is unknown, or the gauge
            does not read on GRP.
    """
    if gauge not in READS_ON_GRP:
        only = "reads on metal only" if gauge in NEEDS_METAL else "is not known"
        raise ValueError(f"A gauge that {only} ({gauge}): on GRP use a wet-film comb, litres or ultrasound.")
    if rule not in SOURCES:
        raise ValueError(f"No rule called {rule}: use {' or '.join(SOURCES)}.")
    if not readings:
        raise ValueError("No reading: enter one at least.")
    if not (nominal_um > 0 and isfinite(nominal_um)):
        raise ValueError(f"A nominal film of {nominal_um} um: enter one above zero.")
    mean, lowest = fmean(_film(reading) for reading in readings), min(readings)
    below, of = sum(reading < nominal_um for reading in readings), len(readings)
    conditions: tuple[tuple[str, bool, str], ...]  # in whole tenths, so that no rounding decides
    if rule == "80/20":
        conditions = (
            ("mean", mean >= nominal_um, f"the mean is {mean:.0f} um"),
            ("lowest", lowest * 10 >= nominal_um * 8, f"the lowest reading is {lowest:.0f} um, least 80 %"),
            ("share below", below * 5 < of, f"{below} of {of} lie below, fewer than 20 % may"),
        )
    else:
        conditions = (
            ("lowest", lowest * 10 >= nominal_um * 9, f"the lowest reading is {lowest:.0f} um, least 90 %"),
            ("share below", below * 10 <= of, f"{below} of {of} lie below, at most 10 % may"),
        )
    name, passed, figure = next((c for c in conditions if not c[1]), conditions[-1])
    says = f"{'Thick enough' if passed else 'Too thin'} for {nominal_um:.0f} um by {rule}: {figure}."
    return Acceptance(passed, name, mean, lowest, below, of, says)


def spot_um(readings: Sequence[float]) -> float:
    """A spot's film [um]: the mean of three readings close together, as SSPC-PA 2 takes it (quoted by trade
    papers).

    Raises:
        ValueError: if there are not three.
    """
    if len(readings) != 3:
        raise ValueError(f"{len(readings)} readings: a spot has three.")
    return fmean(_film(reading) for reading in readings)


def _doubts_about_combs(combs: Sequence[float]) -> list[Doubt]:
    mean = fmean(combs) if combs else inf
    if combs and max(combs) < 5:
        return [Doubt("combs", f"{mean:g} um wet? That reads like mils: {mean * 25.4:.0f} um.")]
    if combs and mean > 1000:
        return [Doubt("combs", f"{mean:.0f} um wet? A roller coat is some 100 to 200 um.")]
    return []


def _film(um: float) -> float:
    if not 0 <= um < inf:
        raise ValueError(f"A film of {um} um: enter none or more.")
    return um


def _solids(pct: float) -> float:
    if not 0 < pct <= 100:
        raise ValueError(f"{pct} per cent solids by volume: enter above 0 and up to 100.")
    return pct


def _thinner(pct: float) -> float:
    if not 0 <= pct < inf:
        raise ValueError(f"{pct} per cent thinner: enter none or more.")
    return pct


def _loss(share: float) -> float:
    if not 0 <= share < 1:
        raise ValueError(f"A loss of {share}: enter a share from 0 to below 1, as 0.25 for 25 per cent.")
    return share
