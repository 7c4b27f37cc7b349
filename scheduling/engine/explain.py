"""Why a job is not finished earlier: each rule lifted for her alone, all other jobs where they are.

The rule whose lifting brings most days keeps her; the path she would then take shows what stands in the way
of it. Where it is room, the one place is sought that keeps her. Where no rule does it alone, either she would
be late in an empty yard, or two rules do it together.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import combinations

from scheduling.engine import slots
from scheduling.engine.chains import chain, chains
from scheduling.engine.insertion import State, insert
from scheduling.engine.jobtable import job_table
from scheduling.engine.more import Relaxation
from scheduling.engine.problem import Job
from scheduling.engine.relaxing import relaxations
from scheduling.engine.schedule import Kept, Rule, StepTime
from scheduling.engine.whys import Why, whys
from scheduling.engine.words import Words

__all__ = ["Gain", "Relaxation", "Why", "chain", "chains", "held_up", "kept_by", "relaxations", "whys"]

IN_ORDER: tuple[Rule, ...] = ("stand", "hands", "lane", "air", "pins", "gate", "fit", "windows", "chain")
"""The rules, first those that the yard can do most about."""

IN_PAIRS: tuple[Rule, ...] = ("stand", "hands", "lane", "air", "windows")
"""The rules that may keep a job two at a time."""


@dataclass(frozen=True, slots=True)
class Gain:
    """What lifting something brings: `days` earlier [calendar days], and the path she would take then."""

    days: int
    times: tuple[StepTime, ...]


def kept_by(state: State) -> dict[str, Kept]:
    """What keeps each late or unplaced job."""
    problem, found = state.compiled.problem, {}
    for job in problem.jobs:
        times = state.times.get(job.id)
        if times is None or slots.late_days(problem.days, job.due, times[-1].end):
            kept = held_up(state, job.id)
            if kept is not None:
                found[job.id] = kept
    return found


def held_up(state: State, job_id: str) -> Kept | None:
    """What keeps a job from finishing earlier with all others where they are, in one sentence.

    The rule whose lifting brings most days (no more than she is late, if she is); of several the one that the
    yard can do most about. For a job left out: what would bring her in. None if nothing does.
    """
    state, job = state.copy(), state.compiled.jobs[job_id]
    days = state.compiled.problem.days
    late = 0
    if job_id in state.times:
        late = slots.late_days(days, job.due, state.take(job_id)[-1].end)
    else:
        state.take_back(job_id)
    now = insert(state, job_id, hurry=True)
    end = _last_day(days, now.times) if now is not None else date.fromordinal(days[-1].toordinal() + 1)
    best, kept_rule = Gain(0, ()), None
    for rule in IN_ORDER:
        if not _binds(rule, state, job):
            continue
        gain = _gain(state, job_id, end, rule)
        worth = min(gain.days, late) if late else gain.days
        if worth > (min(best.days, late) if late else best.days):
            best, kept_rule = gain, rule
    if kept_rule is None:
        return _alone_in_the_yard(state, job, end, late) or _two_at_once(state, job, end)
    if kept_rule == "stand":
        best, state = _one_place(state, job_id, end, best)
    says, step = Words(state, job, best.times).why(kept_rule)
    return Kept(rule=kept_rule, says=says, days=best.days, step=step)


def _gain(state: State, job_id: str, end: date, *lifted: Rule) -> Gain:
    fit = insert(state, job_id, lifted=frozenset(lifted), hurry=True)
    if fit is None:
        return Gain(0, ())
    return Gain((end - _last_day(state.compiled.problem.days, fit.times)).days, fit.times)


def _one_place(state: State, job_id: str, end: date, best: Gain) -> tuple[Gain, State]:
    """The one place whose room alone would bring most, with a state in which no other is full; else as it is.

    With all places open to her she takes the cheapest anywhere; the place that really keeps her is the one
    she has no other for.
    """
    compiled, found, only = state.compiled, Gain(0, ()), state
    for row in range(len(compiled.problem.places)):
        if not (state.here[row] >= compiled.room[row]).any():
            continue
        emptied = state.copy()
        emptied.here[row] = 0
        gain = _gain(emptied, job_id, end)
        if gain.days > found.days:
            found, only = gain, state.copy()
            only.here[:row], only.here[row + 1 :] = 0, 0
    return (found, only) if found.days else (best, state)


def _alone_in_the_yard(state: State, job: Job, end: date, late: int) -> Kept | None:
    """She would be as late with the whole yard to herself: what her own stages, tides and waits take."""
    empty = State.alone(state.compiled, job)
    fit = insert(empty, job.id, hurry=True)
    if not late or fit is None or fit.times[-1].end < 1:
        return None
    days = state.compiled.problem.days
    alone_late = slots.late_days(days, job.due, fit.times[-1].end)
    if not alone_late:
        return None
    last = _last_day(days, fit.times)
    says = f"even with the yard to herself she would not be done before {last:%a} {last.day} {last:%b}"
    return Kept(rule="chain", says=says, days=(end - last).days)


def _two_at_once(state: State, job: Job, end: date) -> Kept | None:
    """The two rules that keep her together."""
    best, pair = Gain(0, ()), None
    for one, two in combinations([rule for rule in IN_PAIRS if _binds(rule, state, job)], 2):
        gain = _gain(state, job.id, end, one, two)
        if gain.days > best.days:
            best, pair = gain, (one, two)
    if pair is None:
        return None
    words = Words(state, job, best.times)
    (says, step), (also, _) = (words.why(rule) for rule in pair)
    return Kept(rule=pair[0], says=f"{says}; and {also}", days=best.days, step=step)


def _binds(rule: Rule, state: State, job: Job) -> bool:
    """Whether a rule says anything about this job: what needs no try."""
    compiled, table = state.compiled, job_table(state.compiled, job.id)
    places = [compiled.place_index[name] for s in job.steps for o in s.options for name in o.places]
    match rule:
        case "chain":
            return any(s.wait_min or s.wait_max is not None for s in job.steps)
        case "fit":
            return not all(compiled.fits(job, place) for place in places)
        case "lane":
            return table.in_lane
        case "air":
            return any(takes.feels or takes.harms for takes in table.takes)
        case "pins":
            return any(s.pin_place is not None or s.pin_start is not None for s in job.steps)
        case "gate":
            return any(s.coats and s.gate for s in job.steps)
    return True


def _last_day(days: Sequence[date], times: Sequence[StepTime]) -> date:
    return slots.last_day(days, times[-1].end) if times[-1].end > 0 else days[0]
