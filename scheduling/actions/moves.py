"""What a plan moves of the posted one, and why: found in its own Problem and stored with it."""

import logging
from collections.abc import Sequence
from typing import Any

from scheduling.engine.moved import Moved, Spot
from scheduling.engine.moves import moves
from scheduling.engine.repair import Pair, as_frozen
from scheduling.engine.schedule import Schedule
from scheduling.loading import Loaded

logger = logging.getLogger(__name__)


def moves_of(loaded: Loaded, schedule: Schedule, thawed: Sequence[Pair] = ()) -> list[dict[str, Any]]:
    """Every placement that moves, as `Plan.moves` has it; `thawed` are frozen steps that a fact lets go.

    It is work for the processor, so it is done before a transaction, not in one. Nothing, with a line in
    the log, where it fails: a plan that does not say what moves is better than no plan, and the Wall sees
    that it moves something and says that it is not known what.
    """
    try:
        found = moves(as_frozen(loaded.problem, tuple(thawed)), schedule)
    except Exception:
        logger.exception("what moves in a plan of %s could not be found", loaded.problem.name)
        return []
    return [_entry(loaded, one) for one in found]


def _entry(loaded: Loaded, one: Moved) -> dict[str, Any]:
    part, reason = loaded.refs.parts[one.job, one.step], one.reason
    return {
        "treatment": int(one.job),
        "stage": part.stage.pk,
        "part": part.part,
        "was": _spot(loaded, one.was),
        "now": _spot(loaded, one.now),
        "cause": reason.cause,
        "rule": reason.rule,
        "says": reason.says,
        "saves": reason.saves,
        "others": [int(other) for other in reason.others],
        "frozen": one.was is not None and one.was.start < loaded.problem.frozen,
    }


def _spot(loaded: Loaded, spot: Spot | None) -> dict[str, Any] | None:
    if spot is None:
        return None
    bays = loaded.refs.bays.get(spot.place, ())
    named = next((bay.pk for bay in bays if len(bays) == 1 or bay.name == spot.unit), None)
    return {"bay": named, "first_day": loaded.problem.days[spot.start].isoformat()}
