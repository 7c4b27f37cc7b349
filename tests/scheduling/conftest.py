"""The demo yard, imported once for all tests of a file that ask for it; each test's own changes are taken back."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction

from yard.actions.importing.action import bring_yard
from yard.models import Season

DEMO = Path(__file__).parents[2] / "demo"


@pytest.fixture(scope="module")
def _demo_imported(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    with django_db_blocker.unblock(), transaction.atomic():
        bring_yard(DEMO)
        yield
        transaction.set_rollback(True)


@pytest.fixture
def season(_demo_imported: None, db: None) -> Season:
    """The demo yard's winter."""
    return Season.objects.get()
