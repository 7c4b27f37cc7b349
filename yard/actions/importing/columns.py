"""The table of all files and columns that can be read and written, in the order in which they are read."""

from __future__ import annotations

from yard.actions.importing import columns_boats, columns_days, columns_facts, columns_winter, columns_yard
from yard.actions.importing.tables import File

FILES: tuple[File, ...] = (
    *columns_yard.FILES,
    *columns_days.FILES,
    *columns_boats.FILES,
    *columns_winter.FILES,
    *columns_facts.FILES,
)

BY_NAME = {file.name: file for file in FILES}
