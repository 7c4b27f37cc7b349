"""A broker that is a folder: for one machine, where nothing else need be installed.

kombu's own file transport opens a message under its final name and then fills it, so a reader may take it
half written; that message is lost and the worker that met it ends. Here a name appears only when all of the
file is there.
"""

from __future__ import annotations

import fcntl
import os
import time
import uuid
from json import dumps, loads
from pathlib import Path
from queue import Empty
from typing import Any

from kombu.transport import filesystem
from kombu.transport.filesystem import exchange_queue_t


def write_whole(path: Path, value: object) -> None:
    """Write `value` as JSON to `path`, which until then keeps what it held."""
    draft = path.with_name(f".{uuid.uuid4()}.draft")
    draft.write_text(dumps(value))
    os.replace(draft, path)


class Channel(filesystem.Channel):
    """Messages are files `<time, ns>_<uuid>.<queue>.msg`: first by name is oldest, across restarts too."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Make the folders, so that a first start needs no other step."""
        super().__init__(*args, **kwargs)
        for folder in (self.data_folder_in, self.processed_folder, self.control_folder):
            Path(folder).mkdir(parents=True, exist_ok=True)

    # kombu's own two classes above disagree on the second name.
    def _put(self, queue: str, payload: Any, **kwargs: Any) -> None:  # type: ignore[override]
        write_whole(Path(self.data_folder_out) / f"{time.time_ns()}_{uuid.uuid4()}.{queue}.msg", payload)

    def _get(self, queue: str, timeout: float | None = None) -> Any:
        for name in sorted(os.listdir(self.data_folder_in)):
            if name.partition(".")[2] != f"{queue}.msg":
                continue
            taken = Path(self.processed_folder) / name
            try:
                os.rename(Path(self.data_folder_in) / name, taken)
            except FileNotFoundError:  # another worker was quicker
                continue
            payload = loads(taken.read_text())
            taken.unlink()
            return payload
        raise Empty

    def _queue_bind(self, exchange: str, routing_key: str, pattern: str, queue: str) -> None:
        file = self._exchange_file(exchange)
        bound = exchange_queue_t(routing_key or "", pattern or "", queue or "")
        with (self.control_folder / ".lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            table = self.get_table(exchange)
            if bound not in table:
                write_whole(file, [bound, *table])


class Transport(filesystem.Transport):
    """kombu's file transport with the channel above; the broker's address is `folder://`."""

    Channel = Channel
