"""`manage.py packer`: the worker beside the site on one machine, begun again whenever it ends."""

import sys
from typing import Any

from django.core.management.base import BaseCommand

from scheduling.management.processes import keep, worker_command


class Command(BaseCommand):
    """Pack what is asked for, until told to end."""

    help = "Runs the packer beside the site: one worker with its clock, begun again whenever it ends."

    def handle(self, *args: Any, **options: Any) -> None:
        """Run until SIGINT or SIGTERM."""
        sys.exit(keep({"packer": worker_command()}, again=("packer",), say=self.stderr.write))
