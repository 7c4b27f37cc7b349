"""What one boat's page tells of her drying: her rounds, where she stood, her forecast, where the plan has
her.

`scheduling.loading.drypicture` makes a picture of it, `scheduling.pages.drying_words` sentences.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate

from scheduling.loading.airs import Airs
from scheduling.loading.drying import (
    HullDrying,
    Standing,
    decays_of,
    histories,
    hull_drying,
    put_together,
    standings,
    target_of,
    used_of,
)
from scheduling.loading.measured import Hull, Measured, measured
from scheduling.loading.winter import BoatWinter, Winter
from yard.models import DrySigned, Stage, StageKind, Status
from yard.trade.calendar import days_between
from yard.trade.drydays import forecast_days
from yard.trade.rounds import LeftOut, Used, hull_readings, level

DAY = timedelta(days=1)

ODDS = (0.1, 0.5, 0.9)
"""[-] the odds whose days are shown, and the edges and middle of the band."""

AHEAD_D = 300
"""[calendar days] how far ahead she is forecast; later days are of no use to a winter's plan."""


@dataclass(frozen=True)
class Row:
    """One round as the table shows it; `figures` are the hull's readings, topside and excused
    spots apart."""

    day: date
    meter: str
    mode: str
    figures: tuple[float, ...]
    topside: tuple[float, ...]
    why: str  # why the forecast leaves it out; empty where it counts

    @property
    def level(self) -> float | None:
        """The reading that 90 % of them are at or below."""
        return level(self.figures) if self.figures else None

    @property
    def mean(self) -> float | None:
        """Their mean."""
        return sum(self.figures) / len(self.figures) if self.figures else None


@dataclass(frozen=True)
class BoatDrying:
    """All that her page tells of her drying on one day.

    `stood` runs from her first round to today, `ahead` from tomorrow; the plan has her dry up to
    `planned_until`, after that she is taken to stay as she is then. `odds_at_coat` [-]: that she is dry on
    the day planned for the first coat. `own` is None where nothing can be forecast.
    """

    today: date
    hull: Hull
    used: Used | None
    own: HullDrying | None
    target: float | None
    stood: tuple[Standing, ...]
    ahead: tuple[Standing, ...]
    planned_until: date | None
    days: tuple[date | None, ...]
    coat_on: date | None
    coat_begun: bool
    odds_at_coat: float | None
    signature: DrySigned | None
    rows: tuple[Row, ...]
    sums: tuple[float, ...]  # expected decay [-] up to each morning from the day the fit begins


def read_boat_drying(winter: Winter, boat: BoatWinter) -> BoatDrying:
    """Read what was measured on one boat and her signature, in a fixed number of queries."""
    treatment = boat.treatment
    signed = DrySigned.objects.of(winter.yard).filter(treatment=treatment, superseded=False)
    found = measured(winter.yard, [treatment.pk], winter.today)
    return boat_drying(winter, boat, found, signed.select_related("by").first())


def boat_drying(
    winter: Winter, boat: BoatWinter, found: Measured, signature: DrySigned | None = None
) -> BoatDrying:
    """Put together what was measured on one boat, her forecast, and where the posted plan has her dry.

    `found` is what `measured` read for her treatment; `signature` in force, if she is signed dry.
    """
    today, treatment = winter.today, boat.treatment
    hull = found.hulls[treatment.pk]
    own = hull_drying(treatment, found, histories(found), winter.settings, today)
    used = own.used if own else used_of(hull, winter.settings.spots_at_target_pct)
    rows = rows_of(hull, used)
    stood = standings(hull, found.airs, rows[0].day if rows else today, today)
    ahead, until = places_ahead(winter, boat, stood[-1], found.airs, today + AHEAD_D * DAY)
    coat = next((stage for stage in boat.stages if stage.kind == StageKind.COAT), None)
    coat_on = _begins(winter, boat, coat)
    days: tuple[date | None, ...] = ()
    odds_at_coat: float | None = None
    sums: list[float] = []
    if own is not None:
        decays = (
            *decays_of(standings(hull, found.airs, own.origin, today), found.airs),
            *decays_of(ahead, found.airs),
        )
        sums = list(accumulate(decays, initial=0.0))
        if signature is None:
            days = forecast_days(own.drying, decays, own.origin, ODDS, today=today).days
            if coat_on and today < coat_on:
                odds_at_coat = own.drying.probability(sums[min((coat_on - own.origin).days, len(sums) - 1)])
    return BoatDrying(
        today=today,
        hull=hull,
        used=used,
        own=own,
        target=target_of(treatment, used.reference if used else None, winter.settings),
        stood=stood,
        ahead=ahead,
        planned_until=until,
        days=days,
        coat_on=coat_on,
        coat_begun=bool(coat and coat.started_on),
        odds_at_coat=odds_at_coat,
        signature=signature,
        rows=rows,
        sums=tuple(sums),
    )


def rows_of(hull: Hull, used: Used | None) -> tuple[Row, ...]:
    """Her rounds in order of day, each with the reason why the forecast leaves it out."""
    kept = {point.day for point in used.points} if used else set()
    why = {out.day: reason_of(out) for out in used.left_out} if used else {}
    aside = hull.references | hull.excused
    latest = max(hull.rounds, key=lambda one: one.day, default=None)
    rows = []
    for one in sorted(hull.rounds, key=lambda one: (one.day, one.meter, one.mode)):
        alike = latest is not None and (one.meter, one.mode) == (latest.meter, latest.mode)
        rows.append(
            Row(
                day=one.day,
                meter=one.meter,
                mode=one.mode,
                figures=tuple(hull_readings(one, aside).values()),
                topside=tuple(value for spot, value in one.readings.items() if spot in hull.references),
                why="" if alike and one.day in kept else why.get(one.day, "another meter or mode."),
            )
        )
    return tuple(rows)


def reason_of(out: LeftOut) -> str:
    """Why a round is left out, without its day before it."""
    return out.why.partition(" is left out: ")[2] or out.why


def places_ahead(
    winter: Winter, boat: BoatWinter, now: Standing, airs: Airs, last: date
) -> tuple[tuple[Standing, ...], date | None]:
    """Where she dries from tomorrow to `last`, and the day up to which the posted plan says so.

    Up to the plan's last day of drying she stands where its placements have her; in between, and from then
    on, as she stood before.
    """
    plan = winter.posted
    rows = boat.placed.get(plan.pk, []) if plan else []
    drying = {stage.pk for stage in boat.stages if stage.kind == StageKind.DRY}
    until = max(
        (row.last_day for row in rows if row.stage_id in drying and row.last_day > winter.today),
        default=None,
    )
    found: list[Standing] = []
    bay, regime = now.bay, now.regime
    for day in days_between(winter.today + DAY, last):
        at = [row for row in rows if row.bay_id and row.first_day <= day < row.leaves_on]
        if until is not None and day <= until and at:
            bay = winter.bays.get(at[-1].bay_id or 0)
            regime = at[-1].regime or airs.regime(bay.air if bay else None)
        found.append(Standing(day, day, bay, regime))
    return put_together(found), until


def _begins(winter: Winter, boat: BoatWinter, stage: Stage | None) -> date | None:
    """The day a stage began, else the day the posted plan begins it."""
    if stage is None:
        return None
    if stage.status != Status.WAITING:
        return stage.started_on
    return boat.first_day(winter.posted, stage)
