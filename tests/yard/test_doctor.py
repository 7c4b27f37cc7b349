"""The doctor: a line a finding, and what to do beside each that is not well."""

from __future__ import annotations

import datetime as dt
from collections import namedtuple
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from scheduling.models import Beat
from tests.shell import manage
from yard.management.commands import doctor

Usage = namedtuple("Usage", "total used free")


def said() -> tuple[str, str]:
    """Return what the doctor prints and the complaint it ends with."""
    out = StringIO()
    try:
        call_command("doctor", stdout=out, no_color=True)
    except CommandError as complaint:
        return out.getvalue(), str(complaint)
    return out.getvalue(), ""


@pytest.fixture
def well(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """A site with a worker, on a database that is not in memory."""
    Beat.objects.create(name="worker", at=timezone.now())
    monkeypatch.setattr(doctor, "CHECKS", [doctor.python, doctor.broker, doctor.worker, doctor.room])


def test_a_site_that_is_well_gets_four_good_lines(well: None) -> None:
    text, complaint = said()
    assert complaint == ""
    assert [line[:3] for line in text.splitlines()] == ["ok ", "ok ", "ok ", "ok "]


def test_a_worker_that_was_never_heard_of_is_missed(well: None) -> None:
    Beat.objects.all().delete()
    text, complaint = said()
    assert complaint == "1 of 4 not well"
    assert "BAD worker     none was ever heard of: packs wait until one runs" in text


@pytest.mark.parametrize(("beyond", "is_well"), [(dt.timedelta(0), True), (dt.timedelta(seconds=1), False)])
def test_a_worker_may_be_silent_for_two_minutes_and_no_longer(
    db: None, monkeypatch: pytest.MonkeyPatch, beyond: dt.timedelta, is_well: bool
) -> None:
    now = timezone.now()
    monkeypatch.setattr(doctor.timezone, "now", lambda: now)
    Beat.objects.create(name="worker", at=now - doctor.SILENCE - beyond)
    assert [finding.well for finding in doctor.worker()] == [is_well]


def test_too_little_disk_says_how_much_is_there_and_how_much_is_needed(
    well: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(doctor.shutil, "disk_usage", lambda _: Usage(10**9, 10**9 - 3 * 10**6, 3 * 10**6))
    text, complaint = said()
    assert complaint == "1 of 4 not well"
    assert "BAD disk       3 MB free" in text
    assert "make room, 500 MB at least" in text


def test_a_broker_that_cannot_be_reached_is_named_in_one_line(
    settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Gone:
        def connection_for_write(self) -> None:
            raise OSError("Connection refused.\n")

    monkeypatch.setattr(doctor, "app", Gone())
    settings.REDIS_URL = "redis://broker.example"
    assert [(found.well, found.says) for found in doctor.broker()] == [
        (False, "Connection refused: start Redis, or see that REDIS_URL is right")
    ]


@pytest.mark.django_db
def test_tables_as_this_version_needs_them_are_well() -> None:
    assert [(found.about, found.well) for found in doctor.tables()] == [("tables", True)]


def test_an_empty_folder_is_told_to_migrate(tmp_path: Path) -> None:
    done = manage("doctor", "--no-color", SHEDTIDE_DATA=str(tmp_path))
    assert [line[:14].split() for line in done.stdout.splitlines()] == [
        ["ok", "Python"],
        ["ok", "database"],
        ["ok", "writing"],
        ["BAD", "tables"],
        ["ok", "broker"],
        ["ok", "disk"],
    ]
    assert "run `manage.py migrate`" in done.stdout
    assert (done.returncode, done.stderr) == (1, "CommandError: 1 of 6 not well\n")


def test_a_database_that_is_away_is_named_once_in_one_line(tmp_path: Path) -> None:
    done = manage(
        "doctor", "--no-color", SHEDTIDE_DATA=str(tmp_path), DATABASE_URL="postgres://a@127.0.0.1:1/a"
    )
    (line,) = [line for line in done.stdout.splitlines() if line.startswith("BAD")]
    assert "port 1 failed" in line
    assert line.endswith(
        "see that DATABASE_URL is right, the server is up and the data folder may be written"
    )
    assert done.returncode == 1


def test_a_day_held_by_the_environment_is_mentioned(well: None, settings: Any) -> None:
    settings.SHEDTIDE_TODAY = dt.date(2026, 11, 24)
    assert "today      is held at 2026-11-24 by SHEDTIDE_TODAY" in said()[0]
