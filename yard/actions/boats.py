"""Saving boats."""

from typing import Any

from yard.actions.base import Refused, action, save
from yard.models import OPEN_STATES, Boat, Owner, Role, Treatment
from yard.roles import Actor


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
