"""The pages in a browser, on a live server with a full winter."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tests.cast import PASSWORD, TODAY, Cast
from tests.scheduling.full_winter import FullWinter


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
def plain_page(page: Any) -> Iterator[Any]:
    """A page in a browser without JavaScript, on a phone."""
    context = page.context.browser.new_context(
        java_script_enabled=False, viewport={"width": 390, "height": 844}
    )
    yield context.new_page()
    context.close()
