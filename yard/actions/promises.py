"""What owners are promised."""

from datetime import date

from yard.actions.base import Refused, action, add
from yard.models import OPEN_STATES, DateKind, Promise, Role, Treatment
from yard.roles import Actor


@action(Role.MANAGER, Role.OFFICE)
def record_promise(
    who: Actor,
    *,
    treatment: Treatment,
    promised_on: date,
    how: str,
    kind: str = DateKind.WEEK,
    odds_pct: int | None = None,
    plan_number: int | None = None,
    note: str = "",
) -> Promise:
    """Record a date told to an owner today. It replaces the promise in force, which stays in the history.

    Args:
        odds_pct: the odds the date had when it was told [%].
        plan_number: the plan it was read from.

    Raises:
        Refused: if the date is past, or she is afloat or cancelled.
    """
    if treatment.state not in OPEN_STATES:
        raise Refused(
            f"{treatment.boat} is {treatment.get_state_display().lower()}: there is nothing to promise."
        )
    if promised_on < who.today:
        raise Refused("That day is past: promise one that is still to come.", "promised_on")
    former = treatment.promises.filter(superseded=False).first()
    if former:
        treatment.promises.filter(pk=former.pk).update(superseded=True)
    return add(
        who,
        Promise(
            treatment=treatment,
            kind=kind,
            promised_on=promised_on,
            said_on=who.today,
            by=who.user,
            how=how,
            odds_pct=odds_pct,
            plan_number=plan_number,
            note=note,
            replaces=former,
        ),
    )
