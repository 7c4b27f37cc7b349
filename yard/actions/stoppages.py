"""Stoppages: something or somebody is out, and is back again."""

from datetime import date

from yard.actions.base import NotAllowed, Refused, action, add, change
from yard.models import Bay, Hoist, Kit, Person, Role, Shed, Stoppage
from yard.roles import Actor

Subject = Bay | Shed | Hoist | Kit | Person


@action(Role.MANAGER, Role.CREW)
def stop_work(
    who: Actor,
    *,
    subject: Subject | None,
    kind: str,
    first_day: date,
    last_day: date | None,
    why: str,
    count: int | None = None,
) -> Stoppage:
    """Say that something or somebody is out, both days inclusive; no last day means until told, no subject
    all.

    Raises:
        NotAllowed: if crew say it of anything but themselves.
        Refused: if a day is out of order, or only some (`count`) of anything but a kit are out.
    """
    _only_oneself(who, subject if isinstance(subject, Person) else None)
    if isinstance(subject, Kit) and count and count > subject.count:
        raise Refused(f"There are only {subject.count} of {subject}.", "count")
    stoppage = Stoppage(
        yard=who.yard, kind=kind, first_day=first_day, last_day=last_day, why=why, count=count
    )
    if subject is not None:
        setattr(stoppage, type(subject).__name__.lower(), subject)
    return add(who, stoppage)


@action(Role.MANAGER, Role.CREW)
def end_stoppage(who: Actor, *, stoppage: Stoppage, version: int, last_day: date) -> Stoppage:
    """Give the last day something was out, inclusive; a stoppage is ended, never deleted.

    Raises:
        NotAllowed: if crew end one that is not their own.
        Refused: if the day is before the first.
        Stale: if `version` is no longer the stored one.
    """
    _only_oneself(who, stoppage.person)
    return change(who, stoppage, version=version, last_day=last_day)


def _only_oneself(who: Actor, person: Person | None) -> None:
    if who.role == Role.CREW and (person is None or person != who.person):
        raise NotAllowed("Crew can only say when they are out themselves: ask the manager.")
