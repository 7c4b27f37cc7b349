"""The season's board: sheds and their rows on a grid of days, with week heads and closed days."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from scheduling.loading.winter import Winter, shut_days
from scheduling.models import Plan
from scheduling.pages.rows import CODES, Row, View, hoist_rows, row_of
from scheduling.pages.sentences import ground
from scheduling.pages.strips import Strip, strips_of
from yard.models import Bay, StageKind
from yard.templatetags.days import shortday


@dataclass(frozen=True)
class Zoom:
    """How many weeks the board shows, and the least width of a day [px] in `static/css/wall.css`."""

    word: str
    weeks: int
    px: int


ZOOMS = (Zoom("8 weeks", 8, 17), Zoom("16 weeks", 16, 9))
WINTER = "winter"


@dataclass(frozen=True)
class Group:
    """A shed and its rows; `unused` names the bays nobody stands in."""

    name: str
    note: str
    rows: list[Row]
    unused: str


@dataclass(frozen=True)
class Span:
    """Something from a column on, so many days long."""

    column: int
    length: int
    text: str


@dataclass(frozen=True)
class Grid:
    """The whole board: `weeks` from the Monday `first`."""

    first: date
    weeks: int
    px: int
    groups: list[Group]
    heads: list[Span]
    shut: list[Span]
    shut_days: dict[date, str]
    today: int | None
    kinds: list[tuple[str, str]]
    whole: bool

    @property
    def earlier(self) -> date | None:
        """Half a view back, where part of the winter is shown."""
        return None if self.whole else self.first - timedelta(days=7 * self.weeks // 2)

    @property
    def later(self) -> date | None:
        """Half a view on, where part of the winter is shown."""
        return None if self.whole else self.first + timedelta(days=7 * self.weeks // 2)

    @property
    def last(self) -> date:
        """The last day shown."""
        return self.first + timedelta(days=7 * self.weeks - 1)


def frame_of(winter: Winter, zoom: str, start: date | None) -> tuple[date, int, int]:
    """The Monday the board starts on, the weeks it shows, and the least width of a day [px]."""
    asked = start or winter.today
    monday = asked - timedelta(days=asked.weekday())
    for known in ZOOMS:
        if known.word.split()[0] == zoom:
            return monday, known.weeks, known.px
    end = winter.season.last_day
    return monday, min(max((end - monday).days // 7 + 1, 4), 56), 5


def draw(winter: Winter, plan: Plan | None, pinned: frozenset[int], zoom: str, start: date | None) -> Grid:
    """Lay out every boat's strips by shed and bay."""
    first, weeks, px = frame_of(winter, zoom, start)
    last = first + timedelta(days=7 * weeks - 1)
    by_bay: dict[int | None, list[Strip]] = defaultdict(list)
    for boat in winter.boats:
        for strip in strips_of(boat, plan, winter.today):
            if strip.first <= last and strip.until > first:
                by_bay[strip.bay].append(strip)
    view = View(first, last, px, plan, pinned)
    shut = shut_days(winter, first, last)
    used = {segment.kind for strips in by_bay.values() for strip in strips for segment in strip.segments}
    return Grid(
        first=first,
        weeks=weeks,
        px=px,
        groups=_sheds(winter, view, by_bay) + _dock(view, by_bay.get(None, [])),
        heads=[_head(first, number) for number in range(weeks)],
        shut=_shut(first, shut),
        shut_days=shut,
        today=(winter.today - first).days + 2 if first <= winter.today <= last else None,
        kinds=[(kind, CODES[kind]) for kind in StageKind.values if kind in used],
        whole=zoom == WINTER,
    )


def _sheds(winter: Winter, view: View, by_bay: dict[int | None, list[Strip]]) -> list[Group]:
    groups = []
    bays = sorted(winter.bays.values(), key=lambda bay: (bay.shed_id, bay.pk))
    for _, members in groupby(bays, key=lambda bay: bay.shed_id):
        here = list(members)
        open_ground = here[0].shed.door_width_m is None
        name = ground(here[0].shed)
        empty = [bay.name for bay in here if bay.pk not in by_bay]
        rows = [
            row_of(view, bay.name, _door(bay), by_bay[bay.pk])
            for bay in here
            if bay.pk in by_bay or (bay.retired_on is None and not open_ground)
        ]
        unused = f"free all the while: {', '.join(empty)}" if open_ground and empty else ""
        groups.append(Group(name[:1].upper() + name[1:], _airs(here), rows, unused))
    return groups


def _dock(view: View, strips: list[Strip]) -> list[Group]:
    rows = hoist_rows(view, strips)
    return [Group("Dock", "by the tides", rows, "")] if rows else []


def _door(bay: Bay) -> str:
    """Where in her lane a boat stands there, counted from the door."""
    place = bay.lane_place or 0
    return {0: "", 1: "door", 2: "2nd", 3: "3rd"}.get(place, f"{place}th")


def _airs(bays: list[Bay]) -> str:
    airs = {bay.air_id: bay.air for bay in bays}.values()
    warm = next((air for air in airs if air.day_c is not None), None)
    said = f"heated to {warm.day_c:.0f} °C by day" if warm else next(iter(airs)).kind
    parts = f"{len(airs)} airs" if len(airs) > 1 else ""
    lanes = {bay.lane_id for bay in bays if bay.lane_id}
    lane = f"{len(lanes)} lane{'s' if len(lanes) > 1 else ''}" if lanes else ""
    drained = "drained" if bays[0].shed.drained else ""
    return " · ".join(word for word in (said, parts, lane, drained) if word)


def _head(first: date, number: int) -> Span:
    monday = first + timedelta(days=7 * number)
    return Span(7 * number + 2, 7, shortday(monday))


def _shut(first: date, shut: dict[date, str]) -> list[Span]:
    """Runs of closed days that are more than a weekend."""
    spans = []
    days = sorted(shut)
    for _, run in groupby(enumerate(days), key=lambda pair: pair[1].toordinal() - pair[0]):
        here = [on for _, on in run]
        if any(on.weekday() < 5 for on in here):
            why = next(shut[on] for on in here if on.weekday() < 5)
            spans.append(Span((here[0] - first).days + 2, len(here), why))
    return spans
