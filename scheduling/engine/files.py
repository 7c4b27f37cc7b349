"""Files of the engine's commands: a problem, or a plan with what it says that facts have moved."""

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from scheduling.engine.jsonio import BadInput, from_json
from scheduling.engine.problem import Problem
from scheduling.engine.reading import read as read_plan
from scheduling.engine.repair import Pair, as_frozen
from scheduling.engine.schedule import Schedule

T = TypeVar("T")


def load(path: str) -> Any:
    """The plain JSON in a file, or on stdin for `-`. Raises BadInput."""
    try:
        raw = sys.stdin.buffer.read() if path == "-" else Path(path).read_bytes()
    except (OSError, ValueError) as error:
        raise BadInput(f"can't be read: {getattr(error, 'strerror', None) or error}") from None
    try:
        return json.loads(raw.decode("utf-8-sig"), parse_int=_whole, object_pairs_hook=_object)
    except UnicodeDecodeError as error:
        raise BadInput(f"is not UTF-8 at byte {error.start}") from None
    except json.JSONDecodeError as error:
        raise BadInput(f"is not JSON: line {error.lineno}, column {error.colno}: {error.msg}") from None
    except RecursionError:
        raise BadInput("is not JSON of ours: brackets within brackets without end") from None


def _whole(text: str) -> int:
    """A whole number; thousands of digits, which Python will not read, become one too big as well."""
    return int(text[:20])


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for i, key in enumerate(keys) if key in keys[:i])
        raise BadInput(f"has the key {twice!r} twice in one object")
    return found


def read(cls: type[T], path: str) -> T:
    """A value from a file. Raises BadInput that names the file and the place in it."""
    try:
        return from_json(cls, load(path))
    except BadInput as error:
        raise _named(path, error) from None


def read_both(problem: str, plan: str) -> tuple[Problem, Schedule]:
    """A Problem from a file with its frozen steps pinned, and a plan of it: a Schedule, Result or Repair.

    What the plan's file says that facts have `thawed` is not pinned. Raises BadInput that names the file.
    """
    told = read(Problem, problem)
    try:
        data = load(plan)
        thawed: tuple[Pair, ...] = ()
        if isinstance(data, dict) and "schedule" in data:
            thawed = from_json(Thawed, {"thawed": data.get("thawed", [])}).thawed
            schedule = from_json(Schedule, data["schedule"], "schedule")
        else:
            schedule = from_json(Schedule, data)
    except BadInput as error:
        raise _named(plan, error) from None
    return as_frozen(told, thawed), schedule


def read_fitting(problem: str, plan: str) -> tuple[Problem, Schedule]:
    """The same. Raises BadInput, too, if the plan is none for that problem."""
    told, schedule = read_both(problem, plan)
    for breach in read_plan(told, schedule).unread:
        raise BadInput(f"{plan}: is no plan for this problem: {breach.says}")
    return told, schedule


@dataclass(frozen=True)
class Thawed:
    """What a plan says of frozen steps."""

    thawed: tuple[Pair, ...] = ()  # (job, step) that a fact moves


def _named(path: str, error: BadInput) -> BadInput:
    return BadInput(f"{'stdin' if path == '-' else path}: {error}")
