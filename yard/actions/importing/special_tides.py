"""The file of tides: local times to instants across the clock change, and a table that must make sense."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from yard.actions.importing.cells import Bad, Day, Time
from yard.actions.importing.read import Row, Sheet
from yard.actions.importing.store import Fields, Store
from yard.models import TideTable, TideWater
from yard.trade.tides import Water
from yard.trade.tidetable import WaterDoubt, doubts_about_waters, impossible

UNIVERSAL = {"UTC", "UT", "GMT", "Z"}
MOST_NOTES = 5
"""Doubts of one place that are told one by one; of the others only how many there are."""


@dataclass
class Place:
    """The waters of one place as the file gives them, with their rows."""

    name: str
    waters: dict[dt.datetime, tuple[Row, Fields]] = field(default_factory=dict)
    whole: bool = True  # False once a row of it was bad

    def sorted(self) -> tuple[list[Row], list[Water]]:
        """Rows and waters in order of time."""
        rows, waters = [], []
        for at, (row, given) in sorted(self.waters.items()):
            rows.append(row)
            waters.append(Water(at, float(given["height_m"]), given["water"] == "high"))
        return rows, waters


def water_at(day: dt.date, time: dt.time, clock: str, zone: ZoneInfo) -> dt.datetime:
    """The instant that a clock showed: universal time, the one of the yard's that is named, or the only one
    that the yard's wall shows.

    Raises:
        Bad: where no clock is named and the wall shows that time twice or never, or that day has no such
            clock.
    """
    if clock.upper() in UNIVERSAL:
        return dt.datetime.combine(day, time, dt.UTC)
    sides = [dt.datetime.combine(day, time.replace(fold=fold), zone) for fold in (0, 1)]
    names = list(dict.fromkeys(side.tzname() or "" for side in sides))
    if clock:
        for side in sides:
            if side.tzname() == clock.upper():
                return side.astimezone(dt.UTC)
        known = " or ".join(names)
        told = f"“{clock}” is not the yard's clock of {Day().show(day)}, which is {known}"
        raise Bad(f"{told}; write that or GMT, or correct the day.")
    instants = [side.astimezone(dt.UTC) for side in sides]
    if instants[0] == instants[1]:
        return instants[0]
    shown = Day().show(day)
    if instants[0] > instants[1]:  # the later offset puts it before the change, the earlier one after
        raise Bad(
            f"The yard's clock does not show that time; write {names[0]} or {names[1]} beside it, or correct "
            f"it: on {shown} the clock goes from {names[0]} to {names[1]} and leaves {Time().show(time)} out."
        )
    raise Bad(
        f"On {shown} the yard's clock shows {Time().show(time)} twice, first {names[0]} and then "
        f"{names[1]}; write which."
    )


def store_tides(store: Store, sheet: Sheet) -> None:
    """Replace each place's year of waters whole, where it differs."""
    places: dict[str, Place] = {}
    of_table: dict[int, dict[dt.datetime, tuple[Any, bool]]] = defaultdict(dict)
    tables: dict[int, TideTable] = {}
    for row in sheet.rows:
        given = store.read(sheet, row)
        name = str(given.get("place") or "").casefold()
        place = places.setdefault(name, Place(str(given.get("place"))))
        at = None if row.bad else _instant(store, sheet, row, given)
        table = None if at is None else _table(store, sheet, row, given)
        if at is None or table is None:
            place.whole = False
            continue
        if at in place.waters:
            before = place.waters[at][0].number
            store.faults.at(
                sheet,
                row,
                "time",
                f"That water is there already, in row {before}; take one of the rows out.",
            )
            continue
        place.waters[at] = (row, given)
        tables[table.pk] = table
        of_table[table.pk][at] = (given["height_m"], given["water"] == "high")
    for place in places.values():
        _judge(store, sheet, place)
    for pk, table in tables.items():
        _replace(store, sheet, table, of_table[pk])


def _instant(store: Store, sheet: Sheet, row: Row, given: Fields) -> dt.datetime | None:
    """The row's instant; None, with a fault, where its clock doesn't say."""
    try:
        return water_at(given["day"], given["time"], given.get("clock") or "", ZoneInfo(store.yard.timezone))
    except Bad as bad:
        store.faults.at(sheet, row, "clock", str(bad))
        return None


def _table(store: Store, sheet: Sheet, row: Row, given: Fields) -> TideTable | None:
    """The table the row belongs to; None, with a fault unless the table's own row is bad."""
    key = (given["place"].casefold(), str(given["day"].year))
    found = store.stored("tide_tables.csv").get(key)
    if found:
        table: TideTable = found[0]
        return table
    if key not in store.broken["tide_tables.csv"]:
        told = f"“{given['place']}” has no table of {given['day'].year}; add it to tide_tables.csv."
        store.faults.at(sheet, row, "place", told)
    return None


def _judge(store: Store, sheet: Sheet, place: Place) -> None:
    """Refuse waters that cannot be, by row; note those that read like a slip, if the rest of the table is
    sound."""
    rows, waters = place.sorted()
    for found in impossible(waters):
        store.faults.at(sheet, rows[found.number], found.doubt.field, _told(found, rows))
        place.whole = False
    if not place.whole:
        return
    doubts = doubts_about_waters(waters)
    for doubt in doubts[:MOST_NOTES]:
        row = rows[doubt.number].number
        store.notes.append(f"{sheet.file.name}, row {row}, {doubt.doubt.field}: {_told(doubt, rows)}")
    if len(doubts) > MOST_NOTES:
        store.notes.append(f"{sheet.file.name}: {len(doubts) - MOST_NOTES} more like it of {place.name}.")


def _told(found: WaterDoubt, rows: list[Row]) -> str:
    """The doubt's sentence, with the row of the water it doesn't go with."""
    beside = f" The other is in row {rows[found.other].number}." if found.other is not None else ""
    return found.doubt.says + beside


def _replace(
    store: Store, sheet: Sheet, table: TideTable, waters: dict[dt.datetime, tuple[Any, bool]]
) -> None:
    """Put these waters in the place of the table's, and count what became of them."""
    count = store.counts[sheet.file.name]
    before = {water.at: (water.height_m, water.is_high) for water in table.waters.all()}
    same = sum(before.get(at) == what for at, what in waters.items())
    count.same += same
    count.changed += len(before.keys() & waters.keys()) - same
    count.added += len(waters.keys() - before.keys())
    if before != waters:
        table.waters.all().delete()
        TideWater.objects.bulk_create(
            TideWater(table=table, at=at, height_m=height, is_high=high)
            for at, (height, high) in sorted(waters.items())
        )
