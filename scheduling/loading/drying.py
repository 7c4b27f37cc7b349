"""What a boat's own rounds say of her drying: where she dried since the last wash, and what is left."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduling.loading.airs import TENT, Airs
from scheduling.loading.measured import Hull, Measured
from yard.models import Air, Bay, Treatment, YardSettings
from yard.trade.belief import Belief, prior
from yard.trade.calendar import days_between
from yard.trade.drydays import points_of
from yard.trade.dryness import Stall, stalled
from yard.trade.forecast import Drying, Point, finished_factor, fit
from yard.trade.rounds import Used, usable
from yard.trade.spots import SHARE_PCT


@dataclass(frozen=True)
class Standing:
    """Where she stood from `first` to `last`, both inclusive, and in which regime she dried there."""

    first: date
    last: date
    bay: Bay | None
    regime: str

    @property
    def air(self) -> Air | None:
        """The air she stood in; None stands for the open."""
        return self.bay.air if self.bay else None


@dataclass(frozen=True)
class HullDrying:
    """The forecast of one hull. `decays` [1/day] has one figure a calendar day from `origin` to yesterday."""

    used: Used
    target: float
    belief: Belief
    origin: date
    standings: tuple[Standing, ...]
    decays: tuple[float, ...]
    points: tuple[Point, ...]
    drying: Drying
    stall: Stall | None
    tent_decay: float

    @property
    def x_now(self) -> float:
        """The expected decay up to this morning [-]."""
        return sum(self.decays)

    def dose_left(self, p: float) -> float | None:
        """Days in a tent [d] by which she is at her target with odds `p`; None if she never is."""
        x = self.drying.quantile_x(p)
        return None if x is None else max(0.0, (x - self.x_now) / self.tent_decay)


def standings(hull: Hull, airs: Airs, first: date, last: date) -> tuple[Standing, ...]:
    """Where she stood and dried, from `first` to `last`.

    In a bay where a tent can stand she is in one while a stage of drying runs that may be tented.
    """
    return put_together(_day_by_day(hull, airs, first, last))


def put_together(days: Iterable[Standing]) -> tuple[Standing, ...]:
    """Single days one after the other, those alike put together."""
    found: list[Standing] = []
    for one in days:
        if found and (found[-1].bay, found[-1].regime) == (one.bay, one.regime):
            found[-1] = replace(found[-1], last=one.last)
        else:
            found.append(one)
    return tuple(found)


def _day_by_day(hull: Hull, airs: Airs, first: date, last: date) -> Iterator[Standing]:
    for day in days_between(first, last):
        stays = [s for s in hull.stays if s.from_on <= day and (s.until_on is None or day < s.until_on)]
        bay = stays[-1].bay if stays else None
        heated = any(
            stage.tented
            and stage.started_on is not None
            and stage.started_on <= day
            and (stage.finished_on is None or day <= stage.finished_on)
            for stage in hull.heats
        )
        regime = airs.regime(bay.air if bay else None, tented=bool(heated and bay and bay.tent_size))
        yield Standing(day, day, bay, regime)


def decays_of(stood: Sequence[Standing], airs: Airs) -> tuple[float, ...]:
    """The decay of each day she stood somewhere [1/day]."""
    return tuple(
        airs.decay_on(one.air, day, tented=one.regime == TENT)
        for one in stood
        for day in days_between(one.first, one.last)
    )


def histories(found: Measured) -> dict[str, list[float]]:
    """The factors of the boats the yard has signed dry, by the regime most of their drying was done in."""
    factors: dict[str, list[float]] = defaultdict(list)
    for hull in found.hulls.values():
        if hull.signed_on is None:
            continue
        used = used_of(hull)
        if used is None or not used.points:
            continue
        origin = used.points[0].day
        stood = standings(hull, found.airs, origin, max(used.points[-1].day, origin))
        decays = decays_of(stood, found.airs)
        worth: dict[str, float] = defaultdict(float)
        for one in stood:
            worth[one.regime] += sum(decays_of([one], found.airs))
        regime = max(worth, key=lambda name: (worth[name], name))
        belief = prior(found.airs.norms[regime], scale=hull.scale, reference=used.reference)
        factor = finished_factor(points_of(used.points, origin, decays), belief)
        if factor is not None:
            factors[regime].append(factor)
    return dict(factors)


def hull_drying(
    treatment: Treatment,
    found: Measured,
    history: Mapping[str, Sequence[float]],
    settings: YardSettings,
    today: date,
) -> HullDrying | None:
    """Forecast one boat from her rounds since the last wash.

    None where no round can be used yet, where she is still to be peeled, blasted or washed, or where there is
    neither a target nor a dry topside to set one by.
    """
    hull = found.hulls[treatment.pk]
    used = used_of(hull, settings.spots_at_target_pct)
    if used is None or not used.points or hull.closed:
        return None
    target = target_of(treatment, used.reference, settings)
    if target is None:
        return None
    origin = used.points[0].day
    stood = standings(hull, found.airs, origin, max(today - timedelta(days=1), used.points[-1].day))
    past = decays_of(stood, found.airs)
    regime = stood[-1].regime
    laminate = treatment.boat.laminate_mm
    belief = prior(
        found.airs.norms[regime],
        history.get(regime, ()),
        wet_mm=float(laminate) if laminate else None,
        scale=hull.scale,
        reference=used.reference,
    )
    points = tuple(points_of(used.points, origin, past))
    drying = fit(points, belief, target)
    return HullDrying(
        used=used,
        target=target,
        belief=belief,
        origin=origin,
        standings=stood,
        decays=past[: max(0, (today - origin).days)],
        points=points,
        drying=drying,
        stall=stalled(used.points, target, drying, scale=hull.scale),
        tent_decay=found.airs.tent_decay,
    )


def target_of(treatment: Treatment, reference: float | None, settings: YardSettings) -> float | None:
    """The reading that counts as dry for her: her own, else her scheme's, else her dry topside and the
    yard's margin over it."""
    for own in (treatment.target_reading, treatment.scheme.target_reading):
        if own is not None:
            return float(own)
    return None if reference is None else reference + float(settings.target_over_topside)


def used_of(hull: Hull, share_pct: int = SHARE_PCT) -> Used | None:
    """Her rounds sorted out; where meters or modes are mixed, those of the last round alone."""
    if not hull.rounds:
        return None
    last = max(hull.rounds, key=lambda one: one.day)
    return usable(
        hull.rounds,
        washes=hull.washes,
        references=hull.references,
        excused=hull.excused,
        meter=last.meter,
        mode=last.mode,
        scale=hull.scale,
        share_pct=share_pct,
    )
