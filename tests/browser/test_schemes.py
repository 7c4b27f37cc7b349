"""The pages of schemes and norms in a real browser: without script, small, in large type, by keyboard."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.browser.conftest import enter
from tests.scheduling.full_winter import FullWinter
from yard.models import CoatingSheet, RegimeNorm, SchemeStage


def addresses(full: FullWinter) -> list[str]:
    """Every page of schemes and norms, with one sheet to change."""
    coat = SchemeStage.objects.filter(scheme=full.treatments[0].scheme, kind="coat").get()
    sheet = CoatingSheet.objects.create(
        yard=full.treatments[0].boat.yard, name="plain epoxy", source="its tin"
    )
    scheme = f"schemes/{coat.scheme_id}/"
    forms = [f"schemes/stage/{coat.pk}/", "norms/drying/tent/", f"norms/sheet/{sheet.pk}/"]
    return ["schemes/", scheme, "norms/", *forms]


def test_a_refused_norm_is_mended_and_saved_without_script(
    plain_page: Any, live_server: Any, full: FullWinter
) -> None:
    enter(plain_page, live_server.url, "manager")
    plain_page.goto(f"{live_server.url}/quiet-creek/norms/")
    plain_page.get_by_role("link", name="Change… drying in a heated tent").click()
    plain_page.get_by_label("Low").fill("30")
    plain_page.get_by_label("Source").fill("our boats")
    plain_page.get_by_role("button", name="Save").click()
    assert "Not saved" in plain_page.get_by_role("alert").inner_text()
    low = plain_page.get_by_label("Low")
    assert (low.input_value(), low.get_attribute("aria-invalid")) == ("30", "true")
    assert plain_page.get_by_label("Source").input_value() == "our boats"
    low.fill("12,5")
    plain_page.get_by_role("button", name="Save").click()
    assert "Saved: drying in a heated tent." in plain_page.get_by_role("status").inner_text()
    assert "12.5 to 27 days" in plain_page.inner_text("#tent")
    assert float(RegimeNorm.objects.get(regime="tent").half_life_low_d) == 12.5


@pytest.mark.parametrize("large", [False, True], ids=["320-pixels", "twice-the-type"])
def test_no_page_of_norms_is_wider_than_a_small_screen(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None], large: bool
) -> None:
    page.set_viewport_size({"width": 640 if large else 320, "height": 800})
    log_in("manager")
    for address in addresses(full):
        page.goto(f"{live_server.url}/quiet-creek/{address}")
        if large:
            page.evaluate("document.documentElement.style.fontSize = '200%'")
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, address


def test_every_field_of_a_form_is_reached_by_keyboard_in_reading_order(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    log_in("manager")
    for address in addresses(full)[3:]:
        page.goto(f"{live_server.url}/quiet-creek/{address}")
        fields = "[...document.querySelectorAll('form[novalidate] :is(input[type=text], select)')]"
        wanted = page.evaluate(f"{fields}.map(one => one.id)")
        page.locator(f"#{wanted[0]}").focus()
        seen = [page.evaluate("document.activeElement.id")]
        for _ in wanted[1:]:
            page.keyboard.press("Tab")
            seen.append(page.evaluate("document.activeElement.id"))
        assert seen == wanted, address
        assert page.evaluate(f"{fields}.filter(one => !one.labels.length).length") == 0, address


def test_axe_finds_nothing_wrong_on_schemes_and_norms(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    log_in("manager")
    for address in addresses(full):
        page.goto(f"{live_server.url}/quiet-creek/{address}")
        if page.get_by_role("button", name="Save").count():
            page.get_by_label("Source").fill("")
            page.get_by_role("button", name="Save").click()
            page.get_by_role("alert").wait_for()
        found = axe.run(page)
        assert found.violations_count == 0, found.generate_report()
