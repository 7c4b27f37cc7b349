"""Runs the engine as a child process: feeds it a Problem, reads its lines, and always sees it end.

The child leads a session of its own, is nice, may take so much memory and dies with the process that
started it. It is this very file that makes it so: run as a program it takes the limits upon itself and then
becomes the engine, since between fork and exec nothing may be done safely in a process that has threads.
"""

import ctypes
import json
import os
import resource
import selectors
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any, Literal

ENGINE = (sys.executable, "-m", "scheduling.engine")
ROOT = Path(__file__).resolve().parent.parent
GRACE = 5.0  # [s] from asking the child to end until it is ended
OVERRUN = 30.0  # [s] on top of the time it was given: reading, the last check, writing
TICK = 0.25  # [s] between looks at `should_stop` while the child says nothing
LONGEST_LINE = 64 * 2**20  # [byte] a winter of 400 boats takes about 1 MiB

Line = Mapping[str, Any]
Task = Literal["solve", "repair", "helps"]  # the engine's commands that search
Cut = Literal["", "asked", "overran"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How a run ended, and the best it found.

    `stopped` with a result is the best found until somebody stopped it, its time was up or the child died;
    `why` says which in one sentence. `failed` has a reason and nothing to keep; `refused` is then the
    schedule that its own witness refused, with the `breaches`.
    """

    ended: Literal["done", "stopped", "failed"]
    result: Mapping[str, Any] | None = None  # as JSON: a Result, a Repair, or {"helps": [a Help, ...]}
    refused: Mapping[str, Any] | None = None
    breaches: Sequence[Mapping[str, Any]] = ()
    why: str = ""
    first_plan_s: float | None = None  # [s] after the start, by the child's clock
    seconds: float = 0.0  # [s] from start to end, by ours


@dataclass(slots=True)
class _Heard:
    """What the child has said so far."""

    on_line: Callable[[Line], None]
    best: Mapping[str, Any] | None = None
    done: Mapping[str, Any] | None = None
    failed: Line | None = None
    first_plan_s: float | None = None
    rest: bytearray = field(default_factory=bytearray)
    garbled: str = ""

    def take(self, chunk: bytes) -> None:
        """Read the whole lines there are; one that is not ours is the reason if nothing else came."""
        self.rest += chunk
        *lines, rest = bytes(self.rest).split(b"\n") if b"\n" in chunk else [bytes(self.rest)]
        if len(rest) > LONGEST_LINE:
            self.garbled, rest = "a line longer than any plan", b""
        self.rest = bytearray(rest)
        for raw in filter(None, map(bytes.strip, lines)):
            try:
                line = json.loads(raw)
                event = line["event"]
            except (ValueError, KeyError, TypeError):
                self.garbled = raw[:80].decode(errors="replace")
                continue
            match event:
                case "plan":
                    self.best = line.get("result") or self.best
                    if self.first_plan_s is None:
                        self.first_plan_s = line.get("seconds")
                case "help":
                    self.best = {"helps": [*(self.best or {}).get("helps", ()), line["help"]]}
                case "done":
                    self.done = line.get("result")
                case "failed":
                    self.failed = line
            self.on_line(line)


def run(
    problem_json: str,
    *,
    task: Task = "solve",
    seconds: float,
    workers: int,
    seed: int,
    work: int | None,
    on_line: Callable[[Line], None],
    should_stop: Callable[[], bool],
    nice: int = 10,
    memory_mb: int = 2048,
    command: Sequence[str] = ENGINE,
    grace: float = GRACE,
    overrun: float = OVERRUN,
) -> Outcome:
    """Run the engine on a Problem and say how it ended.

    `task` is what it is to do: a plan, the posted plan mended, or what would help against the posted plan.
    `workers` [processes] share a search for a plan; the other tasks take one. `seconds` [s] is what the
    engine may search; `work` [tries] ends it earlier and alike on every machine.
    `on_line` gets each line as it comes, `should_stop` is asked several times a second. Whatever either
    raises ends the child before it is passed on.
    """
    began = time.monotonic()
    arguments = [task, "-", "--lines", f"--seconds={seconds:g}", f"--seed={seed}"]
    if task == "solve":
        arguments.append(f"--workers={workers}")
    if work is not None:
        arguments.append(f"--work={work}")
    heard = _Heard(on_line)
    with tempfile.TemporaryFile() as problem, tempfile.TemporaryFile() as errors:
        problem.write(problem_json.encode())
        problem.seek(0)
        child = subprocess.Popen(  # noqa: S603 our own interpreter and our own file
            [
                sys.executable,
                "-P",
                __file__,
                str(os.getpid()),
                str(nice),
                str(memory_mb),
                *command,
                *arguments,
            ],
            stdin=problem,
            stdout=subprocess.PIPE,
            stderr=errors,
            cwd=ROOT,
            env=_environment(workers),
            start_new_session=True,
        )
        try:
            stopped = _follow(child, heard, should_stop, began + seconds + overrun, grace)
        finally:
            code = _end(child)
        said = _last_line(errors)
    return _judge(heard, code, said, stopped, time.monotonic() - began)


def _environment(workers: int) -> dict[str, str]:
    """Give the child what Python needs and no secret; sets must iterate alike in each run."""
    kept = ("PATH", "LANG", "LC_ALL", "TMPDIR", "SYSTEMROOT", "VIRTUAL_ENV", "LD_LIBRARY_PATH")
    threads = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), str(workers))
    return {k: os.environ[k] for k in kept if k in os.environ} | threads | {"PYTHONHASHSEED": "0"}


def _follow(
    child: "subprocess.Popen[bytes]",
    heard: _Heard,
    should_stop: Callable[[], bool],
    deadline: float,
    grace: float,
) -> Cut:
    """Read until the child closes its output; ask it to end when told to or late, and then end it."""
    stopped: Cut = ""
    kill_at = float("inf")
    for chunk in _chunks(child.stdout):
        if chunk:
            heard.take(chunk)
        elif _dead(child):  # and whatever it had started still holds the pipe
            break
        now = time.monotonic()
        if not stopped and (should_stop() or now > deadline):
            stopped, kill_at = "asked" if now <= deadline else "overran", now + grace
            child.terminate()
        if now > kill_at:
            break
    return stopped


def _chunks(pipe: IO[bytes] | None) -> Iterator[bytes]:
    """Yield what comes, or nothing once a tick, until the other end is closed."""
    assert pipe is not None  # noqa: S101 Popen was given PIPE
    with selectors.DefaultSelector() as selector:
        selector.register(pipe, selectors.EVENT_READ)
        while True:
            if not selector.select(TICK):
                yield b""
                continue
            chunk = os.read(pipe.fileno(), 1 << 16)
            if not chunk:
                return
            yield chunk


def _end(child: "subprocess.Popen[bytes]") -> int:
    """See the child and all it started gone. Returns its exit code, or minus the signal that ended it.

    An output that is closed is followed by the exit within moments; a child that lingers is killed. The group
    is killed while its leader is not yet reaped: until then no stranger can bear its number.
    """
    for _ in range(40):
        if _dead(child) or child.stdout is None or not _closed(child.stdout):
            break
        time.sleep(0.025)
    os.killpg(child.pid, signal.SIGKILL)
    if child.stdout:
        child.stdout.close()
    return child.wait()


def _dead(child: "subprocess.Popen[bytes]") -> bool:
    """Look without reaping."""
    return os.waitid(os.P_PID, child.pid, os.WEXITED | os.WNOWAIT | os.WNOHANG) is not None


def _closed(pipe: IO[bytes]) -> bool:
    with selectors.DefaultSelector() as selector:
        selector.register(pipe, selectors.EVENT_READ)
        return bool(selector.select(0)) and not os.read(pipe.fileno(), 1 << 16)


def _last_line(errors: IO[bytes]) -> str:
    size = errors.seek(0, os.SEEK_END)
    errors.seek(max(size - 4096, 0))
    lines = [line.strip() for line in errors.read().decode(errors="replace").splitlines() if line.strip()]
    return lines[-1][:300] if lines else ""


def _judge(heard: _Heard, code: int, said: str, stopped: Cut, took: float) -> Outcome:
    """Put the ending into one sentence."""
    base: dict[str, Any] = {"first_plan_s": heard.first_plan_s, "seconds": took}
    if heard.failed is not None and (breaches := tuple(heard.failed.get("breaches") or ())):
        why = str(heard.failed.get("why") or "The witness refused the plan.")
        refused = heard.failed.get("result") or heard.best
        return Outcome(ended="failed", why=why, breaches=breaches, refused=refused, **base)
    if heard.done is not None and code == 0:
        cut = bool(stopped) or heard.done.get("status") == "stopped"
        why = "Stopped; this is the best found until then." if cut else ""
        return Outcome(ended="stopped" if cut else "done", result=heard.done, why=why, **base)
    best = heard.done or heard.best
    why = _why(heard, code, said, stopped)
    if code == 2:  # the input is wrong, whatever else was said
        return Outcome(ended="failed", why=why, **base)
    if best is not None:
        return Outcome(ended="stopped", result=best, why=f"{why} The best found until then is kept.", **base)
    return Outcome(ended="stopped" if stopped == "asked" else "failed", why=why, **base)


def _why(heard: _Heard, code: int, said: str, stopped: Cut) -> str:
    if stopped == "asked":
        return "Stopped." if heard.best or heard.done else "Stopped before there was a plan."
    if stopped == "overran":
        return "The engine overran its time and was ended."
    if heard.failed is not None and heard.failed.get("why"):
        return str(heard.failed["why"])
    if "MemoryError" in said or "bad_alloc" in said:
        return "The engine ran out of memory."
    if code == 2:
        return f"The engine can't read the problem: {said or 'it did not say why'}"
    if code == -signal.SIGKILL:
        return "The engine was killed from outside; most often the machine ran out of memory."
    if code < 0:
        return f"The engine died ({signal.strsignal(-code) or f'signal {-code}'})."
    if heard.garbled:
        return f"The engine said something that is no line of its protocol: {heard.garbled}"
    return f"The engine ended without a plan (exit {code}){': ' + said if said else '.'}"


def _become(parent: int, nice: int, memory_mb: int, command: Sequence[str]) -> None:
    """Take the limits upon this process and become the command."""
    os.nice(nice)
    resource.setrlimit(resource.RLIMIT_AS, (memory_mb * 2**20, memory_mb * 2**20))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if sys.platform == "linux":
        pr_set_pdeathsig = 1  # prctl(2): kept over exec
        ctypes.CDLL(None, use_errno=True).prctl(pr_set_pdeathsig, signal.SIGKILL)
    if os.getppid() == parent:  # else it died before we asked to be told
        os.execv(command[0], list(command))  # noqa: S606 no shell is meant


if __name__ == "__main__":
    _become(int(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), sys.argv[4:])
