"""Her page and the answers on the telephone: on a phone, on paper, without script."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.browser.conftest import enter
from tests.cast import TODAY, Cast
from tests.scheduling.full_winter import FullWinter
from tests.scheduling.one_bay import one_bay
from yard.models import Treatment

BEYOND = """() => [...document.querySelectorAll('main *')].filter(one =>
  one.getBoundingClientRect().right > innerWidth || one.scrollWidth > one.clientWidth + 1 &&
  getComputedStyle(one).overflowX === 'auto').map(one => one.className || one.tagName)"""
LOW = """() => [...document.querySelectorAll(
  '.trail a, .big header a, .helps th a, .why a, .chain a, .moves p a, summary, main button, main .btn')]
  .map(one => [one.getBoundingClientRect().height, one.textContent.trim()])
  .filter(one => one[0] > 0 && one[0] < 44)"""
SHOWN = "one => one.checkVisibility({contentVisibilityAuto: true, visibilityProperty: true})"


@pytest.fixture
def bays(transactional_db: None, settings: Any) -> dict[str, Treatment]:
    """One bay and three boats of five working days each: Alder, Bramble, Clover."""
    settings.SHEDTIDE_TODAY = TODAY
    return one_bay(Cast())


def test_all_days_of_a_boats_stages_are_seen_on_a_phone_without_moving_sideways(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    log_in("manager")
    for treatment in full.treatments[:4]:
        page.goto(f"{live_server.url}/quiet-creek/boat/{treatment.boat_id}/")
        assert page.evaluate(BEYOND) == []
        assert page.locator(".asked td[data-label=from]").count() > 0


def test_whatever_is_tapped_on_a_phone_is_44_pixels_high(
    page: Any, live_server: Any, bays: dict[str, Treatment], log_in: Callable[[str], None]
) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    log_in("manager")
    her = bays["Clover"]
    for address in (
        f"boat/{her.boat_id}/",
        f"desk/ask/{her.pk}/?by=14+Dec",
        "desk/enquiry/",
        "wall/out/",
        "wall/helps/",
    ):
        page.goto(f"{live_server.url}/quiet-creek/{address}")
        assert page.evaluate(LOW) == [], address


def test_the_print_of_an_answer_shows_every_stage_that_would_move(
    plain_page: Any, live_server: Any, bays: dict[str, Treatment]
) -> None:
    enter(plain_page, live_server.url, "office")
    plain_page.goto(f"{live_server.url}/quiet-creek/desk/ask/{bays['Clover'].pk}/?by=14+Dec")
    change = plain_page.locator(".moves details li").first
    assert not change.evaluate(SHOWN)
    plain_page.emulate_media(media="print")
    plain_page.set_viewport_size({"width": 718, "height": 1000})  # A4 between its margins
    assert change.evaluate(SHOWN)
    assert plain_page.evaluate(BEYOND) == []


def test_the_print_of_a_boat_has_her_lift_in_figures_and_no_form(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    log_in("manager")
    page.goto(f"{live_server.url}/quiet-creek/boat/{full.treatments[0].boat_id}/")
    page.emulate_media(media="print")
    assert page.locator(".hull .rule li").first.evaluate(SHOWN)
    assert not page.get_by_text("Correct a stage's days").evaluate(SHOWN)
    assert not page.get_by_role("link", name="Measure or wash").is_visible()


def test_axe_finds_nothing_wrong_with_answers_and_refusals(
    page: Any, live_server: Any, bays: dict[str, Treatment], log_in: Callable[[str], None]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    log_in("manager")
    her, scheme = bays["Clover"], bays["Clover"].scheme_id
    asked = "length_m=10&beam_m=3&draught_m=1,5&displacement_t=5&hull_kind=sail&keel_kind=fin&comes_on=1+Dec"
    for address in (
        f"boat/{her.boat_id}/",
        f"desk/ask/{her.pk}/?by=14+Dec",
        f"desk/ask/{her.pk}/?by=soon",
        f"desk/enquiry/?{asked}&scheme={scheme}&wanted_on=21+Dec&moving=1",
        f"desk/enquiry/?{asked}&scheme=&wanted_on=soon",
    ):
        page.goto(f"{live_server.url}/quiet-creek/{address}")
        found = axe.run(page)
        assert found.violations_count == 0, found.generate_report()
    page.goto(f"{live_server.url}/quiet-creek/wall/out/")
    page.get_by_role("button", name="It is out").click()
    page.get_by_role("alert").wait_for()
    found = axe.run(page)
    assert found.violations_count == 0, found.generate_report()


def test_no_caution_is_folded_away_in_print(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    log_in("crew")
    for day in ("", "?day=2026-12-01", "?day=2026-12-08"):
        page.goto(f"{live_server.url}/quiet-creek/today/{day}")
        if page.locator(".caution details").count():
            break
    folded = page.locator(".caution details li").first
    assert not folded.evaluate(SHOWN)
    page.emulate_media(media="print")
    assert folded.evaluate(SHOWN)
