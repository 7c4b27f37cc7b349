"""A boat's lift, held against the yard's hoists as they are entered."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from yard.models import Boat, Hoist, HullKind, OutsideDay, OutsideWho, Sling, Yard, YardSettings
from yard.trade import gear
from yard.trade.gear import examined_until
from yard.trade.lifting import Lift, may_lift


@dataclass(frozen=True)
class NextLift:
    """A lift held against the gear, and what has to happen first for the figures to hold."""

    lift: Lift
    provided: tuple[str, ...]


def lift_of(yard: Yard, boat: Boat, settings: YardSettings, day: date) -> NextLift | None:
    """Whether the yard's gear may lift her on `day`: by the hoist that may, where there are several.

    None where there is no hoist.

    Raises:
        ValueError: for figures that cannot be.
    """
    slings = list(Sling.objects.of(yard).filter(retired_on=None))
    visits = OutsideDay.objects.of(yard).filter(who=OutsideWho.EXAMINER).values_list("day", flat=True)
    examined = sorted(visits)
    found = []
    for hoist in Hoist.objects.of(yard).filter(retired_on=None):
        hers = [sling for sling in slings if sling.hoist_id == hoist.pk]
        until = certified_until(hoist.certificate_until, examined, accessory=False)
        pairs = [
            gear.SlingPair(
                sling.name,
                float(sling.safe_load_t) * 1000,
                certified_until(sling.certificate_until, examined, accessory=True),
            )
            for sling in hers
        ]
        lift = may_lift(
            day=day,
            declared_t=float(boat.displacement_t),
            weighed_t=float(boat.weighed_t) if boat.weighed_t else None,
            beam_m=float(boat.beam_m),
            hoist=gear.Hoist(hoist.name, float(hoist.safe_load_t) * 1000, until, float(hoist.inside_width_m)),
            slings=pairs,
            share=settings.hoist_load_pct / 100,
            motor=boat.hull_kind == HullKind.MOTOR,
            yard_wind=gear.WindLimit(hoist.wind_mean_kn, hoist.wind_gust_kn),
        )
        gear_used: list[Hoist | Sling] = [hoist, *hers]
        provided = tuple(
            f"Provided the examiner passes the {one.name} by {until:%a} {until.day} {until:%b %Y}."
            for one in gear_used
            if (until := one.certificate_until) and until < day and lift.allowed
        )
        found.append(NextLift(lift, provided))
    return next((one for one in found if one.lift.allowed), found[0] if found else None)


def certified_until(until: date | None, examined: Sequence[date], *, accessory: bool) -> date | None:
    """The last day gear may be used: its certificate's, put off by each visit of the examiner in time.

    Slings and what hangs with them are examined for six months, other gear for twelve.
    """
    for visit in sorted(examined):
        if until is not None and visit <= until:
            until = max(until, examined_until(visit, accessory=accessory))
    return until
