"""What is kept beside a command is begun again when it dies, and ends with the command."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from tests.scheduling.test_runner import alive, gone
from tests.served import Site, until
from tests.shell import ROOT

SLEEPER = (
    "import os, sys, time, pathlib; pathlib.Path(sys.argv[1], str(os.getpid())).touch(); time.sleep(600)"
)


@pytest.fixture
def keeper(tmp_path: Path, served: Site):
    """A process that keeps a site and a packer, both only sleepers that leave their number in a folder."""
    for name in ("site", "packer"):
        (tmp_path / name).mkdir()
    script = textwrap.dedent(f"""
        import sys, django
        django.setup()
        from scheduling.management.processes import keep
        sleep = lambda name: [sys.executable, "-c", {SLEEPER!r}, {str(tmp_path)!r} + "/" + name]
        commands = {{name: sleep(name) for name in ("site", "packer")}}
        sys.exit(keep(commands, again=("packer",), say=print))
    """)
    environment = {**served.environment, "DJANGO_SETTINGS_MODULE": "yard.settings"}
    with subprocess.Popen([sys.executable, "-c", script], cwd=ROOT, env=environment) as process:
        yield process
        process.kill()


def pids(tmp_path: Path, name: str, count: int) -> list[int]:
    """Wait for so many sleepers to have been there."""
    until(lambda: len(list((tmp_path / name).iterdir())) == count, f"{count} of {name} were begun")
    return [int(path.name) for path in (tmp_path / name).iterdir()]


def test_a_packer_that_dies_is_begun_again(tmp_path: Path, keeper: subprocess.Popen[bytes]) -> None:
    (first,) = pids(tmp_path, "packer", 1)
    os.kill(first, signal.SIGKILL)
    (second,) = set(pids(tmp_path, "packer", 2)) - {first}
    assert alive(second) and keeper.poll() is None


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_told_to_end_it_ends_all_and_well(
    tmp_path: Path, keeper: subprocess.Popen[bytes], number: int
) -> None:
    begun = pids(tmp_path, "site", 1) + pids(tmp_path, "packer", 1)
    keeper.send_signal(number)
    assert keeper.wait(timeout=60) == 0
    assert all(gone(pid) for pid in begun)


def test_when_the_site_ends_so_does_the_packer_and_the_command_says_with_what(
    tmp_path: Path, keeper: subprocess.Popen[bytes]
) -> None:
    (packer,) = pids(tmp_path, "packer", 1)
    (site,) = pids(tmp_path, "site", 1)
    os.kill(site, signal.SIGKILL)
    assert keeper.wait(timeout=60) != 0
    assert gone(packer)
