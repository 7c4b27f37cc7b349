"""Folders of files to import: a small yard that is right, to be spoiled in one place."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from yard.actions.importing.action import Faulty, Import, bring_yard
from yard.actions.importing.write import texts_of
from yard.models import Yard

SMALL = Path(__file__).parent / "data" / "small_yard"


def small_yard(folder: Path) -> Path:
    """A copy of the small yard's folder."""
    return Path(shutil.copytree(SMALL, folder / "yard"))


def put(folder: Path, name: str, old: str, new: str) -> None:
    """Put other text into one place of one file."""
    text = (folder / name).read_text()
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {name}"
    (folder / name).write_text(text.replace(old, new))


def faults_of(folder: Path) -> list[str]:
    """Everything that is wrong with a folder, and nothing of it imported."""
    with pytest.raises(Faulty) as faulty:
        bring_yard(folder)
    assert not Yard.objects.exists(), "something was imported"
    return [str(fault) for fault in faulty.value.faults]


def imported(folder: Path) -> Import:
    """Import a folder that is right."""
    return bring_yard(folder)


def exported(yard: Yard, folder: Path) -> Path:
    """The yard's files, written anew."""
    folder.mkdir()
    for name, text in texts_of(yard).items():
        (folder / name).write_text(text, encoding="utf-8-sig", newline="")
    return folder
