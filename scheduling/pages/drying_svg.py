"""The drawing of one boat's drying as SVG elements: attributes only, every number reckoned here.

Points for what was measured, a pale band for what is forecast. It is drawn twice: wide, and upright for a
phone, where the same letters need more of the width. Regimes have a texture each, so that ink alone tells
them apart.
"""

from collections.abc import Sequence
from datetime import date, timedelta

from django.utils.safestring import SafeString

from scheduling.loading.drypicture import DryPicture, Span
from scheduling.pages.drying_scale import Scale, Shape, apart, scale_of, step_of, ticks, width_of
from scheduling.pages.svg import PAPER, el, group, halo, line, text
from yard.templatetags.days import shortday

INK, SOFT, LINE = "#14233a", "#46556a", "#c6ced6"
TIDE, SAND, EARTH, WATER = "#125e6b", "#efdfb0", "#7a5a10", "#1d6f97"

WORD = {"weather": "weather", "cold": "shed", "tent": "tent", "blankets": "blankets"}
"""Regimes as the strip along the days names them."""


def draw(picture: DryPicture, shape: Shape, says: str) -> SafeString:
    """The whole drawing as one `svg` element; `says` is its description for those who don't see it."""
    scale = scale_of(picture, shape)
    name = f"drying-{shape.name}"
    return el(
        "svg",
        el("title", f"How {picture.name} dries", id=f"{name}-title"),
        el("desc", says, id=f"{name}-desc"),
        _textures(name),
        _grid(scale),
        _strip(picture, scale, name),
        _band(picture, scale),
        _lines(picture, scale),
        _days(picture, scale),
        _measured(picture, scale),
        _odds(picture, scale),
        class_=f"drying-{shape.name}",
        viewBox=f"0 0 {shape.width} {shape.height}",
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
        xmlns="http://www.w3.org/2000/svg",
        font_size=shape.letters,
        fill=INK,
    )


# --- Parts ------------------------------------------------------------------------------------------------
def _grid(scale: Scale) -> SafeString:
    """Readings as pale lines with their figures, months as ticks with their names."""
    shape = scale.shape
    step = step_of(scale.high - scale.low)
    figures = [scale.low + step * number for number in range(int((scale.high - scale.low) / step) + 1)]
    parts = [
        part
        for figure in figures
        for part in (
            line(shape.left, scale.y(figure), shape.width - shape.right, scale.y(figure), LINE, 0.6),
            text(shape.left - 5, scale.y(figure) + 0.35 * shape.letters, f"{figure:g}", anchor="end"),
        )
    ]
    parts.append(line(shape.left, shape.foot, shape.width - shape.right, shape.foot, INK, 1))
    edge = 0.0
    for day, words in ticks(scale.first, scale.last):
        at, width = scale.x(day), width_of(words, shape)
        parts.append(line(at, shape.foot, at, shape.foot + 5, INK, 1))
        if at - width / 2 >= edge and at + width / 2 <= shape.width:
            parts.append(text(at, shape.foot + 5 + shape.letters, words, anchor="middle"))
            edge = at + width / 2 + 6
    return group(parts)


def _strip(picture: DryPicture, scale: Scale, name: str) -> SafeString:
    """Where she stands along the days: a texture for each regime, a dashed edge where it is planned; under
    it the place, and since or from when."""
    shape = scale.shape
    top, high = shape.foot + 2 * shape.letters, 1.3 * shape.letters
    parts: list[SafeString] = []
    for span in picture.spans:
        left, right = scale.x(span.first), scale.x(span.last + timedelta(days=1))
        parts.append(
            el(
                "rect",
                el("title", _whole(span)),
                x=left,
                y=round(top, 1),
                width=round(max(1.0, right - left), 1),
                height=round(high, 1),
                fill=f"url(#{name}-{span.regime})",
                stroke=INK,
                stroke_width=1,
                stroke_dasharray="3 2" if span.planned else None,
            )
        )
    heads = [
        span
        for before, span in zip([None, *picture.spans], picture.spans, strict=False)
        if before is None or (before.regime, before.bay) != (span.regime, span.bay)
    ]
    for span, after in zip(heads, [*heads[1:], None], strict=False):
        left = scale.x(span.first)
        room = (scale.x(after.first) if after else shape.width) - left - 2
        if span is not heads[0]:
            parts.append(line(left, shape.top, left, shape.foot, SOFT, 0.8, "1 3"))
        for number, choices in enumerate(_words(span), start=1):
            words = next((one for one in choices if width_of(one, shape) <= room), "")
            if words:
                parts.append(text(left, top + high + 1.15 * number * shape.letters, words))
    return group(parts)


def _words(span: Span) -> tuple[list[str], list[str]]:
    """What stands under a span in two rows, each the longest first."""
    word, day = WORD[span.regime], shortday(span.first)
    verb = "from" if span.planned else "since"
    heat = [f"heat {verb} {day}"] if span.regime in ("tent", "blankets") else []
    return [f"{word} {span.bay}".strip(), word], [*heat, f"{verb} {day}", day]


def _whole(span: Span) -> str:
    """A span in full, as a pointer's resting on it shows."""
    place = f"{WORD[span.regime]}, bay {span.bay}" if span.bay else WORD[span.regime]
    return f"{place}, {shortday(span.first)} to {shortday(span.last)}{', planned' if span.planned else ''}"


def _band(picture: DryPicture, scale: Scale) -> SafeString:
    """Eight chances in ten as a pale band, its middle as a line, dashed from today on."""
    if not picture.band:
        return group([])
    over = [f"{scale.x(edge.day)},{scale.y(edge.high)}" for edge in picture.band]
    under = [f"{scale.x(edge.day)},{scale.y(edge.low)}" for edge in picture.band]
    turn = picture.signed_on or picture.today
    parts = [el("polygon", points=" ".join([*over, *reversed(under)]), fill=SAND, fill_opacity=0.75)]
    parts += [
        el("polyline", points=" ".join(side), fill="none", stroke=EARTH, stroke_width=0.8)
        for side in (over, under)
    ]
    for edges, dash in (
        ([edge for edge in picture.band if edge.day <= turn], None),
        ([edge for edge in picture.band if edge.day >= turn], "7 4"),
    ):
        if len(edges) > 1:
            points = " ".join(f"{scale.x(edge.day)},{scale.y(edge.middle)}" for edge in edges)
            parts.append(
                el("polyline", points=points, fill="none", stroke=EARTH, stroke_width=2,
                    stroke_dasharray=dash)
            )  # fmt: skip
    return group(parts)


def _lines(picture: DryPicture, scale: Scale) -> SafeString:
    """The target and her dry topside, with their figures."""
    shape = scale.shape
    end = shape.width - shape.right
    parts = []
    if picture.topside is not None:
        y = scale.y(picture.topside)
        parts.append(line(shape.left, y, end, y, SOFT, 1.4, "1.5 4"))
        below = y + 1.05 * shape.letters
        parts.append(halo(shape.left + 4, below, f"dry topside {picture.topside:g}", SOFT))
    if picture.target is not None:
        y = scale.y(picture.target)
        parts.append(line(shape.left, y, end, y, TIDE, 2, "8 3"))
        parts.append(halo(shape.left + 4, y - 0.4 * shape.letters, f"target {picture.target:g}", TIDE))
    return group(parts)


def _measured(picture: DryPicture, scale: Scale) -> SafeString:
    """Rounds as points, those left out as rings, single spots as one path of pale specks."""
    # A little to one side and the other, so that spots alike show beside one another.
    specks = "".join(
        f"M{round(scale.x(day) + 2.2 * (number * 2 % 5 - 2), 1)} {scale.y(value)}h.01"
        for number, (day, value) in enumerate(picture.spots)
    )
    parts = [
        el("path", d=specks, stroke=INK, stroke_opacity=0.65, stroke_width=2.8, stroke_linecap="round",
            fill="none")
    ] if specks else []  # fmt: skip
    for mark in picture.hollow:
        parts.append(
            el(
                "circle",
                el("title", f"{shortday(mark.day)}: {mark.value:g}, left out: {mark.why}"),
                cx=scale.x(mark.day),
                cy=scale.y(mark.value),
                r=4,
                fill=PAPER,
                stroke=SOFT,
                stroke_width=1.4,
            )
        )
    for mark in picture.marks:
        parts.append(
            el(
                "circle",
                el("title", f"{shortday(mark.day)}: {mark.value:g}"),
                cx=scale.x(mark.day),
                cy=scale.y(mark.value),
                r=4.4,
                fill=INK,
                stroke=PAPER,
                stroke_width=1,
            )
        )
    return group(parts)


def _days(picture: DryPicture, scale: Scale) -> SafeString:
    """Days of note over the field: today, washes, the first coat, the signature."""
    shape = scale.shape
    parts = [_drop(scale.x(day), shape.top, scale) for day in picture.washes]
    marked: list[Marked] = []
    if picture.first <= picture.today <= picture.last:
        marked.append((picture.today, f"today {shortday(picture.today)}", None, 1.2))
    if picture.signed_on and picture.signed_on >= picture.first:
        marked.append((picture.signed_on, f"signed dry {shortday(picture.signed_on)}", None, 2))
    if picture.coat_on:
        marked.append((picture.coat_on, f"first coat {shortday(picture.coat_on)}", "5 3", 1.6))
    marked.sort(key=lambda one: one[0])
    taken: list[tuple[float, float]] = []  # what the lower row holds already
    for row, group_of in enumerate(_rows(marked, scale), start=1):
        wanted = [scale.x(day) for day, _, _, _ in group_of]
        widths = [1.08 * width_of(words, shape) + 8 for _, words, _, _ in group_of]
        middles = apart(wanted, widths, 0, shape.width)
        for (_, words, dash, thick), at, middle, width in zip(group_of, wanted, middles, widths, strict=True):
            parts.append(line(at, row * 1.2 * shape.letters + 3, at, shape.foot, INK, thick, dash))
            parts.append(halo(middle, row * 1.2 * shape.letters - 1, words, INK, anchor="middle", bold=True))
            if row > 1:
                taken.append((middle - width / 2, middle + width / 2))
    if picture.washes:
        last = picture.washes[-1]
        words = f"washed {shortday(last)}"
        half = width_of(words, shape) / 2
        at = min(max(scale.x(last), half), shape.width - half)
        if all(at + half < left or right < at - half for left, right in taken):
            parts.append(halo(at, shape.top - 6, words, WATER, anchor="middle"))
    return group(parts)


Marked = tuple[date, str, str | None, float]
"""A day of note: its words, and the dashes and thickness of its line."""


def _rows(marked: Sequence[Marked], scale: Scale) -> list[list[Marked]]:
    """In one row if each has its words over its line there, else every other one in a second row."""
    widths = [1.08 * width_of(words, scale.shape) + 8 for _, words, _, _ in marked]
    wanted = [scale.x(day) for day, _, _, _ in marked]
    middles = apart(wanted, widths, 0, scale.shape.width)
    beside = all(abs(m - w) <= width / 2 for m, w, width in zip(middles, wanted, widths, strict=True))
    return [list(marked)] if beside else [list(marked[::2]), list(marked[1::2])]


def _drop(x: float, top: float, scale: Scale) -> SafeString:
    """A wash: a drop of water on a thin line down to the foot."""
    return group(
        [
            line(x, top + 10, x, scale.shape.foot, WATER, 1, "1 2"),
            el("path", d=f"M{x} {top}l3.5 6a4 4 0 1 1 -7 0z", fill=WATER, stroke=PAPER, stroke_width=0.6),
        ]
    )


def _odds(picture: DryPicture, scale: Scale) -> SafeString:
    """The days by which she is at her target, each held to its place on the target's line."""
    shape = scale.shape
    told = [(p, day) for p, day in picture.odds if day and picture.first <= day <= picture.last]
    if picture.target is None or not told:
        return group([])
    upper = [f"{10 * p:g} in 10" if p != 0.5 else "1 in 2" for p, _ in told]
    lower = [f"by {shortday(day)}" for _, day in told]
    widths = [
        max(width_of(one, shape), width_of(two, shape)) + 8 for one, two in zip(upper, lower, strict=True)
    ]
    middles = apart([scale.x(day) for _, day in told], widths, shape.left, shape.width - 2)
    high, row = shape.top + 1.5 * shape.letters, 1.15 * shape.letters
    y = scale.y(picture.target)
    parts: list[SafeString] = []
    for (_, day), one, two, middle in zip(told, upper, lower, middles, strict=True):
        x = scale.x(day)
        bend = high + row + 12
        points = f"{middle},{round(high + row + 4, 1)} {x},{round(bend, 1)} {x},{y}"
        parts.append(el("polyline", points=points, fill="none", stroke=TIDE, stroke_width=1))
        parts.append(el("path", d=f"M{x} {y}m-5 0l5 -5 5 5 -5 5z", fill=TIDE, stroke=PAPER, stroke_width=1))
        parts.append(halo(middle, high, one, TIDE, anchor="middle", bold=True))
        parts.append(halo(middle, high + row, two, TIDE, anchor="middle"))
    return group(parts)


def _textures(name: str) -> SafeString:
    """A texture for each regime: dots of rain, bare lines of a roof, the hatches of a tent, a blanket's
    weave."""
    looks = {
        "weather": (6, [el("circle", cx=2, cy=2, r=0.9, fill=SOFT)], PAPER),
        "cold": (6, [line(0, 3, 6, 3, SOFT, 0.7)], "#e9eef1"),
        "tent": (6, [el("path", d="M-1 7L7 -1M-1 1L1 -1M5 7L7 5", stroke=EARTH, stroke_width=1.3)], SAND),
        "blankets": (5, [el("path", d="M0 0L5 5M5 0L0 5", stroke=INK, stroke_width=0.9)], SAND),
    }
    patterns = [
        el(
            "pattern",
            el("rect", width=size, height=size, fill=ground),
            *marks,
            id=f"{name}-{regime}",
            width=size,
            height=size,
            patternUnits="userSpaceOnUse",
        )
        for regime, (size, marks, ground) in looks.items()
    ]
    return el("defs", *patterns)
