"""A second process of the engine, spoken to through its shell: JSON in, JSON lines out.

(`multiprocessing` is refused inside a daemonic worker process; a child process works everywhere.)
"""

import json
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from scheduling.engine.jsonio import to_json

ROOT = Path(__file__).resolve().parents[2]
GRACE = 3.0  # [s] from asking it to end until it is ended
TICK = 0.1  # [s] between looks


class Child:
    """The process and the last line with a result that it has said."""

    def __init__(self, command: Sequence[str], told: Any) -> None:
        """`told` is what it reads."""
        self._line = ""
        with tempfile.TemporaryFile() as file:
            file.write(json.dumps(to_json(told)).encode())
            file.seek(0)
            self._child = subprocess.Popen(  # noqa: S603 our own engine
                [sys.executable, "-m", "scheduling.engine", *command, "--lines"],
                stdin=file,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                cwd=ROOT,
            )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        for raw in self._child.stdout or ():
            if b'"result"' in raw:
                self._line = raw.decode()

    def last(self, *, wait: bool, stop: Callable[[], bool], patience: float = GRACE) -> dict[str, Any] | None:
        """The last line with a result; None if there is none, or it failed.

        With `wait`, once it is done by itself; else it is asked to end now. If it has not ended after
        `patience` [s], the last line until then.
        """
        while wait and self._reader.is_alive() and not stop():
            time.sleep(TICK)
        if self._child.poll() is None:
            self._child.terminate()  # it says its best and ends
        self._reader.join(patience)
        if self._reader.is_alive():
            self._child.kill()
            self._reader.join(GRACE)
        data = json.loads(self._line) if self._line else {"event": "failed"}
        return data if data.get("event") != "failed" else None

    def end(self) -> None:
        """End the process, whatever it is doing."""
        if self._child.poll() is None:
            self._child.terminate()
            try:
                self._child.wait(GRACE)
            except subprocess.TimeoutExpired:
                self._child.kill()
        self._child.wait()
        self._reader.join(GRACE)
        if self._child.stdout is not None:
            self._child.stdout.close()
