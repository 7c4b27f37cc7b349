"""Entries sent under a key: each is done once, and sent again it gets the first answer."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import is_dataclass
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import models
from django.utils import timezone

from yard.actions.errors import Refused
from yard.models import Delivery
from yard.models.base import Record
from yard.roles import Actor


def earlier(who: Actor, key: UUID) -> Delivery | None:
    """The entry this account sent before under the key."""
    return Delivery.objects.filter(user=who.user, key=key).first()


def receive(who: Actor, key: UUID, name: str, body: str, given: Mapping[str, Any]) -> Delivery:
    """Take the key first, so that a second sender waits here and then finds the answer."""
    return Delivery.objects.create(
        user=who.user,
        key=key,
        action=name,
        body_sha256=body,
        answer={},
        taken_at=given.get("taken_at"),
        received_at=timezone.now(),
    )


def body(name: str, who: Actor, given: Mapping[str, Any]) -> str:
    """A digest of what was asked; the moment it was written down is not part of it."""
    asked = {word: plain(value) for word, value in given.items() if word not in ("key", "taken_at")}
    text = json.dumps([name, who.yard.pk, asked], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


def answer(record: Any) -> dict[str, Any]:
    """What an entry got for an answer, as it is kept."""
    if not isinstance(record, Record):
        raise TypeError("an action that takes a key returns a record")
    return {"label": record._meta.label_lower, "pk": record.pk, "said": record.said}


def replay(delivery: Delivery, body: str) -> Record:
    """The first answer once more.

    Raises:
        Refused: if the entry says something else now.
    """
    if delivery.body_sha256 != body:
        raise Refused("An entry with this key came before and said something else: enter it anew.", "key")
    manager: Any = apps.get_model(delivery.answer["label"])._default_manager
    record: Record = manager.get(pk=delivery.answer["pk"])
    record.said = delivery.answer["said"]
    return record


def plain(value: Any) -> Any:
    """The value as JSON holds it: days and instants in ISO form, amounts as text, records as "label:pk"."""
    match value:
        case models.Model():
            return f"{value._meta.label_lower}:{value.pk}"
        case Decimal():
            return format(value.normalize(), "f")
        case datetime() | date() | time():
            return value.isoformat()
        case UUID():
            return str(value)
        case Mapping():
            return {str(name): plain(item) for name, item in value.items()}
        case list() | tuple() | models.QuerySet():
            return [plain(item) for item in value]
        case None | bool() | int() | float() | str():
            return value
    if is_dataclass(value) and not isinstance(value, type):
        return {name: plain(getattr(value, name)) for name in value.__dataclass_fields__}
    raise TypeError(f"a {type(value).__name__} has no plain form")
