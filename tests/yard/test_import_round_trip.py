"""What goes out comes in again unchanged, and nothing of a yard is left behind."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command

from tests.yard.folders import exported, imported, small_yard
from yard.actions.importing.cells import Text
from yard.actions.importing.columns import FILES
from yard.actions.importing.page import page
from yard.actions.importing.write import texts_of
from yard.models import (
    Boat,
    CoatingSheet,
    Demand,
    Owner,
    Promise,
    Reading,
    Round,
    Scheme,
    SchemeStage,
    Season,
    Stage,
    StageDemand,
    Stoppage,
    Treatment,
    User,
    WashRecord,
    Yard,
)
from yard.models.base import Record

ROOT = Path(__file__).resolve().parents[2]

# Records that are no part of a folder, and fields that are told in another way or are the machine's own.
STAY_BEHIND = {"Entry", "Delivery", "User", "Membership"}
TOLD_OTHERWISE = {
    "id", "yard", "version", "superseded", "replaces",
    "Yard.is_sample", "Yard.retired_on", "YardSettings.yard", "Owner.forgotten_at", "Promise.by",
    "Stoppage.called_off_on",
    "Lane.shed", "Lane.name", "PersonSkill.person", "PersonSkill.skill",
    "WorkingWeek.weekday", "WorkingWeek.hours",
    "TideWater.table", "TideWater.at", "TideWater.is_high",
    "Round.treatment", "Round.meter", "Round.person", "Reading.round", "Reading.spot",
}  # fmt: skip


def an_odd_yard() -> Yard:
    """The small yard with all that is hard to tell: equal names, formulas, own stages, second treatments."""
    yard = Yard.objects.get()
    season = Season.objects.get()
    scheme = Scheme.objects.get()
    first = Owner.objects.get()
    second = Owner.objects.create(
        yard=yard, name="A. Fern", phone="+44 1632 960002", note='-5 °C; "cold"\nhands'
    )
    sizes: dict[str, Any] = {
        "length_m": 9,
        "beam_m": 3,
        "draught_m": 1,
        "stand_height_m": 3,
        "displacement_t": 4,
    }
    Boat.objects.create(yard=yard, owner=second, name="Moth", type="=1+1", **sizes)
    Boat.objects.create(yard=yard, owner=first, name="Mite #2", type="@sum", **sizes)
    moth = Treatment.objects.get(boat__name="Moth")
    moth.state = "cancelled"
    moth.save()
    moth.stays.filter(until_on=None).update(until_on="2026-11-20")
    again = Treatment.objects.create(
        yard=yard, boat=moth.boat, season=season, scheme=scheme, arrives_on="2026-12-01", target_reading=20
    )
    stage = Stage.objects.create(
        yard=yard, treatment=again, position=15, kind="other", name="'=Own", extra=True, makes="dust grit"
    )
    StageDemand.objects.create(stage=stage, hours_fixed=3)
    gnat = Stage.objects.get(treatment__boat__name="Gnat", position=40)
    gnat.demands.all().delete()
    Stage.objects.create(
        yard=yard, treatment=gnat.treatment, position=45, kind="wait", name="Rest", wait_max_d=3
    )
    late = SchemeStage.objects.create(scheme=scheme, position=25, kind="wash", name="Wash again")
    Demand.objects.create(scheme_stage=late, hours_fixed=2)
    plain, quick = CoatingSheet.objects.order_by("pk")
    coat: dict[str, Any] = {"position": 47, "kind": "coat", "name": "Coat"}
    SchemeStage.objects.create(scheme=scheme, **coat, coats=5, sheet=plain)
    for boats, sheet in ((moth, None), (gnat.treatment, quick), (again, plain)):
        Stage.objects.create(yard=yard, treatment=boats, **coat, coats=4, coats_a_day=2, sheet=sheet)
    wash = WashRecord.objects.get()
    WashRecord.objects.filter(pk=wash.pk).update(superseded=True)
    WashRecord.objects.create(stage=wash.stage, day_on=wash.day_on, minutes=75, replaces=wash)
    yard.settings.book_wish_pct = 45
    yard.settings.save()
    reading = Reading.objects.first()
    assert reading is not None
    Reading.objects.filter(pk=reading.pk).update(superseded=True)
    Reading.objects.create(round=reading.round, spot=reading.spot, value=65, replaces=reading)
    return yard


@pytest.mark.django_db
def test_what_was_called_off_goes_into_no_folder(tmp_path: Path) -> None:
    imported(small_yard(tmp_path))
    yard = Yard.objects.get()
    before = texts_of(yard)
    Stoppage.objects.create(
        yard=yard, kind="closed", first_day="2027-01-11", why="a slip", called_off_on="2026-11-24"
    )
    assert texts_of(yard) == before


@pytest.mark.django_db
def test_an_exported_yard_comes_in_again_unchanged(tmp_path: Path) -> None:
    imported(small_yard(tmp_path))
    yard = an_odd_yard()
    before = texts_of(yard)
    folder = exported(yard, tmp_path / "out")
    assert imported(folder).changes == 0, "into the yard it came from"
    yard.slug = "elsewhere"
    yard.save()
    imported(folder)
    after = texts_of(Yard.objects.get(slug="little-yard"))
    assert before.keys() == after.keys()
    for name in before:
        assert after[name] == before[name], name


@pytest.mark.django_db
def test_the_numbers_and_stages_that_are_hard_to_tell_go_out_as_told(tmp_path: Path) -> None:
    imported(small_yard(tmp_path))
    rows = {name: list(csv.DictReader(io.StringIO(text))) for name, text in texts_of(an_odd_yard()).items()}
    assert [row["boat"] for row in rows["boats.csv"]] == ["Moth", "Gnat", "Moth #2", "Mite #2 #1"]
    assert [(row["boat"], row["season"], row["own_stages"]) for row in rows["treatments.csv"]] == [
        ("Moth", "Winter", "yes"),
        ("Gnat", "Winter", "yes"),
        ("Moth", "Winter #2", "yes"),
    ]


@pytest.mark.django_db
@pytest.mark.reliability(31)
def test_no_cell_of_text_goes_out_as_a_formula(tmp_path: Path) -> None:
    imported(small_yard(tmp_path))
    texts = {file.name: {c.name for c in file.columns if isinstance(c.kind, Text)} for file in FILES}
    seen = set()
    for name, text in texts_of(an_odd_yard()).items():
        for row in csv.DictReader(io.StringIO(text)):
            for column, cell in row.items():
                if column in texts[name]:
                    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r")), (name, column, cell)
                    seen |= {cell} if cell.startswith("'") else set()
    assert seen == {"'=1+1", "'@sum", "'+44 1632 960002", '\'-5 °C; "cold"\nhands', "''=Own"}


@pytest.mark.django_db
def test_a_stage_tells_its_sheet_only_where_it_is_not_the_schemes(tmp_path: Path) -> None:
    imported(small_yard(tmp_path))
    texts = texts_of(an_odd_yard())
    stages = csv.DictReader(io.StringIO(texts["stages.csv"]))
    assert [row["sheet"] for row in stages if row["position"] == "47"] == ["none", "quick epoxy", ""]
    (wash,) = csv.DictReader(io.StringIO(texts["washes.csv"]))
    assert (wash["day_on"], wash["minutes"], wash["water_c"]) == ("13/10/2026", "75", "")


@pytest.mark.django_db
def test_only_what_differs_from_the_scheme_is_written_of_a_treatment(tmp_path: Path) -> None:
    imported(small_yard(tmp_path))
    text = texts_of(Yard.objects.get())["stages.csv"]
    rows = [{k: v for k, v in row.items() if v} for row in csv.DictReader(io.StringIO(text))]
    told = {"boat": "Moth", "season": "Winter", "extra": "no"}
    assert rows == [
        told | {"position": "10", "status": "done", "started_on": "05/10/2026", "finished_on": "05/10/2026"},
        told
        | {
            "position": "20",
            "status": "running",
            "started_on": "06/10/2026",
            "done_pct": "50",
            "days_likely": "12",
        },
        told | {"position": "40", "status": "waiting", "wait_max_d": "none"},
    ]


@pytest.mark.django_db
def test_a_promise_keeps_who_told_it_where_the_account_has_a_role(tmp_path: Path) -> None:
    imported(small_yard(tmp_path))
    yard = Yard.objects.get()
    promise = Promise.objects.get(superseded=False)
    Promise.objects.create(
        treatment=promise.treatment, kind="firm", promised_on="2027-04-01", said_on="2026-11-02", how="phone",
        by=User.objects.create_user("dora"), superseded=True,
    )  # fmt: skip
    folder = exported(yard, tmp_path / "out")
    assert "dora" in (folder / "promises.csv").read_text()
    assert imported(folder).notes == (
        "promises.csv, row 4: nobody here has the account “dora”; kept without it.",
    )


def test_every_field_of_every_record_has_a_column_or_a_reason() -> None:
    told = {f"{file.model.__name__}.{c.field}" for file in FILES for c in file.columns if c.field}
    told |= {f"{file.model.__name__}.{link.field}" for file in FILES for link in file.links}
    settings = {c.name for c in FILES[0].columns}
    rounds = {c.name for file in FILES if file.name == "rounds.csv" for c in file.columns}
    left = set()
    for model in apps.get_app_config("yard").get_models():
        if model.__name__ in STAY_BEHIND:
            continue
        assert issubclass(model, Record | Yard)
        for field in model._meta.concrete_fields:
            name = f"{model.__name__}.{field.name}"
            by_hand = (model.__name__ == "YardSettings" and field.name in settings) or (
                model is Round and field.name in rounds
            )
            if not {name, field.name} & TOLD_OTHERWISE and name not in told and not by_hand:
                left.add(name)
    assert left == set()


@pytest.mark.django_db
def test_an_empty_folder_has_every_file_with_its_columns(tmp_path: Path) -> None:
    call_command("exportyard", str(tmp_path / "blank"), "--empty", stdout=io.StringIO())
    for file in FILES:
        head = (tmp_path / "blank" / file.name).read_text(encoding="utf-8-sig").splitlines()[0]
        assert head == ("setting,value" if file.turned else ",".join(c.name for c in file.columns))


@pytest.mark.django_db
def test_an_export_writes_over_nothing(tmp_path: Path) -> None:
    imported(small_yard(tmp_path))
    with pytest.raises(CommandError, match="holds CSV files already; name a folder that does"):
        call_command("exportyard", "little-yard", str(tmp_path / "yard"))
    with pytest.raises(CommandError, match="There is no yard “other”; the yards here are: little-yard"):
        call_command("exportyard", "other", str(tmp_path / "out"))


def test_the_page_of_columns_is_the_readers_own_table() -> None:
    assert (ROOT / "docs" / "columns.md").read_text() == page(), "run: manage.py columns > docs/columns.md"
