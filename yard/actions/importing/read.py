"""From a folder of files to sheets of cells, with every fault by file, row and column."""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from yard.actions.importing.cells import Bad, Number
from yard.actions.importing.columns import FILES
from yard.actions.importing.tables import Column, File

MOST_BYTES = 2_000_000
"""Largest file that is read [bytes]."""
MOST_ROWS = 5_000
"""Most rows of a file that are read."""


@dataclass(frozen=True)
class Fault:
    """What is wrong at one place. Rows count from 1, the header's, as a spreadsheet shows them."""

    file: str
    row: int | None
    column: str
    sentence: str

    def __str__(self) -> str:
        place = [self.file]
        if self.row is not None:
            place.append(f"row {self.row}")
        if self.column:
            place.append(self.column)
        return f"{', '.join(place)}: {self.sentence}"


@dataclass
class Row:
    """One row: its number in the spreadsheet, and its texts by column, trimmed; feet apart from metres."""

    number: int
    texts: dict[str, str]
    feet: dict[str, str] = field(default_factory=dict)
    bad: bool = False


@dataclass
class Sheet:
    """One file as read: which columns it has, and its rows that are not blank."""

    file: File
    columns: set[str]
    rows: list[Row]


class Faults(list[Fault]):
    """All that is wrong so far."""

    def at(self, sheet: Sheet | File, row: Row | None, column: str, sentence: str) -> None:
        """Note a fault; the row is bad from now on."""
        file = sheet.file if isinstance(sheet, Sheet) else sheet
        if file.turned and row is not None:
            column = column or "value"
        self.append(Fault(file.name, row.number if row else None, column, sentence))
        if row is not None:
            row.bad = True


def read_folder(folder: Path, faults: Faults) -> dict[str, Sheet | None]:
    """Read every file of the folder that has a place in the table, in the table's order.

    Files that are not CSV are left alone; a CSV file with a name of its own is a fault. A file that is there
    but cannot be used is None.
    """
    names = {
        path.name.casefold(): path for path in sorted(folder.iterdir()) if path.suffix.casefold() == ".csv"
    }
    known = [file.name for file in FILES]
    for name, found in names.items():
        if name not in known:
            faults.append(
                Fault(
                    found.name, None, "", f"This file has no place here; {_rename(name, known, 'call it')}."
                )
            )
    sheets: dict[str, Sheet | None] = {}
    for file in FILES:
        path = names.get(file.name)
        if path is not None:
            sheets[file.name] = None
            try:
                table = _table(path)
            except Bad as bad:
                faults.append(Fault(file.name, None, "", str(bad)))
            else:
                sheets[file.name] = (_turned if file.turned else _sheet)(file, table, faults)
    return sheets


def _table(path: Path) -> list[tuple[int, list[str]]]:
    """The rows of a file that are not blank, with their numbers."""
    if path.stat().st_size > MOST_BYTES:
        raise Bad(f"The file is larger than {MOST_BYTES // 1_000_000} MB; take out what is not of this yard.")
    raw = path.read_bytes()
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in raw[:1000]:
        raise Bad("The file is not a plain CSV file; save it as “CSV UTF-8”.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
        if "\ufffd" in text:
            raise Bad("The file has letters that cannot be read; save it as “CSV UTF-8”.") from None
    rows: list[tuple[int, list[str]]] = []
    try:
        for number, cells in enumerate(
            csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text)), 1
        ):
            if number > MOST_ROWS + 1:
                raise Bad(
                    f"The file has more than {MOST_ROWS} rows; split it, or take out what is not needed."
                )
            trimmed = [cell.strip() for cell in cells]
            if any(trimmed):
                rows.append((number, trimmed))
    except csv.Error as error:
        raise Bad(f"The file cannot be read as CSV ({error}); save it as “CSV UTF-8”.") from None
    return rows


def _delimiter(text: str) -> str:
    """What parts the cells: the one of comma, semicolon and tab that stands most often in the first row."""
    first = next((line for line in text.splitlines() if line.strip(' ,;\t"')), "")
    return max(",;\t", key=first.count)


def _sheet(file: File, table: list[tuple[int, list[str]]], faults: Faults) -> Sheet | None:
    """Match the header with the table's columns, and the cells with the header."""
    if not table:
        faults.append(
            Fault(file.name, 1, "", "The file is empty; write the names of its columns in the first row.")
        )
        return None
    number, header = table[0]
    by_name = {column.name: (column, False) for column in file.columns}
    by_name |= {column.feet: (column, True) for column in file.columns if column.feet}
    places: dict[int, tuple[Column, bool]] = {}
    before = len(faults)
    for place, title in enumerate(header):
        name = title.casefold().replace(" ", "_")
        if not title:
            if any(len(cells) > place and cells[place] for _, cells in table[1:]):
                faults.append(
                    Fault(
                        file.name,
                        number,
                        f"column {place + 1}",
                        "The column has no name; give it one or take it out.",
                    )
                )
        elif name not in by_name:
            hint = _rename(name, list(by_name), "write")
            faults.append(Fault(file.name, number, title, f"“{title}” is not a column of this file; {hint}."))
        elif by_name[name] in places.values():
            faults.append(Fault(file.name, number, title, "The column is there twice; take one of them out."))
        else:
            places[place] = by_name[name]
    present = {column.name for column, _ in places.values()}
    for column in file.columns:
        if column.needed and column.name not in present:
            also = f" (or “{column.feet}”)" if column.feet else ""
            faults.append(
                Fault(file.name, number, column.name, f"The column “{column.name}”{also} is missing; add it.")
            )
    if len(faults) > before:
        return None
    sheet = Sheet(file, present, [])
    for number, cells in table[1:]:
        row = Row(number, dict.fromkeys(present, ""))
        sheet.rows.append(row)
        if any(cells[len(header) :]):
            faults.at(sheet, row, "", "The row has more cells than the header has columns; a comma too many?")
        for place, (column, feet) in places.items():
            cell = cells[place] if place < len(cells) else ""
            if feet:
                row.feet[column.name] = cell
            else:
                row.texts[column.name] = cell
    return sheet


def _turned(file: File, table: list[tuple[int, list[str]]], faults: Faults) -> Sheet | None:
    """Read a file with a row for each column: every setting becomes a row of its own, with one text."""
    if not table or [cell.casefold() for cell in table[0][1][:2]] != ["setting", "value"]:
        faults.append(Fault(file.name, 1, "", "The first row must be “setting,value”; write it there."))
        return None
    names = [column.name for column in file.columns] + [column.feet for column in file.columns if column.feet]
    sheet = Sheet(file, set(), [])
    for number, cells in table[1:]:
        name = cells[0].casefold().replace(" ", "_")
        row = Row(number, {})
        if name not in names:
            hint = _rename(name, names, "write")
            faults.at(sheet, row, "setting", f"“{cells[0]}” is not a setting; {hint}.")
            continue
        column = next(column for column in file.columns if name in (column.name, column.feet))
        if column.name in sheet.columns:
            faults.at(sheet, row, "setting", f"“{column.name}” is there twice; take one of the rows out.")
            continue
        sheet.columns.add(column.name)
        texts = row.texts if name == column.name else row.feet
        texts[column.name] = cells[1] if len(cells) > 1 else ""
        sheet.rows.append(row)
    for column in file.columns:
        if column.needed and column.name not in sheet.columns:
            faults.append(
                Fault(
                    file.name, None, column.name, f"The setting “{column.name}” is missing; add a row for it."
                )
            )
    return sheet


def values(
    sheet: Sheet, row: Row, columns: Iterator[Column] | tuple[Column, ...], faults: Faults
) -> dict[str, Any]:
    """Read a row's cells in the columns that the file has; every bad one is a fault."""
    found: dict[str, Any] = {}
    for column in columns:
        if column.name not in sheet.columns:
            continue
        text, feet = row.texts.get(column.name, ""), row.feet.get(column.name, "")
        if text and feet:
            both = f"Both {column.name} and {column.feet} are filled; keep one of them."
            faults.at(sheet, row, column.feet or "", both)
            continue
        try:
            if feet and isinstance(column.kind, Number):
                found[column.name] = column.kind.read_feet(feet)
            elif text:
                found[column.name] = column.kind.read(text)
            elif column.needed:
                faults.at(sheet, row, column.name, f"The cell is empty; every row needs “{column.name}”.")
            else:
                found[column.name] = column.default
        except Bad as bad:
            faults.at(sheet, row, column.feet or column.name if feet else column.name, str(bad))
    return found


def _rename(name: str, known: list[str], verb: str) -> str:
    """What to do about a name nobody knows."""
    close = difflib.get_close_matches(name, known, 1, 0.6)
    return f"{verb} “{close[0]}”, or take it out" if close else "take it out"
