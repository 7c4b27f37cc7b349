"""What every test gets: cheap passwords, a broker in memory, marks from the fixtures used, and the tally."""

from __future__ import annotations

import json
import os
import shutil
import uuid
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings

from tests import tally
from tests.served import Site, site

# The fixtures that say what a test touches; the first layer that fits is the test's mark.
LAYERS = {
    "browser": {"page", "context", "browser"},
    "served": {"served"},
    "db": {"db", "transactional_db", "live_server", "admin_client", "cast"},
}
CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
NEEDS_CHROMIUM = "needs chromium (apt-get install chromium), then make test again"


def pytest_configure(config: pytest.Config) -> None:
    """Make passwords cheap and keep every test's messages inside its own process."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.CELERY_BROKER_URL = "memory://"
    settings.CELERY_BROKER_TRANSPORT_OPTIONS = {}
    if not config.pluginmanager.hasplugin("playwright"):
        config.pluginmanager.register(NoBrowser(), "no-browser")


@pytest.fixture(scope="session", autouse=True)
def data_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Keep what tests write out of the folder that a person's own yard lies in."""
    kept, settings.SHEDTIDE_DATA = settings.SHEDTIDE_DATA, tmp_path_factory.mktemp("data")
    yield settings.SHEDTIDE_DATA
    settings.SHEDTIDE_DATA = kept


@pytest.fixture(scope="session")
def test_size() -> str:
    """Say how long the long tests may be: small, full or soak."""
    size = os.environ.get("TEST_SIZE", "small")
    if size not in {"small", "full", "soak"}:
        raise pytest.UsageError(f"TEST_SIZE is small, full or soak, not {size}")
    return size


@pytest.fixture(scope="module")
def _cast_made(django_db_setup: None, django_db_blocker: Any) -> Iterator[Any]:
    from tests.cast import Cast, made_once

    with made_once(Cast, django_db_blocker) as made:
        yield made


@pytest.fixture
def cast(_cast_made: Any, db: None) -> Any:
    """A yard with a manager, a crew member and an office hand; a stranger; another yard (tests/cast.py)."""
    return deepcopy(_cast_made)


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Site]:
    """A site of its own, migrated and empty: `start_web()` and `start_worker()` start its processes."""
    with site(tmp_path) as made:
        yield made


# --- The browser ------------------------------------------------------------------------------------------
class NoBrowser:
    """Stands in for the browser's own fixtures where they are not installed: says what is missing."""

    @pytest.fixture
    def page(self) -> None:
        """Leave the test out, with what to do about it."""
        pytest.skip(NEEDS_CHROMIUM)


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    """Start the system's own Chromium, also as root and in small containers."""
    if CHROMIUM is None:
        pytest.skip(NEEDS_CHROMIUM)
    # The browser's library keeps an event loop in this thread, in which Django would refuse its database.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    return {
        "executable_path": CHROMIUM,
        "args": ["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"],
    }


# --- Marks ------------------------------------------------------------------------------------------------
@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark each test by what its fixtures touch; number those that stand for a moment or a promise kept."""
    for item in items:
        fixtures = set(getattr(item, "fixturenames", ()))
        if item.get_closest_marker("django_db"):
            fixtures.add("db")
        for layer, names in LAYERS.items():
            if fixtures & names:
                item.add_marker(layer)
                break
        for kind, most in tally.KINDS.items():
            for mark in item.iter_markers(kind):
                (number,) = mark.args
                if not 1 <= number <= most:
                    raise pytest.UsageError(f"{item.nodeid}: {kind}({number}) is not within 1 to {most}")
                item.user_properties.append((kind, number))


# --- The end of a run -------------------------------------------------------------------------------------
def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Print the tally; the workers of a parallel run have handed their reports over by now."""
    part = tally.count(terminalreporter.stats)
    terminalreporter.write_line(tally.line([part]))
    if folder := os.environ.get("TALLY"):
        (Path(folder) / f"{uuid.uuid4()}.json").write_text(json.dumps(part))


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """Fail a run that left something out where NO_SKIPS says that everything needed is there."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("NO_SKIPS") == "1" and reporter is not None and reporter.stats.get("skipped"):
        reporter.write_line("NO_SKIPS: a test left out counts as failed", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
