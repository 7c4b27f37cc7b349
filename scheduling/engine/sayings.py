"""What is said of a day, a place that is taken, and all else in the way of a stage, in the yard's words."""

from collections.abc import Sequence
from datetime import date

from scheduling.engine import slots
from scheduling.engine.around import Around, Wish
from scheduling.engine.blocks import Block
from scheduling.engine.contradictions import size_in_words
from scheduling.engine.problem import Job, Place, Problem, Step


def working_days(count: int) -> str:
    """So many slots, in words."""
    return f"{count} working day{'' if count == 1 else 's'}"


def day_of(days: Sequence[date], slot: int) -> str:
    """The day of a slot, such as "Mon 25 Jan"; the day after the last for what never comes."""
    day = slots.leaves_on(days, min(max(slot, 0), len(days)))
    return f"{day:%a} {day.day} {day:%b}"


def step_name(step: Step) -> str:
    """What a step is called."""
    return step.label or step.kind or step.id


def job_name(job: Job) -> str:
    """What a job is called."""
    return job.label or job.id


def place_name(place: Place) -> str:
    """What a place is called."""
    return place.label or place.id


def taken(days: Sequence[date], place: Place, until: int, who: str) -> str:
    """That a place is full until one of those in it leaves."""
    here = place_name(place)
    if place.room == 1:
        if until >= len(days):
            return f"{here} is not free again this season: {who} stands there"
        return f"waits for {here} until {day_of(days, until)}: {who} stands there"
    if place.room == 2:
        full = f"{' and '.join(place.units)} are both" if place.units else f"both bays of {here} are"
    else:
        full = f"all {place.room} bays of {here} are"
    if until >= len(days):
        return f"{full} taken for the rest of the season"
    return f"{full} taken until {day_of(days, until)}, when {who} leaves"


def short(problem: Problem, kind: str, who: str, label: str, until: int) -> str:
    """That there are too few hours, or none of a kit is free."""
    before = f"before {day_of(problem.days, until)}" if until < len(problem.days) else "this season"
    if kind == "hand":
        return f"too few hours of {who} for {label} {before}"
    resource = next(r for r in problem.resources if r.id == who)
    return f"{resource.label or resource.id}: none free for {label} {before}"


def says(around: Around, asked: Wish, block: Block) -> str:
    """One sentence on what is in the way of a wish."""
    problem, jobs = around.compiled.problem, around.compiled.jobs
    days, label = problem.days, step_name(asked.step)
    until = day_of(days, block.until)
    place = problem.places[around.compiled.place_index[block.place] if block.place else asked.place]
    by = job_name(jobs[block.by]) if block.by else ""
    match block.kind:
        case "today":
            return f"{label} starts on the first day there is"
        case "arrival":
            return f"she is not there before {until}"
        case "hold":
            why = f": {asked.step.earliest_why}" if asked.step.earliest_why else ""
            return f"{label} can't start before {until}{why}"
        case "pin" if asked.step.pin_start not in (None, asked.start):
            return f"{label} is pinned to {day_of(days, asked.step.pin_start or 0)}"
        case "pin":
            pinned = around.compiled.place_index[asked.step.pin_place or ""]
            return f"{label} is pinned to {place_name(problem.places[pinned])}"
        case "gate":
            return f"{label} waits for signed dry, forecast for {until}"
        case "begun" | "step":
            return _own_stage(around, asked, block)
        case "window":
            after = f"between {day_of(days, block.start - 1)} and" if block.start else "before"
            if block.until >= len(days):
                return f"{label} has no window left this season"
            return f"{label} has no window {after} {until}"
        case "closed":
            return f"{place_name(place)} is closed until {until}"
        case "job":
            return _other_boat(around, asked, block, place, by)
        case "swap":
            return f"no place is free to change round on {day_of(days, block.start)}"
        case "hand" | "resource" if block.who == problem.mover and block.kind == "resource":
            last = f": {by} has the last" if by else ""
            return f"no trip is left on {day_of(days, block.until - 1)}{last}"
        case "hand" | "resource":
            has = f", {by} needs them" if block.kind == "hand" else f", {by} has it"
            return short(problem, block.kind, block.who, label, block.until) + (has if by else "")
        case "size":
            hers, most = (
                " and ".join(size_in_words(name, sizes[name]) for name in block.what.split(" and "))
                for sizes in (asked.job.size, place.limits)
            )
            return f"she is too big for {place_name(place)}: {hers}; it takes {most}"
        case "posted" | "money" | "free":
            return _money(days, asked, block, place)


def _own_stage(around: Around, asked: Wish, block: Block) -> str:
    """Her stage before lasts so long, or the one after is so late."""
    days, label, before = around.compiled.problem.days, step_name(asked.step), asked.before
    if before is not None and block.who == before.step:
        begun = asked.job.begun
        if before.option < 0 and begun is not None:
            name = begun.label or begun.kind or begun.step
        else:
            name = next(step_name(s) for s in asked.job.steps if s.id == before.step)
        wait = f"waits {working_days(asked.step.wait_min)} after" if asked.step.wait_min else "follows"
        lasts = f", which lasts until {day_of(days, before.end - 1)}" if before.end else ""
        return f"{label} {wait} {name}{lasts}"
    after = next(s for s in asked.job.steps if s.id == block.who)
    if after.wait_max is None or block.until < asked.end + after.wait_min:
        return f"{label} would not be done before {step_name(after)} starts on {day_of(days, block.until)}"
    within = f"within {working_days(after.wait_max)} of" if after.wait_max else "straight after"
    starts = day_of(days, block.until)
    return f"{step_name(after)} has to follow {within} {label}, and does not start before {starts}"


def _other_boat(around: Around, asked: Wish, block: Block, place: Place, by: str) -> str:
    days, label = around.compiled.problem.days, step_name(asked.step)
    if block.rule == "stand":
        return taken(days, place, block.until, by)
    day = day_of(days, block.start)
    if block.rule == "lane":
        if block.passes:
            return f"in {place_name(place)} she would be in the way of {by} on {day}"
        return f"{by} in {place_name(place)} is in the way on {day}"
    if block.passes:
        return f"the {block.what} of {label} would spoil the work on {by} until {day_of(days, block.until)}"
    return f"{label} waits for the {block.what} of {by} until {day_of(days, block.until)}"


def _money(days: Sequence[date], asked: Wish, block: Block, place: Place) -> str:
    label, day = step_name(asked.step), day_of(days, asked.start)
    if block.kind == "posted":
        return f"{label} could start on {day}, but saves less so than a change of the posted plan costs"
    where = f" in {place_name(place)}" if block.place else ""
    more = ", but it would cost more" if block.kind == "money" else " and would cost no more"
    return f"{label} could start on {day}{where}{more}"
