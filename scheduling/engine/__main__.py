"""The engine from the shell, without a web site: `python -m scheduling.engine` and what to do.

To do: solve, repair, check, show, why, helps, bench, schema.

Exit codes: 0 a schedule (boats left out are named in it), also when stopped; 1 breaches found by `check`;
2 bad input, said in one line; 3 the engine failed.
"""

import argparse
import ctypes
import json
import os
import resource
import signal
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, NoReturn

from scheduling.engine.explain import chain, relaxations, whys
from scheduling.engine.files import read, read_both, read_fitting
from scheduling.engine.helps import helps
from scheduling.engine.jsonio import GREATEST, BadInput, schema_of, to_json
from scheduling.engine.problem import Problem
from scheduling.engine.proving import Proof, Task, prove
from scheduling.engine.repair import Repair, repair, stand_on_posted
from scheduling.engine.schedule import Result, WitnessRefused
from scheduling.engine.show import show
from scheduling.engine.solve import solve
from scheduling.engine.witness import check

SUITES = ("yards", "blocking", "makespan", "repair", "risk", "quote")
MIB = 2**20  # [byte]


def say(value: Any) -> None:
    """One JSON line on stdout, at once."""
    print(json.dumps(to_json(value), separators=(",", ":")), flush=True)


# --- Commands ---------------------------------------------------------------------------------------------
def solve_command(args: argparse.Namespace) -> int:
    """Solve and print the Result; with --lines each better one as it comes."""

    def phase(name: str, problem: Problem) -> None:
        say({"event": "phase", "phase": name, "boats": len(problem.jobs)})

    def search(problem: Problem, **how: Any) -> Result:
        on_phase = (lambda name: phase(name, problem)) if args.lines else None
        return solve(problem, workers=args.workers, on_phase=on_phase, proof=not args.no_proof, **how)

    return _search(args, search)


def repair_command(args: argparse.Namespace) -> int:
    """Mend the posted plan, as the problem's steps say it, and print the Repair; with --lines each better."""
    if args.lines:
        say({"event": "phase", "phase": "repair"})
    return _search(args, repair)


def prove_command(args: argparse.Namespace) -> int:
    """Prove what plans cost at least in the parts that another process leaves to this one."""
    began, stop = time.monotonic(), _stop_asked()
    gone = _limits(args)
    task = read(Task, args.task)

    def tell(proof: Proof, event: str = "bound") -> None:
        say({"event": event, "seconds": round(time.monotonic() - began, 3), "result": proof})

    def over() -> bool:
        return stop() or gone() or time.monotonic() - began >= args.seconds

    tell(prove(task, over, tell if args.lines else lambda _: None), "done")
    return 0


def _search(args: argparse.Namespace, search: Callable[..., Result | Repair]) -> int:
    """Search as long as asked, stop when told to, and print the best found."""
    stop = _stop_asked()
    gone = _limits(args)
    problem = read(Problem, args.problem)

    def better(found: Result | Repair) -> None:
        say({"event": "plan", "seconds": found.seconds, "result": found})

    try:
        found = search(
            problem,
            seconds=args.seconds,
            seed=args.seed,
            work=args.work,
            on_better=better if args.lines else None,
            should_stop=lambda: stop() or gone(),
        )
    except BadInput as error:
        raise BadInput(f"{args.problem}: {error}") from None
    if stop() and found.status in ("found", "repaired"):
        found = replace(found, status="stopped")
    say({"event": "done", "seconds": found.seconds, "result": found} if args.lines else found)
    return 0


def check_command(args: argparse.Namespace) -> int:
    """Print each breach as a JSON line; 1 if any is the plan's own doing."""
    breaches = check(*read_both(args.problem, args.plan))
    for breach in breaches:
        say(breach)
    return int(any(not breach.fact for breach in breaches))


def show_command(args: argparse.Namespace) -> int:
    """Draw a plan."""
    print(show(*read_fitting(args.problem, args.plan)), end="")
    return 0


def why_command(args: argparse.Namespace) -> int:
    """Say, a JSON line each, why no step starts earlier; of one boat back to today; what would let all in."""
    problem, plan = read_fitting(args.problem, args.plan)
    if args.boat is not None and args.boat not in {job.id for job in problem.jobs}:
        raise BadInput(f"{args.problem}: has no job {args.boat!r}")
    if args.fewest:
        found: Sequence[object] = relaxations(problem, plan)
    else:
        found = whys(problem, plan) if args.boat is None else chain(problem, plan, args.boat)
    for each in found:
        say(each)
    return 0


def helps_command(args: argparse.Namespace) -> int:
    """Say what one thing more would save; with --lines each as it is found."""
    stop, gone = _stop_asked(), _limits(args)
    if args.lines:
        say({"event": "phase", "phase": "looking for what is short"})
    if args.plan is None:
        problem, mended = stand_on_posted(read(Problem, args.problem))
        if mended is None:
            raise BadInput(f"{args.problem}: no step says where it is posted; name a plan")
        plan = mended.schedule
    else:
        problem, plan = read_fitting(args.problem, args.plan)
    found = helps(
        problem,
        plan,
        seconds=args.seconds,
        seed=args.seed,
        work=args.work,
        should_stop=lambda: stop() or gone(),
        on_help=(lambda each: say({"event": "help", "help": each})) if args.lines else None,
        on_progress=(lambda done, of: say({"event": "progress", "done": done, "of": of}))
        if args.lines
        else None,
    )
    for each in () if args.lines else found:
        say(each)
    if args.lines:
        say({"event": "done", "result": {"helps": found}})
    return 0


def schema_command(args: argparse.Namespace) -> int:
    """Print the JSON Schema of a problem or a plan."""
    print(json.dumps(schema_of(Problem if args.of == "problem" else Result), indent=1))
    return 0


def bench_command(args: argparse.Namespace) -> int:
    """Solve known cases and print a row for each."""
    from scheduling.engine.bench import bench  # noqa: PLC0415 it reads the tests' files, which a yard may not have

    for row in bench(args.suite, args.case, args.seconds, args.workers):
        print(
            json.dumps(row) if args.json else "  ".join(f"{key} {value}" for key, value in row.items()),
            flush=True,
        )
    return 0


def _failed(args: argparse.Namespace, why: str, more: Mapping[str, Any]) -> int:
    if getattr(args, "lines", False):
        say({"event": "failed", "why": why, **more})
    print(why, file=sys.stderr)
    return 3


# --- Signals and limits -----------------------------------------------------------------------------------
def _stop_asked() -> Callable[[], bool]:
    """From now on SIGTERM and SIGINT ask to stop, and the best so far is kept."""
    asked: list[int] = []
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda got, _: asked.append(got))
    return lambda: bool(asked)


def _limits(args: argparse.Namespace) -> Callable[[], bool]:
    """Take the limits upon this process. Returns what tells whether the one who reads our lines has died."""
    parent = os.getppid()
    if args.nice:
        os.nice(args.nice)
    if args.memory:
        resource.setrlimit(resource.RLIMIT_AS, (args.memory * MIB, args.memory * MIB))
    if args.lines and sys.platform == "linux":
        ask_for_signal = 1  # PR_SET_PDEATHSIG, prctl(2)
        ctypes.CDLL(None).prctl(ask_for_signal, signal.SIGKILL)
    return lambda: bool(args.lines) and os.getppid() != parent


class OneLine(argparse.ArgumentParser):
    """Says what is wrong with the command in one line."""

    def error(self, message: str) -> NoReturn:
        """Print one line and exit 2."""
        self.exit(2, f"{self.prog}: {message}\n")


def parser() -> argparse.ArgumentParser:
    """The commands and their options."""
    top = OneLine(prog="python -m scheduling.engine", description="Fits stages into bay-days.")
    commands = top.add_subparsers(dest="command", required=True, parser_class=OneLine)

    def command(name: str, run: Callable[[argparse.Namespace], int], *files: str) -> argparse.ArgumentParser:
        made = commands.add_parser(name, help=(run.__doc__ or "").strip(), description=run.__doc__)
        made.set_defaults(run=run)
        for file in files:
            made.add_argument(
                file.rstrip("?"), nargs="?" if file[-1] == "?" else None, help="a JSON file, or - for stdin"
            )
        return made

    solving = command("solve", solve_command, "problem")
    benching = command("bench", bench_command)
    mending = command("repair", repair_command, "problem")
    proving = command("prove", prove_command, "task")
    helping = command("helps", helps_command, "problem", "plan?")
    seconds_for = ((solving, 10.0), (mending, 2.0), (benching, None), (proving, 60.0), (helping, 30.0))
    for each, seconds in seconds_for:
        each.add_argument("--seconds", type=_number(float, 0), default=seconds, help="[s] to search")
    for each in (solving, benching):  # a repair and what would help are thought of in one process
        each.add_argument("--workers", type=_number(int, 1), default=2, help="processes")
    for each in (solving, mending, helping):
        each.add_argument("--seed", type=_number(int, 0), default=1)
        each.add_argument(
            "--work", type=_number(int, 0), help="tries, instead of seconds: alike on every machine"
        )
    for each in (solving, mending, helping, proving):
        each.add_argument("--lines", action="store_true", help="JSON lines, each as it comes")
        each.add_argument("--nice", type=_number(int, 0), default=0)
        each.add_argument("--memory", type=_number(int, 0), default=0, help="[MiB] at most")
    solving.add_argument("--no-proof", action="store_true", help="look for plans, not for a bound")
    benching.add_argument("--json", action="store_true", help="a JSON line a row")
    benching.add_argument("--suite", choices=SUITES, default="yards")
    benching.add_argument("--case", help="one of them alone, by its name; of yards also a file")
    command("check", check_command, "problem", "plan")
    command("show", show_command, "problem", "plan")
    asking = command("why", why_command, "problem", "plan")
    asking.add_argument("--boat", help="a job: the chain from her last step back to today")
    asking.add_argument(
        "--fewest", action="store_true", help="the fewest things more with which all boats are in the plan"
    )
    command("schema", schema_command).add_argument("of", choices=("problem", "plan"))
    return top


def _number(kind: type[int] | type[float], least: int) -> Callable[[str], int | float]:
    def number(text: str) -> int | float:
        value = kind(text)
        if not least <= value <= GREATEST:
            raise argparse.ArgumentTypeError(f"{text} is not between {least} and {GREATEST}")
        return value

    return number


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. Returns the exit code."""
    args = parser().parse_args(argv)
    try:
        code: int = args.run(args)
        sys.stdout.flush()
    except BadInput as error:
        print(str(error).encode("utf-8", "backslashreplace").decode().replace("\n", " "), file=sys.stderr)
        return 2
    except WitnessRefused as refused:
        failed = {"breaches": refused.breaches, "result": {"schedule": refused.schedule}}
        return _failed(args, "The witness refused the plan.", failed)
    except MemoryError:
        return _failed(args, "The engine ran out of memory (MemoryError).", {})
    except BrokenPipeError:  # the reader has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return code


if __name__ == "__main__":
    sys.exit(main())
