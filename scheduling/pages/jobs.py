"""The stage-days of one day: what the crew does where, how far it got, and what stops it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from types import MappingProxyType
from uuid import uuid4

from scheduling.loading.areas import likely_m2
from scheduling.loading.stages import demand_hours, norm_days
from scheduling.loading.winter import BoatWinter, Winter
from scheduling.models import Placement, Plan
from scheduling.pages.sentences import ground, waiting_for
from yard.models import Bay, Hold, KitKind, Stage, StageDemand, StageKind, Status, TreatmentState
from yard.templatetags.days import day as said_day
from yard.trade.cautions import Caution, cautions_for

WAITING_KINDS = frozenset({StageKind.DRY, StageKind.CURE, StageKind.WAIT})
"""Stages that go on by themselves where the scheme demands nothing of them."""

VISITS: Mapping[str, str] = MappingProxyType(
    {KitKind.HOT_WASH: "Hot wash", KitKind.HEATER: "Heater check", KitKind.TENT: "Heater check", "": "Round"}
)


@dataclass
class Job:
    """One stage of one boat on the day. `stops` says why it cannot go on and what would help."""

    boat: BoatWinter
    stage: Stage
    bay: Bay | None
    stands_in: Bay | None
    part: str
    hours: float | None  # [person-hours of this day]
    skills: str
    hold: Hold | None
    stops: str
    overdue: str
    cautions: tuple[Caution, ...]
    refused: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)
    key: str = field(default_factory=lambda: str(uuid4()))  # its form sent twice is done once

    @property
    def running(self) -> bool:
        """Whether it has been started."""
        return self.stage.status == Status.RUNNING

    @property
    def ground(self) -> str:
        """The shed or ground the bay is in."""
        return ground(self.bay.shed) if self.bay else ""

    @property
    def to_move(self) -> bool:
        """Whether she has to come into this bay first."""
        return self.bay is not None and (self.stands_in is None or self.stands_in.pk != self.bay.pk)


@dataclass(frozen=True)
class Visit:
    """A round, a wash or a check inside a waiting stage, due on the day."""

    boat: BoatWinter
    bay: Bay | None
    what: str
    why: str


@dataclass(frozen=True)
class DayList:
    """A day's work: jobs in order, visits due, and the boats that only wait."""

    jobs: list[Job]
    visits: list[Visit]
    waiting: list[Job]


def day_list(winter: Winter, on: date, shut: Mapping[date, str]) -> DayList:
    """What the posted plan and the running stages ask of a day."""
    plan = winter.posted
    jobs, waiting, visits = [], [], []
    for boat in winter.boats:
        found = _stage_on(boat, plan, on, winter.today)
        if found is None:
            continue
        stage, row = found
        job = _job(winter, boat, stage, row, on, shut)
        if job.running and goes_on_alone(stage):
            waiting.append(job)
            visits += _visits(job, on, shut)
        elif on not in shut or _meant_for(on, row) or (job.running and on <= winter.today):
            jobs.append(job)
    jobs.sort(key=lambda job: (bool(job.hold or job.stops), not job.running, natural(job.bay)))
    waiting.sort(key=lambda job: natural(job.bay))
    visits.sort(key=lambda visit: (visit.what, natural(visit.bay)))
    return DayList(jobs, visits, waiting)


def _meant_for(on: date, row: Placement | None) -> bool:
    """Whether the plan itself starts or ends a stage on a closed day: a launch on an odd Saturday."""
    return row is not None and on in (row.first_day, row.last_day)


def goes_on_alone(stage: Stage) -> bool:
    """Whether a stage only waits: all it asks for is visits, or nothing at all."""
    demands = list(stage.demands.all())
    if not demands:
        return stage.kind in WAITING_KINDS
    return all(need.every_d or need.times or need.held for need in demands)


def natural(bay: Bay | None) -> list[tuple[int, str]]:
    """A key that sorts S2 before S10; no bay first."""
    parts = re.findall(r"\d+|\D+", bay.name) if bay else []
    return [(int(part), "") if part.isdigit() else (-1, part) for part in parts]


def _stage_on(
    boat: BoatWinter, plan: Plan | None, on: date, today: date
) -> tuple[Stage, Placement | None] | None:
    """Her stage of that day: the running one, else what the plan has then or should have started before."""
    rows = boat.placed.get(plan.pk, []) if plan else []
    for stage in boat.stages:
        if stage.status not in (Status.RUNNING, Status.WAITING):
            continue
        hers = [row for row in rows if row.stage_id == stage.pk]
        now = next((row for row in hers if row.first_day <= on <= row.last_day), None)
        if stage.status == Status.RUNNING:
            begun = stage.started_on is not None and stage.started_on <= on
            if begun and (on <= today or now or not hers):
                return stage, now or (hers[-1] if hers else None)
            continue
        if now:
            return stage, now
        if hers and on == today and hers[0].first_day < on and boat.next_stage is stage and not boat.running:
            return stage, hers[0]
    return None


def _job(
    winter: Winter, boat: BoatWinter, stage: Stage, row: Placement | None, on: date, shut: Mapping[date, str]
) -> Job:
    stands_in = winter.bays.get(boat.stay.bay_id) if boat.stay else None
    planned = winter.bays.get(row.bay_id) if row and row.bay_id else None
    running = stage.status == Status.RUNNING
    number, length = _count(boat, stage, row, on, shut)
    demands = [need for need in stage.demands.all() if need.skill and not need.every_d and not need.times]
    areas, days = _areas(boat), norm_days(stage, boat.treatment)
    hours = sum(demand_hours(need, areas, days) for need in demands) / (length or max(round(days), 1))
    first = row.first_day if row else None
    return Job(
        boat=boat,
        stage=stage,
        bay=stands_in if running or planned is None else planned,
        stands_in=stands_in,
        part=_part(number, length),
        hours=round(hours * 2) / 2 or None,
        skills=", ".join(dict.fromkeys(need.skill.name for need in demands if need.skill)),
        hold=boat.holds.get(stage.pk),
        stops=_stops(boat, stage, ahead=on > winter.today),
        overdue=f"planned for {said_day(first)}"
        if first and first < on and not running and on == winter.today
        else "",
        cautions=cautions_for(stage.kind),
    )


def _areas(boat: BoatWinter) -> dict[str, float]:
    """What hours are counted by [m2]; nothing where her dimensions can't be, which the Wall says."""
    try:
        return likely_m2(boat.treatment.boat)
    except ValueError:
        return {}


def _count(
    boat: BoatWinter, stage: Stage, row: Placement | None, on: date, shut: Mapping[date, str]
) -> tuple[int, int | None]:
    """Which working day of the stage this is, and how many it has."""
    first = stage.started_on or (row.first_day if row else on)
    number = _open_days(first, on, shut)
    return number, max(_open_days(first, row.last_day, shut), number) if row else None


def _open_days(first: date, last: date, shut: Mapping[date, str]) -> int:
    days = (first + timedelta(days=offset) for offset in range((last - first).days + 1))
    return max(sum(1 for on in days if on not in shut), 1)


def _part(number: int, length: int | None) -> str:
    if length is None:
        return f"day {number}"
    return "one day" if length == 1 else f"day {number} of {length}"


def _stops(boat: BoatWinter, stage: Stage, *, ahead: bool) -> str:
    """The one thing that stops it, with what to do; nothing if it may go on, or `ahead` by then may have."""
    if hold := boat.holds.get(stage.pk):
        return waiting_for(hold)
    if stage.status == Status.RUNNING or ahead:
        return ""
    before = next((other for other in boat.stages if other.status in (Status.RUNNING, Status.WAITING)), None)
    if before and before.pk != stage.pk:
        state = "still running" if before.status == Status.RUNNING else "not started"
        return f"{before.name} is {state}: finish it first."
    if boat.treatment.state == TreatmentState.EXPECTED and stage.kind != StageKind.LIFT:
        return f"{boat.name} is not here yet: bring her in first."
    return ""


def _visits(job: Job, on: date, shut: Mapping[date, str]) -> list[Visit]:
    """Visits of a waiting stage that fall on the day, or on closed days just before it."""
    start = job.stage.started_on
    if on in shut or job.hold or start is None:
        return []
    before = on - timedelta(days=1)
    while before in shut:
        before -= timedelta(days=1)
    found = []
    for every, what in _rhythms(job):
        last = job.boat.rounds[-1].day_on if job.boat.rounds and what == "Round" else None
        if last is not None:
            due, why = (on - last).days >= every, f"last {said_day(last)}"
        else:
            passed, was = (on - start).days, (before - start).days
            due, why = passed > 0 and int(passed / every) > int(was / every), f"every {every:.0f} days"
        if due:
            found.append(Visit(job.boat, job.bay, what, why if every > 1 else ""))
    return found


def _rhythms(job: Job) -> list[tuple[float, str]]:
    """How often the stage is visited [d], and for what; the kit names a visit, hands alone make a round."""
    found: dict[float, str] = {}
    for need in job.stage.demands.all():
        every = _every(need, job)
        if every is not None and (need.kit_kind or every not in found):
            found[every] = VISITS.get(need.kit_kind, "Visit")
    return sorted(found.items())


def _every(need: StageDemand, job: Job) -> float | None:
    """How many days lie between two visits [d]; None for what is no visit."""
    if need.every_d:
        return float(need.every_d)
    if need.times:
        return max(norm_days(job.stage, job.boat.treatment) * 7 / 5 / need.times, 1)
    return None
