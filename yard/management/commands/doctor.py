"""`manage.py doctor`: is everything there that the site runs on, and if not, what is to be done."""

from __future__ import annotations

import datetime as dt
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone
from kombu.exceptions import KombuError

from yard.celery import app

LEAST_ROOM = 500
"""Free disk below which a winter's backups may not fit [MB]; common practice."""
SILENCE = dt.timedelta(minutes=2)
"""Longest a worker may be silent before it counts as gone; it beats every 5 s, even while it packs."""


@dataclass(frozen=True)
class Finding:
    """One line of the doctor: what was looked at, whether it is well, and what was seen or is to be done."""

    about: str
    well: bool
    says: str


def in_a_line(error: Exception) -> str:
    """Return what `error` says, without its line breaks and its full stop."""
    return " ".join(str(error).split()).rstrip(".?")


def python() -> Iterator[Finding]:
    """Look at the Python this runs on."""
    version = ".".join(map(str, sys.version_info[:3]))
    well = sys.version_info >= (3, 11)
    yield Finding("Python", well, version if well else f"{version} is too old: install 3.11 or newer")


def database() -> Iterator[Finding]:
    """Look whether the database answers and, where it is a file, keeps what it took and takes more."""
    try:
        with connection.cursor() as cursor:
            if connection.vendor != "sqlite":
                cursor.execute("SELECT 1")
                yield Finding("database", True, f"{connection.vendor} answers")
                return
            cursor.execute("PRAGMA journal_mode")
            mode = cursor.fetchone()[0]
            yield Finding(
                "database", mode == "wal", f"SQLite in mode {mode}" + ("" if mode == "wal" else WAL)
            )
            cursor.execute("BEGIN IMMEDIATE")
            cursor.execute("ROLLBACK")
        yield Finding("writing", True, f"{settings.DATABASES['default']['NAME']} takes writes")
    except DatabaseError as error:
        yield Finding("database", False, f"{in_a_line(error)}: {DATABASE_HELP}")


def tables() -> Iterator[Finding]:
    """Look whether the tables are those of this version; a database that is away has been spoken of."""
    try:
        executor = MigrationExecutor(connection)
        behind = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return
    yield Finding("tables", not behind, MIGRATE if behind else "as this version needs them")


MIGRATE = "older or newer than this version: run `manage.py migrate`"
WAL = ": the data folder must be on a local disk, not a network share"
DATABASE_HELP = "see that DATABASE_URL is right, the server is up and the data folder may be written"


def broker() -> Iterator[Finding]:
    """Look whether a message could be sent to the worker."""
    kind = "Redis" if settings.REDIS_URL else "folder"
    try:
        with app.connection_for_write() as link:
            link.ensure_connection(max_retries=1, timeout=3)
            link.default_channel.queue_declare(app.conf.task_default_queue)
        yield Finding("broker", True, f"{kind} takes messages")
    except (OSError, KombuError) as error:
        yield Finding(
            "broker", False, f"{in_a_line(error)}: {REDIS_HELP if settings.REDIS_URL else FOLDER_HELP}"
        )


REDIS_HELP = "start Redis, or see that REDIS_URL is right"
FOLDER_HELP = "see that the data folder may be written by the one who runs the site"


def worker() -> Iterator[Finding]:
    """Look when whatever runs beside the site was last heard of; missing tables have been spoken of."""
    beat: Any = apps.get_model("scheduling", "Beat")
    try:
        beats = beat.last()
    except DatabaseError:
        return
    if not beats:
        yield Finding("worker", False, f"none was ever heard of: {WORKER_HELP}")
    for name, at in sorted(beats.items()):
        silent = timezone.now() - at
        said = f"last heard of {int(silent.total_seconds())} s ago"
        yield Finding(name, silent <= SILENCE, said if silent <= SILENCE else f"{said}: {WORKER_HELP}")


WORKER_HELP = "packs wait until one runs; `make demo` starts one, or `celery -A yard.celery worker --beat`"


def room() -> Iterator[Finding]:
    """Look how much disk is left where the data lie."""
    folder: Path = settings.SHEDTIDE_DATA
    free = shutil.disk_usage(folder).free // 10**6
    says = f"{free} MB free under {folder}"
    well = free >= LEAST_ROOM
    yield Finding("disk", well, says if well else f"{says}: make room, {LEAST_ROOM} MB at least")


CHECKS: list[Callable[[], Iterator[Finding]]] = [python, database, tables, broker, worker, room]


class Command(BaseCommand):
    """Print one line for each finding; fail if anything is not well."""

    help = "Say whether everything is there that the site runs on, and what to do where it is not."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        """Run every check, whatever the ones before it found."""
        findings = [finding for look in CHECKS for finding in look()]
        for finding in findings:
            mark = self.style.SUCCESS("ok ") if finding.well else self.style.ERROR("BAD")
            self.stdout.write(f"{mark} {finding.about:10} {finding.says}")
        if settings.SHEDTIDE_TODAY:
            self.stdout.write(f"    today      is held at {settings.SHEDTIDE_TODAY} by SHEDTIDE_TODAY")
        bad = sum(not finding.well for finding in findings)
        if bad:
            raise CommandError(f"{bad} of {len(findings)} not well")
