"""The whole site as a person runs it: web server and worker as processes, with data of their own."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.request import urlopen

import psycopg

from tests.shell import ROOT, run, untold

DATABASE = "shedtide.sqlite3"
PATIENCE = 60.0  # [s] until a process that should have done something counts as hung


def until(true: Callable[[], bool], what: str) -> None:
    """Wait for `true` to hold.

    Raises AssertionError naming `what` if it does not within PATIENCE.
    """
    end = time.monotonic() + PATIENCE
    while not true():
        assert time.monotonic() < end, f"never came true: {what}"
        time.sleep(0.1)


class Site:
    """One installation in `folder`, with nothing running yet."""

    def __init__(self, folder: Path, **environment: str) -> None:
        self.folder = folder
        self.environment = {**untold(), "SHEDTIDE_DATA": str(folder), **environment}
        self.processes: list[subprocess.Popen[bytes]] = []

    def migrate(self) -> None:
        """Make the tables."""
        done = self.manage("migrate", "--verbosity", "0")
        assert done.returncode == 0, done.stderr

    def manage(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run one of our commands on this site."""
        return run(self.environment, *arguments)

    def start(self, *module: str) -> subprocess.Popen[bytes]:
        """Start `python -m module…` in a process group of its own; what it says is kept for `logs`."""
        with (self.folder / f"{module[0]}-{len(self.processes)}.log").open("wb") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", *module],
                cwd=ROOT,
                env=self.environment,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self.processes.append(process)
        return process

    def start_web(self) -> str:
        """Start the web server and return its address once it answers."""
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        process = self.start("gunicorn", "yard.wsgi", "--bind", f"127.0.0.1:{port}")
        address = f"http://127.0.0.1:{port}"

        def answers() -> bool:
            assert process.poll() is None, self.logs()
            try:
                with urlopen(f"{address}/healthz", timeout=5) as answer:  # noqa: S310
                    return bool(answer.status == 200)
            except OSError:
                return False

        until(answers, "the web server answers")
        return address

    def start_worker(self) -> subprocess.Popen[bytes]:
        """Start a worker with its clock; it may take some seconds until it takes messages."""
        arguments = ("-A", "yard.celery", "worker", "--beat", "--concurrency", "1", "--loglevel", "WARNING")
        return self.start("celery", *arguments)

    def logs(self) -> str:
        """Return all that the processes have said."""
        return "\n".join(log.read_text() for log in sorted(self.folder.glob("*.log")))

    def stop(self) -> None:
        """End every process with all that it started."""
        for process in self.processes:
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


@contextmanager
def database_of_its_own(url: str) -> Iterator[str]:
    """Make a database beside the one that `url` names, and remove it afterwards."""
    name = f"served_{uuid.uuid4().hex}"
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(f'CREATE DATABASE "{name}"')
    try:
        yield f"{url.rpartition('/')[0]}/{name}"
    finally:
        with psycopg.connect(url, autocommit=True) as server:
            server.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


@cache
def empty_database() -> bytes:
    """Return a SQLite file with all tables and no rows; making it takes longer than most tests."""
    with TemporaryDirectory() as folder:
        Site(Path(folder)).migrate()
        return (Path(folder) / DATABASE).read_bytes()


@contextmanager
def site(folder: Path) -> Iterator[Site]:
    """Set up a site on what DATABASE_URL and REDIS_URL say, else on SQLite and a folder; take it down."""
    environment = {"REDIS_URL": os.environ["REDIS_URL"]} if os.environ.get("REDIS_URL") else {}
    if url := os.environ.get("DATABASE_URL"):
        with database_of_its_own(url) as own:
            made = Site(folder, DATABASE_URL=own, **environment)
            made.migrate()
            yield from _run(made)
    else:
        (folder / DATABASE).write_bytes(empty_database())
        yield from _run(Site(folder, **environment))


def _run(made: Site) -> Iterator[Site]:
    try:
        yield made
    finally:
        made.stop()
