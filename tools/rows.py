"""A row a figure: what, measured, target, met or not."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from scheduling.engine.bench import Row

__all__ = ["ROOT", "Row", "line", "row"]

ROOT = Path(__file__).resolve().parent.parent


def row(what: str, measured: float, target: float, *, unit: str = "", least: bool = False) -> Row:
    """A row, met if `measured` is at most the `target`, or with `least` at least that."""
    met = measured >= target if least else measured <= target
    return {"what": what, "measured": measured, "target": target, "unit": unit, "met": met}


def line(found: dict[str, Any]) -> str:
    """A row in words."""
    met = "met" if found["met"] else "NOT MET"
    return f"{found['what']:<84} {found['measured']:>8} of {found['target']:>7} {found['unit']:<6} {met}"
