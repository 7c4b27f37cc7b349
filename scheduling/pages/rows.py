"""One row of the board: a bay's strips, or the hoist's days, with names that never get lost.

A strip that is wide enough wears its boat's name; a narrow one gets a flag above it, and flags that would run
into each other stand on lines of their own. Places are said in grid columns: the first holds the names of the
bays, so the day with offset 0 is column 2.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import groupby

from scheduling.models import Plan
from scheduling.pages.strips import DAY, Segment, Strip
from yard.models import StageKind
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

LETTER = 1.1  # [of a day at 7 px] width of one letter of 12 px type
WEEKLY_BELOW = 9  # [px] a day; where days are narrower, the hoist's names stand by the week
MARGIN = 2.2  # the same, for pole and gap


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
class Flag:
    """A name above the strips: its line, counted upwards, the columns it takes, and where its pole stands."""

    line: int
    start: int
    stop: int
    pole: int | None

    def overlaps(self, other: "Flag") -> bool:
        """Whether the two names would be written over each other."""
        return self.line == other.line and self.start < other.stop and other.start < self.stop

    def crosses(self, other: "Flag") -> bool:
        """Whether its pole, on the way down, goes through the other's name."""
        return self.pole is not None and self.line > other.line and other.start < self.pole < other.stop


@dataclass(frozen=True)
class View:
    """What is shown, and of which plan."""

    first: date
    last: date
    px: int
    plan: Plan | None
    pinned: frozenset[int]

    def columns(self, first: date, until: date) -> tuple[int, int]:
        """Column and length of the days that are in view."""
        start, end = max(first, self.first), min(until, self.last + DAY)
        return (start - self.first).days + 2, max((end - start).days, 1)

    def width(self, text: str) -> int:
        """Days that a name takes in this view, generously."""
        return round((len(text) * LETTER + MARGIN) * 7 / self.px) + 1


def row_of(view: View, name: str, note: str, strips: list[Strip]) -> Row:
    """Lay out the strips of one bay; `note` stands beside its name."""
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
        pin = "● " if any(segment.stage in view.pinned for segment in strip.segments) else ""
        more = f" · {late} d late" if late and late > 0 and strip.to_water else ""
        more = " · left out" if strip.left_out else more
        short = pin + strip.boat.name
        wide = length >= view.width(short)
        # Only the name must be read; that she is late, her outline says too.
        label = short if wide and length < view.width(short + more) else short + more
        row.bars.append(
            Bar(
                strip=strip,
                column=column,
                length=length,
                label=label,
                title=_title(strip, name),
                marks=" ".join(marks),
                pieces=_pieces(view, strip),
                wide=wide,
            )
        )
    place_flags(view, row)
    return row


def place_flags(view: View, row: Row) -> None:
    """Give each flag the lowest line on which its name meets no other name and no pole crosses any.

    Names to the right of their poles first, from the right; then those at the edge, to the left of theirs,
    from the left: so nearly every name finds such a line.
    """
    flags: list[Flag] = []
    end = (view.last - view.first).days + 3
    for bar in (bar for bar in row.bars if bar.wide):
        flags.append(Flag(0, bar.column, bar.column + bar.length, None))
    narrow = [bar for bar in row.bars if not bar.wide and bar.label]
    edge = [bar for bar in narrow if bar.column + view.width(bar.label) > end]
    for bar in edge:
        bar.marks = f"{bar.marks} end".strip()
    for bar in [bar for bar in reversed(narrow) if bar not in edge] + edge:
        width, stop = view.width(bar.label), bar.column + bar.length
        if bar in edge:
            start = max(stop - width, 2)
            spot = Flag(0, start, start + width, stop)
        else:
            spot = Flag(0, bar.column, bar.column + width, bar.column)
        tries = [replace(spot, line=line) for line in range(len(flags) + 1)]
        free = [one for one in tries if not any(one.overlaps(other) for other in flags)]
        clear = (one for one in free if not any(one.crosses(o) or o.crosses(one) for o in flags))
        found = next(clear, free[0])
        flags.append(found)
        bar.line = found.line
    row.lines = max((flag.line for flag in flags), default=0) + 1
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


def hoist_rows(view: View, strips: Iterable[Strip]) -> list[Row]:
    """Lifts and relaunches: a row each, one mark a day, with all the names."""
    rows, known = [], list(strips)
    for name, out in (("lift", False), ("relaunch", True)):
        row = Row(name, "")
        here = [s for s in known if (s.segments[-1:] and s.segments[-1].kind == StageKind.RELAUNCH) == out]
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
            if view.px < WEEKLY_BELOW:
                _name_by_weeks(row)
            place_flags(view, row)
            rows.append(row)
    return rows


def _name_by_weeks(row: Row) -> None:
    """Let one flag at the week's first mark carry the names of the whole week: a flag a day makes a tower."""
    for _, week in groupby(row.bars, key=lambda bar: bar.strip.first.isocalendar()[:2]):
        first, *others = week
        first.label = ", ".join([first.label, *(bar.label for bar in others)])
        for bar in others:
            bar.label = ""
