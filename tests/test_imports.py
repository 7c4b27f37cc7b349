"""The rooms keep apart: what import-linter cannot see, and who may write."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("yard", "scheduling")

PROBE = """
import importlib, sys
allowed, modules = sys.argv[1], sys.argv[2:]
def stranger(name):
    ours = name == allowed or name.startswith(allowed + ".") or name == allowed.partition(".")[0]
    return name.partition(".")[0] in {"django", "celery", "yard", "scheduling"} and not ours
for module in modules:
    importlib.import_module(module)
    if strangers := sorted(filter(stranger, sys.modules)):
        sys.exit(f"{module} brings in {', '.join(strangers[:5])}")
"""


def modules_in(package: str) -> list[str]:
    """Return the dotted names of all modules in `package`, itself first."""
    folder = ROOT / package.replace(".", "/")
    files = sorted(folder.rglob("*.py"))
    names = [".".join(file.relative_to(ROOT).with_suffix("").parts) for file in files]
    return sorted(name.removesuffix(".__init__") for name in names)


def probe(allowed: str, modules: list[str], folder: Path = ROOT) -> str:
    """Import `modules` in a fresh Python and return the first complaint about a module from another room."""
    done = subprocess.run(
        [sys.executable, "-c", PROBE, allowed, *modules],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stderr.strip()


@pytest.mark.parametrize("package", ["scheduling.engine", "yard.trade"])
def test_engine_and_trade_load_neither_django_nor_any_other_room(package: str) -> None:
    modules = modules_in(package)
    assert package in modules
    assert probe(package, modules) == ""


def test_the_probe_sees_an_import_hidden_in_the_package_above(tmp_path: Path) -> None:
    (tmp_path / "scheduling/engine").mkdir(parents=True)
    (tmp_path / "scheduling/__init__.py").write_text("import yard\n")
    (tmp_path / "scheduling/engine/__init__.py").touch()
    (tmp_path / "yard.py").touch()
    complaint = probe("scheduling.engine", ["scheduling.engine"], tmp_path)
    assert complaint == "scheduling.engine brings in yard"


@pytest.mark.parametrize("package", PACKAGES)
def test_the_packages_themselves_hold_no_code(package: str) -> None:
    assert (ROOT / package / "__init__.py").read_bytes() == b""


def test_no_file_is_longer_than_500_lines() -> None:
    long = {
        str(file.relative_to(ROOT)): lines
        for package in PACKAGES
        for file in (ROOT / package).rglob("*.py")
        if "migrations" not in file.parts and (lines := file.read_text().count("\n")) > 500
    }
    assert long == {}


# --- Who may write ----------------------------------------------------------------------------------------
WRITES = {
    "save", "create", "update", "delete", "bulk_create", "bulk_update", "get_or_create", "update_or_create",
    "asave", "acreate", "aupdate", "adelete",
}  # fmt: skip
MANAGERS = {"objects", "_default_manager", "_base_manager"}
WRITERS = {"models", "actions", "migrations"}
# Loading reads a whole yard in few queries; the guards ask who belongs to it; commands are typed by whoever
# keeps the installation and find the yard that was named.
READERS = WRITERS | {"loading", "roles", "management"}
# These two cannot reach a record at all: the first test of this file holds that.
PURE = {"engine", "trade"}


def writes(call: ast.Call) -> bool:
    """Say whether `call` writes a record; unlike a dict's, the `update` of records takes keywords only."""
    name = call.func.attr if isinstance(call.func, ast.Attribute) else ""
    return name in WRITES and not (name == "update" and call.args)


def reaches(source: str) -> list[tuple[int, str]]:
    """Return line and name of each call that writes a record and each mention of a manager in `source`."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Attribute) and node.attr in MANAGERS:
            found.append((node.lineno, node.attr))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and writes(node):
            found.append((node.lineno, node.func.attr))
    return sorted(found)


def test_only_models_and_actions_write_and_pages_do_not_even_reach_for_a_manager() -> None:
    trespasses = []
    for package in PACKAGES:
        for file in sorted((ROOT / package).rglob("*.py")):
            room = file.relative_to(ROOT / package).with_suffix("").parts[0]
            if room in WRITERS | PURE:
                continue
            for number, name in reaches(file.read_text()):
                if not (room in READERS and name in MANAGERS):
                    trespasses.append(f"{file.relative_to(ROOT)}:{number} .{name}")
    assert trespasses == []


def test_a_write_and_a_manager_are_seen_wherever_they_stand() -> None:
    source = (
        "boat.name = 'A'\n"
        "boat.save()\n"
        "Boat.objects.filter(pk=1).update(name='B')\n"
        "save()\n"
        "rows.update(**changes)\n"
        "names.update({1: 'A'})\n"
    )
    assert reaches(source) == [(2, "save"), (3, "objects"), (3, "update"), (5, "update")]
