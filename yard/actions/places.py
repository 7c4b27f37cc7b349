"""Saving bays."""

from typing import Any

from yard.actions.base import Refused, action, save
from yard.models import Air, Bay, Lane, Role, Shed, Stay
from yard.roles import Actor


@action(Role.MANAGER)
def save_bay(who: Actor, *, bay: Bay | None = None, version: int | None = None, **fields: Any) -> Bay:
    """Add a bay, or change the one given; `fields` are the record's own, in its units.

    Raises:
        Refused: if its air or its lane is in another shed, if a boat stands in a bay that retires, or if
            the records say no.
        Stale: if `version` is no longer the stored one.
    """

    def now(name: str) -> Any:
        return fields.get(name, getattr(bay, name, None) if bay else None)

    shed: Shed | None = now("shed")
    air: Air | None = now("air")
    lane: Lane | None = now("lane")
    if shed and air and air.shed_id != shed.pk:
        raise Refused(f"The air {air} is not in shed {shed}: choose one of its own.", "air")
    if shed and lane and lane.shed_id != shed.pk:
        raise Refused(f"The lane {lane} is not in shed {shed}: choose one of its own.", "lane")
    if bay and fields.get("retired_on"):
        stay = Stay.objects.of(who.yard).filter(bay=bay, until_on__isnull=True).first()
        if stay:
            raise Refused(f"{stay.treatment.boat} stands in {bay}: move her first.", "retired_on")
    return save(who, Bay, bay, version, fields)
