"""Saving boats, and the spot that stands for all of a hull's."""

from typing import Any

from yard.actions.base import Refused, action, add, change, save
from yard.models import OPEN_STATES, Boat, Owner, Role, Spot, Treatment
from yard.roles import Actor
from yard.trade.spots import MEAN


@action(Role.MANAGER, Role.OFFICE)
def save_boat(
    who: Actor,
    *,
    boat: Boat | None = None,
    version: int | None = None,
    owner: Owner | None = None,
    **fields: Any,
) -> Boat:
    """Add a boat, or change the one given; `fields` are the record's own, in its units. Without `owner`, hers
    stays.

    Raises:
        Refused: if she is retired with a treatment open, or if the records say no.
        Stale: if `version` is no longer the stored one.
    """
    if owner is not None:
        fields["owner"] = owner
    if boat and fields.get("retired_on"):
        treatment = Treatment.objects.of(who.yard).filter(boat=boat, state__in=OPEN_STATES).first()
        if treatment:
            raise Refused(
                f"{boat} has a treatment open in {treatment.season}: cancel it first.", "retired_on"
            )
    return save(who, Boat, boat, version, fields)


@action(Role.MANAGER, Role.CREW)
def mean_spot(who: Actor, *, boat: Boat) -> Spot:
    """The spot that stands for all of hers where only their mean is written down; made if she has none."""
    found = boat.spots.filter(code=MEAN).first()
    if found:
        return change(who, found, retired_on=None)
    last = boat.spots.order_by("walk_order").last()
    return add(who, Spot(boat=boat, code=MEAN, walk_order=last.walk_order + 1 if last else 1))
