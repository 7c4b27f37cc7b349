"""The season's board: rows of strips on a grid of days, with names that never get lost.

A strip that is wide enough wears its boat's name; a narrow one gets a flag above it, and flags that would run
into each other stand on lines of their own. Places are said in grid columns: the first holds the names of the
bays, so the day with offset 0 is column 2.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import groupby

from scheduling.loading.winter import Winter, shut_days
from scheduling.models import Plan
from scheduling.pages.sentences import ground
from scheduling.pages.strips import DAY, Segment, Strip, strips_of
from yard.models import Bay, StageKind
from yard.templatetags.days import day, shortday

CODES = {
    "lift": "LI",
    "strip": "ST",
    "survey": "SU",
    "peel": "PE",
    "blast": "BL",
    "wash": "WA",
    "dry": "DR",
    "laminate": "LA",
    "fair": "FA",
    "coat": "CO",
    "antifoul": "AF",
    "cure": "CU",
    "refit": "RF",
    "mast": "MA",
    "relaunch": "RL",
    "wait": "WT",
    "other": "OT",
}
"""Two letters a kind of stage, always on it where they fit."""

LETTER = 0.95  # [of a day at 7 px] width of one letter of 12 px type
MARGIN = 2.2  # the same, for pole and gap


@dataclass(frozen=True)
class Zoom:
    """How many weeks the board shows, and the least width of a day [px] in `static/css/wall.css`."""

    word: str
    weeks: int
    px: int


ZOOMS = (Zoom("8 weeks", 8, 17), Zoom("16 weeks", 16, 9))
WINTER = "winter"


@dataclass(frozen=True)
class Piece:
    """A segment as drawn: column and length inside its strip, and its letters where they fit."""

    kind: str
    regime: str
    column: int
    length: int
    code: str


@dataclass
class Bar:
    """A strip as drawn."""

    strip: Strip
    column: int
    length: int
    label: str
    title: str
    marks: str
    pieces: list[Piece]
    wide: bool
    line: int = 0  # of its flag, counted from the strip upwards


@dataclass
class Row:
    """One bay, or the hoist, with what stands there."""

    name: str
    note: str
    bars: list[Bar] = field(default_factory=list)
    lines: int = 1


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
    view = View(first, last, px, plan, pinned, winter.bays)
    shut = shut_days(winter, first, last)
    used = {segment.kind for strips in by_bay.values() for strip in strips for segment in strip.segments}
    return Grid(
        first=first,
        weeks=weeks,
        px=px,
        groups=_sheds(winter, view, by_bay) + _hoist(view, by_bay.get(None, [])),
        heads=[_head(first, number) for number in range(weeks)],
        shut=_shut(first, shut),
        shut_days=shut,
        today=(winter.today - first).days + 2 if first <= winter.today <= last else None,
        kinds=[(kind, CODES[kind]) for kind in StageKind.values if kind in used],
    )


@dataclass(frozen=True)
class View:
    """What is shown, and of which plan."""

    first: date
    last: date
    px: int
    plan: Plan | None
    pinned: frozenset[int]
    bays: dict[int, Bay]

    def columns(self, first: date, until: date) -> tuple[int, int]:
        """Column and length of the days that are in view."""
        start, end = max(first, self.first), min(until, self.last + DAY)
        return (start - self.first).days + 2, max((end - start).days, 1)

    def width(self, text: str) -> int:
        """Days that a name takes in this view, generously."""
        return round((len(text) * LETTER + MARGIN) * 7 / self.px) + 1


def _sheds(winter: Winter, view: View, by_bay: dict[int | None, list[Strip]]) -> list[Group]:
    groups = []
    bays = sorted(winter.bays.values(), key=lambda bay: (bay.shed_id, bay.pk))
    for _, members in groupby(bays, key=lambda bay: bay.shed_id):
        here = list(members)
        open_ground = here[0].shed.door_width_m is None
        name = ground(here[0].shed)
        empty = [bay.name for bay in here if bay.pk not in by_bay]
        rows = [
            _row(view, bay.name, _door(bay), by_bay[bay.pk])
            for bay in here
            if bay.pk in by_bay or (bay.retired_on is None and not open_ground)
        ]
        unused = f"free all the while: {', '.join(empty)}" if open_ground and empty else ""
        groups.append(Group(name[:1].upper() + name[1:], _airs(here), rows, unused))
    return groups


def _hoist(view: View, strips: list[Strip]) -> list[Group]:
    """Lifts and relaunches: a row each, one mark a day, with all the names."""
    rows = []
    for name, out in (("lift", False), ("relaunch", True)):
        row = Row(name, "")
        here = [s for s in strips if (s.segments[-1:] and s.segments[-1].kind == StageKind.RELAUNCH) == out]
        for on, group in groupby(sorted(here, key=lambda s: s.first), key=lambda s: s.first):
            same = list(group)
            names = ", ".join(strip.boat.name for strip in same)
            until = max((part.until for strip in same for part in strip.segments), default=on)
            if until <= view.first or on > view.last:
                continue
            column, length = view.columns(on, until)
            pieces = next((drawn for strip in same if (drawn := _pieces(view, strip))), [])
            row.bars.append(
                Bar(same[0], column, length, names, f"{day(on)}: {names}", "", pieces, wide=False)
            )
        if row.bars:
            _flags(view, row)
            rows.append(row)
    return [Group("Dock", "by the tides", rows, "")] if rows else []


def _row(view: View, name: str, note: str, strips: list[Strip]) -> Row:
    row = Row(name, note)
    for strip in sorted(strips, key=lambda strip: strip.first):
        column, length = view.columns(strip.first, strip.until)
        late = strip.boat.late_days(view.plan)
        marks = [
            word
            for word, on in (
                ("bow", strip.to_water and strip.until <= view.last + DAY),
                ("late", bool(late and late > 0)),
                ("out", strip.left_out),
            )
            if on
        ]
        pinned = any(segment.stage in view.pinned for segment in strip.segments)
        label = strip.boat.name + (f" · {late} d late" if late and late > 0 and strip.to_water else "")
        label += " · left out" if strip.left_out else ""
        row.bars.append(
            Bar(
                strip=strip,
                column=column,
                length=length,
                label=("● " if pinned else "") + label,
                title=_title(strip, name),
                marks=" ".join(marks),
                pieces=_pieces(view, strip),
                wide=length >= view.width(strip.boat.name),
            )
        )
    _flags(view, row)
    return row


def _flags(view: View, row: Row) -> None:
    """Give each flag the lowest line on which it runs into nothing.

    From the right, so that no pole crosses a name.
    """
    taken: list[list[tuple[int, int]]] = [
        [(bar.column, bar.column + bar.length) for bar in row.bars if bar.wide]
    ]
    end = (view.last - view.first).days + 3
    for bar in reversed([bar for bar in row.bars if not bar.wide]):
        width = view.width(bar.label)
        start = bar.column
        if start + width > end:
            start = max(bar.column + bar.length - width, 2)
            bar.marks = f"{bar.marks} end".strip()
        line = 0
        while any(
            start < stop and start + width > at for at, stop in (taken[line] if line < len(taken) else [])
        ):
            line += 1
        while len(taken) <= line:
            taken.append([])
        taken[line].append((start, start + width))
        bar.line = line
    row.lines = len(taken)
    for bar in row.bars:
        bar.line = row.lines - bar.line


def _pieces(view: View, strip: Strip) -> list[Piece]:
    begin = max(strip.first, view.first)
    pieces = []
    for segment in _joined(strip.segments):
        first, until = max(segment.first, begin), min(segment.until, view.last + DAY)
        if until <= first:
            continue
        length = (until - first).days
        code = CODES[segment.kind] if length * view.px >= 23 else ""
        pieces.append(Piece(segment.kind, segment.regime, (first - begin).days + 1, length, code))
    return pieces


def _joined(segments: list[Segment]) -> list[Segment]:
    """Segments of the same look that touch, or have only closed days between them, are drawn as one."""
    joined: list[Segment] = []
    for segment in sorted(segments, key=lambda s: s.first):
        last = joined[-1] if joined else None
        if (
            last
            and (last.kind, last.regime) == (segment.kind, segment.regime)
            and (segment.first - last.until).days <= 3
        ):
            joined[-1] = Segment(last.kind, last.name, last.first, segment.until, last.regime, last.stage)
        else:
            joined.append(segment)
    return joined


def _title(strip: Strip, bay: str) -> str:
    """Where she is from day to day, and which stages she goes through there."""
    stages = ", ".join(dict.fromkeys(segment.kind for segment in strip.segments))
    until = strip.until - timedelta(days=1)
    return f"{strip.boat.name} in {bay}, {shortday(strip.first)} to {shortday(until)}: {stages or 'stands'}"


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
