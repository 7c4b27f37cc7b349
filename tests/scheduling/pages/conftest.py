"""The full winter, for every test of the pages."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction

from tests.cast import TODAY, Cast
from tests.scheduling.full_winter import FullWinter


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any) -> Iterator[FullWinter]:
    """The full winter, made once a module: each test's own changes are taken back to it."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield FullWinter(Cast())
        transaction.set_rollback(True)


@pytest.fixture
def full(built: FullWinter, db: None, settings: Any) -> FullWinter:
    """The full winter on the demo's day."""
    settings.SHEDTIDE_TODAY = TODAY
    return built
