"""A tide table comes in by the clock beside each water; what cannot be is refused by row, and asked about."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from tests.yard.folders import faults_of, imported, small_yard
from yard.models import TideWater

pytestmark = pytest.mark.django_db

HEAD = "place,day,time,clock,height_m,water\n"
# Rows 2 to 7: a day and a half of ordinary waters.
DAYS = [
    "Some Creek,01/04/2027,04:10,BST,0.9,low",
    "Some Creek,01/04/2027,10:22,BST,5.3,high",
    "Some Creek,01/04/2027,16:35,BST,1.0,low",
    "Some Creek,01/04/2027,22:47,BST,5.2,high",
    "Some Creek,02/04/2027,04:58,BST,1.1,low",
    "Some Creek,02/04/2027,11:09,BST,5.1,high",
]


def creek(tmp_path: Path, *rows: str, head: str = HEAD) -> Path:
    """A small yard with a tide table of these rows, the first in row 2."""
    folder = small_yard(tmp_path)
    (folder / "tide_tables.csv").write_text(
        "place,year,datum,source\nSome Creek,2026,datum,invented\nSome Creek,2027,datum,invented\n"
    )
    (folder / "tides.csv").write_text(head + "\n".join(rows) + "\n")
    return folder


def spoiled(number: int, row: str) -> list[str]:
    """The ordinary waters with another row in the place of row `number` of the file."""
    return [row if at == number else water for at, water in enumerate(DAYS, 2)]


def instants() -> list[datetime]:
    return [water.at for water in TideWater.objects.order_by("at")]


def test_ordinary_waters_come_in_without_a_word(tmp_path: Path) -> None:
    done = imported(creek(tmp_path, *DAYS))
    assert done.files["tides.csv"].added == 6
    assert [note for note in done.notes if "tides" in note] == []
    assert instants()[0] == datetime(2027, 4, 1, 3, 10, tzinfo=UTC)


def test_waters_may_stand_in_any_order_in_the_file(tmp_path: Path) -> None:
    done = imported(creek(tmp_path, *reversed(DAYS)))
    assert [note for note in done.notes if "tides" in note] == []
    assert instants() == sorted(instants())


@pytest.mark.parametrize(
    ("clock", "hour"),
    [("BST", 0), ("GMT", 1), ("UTC", 1)],
)
def test_a_time_that_the_clock_shows_twice_comes_in_by_the_clock_beside_it(
    tmp_path: Path, clock: str, hour: int
) -> None:
    imported(creek(tmp_path, f"Some Creek,25/10/2026,01:30,{clock},4.1,high"))
    assert instants() == [datetime(2026, 10, 25, hour, 30, tzinfo=UTC)]


def test_a_time_that_the_clock_shows_twice_is_asked_about_by_name(tmp_path: Path) -> None:
    folder = creek(tmp_path, "Some Creek,24/10/2026,19:00,,0.8,low", "Some Creek,25/10/2026,01:30,,4.1,high")
    assert faults_of(folder) == [
        "tides.csv, row 3, clock: On 25/10/2026 the yard's clock shows 01:30 twice, first BST and then GMT; "
        "write which."
    ]


@pytest.mark.parametrize("time", ["00:59", "02:00"])
def test_the_hours_beside_the_one_that_comes_twice_need_no_clock(tmp_path: Path, time: str) -> None:
    imported(creek(tmp_path, f"Some Creek,25/10/2026,{time},,4.1,high"))
    assert len(instants()) == 1


def test_a_time_that_the_clock_leaves_out_is_refused_by_row(tmp_path: Path) -> None:
    folder = creek(tmp_path, "Some Creek,27/03/2027,19:10,,0.8,low", "Some Creek,28/03/2027,01:30,,4.1,high")
    assert faults_of(folder) == [
        "tides.csv, row 3, clock: The yard's clock does not show that time; write GMT or BST beside it, or "
        "correct it: on 28/03/2027 the clock goes from GMT to BST and leaves 01:30 out."
    ]


@pytest.mark.parametrize(
    ("clock", "at"),
    [
        ("GMT", datetime(2027, 3, 28, 1, 30, tzinfo=UTC)),  # the wall shows 02:30
        ("BST", datetime(2027, 3, 28, 0, 30, tzinfo=UTC)),  # the wall still shows 00:30
    ],
)
def test_a_time_that_the_clock_leaves_out_comes_in_by_the_clock_beside_it(
    tmp_path: Path, clock: str, at: datetime
) -> None:
    imported(creek(tmp_path, f"Some Creek,28/03/2027,01:30,{clock},4.1,high"))
    assert instants() == [at]


@pytest.mark.parametrize("clock", ["BST", "CET"])
def test_a_clock_that_the_day_does_not_have_is_refused_by_row(tmp_path: Path, clock: str) -> None:
    folder = creek(tmp_path, f"Some Creek,05/12/2026,09:00,{clock},4.1,high")
    assert faults_of(folder) == [
        f"tides.csv, row 2, clock: “{clock}” is not the yard's clock of 05/12/2026, which is GMT; write that "
        "or GMT, or correct the day."
    ]


@pytest.mark.parametrize(
    ("number", "row", "fault"),
    [
        (3, "Some Creek,01/04/2027,10:22,BST,17.4,high",
         "tides.csv, row 3, height_m: 17.4 m is higher than any tide here; that reads like feet (5.30 m). "
         "Write metres, or call the column height_ft."),
        (4, "Some Creek,01/04/2027,11:05,BST,1.0,low",
         "tides.csv, row 4, time: It is only 43 min after the water before it; correct it, or take one out. "
         "The other is in row 3."),
        (5, "Some Creek,01/04/2027,22:47,BST,5.2,low",
         "tides.csv, row 5, water: Two low waters stand next to each other, and this one of 5.2 m is far "
         "from the other's 1 m; is it a high water? The other is in row 4."),
        (6, "Some Creek,02/04,04:58,BST,1.1,low",
         "tides.csv, row 6, day: “02/04” is not a date; write day, month and year like 24/11/2026."),
        (6, "Some Creek,02/04/2028,04:58,BST,1.1,low",
         "tides.csv, row 6, place: “Some Creek” has no table of 2028; add it to tide_tables.csv."),
        (6, "Some Creek,02/04/2027,24:58,BST,1.1,low",
         "tides.csv, row 6, time: “24:58” is not a time; write hours and minutes like 07:30."),
        (6, "Some Creek,01/04/2027,22:47,BST,1.1,low",
         "tides.csv, row 6, time: That water is there already, in row 5; take one of the rows out."),
        (7, "Some Creek,02/04/2027,11:09,BST,5.1,slack",
         "tides.csv, row 7, water: “slack” is none of high, low; write one of them."),
        (7, "Some Creek,02/04/2027,11:09,BST,,high",
         "tides.csv, row 7, height_m: The cell is empty; every row needs “height_m”."),
    ],
)  # fmt: skip
def test_a_water_that_cannot_be_is_refused_by_row(tmp_path: Path, number: int, row: str, fault: str) -> None:
    assert faults_of(creek(tmp_path, *spoiled(number, row))) == [fault]


def test_a_high_and_a_low_water_with_swapped_words_are_refused_in_both_rows(tmp_path: Path) -> None:
    rows = [*DAYS]
    rows[1], rows[2] = rows[1].replace("high", "low"), rows[2].replace("low", "high")
    faults = faults_of(creek(tmp_path, *rows))
    assert [fault.split(":")[0] for fault in faults] == ["tides.csv, row 3, water", "tides.csv, row 4, water"]
    assert faults[0].endswith(
        "and this one of 5.3 m is far from the other's 0.9 m; is it a high water? The other is in row 2."
    )
    assert faults[1].endswith(
        "This high water of 1 m is not above the low water beside it, of 5.3 m; are high and low, or the two "
        "heights, swapped? The other is in row 3."
    )


def test_two_heights_that_are_swapped_are_refused_in_both_rows(tmp_path: Path) -> None:
    rows = [*DAYS]
    rows[3], rows[4] = rows[3].replace("5.2", "1.1"), rows[4].replace("1.1", "5.2")
    faults = faults_of(creek(tmp_path, *rows))
    assert {"tides.csv, row 5, water", "tides.csv, row 6, water"} <= {f.split(":")[0] for f in faults}


def test_a_table_in_feet_comes_in_as_metres_under_its_own_name(tmp_path: Path) -> None:
    imported(
        creek(
            tmp_path,
            "Some Creek,01/04/2027,10:22,BST,17.4,high",
            head="place,day,time,clock,height_ft,water\n",
        )
    )
    assert round(TideWater.objects.get().height_m, 2) == Decimal("5.30")


@pytest.mark.parametrize(
    ("rows", "note"),
    [
        (DAYS[:2] + DAYS[3:],
         "tides.csv, row 4, time: No low water in the 12.4 h before it: one is missing, and heights with it. "
         "The other is in row 3."),
        ([*DAYS[:2], *DAYS[5:]],
         "tides.csv, row 4, time: 24.8 h without a water before it: the table has a hole, and no heights "
         "there. The other is in row 3."),
        ([*DAYS[:2], "Some Creek,01/04/2027,12:30,BST,4.9,low", "Some Creek,01/04/2027,14:40,BST,5.2,high",
          *DAYS[2:]],
         "tides.csv, row 4, height_m: The water changes by only 0.40 m from the one before it: a stand. "
         "Heights between the two are not sound; enter what the yard knows. The other is in row 3."),
    ],
)  # fmt: skip
def test_a_water_that_reads_like_a_slip_comes_in_and_is_asked_about_by_row(
    tmp_path: Path, rows: list[str], note: str
) -> None:
    done = imported(creek(tmp_path, *rows))
    assert note in done.notes
    assert len(instants()) == len(rows)


def test_many_doubts_of_a_place_are_counted_after_the_first_few(tmp_path: Path) -> None:
    days = [f"Some Creek,{day:02}/05/2027,09:00,BST,{5 + day / 100:.2f},high" for day in range(1, 21)]
    notes = [note for note in imported(creek(tmp_path, *days)).notes if "tides" in note]
    assert len(notes) == 6
    assert notes[-1] == "tides.csv: 14 more like it of Some Creek."
