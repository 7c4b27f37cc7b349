"""What a table of files is made of: files, columns, links; kinds come from the records' own fields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import models

from yard.actions.importing.cells import AirWords, Day, Instant, Kind, Number, Text, Time, Whole, Word, YesNo
from yard.models.schemes import AIR_WORDS, words_of_air


@dataclass(frozen=True)
class Column:
    """One column: its name with the unit in it, how its cells are read, and the record's field it fills.

    An empty cell stands for `default`; in a needed column no cell may be empty. A column without a `field` is
    looked after by its file's own code.
    """

    name: str
    kind: Kind
    about: str
    needed: bool = False
    field: str = ""
    default: Any = None

    @property
    def feet(self) -> str | None:
        """The name under which the same length may be given in feet, if this is a length."""
        return self.name[:-2] + "_ft" if self.name.endswith("_m") and isinstance(self.kind, Number) else None

    def show(self, value: Any) -> str:
        """The text of a value; nothing for what an empty cell would say by being empty."""
        return "" if value is None or value == "" or value == [] else self.kind.show(value)


@dataclass(frozen=True)
class Link:
    """A record's field that points at a row of another file, found by that file's key, given in `columns`."""

    field: str
    file: str
    columns: tuple[str, ...]


@dataclass(frozen=True)
class File:
    """One file: a kind of record, the columns that tell one row from another, and all columns in their order.

    `numbered` files tell records of the same name apart by a number ("Teasel #2"); in `repeated` files two
    rows may have the same key; `turned` files have a row for each column; `chained` ones keep every row as
    history, each replacing the one before. Records `where` this holds go out, in this `order`.
    """

    name: str
    model: type[models.Model]
    about: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    links: tuple[Link, ...] = ()
    numbered: bool = False
    repeated: bool = False
    turned: bool = False
    chained: bool = False
    where: Mapping[str, Any] = field(default_factory=dict)
    order: tuple[str, ...] = ("pk",)

    def column(self, name: str) -> Column:
        """The column of this name."""
        return next(column for column in self.columns if column.name == name)

    @property
    def linked(self) -> set[str]:
        """The columns that belong to links."""
        return {name for link in self.links for name in link.columns}


def kind_of(source: models.Field[Any, Any]) -> Kind:
    """How cells of a record's field are read."""
    if source.choices:
        return Word(tuple(str(word) for word, _ in source.flatchoices if word))
    if words_of_air in source.validators:
        return AirWords(AIR_WORDS)
    if isinstance(source, models.DecimalField):
        return Number(places=source.decimal_places or 0, digits=source.max_digits or 9)
    for sort, kind in (
        (models.BooleanField, YesNo()),
        (models.IntegerField, Whole()),
        (models.DateTimeField, Instant()),
        (models.DateField, Day()),
        (models.TimeField, Time()),
    ):
        if isinstance(source, sort):
            return kind
    return Text(longest=source.max_length)


def columns_of(
    model: type[models.Model],
    described: Mapping[str, str],
    *,
    needed: tuple[str, ...] = (),
    own: tuple[Column, ...] = (),
) -> tuple[Column, ...]:
    """Make the columns of a record.

    Args:
        described: "column" or "column=field" to what it holds. A name that is no field is text of a link.
        needed: columns that must be filled though the record would do without, or that are no field of it.
        own: columns with a kind of their own, which stand where `described` names them.
    """
    given = {column.name: column for column in own}
    fields = {f.name: f for f in model._meta.concrete_fields}
    made = []
    for spec, about in described.items():
        name, _, source_name = spec.partition("=")
        source = fields.get(source_name or name)
        if name in given:
            made.append(given[name])
        elif source is None or isinstance(source, models.ForeignKey):
            must = name in needed or (source is not None and not source.null)
            made.append(Column(name, Text(), about, needed=must))
        else:
            default = source.get_default()
            may_be_empty = source.null or source.blank or source.has_default()
            must = name in needed or not may_be_empty
            made.append(
                Column(name, kind_of(source), about, must, source.name, None if source.null else default)
            )
    return tuple(made)
