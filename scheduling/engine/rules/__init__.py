"""The CP-SAT model's table of contents: the nine rules of `RULES.md` and the kinds of cost, each a function.

Importing this loads ortools, which takes a second: only `finish` does.
"""

from collections.abc import Callable

from scheduling.engine.rules.air import air
from scheduling.engine.rules.frame import Model
from scheduling.engine.rules.hands import hands, resources
from scheduling.engine.rules.lane import lane
from scheduling.engine.rules.money import changes, extra, heat, late, left_out, moves, places
from scheduling.engine.rules.order import chain, gate, pins, windows
from scheduling.engine.rules.room import fit, stand
from scheduling.engine.rules.swaps import swaps

RULES: list[Callable[[Model], None]] = [
    chain,
    stand,
    swaps,
    fit,
    lane,
    air,
    hands,
    resources,
    windows,
    pins,
    gate,
]
COSTS: list[Callable[[Model], None]] = [late, moves, places, heat, extra, changes, left_out]
