"""The folder broker: every message arrives once, whole, and in order."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from queue import Empty

import pytest
from kombu import Connection
from kombu.transport import TRANSPORT_ALIASES

import yard.celery
from yard.transport import write_whole

ROOT = Path(__file__).resolve().parents[2]
MESSAGES = 300

PRODUCER = """
import sys
from tests.yard.test_transport import connect
first, last = int(sys.argv[2]), int(sys.argv[3])
with connect(sys.argv[1]) as connection:
    queue = connection.SimpleQueue("wake")
    for number in range(first, last):
        queue.put({"pack": number})
"""
CONSUMER = """
import sys
from queue import Empty
from tests.yard.test_transport import connect
with connect(sys.argv[1]) as connection:
    queue = connection.SimpleQueue("wake")
    while True:
        try:
            message = queue.get(timeout=5)
        except Empty:
            break
        if message.payload["pack"] < 0:
            break
        message.ack()
        print(message.payload["pack"], flush=True)
"""


def connect(folder: Path | str) -> Connection:
    return Connection(
        "folder://",
        transport_options={
            "data_folder_in": f"{folder}/queue",
            "data_folder_out": f"{folder}/queue",
            "processed_folder": f"{folder}/taken",
            "control_folder": f"{folder}/control",
            "polling_interval": 0.01,
        },
    )


def test_the_folder_broker_is_known_by_its_address() -> None:
    assert TRANSPORT_ALIASES["folder"] == "yard.transport:Transport"
    assert yard.celery.app.main == "shedtide"


def test_messages_come_out_in_the_order_they_went_in_after_a_restart_too(tmp_path: Path) -> None:
    for number in range(3):
        with connect(tmp_path) as connection:
            connection.SimpleQueue("wake").put({"pack": number})
    with connect(tmp_path) as connection:
        queue = connection.SimpleQueue("wake")
        got = []
        for _ in range(3):
            message = queue.get(timeout=5)
            message.ack()
            got.append(message.payload["pack"])
    assert got == [0, 1, 2]
    assert list(tmp_path.glob("*/*.msg")) == []


def test_an_empty_queue_says_so(tmp_path: Path) -> None:
    with connect(tmp_path) as connection, pytest.raises(Empty):
        connection.SimpleQueue("wake").get(block=False)


def test_a_name_appears_only_when_all_of_the_file_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[list[str]] = []
    replace = os.replace

    def watched(draft: Path, path: Path) -> None:
        seen.append([file.name for file in tmp_path.iterdir() if not file.name.startswith(".")])
        assert draft.read_text() == '{"pack": 1}'
        replace(draft, path)

    monkeypatch.setattr("yard.transport.os.replace", watched)
    write_whole(tmp_path / "1.wake.msg", {"pack": 1})
    assert seen == [[]]
    assert [file.name for file in tmp_path.iterdir()] == ["1.wake.msg"]


def test_no_message_is_lost_or_doubled_between_two_senders_and_three_takers(tmp_path: Path) -> None:
    def start(script: str, *arguments: object) -> subprocess.Popen[str]:
        command = [sys.executable, "-c", script, str(tmp_path), *map(str, arguments)]
        return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)

    takers = [start(CONSUMER) for _ in range(3)]
    senders = [start(PRODUCER, first, first + MESSAGES) for first in (0, MESSAGES)]
    assert [sender.wait(timeout=60) for sender in senders] == [0, 0]
    for _ in takers:
        with connect(tmp_path) as connection:
            connection.SimpleQueue("wake").put({"pack": -1})
    output = [taker.communicate(timeout=60)[0] for taker in takers]
    assert [taker.returncode for taker in takers] == [0, 0, 0]
    got = sorted(int(line) for text in output for line in text.split())
    assert got == list(range(2 * MESSAGES))
