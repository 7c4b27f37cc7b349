"""Pictures of each side's first page, into var/shots/, to be looked at by a person."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.scheduling.full_winter import FullWinter

SHOTS = Path(__file__).resolve().parents[2] / "var" / "shots"
WIDTHS = {"desk": 1440, "phone": 390}
PAGES = (
    ("manager", "wall", "wall/"),
    ("manager", "wall-8-weeks", "wall/?weeks=8"),
    ("crew", "today", "today/"),
    ("office", "desk", "desk/?q=Clover"),
    ("office", "desk-first", "desk/"),
)


@pytest.mark.parametrize("screen", WIDTHS)
def test_each_first_page_can_be_looked_at_and_none_of_it_lies_beyond_the_screen(
    full: FullWinter, page: Any, live_server: Any, log_in: Callable[[str], None], screen: str
) -> None:
    SHOTS.mkdir(parents=True, exist_ok=True)
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    for who, name, address in PAGES:
        page.context.clear_cookies()
        page.set_viewport_size({"width": WIDTHS[screen], "height": 900})
        log_in(who)
        page.goto(f"{live_server.url}/quiet-creek/{address}")
        page.screenshot(path=SHOTS / f"{name}-{screen}.png", full_page=True)
        assert page.evaluate("document.documentElement.scrollWidth") <= WIDTHS[screen], name
    assert said == []
