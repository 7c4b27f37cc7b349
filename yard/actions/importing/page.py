"""The page that documents every file and column, made from the table that the reader itself goes by."""

from __future__ import annotations

from yard.actions.importing.cells import OrNone
from yard.actions.importing.columns import FILES
from yard.actions.importing.read import MOST_BYTES, MOST_ROWS
from yard.actions.importing.tables import Column, File

HEAD = f"""# Files and columns

`manage.py importyard FOLDER` reads these files; `manage.py exportyard YARD FOLDER` writes them, and what goes
out comes in again unchanged. `manage.py exportyard FOLDER --empty` writes them with their headers alone. This
page is printed by `manage.py columns`.

- Only `yard.csv` must be there. Files are read in the order of this page: what a file names stands above it.
- CSV with commas, semicolons or tabs; UTF-8, or what older spreadsheets write (cp1252). Blank rows are passed
  over. At most {MOST_ROWS:,} rows and {MOST_BYTES // 1_000_000} MB a file.
- Units stand in the columns' names. Every length `…_m` may be given as `…_ft` instead (31.5, or 31' 6");
  metres are kept.
- Dates are day first, dd/mm/yyyy; yyyy-mm-dd is understood too. A year of two digits is in this century (27
  is 2027).
- Decimals with a point or a comma, no mark between thousands. Figures are rounded to the places kept.
- Text that a spreadsheet might take for a formula goes out behind a single quote and comes in without it.
- **Bold** columns must be filled. Any other may be left out, which leaves what is stored as it is; an empty
  cell says “nothing”, or what its line says here.
- All faults are shown at once, by file, row and column, and then nothing is imported. A second import of the
  same folder changes nothing. What is stored and not in the folder stays; accounts and passwords are no part
  of it.
- A yard may begin in mid-season: `stages.csv` says what is done and what is running, `stays.csv` where each
  boat stands, `rounds.csv` what was read, `washes.csv` which washes were given, `holds.csv` whom a boat waits
  for.
"""


def page() -> str:
    """The page, in Markdown."""
    return HEAD + "".join(_of(file) for file in FILES)


def _of(file: File) -> str:
    lines = [f"\n## {file.name}", "", file.about]
    if file.key and not file.turned:
        alike = "k-th of equal rows for k-th" if file.repeated else "one row each"
        lines.append(f"Rows are told apart by {', '.join(f'`{name}`' for name in file.key)} ({alike}).")
    lines += [
        "",
        f"| {'setting' if file.turned else 'column'} | what to type | what it is |",
        "|---|---|---|",
    ]
    lines += [_line(file, column) for column in file.columns]
    return "\n".join(lines) + "\n"


def _line(file: File, column: Column) -> str:
    name = f"**`{column.name}`**" if column.needed else f"`{column.name}`"
    name += f" or `{column.feet}`" if column.feet else ""
    what = column.kind.says
    link = next((link for link in file.links if link.columns[-1] == column.name and link.file), None)
    if link and link.file not in ("stages.csv", "scheme_stages.csv"):
        what = f"a name from `{link.file}`" + ("; or none" if isinstance(column.kind, OrNone) else "")
    told = column.needed or "empty:" in column.about or column.default in (None, "", [])
    empty = "" if told else f"; empty: {column.show(column.default)}"
    return f"| {name} | {what} | {column.about}{empty} |"
