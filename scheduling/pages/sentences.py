"""What a person would say about one boat."""

from scheduling.loading.winter import BoatWinter, Winter
from scheduling.models import Plan
from yard.models import Hold, HoldReason, Shed, TreatmentState
from yard.templatetags.days import day, days_of, sentence

DOING = {
    "lift": "being lifted",
    "strip": "having her fittings taken off",
    "survey": "being surveyed",
    "peel": "being peeled",
    "blast": "being blasted",
    "wash": "being washed",
    "dry": "drying",
    "laminate": "being laminated",
    "fair": "being filled and faired",
    "coat": "being coated",
    "antifoul": "being antifouled",
    "cure": "curing",
    "refit": "being refitted",
    "mast": "having her mast stepped",
    "relaunch": "being relaunched",
    "wait": "waiting",
    "other": "in work",
}


KIND = {
    "firm": "firm",
    "tide": "on that tide",
    "week": "in that week",
    "month": "in that month",
    "wish": "a wish",
}


WHOM = {
    HoldReason.OWNER: "the owner",
    HoldReason.SURVEYOR: "the surveyor",
    HoldReason.READING: "a reading",
    HoldReason.OTHER: "something else",
}
"""Whom or what a hold is for, where its reason alone does not say it well."""


def ground(shed: Shed) -> str:
    """A shed as one says it: by its name, where that is more than a letter."""
    if len(shed.name) > 2:
        return shed.name
    if shed.door_width_m is not None:
        return f"shed {shed.name}"
    return f"{'pad' if shed.drained else 'hardstanding'} {shed.name}"


def where(winter: Winter, boat: BoatWinter) -> str:
    """Where she is and since when."""
    treatment = boat.treatment
    if treatment.state == TreatmentState.EXPECTED:
        if treatment.arrives_on < winter.today:
            return f"She was due here on {day(treatment.arrives_on)} and has not come."
        return f"She is due here on {day(treatment.arrives_on)}."
    if treatment.state == TreatmentState.AFLOAT:
        last = boat.stages[-1] if boat.stages else None
        if last and last.finished_on:
            return f"She has been afloat since {day(last.finished_on)}."
        return "She is afloat."
    stay = boat.stay
    bay = winter.bays.get(stay.bay_id) if stay else None
    place = f"in bay {bay.name}, {ground(bay.shed)}" if bay else "at the hoist"
    if boat.running and boat.running.started_on:
        doing = DOING.get(boat.running.kind, "in work")
        return f"She is {doing} {place}; “{boat.running.name}” began on {day(boat.running.started_on)}."
    if stay:
        return f"She has stood {place}, since {day(stay.from_on)}; nothing is being done to her now."
    return f"She is {place}; nothing is being done to her now."


def following(winter: Winter, boat: BoatWinter, plan: Plan | None) -> str:
    """What is next and when."""
    stage = boat.next_stage
    if stage is None:
        return "" if boat.treatment.state == TreatmentState.AFLOAT else "No stage waits after this one."
    first = boat.first_day(plan, stage)
    if first is None:
        return f"Next: {stage.name}; no plan says when yet."
    rows = [row for row in boat.placed[plan.pk] if row.stage_id == stage.pk] if plan else []
    bay = winter.bays.get(rows[0].bay_id) if rows and rows[0].bay_id else None
    place = f" in bay {bay.name}" if bay else ""
    if first < winter.today:
        return f"Next: {stage.name}{place}; it should have started on {day(first)}."
    return f"Next: {stage.name}, from about {day(first)}{place}."


def verdict(boat: BoatWinter, plan: Plan | None) -> tuple[str, str]:
    """Whether the plan keeps her day: a word for the tag's look, and what it says."""
    if plan is not None and plan.pk in boat.unplaced:
        return "risk", "left out of the plan"
    late = boat.late_days(plan)
    if late is None:
        return "watch", "not planned yet"
    if late > 0:
        return "risk", f"misses by {days_of(late)}"
    return "ok", "keeps her day" if late == 0 else f"keeps her day, {days_of(-late)} to spare"


def tag(boat: BoatWinter, plan: Plan | None, odds_look: str = "") -> tuple[str, str]:
    """The verdict as a tag. Where the odds of her day have the look of another answer, it is said to be the
    plan's alone, and is not green."""
    look, says = verdict(boat, plan)
    if plan is None or look != "ok" or odds_look in ("", "ok"):
        return look, says
    return "", f"plan {plan.number} {says}"


def waiting_for(hold: Hold) -> str:
    """Whom a boat is held for, since when, and when an answer is expected."""
    reason = HoldReason(hold.reason)
    says = WHOM.get(reason, str(reason.label).lower())
    named = str(reason.label).lower() in hold.whom.lower()
    whom = hold.whom if named else f"{says} ({hold.whom})" if hold.whom else says
    asked = f", asked {day(hold.asked_on)}" if hold.asked_on not in (None, hold.from_on) else ""
    expected = f", expected {day(hold.expected_on)}" if hold.expected_on else ""
    note = f" {sentence(hold.note)}" if hold.note else ""
    return f"Waiting for {whom} since {day(hold.from_on)}{asked}{expected}.{note}"
