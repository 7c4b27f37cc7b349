"""What an action says when it does not do what was asked."""

from typing import NoReturn

from django.apps import apps
from django.core.exceptions import NON_FIELD_ERRORS, PermissionDenied, ValidationError
from django.db import IntegrityError
from django.http import Http404

from yard.models.base import Record


class Refused(Exception):  # what happened, in the yard's words
    """The action is not done; the sentence says why and what to do instead. `field` is the one to mend."""

    status = 422

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


class Stale(Exception):
    """Somebody saved the record in the meantime; `theirs` is what stands there now."""

    status = 409

    def __init__(self, theirs: Record | None) -> None:
        self.sentence = (
            "Somebody changed this in the meantime: look at what stands there now, then save again."
        )
        super().__init__(self.sentence)
        self.theirs = theirs


class NotYours(Http404):
    """The record belongs to another yard: for this actor it does not exist."""

    status = 404


class NotAllowed(PermissionDenied):
    """The actor's role may not do this."""

    status = 403


def sentence_for(error: IntegrityError) -> str:
    """The sentence of the rule a database refused by; both databases name it, each in its own way."""
    text = str(error)
    for model in apps.get_models():
        meta = model._meta
        for rule in meta.constraints:
            columns = ", ".join(
                f"{meta.db_table}.{meta.get_field(name).column}"  # type: ignore[union-attr]
                for name in getattr(rule, "fields", ())
            )
            if rule.name in text or (columns and text.endswith(f": {columns}")):
                return str(rule.get_violation_error_message())
    return "That clashes with what is stored already; look again before you save."


def refuse(record: Record, error: ValidationError) -> NoReturn:
    """Raise `Refused` with the first sentence of what a record's own check found."""
    field, messages = next(iter(error.message_dict.items()))
    sentence = str(messages[0])
    if field == NON_FIELD_ERRORS:
        raise Refused(sentence) from error
    label = str(getattr(record._meta.get_field(field), "verbose_name", field)).capitalize()
    raise Refused(f"{label}: {sentence[:1].lower()}{sentence[1:]}", field) from error
