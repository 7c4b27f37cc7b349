"""Our commands, run as a person runs them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OURS = {"SECRET_KEY", "DATABASE_URL", "REDIS_URL", "ALLOWED_HOSTS"}


def untold() -> dict[str, str]:
    """Return this run's environment without all that our settings read."""
    return {name: value for name, value in os.environ.items() if name not in OURS and "SHEDTIDE" not in name}


def run(environment: dict[str, str], *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run one of our commands in `environment`."""
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def manage(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run one of our commands in an environment of which our settings know only what is given here."""
    return run({**untold(), **environment}, *arguments)
