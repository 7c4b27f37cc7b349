"""Pictures of the first page of each side, wide and narrow, of the yard in the data folder: `make shots`.

With `--readme FOLDER` the three that the README shows are stored there instead, one a side, not too heavy.
The browser is let in by a session made here, so no password is needed or kept.
"""

from __future__ import annotations

import argparse
import os
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path
from urllib.request import urlopen

import django
from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "yard.settings")
django.setup()

from django.conf import settings  # noqa: E402
from django.test import Client  # noqa: E402

from yard.models import Membership, Role, Yard  # noqa: E402

SIDES = {Role.MANAGER: "wall", Role.CREW: "today", Role.OFFICE: "desk"}
WIDTHS = {1440: 900, 390: 844}  # [px] of a desk's screen and of a phone, with their heights
README = {Role.MANAGER: (1440, 900), Role.CREW: (390, 844), Role.OFFICE: (1280, 720)}  # [px] width and height
MOST = 250_000  # [bytes] a picture in the README may have


def free_port() -> int:
    """Return a port that nothing listens on."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
        return port


def wait_for(address: str) -> None:
    """Return once the site answers at `address`."""
    for _ in range(100):
        try:
            urlopen(f"{address}/healthz", timeout=5).close()  # noqa: S310
            return
        except OSError:
            time.sleep(0.1)
    sys.exit("the site did not answer within ten seconds")


def sign_in(member: Membership) -> str:
    """Return the key of a session of `member`'s account."""
    client = Client()
    client.force_login(member.user)
    return client.cookies[settings.SESSION_COOKIE_NAME].value


def picture(browser: Browser, address: str, session: str, path: str, target: Path, width: int) -> None:
    """Store how `path` looks to `session` in a window `width` wide [px]."""
    context = browser.new_context(viewport={"width": width, "height": WIDTHS[width]})
    context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": address}])
    page = context.new_page()
    answer = page.goto(f"{address}{path}")
    if answer is None or not answer.ok:
        sys.exit(f"{path} answers {answer.status if answer else 'nothing'}")
    page.screenshot(path=target, full_page=True)
    context.close()


def shoot(address: str, members: list[Membership], folder: Path) -> None:
    """Take every side's picture at every width into `folder`."""
    jobs = [
        (sign_in(member), f"/{member.yard.slug}/{SIDES[role]}/", SIDES[role])
        for member in members
        if (role := Role(member.role)) in SIDES
    ]
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium(), args=["--no-sandbox", "--disable-gpu"])
        for session, path, side in jobs:
            for width in WIDTHS:
                target = folder / f"{side}-{width}.png"
                picture(browser, address, session, path, target, width)
                print(target)
        browser.close()


def shoot_readme(address: str, members: list[Membership], folder: Path) -> None:
    """Take one screenful a side into `folder`; the Desk tells the first boat whose day the plan misses."""
    folder.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium(), args=["--no-sandbox", "--disable-gpu"])
        for member in members:
            side, (width, height) = SIDES[Role(member.role)], README[Role(member.role)]
            context = browser.new_context(viewport={"width": width, "height": height})
            context.add_cookies(
                [{"name": settings.SESSION_COOKIE_NAME, "value": sign_in(member), "url": address}]
            )
            page = context.new_page()
            page.goto(f"{address}/{member.yard.slug}/{side}/")
            first = page.locator(".ring a")
            if first.count():
                first.first.click()
                page.wait_for_url("**?q=*")
            target = folder / f"{side}.png"
            page.screenshot(path=target)
            context.close()
            if target.stat().st_size > MOST:
                sys.exit(f"{target} has {target.stat().st_size} bytes, {MOST} at most")
            print(target)
        browser.close()


def chromium() -> str | None:
    """The browser of the machine, if it has one."""
    return shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


def main() -> None:
    """Serve the site on a port of its own for as long as the pictures take."""
    options = argparse.ArgumentParser(description=main.__doc__)
    options.add_argument("--readme", type=Path, metavar="FOLDER")
    readme: Path | None = options.parse_args().readme
    yard = Yard.objects.order_by("-is_sample", "pk").first()
    members = {
        member.role: member
        for member in Membership.objects.filter(yard=yard, ended_on=None).select_related("user", "yard")
    }
    if not members:
        sys.exit("no yard here has accounts: `make demo ONCE=1` makes one")
    folder = settings.SHEDTIDE_DATA / "shots"
    folder.mkdir(exist_ok=True)
    port = free_port()
    server = subprocess.Popen(
        [sys.executable, "-m", "gunicorn", "yard.wsgi", "--bind", f"127.0.0.1:{port}"],
        cwd=ROOT,
    )
    try:
        wait_for(f"http://127.0.0.1:{port}")
        if readme:
            shoot_readme(f"http://127.0.0.1:{port}", list(members.values()), readme)
        else:
            shoot(f"http://127.0.0.1:{port}", list(members.values()), folder)
    finally:
        server.terminate()
        server.wait()


if __name__ == "__main__":
    # The browser's library keeps an event loop in this thread, in which Django would refuse its database.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    main()
