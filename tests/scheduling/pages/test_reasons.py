"""Why a plan has a boat when it has her: on her page for every role, and on the Wall for who is late."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from scheduling.loading.winter import BoatWinter, read_winter
from scheduling.models import Plan, Reasons, Unplaced
from scheduling.pages.compare import MOST_LINES, Need, explained
from scheduling.pages.reasons import Reader, Said, chain_of, of_stages, reader_of
from tests.cast import TODAY
from tests.scheduling.full_winter import FullWinter
from yard.models import Hold, Promise, Stage, Treatment
from yard.roles import Actor

WALL = "/quiet-creek/wall/"


def boat_of(name: str) -> Treatment:
    return Treatment.objects.get(boat__name=name)


def stage_of(name: str, kind: str) -> Stage:
    return Stage.objects.get(treatment__boat__name=name, kind=kind)


def a_reason(boat: str, stage: str, kind: str, says: str, **values: Any) -> dict[str, Any]:
    """A reason as it is stored."""
    row = stage_of(boat, stage)
    known = {
        "treatment": row.treatment_id, "stage": row.pk, "part": 0, "rule": "stand", "kind": kind,
        "says": says, "whom": "", "start": "2027-02-01", "until": "2027-02-05", "by": None,
        "about": "days", "pks": [],
    }  # fmt: skip
    return known | values


def follows(boat: str, stage: str, before: str, says: str = "") -> dict[str, Any]:
    names = stage_of(boat, stage).name, stage_of(boat, before).name
    words = says or f"{names[0]} follows {names[1]}, which lasts until Thu 4 Feb"
    return a_reason(boat, stage, "step", words, about="stage", pks=[stage_of(boat, before).pk])


def waits(boat: str, stage: str, by: str) -> dict[str, Any]:
    says = f"waits for H3 until Fri 5 Feb: {by} stands there"
    return a_reason(boat, stage, "job", says, by=boat_of(by).pk, about="boat", pks=[boat_of(by).pk])


def keep(plan: Plan, boat: str, *, stages: Any = (), chain: Any = ()) -> None:
    Reasons.objects.create(plan=plan, treatment=boat_of(boat), stages=list(stages), chain=list(chain))


def change(plan: Plan, **values: Any) -> None:
    """Make a plan that was stored another one, which only a test may."""
    fields = [(Plan._meta.get_field(name), Plan, value) for name, value in values.items()]
    Plan.objects.filter(pk=plan.pk)._update(fields)


def reading(full: FullWinter, who: Actor | None = None) -> Reader:
    winter = read_winter(full.cast.yard, TODAY, draft=True)
    assert winter is not None
    return reader_of(winter, who or full.cast.manager, posted=True)


def her(reader: Reader, name: str) -> BoatWinter:
    return next(boat for boat in reader.winter.boats if boat.name == name)


def said(full: FullWinter, entry: dict[str, Any], who: Actor | None = None) -> Said:
    """One reason of one of Clover's stages, as it stands under the stage."""
    reader = reading(full, who)
    [one] = of_stages(reader, her(reader, "Clover"), [entry])[entry["stage"]]
    return one


@pytest.fixture
def page(full: FullWinter) -> Callable[..., str]:
    known: dict[str, Client] = {}

    def get(role: str, address: str) -> str:
        if role not in known:
            known[role] = Client()
            known[role].force_login(full.cast.actors[role].user)
        answer = known[role].get(f"/quiet-creek/{address}")
        assert answer.status_code == 200
        return str(answer.content.decode())

    return get


def address_of(boat: str) -> str:
    return f"boat/{boat_of(boat).boat_id}/"


# --- Each reason and the way to what can change it --------------------------------------------------------
def test_another_boat_in_the_way_leads_to_her_page(full: FullWinter) -> None:
    one = said(full, waits("Clover", "fair", "Alder"))
    assert one == Said(
        "Waits for H3 until Fri 5 Feb: Alder stands there.",
        "See Alder",
        f"/quiet-creek/boat/{boat_of('Alder').boat_id}/",
    )


def test_a_stage_before_leads_to_the_scheme_and_drying_to_the_norms(full: FullWinter) -> None:
    one = said(full, follows("Clover", "coat", "fair"))
    assert one.says == "Follows Fill and fair, which lasts until Thu 4 Feb."
    assert (one.way, one.href) == ("See scheme whole", f"/quiet-creek/schemes/{full.scheme.pk}/")
    assert said(full, follows("Clover", "fair", "dry")).href == "/quiet-creek/norms/"


def test_a_day_leads_to_the_wall_for_who_may_see_it(full: FullWinter) -> None:
    tide = a_reason("Clover", "relaunch", "window", "Relaunch has no tide before Fri 5 Feb", rule="windows")
    one = said(full, tide)
    assert one.way == "See Fri 5 Feb on the Wall"
    assert one.href == "/quiet-creek/wall/?weeks=8&from=2027-02-05&plan=posted"
    for who in (full.cast.crew, full.cast.office):
        assert said(full, tide, who).href == ""


def test_money_leads_to_the_day_on_which_she_could_start(full: FullWinter) -> None:
    words = "Fill and fair could start on Mon 1 Feb, but it would cost more"
    dear = a_reason("Clover", "fair", "money", words, rule="cost")
    assert said(full, dear).way == "See Mon 1 Feb on the Wall"


def test_a_hold_leads_to_what_she_waits_for_and_the_crew_do_not_read_for_whom(full: FullWinter) -> None:
    stage = stage_of("Clover", "fair")
    words = "Fill and fair can't start before Fri 5 Feb"
    hold = a_reason("Clover", "fair", "hold", words, whom="her owner expects her on Fri 26 Feb")
    told = said(full, hold, full.cast.office)
    assert told.says == "Can't start before Fri 5 Feb: her owner expects her on Fri 26 Feb."
    assert told.href == "/quiet-creek/desk/?q=Clover"
    assert said(full, hold, full.cast.crew) == Said("Can't start before Fri 5 Feb.")
    Hold.objects.create(stage=stage, from_on=TODAY, reason="parts")
    assert said(full, hold, full.cast.crew).href == f"/quiet-creek/boat/{stage.treatment.boat_id}/#held"


def test_signed_dry_leads_to_how_she_dries(full: FullWinter) -> None:
    gate = a_reason("Clover", "coat", "gate", "Coats waits for signed dry, forecast for Fri 5 Feb")
    assert said(full, gate).href == f"/quiet-creek/boat/{boat_of('Clover').boat_id}/#drying"


def test_that_a_part_follows_the_part_before_needs_no_words(full: FullWinter) -> None:
    reader = reading(full)
    second = follows("Clover", "dry", "dry") | {"part": 2}
    assert of_stages(reader, her(reader, "Clover"), [second]) == {}
    first = waits("Clover", "dry", "Alder") | {"part": 1}
    assert list(of_stages(reader, her(reader, "Clover"), [first, second])) == [stage_of("Clover", "dry").pk]


# --- Chains -----------------------------------------------------------------------------------------------
def test_her_own_stages_that_only_follow_each_other_are_told_as_one(full: FullWinter) -> None:
    reader = reading(full)
    entries = [
        follows("Clover", "relaunch", "cure"),
        follows("Clover", "cure", "antifoul"),
        follows("Clover", "antifoul", "coat"),
        waits("Clover", "coat", "Alder"),
        a_reason("Alder", "relaunch", "arrival", "she is not there before Fri 5 Feb"),
    ]
    chain = chain_of(reader, her(reader, "Clover"), entries)
    assert chain is not None
    assert [one.says for one in chain.links] == [
        "Relaunch follows Cure, which lasts until Thu 4 Feb, and so on back to Coats.",
        "Coats waits for H3 until Fri 5 Feb: Alder stands there.",
        "Alder: she is not there before Fri 5 Feb.",
    ]
    assert chain.first == chain.links[1]


def test_where_only_her_own_stages_follow_each_other_they_are_what_is_in_her_way(full: FullWinter) -> None:
    reader = reading(full)
    entries = [follows("Clover", "relaunch", "cure"), follows("Clover", "cure", "antifoul")]
    chain = chain_of(reader, her(reader, "Clover"), entries)
    assert chain is not None
    assert chain.links == [chain.first]
    assert (
        chain.first.says == "Relaunch follows Cure, which lasts until Thu 4 Feb, and so on back to Antifoul."
    )


def test_the_first_day_there_is_leads_nowhere(full: FullWinter) -> None:
    today = a_reason("Clover", "dry", "today", "Dry starts on the first day there is", start=None)
    assert said(full, today) == Said("Starts on the first day there is.")


def test_without_reasons_there_is_no_chain(full: FullWinter) -> None:
    reader = reading(full)
    assert chain_of(reader, her(reader, "Clover"), []) is None


# --- Her page ---------------------------------------------------------------------------------------------
def test_her_page_says_under_each_planned_stage_why_it_is_no_earlier(
    full: FullWinter, page: Callable[..., str]
) -> None:
    keep(full.posted, "Clover", stages=[waits("Clover", "fair", "Alder")])
    for role in ("manager", "crew"):
        text = page(role, address_of("Clover"))
        assert "why plan 1 does not have it a working day earlier" in text
        assert "Waits for H3 until Fri 5 Feb: Alder stands there." in text
        assert ">See Alder</a>" in text


def test_a_plan_older_than_its_reasons_is_shown_without(full: FullWinter, page: Callable[..., str]) -> None:
    text = page("manager", address_of("Clover"))
    assert "planned" in text and "a working day earlier" not in text and "back to today" not in text
    assert "Why, back to today" not in page("manager", "wall/")


def test_a_late_boats_page_has_her_chain_for_the_manager_and_the_office_alone(
    full: FullWinter, page: Callable[..., str]
) -> None:
    late = next(b for b in reading(full).winter.boats if (b.late_days(full.posted) or 0) > 0).name
    keep(full.posted, late, chain=[waits(late, "fair", "Alder")])
    keep(full.posted, "Clover", chain=[waits("Clover", "fair", "Alder")])  # she keeps her day
    assert "back to today" not in page("office", address_of("Clover"))
    for role, shown in (("manager", True), ("office", True), ("crew", False)):
        assert ("What makes her late, back to today" in page(role, address_of(late))) == shown


def test_reasons_cost_her_page_one_query(full: FullWinter, page: Callable[..., str]) -> None:
    page("crew", address_of("Clover"))
    counts = []
    for stages in ([], [waits("Clover", "fair", "Alder"), follows("Clover", "coat", "fair")]):
        Reasons.objects.all()._raw_delete("default")
        keep(full.posted, "Clover", stages=stages)
        address = address_of("Clover")
        with CaptureQueriesContext(connection) as queries:
            page("crew", address)
        counts.append(len(queries))
        assert sum('"scheduling_reasons"' in query["sql"] for query in queries) == 1
    assert counts[0] == counts[1]


# --- The Wall ---------------------------------------------------------------------------------------------
def test_a_boat_left_out_has_what_is_first_in_her_way_and_all_of_it_folded_away(
    full: FullWinter, page: Callable[..., str]
) -> None:
    keep(
        full.draft, "Heather", chain=[waits("Heather", "fair", "Alder"), follows("Alder", "relaunch", "cure")]
    )
    text = page("manager", "wall/")
    assert "First in her way: Fill and fair waits for H3 until Fri 5 Feb: Alder stands there." in text
    assert "Alder: Relaunch follows Cure, which lasts until Thu 4 Feb." in text
    # The posted plan has no reasons of its own.
    assert "First in her way" not in page("manager", "wall/?plan=posted")


def test_what_keeps_her_is_not_said_twice(full: FullWinter, page: Callable[..., str]) -> None:
    Unplaced.objects.filter(plan=full.draft)._raw_delete("default")
    says = "waits for H3 until Fri 5 Feb: Alder stands there"
    Unplaced.objects.create(plan=full.draft, treatment=boat_of("Heather"), rule="stand", says=says)
    keep(full.draft, "Heather", chain=[waits("Heather", "fair", "Alder")])
    text = re.sub(r"<details>.*?</details>", "", page("manager", "wall/"), flags=re.DOTALL)
    assert text.count("H3 until Fri 5 Feb: Alder stands there") == 1


def test_whole_chains_are_told_as_far_as_a_page_goes_the_gravest_first(full: FullWinter) -> None:
    reader = reading(full)
    boats = [her(reader, name) for name in ("Clover", "Dogwood", "Elder")]
    half = MOST_LINES // 2
    rows = {boat.treatment.pk: Reasons(chain=[waits(boat.name, "fair", "Alder")] * half) for boat in boats}
    told = explained(reader, [Need(boat, "late", "risk", "") for boat in boats], rows)
    assert [len(need.chain.links) if need.chain else None for need in told] == [half, half, 0]
    assert told[2].chain is not None and told[2].chain.first.way == "See Alder"


@pytest.mark.parametrize(
    ("fewest", "says"),
    [
        ({"things": ["one more bay like H1"], "whole": True}, "while the others stay as planned:"),
        ({"things": ["a", "b"], "whole": False}, "there was no time to look for fewer"),
        ({"things": [], "whole": True}, "Nothing of what the packer knows to add"),
        ({"things": [], "whole": False, "at_least": 2}, "At least 2 changes are needed"),
        ({"things": [], "whole": False, "at_least": 1}, "In the time there was, nothing was found"),
    ],
)
def test_the_fewest_changes_that_bring_everybody_in_have_a_card(
    full: FullWinter, page: Callable[..., str], fewest: dict[str, Any], says: str
) -> None:
    change(full.draft, fewest=fewest)
    text = page("manager", "wall/")
    assert "To bring everybody in" in text and says in text
    for thing in fewest["things"]:
        assert f"<li>{thing}</li>" in text


def test_how_close_a_plan_is_stands_beside_it_and_not_where_boats_are_left_out(
    full: FullWinter, page: Callable[..., str]
) -> None:
    """10,580 in all, 10,200 at the least and 10,000 each alone: of 580 no plan saves 200, or 34 %."""
    words = "Within about £380 of the best that can be proved."
    for plan in (full.posted, full.draft):
        change(plan, bound=1_020_000, alone=1_000_000)
    assert words not in page("manager", "wall/")
    Unplaced.objects.filter(plan=full.draft)._raw_delete("default")
    text = page("manager", "wall/")
    assert words in text
    assert "The boats cost £580 more together than each alone in an empty yard" in text
    assert "at least 34&nbsp;% of that no plan can save" in text


def test_a_wall_with_reasons_keeps_to_its_limits(full: FullWinter, page: Callable[..., str]) -> None:
    Promise.objects.update(superseded=True)
    for treatment in full.treatments:
        name = treatment.boat.name
        keep(full.draft, name, chain=[waits(name, "fair", "Alder")] * 40)
        Treatment.objects.filter(pk=treatment.pk).update(wanted_on=TODAY)
    assert "To bring everybody in" not in page("manager", "wall/")
    with CaptureQueriesContext(connection) as queries:
        text = page("manager", "wall/")
    assert text.count("First in her way") == 32
    assert len(queries) <= 25
    assert len(text) <= 100_000
    assert len(re.findall(r"<[a-z]", text)) <= 1_400
