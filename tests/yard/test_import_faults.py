"""What is wrong with a folder is told by file, row and column, all at once, and nothing of it is kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.yard.folders import faults_of, imported, put, small_yard
from yard.actions.importing.action import Faulty, bring_yard
from yard.actions.importing.cells import Bad, Day
from yard.models import Bay, Boat, Round, Yard

pytestmark = pytest.mark.django_db

ONE_CELL = [
    ("a bad day", "treatments.csv", "05/10/2026,05/10/2026", "31/02/2026,05/10/2026",
     "treatments.csv, row 2, arrives_on: “31/02/2026” is no day: February 2026 has 28 days."),
    ("a month before the day", "treatments.csv", "12/03/2027", "12/25/2026",
     "treatments.csv, row 2, wanted_on: “12/25/2026” has no month 25; write the day before the month, "
     "like 24/11/2026."),
    ("text in a number", "boats.csv", "9.2,", "long,",
     "boats.csv, row 2, length_m: “long” is not a number; write it like 9.2."),
    ("two marks in a number", "boats.csv", "9.2,", '"1,234.5",',
     "boats.csv, row 2, length_m: “1,234.5” is not a number; write it like 9.2."),
    ("too large a number", "boats.csv", "9.2,", "92000,",
     "boats.csv, row 2, length_m: “92000” is too large; check the figure and its unit."),
    ("an empty cell", "boats.csv", "9.2,", ",",
     "boats.csv, row 2, length_m: The cell is empty; every row needs “length_m”."),
    ("an unknown bay", "stays.csv", "A1,", "A9,",
     "stays.csv, row 3, bay: “A9” is not in bays.csv; add it there or correct the name."),
    ("an unknown skill", "people.csv", "wash; fair", "wash; fare",
     "people.csv, row 2, skills: “fare” is not in skills.csv; add it there or correct the name."),
    ("a boat twice", "boats.csv", "Gnat,", "moth,,8,2,1,3,4\nGnat,",
     "boats.csv, row 3, boat: “moth” is in row 2 already; take one out, or write “moth #2” if this is a "
     "second one."),
    ("a bay twice", "bays.csv", "A2,", "A1,",
     "bays.csv, row 3, bay: “A1” is in row 2 already; take one of the rows out."),
    ("a lane without a place", "bays.csv", "left,1,", "left,,",
     "bays.csv, row 2: Give the lane and the place in it (1 at the door), or neither."),
    ("a bay of no length", "bays.csv", "11.6,", "0,",
     "bays.csv, row 2, length_m: Length [m] must be more than 0."),
    ("an air of another shed", "bays.csv", "G1,Ground,open", "G1,Ground,inside",
     "bays.csv, row 4, air: The shed Ground has no air “inside”; add it to airs.csv or correct the name."),
    ("heat without warmth", "airs.csv", "heated,16,12", "heated,,12",
     "airs.csv, row 2: Give the day's temperature for heated air, and only for heated air."),
    ("a running stage without its start", "stages.csv", "running,06/10/2026", "running,",
     "stages.csv, row 3, started_on: A running stage needs the day it began; fill it in."),
    ("a done stage without its end", "stages.csv", "done,05/10/2026,05/10/2026", "done,05/10/2026,",
     "stages.csv, row 2, finished_on: A done stage needs the day it ended; fill it in."),
    ("a waiting stage with a day", "stages.csv", "waiting,,", "waiting,06/10/2026,",
     "stages.csv, row 4, status: A waiting stage has no days; write running or done, or take the days out."),
    ("a stage that ends before it begins", "stages.csv", "05/10/2026,05/10/2026", "05/10/2026,04/10/2026",
     "stages.csv, row 2, finished_on: The stage ends before it began; correct one of the days."),
    ("a word that is not one of the choices", "stages.csv", "running", "going",
     "stages.csv, row 3, status: “going” is none of waiting, running, done, dropped; write one of them."),
    ("a stage the scheme does not have", "stages.csv", "Moth,20,", "Moth,25,",
     "stages.csv, row 3, position: The scheme short has no such stage; correct the number, or fill in kind "
     "and stage as well."),
    ("hours of a stage she does not have", "work.csv", "Moth,20,", "Moth,25,",
     "work.csv, row 2, position: Moth has no stage 25; take a number from scheme_stages.csv or stages.csv."),
    ("a round of a boat that is not treated", "rounds.csv", "Moth,20/10", "Mite,20/10",
     "rounds.csv, row 2, season: Mite has no treatment in Winter; add it to treatments.csv."),
    ("a wash by another thermometer", "washes.csv", "90,80,", "90,176,",
     "washes.csv, row 2, water_c: 176 °C (as Fahrenheit it would be 80.0 °C) is too hot for water: give "
     "degrees Celsius."),
    ("a cold wash", "washes.csv", "90,80,", "90,15,",
     "washes.csv, row 2, water_c: 15 °C is no hot wash, which has 30 to 100 °C: correct it, or leave it "
     "empty for a cold rinse."),
    ("a wash in a stage without washes", "washes.csv", "Moth,20,", "Moth,40,",
     "washes.csv, row 2, position: “Fair” neither washes nor dries: name the stage in which she is washed."),
    ("a wash before she came", "washes.csv", "13/10/2026", "04/10/2026",
     "washes.csv, row 2, day_on: Moth came only on 5 Oct 2026: give that day or a later one."),
    ("a wash twice a day", "washes.csv", "wash 1\n", "wash 1\nMoth,20,13/10/2026,,,\n",
     "washes.csv, row 3, boat: “Moth, Winter, 20, 13/10/2026” is in row 2 already; take one of the rows "
     "out."),
    ("half-lives out of order", "drying_norms.csv", "15,20.5", "21,20.5",
     "drying_norms.csv, row 2: Half-lives must run from low over likely to high."),
    ("a regime nobody knows", "drying_norms.csv", "tent,", "oven,",
     "drying_norms.csv, row 2, regime: “oven” is none of weather, cold, tent, blankets; write one of them."),
    ("an overcoat window that closes first", "coating_sheets.csv", "6,36,", "36,6,",
     "coating_sheets.csv, row 2: The next coat's last hour must come after its first."),
    ("a plan that books too much", "yard.csv", "sill_level_m,1.5", "book_firm_pct,99",
     "yard.csv, row 2, value: Book firm [%] must be between 5 and 95."),
    ("a reading off the scale", "rounds.csv", "deep meter,64", "deep meter,640",
     "rounds.csv, row 2, value: The reading is off the scale of deep meter, 0 to 100; correct it."),
    ("days from low to high", "scheme_stages.csv", "6,8,12,14", "6,8,7,14",
     "scheme_stages.csv, row 5: Days must run from low over likely to high."),
    ("a demand of nothing", "demands.csv", "fair,4,1.5,coat", "fair,0,0,",
     "demands.csv, row 3: A demand needs hours, lifts, or a kit that is held."),
    ("a setting nobody knows", "yard.csv", "sill_level_m", "sill_height_m",
     "yard.csv, row 4, setting: “sill_height_m” is not a setting; write “sill_level_m”, or take it out."),
    ("a zone nobody knows", "yard.csv", "sill_level_m,1.5", "timezone,Little Creek",
     "yard.csv, row 4, timezone: “Little Creek” is no time zone; write one like Europe/London."),
    ("settings at odds", "yard.csv", "sill_level_m,1.5", "likely_pct,95",
     "yard.csv, row 2, value: The likely date's share must be below the safe date's."),
    ("a name that can't be in an address", "yard.csv", "little-yard", "Little Yard!",
     "yard.csv, slug: “Little Yard!” can't stand in an address; write it like little-yard."),
]  # fmt: skip


@pytest.mark.parametrize(
    ("what", "file", "old", "new", "sentence"), ONE_CELL, ids=[row[0] for row in ONE_CELL]
)
def test_a_bad_cell_is_named_with_what_to_do(
    tmp_path: Path, what: str, file: str, old: str, new: str, sentence: str
) -> None:
    folder = small_yard(tmp_path)
    put(folder, file, old, new)
    assert faults_of(folder) == [sentence], what


def test_an_expected_boat_stands_in_no_bay_and_has_no_wash(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "treatments.csv", "05/10/2026,05/10/2026", "05/10/2026,")
    assert faults_of(folder) == [
        "stays.csv, row 3, bay: Moth is expected in treatments.csv; write here there, or the day she left.",
        "washes.csv, row 2, day_on: Moth has not arrived: say first when she came.",
    ]


def test_a_sheet_nobody_knows_and_coats_of_a_wash_are_named(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "scheme_stages.csv", "days_high,wait_max_d", "days_high,wait_max_d,sheet,coats")
    put(folder, "scheme_stages.csv", "10,10,15,", "10,10,15,,,2")
    put(folder, "scheme_stages.csv", "6,8,12,14", "6,8,12,14,slow epoxy,")
    assert faults_of(folder) == [
        "scheme_stages.csv, row 3: Only a stage of kind coat has coats.",
        "scheme_stages.csv, row 5, sheet: “slow epoxy” is not in coating_sheets.csv; add it there or correct "
        "the name.",
    ]


def test_air_that_reads_like_fahrenheit_or_a_fraction_is_asked_about_by_row(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    (folder / "rounds.csv").write_text(
        "boat,day_on,meter,value,air_c,rh_pct\n"
        "Moth,20/10/2026,deep meter,64,60,0.6\n"
        "Moth,27/10/2026,deep meter,61,,\n"
        "Moth,03/11/2026,deep meter,60,14,62\n"
    )
    temperature, humidity = faults_of(folder)
    assert temperature.startswith("rounds.csv, row 2, air_c: 60 degrees C? That reads like Fahrenheit: 15.6")
    assert humidity.startswith("rounds.csv, row 2, rh_pct: 0.6")
    assert temperature.endswith("Correct it.")


def test_each_round_is_of_one_meter_and_within_its_scale(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    (folder / "meters.csv").write_text("meter,scale_high\ndeep meter,100\nsmall meter,30\n")
    with (folder / "rounds.csv").open("a") as rounds:
        rounds.write("Moth,27/10/2026,small meter,64\n")
    assert faults_of(folder) == [
        "rounds.csv, row 4, value: The reading is off the scale of small meter, 0 to 30; correct it."
    ]
    put(folder, "rounds.csv", "small meter,64", "small meter,19")
    imported(folder)
    assert set(Round.objects.values_list("day_on__day", "meter__name")) == {
        (20, "deep meter"),
        (27, "deep meter"),
        (27, "small meter"),
    }


def test_a_missing_column_is_named_with_its_twin_in_feet(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "boats.csv", "length_m", "retired_on")
    assert faults_of(folder) == [
        "boats.csv, row 1, length_m: The column “length_m” (or “length_ft”) is missing; add it."
    ]


def test_an_unknown_column_is_named_with_the_one_it_looks_like(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "people.csv", "skills", "skill_s")
    assert faults_of(folder) == [
        "people.csv, row 1, skill_s: “skill_s” is not a column of this file; write “skills”, or take it out."
    ]


def test_a_file_of_another_name_is_named_with_the_one_it_looks_like(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    (folder / "boats.csv").rename(folder / "boat.csv")
    assert "boat.csv: This file has no place here; call it “boats.csv”, or take it out." in faults_of(folder)


def test_metres_and_feet_of_one_length_are_not_both_given(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "boats.csv", "length_m,", "length_m,length_ft,")
    put(folder, "boats.csv", "9.2,", "9.2,30,")
    put(folder, "boats.csv", "8.6,", "8.6,,")
    assert faults_of(folder) == [
        "boats.csv, row 2, length_ft: Both length_m and length_ft are filled; keep one of them."
    ]


def test_a_bay_holds_one_boat_at_a_time(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "treatments.csv", "01/12/2026,", "01/10/2026,01/10/2026")
    with (folder / "stays.csv").open("a") as stays:
        stays.write("Gnat,A1,10/11/2026,\n")
    assert faults_of(folder) == [
        "stays.csv, row 4, bay: Moth stands in A1 since 20/10/2026; one boat a bay: correct one of them."
    ]


def test_a_boat_stands_in_one_bay_at_a_time(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "stays.csv", "20/10/2026\n", "\n")
    assert faults_of(folder) == [
        "stays.csv, row 3, bay: Moth stands in G1 since 05/10/2026; write the day she left it."
    ]


def test_all_faults_come_at_once_in_the_order_of_files_and_rows(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "boats.csv", "9.2,", "long,")
    put(folder, "boats.csv", "1.3,", "deep,")
    put(folder, "sheds.csv", "20,yes", "20,maybe")
    put(folder, "work.csv", "2.5", "25")
    put(folder, "rounds.csv", "27/10/2026", "27-10")
    places = [fault.split(":")[0] for fault in faults_of(folder)]
    assert places == [
        "sheds.csv, row 2, drained",
        "boats.csv, row 2, length_m",
        "boats.csv, row 3, draught_m",
        "rounds.csv, row 3, day_on",
    ], "what hangs on a bad row is not missed aloud: it would only hide the cause"
    put(folder, "boats.csv", "long,", "9.2,")
    put(folder, "boats.csv", "deep,", "1.3,")
    put(folder, "sheds.csv", "20,maybe", "20,yes")
    assert [fault.split(":")[0] for fault in faults_of(folder)] == [
        "rounds.csv, row 3, day_on",
        "work.csv, row 2, hours",
    ]


def test_nothing_of_a_faulty_folder_comes_into_a_yard_that_is_there(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    imported(folder)
    put(folder, "boats.csv", "9.2,", "9.9,")
    put(folder, "boats.csv", "Gnat,", "Wasp,")
    put(folder, "work.csv", "2.5", "25")
    with pytest.raises(Faulty):
        bring_yard(folder)
    assert sorted(Boat.objects.values_list("name", "version")) == [("Gnat", 1), ("Moth", 1)]


def test_a_folder_says_which_yard_it_is(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    (folder / "yard.csv").unlink()
    assert faults_of(folder) == ["yard.csv: The file is missing; it says which yard this is."]


@pytest.mark.reliability(32)
def test_files_beyond_any_yard_are_refused_unread(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    (folder / "owners.csv").write_text("owner\n" + "".join(f"Owner {n}\n" for n in range(5001)))
    (folder / "boats.csv").write_bytes(b"boat\n" + b"x" * 2_000_001)
    (folder / "work.csv").write_bytes(b"PK\x03\x04\x00\x00 a spreadsheet under another name")
    (folder / "promises.csv").write_bytes("boat,kind".encode("utf-16"))
    assert faults_of(folder) == [
        "owners.csv: The file has more than 5000 rows; split it, or take out what is not needed.",
        "boats.csv: The file is larger than 2 MB; take out what is not of this yard.",
        "promises.csv: The file is not a plain CSV file; save it as “CSV UTF-8”.",
        "work.csv: The file is not a plain CSV file; save it as “CSV UTF-8”.",
    ]


def test_a_row_longer_than_its_header_is_named(tmp_path: Path) -> None:
    folder = small_yard(tmp_path)
    put(folder, "skills.csv", "fair", "fair,sand")
    assert (
        "skills.csv, row 3: The row has more cells than the header has columns; a comma too many?"
        in faults_of(folder)
    )


def test_a_look_changes_nothing_and_says_what_would_change(tmp_path: Path) -> None:
    look = bring_yard(small_yard(tmp_path), dry_run=True)
    assert look.files["bays.csv"].added == 3
    assert not Yard.objects.exists()
    assert not Bay.objects.exists()


@pytest.mark.parametrize("text", ["24.11.26", "24-11-2026", "2026-11-24", "24/11/26"])
def test_a_day_may_be_written_in_any_of_these_ways(text: str) -> None:
    assert Day().show(Day().read(text)) == "24/11/2026"


@pytest.mark.parametrize("text", ["24 Nov 2026", "11/2026", "24/11-2026", "24/11/1826", "00/11/2026"])
def test_a_day_written_otherwise_is_refused(text: str) -> None:
    with pytest.raises(Bad):
        Day().read(text)
