"""The three sides in a real browser: without script, small, in large type, by keyboard, on paper."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from scheduling.models import Pack
from tests.browser.conftest import enter
from tests.scheduling.full_winter import FullWinter
from yard.models import Hold, Promise, Stage, Work

SIDES = (("manager", "wall/"), ("crew", "today/"), ("office", "desk/?q=Clover"), ("office", "desk/"))
SEEN = """() => [...document.querySelectorAll('main *')].filter(one => {
  const text = [...one.childNodes].some(node => node.nodeType === 3 && node.textContent.trim());
  const box = one.getBoundingClientRect();
  return text && box.width > 1 && box.height > 1;
}).map(one => [parseFloat(getComputedStyle(one).fontSize), one.textContent.trim().slice(0, 30)])"""


def test_the_crew_start_finish_and_hold_without_script(
    plain_page: Any, live_server: Any, full: FullWinter
) -> None:
    enter(plain_page, live_server.url, "crew")
    card = plain_page.get_by_role("article", name="Gorse, Strip fittings")
    card.get_by_role("button", name="Start").click()
    assert plain_page.get_by_role("status").inner_text().endswith("Gorse, Strip fittings: started.")
    card.get_by_label("My hours on it, if you like").fill("6,5")
    card.get_by_role("button", name="Done").click()
    assert "Gorse, Strip fittings: done." in plain_page.get_by_role("status").inner_text()
    assert [str(work.hours) for work in Work.objects.all()] == ["6.50"]
    card = plain_page.get_by_role("article", name="Hazel, Strip fittings")
    card.get_by_text("Hold…").click()
    card.get_by_label("We wait for").select_option("parts")
    card.get_by_label("Expected on").fill("27 Nov")
    card.get_by_role("button", name="Hold it").click()
    assert Hold.objects.get().reason == "parts"
    assert "Waiting for parts since Tue 24 Nov, expected Fri 27 Nov." in plain_page.inner_text("main")


def test_a_double_click_starts_once_and_back_brings_no_second_start(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    log_in("crew")
    card = page.get_by_role("article", name="Gorse, Strip fittings")
    card.get_by_role("button", name="Start").dblclick()
    page.get_by_role("status").wait_for()
    page.wait_for_load_state("networkidle")
    page.go_back()
    assert Stage.objects.get(treatment__boat__name="Gorse", kind="strip").status == "running"
    assert page.get_by_text("Not saved").count() == 0


def test_the_office_finds_a_boat_and_records_a_promise_without_script(
    plain_page: Any, live_server: Any, full: FullWinter
) -> None:
    enter(plain_page, live_server.url, "office")
    plain_page.get_by_label("Boat, owner or telephone").fill("clov")
    plain_page.get_by_role("button", name="Find").click()
    assert "She is drying in bay H3, shed H" in plain_page.inner_text("main")
    plain_page.get_by_label("Date").fill("1/4/27")
    plain_page.get_by_role("button", name="Record the promise").click()
    assert (
        "Promised Clover for Thursday 1 April 2027 instead of Friday 5 March 2027."
        in plain_page.inner_text("main")
    )
    assert Promise.objects.get(treatment__boat__name="Clover", superseded=False).plan_number == 1


def test_the_manager_asks_for_a_pack_and_stops_it_without_script(
    plain_page: Any, live_server: Any, full: FullWinter
) -> None:
    enter(plain_page, live_server.url, "manager")
    plain_page.get_by_role("button", name="Pack the sheds").click()
    assert "Queued" in plain_page.inner_text("#pack")
    assert plain_page.get_by_role("button", name="Pack the sheds").count() == 0
    plain_page.get_by_role("button", name="Stop, keep the best").click()
    assert Pack.objects.get().state == "stopped"
    assert plain_page.get_by_role("button", name="Pack the sheds").count() == 1


def test_progress_comes_by_itself_and_the_page_is_new_when_it_is_over(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    from playwright.sync_api import expect

    log_in("manager")
    page.get_by_role("button", name="Pack the sheds").click()
    Pack.objects.update(state="working", phase="improving", best_cost=880200, lease_until="2099-01-01T00:00Z")
    expect(page.locator("#pack")).to_contain_text("£8,802")
    expect(page.locator("#pack")).to_contain_text("Working: improving.")
    Pack.objects.update(state="failed", lease_until=None, reason="The packer ran out of memory.")
    expect(page.get_by_text("The last pack failed")).to_be_visible()
    expect(page.get_by_role("button", name="Pack the sheds")).to_be_visible()


@pytest.mark.parametrize("large", [False, True], ids=["320-pixels", "twice-the-type"])
def test_nothing_lies_beyond_a_small_screen_nor_beyond_one_with_twice_the_type(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None], large: bool
) -> None:
    page.set_viewport_size({"width": 640 if large else 320, "height": 800})
    for who, address in SIDES:
        page.context.clear_cookies()
        log_in(who)
        page.goto(f"{live_server.url}/quiet-creek/{address}")
        if large:
            page.evaluate("document.documentElement.style.fontSize = '200%'")
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert wide <= 0, address


def test_all_type_is_12_pixels_or_more_and_18_on_the_crews_phone(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    for who, address, least in (("manager", "wall/", 12), ("office", "desk/?q=Clover", 12)):
        page.context.clear_cookies()
        log_in(who)
        page.goto(f"{live_server.url}/quiet-creek/{address}")
        assert [seen for seen in page.evaluate(SEEN) if seen[0] < least] == []
    page.context.clear_cookies()
    log_in("crew")
    assert page.evaluate("parseFloat(getComputedStyle(document.querySelector('.what')).fontSize)") == 18


def test_the_crews_controls_are_48_pixels_high_and_the_first_button_64(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    log_in("crew")
    controls = ".phone button, .phone summary, .phone .dayline a, .phone .hours input"
    heights = page.evaluate(
        f"[...document.querySelectorAll('{controls}')].filter(one => one.checkVisibility())"
        ".map(one => one.getBoundingClientRect().height)"
    )
    assert len(heights) > 20
    assert min(heights) >= 48
    assert page.evaluate("document.querySelector('.job.first .go').getBoundingClientRect().height") >= 64


def test_the_desk_is_used_by_keyboard_alone(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    log_in("office")
    page.wait_for_selector("input[name=q]:focus")
    page.keyboard.type("clov")
    page.keyboard.press("Enter")
    page.wait_for_url("**q=clov**")
    page.get_by_label("Date").focus()
    page.keyboard.type("1 Apr")
    page.keyboard.press("Enter")
    page.wait_for_url("**q=Clover**")
    assert "Promised Clover for Thursday 1 April 2027 instead of Friday 5 March 2027." in page.inner_text(
        "main"
    )


def test_the_boards_region_can_be_scrolled_by_keyboard_and_keeps_its_heads(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    page.set_viewport_size({"width": 800, "height": 600})
    log_in("manager")
    board = page.get_by_role("region", name=re.compile("The season by bay"))
    board.evaluate("one => { one.scrollTop = 300; one.scrollLeft = 200 }")
    top = page.evaluate("document.querySelector('.top').getBoundingClientRect().top")
    assert abs(top - board.evaluate("one => one.getBoundingClientRect().top")) <= 2
    label = page.locator(".bays .lab").first.evaluate("one => one.getBoundingClientRect().left")
    assert abs(label - board.evaluate("one => one.getBoundingClientRect().left")) <= 2
    assert board.get_attribute("tabindex") == "0"


@pytest.mark.moment(7)
def test_eight_weeks_print_on_one_a3_sheet_with_the_plans_number_and_its_codes(
    plain_page: Any, live_server: Any, full: FullWinter
) -> None:
    """The tests below it hold the rest: no type under 8 pt, and a look without colour for each kind."""
    enter(plain_page, live_server.url, "manager")
    plain_page.goto(f"{live_server.url}/quiet-creek/wall/?weeks=8")
    paper = plain_page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page[^s]", paper)) == 1
    width, height = (float(side) for side in re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", paper)[0])
    assert (round(width / 72 * 25.4), round(height / 72 * 25.4)) == (420, 297)
    plain_page.emulate_media(media="print")
    plain_page.set_viewport_size({"width": 1512, "height": 1047})
    line = plain_page.inner_text(".sheetline")
    assert "draft 2" in line and "printed Tuesday 24 November 2026" in line
    key = plain_page.locator(".key .k[class*=' ']").all_inner_texts()
    assert {"DR", "FA", "CO", "PE", "WA"} <= set(key)


@pytest.mark.moment(7)
def test_on_paper_no_type_is_under_8_points(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    log_in("manager")
    page.goto(f"{live_server.url}/quiet-creek/wall/?weeks=8")
    page.emulate_media(media="print")
    assert [seen for seen in page.evaluate(SEEN) if seen[0] < 8 * 96 / 72 - 0.01] == []


@pytest.mark.moment(7)
def test_every_kind_of_stage_has_a_look_of_its_own_without_colour(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    """Two kinds may share a texture only if their greys are far apart."""
    log_in("manager")
    looks = page.evaluate(
        """() => [...document.querySelectorAll('.key .k')].map(one => {
          const style = getComputedStyle(one);
          const [r, g, b] = style.backgroundColor.match(/[0-9.]+/g).map(Number);
          const texture = style.backgroundImage + style.boxShadow;
          return [one.className, texture, .3 * r + .59 * g + .11 * b, one.textContent.trim()];
        })"""
    )
    coded = [look for look in looks if look[3]]
    assert len(coded) >= 9
    for number, (name, texture, grey, code) in enumerate(coded):
        for other, its_texture, its_grey, its_code in coded[number + 1 :]:
            assert code != its_code
            assert texture != its_texture or abs(grey - its_grey) > 40, (name, other)


def test_axe_finds_nothing_wrong_on_any_side(
    page: Any, live_server: Any, full: FullWinter, log_in: Callable[[str], None]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    for who, address in (*SIDES, ("manager", "wall/out/"), ("crew", f"boat/{full.treatments[0].boat_id}/")):
        page.context.clear_cookies()
        log_in(who)
        page.goto(f"{live_server.url}/quiet-creek/{address}")
        found = axe.run(page)
        assert found.violations_count == 0, found.generate_report()
