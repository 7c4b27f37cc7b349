"""A browser on the pages: Debian's Chromium driven by playwright, on a live server with a full winter."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tests.cast import PASSWORD, TODAY, Cast
from tests.scheduling.full_winter import FullWinter

CHROMIUM = os.environ.get("CHROMIUM") or next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))),
    None,
)
try:
    import pytest_playwright  # noqa: F401
except ModuleNotFoundError:
    WHY = "needs playwright (pip install -r requirements-e2e.txt)"

    @pytest.fixture
    def browser() -> None:
        """There is no browser to drive."""
        pytest.skip(WHY)

    @pytest.fixture
    def page(browser: None) -> None:
        """Nor a page in it."""
else:
    WHY = "" if CHROMIUM else "needs chromium (apt-get install chromium)"

    @pytest.fixture(scope="session")
    def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
        """Use the system's Chromium; as root it runs only without its sandbox."""
        if WHY:
            pytest.skip(WHY)
        # Playwright's loop runs in this thread; Django would take it for asynchronous code of ours.
        os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        arguments = ["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"]
        return {**browser_type_launch_args, "executable_path": CHROMIUM, "args": arguments}

    @pytest.fixture(scope="session")
    def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
        """English as the yard speaks it."""
        return {**browser_context_args, "locale": "en-GB"}


@pytest.fixture
def full(transactional_db: None, settings: Any) -> FullWinter:
    """The full winter on its day."""
    settings.SHEDTIDE_TODAY = TODAY
    return FullWinter(Cast())


def enter(page: Any, site: str, name: str) -> None:
    """Log in by the form, as a person does."""
    page.goto(f"{site}/login/")
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    page.wait_for_url("**/quiet-creek/**")


@pytest.fixture
def log_in(page: Any, live_server: Any) -> Callable[[str], None]:
    """Log in on the test's page."""
    return lambda name: enter(page, live_server.url, name)


@pytest.fixture
def plain_page(browser: Any) -> Iterator[Any]:
    """A page in a browser without JavaScript, on a phone."""
    context = browser.new_context(
        java_script_enabled=False, viewport={"width": 390, "height": 844}, locale="en-GB"
    )
    yield context.new_page()
    context.close()
