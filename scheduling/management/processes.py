"""Processes kept beside a command: begun, begun again when they end, and ended with it."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from types import FrameType

from django.conf import settings

PATIENCE = 8.0  # [s] from asking a process to end until it is ended
PAUSE = 1.0  # [s] before one that ended is begun again
ROOT = Path(settings.BASE_DIR)


def worker_command() -> list[str]:
    """A worker for one machine: one pack at a time, and the clock in it."""
    beat = Path(settings.SHEDTIDE_DATA) / "broker" / "beat"
    return [
        *(sys.executable, "-m", "celery", "--quiet", "--app", "yard.celery", "worker", "--pool", "solo"),
        *("--beat", "--schedule", str(beat), "--loglevel", "WARNING"),
        *("--without-gossip", "--without-mingle"),
    ]


def worker_environment() -> dict[str, str]:
    """What a worker gets on top of ours: a folder for temporary files on the same disk as its messages."""
    folder = Path(settings.SHEDTIDE_DATA) / "tmp"
    folder.mkdir(parents=True, exist_ok=True)
    (Path(settings.SHEDTIDE_DATA) / "broker").mkdir(parents=True, exist_ok=True)
    return {"TMPDIR": str(folder)}


def keep(
    commands: Mapping[str, Sequence[str]],
    *,
    again: Sequence[str] = (),
    say: Callable[[str], None],
) -> int:
    """Run commands side by side until one of them ends or we are told to; then end them all.

    Those named in `again` are begun again whenever they end. SIGINT and SIGTERM tell us. Returns the exit
    code of the one whose end ended it all, 0 if we were told.
    """
    told: list[int] = []

    def note(number: int, _: FrameType | None) -> None:
        told.append(number)

    before = {number: signal.signal(number, note) for number in (signal.SIGINT, signal.SIGTERM)}
    running: dict[str, subprocess.Popen[bytes]] = {}
    try:
        for name, command in commands.items():
            running[name] = _begin(command)
        while not told:
            time.sleep(0.1)
            for name, process in running.items():
                code = process.poll()
                if code is None:
                    continue
                if name not in again:
                    say(f"The {name} has ended (exit {code}).")
                    return code or 1
                say(f"The {name} has ended (exit {code}) and is begun again.")
                _kill(process)
                time.sleep(PAUSE)
                running[name] = _begin(commands[name])
        return 0
    finally:
        for process in running.values():
            process.terminate()
        for process in running.values():
            _end(process)
        for number, handler in before.items():
            signal.signal(number, handler)


def _begin(command: Sequence[str]) -> "subprocess.Popen[bytes]":
    return subprocess.Popen(  # noqa: S603 our own interpreter
        command, cwd=ROOT, env={**os.environ, **worker_environment()}, start_new_session=True
    )


def _end(process: "subprocess.Popen[bytes]") -> None:
    """Wait a while, then kill it with all it began."""
    with suppress(subprocess.TimeoutExpired):
        process.wait(PATIENCE)
    _kill(process)
    process.wait()


def _kill(process: "subprocess.Popen[bytes]") -> None:
    """Kill what it began and left behind, which bears its number still: a killed worker leaves its clock."""
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
