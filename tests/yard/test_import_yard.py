"""What is in the folder is in the yard afterwards, once, however the files were saved."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from tests.yard.folders import imported, put, small_yard
from yard.actions.base import NotAllowed, Refused
from yard.actions.importing.action import bring_yard
from yard.models import (
    Bay,
    Boat,
    CoatingSheet,
    Entry,
    Hold,
    Membership,
    Owner,
    Person,
    Promise,
    Reading,
    RegimeNorm,
    Role,
    Shed,
    Stage,
    StageDemand,
    Stay,
    TideWater,
    Treatment,
    User,
    WashRecord,
    WorkingWeek,
    Yard,
)

pytestmark = pytest.mark.django_db


def changes(folder: Path) -> dict[str, tuple[int, int]]:
    """What an import added and changed, by file."""
    return {n: (c.added, c.changed) for n, c in imported(folder).files.items() if c.added or c.changed}


def test_a_yard_may_begin_in_mid_season(tmp_path: Path) -> None:
    imported(small_yard(tmp_path))
    yard = Yard.objects.get()
    assert (yard.name, yard.is_sample, yard.settings.sill_level_m) == ("Little Yard", False, Decimal("1.5"))
    moth = Treatment.objects.get(boat__name="Moth")
    assert (moth.state, moth.target_reading, moth.season.name) == ("here", Decimal(18), "Winter")
    stages: dict[int, Any] = {stage.position: stage for stage in moth.stages.all()}
    assert [(p, s.status, s.done_pct) for p, s in stages.items()] == [
        (10, "done", 100),
        (20, "running", 50),
        (30, "waiting", 0),
        (40, "waiting", 0),
        (50, "waiting", 0),
    ]
    assert (stages[20].name, stages[20].days_low, stages[20].days_likely) == ("Wash", 10, 12)
    assert stages[40].wait_max_d is None
    assert Stage.objects.get(treatment__boat__name="Gnat", position=40).wait_max_d == 14
    assert StageDemand.objects.filter(stage__treatment=moth).count() == 2
    assert Stay.objects.get(until_on=None).bay.name == "A1"
    assert Hold.objects.get().stage == stages[30]
    assert [(r.spot.code, r.value) for r in Reading.objects.all()] == [("mean", 64), ("mean", 60)]
    wash = WashRecord.objects.get()
    assert (wash.stage, wash.day_on, wash.water_c) == (stages[20], date(2026, 10, 13), 80)
    norm = RegimeNorm.objects.get()
    assert (norm.regime, norm.half_life_likely_d, norm.at_c) == ("tent", Decimal("20.5"), 24)
    quick = CoatingSheet.objects.get(name="quick epoxy")
    assert (quick.least_c, quick.recoat_max_h_20, quick.cure_h_20) == (10, Decimal("12.5"), 144)
    promise = Promise.objects.get(superseded=False)
    assert promise.promised_on == date(2027, 3, 12)
    assert promise.replaces is not None
    assert promise.replaces.promised_on == date(2027, 3, 5)


def test_the_same_folder_twice_changes_nothing(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    imported(folder)
    assert changes(folder) == {}
    assert Entry.objects.count() == 1, "history has one line of the first import and none of the second"


def test_what_differs_is_changed_and_counted(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    imported(folder)
    put(folder, "boats.csv", "9.2,", "9.3,")
    put(folder, "people.csv", "wash; fair", "fair")
    put(folder, "demands.csv", "fair,4,", "fair,6,")
    put(folder, "rounds.csv", "deep meter,60", "deep meter,61")
    put(folder, "work.csv", "2.5", "3")
    put(folder, "promises.csv", "12/03/2027", "19/03/2027")
    put(folder, "washes.csv", ",90,", ",60,")
    put(folder, "coating_sheets.csv", "12.5", "13")
    put(folder, "drying_norms.csv", "20.5", "21")
    assert changes(folder) == {
        "people.csv": (0, 1),
        "drying_norms.csv": (0, 1),
        "coating_sheets.csv": (0, 1),
        "demands.csv": (0, 1),
        "boats.csv": (0, 1),
        "rounds.csv": (0, 1),
        "promises.csv": (1, 0),
        "washes.csv": (0, 1),
        "work.csv": (0, 1),
    }
    assert Boat.objects.get(name="Moth").version == 2
    assert [skill.skill.name for skill in Person.objects.get().skills.all()] == ["fair"]
    assert Reading.objects.get(superseded=False, value=61).replaces is not None, (
        "a reading is replaced, not changed"
    )
    assert WashRecord.objects.get(superseded=False).replaces is not None, "nor is a wash"
    assert Promise.objects.filter(superseded=True).count() == 2, "a promise stays in history"
    assert changes(folder) == {}


def test_a_column_left_out_leaves_what_is_stored(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    imported(folder)
    (folder / "sheds.csv").write_text("shed\nOld shed\n")
    assert changes(folder) == {}
    assert Shed.objects.get(name="Old shed").power_kw == 20


def test_a_boat_that_moves_and_one_that_takes_her_bay_come_in_one_folder(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    imported(folder)
    put(folder, "treatments.csv", "01/12/2026,", "01/12/2026,01/12/2026")
    (folder / "stays.csv").write_text(
        "boat,bay,from_on,until_on\n"
        "Gnat,A1,01/12/2026,\nMoth,G1,05/10/2026,20/10/2026\nMoth,A2,01/12/2026,\nMoth,A1,20/10/2026,01/12/2026\n"
    )
    imported(folder)
    standing = {stay.bay.name: stay.treatment.boat.name for stay in Stay.objects.filter(until_on=None)}
    assert standing == {"A1": "Gnat", "A2": "Moth"}


@pytest.mark.parametrize("name", ["utf8_bom.csv", "cp1252_semicolons.csv", "tabs.csv"])
def test_files_come_in_as_any_spreadsheet_saves_them(tmp_path: Path, name: str) -> None:
    folder = small_yard(tmp_path)
    data = Path(__file__).parent / "data"
    (folder / "bays.csv").write_bytes((data / name).read_bytes())
    put(folder, "stays.csv", "A1,", "Süd ½,")
    imported(folder)
    bay = Bay.objects.get(name="Süd ½")
    assert (bay.length_m, bay.beam_m, bay.lane_place) == (Decimal("11.6"), Decimal("3.85"), 1)


def test_lengths_in_feet_are_kept_in_metres(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "boats.csv", "length_m,beam_m", "length_ft,beam_ft")
    put(folder, "boats.csv", "9.2,3.05", '31.5,"10\' 6"""')
    imported(folder)
    moth = Boat.objects.get(name="Moth")
    assert (moth.length_m, moth.beam_m) == (Decimal("9.601"), Decimal("3.200"))


def test_two_of_one_name_are_told_apart_by_a_number(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "owners.csv", "A. Fern,01632 960001\n", "A. Fern,01632 960001\nA. Fern #2,01632 960002\n")
    put(folder, "boats.csv", "Gnat,A. Fern", "Moth #2,A. Fern #2")
    put(folder, "treatments.csv", "Gnat,", "Moth #2,")
    imported(folder)
    assert list(Owner.objects.order_by("pk").values_list("name", "phone")) == [
        ("A. Fern", "01632 960001"),
        ("A. Fern", "01632 960002"),
    ]
    second = Boat.objects.get(owner__phone="01632 960002")
    assert second.name == "Moth"
    assert Treatment.objects.get(boat=second).arrives_on == date(2026, 12, 1)
    assert changes(folder) == {}


def test_numbers_of_equal_names_have_no_gap(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "boats.csv", "Gnat,", "Moth #3,")
    with pytest.raises(Refused, match="There is no “Moth #2” above it; number names without"):
        imported(folder)


def test_waters_are_read_by_the_clock_that_stands_with_them(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    (folder / "tide_tables.csv").write_text(
        "place,year,datum,source\nSome Creek,2026,datum,invented\nSome Creek,2027,datum,invented\n"
    )
    (folder / "tides.csv").write_text(
        "place,day,time,clock,height_m,water\n"
        "Some Creek,25/10/2026,01:30,BST,4.1,high\n"
        "Some Creek,25/10/2026,01:30,GMT,4.0,low\n"
        "Some Creek,01/04/2027,09:00,,4.2,high\n"
        "Some Creek,01/04/2027,15:00,UTC,1.2,low\n"
    )
    imported(folder)
    assert [water.at for water in TideWater.objects.order_by("at")] == [
        datetime(2026, 10, 25, 0, 30, tzinfo=UTC),
        datetime(2026, 10, 25, 1, 30, tzinfo=UTC),
        datetime(2027, 4, 1, 8, 0, tzinfo=UTC),
        datetime(2027, 4, 1, 15, 0, tzinfo=UTC),
    ]
    put(folder, "tides.csv", "01/04/2027,09:00,,4.2", "28/03/2027,01:30,,4.2")
    with pytest.raises(Refused, match="does not show that time; write GMT or BST"):
        imported(folder)


def test_a_week_says_only_the_days_that_are_filled(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    (folder / "weeks.csv").write_text("person,from_on,mon_h,tue_h,sat_h\nIda Flint,01/10/2026,8,7.5,0\n")
    imported(folder)
    assert list(WorkingWeek.objects.order_by("weekday").values_list("weekday", "hours")) == [
        (0, 8),
        (1, Decimal("7.5")),
        (5, 0),
    ]


def test_a_round_may_be_given_spot_by_spot(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    (folder / "spots.csv").write_text("boat,spot,walk_order\nMoth,K1,1\nMoth,K2,2\n")
    (folder / "rounds.csv").write_text(
        "boat,day_on,meter,spot,value,air_c\nMoth,20/10/2026,deep meter,K1,64,12.5\n"
        "Moth,20/10/2026,deep meter,K2,80,\n"
    )
    imported(folder)
    assert {(r.spot.code, r.value, r.round.air_c) for r in Reading.objects.all()} == {
        ("K1", 64, Decimal("12.5")),
        ("K2", 80, Decimal("12.5")),
    }
    put(folder, "rounds.csv", "64,12.5", "64,13.5")
    imported(folder)
    assert Reading.objects.filter(round__superseded=False).count() == 2, (
        "a round told anew keeps its readings"
    )
    assert changes(folder) == {}


def test_only_a_manager_of_the_yard_imports_into_it(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    boss = User.objects.create_user("boss")
    User.objects.create_user("stranger")
    bring_yard(folder, username="Boss")
    assert Membership.objects.get(user=boss).role == Role.MANAGER
    assert Entry.objects.get().user == boss
    with pytest.raises(NotAllowed):
        bring_yard(folder, username="stranger")
    with pytest.raises(Refused, match="There is no account “nobody”"):
        bring_yard(folder, username="nobody")


def test_the_command_tells_every_fault_and_fails(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = small_yard(tmp_path)
    put(folder, "boats.csv", "9.2,", "long,")
    with pytest.raises(CommandError, match=re.escape("1 thing to mend; nothing was imported.")):
        call_command("importyard", str(folder))
    assert capsys.readouterr().err.startswith("boats.csv, row 2, length_m: “long” is not a number")
    with pytest.raises(CommandError, match="There is no folder"):
        call_command("importyard", str(folder / "nowhere"))


def test_the_command_tells_what_became_of_each_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("importyard", str(small_yard(tmp_path)), "--sample")
    told = capsys.readouterr().out
    assert "bays.csv                3 added     0 same     0 changed" in told
    assert Yard.objects.get().is_sample


def test_a_stage_that_runs_before_its_turn_is_taken_and_told(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "stages.csv", "Moth,20,running,06/10/2026,,50,12", "Moth,30,running,06/10/2026,,50,30")
    assert imported(folder).notes == ("stages.csv: Moth is in “Heat”, but “Wash” before it is waiting.",)
