"""A round, a slip and the gate on a phone of 390 px: without script, with few taps, by keyboard, by axe."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from tests.browser.conftest import enter
from tests.scheduling.full_winter import FullWinter
from tests.scheduling.pages.test_measure import hers, mark, rounds_before
from yard.models import Reading, Round, Scheme, Spot, WashRecord

PHONES = (390, 320)


def drying(
    full: FullWinter, *, spots: bool, figures: tuple[int, ...] = (38, 34, 30), target: int = 18
) -> None:
    """Alder, three weeks into drying towards a target; her spots marked, or only their mean written down."""
    Scheme.objects.filter(yard=full.cast.yard).update(target_reading=target)
    if spots:
        mark()
    else:
        Spot.objects.create(boat=hers().boat, code="mean", walk_order=1)
    rounds_before(full, *figures)


def measure_url(live_server: Any) -> str:
    return f"{live_server.url}/quiet-creek/boat/{hers().boat_id}/measure/"


@pytest.mark.moment(9)
def test_a_reading_is_stored_in_four_taps_and_the_office_finds_it_with_the_new_day(
    plain_page: Any, live_server: Any, full: FullWinter
) -> None:
    drying(full, spots=False)
    enter(plain_page, live_server.url, "crew")
    taps = [
        plain_page.get_by_text("Going on by themselves"),
        plain_page.get_by_role("article", name="Alder").get_by_role("link", name="Measure or wash"),
        plain_page.get_by_label("Mean of all spots"),
        plain_page.get_by_role("button", name="Save the round"),
    ]
    for tap in taps:
        if tap is taps[-1]:
            plain_page.keyboard.type("26,5")
        tap.click()
    said = plain_page.get_by_role("status").inner_text()
    assert "Saved: Alder, round of Tue 24 Nov." in said
    assert "26.5; 7 days before it was 30" in said and "8.5 to go" in said
    days = re.search(r"Odds that she is at her target: .*1 in 2 by .*9 in 10 by [^.]+", said)
    assert days is not None
    assert plain_page.locator("main svg").count() > 0, "the trend is drawn on her page"
    office = plain_page.context.browser.new_context().new_page()
    enter(office, live_server.url, "office")
    office.goto(plain_page.url)
    seen = office.inner_text("main")
    assert "26.5; 7 days before it was 30" in seen
    assert days[0].split(": ")[1] in seen, "the day the crew were told is the day the office finds"
    office.context.close()


def test_41_for_14_is_asked_about_and_later_struck_through_with_a_new_forecast(
    plain_page: Any, live_server: Any, full: FullWinter
) -> None:
    drying(full, spots=True, figures=(22, 18, 15), target=12)
    enter(plain_page, live_server.url, "crew")
    plain_page.goto(measure_url(live_server))
    for spot, figure in (("T1", "13"), ("P1", "41"), ("S1", "14")):
        plain_page.get_by_label(spot).fill(figure)
    plain_page.get_by_role("button", name="Save the round").click()
    assert (
        "P1 read 16 last time and 41 now. Are its figures swapped (14)?"
        in plain_page.get_by_role("alert").inner_text()
    )
    assert plain_page.get_by_label("P1").input_value() == "41" and not Round.objects.filter(
        day_on="2026-11-24"
    )
    plain_page.get_by_label("It is meant").check()
    plain_page.get_by_role("button", name="Save as it stands").click()
    before = plain_page.get_by_role("status").inner_text()
    assert "read 41 or less" in before
    plain_page.goto(measure_url(live_server))
    plain_page.get_by_text("A reading was wrong").click()
    plain_page.get_by_label("Which").select_option(label="P1: 41")
    plain_page.get_by_label("The right figure").fill("14")
    plain_page.get_by_label("Why").fill("figures swapped")
    plain_page.get_by_role("button", name="Correct it").click()
    after = plain_page.get_by_role("status").inner_text()
    assert "P1: 14 instead of 41" in after and "read 14 or less" in after
    assert after.partition("Odds")[2] != before.partition("Odds")[2], "the forecast is reckoned anew"
    assert plain_page.locator("s").inner_text() == "41"
    entry = plain_page.locator(".figures li", has=plain_page.locator("s")).inner_text()
    assert re.search(r"41 by crew, \w{3} \d+ \w{3} \d\d:\d\d: figures swapped 14", entry)
    assert [one.value for one in Reading.objects.filter(spot__code="P1", superseded=True)] == [41]


def test_a_round_is_entered_by_keyboard_alone(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    drying(full, spots=True)
    log_in("crew")
    page.goto(measure_url(live_server))
    page.get_by_label("T1").focus()
    for figure in ("13", "27", "26"):
        page.keyboard.type(figure)
        page.keyboard.press("Enter" if figure == "26" else "Tab")
    page.get_by_role("status").wait_for()
    stored = Round.objects.get(day_on="2026-11-24").readings.order_by("spot__walk_order")
    assert [(one.spot.code, int(one.value)) for one in stored] == [("T1", 13), ("P1", 27), ("S1", 26)]


def test_a_double_click_on_save_stores_one_round_and_one_wash(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    drying(full, spots=False)
    log_in("crew")
    page.goto(measure_url(live_server))
    page.get_by_label("Mean of all spots").fill("26")
    page.get_by_role("button", name="Save the round").dblclick()
    page.get_by_role("status").wait_for()
    page.goto(measure_url(live_server))
    page.get_by_text("She was washed").click()
    page.get_by_label("Water").fill("176")
    page.get_by_role("button", name="Save the wash").click()
    refused = page.get_by_role("alert").get_by_text("as Fahrenheit")
    refused.wait_for()
    assert page.evaluate("window.scrollY") > 0, "the page opens where the form stands"
    page.get_by_label("Water").fill("80")
    page.get_by_role("button", name="Save the wash").dblclick()
    page.get_by_role("status").get_by_text("washed on Tue 24 Nov").wait_for()
    page.wait_for_load_state("networkidle")
    assert Round.objects.filter(day_on="2026-11-24").count() == 1 and WashRecord.objects.count() == 1


def test_the_gate_answers_without_script_and_says_what_would_make_it_a_yes(
    plain_page: Any, live_server: Any, full: FullWinter
) -> None:
    enter(plain_page, live_server.url, "crew")
    plain_page.get_by_role("link", name="May we coat now?").click()
    for label, figure in (
        ("Air, by the keel", "15"),
        ("Humidity", "80"),
        ("Hull at the coldest place", "14"),
        ("Hull before", "14"),
        ("How long before", "2"),
        ("Coldest tonight", "12"),
        ("Who checks tonight", "Ines"),
    ):
        plain_page.get_by_label(label).fill(figure)
    plain_page.get_by_label("Heat on tonight").select_option("yes")
    plain_page.get_by_role("button", name="May we coat?").click()
    answer = plain_page.get_by_role("status").inner_text().replace("\u00a0", " ")
    assert answer.startswith("Do not coat.") and "Warm the hull to 14.6 °C" in answer
    plain_page.get_by_label("Hull at the coldest place").fill("14,6")
    plain_page.get_by_role("button", name="May we coat?").click()
    assert plain_page.get_by_role("status").inner_text().startswith("Coat.")


@pytest.mark.parametrize("width", PHONES)
def test_nothing_lies_beyond_a_phone_s_edge_and_every_target_is_big_enough(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None], width: int
) -> None:
    drying(full, spots=True)
    page.set_viewport_size({"width": width, "height": 844})
    log_in("manager")
    for address in (measure_url(live_server), f"{measure_url(live_server)[:-8]}sign/"):
        page.goto(address)
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        small = page.evaluate(
            """() => [...document.querySelectorAll(
              'main :is(input:not([type=hidden]), select, button, summary, .btn, textarea)')].map(one => {
              const box = (one.type === 'checkbox' ? one.closest('label') : one).getBoundingClientRect();
              return [one.name || one.textContent.trim(), Math.round(box.height)];
            }).filter(([, height]) => height > 0 && height < 48)"""
        )
        assert small == []
    page.goto(f"{live_server.url}/quiet-creek/air/?air_c=15&rh_pct=90&hull_c=11")
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_axe_finds_nothing_wrong_in_any_of_the_forms(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    drying(full, spots=True)
    page.set_viewport_size({"width": 390, "height": 844})
    log_in("manager")
    page.goto(measure_url(live_server))
    page.get_by_label("P1").fill("wet")
    page.get_by_role("button", name="Save the round").click()
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    found = {"measure": axe.run(page)}
    for name, address in (
        ("sign", f"{measure_url(live_server)[:-8]}sign/"),
        ("air", f"{live_server.url}/quiet-creek/air/?air_c=59&rh_pct=90&hull_c=11"),
    ):
        page.goto(address)
        found[name] = axe.run(page)
    assert {name: one.generate_report() for name, one in found.items() if one.violations_count} == {}
