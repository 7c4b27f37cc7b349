"""Our commands, run as a person runs them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OURS = {"SECRET_KEY", "DATABASE_URL", "REDIS_URL", "ALLOWED_HOSTS"}


def manage(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run one of our commands with nothing of this run's environment that our settings read."""
    kept = {name: value for name, value in os.environ.items() if name not in OURS and "SHEDTIDE" not in name}
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env={**kept, **environment},
        capture_output=True,
        text=True,
        check=False,
    )
