"""manage.py exportyard YARD FOLDER: a yard as a folder of CSV files that come in again unchanged."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from yard.actions.base import Refused
from yard.actions.importing.write import write_yard
from yard.models import Yard


class Command(BaseCommand):
    """Export a yard."""

    help = "Writes a yard as a folder of CSV files; docs/columns.md lists the columns."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what may be asked for."""
        parser.add_argument("yard", nargs="?", help="the yard's name in addresses; not needed with --empty")
        parser.add_argument("folder", type=Path, help="the folder to write; it must hold no CSV files")
        parser.add_argument("--empty", action="store_true", help="write the headers alone, to be filled in")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the files, and print their names."""
        try:
            written = write_yard(
                None if options["empty"] else _yard(options["yard"]), Path(options["folder"])
            )
        except (Refused, OSError) as error:
            raise CommandError(str(error)) from None
        self.stdout.write(f"{len(written)} files in {options['folder']}: {', '.join(written)}.")


def _yard(slug: str | None) -> Yard:
    yard = Yard.objects.filter(slug=slug).first()
    if yard is None:
        names = ", ".join(Yard.objects.order_by("slug").values_list("slug", flat=True)) or "none yet"
        raise CommandError(f"There is no yard “{slug or ''}”; the yards here are: {names}.")
    return yard
