"""Write static/css/spans.css: classes that say where a thing stands on a grid and how long it is.

The pages' policy allows no style of their own, so a strip that begins on the 12th day and lasts 30 carries
the classes c12 and n30. Run `python tools/make_spans.py` after changing a figure here; its outcome is kept.
"""

from pathlib import Path

DAYS = 400  # a season and what hangs over its ends
LINES = 24  # lines of flags above a row of strips
WEEKS = 57

HEAD = "/* Made by tools/make_spans.py: column (c), length (n), line (r), lines in all (l), weeks (w). */\n"


def spans() -> str:
    """Return the whole file: custom properties only, so that one rule elsewhere does the placing."""
    parts = [HEAD]
    parts += [f".c{number}{{--c:{number}}}" for number in range(1, DAYS + 1)]
    parts += [f".n{number}{{--n:{number}}}" for number in range(1, DAYS + 1)]
    parts += [f".r{number}{{--r:{number}}}" for number in range(1, LINES + 1)]
    parts += [f".l{number}{{--l:{number}}}" for number in range(0, LINES + 1)]
    parts += [f".w{number}{{--w:{number};--days:{7 * number}}}" for number in range(1, WEEKS + 1)]
    return "".join(parts) + "\n"


if __name__ == "__main__":
    Path(__file__).resolve().parent.parent.joinpath("static/css/spans.css").write_text(spans())
