"""manage.py importyard FOLDER: everything in a folder of CSV files into a yard, or nothing."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from yard.actions.base import NotAllowed, Refused
from yard.actions.importing.action import Faulty, bring_yard


class Command(BaseCommand):
    """Import a yard."""

    help = "Brings a folder of CSV files into the yard that its yard.csv names (see docs/columns.md)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what may be asked for."""
        parser.add_argument("folder", type=Path, help="the folder that holds yard.csv and the other files")
        parser.add_argument("--as", dest="username", help="the manager's account that history names")
        parser.add_argument("--sample", action="store_true", help="a new yard is a sample")
        parser.add_argument(
            "--dry-run", action="store_true", help="say what would happen, and change nothing"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Import, and print what became of each file."""
        try:
            done = bring_yard(
                Path(options["folder"]),
                username=options["username"],
                sample=options["sample"],
                dry_run=options["dry_run"],
            )
        except Faulty as faulty:
            for fault in faulty.faults:
                self.stderr.write(str(fault))
            many = "1 thing" if len(faulty.faults) == 1 else f"{len(faulty.faults)} things"
            raise CommandError(f"{many} to mend; nothing was imported.") from None
        except (Refused, NotAllowed) as refused:
            raise CommandError(str(refused)) from None
        for name, count in done.files.items():
            self.stdout.write(f"{name:20}{count.added:5} added {count.same:5} same {count.changed:5} changed")
        for note in done.notes:
            self.stdout.write(f"Note: {note}")
        if done.dry_run:
            self.stdout.write(f"{done.yard.name}: nothing was changed, this was a look.")
        else:
            self.stdout.write(f"{done.yard.name}: imported.")
