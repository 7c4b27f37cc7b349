"""The Wall: the season drawn from facts and plan, within its limits; packing, comparing, posting."""

from __future__ import annotations

import re
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from scheduling.loading.winter import BoatWinter, read_winter
from scheduling.models import Board, Pack, Pin, Placement, Plan
from scheduling.pages.board import draw
from scheduling.pages.compare import against, moves_in, needs, overtaken
from scheduling.pages.rows import Bar, Row, View, place_flags
from scheduling.pages.strips import strips_of
from tests.cast import TODAY
from tests.scheduling.full_winter import FullWinter
from yard.models import Bay, Stage, Stay, Treatment, Yard

WALL = "/quiet-creek/wall/"
DAY = timedelta(days=1)
SPANS = Path(__file__).resolve().parents[3] / "static/css/spans.css"


@pytest.fixture
def manager(full: FullWinter) -> Client:
    client = Client()
    client.force_login(full.cast.manager.user)
    return client


def winter_in(full: FullWinter) -> Any:
    winter = read_winter(full.cast.yard, TODAY, draft=True)
    assert winter is not None
    return winter


def boat_called(full: FullWinter, name: str) -> BoatWinter:
    return next(boat for boat in winter_in(full).boats if boat.name == name)


def test_a_season_without_a_plan_says_what_to_do_first(full: FullWinter, manager: Client) -> None:
    Board.objects.all().delete()
    text = manager.get(WALL).content.decode()
    for words in ("Nothing is planned yet.", "First plan", "Pack the sheds"):
        assert words in text


def test_a_part_of_the_winter_goes_on_by_half_a_view(full: FullWinter, manager: Client) -> None:
    text = manager.get(WALL, {"weeks": "8", "from": "2027-01-06", "plan": "posted"}).content.decode()
    assert "?weeks=8&amp;from=2026-12-07&amp;plan=posted" in text
    assert "?weeks=8&amp;from=2027-02-01&amp;plan=posted" in text
    assert "Earlier" not in manager.get(WALL).content.decode()
    assert "Earlier" not in manager.get(WALL, {"weeks": "7", "from": "2027-01-06"}).content.decode()


# --- Limits -----------------------------------------------------------------------------------------------
def test_the_wall_of_32_boats_keeps_to_25_queries_100_kb_and_1400_elements(manager: Client) -> None:
    with CaptureQueriesContext(connection) as queries:
        page = manager.get(WALL)
    assert page.status_code == 200
    assert len(queries) <= 25
    assert len(page.content) <= 100_000
    assert len(re.findall(rb"<[a-z]", page.content)) <= 1_400


def test_twice_the_days_in_view_cost_no_query_more(manager: Client) -> None:
    counts = []
    for weeks in ("8", "16"):
        with CaptureQueriesContext(connection) as queries:
            manager.get(f"{WALL}?weeks={weeks}")
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_no_page_carries_a_style_or_a_script_of_its_own(manager: Client) -> None:
    for address in (
        "wall/",
        "wall/out/",
        "today/",
        "desk/?q=Clover",
        "desk/",
        f"boat/{Treatment.objects.all()[0].boat_id}/",
    ):
        text = manager.get(f"/quiet-creek/{address}").content.decode()
        assert not re.search(r"<style|<script(?![^>]* src=)|\sstyle=|\son[a-z]+=|hx-on", text), address


def test_places_on_the_grid_are_classes_that_the_static_file_has(manager: Client) -> None:
    spans = set(re.findall(r"\.([a-z]\d+)\{", SPANS.read_text()))
    classes = " ".join(re.findall(r'class="([^"]*)"', manager.get(WALL).content.decode()))
    used = set(re.findall(r"\b[cnrlw]\d+\b", classes))
    assert len(used) > 50
    assert used <= spans


# --- Facts over the plan ----------------------------------------------------------------------------------
def test_what_happened_is_drawn_as_it_was_and_the_plan_goes_on_from_there(full: FullWinter) -> None:
    """Alder has stood in H1 for 20 days and dries there; the plan keeps her until the water has her."""
    boat = boat_called(full, "Alder")
    first = strips_of(boat, full.posted, TODAY)[0]
    assert (first.bay, first.first) == (full.cast.bay.pk, TODAY - timedelta(days=20))
    assert first.to_water
    drying = [segment for segment in first.segments if segment.kind == "dry"]
    assert drying[0].first == TODAY - timedelta(days=19)
    assert drying[0].until == TODAY + DAY


def test_a_boat_that_was_moved_elsewhere_is_drawn_where_she_is_until_tomorrow(full: FullWinter) -> None:
    boat = boat_called(full, "Alder")
    other = Bay.objects.get(name="S20")
    stay = Stay.objects.get(treatment=boat.treatment)
    Stay.objects.filter(pk=stay.pk).update(until_on=TODAY)
    Stay.objects.create(yard=full.cast.yard, treatment=boat.treatment, bay=other, from_on=TODAY)
    strips = strips_of(boat_called(full, "Alder"), full.posted, TODAY)
    assert [(strip.bay, strip.until) for strip in strips[:2]] == [
        (full.cast.bay.pk, TODAY),
        (other.pk, TODAY + DAY),
    ]
    assert strips[2].bay == full.cast.bay.pk
    assert strips[2].first == TODAY + DAY


def test_a_boat_without_a_plan_is_drawn_where_she_stands_today(full: FullWinter) -> None:
    strips = strips_of(boat_called(full, "Alder"), None, TODAY)
    assert [(strip.bay, strip.until) for strip in strips] == [(full.cast.bay.pk, TODAY + DAY)]


def test_strips_of_one_boat_never_overlap(full: FullWinter) -> None:
    for boat in winter_in(full).boats:
        strips = strips_of(boat, full.posted, TODAY)
        for before, after in pairwise(strips):
            assert before.until <= after.first, boat.name


def test_a_plan_that_facts_have_overrun_is_said_to_be_no_longer_true(
    full: FullWinter, manager: Client
) -> None:
    assert overtaken(winter_in(full), full.posted) == []
    lift = Stage.objects.get(treatment__boat__name="Knotgrass", kind="lift")
    Placement.objects.filter(stage=lift)._raw_delete("default")
    for plan in (full.posted, full.draft):
        Placement.objects.create(
            plan=plan,
            stage=lift,
            first_day=TODAY - 3 * DAY,
            last_day=TODAY - 3 * DAY,
            leaves_on=TODAY - 2 * DAY,
        )
    assert [(boat.name, why) for boat, why in overtaken(winter_in(full), full.posted)] == [
        ("Knotgrass", "Lift and weigh should be done")
    ]
    assert "Plan no longer true: 1 boat<" in manager.get(WALL).content.decode()


# --- Names ------------------------------------------------------------------------------------------------
def bar(column: int, length: int, name: str, *, wide: bool = False) -> Bar:
    return Bar(None, column, length, name, "", "", [], wide)  # type: ignore[arg-type]


@pytest.mark.parametrize("gap", [1, 2, 5, 9])
def test_names_of_short_stays_stand_above_them_and_run_into_nothing(gap: int) -> None:
    view = View(date(2026, 11, 23), date(2027, 6, 6), 5, None, frozenset())
    row = Row("P1", "", [bar(2 + gap * number, 1, f"Boat {number}") for number in range(20)])
    row.bars.append(bar(100, 40, "Wide one", wide=True))
    place_flags(view, row)
    taken: set[tuple[int, int]] = set()
    for one in row.bars[:-1]:
        width = view.width(one.label)
        cells = {(one.line, column) for column in range(one.column, one.column + width)}
        assert not cells & taken, one.label
        taken |= cells


def test_no_pole_at_the_right_edge_crosses_a_name() -> None:
    view = View(date(2026, 11, 23), date(2027, 6, 6), 5, None, frozenset())
    first, second = bar(178, 14, "Rushlight, five days late"), bar(192, 6, "Burnet, twenty days late")
    place_flags(view, Row("H7", "", [first, second]))
    assert (first.marks, second.marks) == ("end", "end")
    assert second.line < first.line, "the name further right stands higher: lines are counted from the top"


def test_in_the_whole_winter_the_hoists_names_stand_by_the_week(full: FullWinter) -> None:
    winter = winter_in(full)
    for zoom, most in (("winter", 1), ("8", 7)):
        grid = draw(winter, winter.posted, frozenset(), zoom, None)
        for row in next(group for group in grid.groups if group.name == "Dock").rows:
            weeks = [one.strip.first.isocalendar()[:2] for one in row.bars if one.label]
            assert max(weeks.count(week) for week in weeks) <= most
            named = ", ".join(one.label for one in row.bars)
            assert all(one.strip.boat.name in named for one in row.bars)


def test_a_name_at_the_right_edge_is_written_to_the_left_of_its_pole() -> None:
    view = View(date(2026, 11, 23), date(2027, 6, 6), 5, None, frozenset())
    row = Row("P1", "", [bar(197, 1, "A long name")])
    place_flags(view, row)
    assert row.bars[0].marks == "end"


def test_every_boat_in_view_is_named_on_the_board(full: FullWinter, manager: Client) -> None:
    text = manager.get(WALL).content.decode()
    for treatment in full.treatments:
        assert treatment.boat.name in text


def test_bays_under_the_sky_that_nobody_uses_are_folded_into_one_line(full: FullWinter) -> None:
    grid = draw(winter_in(full), full.posted, frozenset(), "winter", None)
    ground = next(group for group in grid.groups if group.name == "Hardstanding S")
    assert "S20" in ground.unused
    assert "S20" not in [row.name for row in ground.rows]


# --- Needs you, draft against posted ----------------------------------------------------------------------
def test_boats_left_out_come_first_then_the_latest_each_with_what_keeps_her(full: FullWinter) -> None:
    found = needs(winter_in(full), full.posted)
    assert (found[0].boat.name, found[0].says) == ("Heather", "Heather, 14.6 m, fits no bay with heat.")
    late = [need.boat.late_days(full.posted) for need in found[1:]]
    assert late == sorted(late, reverse=True)
    assert "H3 is taken until Fri 5 Mar." in [need.says for need in found]


def test_a_late_boat_that_no_rule_keeps_is_said_to_be_kept_by_no_one_thing(full: FullWinter) -> None:
    winter = winter_in(full)
    winter.posted.kept = {}
    late = [need for need in needs(winter, winter.posted) if need.tag != "left out"]
    assert late
    assert all(need.says.startswith("No one bay, kit or hand more") for need in late)


def test_the_draft_is_laid_beside_the_posted_plan(full: FullWinter) -> None:
    winter = winter_in(full)
    beside = against(winter, full.draft, full.posted)
    assert {one.boat.name for one in beside.moved} == {
        boat.name for boat in winter.boats if boat.afloat_on(full.posted) != boat.afloat_on(full.draft)
    }
    assert beside.moved
    assert (beside.total, beside.was_total) == (84000 + 974000, 42000 + 974000)
    assert beside.close is None  # Heather is left out


def test_moves_are_counted_between_bays_only(full: FullWinter) -> None:
    """Alder stays in H1 until the hoist has her: no move."""
    winter = winter_in(full)
    alone = [boat for boat in winter.boats if boat.name == "Alder"]
    winter.boats[:] = alone
    assert moves_in(winter, full.posted) == 0


def test_a_draft_is_posted_from_the_wall_and_shown_from_then_on(
    full: FullWinter, manager: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The made-up plan is not for the witness: here only the page's part is under test."""
    monkeypatch.setattr("scheduling.actions.plans._hold_against", lambda *args: None)
    page = manager.post(f"{WALL}post/", {"number": full.draft.number}, follow=True)
    assert Board.objects.get().posted == full.draft
    assert "Plan 2 is posted: crew and office see it now." in page.content.decode()


def test_a_draft_that_is_not_the_newest_is_not_posted(full: FullWinter, manager: Client) -> None:
    page = manager.post(f"{WALL}post/", {"number": 1})
    assert page.status_code == 409
    assert Board.objects.get().posted == full.posted
    assert "no longer the newest" in page.content.decode()


def test_a_plan_that_breaks_a_rule_today_is_refused_in_words(full: FullWinter, manager: Client) -> None:
    page = manager.post(f"{WALL}post/", {"number": 2})
    assert page.status_code == 422
    assert 'role="alert"' in page.content.decode()
    assert Plan.objects.get(number=1).replaced_at is None


def test_what_the_records_themselves_break_can_be_accepted_on_the_page(
    full: FullWinter, manager: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    from scheduling.actions.plans import BrokenByFacts

    def object_to(loaded: object, plan: Plan, accepted: list[str]) -> None:
        if "Two boats stand in H1." not in accepted:
            raise BrokenByFacts(["Two boats stand in H1."])

    monkeypatch.setattr("scheduling.actions.plans._hold_against", object_to)
    page = manager.post(f"{WALL}post/", {"number": 2})
    assert page.status_code == 422
    assert '<input type="checkbox" name="accept" value="Two boats stand in H1.">' in page.content.decode()
    manager.post(f"{WALL}post/", {"number": 2, "accept": "Two boats stand in H1."})
    assert Board.objects.get().posted == full.draft


# --- The packer -------------------------------------------------------------------------------------------
def pack(full: FullWinter, state: str, **fields: Any) -> Pack:
    return Pack.objects.create(
        yard=full.cast.yard,
        season=full.cast.season,
        state=state,
        asked_at=timezone.now(),
        seconds=20,
        **fields,
    )


def test_a_pack_at_work_shows_its_phase_best_cost_and_bound_and_a_stop_button(
    full: FullWinter, manager: Client
) -> None:
    pack(
        full,
        "working",
        phase="improving",
        best_cost=880200,
        bound=840000,
        lease_until=timezone.now() + timedelta(seconds=30),
    )
    text = manager.get(WALL).content.decode()
    for words in (
        "Working: improving.",
        "£8,802",
        "£8,400",
        "Stop, keep the best",
        'http-equiv="refresh"',
        'every 2s"',
    ):
        assert words in text
    assert "Pack the sheds" not in text


def test_the_progress_part_is_all_that_a_poll_brings(full: FullWinter, manager: Client) -> None:
    pack(full, "working", phase="improving", lease_until=timezone.now() + timedelta(seconds=30))
    part = manager.get(f"{WALL}pack/", headers={"hx-request": "true"})
    assert part.status_code == 200
    assert len(part.content) < 3_000
    assert "HX-Refresh" not in part.headers
    Pack.objects.update(state="stopped", lease_until=None, reason="Stopped before it began.")
    over = manager.get(f"{WALL}pack/", headers={"hx-request": "true"})
    assert over.headers["HX-Refresh"] == "true"


def test_a_pack_that_failed_says_why_and_leaves_the_posted_plan(full: FullWinter, manager: Client) -> None:
    pack(full, "failed", reason="The packer ran out of memory.", finished_at=timezone.now())
    text = manager.get(f"{WALL}?plan=posted").content.decode()
    assert "The last pack failed" in text
    assert "The packer ran out of memory." in text
    assert "Plan 1, posted" in text


def test_contradictions_found_before_packing_are_named(full: FullWinter, manager: Client) -> None:
    pack(full, "failed", reason="x", progress={"contradictions": ["Heather, 14.6 m, fits no bay with heat."]})
    assert "be planned as they are" in manager.get(WALL).content.decode()


def test_the_button_asks_for_a_pack_and_a_second_one_is_refused(full: FullWinter, manager: Client) -> None:
    assert manager.post(f"{WALL}pack/").status_code == 302
    assert Pack.objects.get().state == "queued"
    again = manager.post(f"{WALL}pack/")
    assert again.status_code == 422
    assert "at work on this season already" in again.content.decode()


def test_the_plans_hour_is_shown_by_the_yards_own_clock(full: FullWinter, manager: Client) -> None:
    """Posted at 10:42 UTC: in a yard of New York that is 05:42."""
    assert "posted Tue 24 Nov, 10:42" in manager.get(f"{WALL}?plan=posted").content.decode()
    Yard.objects.filter(pk=full.cast.yard.pk).update(timezone="America/New_York")
    assert "posted Tue 24 Nov, 05:42" in manager.get(f"{WALL}?plan=posted").content.decode()


def test_where_today_is_fixed_the_clocks_other_day_is_not_said(full: FullWinter, manager: Client) -> None:
    Plan.objects.filter(posted_at__isnull=False).update(
        posted_at=timezone.now().replace(year=2026, month=12, day=3, hour=10, minute=42)
    )
    text = manager.get(f"{WALL}?plan=posted").content.decode()
    assert "posted 10:42" in text
    assert "3 Dec, 10:42" not in text


def test_a_boat_that_is_left_out_goes_on_standing_where_she_is(full: FullWinter, manager: Client) -> None:
    """Heather is left out of both plans; were she here, she would take her bay to the season's end."""
    ground = Bay.objects.get(name="S20")
    heather = full.treatments[-1]
    Stay.objects.create(yard=full.cast.yard, treatment=heather, bay=ground, from_on=TODAY)
    (strip,) = strips_of(boat_called(full, "Heather"), full.posted, TODAY)
    assert (strip.left_out, strip.until) == (True, full.cast.season.last_day + DAY)
    assert "Heather · left out" in manager.get(WALL).content.decode()


def test_a_name_is_never_cut_for_the_sake_of_how_late_she_is(full: FullWinter) -> None:
    for zoom in ("winter", "16", "8"):
        grid = draw(winter_in(full), full.posted, frozenset(), zoom, None)
        view = View(grid.first, grid.last, grid.px, full.posted, frozenset())
        for group in grid.groups:
            for row in group.rows:
                for one in row.bars:
                    assert not one.wide or one.length >= view.width(one.label), one.label


def test_a_pinned_stay_wears_its_pin(full: FullWinter, manager: Client) -> None:
    stage = Stage.objects.get(treatment__boat__name="Alder", kind="fair")
    Pin.objects.create(yard=full.cast.yard, stage=stage, bay=full.cast.bay, by=full.cast.manager.user)
    assert "● Alder" in manager.get(WALL).content.decode()


def test_what_a_pack_says_of_its_outcome_stands_by_the_draft(full: FullWinter, manager: Client) -> None:
    pack(
        full,
        "done",
        plan=full.draft,
        reason="Nothing better than plan 1 was found.",
        finished_at=timezone.now(),
    )
    assert "Nothing better than plan 1 was found." in manager.get(WALL).content.decode()
