"""Stoppages: something or somebody is out, and is back again; or it was a mistake and is called off."""

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
    if last_day is not None and last_day < first_day:
        raise Refused("Last day must not come before first day.", "last_day")
    if count and not isinstance(subject, Kit):
        raise Refused("Only of a kit can some be out and some not.", "count")
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
        Refused: if the day is before the first, or it was called off.
        Stale: if `version` is no longer the stored one.
    """
    _only_oneself(who, stoppage.person)
    _not_called_off(stoppage)
    return change(who, stoppage, version=version, last_day=last_day)


@action(Role.MANAGER, Role.CREW)
def call_off_stoppage(who: Actor, *, stoppage: Stoppage, version: int) -> Stoppage:
    """Take back a stoppage that was entered by mistake or never came: it counts for nothing from now on, as
    if it had not been entered. The row and the history keep it.

    Raises:
        NotAllowed: if crew call off one that is not their own.
        Refused: if it was called off before.
        Stale: if `version` is no longer the stored one.
    """
    _only_oneself(who, stoppage.person)
    _not_called_off(stoppage)
    return change(who, stoppage, version=version, called_off_on=who.today)


def _not_called_off(stoppage: Stoppage) -> None:
    if stoppage.called_off_on:
        raise Refused(f"It was called off on {stoppage.called_off_on:%-d %b %Y}: enter it anew if it is out.")


def _only_oneself(who: Actor, person: Person | None) -> None:
    if who.role == Role.CREW and (person is None or person != who.person):
        raise NotAllowed("Crew can only say when they are out themselves: ask the manager.")
