"""The demo yard comes from its folder alone, without a fault, and stands as it should on its day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings

from tests.cast import made_once
from tests.yard.folders import exported, imported
from yard.actions.importing.action import Import
from yard.actions.importing.write import texts_of
from yard.models import (
    Bay,
    Boat,
    Hold,
    Owner,
    Person,
    Promise,
    Round,
    SchemeStage,
    Stage,
    Stay,
    TideTable,
    Treatment,
    WashRecord,
    Work,
    Yard,
)

DEMO = Path(settings.BASE_DIR) / "demo"
TODAY = date(2026, 11, 24)


@pytest.fixture(scope="module")
def _brought(django_db_setup: None, django_db_blocker: Any) -> Iterator[Import]:
    with made_once(partial(imported, DEMO), django_db_blocker) as done:
        yield done


@pytest.fixture
def demo(_brought: Import, db: None) -> Import:
    """What came in with the folder, which lies in the database."""
    return _brought


def test_the_demo_folder_comes_in_clean_with_32_boats_each_promised_a_date(demo: Import) -> None:
    assert demo.notes == ()
    assert (
        Boat.objects.count()
        == Treatment.objects.count()
        == Promise.objects.filter(superseded=False).count()
        == 32
    )
    assert Counter(Treatment.objects.values_list("scheme__name", flat=True)) == {
        "full": 15,
        "rebuild": 1,
        "spot": 8,
        "barrier": 4,
        "keel and rudder": 2,
        "lay-up": 2,
    }
    assert imported(DEMO).changes == 0


def test_the_demo_stands_in_mid_season_and_in_order(demo: Import) -> None:
    here = Treatment.objects.filter(state="here")
    assert here.count() == 20
    assert Stay.objects.filter(until_on=None).count() == 19, "one hangs in the slings"
    for treatment in here:
        status = [
            stage.status for stage in treatment.stages.order_by("position") if stage.status != "dropped"
        ]
        assert status == sorted(status, key=["done", "running", "waiting"].index), treatment
        days = [
            day
            for stage in treatment.stages.filter(status__in=["done", "running"]).order_by("position")
            for day in (stage.started_on, stage.finished_on)
            if day
        ]
        assert days == sorted(days), treatment
        assert all(day <= TODAY for day in days), treatment
        assert treatment.arrived_on
        assert days[0] >= treatment.arrived_on, treatment
    assert not Stage.objects.filter(treatment__state="expected").exclude(status="waiting").exists()
    teasel = Stage.objects.get(treatment__boat__name="Teasel", status="running")
    assert (teasel.kind, teasel.started_on, teasel.treatment.stays.get(until_on=None).bay.name) == (
        "dry",
        date(2026, 11, 10),
        "H1",
    )
    waits = Hold.objects.values_list("stage__treatment__boat__name", "reason", "expected_on")
    assert set(waits) == {
        ("Samphire", "owner", date(2026, 12, 2)),
        ("Redshank", "surveyor", date(2026, 12, 3)),
        ("Coppice", "owner", date(2026, 12, 4)),
    }


def test_each_wash_of_the_demo_is_inside_its_stage_and_was_worked(demo: Import) -> None:
    washes = WashRecord.objects.select_related("stage__treatment__boat")
    assert washes.count() == Work.objects.filter(note__startswith="wash").count() == 24
    for wash in washes:
        stage = wash.stage
        assert stage.kind == "wash" and stage.started_on, wash
        assert stage.started_on <= wash.day_on <= (stage.finished_on or TODAY), wash
        assert stage.work.filter(day_on=wash.day_on, note=wash.note).exists(), wash
    drying = {s.treatment.boat.name for s in Stage.objects.filter(kind="dry", status="running")}
    for name in drying:
        last = washes.filter(stage__treatment__boat__name=name).latest("day_on").day_on
        usable = Round.objects.filter(treatment__boat__name=name, day_on__gte=last + timedelta(days=5))
        assert usable.exists(), f"{name} has no round that her drying can be read from"


def test_every_coat_stage_of_the_demo_says_its_coats_and_their_sheet(demo: Import) -> None:
    for model in (SchemeStage, Stage):
        said = set(model.objects.filter(kind="coat").values_list("coats", "coats_a_day", "sheet__name"))
        assert said == {(5, 1, "solvent-free barrier epoxy"), (4, 1, "solvent-free barrier epoxy")}
        assert not model.objects.exclude(kind="coat").filter(coats__gt=0).exists()


def test_every_demo_boat_fits_where_she_stands(demo: Import) -> None:
    for stay in Stay.objects.filter(until_on=None).select_related("bay", "treatment__boat"):
        boat, bay = stay.treatment.boat, stay.bay
        assert boat.length_m <= bay.length_m, stay
        assert boat.beam_m <= bay.beam_m, stay
        assert bay.height_m is None or boat.stand_height_m <= bay.height_m, stay
        assert (boat.weighed_t or boat.displacement_t) <= bay.load_t, stay
    assert Bay.objects.filter(shed__name="S").count() == 20


def test_the_demo_names_nobody_who_could_be_rung_and_no_real_tide(demo: Import) -> None:
    phones = [*Owner.objects.values_list("phone", flat=True), *Person.objects.values_list("phone", flat=True)]
    assert len(phones) == 41
    assert all(phone.startswith("01632 960") for phone in phones), "the range kept for fiction"
    assert all("made by formula" in table.source for table in TideTable.objects.all())
    highs = {table.year: table.waters.filter(is_high=True).count() for table in TideTable.objects.all()}
    assert sum(highs.values()) == 498


def test_the_demo_goes_out_and_comes_in_unchanged(demo: Import, tmp_path: Path) -> None:
    yard = Yard.objects.get()
    before = texts_of(yard)
    folder = exported(yard, tmp_path / "out")
    assert imported(folder).changes == 0
    yard.slug = "elsewhere"
    yard.save()
    imported(folder)
    assert texts_of(Yard.objects.get(slug="sample-creek")) == before
