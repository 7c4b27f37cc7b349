"""Yard records to Problem and back: `load(season)` and `placements(loaded, schedule)`."""

from scheduling.loading.loaded import Loaded, PlacementRow, Refs, load, placements

__all__ = ["Loaded", "PlacementRow", "Refs", "load", "placements"]
