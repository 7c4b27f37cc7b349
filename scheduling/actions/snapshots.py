"""What a pack keeps of the records it started from, and what the witness says of what came of them.

Records go on changing while the engine thinks. A result is therefore stored against the season as it was when
the pack was asked for; whether the plan still fits is asked again when it is posted.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from scheduling.engine import slots
from scheduling.engine.compiled import compile_problem
from scheduling.engine.explain import kept_by
from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.problem import Job, Problem
from scheduling.engine.repair import Repair, as_frozen
from scheduling.engine.schedule import Breach, Result
from scheduling.engine.state import State
from scheduling.engine.witness import check, cost
from scheduling.loading import Loaded, Refs
from scheduling.loading.axis import Axis
from scheduling.loading.steps import Part
from scheduling.models import PackKind
from yard.models import Bay, Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What the witness says of a result; the cost and the late boats are its own count, not the engine's."""

    result: Result
    clashes: tuple[Breach, ...]
    facts: tuple[Breach, ...]  # the yard's own records: reported, not refused
    cost: Mapping[str, int]  # by kind, without the kinds that cost nothing [minor units]
    bound: int | None  # [minor units]
    late_boats: int
    late_days: int  # [calendar days] boats left out count until the last day of the axis

    @property
    def total(self) -> int:
        """[minor units]"""
        return sum(self.cost.values())


def keep(loaded: Loaded) -> dict[str, Any]:
    """A pack's `problem`, `problem_sha256` and `refs`."""
    parts = [
        [job, step, part.stage.pk, part.part, part.label, part.fact]
        for (job, step), part in loaded.refs.parts.items()
    ]
    return {
        "problem": to_json(loaded.problem),
        "problem_sha256": loaded.sha256,
        "refs": {
            "parts": parts,
            "bays": {place: [bay.pk for bay in bays] for place, bays in loaded.refs.bays.items()},
            "says": {str(treatment): says for treatment, says in loaded.says.items()},
        },
    }


def restore(problem: Mapping[str, Any], refs: Mapping[str, Any]) -> Loaded:
    """The season as it was loaded then, in two queries."""
    read = from_json(Problem, problem)
    stages = Stage.objects.in_bulk([row[2] for row in refs["parts"]])
    bays = Bay.objects.in_bulk([pk for pks in refs["bays"].values() for pk in pks])
    parts = {
        (job, step): Part(stages[stage], part, label, fact=fact)
        for job, step, stage, part, label, fact in refs["parts"]
    }
    days = read.days
    axis = Axis(days=days, crew=(1,) * len(days), today=days[0], last_day=days[-1])
    found = {place: tuple(bays[pk] for pk in pks) for place, pks in refs["bays"].items()}
    return Loaded(read, axis, Refs(parts, found), {int(pk): says for pk, says in refs["says"].items()})


def judge(problem: Problem, answer: Mapping[str, Any], kind: PackKind = PackKind.PACK) -> Judged:
    """Hold an answer of the engine to a pack of this kind against the nine rules and count its cost anew.

    Raises:
        BadInput: if the answer is not a Result, or of a repair a Repair.
    """
    if kind == PackKind.REPAIR:
        return weigh(problem, _result(from_json(Repair, answer)))
    return weigh(problem, from_json(Result, answer))


def _result(repair: Repair) -> Result:
    """A mended plan as a search would hand it over."""
    return Result(
        status="stopped" if repair.status == "stopped" else "found",
        schedule=repair.schedule,
        cost=repair.cost,
        total=repair.total,
        thawed=repair.thawed,
    )


def with_reasons(problem: Problem, judged: Judged) -> Judged:
    """The same with what keeps each late boat, which a repair does not say; only for what keeps the rules."""
    kept = kept_by(State.of(compile_problem(problem), judged.result.schedule))
    return replace(judged, result=replace(judged.result, kept=kept))


def weigh(problem: Problem, result: Result) -> Judged:
    """Hold a result against the nine rules, frozen days included, and count its cost anew."""
    breaches = check(as_frozen(problem, result.thawed), result.schedule)
    counted = {kind: amount for kind, amount in cost(problem, result.schedule).items() if amount}
    bound = result.bound
    late = [days for job in problem.jobs if (days := _late_days(problem, result, job))]
    return Judged(
        result=result,
        clashes=tuple(one for one in breaches if not one.fact),
        facts=tuple(one for one in breaches if one.fact),
        cost=counted,
        bound=bound if bound is not None and bound <= sum(counted.values()) else None,
        late_boats=len(late),
        late_days=sum(late),
    )


def _late_days(problem: Problem, result: Result, job: Job) -> int:
    times = result.schedule.jobs.get(job.id)
    if times:
        return slots.late_days(problem.days, job.due, times[-1].end)
    return slots.unplaced_late_days(problem.days, job.due)
