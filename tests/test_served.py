"""Web server and worker side by side, as an installation runs them."""

from __future__ import annotations

import signal
from urllib.request import urlopen

from tests.served import Site, until


def test_a_worker_shows_itself_to_the_doctor_and_ends_when_told(served: Site) -> None:
    assert "none was ever heard of" in served.manage("doctor").stdout
    worker = served.start_worker()
    until(lambda: served.manage("doctor").returncode == 0, "the doctor finds all well")
    worker.send_signal(signal.SIGTERM)
    assert worker.wait(timeout=60) == 0, served.logs()


def test_a_visitor_finds_the_door_in_its_own_style(served: Site) -> None:
    address = served.start_web()
    with urlopen(f"{address}/login/", timeout=10) as page:  # noqa: S310
        html = page.read().decode()
    styles = [part.partition('"')[0] for part in html.split('href="') if part.startswith("/static/")]
    assert styles
    for style in styles:
        with urlopen(f"{address}{style}", timeout=10) as answer:  # noqa: S310
            assert answer.status == 200
