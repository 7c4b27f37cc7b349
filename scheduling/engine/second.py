"""A second process that searches with another seed: the same engine, spoken to through its shell.

(`multiprocessing` is refused inside a daemonic worker process; a child process works everywhere.)
"""

import json
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.problem import Problem
from scheduling.engine.schedule import BoundPrices, Result, Schedule

ROOT = Path(__file__).resolve().parents[2]
GRACE = 3.0  # [s] from asking it to end until it is ended
TICK = 0.1  # [s] between looks


class Second:
    """The second process and the best line it has said."""

    def __init__(
        self, problem: Problem, *, seed: int, seconds: float, work: int | None, proof: float | None = None
    ) -> None:
        """`proof` is the share of its time for the bound, if not the usual one."""
        self.tries = 0
        self.bound: int | None = None
        self.bound_by = ""
        self.prices: BoundPrices | None = None
        self._line = ""
        self._proven: tuple[int, int] | None = None  # [minor units] its plan's cost and bound in the end
        command = [sys.executable, "-m", "scheduling.engine", "solve", "-", "--workers", "1", "--lines"]
        command += ["--seed", str(seed), "--seconds", f"{seconds:.2f}"]
        command += ["--work", str(work)] if work is not None else []
        command += ["--proof", str(proof)] if proof is not None else []
        with tempfile.TemporaryFile() as file:
            file.write(json.dumps(to_json(problem)).encode())
            file.seek(0)
            self._child = subprocess.Popen(  # noqa: S603 our own engine
                command, stdin=file, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, cwd=ROOT
            )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        for raw in self._child.stdout or ():
            if b'"result"' in raw:
                self._line = raw.decode()

    def proves(self, total: int) -> bool:
        """Whether it has ended by itself, and no plan costs less than `total` [minor units] or its own."""
        if self._proven is None and self._line and not self._reader.is_alive():
            result = json.loads(self._line).get("result", {})
            own, bound = result.get("total"), result.get("bound")
            self._proven = (own or 0, bound) if bound is not None else (0, -1)
        return self._proven is not None and self._proven[1] >= min(total, self._proven[0])

    def best(self, *, wait: bool, stop: Callable[[], bool], patience: float = GRACE) -> Schedule | None:
        """Its best plan. With `wait`, once it is done by itself; else it is asked to end now.

        If it has not ended after `patience` [s], the last plan it told.
        """
        while wait and self._reader.is_alive() and not stop():
            time.sleep(TICK)
        if self._child.poll() is None:
            self._child.terminate()  # it says its best and ends
        self._reader.join(patience)
        if self._reader.is_alive():
            self._child.kill()
            self._reader.join(GRACE)
        if not self._line:
            return None
        data = json.loads(self._line)
        if "schedule" not in data.get("result", {}) or data.get("event") == "failed":
            return None
        result = from_json(Result, data["result"])
        self.tries, self.prices = result.tries, result.prices
        self.bound, self.bound_by = result.bound, result.bound_by
        return result.schedule

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
