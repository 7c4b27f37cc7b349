"""What is said of a hull after a round, a wash or a correction: level, what is left, the days forecast."""

from datetime import date, timedelta

from scheduling.loading.airs import TENT, Airs
from scheduling.loading.drying import HullDrying, histories, hull_drying
from scheduling.loading.measured import measured
from yard.models import Treatment
from yard.templatetags.days import day as said
from yard.trade.calendar import days_between
from yard.trade.drydays import forecast_days
from yard.trade.rounds import FIT_AFTER_D
from yard.trade.stoprule import figure

AHEAD_D = 400
"""[calendar days] how far ahead a day is looked for: a winter and the summer after it. Changed in the code
only."""

ODDS = (0.5, 0.9)
"""[-] the odds a day is told for: one in two, and nine in ten."""


def drying_says(treatment: Treatment, today: date) -> str:
    """Her level, how far she is from her target, and the days she is forecast dry if she stays where she
    stands."""
    found = measured(treatment.yard, [treatment.pk], today)
    hers = hull_drying(treatment, found, histories(found), treatment.yard.settings, today)
    hull = found.hulls[treatment.pk]
    if hers is not None:
        why = " ".join(one.why for one in hers.used.left_out if one.day == hull.rounds[-1].day)
        return " ".join(part for part in (_level(hers), why, _days(hers, found.airs, today)) if part)
    if hull.closed:
        return "No forecast yet: she is still to be peeled, blasted or washed."
    counts = hull.washes[-1] + timedelta(days=FIT_AFTER_D) if hull.washes else None
    if counts and all(one.day < counts for one in hull.rounds):
        return f"She was washed on {said(hull.washes[-1])}: the forecast takes rounds from {said(counts)} on."
    return "No forecast yet: it takes a round, and a target or readings of her dry topside."


def _level(hers: HullDrying) -> str:
    """Her last level that counts, the one before it, and the target."""
    points = hers.used.points
    level = f"Level {figure(points[-1].value)} on {said(points[-1].day)}"
    if len(points) > 1:
        level += f" ({figure(points[-2].value)} on {said(points[-2].day)})"
    over = points[-1].value - hers.target
    if over > 0:
        return f"{level}, {figure(over)} above her target of {figure(hers.target)}."
    return f"{level}: at her target of {figure(hers.target)}."


def _days(hers: HullDrying, airs: Airs, today: date) -> str:
    """The days of the forecast; where waiting is of no use, that instead."""
    if hers.stall is not None:
        return hers.stall.says
    if hers.used.points[-1].value <= hers.target:
        return ""
    here = hers.standings[-1]
    ahead = (
        airs.decay_on(here.air, day, tented=here.regime == TENT)
        for day in days_between(today, today + timedelta(days=AHEAD_D - 1))
    )
    days = forecast_days(hers.drying, (*hers.decays, *ahead), hers.origin, ODDS, today=today)
    return f"If she stays where she stands: {days.says[:1].lower()}{days.says[1:]}"
