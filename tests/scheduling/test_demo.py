"""The demo: one command from nothing to a posted winter that can be looked at."""

from __future__ import annotations

import http.cookiejar
import json
import re
import signal
import socket
import subprocess
import sys
from urllib.error import URLError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, OpenerDirector, Request, build_opener

import pytest

from tests.scheduling.test_pack_processes import offspring
from tests.scheduling.test_runner import gone
from tests.served import Site, until
from tests.shell import ROOT

KEYS = ["boats", "placed", "breaches", "late_boats", "late_days", "cost", "bound", "first_plan_s", "seconds"]


@pytest.fixture
def demo(served: Site) -> Site:
    """A site on which the demo has been made, packed and posted once, without being served."""
    done = served.manage("demo", "--once", "--seconds", "3")
    assert done.returncode == 0, done.stdout + done.stderr
    served.said = done.stdout  # type: ignore[attr-defined]
    return served


def accounts(said: str) -> dict[str, str]:
    """The accounts that the demo has printed: {name: password}."""
    return dict(re.findall(r"^  (manager|crew|office) +(\S+)", said, re.MULTILINE))


def log_in(opener: OpenerDirector, address: str, name: str, password: str) -> str:
    """Log in by the form; the address one is sent to."""
    page = opener.open(f"{address}/login/", timeout=30).read().decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
    assert token
    form = {"username": name, "password": password, "csrfmiddlewaretoken": token[1]}
    headers = {"Referer": f"{address}/login/"}
    asked = Request(f"{address}/login/", urlencode(form).encode(), headers)  # noqa: S310 our own site
    return str(opener.open(asked, timeout=30).geturl())


def test_once_packs_and_posts_the_winter_and_ends_with_its_figures(demo: Site) -> None:
    said = demo.said  # type: ignore[attr-defined]
    figures = json.loads(said.splitlines()[-1])
    assert list(figures) == KEYS
    assert figures["boats"] == 32 and 0 < figures["placed"] <= 32
    assert figures["breaches"] == 0
    assert figures["bound"] is None or 0 < figures["bound"] <= figures["cost"]
    assert figures["late_days"] >= figures["late_boats"] >= figures["boats"] - figures["placed"]
    assert accounts(said).keys() == {"manager", "crew", "office"}


def test_it_serves_lets_its_accounts_in_and_ends_with_all_it_began(demo: Site) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    log = demo.folder / "demo.log"
    with log.open("wb") as out:
        command = [sys.executable, "manage.py", "demo", "--port", str(port)]
        process = subprocess.Popen(command, cwd=ROOT, env=demo.environment, stdout=out, stderr=out)
    try:
        address = f"http://127.0.0.1:{port}"
        opener = build_opener(HTTPCookieProcessor(http.cookiejar.CookieJar()))

        def answers() -> bool:
            assert process.poll() is None, log.read_text()
            try:
                return bool(opener.open(f"{address}/healthz", timeout=5).status == 200)
            except (URLError, OSError):
                return False

        until(answers, "the demo answers")
        passwords = accounts(log.read_text())
        before = accounts(demo.said)  # type: ignore[attr-defined]
        assert not set(passwords.values()) & set(before.values()), "a new run makes new passwords"
        assert "/login/" in log_in(opener, address, "manager", before["manager"])
        assert "/login/" not in log_in(opener, address, "manager", passwords["manager"])
        assert "Packing" not in log.read_text(), "a posted plan is left alone"
        begun = offspring(process.pid)
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=60) == 0, log.read_text()
        assert begun and all(gone(pid) for pid in begun)
    finally:
        process.kill()
        process.wait()


def test_a_port_that_is_taken_is_said_before_any_work(served: Site) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        done = served.manage("demo", "--port", str(taken.getsockname()[1]))
    assert done.returncode == 1 and "is taken" in done.stderr
    assert "imported" not in done.stdout
