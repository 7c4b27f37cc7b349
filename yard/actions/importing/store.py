"""From sheets to records: each row is matched with what is stored, then added, changed or left as it is."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import IntegrityError, models, transaction
from django.db.models import F

from yard.actions.errors import sentence_for
from yard.actions.importing.columns import BY_NAME, FILES
from yard.actions.importing.read import Faults, Row, Sheet, values
from yard.actions.importing.rows import Key, Rows, joined, plain_key, split
from yard.actions.importing.tables import File, Link
from yard.models import Yard
from yard.models.base import Fact, Versioned
from yard.roles import Actor

Fields = dict[str, Any]


@dataclass
class Count:
    """What became of the rows of one file."""

    added: int = 0
    same: int = 0
    changed: int = 0

    def take(self, *, new: bool, changed: bool) -> None:
        """Count one row."""
        self.added += new
        self.changed += changed and not new
        self.same += not new and not changed


@dataclass
class Store:
    """One import at work. Everything happens inside the caller's transaction, which a fault undoes."""

    who: Actor
    sheets: Mapping[str, Sheet | None]
    faults: Faults
    notes: list[str] = field(default_factory=list)
    counts: dict[str, Count] = field(default_factory=lambda: defaultdict(Count))

    def __post_init__(self) -> None:
        self.rows = Rows(self.who.yard)
        self.index: dict[str, dict[Key, list[Any]]] = {}
        self.broken: dict[str, set[Key]] = defaultdict(set)
        seasons = [split(name)[0] for (name,) in self._names("seasons.csv")]
        self.season = seasons[0] if len(seasons) == 1 else None

    @property
    def yard(self) -> Yard:
        """The yard that is filled."""
        return self.who.yard

    def _names(self, name: str) -> set[Key]:
        """The keys of a file, stored or to come, as they are written."""
        sheet = self.sheets.get(name)
        texts = (
            {tuple(row.texts.get(key, "") for key in BY_NAME[name].key) for row in sheet.rows}
            if sheet
            else set()
        )
        stored = {tuple(self.rows.key_texts(BY_NAME[name], r)) for r in self.rows.records(BY_NAME[name])}
        by_key = {plain_key(BY_NAME[name], key): key for key in [*stored, *texts]}
        return set(by_key.values())

    # --- What is stored -----------------------------------------------------------------------------------
    def stored(self, name: str) -> dict[Key, list[Any]]:
        """The yard's records of a file by key; several where keys may repeat."""
        if name not in self.index:
            index: dict[Key, list[Any]] = defaultdict(list)
            for record in self.rows.records(BY_NAME[name]):
                index[self.rows.key(BY_NAME[name], record)].append(record)
            self.index[name] = index
        return self.index[name]

    def enter(self, name: str, record: Any) -> None:
        """Let a new record be found by the rows that follow."""
        if BY_NAME[name].numbered:
            self.rows.enter(record)
        self.stored(name)[self.rows.key(BY_NAME[name], record)].append(record)

    # --- Rows ---------------------------------------------------------------------------------------------
    def key_of(self, sheet: Sheet, given: Fields, names: tuple[str, ...], file: File) -> Key:
        """The key of `file` that a row's cells in the columns `names` make."""
        columns = {column.name: column for column in sheet.file.columns}
        return plain_key(file, [columns[name].show(given.get(name)) for name in names])

    def read(self, sheet: Sheet, row: Row) -> Fields:
        """Read a row's cells; an empty season is the yard's only one."""
        given = values(sheet, row, sheet.file.columns, self.faults)
        if any(column.name == "season" for column in sheet.file.columns) and sheet.file.name != "seasons.csv":
            if not given.get("season"):
                given["season"] = self.season
            if not given["season"]:
                self.faults.at(
                    sheet, row, "season", "The season is empty; write which one, as named in seasons.csv."
                )
        return given

    def link(self, sheet: Sheet, row: Row, link: Link, given: Fields) -> Any:
        """Find the record that a row names; None where it names none.

        A name that nobody knows is a fault. One whose own row is bad makes this row bad in silence.
        """
        if any(not given.get(name) and given.get(name) != 0 for name in link.columns):
            return None
        file = BY_NAME[link.file]
        if sheet.file.name == "treatments.csv" and link.field == "season":
            given = given | {"season": split(given["season"])[0]}
        key = self.key_of(sheet, given, link.columns, file)
        found = self.stored(link.file).get(key)
        if found:
            return found[0]
        if self._excused(link, key):
            row.bad = True
        else:
            self.faults.at(sheet, row, link.columns[-1], self._unknown(link, given, row))
        return None

    def _excused(self, link: Link, key: Key) -> bool:
        """Whether the row that is missed was there and bad, or its whole file was."""
        if key in self.broken[link.file] or (link.file in self.sheets and self.sheets[link.file] is None):
            return True
        return any(
            self._excused(parent, key[: len(parent.columns)]) for parent in BY_NAME[link.file].links[:1]
        )

    def _unknown(self, link: Link, given: Fields, row: Row) -> str:
        texts = [str(row.texts.get(name) or given.get(name)) for name in link.columns]
        first, last = texts[0], texts[-1]
        if "season" in link.columns:
            treatments = BY_NAME["treatments.csv"]
            opened = self.stored(treatments.name).get(plain_key(treatments, [first, str(given["season"])]))
            if link.file == treatments.name or not opened:
                return f"{first} has no treatment in {given['season']}; add it to treatments.csv."
            return f"{first} has no stage {last}; take a number from scheme_stages.csv or stages.csv."
        if link.file == "scheme_stages.csv":
            return f"The scheme {first} has no stage {last}; add it to scheme_stages.csv or correct it."
        if link.file == "airs.csv":
            return f"The shed {first} has no air “{last}”; add it to airs.csv or correct the name."
        return f"“{last}” is not in {link.file}; add it there or correct the name."

    # --- Writing ------------------------------------------------------------------------------------------
    def write(self, sheet: Sheet, row: Row, record: models.Model, doing: Callable[[], Any]) -> bool:
        """Hold a record against its fields' rules and write it; each breach is a fault of the row.

        The database holds the constraints; only if it refuses are they asked one by one for their sentences,
        for asking first takes a query each.
        """
        keys = [f.name for f in record._meta.concrete_fields if f.is_relation]
        self._hold(sheet, row, record, lambda: record.clean_fields(exclude=keys))
        if row.bad:
            return False
        try:
            with transaction.atomic():
                doing()
        except IntegrityError as error:
            self._hold(sheet, row, record, record.validate_unique)
            self._hold(sheet, row, record, record.validate_constraints)
            if not row.bad:
                self.faults.at(sheet, row, "", sentence_for(error))
        return not row.bad

    def _hold(self, sheet: Sheet, row: Row, record: models.Model, check: Callable[[], None]) -> None:
        columns = {column.field: column.name for column in sheet.file.columns if column.field}
        columns |= {link.field: link.columns[-1] for link in sheet.file.links}
        try:
            check()
        except ValidationError as error:
            for name, messages in error.message_dict.items():
                for message in messages:
                    at = _field_of(record, message) if name == NON_FIELD_ERRORS else name
                    self.faults.at(sheet, row, columns.get(at, ""), str(message))

    def add(self, sheet: Sheet, row: Row, record: models.Model) -> bool:
        """Store a new record, if it holds."""
        return self.write(sheet, row, record, lambda: record.save(force_insert=True))

    def change(self, sheet: Sheet, row: Row, record: Any, fields: Fields) -> bool:
        """Give a stored record these values; a fact is replaced by a new row. False if nothing differs."""
        different = {name: value for name, value in fields.items() if getattr(record, name) != value}
        if not different:
            return False
        if isinstance(record, Fact):
            stay = {f.name for f in record._meta.concrete_fields} - {"id", "replaces", "superseded"}
            self.replace(sheet, row, record, {name: getattr(record, name) for name in stay} | different)
            return True
        for name, value in different.items():
            setattr(record, name, value)
        version = {"version": F("version") + 1} if isinstance(record, Versioned) else {}
        rows = type(record)._default_manager.filter(pk=record.pk)
        if self.write(sheet, row, record, lambda: rows.update(**different, **version)) and version:
            record.version += 1
        return True

    def replace(self, sheet: Sheet, row: Row, former: Any, fields: Fields) -> Any:
        """Put a new fact in the place of a former one, and give it."""
        type(former)._default_manager.filter(pk=former.pk).update(superseded=True)
        record = type(former)(**fields, replaces=former)
        self.add(sheet, row, record)
        return record

    # --- Sheets -------------------------------------------------------------------------------------------
    def run(
        self,
        whole: Mapping[str, Callable[[Store, Sheet], None]],
        prepare: Mapping[str, Any],
        after: Mapping[str, Any],
    ) -> None:
        """Take every sheet in the table's order.

        Args:
            whole: files that are stored by code of their own.
            prepare: done with a row's values before they are stored: (store, sheet, row, given, fields).
            after: done once a row is stored: (store, sheet, row, given, record, new?) -> changed?
        """
        for file in FILES:
            sheet = self.sheets.get(file.name)
            if sheet is None:
                continue
            self.counts[file.name] = Count()
            if file.name in whole:
                whole[file.name](self, sheet)
            else:
                self._sheet(sheet, prepare.get(file.name), after.get(file.name))

    def _sheet(self, sheet: Sheet, prepare: Any, after: Any) -> None:
        file = sheet.file
        seen: Counter[Key] = Counter()
        first: dict[Key, int] = {}
        rows = [(row, self.read(sheet, row)) for row in sheet.rows]
        rows.sort(key=lambda pair: _opens(pair[1]))
        for row, given in rows:
            key = self.key_of(sheet, given, file.key, file)
            fields = {c.field: given[c.name] for c in file.columns if c.field and c.name in given}
            for link in file.links:
                if link.file and (link.columns[-1] in sheet.columns or link.columns[-1] == "season"):
                    fields[link.field] = self.link(sheet, row, link, given)
            if file.numbered and "name" in fields:
                fields["name"] = split(fields["name"])[0]
            if prepare and not row.bad:
                prepare(self, sheet, row, given, fields)
            number, seen[key] = seen[key], seen[key] + 1
            if number and not file.repeated and not row.bad:
                self.faults.at(sheet, row, file.key[0], _twice(file, given, first[key]))
            first.setdefault(key, row.number)
            if row.bad:
                self.broken[file.name].add(key)
                continue
            stored = self.stored(file.name).get(key, [])
            if len(stored) > number:
                record, new = stored[number], False
                changed = not file.chained and self.change(sheet, row, record, fields)
            else:
                if file.numbered and not self._next(sheet, row, given):
                    continue
                record, new, changed = self._make(file, fields), True, True
                if self.add(sheet, row, record):
                    self.enter(file.name, record)
            if after and not row.bad:
                changed = after(self, sheet, row, given, record, new) or changed
            self._close(sheet, row, key, new=new, changed=changed)

    def _close(self, sheet: Sheet, row: Row, key: Key, *, new: bool, changed: bool) -> None:
        """Count a row, and keep the key of a bad one from being missed aloud."""
        if row.bad:
            self.broken[sheet.file.name].add(key)
        self.counts[sheet.file.name].take(new=new, changed=changed)

    def _make(self, file: File, fields: Fields) -> Any:
        owned = {"yard": self.yard} if any(f.name == "yard" for f in file.model._meta.concrete_fields) else {}
        record: Any = file.model(**owned, **fields)
        if file.chained:
            former = file.model._default_manager.filter(treatment=record.treatment, superseded=False).first()
            if former:
                file.model._default_manager.filter(pk=former.pk).update(superseded=True)
                record.replaces = former
        return record

    def _next(self, sheet: Sheet, row: Row, given: Fields) -> bool:
        """Whether a new name's number is the next one free."""
        column = "season" if sheet.file.name == "treatments.csv" else sheet.file.key[0]
        name, number = split(given[column])
        before = {**given, column: joined(name, number - 1)}
        if number == 1 or self.stored(sheet.file.name).get(
            self.key_of(sheet, before, sheet.file.key, sheet.file)
        ):
            return True
        self.faults.at(
            sheet, row, column, f"There is no “{before[column]}” above it; number names without a gap."
        )
        self.broken[sheet.file.name].add(self.key_of(sheet, given, sheet.file.key, sheet.file))
        return False


def _opens(given: Fields) -> bool:
    """Whether a row opens something of which there may be one: those that close come first."""
    return given.get("status") == "running" or ("until_on" in given and given["until_on"] is None)


def _twice(file: File, given: Fields, row: int) -> str:
    what = ", ".join(str(file.column(name).show(given.get(name))) for name in file.key if given.get(name))
    if file.numbered:
        name = split(str(given[file.key[-1]]))[0]
        return (
            f"“{what}” is in row {row} already; take one out, or write “{name} #2” if this is a second one."
        )
    return f"“{what}” is in row {row} already; take one of the rows out."


def _field_of(record: models.Model, message: str) -> str:
    """The one field that a broken rule is about, if it is about one."""
    for rule in record._meta.constraints:
        condition = getattr(rule, "condition", None)
        names = set(getattr(rule, "fields", ())) | set(getattr(condition, "referenced_base_fields", ()))
        if rule.violation_error_message == message and len(names) == 1:
            return str(names.pop())
    return ""
