"""Two people at the same thing in the same moment: one wins, the other is told, nothing is lost or
doubled."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

import pytest

from tests.served import Site
from tests.shell import ROOT


def race(served: Site, name: str) -> Any:
    """Run one of races.py's on a site of its own and return what came of it."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.yard.races", name],
        cwd=ROOT,
        env=served.environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.reliability(6)
def test_of_fifty_who_bring_a_boat_into_one_bay_one_does_and_the_rest_are_told_who(served: Site) -> None:
    assert race(served, "one_bay") == {"losers": 49, "told_who": 49}


@pytest.mark.reliability(5)
def test_of_two_editors_one_wins_and_the_other_is_told_every_time(served: Site) -> None:
    assert race(served, "pairs") == {"Bay": 100, "Stale": 100}


@pytest.mark.reliability(5)
def test_without_versions_the_race_would_be_lost_silently(served: Site) -> None:
    assert race(served, "pairs_unguarded") == {"both_thought_they_won": 20}


@pytest.mark.reliability(22)
def test_an_entry_sent_twice_at_once_is_stored_once_and_answered_alike(served: Site) -> None:
    assert race(served, "twice") == {
        "rounds": 200,
        "readings": 200,
        "deliveries": 200,
        "entries": 200,
        "alike": 200,
    }
