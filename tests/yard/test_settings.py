"""The settings stand without an environment, and are tight with one."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from tests.shell import manage
from yard.settings import kept_secret_key


def test_the_site_checks_clean_with_no_environment(tmp_path: Path) -> None:
    done = manage("check", SHEDTIDE_DATA=str(tmp_path))
    assert (done.returncode, done.stderr) == (0, "")
    assert "no issues" in done.stdout


def test_an_installation_for_others_passes_the_deployment_check_without_a_warning(tmp_path: Path) -> None:
    done = manage(
        "check",
        "--deploy",
        "--fail-level",
        "WARNING",
        SHEDTIDE_DATA=str(tmp_path),
        ALLOWED_HOSTS="yard.example",
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_the_key_is_made_once_kept_and_closed_to_others(tmp_path: Path) -> None:
    path = tmp_path / "secret-key"
    key = kept_secret_key(path)
    assert len(key) >= 50
    assert kept_secret_key(path) == key
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert os.listdir(tmp_path) == ["secret-key"]


def test_each_installation_has_a_key_of_its_own(tmp_path: Path) -> None:
    assert kept_secret_key(tmp_path / "one") != kept_secret_key(tmp_path / "two")


PRAGMAS = """
from django.db import connection
with connection.cursor() as cursor:
    for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout"):
        print(name, cursor.execute(f"PRAGMA {name}").fetchone()[0])
"""


def test_sqlite_loses_nothing_that_was_saved(tmp_path: Path) -> None:
    """synchronous 2 is FULL; the timeout is in milliseconds."""
    done = manage("shell", "--no-imports", "-c", PRAGMAS, SHEDTIDE_DATA=str(tmp_path))
    assert done.stdout.split("\n")[:4] == [
        "journal_mode wal",
        "synchronous 2",
        "foreign_keys 1",
        "busy_timeout 20000",
    ]


BROKER = """
from django.conf import settings
from yard.celery import app
print(app.conf.broker_transport_options["visibility_timeout"] > app.conf.task_time_limit)
print(app.conf.task_acks_late, app.conf.task_reject_on_worker_lost, app.conf.worker_prefetch_multiplier)
"""


def test_redis_offers_a_lost_message_again_only_when_the_longest_task_must_be_over(tmp_path: Path) -> None:
    """Earlier, and a long pack would run twice; without the second line it would be lost with its worker."""
    done = manage(
        "shell", "--no-imports", "-c", BROKER, SHEDTIDE_DATA=str(tmp_path), REDIS_URL="redis://broker.example"
    )
    assert done.stdout.splitlines() == ["True", "True True 1"]
