"""What would help in a real browser: without script, by itself, on a small screen, in large type."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from scheduling.models import Pack
from tests.browser.conftest import enter
from tests.scheduling.full_winter import FullWinter

PAGE = "/quiet-creek/wall/helps/"
BUTTON = "Work out what would help"
FOUND = {
    "kind": "hand", "what": "fair", "amount": 480, "start": 4, "until": 20, "day": "2026-12-01",
    "taken": 1_440, "price": 108_000, "saves_low": 123_400, "saves_high": 187_600, "clear": True,
    "says": "one more hand for fair in December",
}  # fmt: skip


def test_the_manager_goes_there_from_the_wall_asks_and_stops_without_script(
    plain_page: Any, live_server: Any, full: FullWinter
) -> None:
    enter(plain_page, live_server.url, "manager")
    plain_page.get_by_role("link", name="What would help?").first.click()
    plain_page.get_by_role("button", name=BUTTON).click()
    assert "Queued" in plain_page.inner_text("#found")
    assert plain_page.get_by_role("button", name=BUTTON).count() == 0
    plain_page.get_by_role("button", name="Stop, keep what is found").click()
    assert Pack.objects.get().state == "stopped"
    assert plain_page.get_by_role("button", name=BUTTON).count() == 1


def test_what_is_found_comes_by_itself_and_the_button_is_there_again_when_it_is_over(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    from playwright.sync_api import expect

    log_in("manager")
    page.goto(f"{live_server.url}{PAGE}")
    page.get_by_role("button", name=BUTTON).click()
    Pack.objects.update(
        state="working", phase="6 of 27 searches", lease_until="2099-01-01T00:00Z",
        progress={"searches": [6, 27], "helps": [FOUND]},
    )  # fmt: skip
    expect(page.locator("#found")).to_contain_text("Working: 6 of 27 searches.")
    expect(page.get_by_role("row", name="One more hand for fair in December")).to_contain_text(
        "£1,080 for 24 h"
    )
    Pack.objects.update(state="done", lease_until=None, reason="One was tried.", finished_at=timezone.now())
    expect(page.get_by_role("button", name=BUTTON)).to_be_visible()


@pytest.mark.parametrize("large", [False, True], ids=["320-pixels", "twice-the-type"])
def test_nothing_lies_beyond_a_small_screen(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None], large: bool
) -> None:
    page.set_viewport_size({"width": 640 if large else 320, "height": 800})
    log_in("manager")
    page.goto(f"{live_server.url}{PAGE}")
    page.get_by_role("button", name=BUTTON).click()
    Pack.objects.update(state="done", progress={"helps": [FOUND]}, reason="x", finished_at=timezone.now())
    page.goto(f"{live_server.url}{PAGE}")
    if large:
        page.evaluate("document.documentElement.style.fontSize = '200%'")
    assert "£1,200 to £1,900" in page.inner_text("#found")
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


def test_axe_finds_nothing_wrong_with_what_was_found(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    log_in("manager")
    page.goto(f"{live_server.url}{PAGE}")
    page.get_by_role("button", name=BUTTON).click()
    Pack.objects.update(
        state="working",
        phase="6 of 27 searches",
        lease_until="2099-01-01T00:00Z",
        progress={"searches": [6, 27], "helps": [FOUND, FOUND | {"clear": False}]},
    )
    page.goto(f"{live_server.url}{PAGE}")
    found = axe.run(page)
    assert found.violations_count == 0, found.generate_report()
