"""The tide along the top: a curve of each day's best water in working hours."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from scheduling.loading.resources import water_for
from scheduling.loading.winter import Winter, waters_of
from yard.models import TideWater
from yard.trade.tides import Water, height_m

HIGH = 34  # units of the drawing from foot to top


@dataclass(frozen=True)
class Ribbon:
    """Paths for a drawing 10 units a day wide and 36 high; `need_y` is where the deepest boat floats."""

    width: int
    fill: str
    need_y: float | None
    need_m: float | None
    deepest: str
    shut: str


def best_waters(
    waters: Sequence[TideWater], zone: ZoneInfo, winter: Winter, days: Sequence[date]
) -> list[float | None]:
    """The highest water [m] of each day in working hours; None where the table is silent."""
    known = [Water(row.at, float(row.height_m)) for row in waters]
    best: list[float | None] = []
    at = 0
    for on in days:
        opens = datetime.combine(on, winter.settings.work_from, zone)
        closes = datetime.combine(on, winter.settings.work_to, zone)
        while at + 1 < len(known) and known[at + 1].at <= opens:
            at += 1
        heights = []
        look = at
        while look + 1 < len(known) and known[look].at < closes:
            before, after = known[look], known[look + 1]
            heights += [
                height_m(before, after, max(opens, before.at)),
                height_m(before, after, min(closes, after.at)),
            ]
            look += 1
        best.append(max(heights, default=None) if heights and known[0].at <= opens else None)
    return best


def ribbon(winter: Winter, first: date, days: int, shut: dict[date, str]) -> Ribbon | None:
    """Draw the tides of so many days; None where the yard has no tide table for them."""
    zone = ZoneInfo(winter.yard.timezone)
    span = [first + timedelta(days=offset) for offset in range(days)]
    best = best_waters(waters_of(winter.yard, span[0], span[-1]), zone, winter, span)
    heights = [height for height in best if height is not None]
    if not heights:
        return None
    low, high = min(heights) - 0.4, max(heights) + 0.1

    def y(height: float) -> float:
        return round(36 - HIGH * (height - low) / (high - low), 1)

    points = [(10 * number + 5, y(height)) for number, height in enumerate(best) if height is not None]
    deep = max(winter.boats, key=lambda boat: boat.treatment.boat.draught_m, default=None)
    need = water_for(float(deep.treatment.boat.draught_m), winter.settings) if deep else None
    return Ribbon(
        width=10 * days,
        fill=_curve(points),
        need_y=y(need) if need and low < need < high else None,
        need_m=need,
        deepest=deep.name if deep else "",
        shut="".join(f"M{10 * number} 0h10v36h-10z" for number, on in enumerate(span) if on in shut),
    )


def _curve(points: list[tuple[int, float]]) -> str:
    """A smooth path through the points, closed along the foot."""
    path = [f"M{points[0][0] - 5} 36V{points[0][1]}H{points[0][0]}"]
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        middle = (x0 + x1) // 2
        path.append(f"C{middle} {y0} {middle} {y1} {x1} {y1}")
    return "".join(path) + f"H{points[-1][0] + 5}V36z"
