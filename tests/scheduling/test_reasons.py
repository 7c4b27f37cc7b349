"""Why each stage of a plan starts no earlier, found when the plan is made and stored with it."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.utils import timezone

from scheduling.actions import claims, reasons
from scheduling.actions.reasons import Found, reasons_of, said_once
from scheduling.engine.compiled import compile_problem
from scheduling.engine.explain import Why, whys
from scheduling.engine.improve import first_plan
from scheduling.loading import load
from scheduling.loading.targets import Target, targets_of
from scheduling.models import Pack, Reasons
from tests.cast import Cast, HoistFactory, KitFactory
from yard.models import Bay, Hold, Season, Skill, Stage, Treatment
from yard.models.base import WrittenOnceError

Packed = Callable[..., Pack]
WHERE = {
    "boat": "yard.Treatment",
    "stage": "yard.Stage",
    "bay": "yard.Bay",
    "kit": "yard.Kit",
    "hoist": "yard.Hoist",
    "air": "yard.Air",
    "shed": "yard.Shed",
    "skill": "yard.Skill",
}


def found_in(season: Season) -> Found:
    loaded = load(season)
    schedule = first_plan(compile_problem(loaded.problem)).schedule()
    found = reasons_of(season, loaded, schedule)
    assert found is not None
    return found


def of(found: Found, boat: str, stage: str) -> list[dict[str, Any]]:
    """The reasons of one stage."""
    row = Stage.objects.get(treatment__boat__name=boat, name=stage)
    return [why for why in found.stages[row.treatment_id] if why["stage"] == row.pk]


def one_bay(winter: Cast) -> None:
    Bay.objects.exclude(pk=winter.bay.pk).update(retired_on=date(2026, 11, 1))


# --- Rule by rule -----------------------------------------------------------------------------------------
def test_a_boat_that_is_not_there_and_a_stage_after_another_say_so(winter: Cast) -> None:
    found = found_in(winter.season)
    her = Treatment.objects.get(boat__name="Alder")
    [wash] = of(found, "Alder", "wash")
    assert (wash["rule"], wash["kind"], wash["until"]) == ("windows", "arrival", "2026-12-01")
    assert (wash["about"], wash["pks"], wash["by"]) == ("boat", [her.pk], None)
    [fair] = of(found, "Alder", "fair")
    assert (fair["kind"], fair["about"]) == ("step", "stage")
    assert fair["pks"] == [her.stages.get(kind="wash").pk]
    # Two working days from Tuesday on: she is washed until Wednesday.
    assert fair["says"] == "fair follows wash, which lasts until Wed 2 Dec"


def test_a_taken_bay_names_the_boat_that_stands_there(winter: Cast) -> None:
    one_bay(winter)
    found = found_in(winter.season)
    waits = [why for rows in found.stages.values() for why in rows if why["rule"] == "stand"]
    assert {why["about"] for why in waits} == {"boat"}
    for why in waits:
        assert why["pks"] == [why["by"]] != [why["treatment"]]
    # Alder washes and is faired from Tue 1 to Mon 7 December.
    assert "waits for H1 until Tue 8 Dec: Alder stands there" in {why["says"] for why in waits}


def test_a_hold_keeps_whom_she_waits_for_apart_from_what_everybody_may_read(winter: Cast) -> None:
    stage = Stage.objects.get(treatment__boat__name="Alder", kind="fair")
    Hold.objects.create(
        stage=stage, from_on=date(2026, 11, 20), reason="owner", whom="A. Rush", expected_on=date(2027, 1, 11)
    )
    [why] = [why for why in of(found_in(winter.season), "Alder", "fair") if why["kind"] == "hold"]
    assert (why["about"], why["pks"], why["until"]) == ("stage", [stage.pk], "2027-01-11")
    assert why["says"] == "fair can't start before Mon 11 Jan"
    assert why["whom"] == "A. Rush"


def test_each_name_in_a_problem_leads_to_records_of_the_same_yard(winter: Cast) -> None:
    yard = winter.yard
    skill = Skill.objects.get(yard=yard, name="peel")
    tents = [KitFactory(yard=yard, kind="tent", size="L", name=f"tent {n}").pk for n in (1, 2)]
    mover = KitFactory(yard=yard, kind="mover", name="mover").pk
    hoist = HoistFactory(yard=yard).pk
    KitFactory(kind="tent", size="L", name="theirs", yard=winter.other_yard)
    loaded = load(winter.season)
    targets = targets_of(yard, loaded)
    [pool] = [place for place, bays in loaded.refs.bays.items() if len(bays) > 1]
    about = {
        ("place", pool): Target("bay", tuple(bay.pk for bay in loaded.refs.bays[pool])),
        ("place", "dock"): Target("bay"),
        ("skills", "paint or peel"): Target("skill", (skill.pk,)),
        ("resource", "kit:tent:L"): Target("kit", tuple(tents)),
        ("resource", "trips"): Target("kit", (mover,)),
        ("resource", "lifts"): Target("hoist", (hoist,)),
        ("resource", f"power:air:{winter.air.pk}"): Target("air", (winter.air.pk,)),
        ("resource", f"tents:air:{winter.air.pk}"): Target("air", (winter.air.pk,)),
        ("resource", f"power:shed:{winter.shed.pk}"): Target("shed", (winter.shed.pk,)),
        ("resource", "outside:surveyor"): Target("outside"),
        ("table", "tide 1.30 m"): Target("tide"),
        ("table", "crew 2 crew"): Target("days"),
        ("plan", ""): Target("plan"),
    }
    [any_why] = whys(loaded.problem, first_plan(compile_problem(loaded.problem)).schedule())[:1]
    for (kind, name), target in about.items():
        assert targets.of(replace(any_why, target_kind=kind, target=name)) == target, name  # type: ignore[arg-type]


def test_what_is_said_twice_is_said_once() -> None:
    """Without a crane no mast is stepped, and without water no boat is lifted: one fact each, two rules."""

    def why(step: str, kind: str, who: str, until: int = 8, by: str = "") -> Why:
        return Why(
            job="1", step=step, rule="windows", kind=kind, who=who, start=4, until=until,
            target_kind="table", target=who, says="", by=by,
        )  # type: ignore[arg-type]  # fmt: skip

    crane = [why("mast", "window", "crane 1"), why("mast", "resource", "outside:mast_crane")]
    water = [why("relaunch", "window", "tide 1.30 m"), why("relaunch", "resource", "lifts")]
    other = [why("lift", "window", "tide 1.30 m", 6), why("lift", "resource", "lifts", 8, by="2")]
    assert [one.who for one in said_once(crane + water + other)] == [
        "outside:mast_crane", "tide 1.30 m", "tide 1.30 m", "lifts",
    ]  # fmt: skip


# --- Late boats, boats left out ---------------------------------------------------------------------------
def test_a_late_boat_has_the_chain_from_her_last_stage_back_to_a_fact(winter: Cast) -> None:
    one_bay(winter)
    Treatment.objects.update(wanted_on=date(2026, 12, 10))
    found = found_in(winter.season)
    late = {Treatment.objects.get(pk=pk).boat.name: chain for pk, chain in found.chains.items()}
    assert set(late) == {"Bramble", "Clover"}  # Alder is done on Mon 7 December
    names = dict(Stage.objects.values_list("pk", "name"))
    boats = dict(Treatment.objects.values_list("pk", "boat__name"))
    said = [(boats[why["treatment"]], names[why["stage"]], why["kind"]) for why in late["Bramble"]]
    assert said == [
        ("Bramble", "fair", "step"),
        ("Bramble", "wash", "job"),
        ("Alder", "fair", "step"),
        ("Alder", "wash", "arrival"),
    ]
    assert found.fewest == {}


def crowded(winter: Cast) -> Season:
    """One bay until Thu 10 December: time for one boat's five working days from the 1st, not for two."""
    one_bay(winter)
    Season.objects.filter(pk=winter.season.pk).update(last_day=date(2026, 12, 10))
    return Season.objects.get(pk=winter.season.pk)


def test_where_a_boat_is_left_out_the_one_thing_that_lets_her_in_is_kept(winter: Cast) -> None:
    season = crowded(winter)
    Treatment.objects.filter(boat__name="Clover").update(state="cancelled")
    found = found_in(season)
    assert found.fewest == {"things": ["one more bay like H1"], "whole": True, "at_least": 1}
    [chain] = found.chains.values()
    assert chain[0]["says"] == "waits for H1 until Tue 8 Dec: Alder stands there"


def test_where_nothing_lets_everybody_in_nothing_is_said_to(winter: Cast) -> None:
    assert found_in(crowded(winter)).fewest == {"things": [], "whole": True, "at_least": 2}


def test_a_search_that_was_cut_off_says_so(winter: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reasons, "FEWEST_S", 0.0)
    assert found_in(crowded(winter)).fewest == {"things": [], "whole": False, "at_least": 1}


# --- Stored with the plan ---------------------------------------------------------------------------------
def test_every_planned_boat_of_a_packed_plan_has_her_reasons_and_each_leads_to_records_of_her_yard(
    winter: Cast, packed: Packed
) -> None:
    plan = packed().plan
    rows = Reasons.objects.filter(plan=plan)
    assert {row.treatment.boat.name for row in rows} == {"Alder", "Bramble", "Clover"}
    for row in rows:
        planned = set(plan.placements.filter(stage__treatment=row.treatment).values_list("stage", flat=True))
        assert {why["stage"] for why in row.stages} == planned
        for why in row.stages:
            model: Any = apps.get_model(WHERE[why["about"]])
            assert model.objects.of(winter.yard).filter(pk__in=why["pks"]).count() == len(why["pks"]) > 0
    with pytest.raises(WrittenOnceError):
        rows[0].save()


def test_reasons_that_cannot_be_found_cost_no_plan(
    winter: Cast, packed: Packed, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def breaks(*_: object, **__: object) -> None:
        raise ValueError("no bay is free")

    monkeypatch.setattr(reasons, "whys", breaks)
    with caplog.at_level(logging.ERROR):
        pack = packed()
    assert pack.plan is not None and pack.state == "done"
    assert (pack.plan.fewest, Reasons.objects.count()) == ({}, 0)
    assert "no reasons could be found" in caplog.text


def test_the_lease_is_renewed_before_reasons_are_looked_for(
    winter: Cast, packed: Packed, monkeypatch: pytest.MonkeyPatch
) -> None:
    over = timezone.now() - timedelta(seconds=1)
    monkeypatch.setattr(claims, "odds_of", lambda *_: Pack.objects.update(lease_until=over) and None)
    seen = []
    monkeypatch.setattr(claims, "reasons_of", lambda *_: seen.append(Pack.objects.get().lease_until))
    assert packed().plan is not None
    assert seen[0] > over


def test_finding_reasons_asks_three_things_whatever_is_planned(
    winter: Cast, django_assert_num_queries
) -> None:
    loaded = load(winter.season)
    schedule = first_plan(compile_problem(loaded.problem)).schedule()
    with django_assert_num_queries(3):
        reasons_of(winter.season, loaded, schedule)
