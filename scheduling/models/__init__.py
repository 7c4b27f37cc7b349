"""What is intended: the planning records on one screen."""

from scheduling.models.forecast import Forecast, Reckoning
from scheduling.models.packs import OPEN_PACKS, Beat, Pack, PackKind, PackState
from scheduling.models.plans import Board, MadeBy, Pin, Placement, Plan, Regime, Unplaced
from scheduling.models.reasons import Reasons

__all__ = [
    "OPEN_PACKS",
    "Beat",
    "Board",
    "Forecast",
    "MadeBy",
    "Pack",
    "PackKind",
    "PackState",
    "Pin",
    "Placement",
    "Plan",
    "Reasons",
    "Reckoning",
    "Regime",
    "Unplaced",
]
