"""SVG elements: attributes only, everything told in them escaped."""

from collections.abc import Sequence

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

PAPER = "#fff"


def el(name: str, *inside: str, **attributes: str | float | None) -> SafeString:
    """One element; what is inside is escaped unless it is an element itself."""
    told = (
        (key.rstrip("_").replace("_", "-"), value) for key, value in attributes.items() if value is not None
    )
    head = format_html_join("", ' {}="{}"', told)
    if not inside:
        return format_html("<{}{}/>", name, head)
    return format_html(
        "<{}{}>{}</{}>", name, head, format_html_join("", "{}", ((one,) for one in inside)), name
    )


def group(parts: Sequence[SafeString]) -> SafeString:
    """Elements as one; nothing for none."""
    return el("g", *parts) if parts else SafeString("")


def line(
    x1: float, y1: float, x2: float, y2: float, stroke: str, width: float, dash: str | None = None
) -> SafeString:
    """A straight line; `dash` as in stroke-dasharray."""
    return el(
        "line",
        x1=round(x1, 1),
        y1=round(y1, 1),
        x2=round(x2, 1),
        y2=round(y2, 1),
        stroke=stroke,
        stroke_width=width,
        stroke_dasharray=dash,
    )


def text(x: float, y: float, words: str, *, anchor: str | None = None) -> SafeString:
    """Words; `anchor` is start, middle or end."""
    return el("text", words, x=round(x, 1), y=round(y, 1), text_anchor=anchor)


def halo(
    x: float, y: float, words: str, fill: str, *, anchor: str | None = None, bold: bool = False
) -> SafeString:
    """Words that lie over other things, on a rim of paper."""
    return el(
        "text",
        words,
        x=round(x, 1),
        y=round(y, 1),
        text_anchor=anchor,
        font_weight=650 if bold else None,
        fill=fill,
        stroke=PAPER,
        stroke_width=4,
        stroke_linejoin="round",
        paint_order="stroke",
    )
