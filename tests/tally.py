"""How many of the moments and of the promises kept have a test, and of how many every test passed.

One `make test` is several runs of pytest; each leaves its part in the folder TALLY, and
`python -m tests.tally FOLDER` adds them up.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

KINDS = {"moment": 25, "reliability": 40}
OUTCOMES = ("passed", "failed", "error", "skipped", "xfailed", "xpassed")

Part = dict[str, dict[str, list[int]]]


def count(stats: dict[str, list[Any]]) -> Part:
    """Return, by kind, the numbers that exist in a run and those that some test did not show to hold.

    A skipped test exists and does not pass: nobody saw it hold here.
    """
    part: Part = {kind: {"exist": [], "unproven": []} for kind in KINDS}
    for outcome in OUTCOMES:
        for report in stats.get(outcome, []):
            for kind, number in getattr(report, "user_properties", ()):
                if kind in KINDS:
                    part[kind]["exist"].append(number)
                    if outcome != "passed":
                        part[kind]["unproven"].append(number)
    return part


def line(parts: list[Part]) -> str:
    """Say the sum of `parts` in one line."""
    said = []
    for kind, most in KINDS.items():
        exist = {number for part in parts for number in part[kind]["exist"]}
        unproven = {number for part in parts for number in part[kind]["unproven"]}
        name = "moments" if kind == "moment" else kind
        said.append(f"{name}: {len(exist)} of {most} exist, {len(exist - unproven)} pass")
    return "; ".join(said)


if __name__ == "__main__":
    print(line([json.loads(file.read_text()) for file in sorted(Path(sys.argv[1]).glob("*.json"))]))
