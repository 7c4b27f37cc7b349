"""What the pages show of a season, read in a fixed number of queries, however many boats there are."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django.db.models import Prefetch, Q

from scheduling.models import Board, Pack, PackKind, Pin, Placement, Plan, Reasons, Unplaced
from yard.models import (
    Bay,
    DayRule,
    Hold,
    Promise,
    Round,
    Season,
    Stage,
    StageDemand,
    Status,
    Stay,
    Stoppage,
    TideWater,
    Treatment,
    TreatmentState,
    Yard,
    YardSettings,
    tides,
)
from yard.models.yards import WEATHER_KINDS
from yard.trade.calendar import closed_days


@dataclass
class BoatWinter:
    """One boat's treatment as the pages need it: what happened, and what each plan read means for her."""

    treatment: Treatment
    season_end: date
    stages: list[Stage] = field(default_factory=list)
    stays: list[Stay] = field(default_factory=list)
    promise: Promise | None = None
    holds: dict[int, Hold] = field(default_factory=dict)  # stage: its open hold
    rounds: list[Round] = field(default_factory=list)
    placed: dict[int, list[Placement]] = field(default_factory=dict)  # plan: hers, in time
    unplaced: dict[int, Unplaced] = field(default_factory=dict)  # plan

    @property
    def name(self) -> str:
        """The boat's name."""
        return self.treatment.boat.name

    @property
    def due(self) -> date:
        """The promise in force, else the date she was wanted, else the season's end."""
        return (self.promise.promised_on if self.promise else self.treatment.wanted_on) or self.season_end

    @property
    def stay(self) -> Stay | None:
        """Where she stands now."""
        return next((stay for stay in self.stays if stay.until_on is None), None)

    @property
    def running(self) -> Stage | None:
        """The stage she is in."""
        return next((stage for stage in self.stages if stage.status == Status.RUNNING), None)

    @property
    def next_stage(self) -> Stage | None:
        """The first stage that has not begun."""
        return next((stage for stage in self.stages if stage.status == Status.WAITING), None)

    @property
    def hold(self) -> Hold | None:
        """What she is held for, at the stage she is in or the next one."""
        at = [stage.pk for stage in (self.running, self.next_stage) if stage]
        return next((self.holds[pk] for pk in at if pk in self.holds), None)

    def first_day(self, plan: Plan | None, stage: Stage) -> date | None:
        """The day the plan starts a stage of hers."""
        rows = self.placed.get(plan.pk, []) if plan else []
        return min((row.first_day for row in rows if row.stage_id == stage.pk), default=None)

    def afloat_on(self, plan: Plan | None) -> date | None:
        """The day she is back in the water: done, or planned; None if no plan places her."""
        last = self.stages[-1] if self.stages else None
        if last and last.status == Status.DONE:
            return last.finished_on
        rows = self.placed.get(plan.pk, []) if plan else []
        return max((row.last_day for row in rows), default=None)

    def late_days(self, plan: Plan | None) -> int | None:
        """Calendar days after the due day [d], negative when she is early; None if no plan places her."""
        afloat = self.afloat_on(plan)
        return (afloat - self.due).days if afloat else None


@dataclass(frozen=True)
class Winter:
    """A season of one yard on one day, with the plans that were asked for."""

    yard: Yard
    season: Season
    settings: YardSettings
    today: date
    board: Board | None
    boats: list[BoatWinter]
    bays: dict[int, Bay]

    @property
    def posted(self) -> Plan | None:
        """The plan the yard works to."""
        return self.board.posted if self.board else None

    @property
    def draft(self) -> Plan | None:
        """A plan that is not posted yet."""
        draft = self.board.draft if self.board else None
        return draft if draft and draft.posted_at is None else None

    def boat(self, treatment: int) -> BoatWinter | None:
        """The winter of one treatment."""
        return next((boat for boat in self.boats if boat.treatment.pk == treatment), None)


def season_of(yard: Yard, today: date) -> Season | None:
    """The season a day falls in, else the next one, else the last there was; closed ones come last."""
    seasons = sorted(Season.objects.of(yard), key=lambda season: season.first_day)
    open_now = [season for season in seasons if season.closed_on is None]
    ahead = next((season for season in open_now if today <= season.last_day), None)
    return ahead or next(iter(reversed(open_now or seasons)), None)


def read_winter(yard: Yard, today: date, *, draft: bool = False, demands: bool = False) -> Winter | None:
    """Read the season of `today`, or None where the yard has none.

    Args:
        draft: read the draft's placements as well as the posted plan's.
        demands: read what each stage demands, and the rounds taken.
    """
    season = season_of(yard, today)
    if season is None:
        return None
    board = Board.objects.filter(season=season).select_related("posted", "draft").first()
    winter = Winter(
        yard=yard,
        season=season,
        settings=YardSettings.objects.get(yard=yard),
        today=today,
        board=board,
        boats=_boats(season, demands=demands),
        bays={bay.pk: bay for bay in Bay.objects.of(yard).select_related("shed", "air", "lane")},
    )
    by_treatment = {boat.treatment.pk: boat for boat in winter.boats}
    owner = {stage.pk: boat for boat in winter.boats for stage in boat.stages}
    plans = [plan.pk for plan in (winter.posted, winter.draft if draft else None) if plan]
    for row in Placement.objects.filter(plan__in=plans).order_by("first_day", "part", "id"):
        if row.stage_id in owner:
            owner[row.stage_id].placed.setdefault(row.plan_id, []).append(row)
    for out in Unplaced.objects.filter(plan__in=plans):
        if out.treatment_id in by_treatment:
            by_treatment[out.treatment_id].unplaced[out.plan_id] = out
    return winter


def _boats(season: Season, *, demands: bool) -> list[BoatWinter]:
    stages: Any = Stage.objects.exclude(status=Status.DROPPED).order_by("position")
    if demands:
        needed = StageDemand.objects.select_related("skill")
        stages = stages.prefetch_related(Prefetch("demands", needed))
    treatments = (
        season.treatments.exclude(state=TreatmentState.CANCELLED)
        .select_related("boat", "boat__owner", "scheme")
        .prefetch_related("boat__girths")
        .prefetch_related(Prefetch("stages", stages), "stays")
        .order_by("boat__name")
    )
    inside = Q(treatment__season=season)
    promises = {
        row.treatment_id: row for row in Promise.objects.filter(inside, superseded=False).select_related("by")
    }
    holds: dict[int, dict[int, Hold]] = defaultdict(dict)
    for hold in Hold.objects.filter(stage__treatment__season=season, until_on=None).select_related("stage"):
        holds[hold.stage.treatment_id][hold.stage_id] = hold
    rounds: dict[int, list[Round]] = defaultdict(list)
    if demands:
        for taken in Round.objects.filter(inside, superseded=False).order_by("day_on"):
            rounds[taken.treatment_id].append(taken)
    return [
        BoatWinter(
            treatment=treatment,
            season_end=season.last_day,
            stages=list(treatment.stages.all()),
            stays=list(treatment.stays.all()),
            promise=promises.get(treatment.pk),
            holds=holds[treatment.pk],
            rounds=rounds[treatment.pk],
        )
        for treatment in treatments
    ]


def shut_days(winter: Winter, first: date, last: date) -> dict[date, str]:
    """Each day from `first` to `last`, both inclusive, on which the yard doesn't work, with the reason."""
    rules = {
        rule.day: (rule.open, rule.reason)
        for rule in DayRule.objects.of(winter.yard).filter(day__range=(first, last))
    }
    whole = {f"{subject}__isnull": True for subject in Stoppage.SUBJECTS}
    closing = Stoppage.objects.of(winter.yard).filter(called_off_on=None).exclude(kind__in=WEATHER_KINDS)
    for stop in closing.filter(first_day__lte=last, **whole):
        end = min(stop.last_day or winter.today, last)
        start = max(stop.first_day, first)
        for offset in range((end - start).days + 1):
            rules[start + timedelta(days=offset)] = (False, stop.why)
    settings = winter.settings
    return closed_days(
        first, last, open_weekdays=settings.open_weekdays, nation=winter.yard.nation, rules=rules
    )


def waters_of(yard: Yard, first: date, last: date) -> list[TideWater]:
    """High and low waters from a day before `first` to a day after `last`, in order."""
    span = (first - timedelta(days=1), last + timedelta(days=2))
    return list(tides.waters_of(yard).filter(at__date__range=span))


def pack_of(season: Season) -> Pack | None:
    """The last pack that was asked for a plan."""
    rows = (
        Pack.objects.filter(season=season)
        .exclude(kind=PackKind.HELPS)
        .defer("problem")
        .select_related("plan")
    )
    return rows.order_by("-asked_at", "-id").first()


def reasons_of(plan: Plan | None, treatments: Collection[int]) -> dict[int, Reasons]:
    """Why a plan has these boats when it has them, by treatment; of older plans nothing is known."""
    if plan is None or not treatments:
        return {}
    return {row.treatment_id: row for row in Reasons.objects.filter(plan=plan, treatment__in=treatments)}


def pinned_stages(season: Season) -> frozenset[int]:
    """Stages with a pin in force."""
    pins = Pin.objects.filter(stage__treatment__season=season, lifted_at=None)
    return frozenset(pins.values_list("stage_id", flat=True))


def treatment_in(yard: Yard, pk: int) -> Treatment | None:
    """A treatment of this yard, with her boat and owner."""
    return Treatment.objects.of(yard).filter(pk=pk).select_related("boat", "boat__owner", "season").first()


def stage_in(yard: Yard, pk: int) -> Stage | None:
    """A stage of this yard, with her boat."""
    return Stage.objects.of(yard).filter(pk=pk).select_related("treatment__boat").first()


def bay_in(yard: Yard, name: str) -> Bay | None:
    """A bay of this yard by its name."""
    return Bay.objects.of(yard).filter(name__iexact=name, retired_on=None).first()
