"""The line at the end of a run, and what leaving something out costs."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests import tally

ROOT = Path(__file__).resolve().parent.parent

SOME = """
import pytest
@pytest.mark.moment(3)
def test_one(): pass
@pytest.mark.moment(3)
@pytest.mark.reliability(40)
def test_two(): pass
@pytest.mark.moment(4)
def test_three(): pytest.skip("not here")
"""


def report(*numbers: tuple[str, int]) -> SimpleNamespace:
    return SimpleNamespace(user_properties=list(numbers))


def test_a_number_passes_only_if_every_test_that_carries_it_passed() -> None:
    part = tally.count(
        {
            "passed": [report(("moment", 1)), report(("moment", 2))],
            "failed": [report(("moment", 2), ("reliability", 7))],
            "skipped": [report(("moment", 5))],
            "warnings": [object()],
        }
    )
    assert tally.line([part]) == "moments: 3 of 25 exist, 1 pass; reliability: 1 of 40 exist, 0 pass"


def test_a_number_that_fails_in_one_run_does_not_pass_in_the_sum() -> None:
    here = tally.count({"passed": [report(("moment", 1)), report(("moment", 2))]})
    there = tally.count({"failed": [report(("moment", 1))]})
    assert tally.line([here, there]) == "moments: 2 of 25 exist, 1 pass; reliability: 0 of 40 exist, 0 pass"


@pytest.mark.parametrize("workers", ["0", pytest.param("2", marks=pytest.mark.slow)])
@pytest.mark.parametrize(("no_skips", "code"), [("", 0), ("1", 1)])
def test_a_skip_fails_the_run_only_where_everything_is_there(
    tmp_path: Path, workers: str, no_skips: str, code: int
) -> None:
    (tmp_path / "test_some.py").write_text(SOME)
    done = subprocess.run(
        [
            *(sys.executable, "-m", "pytest", "-p", "tests.conftest", "-c", str(ROOT / "pyproject.toml")),
            *("--rootdir", str(tmp_path), "-p", "no:cacheprovider", "-n", workers, str(tmp_path)),
        ],
        cwd=ROOT,
        env={**os.environ, "NO_SKIPS": no_skips, "TALLY": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert "moments: 2 of 25 exist, 1 pass; reliability: 1 of 40 exist, 1 pass" in done.stdout
    assert done.returncode == code
