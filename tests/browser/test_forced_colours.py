"""Where the reader has chosen all colours: what a colour or a fill says is still said."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.scheduling.full_winter import FullWinter


def look(found: Any, name: str) -> str:
    return str(found.evaluate("(one, name) => getComputedStyle(one).getPropertyValue(name)", name))


def test_stages_keep_their_looks_and_the_chosen_side_and_weeks_their_marks(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    log_in("manager")
    page.goto(f"{live_server.url}/quiet-creek/wall/")
    coded = page.locator(".key .k").all()
    before = [(look(one, "background-color"), look(one, "background-image")) for one in coded]
    weeks = [look(one, "color") for one in page.locator(".weeks span").all()]
    page.emulate_media(forced_colors="active")
    assert [(look(one, "background-color"), look(one, "background-image")) for one in coded] == before
    chosen, other = page.locator(".bar nav a[aria-current]"), page.locator(".bar nav a:not([aria-current])")
    assert look(chosen, "border-bottom-color") != look(other.first, "border-bottom-color")
    shown, others = (
        page.locator(".tools .btn[aria-current]"),
        page.locator(".tools a.btn:not([aria-current])"),
    )
    assert look(shown.first, "border-top-style") != look(others.first, "border-top-style")
    hidden = "rgba(0, 0, 0, 0)"
    now = [look(one, "color") for one in page.locator(".weeks span").all()]
    assert [one == hidden for one in now] == [one == hidden for one in weeks]


def test_the_crews_large_button_has_a_border(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    log_in("crew")
    page.emulate_media(forced_colors="active")
    assert look(page.locator(".go").first, "border-top-width") == "3px"
