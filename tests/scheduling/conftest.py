"""A small winter and what is asked of it; and the demo yard. Both are made once for all tests of a file."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from copy import deepcopy
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from django.test import override_settings

from scheduling.actions.packing import work_on
from scheduling.actions.packs import ask_pack
from scheduling.loading import Loaded, load
from scheduling.models import Board, Pack
from tests.cast import TODAY, Cast, made_once
from tests.scheduling.winter import engine, small_winter
from yard.actions.importing.action import bring_yard
from yard.models import Season

DEMO = Path(__file__).parents[2] / "demo"


@pytest.fixture(scope="module")
def _demo_imported(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    with made_once(partial(bring_yard, DEMO), django_db_blocker):
        yield


@pytest.fixture
def season(_demo_imported: None, db: None) -> Season:
    """The demo yard's winter."""
    return Season.objects.get()


@pytest.fixture(scope="module")
def _demo_loaded(_demo_imported: None, django_db_blocker: Any) -> Loaded:
    with django_db_blocker.unblock():
        return load(Season.objects.get(), today=TODAY)


@pytest.fixture
def loaded(_demo_loaded: Loaded, db: None) -> Loaded:
    """The demo yard's winter as a Problem, as its folder says; to be read, not changed."""
    return _demo_loaded


@pytest.fixture
def cast(db: None) -> Cast:
    """The cast, made anew: some tests here make another for themselves in the same file."""
    return Cast()


@pytest.fixture(scope="module")
def _winter_made(django_db_setup: None, django_db_blocker: Any) -> Iterator[Cast]:
    def make() -> Cast:
        cast = Cast()
        with override_settings(SHEDTIDE_TODAY=TODAY):
            small_winter(cast)
        return cast

    with made_once(make, django_db_blocker) as made:
        yield made


@pytest.fixture
def winter(_winter_made: Cast, db: None, settings: Any) -> Cast:
    """The cast with a small winter on the demo's day."""
    settings.SHEDTIDE_TODAY = TODAY
    return deepcopy(_winter_made)


@pytest.fixture
def packed(winter: Cast) -> Callable[..., Pack]:
    """Ask for a pack and let a simple engine do it."""

    def pack(act: str = "good", **asked: Any) -> Pack:
        pack = ask_pack(winter.manager, season=winter.season, **asked)
        work_on(pack.pk, worker="test", command=engine(act))
        pack.refresh_from_db()
        return pack

    return pack


@pytest.fixture
def board(winter: Cast) -> Callable[[], Board]:
    """The season's board as it stands now."""
    return lambda: Board.objects.get(season=winter.season)
