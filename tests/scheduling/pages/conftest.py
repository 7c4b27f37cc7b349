"""The full winter, for every test of the pages."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.cast import TODAY, Cast, made_once
from tests.scheduling.full_winter import FullWinter


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any) -> Iterator[FullWinter]:
    """The full winter, made once a module: each test's own changes are taken back to it."""
    with made_once(lambda: FullWinter(Cast()), django_db_blocker) as made:
        yield made


@pytest.fixture
def full(built: FullWinter, db: None, settings: Any) -> FullWinter:
    """The full winter on the demo's day."""
    settings.SHEDTIDE_TODAY = TODAY
    return built
