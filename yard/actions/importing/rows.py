"""Records as rows: what tells each from its like, and the text of each cell."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from django.db import models

from yard.actions.importing.columns import BY_NAME
from yard.actions.importing.tables import File
from yard.models import Boat, Owner, Treatment, Yard

Key = tuple[str, ...]


def split(text: str) -> tuple[str, int]:
    """Part "Name #2" into the name and the number; a name alone is number 1."""
    match = re.fullmatch(r"(.*\S)\s+#(\d+)", text)
    return (match[1], int(match[2])) if match else (text, 1)


def joined(name: str, number: int) -> str:
    """Write the number behind the name; number 1 only where the name itself ends like one."""
    return name if number == 1 and split(name)[1] == 1 and split(name)[0] == name else f"{name} #{number}"


def plain_key(file: File, texts: Sequence[str]) -> Key:
    """The texts of a key in the form in which keys are compared."""
    return tuple(
        (joined(*split(text)) if name in ("owner", "boat", "season") else text).casefold()
        for name, text in zip(file.key, texts, strict=True)
    )


def related(file: File) -> list[str]:
    """The paths to every record whose name stands in a row of this file."""
    paths = []
    for link in file.links:
        paths.append(link.field)
        if link.file:
            paths += [f"{link.field}__{path}" for path in related(BY_NAME[link.file])]
    return paths


class Rows:
    """The rows of one yard's records. Equal names are numbered in the order in which they were entered."""

    def __init__(self, yard: Yard) -> None:
        self.yard = yard
        self.numbers: dict[tuple[type[models.Model], int], int] = {}
        self.count: dict[tuple[Any, ...], int] = defaultdict(int)
        for model in (Owner, Boat, Treatment):
            for record in model._default_manager.filter(yard=yard).order_by("pk"):
                self.enter(record)

    def enter(self, record: Any) -> None:
        """Give a record the next number among those of its name."""
        like = (
            (Treatment, record.boat_id, record.season_id)
            if isinstance(record, Treatment)
            else (type(record), record.name.casefold())
        )
        self.count[like] += 1
        self.numbers[type(record), record.pk] = self.count[like]

    def records(self, file: File) -> list[Any]:
        """All records of this file in the yard, with those that they name."""
        model: Any = file.model
        found = model.objects.of(self.yard).filter(**file.where).order_by(*file.order)
        return list(found.select_related(*related(file)) if file.links else found)

    def key_texts(self, file: File, record: Any) -> list[str]:
        """The cells of the record's key."""
        if isinstance(record, Treatment):
            number = self.numbers[Treatment, record.pk]
            boat = self.key_texts(BY_NAME["boats.csv"], record.boat)[0]
            return [boat, joined(record.season.name, number)]
        if file.numbered:
            return [joined(record.name or "forgotten", self.numbers[type(record), record.pk])]
        texts = self.texts(file, record)
        return [texts[name] for name in file.key]

    def key(self, file: File, record: Any) -> Key:
        """The record's key in the form in which keys are compared."""
        return plain_key(file, self.key_texts(file, record))

    def texts(self, file: File, record: Any) -> dict[str, str]:
        """The text of every cell that stands for a field or a link of the record."""
        texts = dict.fromkeys((column.name for column in file.columns), "")
        for column in file.columns:
            if column.field:
                texts[column.name] = column.show(getattr(record, column.field))
        for link in file.links:
            target = getattr(record, link.field)
            if target is None:
                continue
            if link.file:
                texts.update(zip(link.columns, self.key_texts(BY_NAME[link.file], target), strict=True))
            else:
                texts[link.columns[-1]] = target.name
        if file.numbered:
            texts.update(zip(file.key, self.key_texts(file, record), strict=True))
        return texts
