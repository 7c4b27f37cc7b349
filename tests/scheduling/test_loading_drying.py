"""What a hull's own rounds mean for her plan: the demo yard, with readings put in or taken out."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from scheduling.engine.problem import Job, Option
from scheduling.loading import load
from scheduling.loading.drying import HullDrying, histories, hull_drying
from scheduling.loading.measured import measured
from yard.models import (
    DrySigned,
    Meter,
    Promise,
    Reading,
    Round,
    Season,
    Spot,
    Stage,
    StageKind,
    Status,
    Treatment,
    WashRecord,
    YardSettings,
)

TODAY = date(2026, 11, 24)


def treatment(season: Season, boat: str) -> Treatment:
    return Treatment.objects.select_related("boat", "scheme").get(season=season, boat__name=boat)


def drying_of(season: Season, boat: str) -> HullDrying | None:
    hers = treatment(season, boat)
    found = measured(season.yard, [hers.pk], TODAY)
    settings = YardSettings.objects.get(yard=season.yard)
    return hull_drying(hers, found, histories(found), settings, TODAY)


def dried(season: Season, boat: str) -> HullDrying:
    found = drying_of(season, boat)
    assert found is not None
    return found


def job_of(season: Season, boat: str) -> Job:
    problem = load(season, today=TODAY).problem
    return next(job for job in problem.jobs if job.label == boat)


def days_of_drying(season: Season, boat: str) -> int:
    """Slots of drying left if she stays in the tent: what runs, and the parts still to come."""
    loaded = load(season, today=TODAY)
    job = next(job for job in loaded.problem.jobs if job.label == boat)
    tables = {table.id: table for table in loaded.problem.tables}
    assert job.begun is not None
    slot = job.begun.end
    for step in job.steps:
        if step.dries:
            slot = min(
                end
                for option in step.options
                if option.label == "tent" and option.table
                for end in [tables[option.table].finish[slot]]
                if end is not None
            )
    return slot


def read_again(season: Season, boat: str, days: dict[date, float]) -> None:
    """Her rounds are these alone, each the mean of all spots."""
    hers = treatment(season, boat)
    Round.objects.filter(treatment=hers).update(superseded=True)
    spot, _ = Spot.objects.get_or_create(boat=hers.boat, code="mean", defaults={"walk_order": 999})
    meter = Meter.objects.of(season.yard).get()
    for day, value in days.items():
        one = Round.objects.create(treatment=hers, meter=meter, day_on=day)
        Reading.objects.create(round=one, spot=spot, value=Decimal(value))


def test_she_dries_in_the_weather_until_she_moves_into_the_tent(season: Season) -> None:
    stood = dried(season, "Fieldfare").standings
    assert [(one.first, one.regime, one.bay and one.bay.name) for one in stood] == [
        (date(2026, 11, 10), "weather", "S14"),  # the fit begins five days after the wash of 5 November
        (date(2026, 11, 12), "tent", "H2"),
    ]
    decays = dried(season, "Fieldfare").decays
    assert len(decays) == (TODAY - date(2026, 11, 10)).days
    assert decays[1] < decays[2]


def test_a_slower_hull_than_the_norm_is_planned_to_dry_longer(season: Season) -> None:
    norm_like = days_of_drying(season, "Teasel")
    days = [date(2026, 11, 10), date(2026, 11, 17), date(2026, 11, 24)]
    read_again(season, "Teasel", dict(zip(days, (41, 38, 36), strict=True)))
    assert days_of_drying(season, "Teasel") > norm_like + 5
    read_again(season, "Teasel", dict(zip(days, (41, 27, 20), strict=True)))
    assert days_of_drying(season, "Teasel") < norm_like - 3


def test_rounds_before_the_last_wash_say_nothing(season: Season) -> None:
    heat = Stage.objects.get(treatment=treatment(season, "Teasel"), kind=StageKind.DRY)
    WashRecord.objects.create(stage=heat, day_on=TODAY - timedelta(days=1))
    assert drying_of(season, "Teasel") is None
    job = job_of(season, "Teasel")  # she is planned by the scheme's norm again
    assert job.begun is not None
    assert job.begun.kind == StageKind.DRY


def test_a_boat_still_to_be_peeled_has_no_forecast(season: Season) -> None:
    assert drying_of(season, "Sorrel") is None  # a baseline round alone
    assert Round.objects.filter(treatment=treatment(season, "Sorrel")).exists()


@pytest.mark.parametrize(
    ("kind", "pct"), [("firm", 80), ("tide", 80), ("week", 70), ("month", 60), ("wish", 50)]
)
def test_the_harder_the_date_the_surer_her_drying_is_booked(season: Season, kind: str, pct: int) -> None:
    hers = treatment(season, "Teasel")
    Promise.objects.of(season.yard).filter(treatment=hers).update(superseded=True)
    Treatment.objects.filter(pk=hers.pk).update(wanted_kind=kind)
    booked = dried(season, "Teasel").dose_left(pct / 100)
    assert booked is not None
    # She stands in the tent: a day is worth a day, and the plan ends on the evening it is done.
    loaded = load(season, today=TODAY)
    job = next(job for job in loaded.problem.jobs if job.label == "Teasel")
    later = [step for step in job.steps if step.dries]
    assert job.begun is not None
    parts = 1 + len(later)
    done = loaded.problem.days[job.begun.end - 1] if job.begun.end else TODAY
    assert (done - TODAY).days + 1 == pytest.approx(booked / parts, abs=3)  # a closed day on either side


def test_where_no_day_is_sure_enough_the_longest_norm_is_booked_and_she_is_said_to_have_stalled(
    season: Season,
) -> None:
    WashRecord.objects.filter(stage__treatment=treatment(season, "Teasel")).update(superseded=True)
    days = [date(2026, 10, 27) + timedelta(weeks=i) for i in range(5)]
    read_again(season, "Teasel", dict(zip(days, (41, 41, 40.5, 41, 40.5), strict=True)))
    hers = dried(season, "Teasel")
    assert hers.stall is not None
    assert hers.dose_left(0.9) is None
    Treatment.objects.filter(boat__name="Teasel").update(wanted_kind="firm")
    Promise.objects.of(season.yard).filter(treatment__boat__name="Teasel").update(superseded=True)
    stage = Stage.objects.get(treatment=treatment(season, "Teasel"), kind=StageKind.DRY)
    loaded = load(season, today=TODAY)
    last = loaded.problem.days[days_of_drying(season, "Teasel") - 1]
    assert (last - TODAY).days + 1 == pytest.approx(float(stage.days_high) * 7 / 5, abs=14)  # the shutdown


def test_finished_boats_draw_the_belief_about_the_next(season: Season) -> None:
    before = dried(season, "Teasel").belief
    sedge = treatment(season, "Sedge")
    days = [date(2026, 10, 28) + timedelta(days=4 * i) for i in range(5)]
    read_again(
        season, "Sedge", dict(zip(days, (70, 50, 37, 28, 23), strict=True))
    )  # twice as fast as the norm
    assert DrySigned.objects.filter(treatment=sedge, superseded=False).exists()
    after = dried(season, "Teasel").belief
    assert after.factor > before.factor
    assert "1 finished boat" in after.says


def test_a_boat_that_waits_for_heat_has_less_left_the_later_it_begins(season: Season) -> None:
    hers = treatment(season, "Teasel")
    Stage.objects.filter(treatment=hers, kind=StageKind.DRY).update(
        status=Status.WAITING, started_on=None, done_pct=0
    )
    loaded = load(season, today=TODAY)
    job = next(job for job in loaded.problem.jobs if job.label == "Teasel")
    tables = {table.id: table for table in loaded.problem.tables}
    first = next(step for step in job.steps if step.dries)
    tents: list[Option] = [option for option in first.options if option.label == "tent"]
    assert tents and tents[0].table
    finish = tables[tents[0].table].finish
    lengths = [end - slot for slot, end in enumerate(finish[:30]) if end is not None]
    assert lengths[-1] < lengths[0]


def test_her_own_target_comes_before_the_schemes_and_that_before_her_dry_topside(season: Season) -> None:
    hers = treatment(season, "Teasel")
    Treatment.objects.filter(pk=hers.pk).update(target_reading=21)
    assert dried(season, "Teasel").target == 21
    Treatment.objects.filter(pk=hers.pk).update(target_reading=None)
    assert dried(season, "Teasel").target == 18  # the scheme's
    type(hers.scheme).objects.filter(pk=hers.scheme_id).update(target_reading=None)
    assert dried(season, "Teasel").target == 18  # 14 on the topside and the yard's 4
