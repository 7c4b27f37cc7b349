"""What the demo yard's records say of how far a winter may be from its plan."""

from __future__ import annotations

from bisect import bisect_left
from datetime import date
from itertools import accumulate

from scheduling.engine.builds import first_plan
from scheduling.engine.compiled import compile_problem
from scheduling.engine.problem import Job, Problem, Step
from scheduling.engine.risk import winters
from scheduling.loading import Loaded, load
from scheduling.loading.axis import axis_of
from scheduling.loading.measured import measured
from scheduling.loading.records import gather
from scheduling.loading.resources import LIFTS
from scheduling.loading.spreads import CASES, cases_of
from scheduling.loading.tables import Stand, Tables
from yard.models import Hold, Season, Stage, Treatment
from yard.models.treatments import HoldReason, Status
from yard.trade.ranges import Range

TODAY = date(2026, 11, 24)


def job_of(loaded: Loaded, boat: str) -> Job:
    return next(job for job in loaded.problem.jobs if job.label == boat)


def step_of(loaded: Loaded, boat: str, label: str) -> Step:
    return next(step for step in job_of(loaded, boat).steps if step.label.startswith(label))


def cases(problem: Problem, step: Step) -> tuple[int, ...]:
    assert step.spread is not None
    return problem.spreads[step.spread].cases


def test_one_in_ten_cases_is_below_the_low_and_one_in_ten_above_the_high() -> None:
    found = cases_of(Range(2.0, 3.0, 7.0))
    assert len(found) == CASES
    assert (sum(case < 2 for case in found), sum(case > 7 for case in found)) == (CASES // 10, CASES // 10)
    assert sum(case < 3 for case in found) == CASES // 2


def test_every_table_that_adds_up_ends_where_its_slots_are_worth_its_amount(loaded: Loaded) -> None:
    tables = [table for table in loaded.problem.tables if table.worth and not table.before]
    assert len(tables) > 20
    for table in tables:
        upto = [0, *accumulate(loaded.problem.worths[table.worth or ""])]
        for start, end in enumerate(table.finish):
            if end is not None:
                assert bisect_left(upto, upto[start] + table.amount) == end, (table.id, start)


def test_what_has_begun_ends_where_its_amount_does(loaded: Loaded) -> None:
    begun = [job.begun for job in loaded.problem.jobs if job.begun and job.begun.worth]
    assert len(begun) > 5
    for each in begun:
        upto = [0, *accumulate(loaded.problem.worths[each.worth or ""])]
        assert bisect_left(upto, each.amount) == each.end, each.step


def test_drying_without_rounds_spreads_as_the_scheme_says(loaded: Loaded, season: Season) -> None:
    stage = Stage.objects.filter(
        treatment__season=season, kind="dry", treatment__state="expected", treatment__rounds=None
    ).first()
    assert stage is not None
    job = next(job for job in loaded.problem.jobs if job.id == str(stage.treatment_id))
    [spread] = {loaded.problem.spreads[step.spread or ""] for step in job.steps if step.kind == "dry"}
    low, high = float(stage.days_low / stage.days_likely), float(stage.days_high / stage.days_likely)
    assert sum(case < 1000 * low for case in spread.cases) == CASES // 10
    assert sum(case > 1000 * high for case in spread.cases) == CASES // 10
    assert (spread.common, spread.share_pct) == ("winter", 30)


def test_drying_with_rounds_spreads_as_her_own_forecast_does(loaded: Loaded) -> None:
    drying = [j for j in loaded.problem.jobs if j.begun and j.begun.kind == "dry" and j.begun.spread]
    spreads = {job.label: loaded.problem.spreads[job.begun.spread or ""].cases for job in drying if job.begun}
    assert len(set(spreads.values())) == len(spreads) > 3  # each hull's own
    for found in spreads.values():
        assert found[0] < 1000 <= found[-1]  # she may be dry sooner or later than is booked


def test_all_parts_of_a_drying_share_one_draw(loaded: Loaded) -> None:
    for job in loaded.problem.jobs:
        dries = [step for step in job.steps if step.kind == "dry"]
        if dries and job.begun and job.begun.kind == "dry":
            assert {step.spread for step in dries} == {job.begun.spread}


def test_fairing_takes_whole_days_about_its_norm(loaded: Loaded) -> None:
    step = next(s for j in loaded.problem.jobs for s in j.steps if s.label == "Fill and fair")
    table = next(t for t in loaded.problem.tables if t.id == step.options[0].table)
    days = table.amount // 10**6
    found = {-(-table.amount * case // 1000) / 10**6 for case in cases(loaded.problem, step)}
    assert min(found) < days < max(found)
    assert all(abs(one - round(one)) < 0.02 and one <= round(one) + 1e-6 for one in found)


def test_a_stage_whose_norm_is_one_figure_has_no_spread(loaded: Loaded) -> None:
    step = next(s for j in loaded.problem.jobs for s in j.steps if s.label == "Wet-out")
    assert step.spread is None


def test_lifts_are_told_and_wind_stops_the_hoist_in_one_day_of_six_in_february(loaded: Loaded) -> None:
    steps = [step for job in loaded.problem.jobs for step in job.steps]
    assert {step.kind for step in steps if step.told} == {"lift", "relaunch"}
    hoist = next(one for one in loaded.problem.resources if one.id == LIFTS)
    by_month = {day.month: odds for day, odds in zip(loaded.problem.days, hoist.lost, strict=True)}
    assert (by_month[2], by_month[6]) == (167, 40)
    assert not any(one.lost for one in loaded.problem.resources if one.id != LIFTS)


def test_an_answer_may_come_later_than_expected(season: Season) -> None:
    treatment = Treatment.objects.filter(season=season, state="expected").first()
    assert treatment is not None
    stage = treatment.stages.filter(status=Status.WAITING).order_by("position").first()
    assert stage is not None
    Hold.objects.create(
        stage=stage, from_on=TODAY, reason=HoldReason.OWNER, expected_on=date(2026, 12, 8), whom="the owner"
    )
    loaded = load(season, today=TODAY)
    step = next(
        step for step in job_of(loaded, treatment.boat.name).steps if step.id.startswith(str(stage.pk))
    )
    days = [loaded.problem.days[slot] for slot in step.until]
    assert days == sorted(days)
    assert days[0] < date(2026, 12, 8) < days[-1]
    assert sum(day > date(2026, 12, 21) for day in days) >= CASES // 10


def test_a_winter_of_the_demo_yard_can_be_drawn(loaded: Loaded) -> None:
    schedule = first_plan(compile_problem(loaded.problem)).schedule()
    risk = winters(loaded.problem, schedule, runs=200)
    assert len(risk.boats) == len(schedule.jobs) > 20
    assert all(a is None or b is None or a <= b for a, b in ((x.likely, x.safe) for x in risk.boats.values()))


def test_where_she_dries_while_she_waits_counts_as_in_her_table(season: Season) -> None:
    records = gather(season, TODAY)
    tables = Tables(axis_of(records), measured(season.yard, [], TODAY).airs)
    for air in records.airs:
        for dose in (3.0, 12.0):
            tables.drying(dose, air, standing=Stand(None, tented=False))
            tables.drying(dose, air, tented=True, standing=Stand(air, tented=False))
    assert len(tables.made) > 4
    for table in tables.made.values():
        upto = [0, *accumulate(tables.worths[table.worth or ""])]
        gained = [0, *accumulate(tables.worths[table.before or ""])]
        latest = 0
        for start, end in enumerate(table.finish):
            left = max(table.least, table.amount - gained[start])
            latest = max(latest, bisect_left(upto, upto[start] + left))  # a later start never ends earlier
            if end is not None:
                assert latest == end, (table.id, start)


def test_only_who_comes_from_outside_is_asked_to_come_again(loaded: Loaded) -> None:
    again = {table.id for table in loaded.problem.tables if table.anew is not None}
    outside = {
        option.table
        for job in loaded.problem.jobs
        for step in job.steps
        for option in step.options
        if any(name.startswith("outside:") for name in option.uses)
    }
    assert again == outside != set()
