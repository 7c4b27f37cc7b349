"""Frozen dataclasses to and from plain JSON, with errors that name the place in the file.

One decoder and one schema serve every value of the engine, so a new field needs no second definition.
"""

import dataclasses
import types
from collections.abc import Mapping
from datetime import date
from functools import cache
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

T = TypeVar("T")

GREATEST = 10**9
"""Whole numbers beyond this are mistakes. With it a thousand jobs, each paying it on every day of the three
centuries below, still sum up within 64 bits. A class of sums says its own, as `greatest`."""
YEARS = (1900, 2199)
"""Days before and after these years are mistakes."""


class BadInput(ValueError):
    """The file is not what it should be; the message is one line: the place in the file, then what is
    wrong."""


@cache
def _fields(cls: type) -> tuple[tuple[str, Any, bool], ...]:
    hints = get_type_hints(cls)
    return tuple(
        (
            f.name,
            hints[f.name],
            f.default is dataclasses.MISSING and f.default_factory is dataclasses.MISSING,
        )
        for f in dataclasses.fields(cls)
    )


def to_json(value: Any) -> Any:
    """A dataclass (or a container of them) as dicts, lists, strings and numbers; fields at their default are
    left out."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        out = {}
        for f in dataclasses.fields(value):
            item = getattr(value, f.name)
            if f.default is not dataclasses.MISSING and item == f.default and f.name != "format":
                continue
            if f.default_factory is not dataclasses.MISSING and item == f.default_factory():
                continue
            out[f.name] = to_json(item)
        return out
    if isinstance(value, Mapping):
        return {key: to_json(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [to_json(item) for item in value]
    return value.isoformat() if isinstance(value, date) else value


def from_json(cls: type[T], data: Any, where: str = "") -> T:
    """Build `cls` from plain JSON. Raises BadInput naming the place, as in `jobs[3].steps[0].options: is
    missing`."""
    result: T = _read(cls, data, where, getattr(cls, "greatest", GREATEST))
    return result


def _read(hint: Any, data: Any, where: str, most: int) -> Any:
    at = where or "the file"
    origin, args = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        if data is None and type(None) in args:
            return None
        known = tuple(a for a in args if a is not type(None))
        listed = all(get_origin(a) is Literal for a in known)  # words of one list or another
        return _read(Literal[known] if listed else known[0], data, where, most)
    if origin is Literal:
        if not any(type(data) is type(arg) and data == arg for arg in args):  # True is 1 to Python, not here
            raise BadInput(f"{at}: must be one of {', '.join(map(str, args))}, not {_shown(data)}")
        return data
    if origin is tuple:
        if not isinstance(data, list):
            raise BadInput(f"{at}: must be a list, not {_shown(data)}")
        if len(args) == 2 and args[1] is Ellipsis:
            if args[0] is int and all(type(item) is int and abs(item) <= most for item in data):
                return tuple(data)  # long rows of numbers, read at once
            return tuple(_read(args[0], item, f"{where}[{i}]", most) for i, item in enumerate(data))
        if len(data) != len(args):
            raise BadInput(f"{at}: must have {len(args)} items, not {len(data)}")
        pairs = enumerate(zip(args, data, strict=True))
        return tuple(_read(a, d, f"{where}[{i}]", most) for i, (a, d) in pairs)
    if origin is not None and isinstance(origin, type) and issubclass(origin, Mapping):
        if not isinstance(data, dict):
            raise BadInput(f"{at}: must be an object, not {_shown(data)}")
        return {key: _read(args[1], item, f"{where}[{key!r}]", most) for key, item in data.items()}
    if dataclasses.is_dataclass(hint):
        return _read_object(hint, data, where, most)
    if hint is date:
        return _read_day(data, at)
    if hint is int:
        if type(data) is not int:  # bool is an int to Python, not here
            raise BadInput(f"{at}: must be a whole number, not {_shown(data)}")
        if abs(data) > most:
            raise BadInput(f"{at}: {_shown(data)} is beyond {most}, the greatest that can be")
        return data
    if hint is not Any and not isinstance(data, (int, float) if hint is float else hint):
        words = {str: "text", bool: "true or false", float: "a number"}
        raise BadInput(f"{at}: must be {words.get(hint, str(hint))}, not {_shown(data)}")
    return data


def _read_day(data: Any, at: str) -> date:
    try:
        day = date.fromisoformat(data)
    except (TypeError, ValueError):
        day = None
    if day is None or day.isoformat() != data:  # Python reads 20261124 and 2026-W48-2, too
        raise BadInput(f"{at}: must be a day like 2026-11-24, not {_shown(data)}")
    if not YEARS[0] <= day.year <= YEARS[1]:
        raise BadInput(f"{at}: must be a day of the years {YEARS[0]} to {YEARS[1]}, not {data}")
    return day


def _read_object(cls: Any, data: Any, where: str, most: int) -> Any:
    at, dot = where or "the file", f"{where}." if where else ""
    if not isinstance(data, dict):
        raise BadInput(f"{at}: must be an object, not {_shown(data)}")
    known = _fields(cls)
    unknown = sorted(set(data) - {name for name, _, _ in known})
    if unknown:
        raise BadInput(f"{dot}{unknown[0]}: is not a key that belongs here")
    values = {}
    for name, hint, required in known:
        if name in data:
            values[name] = _read(hint, data[name], dot + name, most)
        elif required:
            raise BadInput(f"{dot}{name}: is missing")
    try:
        return cls(**values)
    except BadInput as error:
        raise BadInput(f"{dot}{error}") from None


def _shown(data: Any) -> str:
    """What stands there, as JSON has it, cut short."""
    if isinstance(data, dict | list):
        return "an object" if isinstance(data, dict) else "a list"
    text = "null" if data is None else str(data).lower() if isinstance(data, bool) else repr(data)
    return text if len(text) <= 40 else text[:37] + "..."


def schema_of(cls: type) -> dict[str, Any]:
    """The JSON Schema (2020-12) of a dataclass and all it holds."""
    defs: dict[str, Any] = {}
    top = _schema(cls, defs)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **top, "$defs": defs}


def _schema(hint: Any, defs: dict[str, Any]) -> dict[str, Any]:
    origin, args = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        return {"anyOf": [_schema(a, defs) for a in args]}
    if origin is Literal:
        return {"enum": list(args)}
    if origin is tuple:
        if len(args) == 2 and args[1] is Ellipsis:
            return {"type": "array", "items": _schema(args[0], defs)}
        items = [_schema(a, defs) for a in args]
        return {"type": "array", "prefixItems": items, "minItems": len(args), "maxItems": len(args)}
    if origin is not None and isinstance(origin, type) and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": _schema(args[1], defs)}
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        if hint.__name__ not in defs:
            defs[hint.__name__] = {}
            known = _fields(hint)
            defs[hint.__name__] = {
                "type": "object",
                "properties": {name: _schema(h, defs) for name, h, _ in known},
                "required": [name for name, _, required in known if required],
                "additionalProperties": False,
            }
        return {"$ref": f"#/$defs/{hint.__name__}"}
    if hint is date:
        return {"type": "string", "format": "date"}
    if hint is Any:
        return {}
    names = {int: "integer", str: "string", bool: "boolean", float: "number", type(None): "null"}
    return {"type": names[hint]}
