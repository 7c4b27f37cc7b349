"""A season's records become a Problem: the demo yard, which comes in by its folder like any other."""

from datetime import date

from django.db import connection
from django.test.utils import CaptureQueriesContext

from scheduling.engine.jsonio import from_json, to_json
from scheduling.engine.problem import Job, Problem, Step
from scheduling.engine.schedule import Schedule, StepTime
from scheduling.loading import Loaded, load, placements
from scheduling.loading.records import gather
from yard.models import Hoist, Kit, Season, Sling, Stoppage, Treatment, YardSettings
from yard.models.yards import StoppageKind

TODAY = date(2026, 11, 24)


def job_of(loaded: Loaded, boat: str) -> Job:
    return next(job for job in loaded.problem.jobs if job.label == boat)


def step_of(loaded: Loaded, boat: str, label: str) -> Step:
    return next(step for step in job_of(loaded, boat).steps if step.label == label)


def fits(loaded: Loaded, boat: str) -> set[str]:
    size = job_of(loaded, boat).size
    return {
        place.label
        for place in loaded.problem.places
        if all(size[name] <= limit for name, limit in place.limits.items())
    }


def test_every_boat_of_the_demo_yard_becomes_a_job(loaded: Loaded) -> None:
    assert len(loaded.problem.jobs) == 32
    assert not loaded.says
    assert loaded.problem.days[0] == TODAY
    assert date(2026, 12, 25) not in loaded.problem.days


def test_a_problem_is_the_same_after_a_turn_through_json_and_for_the_same_records(
    season: Season, loaded: Loaded
) -> None:
    assert from_json(Problem, to_json(loaded.problem)) == loaded.problem
    assert load(season, today=TODAY).sha256 == loaded.sha256


def test_loading_takes_no_more_queries_for_all_boats_than_for_one(season: Season) -> None:
    with CaptureQueriesContext(connection) as all_boats:
        load(season, today=TODAY)
    Treatment.objects.exclude(boat__name="Teasel").update(state="cancelled")
    with CaptureQueriesContext(connection) as one_boat:
        load(season, today=TODAY)
    assert len(one_boat) <= len(all_boats) <= 36


def test_a_boat_is_planned_by_her_weighed_load_once_she_is_weighed(loaded: Loaded) -> None:
    # 13.8 t declared would be planned as 16.56 t; H5 takes 16 t, and she was weighed at 14.9 t.
    assert job_of(loaded, "Hazelrig").size["load_kg"] == 14_900
    assert "H5" in fits(loaded, "Hazelrig")


def test_a_boat_that_is_too_long_fits_only_the_longest_bays(loaded: Loaded) -> None:
    assert fits(loaded, "Avocet Two") == {"H7", "P1–P2", "S13–S20", "the dock"}


def test_bays_that_no_rule_can_tell_apart_are_one_pool(loaded: Loaded) -> None:
    pools = {place.label: place.room for place in loaded.problem.places if place.room > 1}
    assert pools == {"H1–H2": 2, "H3–H4": 2, "P1–P2": 2, "S1–S12": 12, "S13–S20": 8, "the dock": 3}


def test_a_bay_that_is_out_leaves_its_pool_and_is_closed_in_those_slots(season: Season) -> None:
    bay = next(bay for bay in gather(season, TODAY).bays if bay.name == "H2")
    first, last = date(2027, 1, 11), date(2027, 1, 15)
    Stoppage.objects.create(
        yard=season.yard, bay=bay, kind=StoppageKind.CLOSED, first_day=first, last_day=last, why="floor"
    )
    loaded = load(season, today=TODAY)
    place = next(place for place in loaded.problem.places if place.label == "H2")
    assert place.room == 1
    ((start, end),) = place.closed
    assert [loaded.problem.days[slot] for slot in (start, end - 1)] == [first, last]


def test_what_is_called_off_counts_for_nothing(season: Season) -> None:
    bay = next(bay for bay in gather(season, TODAY).bays if bay.name == "H2")
    before = load(season, today=TODAY).problem
    out = {"yard": season.yard, "why": "a slip", "first_day": date(2027, 1, 11), "called_off_on": TODAY}
    for kind, subject in (("closed", {"bay": bay}), ("closed", {}), ("cold", {})):
        Stoppage.objects.create(kind=kind, **out, **subject)
    assert load(season, today=TODAY).problem == before


def test_what_runs_today_is_a_fact_and_the_rest_are_steps(loaded: Loaded) -> None:
    sedge = job_of(loaded, "Sedge")
    assert sedge.signed_dry
    assert sedge.begun is not None
    # Day 2 of 4 of filling today: today and two more.
    assert (sedge.begun.kind, sedge.begun.unit, sedge.begun.end) == ("fair", "H3", 3)
    assert [step.kind for step in sedge.steps] == ["coat", "cure", "refit", "relaunch"]


def test_a_boat_in_a_tent_holds_the_tent_its_heaters_and_their_power(loaded: Loaded) -> None:
    teasel = job_of(loaded, "Teasel")
    assert teasel.begun is not None
    # Bay H1 takes a middling tent: 2 heaters of 3 kW and 1 dehumidifier of 0.8 kW, 6,800 W on the part's
    # circuit.
    holds = dict(teasel.begun.option.holds)
    assert holds.pop("kit:tent:M") == 1
    assert holds.pop("kit:heater") == 2
    assert holds.pop("kit:dehumidifier") == 1
    assert 6_800 in holds.values()


def test_a_held_boat_waits_until_the_answer_is_expected(loaded: Loaded) -> None:
    step = job_of(loaded, "Coppice").steps[0]
    assert loaded.problem.days[step.earliest] == date(2026, 12, 4)
    assert step.earliest_why


def test_she_is_due_on_her_promise(season: Season, loaded: Loaded) -> None:
    turnstone = job_of(loaded, "Turnstone")
    assert turnstone.due == date(2027, 4, 12)
    assert turnstone.late_price == 60_00 * 3  # 60 a day, firm: three times


def test_she_is_not_put_back_in_months_before_her_owner_expects_her(loaded: Loaded) -> None:
    step = step_of(loaded, "Sedge", "Relaunch")  # promised for 12 March, filled before Christmas
    assert loaded.problem.days[step.earliest] == date(2027, 2, 19)
    assert "12 Mar" in step.earliest_why


def test_a_deep_boat_floats_only_on_the_best_tides(loaded: Loaded) -> None:
    def days(boat: str) -> set[date]:
        (option,) = step_of(loaded, boat, "Relaunch").options
        table = next(t for t in loaded.problem.tables if t.id == option.table)
        return {
            day for day, end in zip(loaded.problem.days, table.finish, strict=True) if end and day.month == 4
        }

    deep, shallow = days("Avocet Two"), days("Burnet")  # 2.20 m and 1.10 m
    assert deep < shallow
    assert date(2027, 4, 15) in shallow - deep  # neaps
    assert date(2027, 4, 22) in deep


def test_no_lift_on_the_examiners_day_and_fewer_while_the_laid_up_fleet_goes_in(loaded: Loaded) -> None:
    lifts = next(r for r in loaded.problem.resources if r.id == "lifts")
    by_day = dict(zip(loaded.problem.days, lifts.capacity, strict=True))
    assert by_day[date(2027, 3, 2)] == 0
    assert by_day[date(2027, 3, 16)] == 1  # three, less two sold
    assert by_day[date(2027, 4, 30)] > 0  # the certificate ran to 5 March; examined on the 2nd


def test_hands_are_out_while_they_are_away(loaded: Loaded) -> None:
    hand = next(h for h in loaded.problem.hands if h.label == "Nell Quillan")
    by_day = dict(zip(loaded.problem.days, hand.minutes, strict=True))
    assert by_day[date(2027, 2, 8)] == 0
    assert by_day[date(2027, 2, 15)] == 39 * 60 / 5


def test_a_day_without_the_hot_washer_stops_no_weeks_of_washing(loaded: Loaded) -> None:
    (option,) = step_of(loaded, "Knapweed", "Air and wash").options
    table = next(t for t in loaded.problem.tables if t.id == option.table)
    assert table.open is not None
    by_day = dict(zip(loaded.problem.days, loaded.problem.calendars[table.open], strict=True))
    washer = next(r for r in loaded.problem.resources if r.id == "kit:hot_wash")
    service = date(2027, 1, 11)
    assert washer.capacity[loaded.problem.days.index(service)] == 0
    assert by_day[service] == 0  # nothing is asked of it that day
    assert by_day[date(2027, 1, 12)] == 1


def test_a_fact_keeps_the_day_it_really_began_and_a_planned_stage_has_its_days(loaded: Loaded) -> None:
    sedge = job_of(loaded, "Sedge")
    assert sedge.begun is not None
    coat = sedge.steps[0]
    heated = sedge.begun.place
    times = (
        StepTime(step=sedge.begun.step, place=heated, option=-1, start=-1, end=3, leaves=4, unit="H3"),
        StepTime(step=coat.id, place=heated, option=0, start=4, end=8, leaves=8, unit="H3"),
    )
    fill, coats = placements(loaded, Schedule(jobs={sedge.id: times}))
    assert (fill.first_day, fill.last_day, fill.leaves_on) == (
        date(2026, 11, 23),
        date(2026, 11, 26),
        date(2026, 11, 30),
    )
    assert (coats.first_day, coats.last_day) == (date(2026, 11, 30), date(2026, 12, 3))
    assert fill.bay_id == coats.bay_id is not None


def test_a_yard_without_a_hoist_is_told_so_boat_by_boat(season: Season) -> None:
    Stoppage.objects.exclude(hoist=None).delete()
    Sling.objects.all().delete()
    Hoist.objects.all().delete()
    loaded = load(season, today=TODAY)
    assert not loaded.problem.jobs
    assert len(loaded.says) == 32
    assert all("at the hoist" in says for says in loaded.says.values())


def test_an_hour_and_a_kit_a_day_cost_what_the_yard_has_set_and_nothing_set_is_no_price(
    season: Season,
) -> None:
    # The demo yard counts an hour of overtime at 45.00 and has set no price of a kit; one tent M is.
    Kit.objects.filter(name="tent M").update(price_day_money=18)
    Kit.objects.filter(name="peel kit").update(price_day_money="9.50")
    problem = load(season, today=TODAY).problem
    assert problem.hour_price == 4_500
    of = {r.label: (r.one, r.one_price) for r in problem.resources}
    assert (of["tent M"], of["tent L"], of["peel kit"]) == ((1, 1_800), (1, None), (540, 950))
    YardSettings.objects.update(overtime_hour_money=0)
    assert load(season, today=TODAY).problem.hour_price is None


def test_open_ground_is_not_fitted_out_and_air_takes_no_more_tents(loaded: Loaded) -> None:
    labels = {one.id: one.label for one in (*loaded.problem.places, *loaded.problem.resources)}
    assert {labels[name] for name in loaded.problem.fixed} == {
        "P1–P2", "P3", "S1–S12", "S13–S20",
        "tents in HW", "tents in HE", "tents in C", "tents in P", "tents in S",
    }  # fmt: skip
