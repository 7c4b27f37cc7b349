"""What the documents tell a reader to type exists, and nothing in the tree points at a place of ours."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.core.management import get_commands

ROOT = Path(__file__).resolve().parent.parent
DOCUMENTS = ["README.md", "DEVELOPERS.md", "SECURITY.md"]
LOCKS = ["requirements.txt", "requirements-dev.txt", "requirements-e2e.txt"]

CODE = re.compile(r"```.*?```|`[^`\n]+`", re.DOTALL)


def quoted(text: str, command: str) -> set[str]:
    """Return the words that follow `command` wherever `text` shows code."""
    follows = re.compile(rf"(?<![\w-]){re.escape(command)}\s+([a-z][a-z_-]*)(?![\w-])")
    return {word for code in CODE.findall(text) for word in follows.findall(code)}


def targets(makefile: str) -> set[str]:
    """Return the names a person may give to make."""
    return {name for line in re.findall(r"^\.PHONY:(.*)$", makefile, re.MULTILINE) for name in line.split()}


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_make_target_that_a_document_names_exists(document: str) -> None:
    named = quoted((ROOT / document).read_text(), "make")
    assert named <= targets((ROOT / "Makefile").read_text())


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_command_that_a_document_names_exists(document: str) -> None:
    named = quoted((ROOT / document).read_text(), "manage.py")
    assert named <= set(get_commands())


def test_the_reader_sees_a_command_that_is_only_quoted_in_a_block() -> None:
    text = "Make way. `make demo`\n```\nPORT=1 make nonsense\npython manage.py walk FOLDER\n```\n"
    assert quoted(text, "make") == {"demo", "nonsense"}
    assert quoted(text, "manage.py") == {"walk"}


def test_the_readme_starts_with_the_job_and_the_two_commands() -> None:
    head, job, block, *_ = re.split(r"\n{2,}", (ROOT / "README.md").read_text())
    assert head == "# Shedtide"
    assert not job.startswith(("#", "`"))
    assert quoted(block, "make") == {"demo", "test"}


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_pins_and_hashes_everything_and_names_no_place_to_fetch_from(lock: str) -> None:
    text = (ROOT / lock).read_text()
    assert not re.search(r"://|--index|--extra-index|--find-links|--trusted-host", text)
    pins = [line for line in text.splitlines() if re.match(r"[a-z0-9]", line, re.IGNORECASE)]
    assert pins
    assert [line for line in pins if not re.match(r"[\w.\[\]-]+==[\w.]+( ;.*)? \\$", line)] == []
    assert text.count("--hash=sha256:") >= len(pins)


def files_of_ours() -> Iterator[Path]:
    """Yield every file of the tree, but what is built, fetched or kept by git."""
    for folder, folders, names in os.walk(ROOT):
        folders[:] = [
            name
            for name in folders
            if name not in {"var", "__pycache__"} and (name[0] != "." or name == ".ci")
        ]
        yield from (Path(folder) / name for name in names)


def test_no_file_names_a_package_registry_or_the_folder_it_lies_in() -> None:
    """Written in two halves, so that this file does not name them either."""
    hosts = [
        "pypi" + ".org",
        "python" + "hosted.org",
        "registry." + "npmjs",
        "proxy." + "golang",
        "npmjs" + ".com",
    ]
    places = [str(ROOT), "/opt/" + "pypi", "/opt/" + "wheels"]
    found = [
        f"{file.relative_to(ROOT)}: {word}"
        for file in files_of_ours()
        for word in hosts + places
        if word.encode() in file.read_bytes()
    ]
    assert found == []


@pytest.mark.parametrize("lock", LOCKS)
def test_every_package_of_a_lock_stands_among_the_licences(lock: str) -> None:
    locked = re.findall(r"^([A-Za-z0-9_.-]+)(?:\[.*\])?==", (ROOT / lock).read_text(), re.MULTILINE)
    rows = re.findall(r"^\| (.+?) \| (.+?) \|$", (ROOT / "docs/licences.md").read_text(), re.MULTILINE)
    listed = {name for licence, names in rows for name in names.split(", ") if licence.strip()}
    assert {name.lower() for name in locked} <= listed
