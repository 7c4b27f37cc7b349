"""The form every action has: role and yard checked, one transaction, entries done once, history written."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextvars import ContextVar
from dataclasses import dataclass, is_dataclass
from datetime import date
from functools import partial, wraps
from typing import Any, ParamSpec, TypeVar, cast
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction
from django.db.models import F
from django.dispatch import Signal
from django.utils import timezone

from yard.actions import deliveries
from yard.actions.deliveries import plain
from yard.actions.errors import NotAllowed, NotYours, Refused, Stale, refuse, sentence_for
from yard.models import Delivery, Entry
from yard.models.base import Record
from yard.roles import Actor

__all__ = [
    "NotAllowed",
    "NotYours",
    "Refused",
    "Stale",
    "acted",
    "action",
    "add",
    "change",
    "check",
    "locked",
    "log",
    "not_ahead",
    "plain",
    "save",
]

P = ParamSpec("P")
T = TypeVar("T", bound=Record)
A = TypeVar("A")

acted = Signal()
"""Sent when an action's transaction is stored: `action` (its name), `yard`, `record` (what it returned)."""


@dataclass(frozen=True)
class Running:
    """The action at work: its name in the history, and the entry it was sent in."""

    name: str
    delivery: Delivery | None


_running: ContextVar[Running] = ContextVar("running")


def action(*roles: str) -> Callable[[Callable[P, A]], Callable[P, A]]:
    """Make a function the one way to do something, for these roles.

    The function's first argument is the `Actor`; the rest is given by name. If it takes `key` (and
    `taken_at`), the same key is done once: sent again it returns the first answer; with another content it
    is refused.

    Raises:
        NotAllowed: for any other role.
        NotYours: if a record among the arguments belongs to another yard.
        Refused: if a rule of the records says no, or the key came before with another content.
        Stale: if somebody saved first.
    """

    def wrap(function: Callable[P, A]) -> Callable[P, A]:
        name = function.__name__

        @wraps(function)
        def run(*args: P.args, **kwargs: P.kwargs) -> A:
            (who,) = cast(tuple[Actor], args)
            if who.role not in roles:
                raise NotAllowed(f"Only {' or '.join(roles)} may do this.")
            for record in _records(kwargs.values()):
                if record.home().pk != who.yard.pk:
                    raise NotYours("No such record.")
            key = cast(UUID | None, kwargs.get("key"))
            body = deliveries.body(name, who, kwargs) if key else ""
            try:
                with transaction.atomic():
                    if key and (before := deliveries.earlier(who, key)):
                        return cast(A, deliveries.replay(before, body))
                    delivery = deliveries.receive(who, key, name, body, kwargs) if key else None
                    token = _running.set(Running(name, delivery))
                    try:
                        answer = function(*args, **kwargs)
                    finally:
                        _running.reset(token)
                    if delivery:
                        delivery.answer = deliveries.answer(answer)
                        delivery.save(update_fields=["answer"])
                    transaction.on_commit(
                        partial(acted.send_robust, None, action=name, yard=who.yard, record=answer)
                    )
                    return answer
            except IntegrityError as error:
                # The same entry may have come twice at once: then the first one's answer is the answer.
                if key and (before := deliveries.earlier(who, key)):
                    return cast(A, deliveries.replay(before, body))
                raise Refused(sentence_for(error)) from error

        marked: Any = run
        marked.roles = roles
        return run

    return wrap


# --- What actions do to records ---------------------------------------------------------------------------
def add(who: Actor, record: T, *, why: str = "", also: Mapping[str, Any] | None = None) -> T:
    """Store a new record and write it into the history; `also` rides along there (say, a round's readings).

    Raises:
        Refused: with the broken rule's own sentence.
        NotYours: if the record, or one it points at, belongs to another yard.
    """
    check(who, record)
    record.save(force_insert=True)
    after = {field.attname: plain(getattr(record, field.attname)) for field in record._meta.concrete_fields}
    log(who, record, after={**after, **(plain(also) if also else {})}, why=why)
    return record


def change(who: Actor, record: T, *, version: int | None = None, why: str = "", **fields: Any) -> T:
    """Change some fields of a stored record; nothing is written if nothing differs.

    Args:
        version: the version the person looked at, where the record has versions and a person edited it.

    Raises:
        Stale: if the record has moved on since.
        Refused, NotYours: as `add`.
    """
    kept = fields.keys() & {"id", "pk", "yard", "yard_id", "version"}
    if kept:
        raise TypeError(f"no action changes {sorted(kept)}")
    stored = locked(record)
    if version is not None and getattr(stored, "version", version) != version:
        raise Stale(stored)
    columns = [record._meta.get_field(name) for name in fields]
    names = [column.attname for column in columns if isinstance(column, models.Field)]
    before = {name: getattr(stored, name) for name in names}
    for name, value in fields.items():
        setattr(stored, name, value)
    check(who, stored)
    changed = {name: getattr(stored, name) for name in names if getattr(stored, name) != before[name]}
    if changed:
        _swap(who, stored, changed)
        log(
            who,
            stored,
            before={name: plain(before[name]) for name in changed},
            after=plain(changed),
            why=why,
        )
    return stored


def save(who: Actor, model: type[T], record: T | None, version: int | None, fields: Mapping[str, Any]) -> T:
    """Change the record if there is one, else add one to the actor's yard.

    Raises:
        Refused, Stale, NotYours: as `add` and `change`.
    """
    if record is None:
        return add(who, model(yard=who.yard, **fields))
    return change(who, record, version=version, **fields)


def locked(record: T) -> T:
    """The record as it stands now, kept from others until the transaction ends where the database can."""
    manager: Any = type(record)._default_manager
    found: T = manager.select_for_update(of=("self",)).get(pk=record.pk)
    return found


def check(who: Actor, record: Record) -> None:
    """Hold a record against its fields' rules, its constraints and its yard, before the database must.

    Raises:
        Refused: with the first broken rule's sentence and field.
        NotYours: if the record, or one it points at, belongs to another yard.
    """
    for field in record._meta.concrete_fields:
        target = getattr(record, field.name) if field.is_relation and getattr(record, field.attname) else None
        if isinstance(target, Record) and target.home().pk != who.yard.pk:
            raise NotYours("No such record.")
    if record.home().pk != who.yard.pk:
        raise NotYours("No such record.")
    try:
        record.full_clean()
    except ValidationError as error:
        refuse(record, error)


def log(
    who: Actor,
    record: models.Model,
    *,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    why: str = "",
) -> Entry:
    """Write one line of history about a record."""
    running = _running.get()
    return Entry.objects.create(
        yard=who.yard,
        at=timezone.now(),
        user=who.user,
        action=running.name,
        about_label=record._meta.label_lower,
        about_pk=record.pk,
        before=before,
        after=after,
        why=why[:200],
        delivery=running.delivery,
    )


def not_ahead(who: Actor, day: date, field: str = "on") -> None:
    """Refuse to record what has not happened yet."""
    if day > who.today:
        raise Refused(f"{day:%-d %b %Y} is still to come; record it on the day.", field)


# --- Small parts --------------------------------------------------------------------------------------
def _swap(who: Actor, record: Record, changed: dict[str, Any]) -> None:
    """Write, but only over the version that was read."""
    rows: Any = type(record).objects.of(who.yard).filter(pk=record.pk)
    versioned: Any = record if hasattr(record, "version") else None
    if versioned:
        count = rows.filter(version=versioned.version).update(**changed, version=F("version") + 1)
        versioned.version += 1
    else:
        count = rows.update(**changed)
    if count != 1:
        raise Stale(rows.first())


def _records(values: Iterable[Any]) -> Iterator[Record]:
    """Every record among the arguments, also inside lists, mappings and small values."""
    for value in values:
        match value:
            case Record():
                yield value
            case Mapping():
                yield from _records(value.values())
            case list() | tuple():
                yield from _records(value)
            case _ if is_dataclass(value) and not isinstance(value, type):
                yield from _records([getattr(value, name) for name in value.__dataclass_fields__])
