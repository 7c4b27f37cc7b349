"""manage.py columns: the page that lists every file and column, made from the reader's own table."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from yard.actions.importing.page import page


class Command(BaseCommand):
    """Print the page of columns."""

    help = "Prints the page of all files and columns; docs/columns.md is this page."

    def handle(self, *args: Any, **options: Any) -> None:
        """Print it."""
        self.stdout.write(page(), ending="")
