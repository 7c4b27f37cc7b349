"""Bays and boats saved, treatments opened and cancelled, and where she really stands."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.cast import TODAY, AirFactory, BayFactory, BoatFactory, Cast, SchemeFactory, StageNormFactory
from tests.yard.test_actions_form import a_treatment, due, standing
from yard.actions.base import NotAllowed, Refused, Stale
from yard.actions.boats import mean_spot, save_boat
from yard.actions.places import save_bay
from yard.actions.promises import record_promise
from yard.actions.stages import start_stage
from yard.actions.stoppages import call_off_stoppage, end_stoppage, stop_work
from yard.actions.treatments import bring_in, cancel_treatment, expect_boat, open_treatment, shift
from yard.models import Entry, Kit, Lane, Promise, Spot, Stage, Stay, Treatment

YESTERDAY, TOMORROW = date(2026, 11, 23), date(2026, 11, 25)


def refused(do: Any, *args: Any, **kwargs: Any) -> str:
    """The sentence an action refuses with."""
    with pytest.raises(Refused) as refusal:
        do(*args, **kwargs)
    return refusal.value.sentence


# --- Bays and boats --------------------------------------------------------------------------------------
def test_a_bay_is_added_to_the_actors_yard(cast: Cast) -> None:
    bay = save_bay(
        cast.manager,
        name="H3",
        shed=cast.shed,
        air=cast.air,
        length_m=Decimal(10),
        beam_m=Decimal(3),
        load_t=Decimal(9),
    )
    assert (bay.yard, bay.version) == (cast.yard, 1)


def test_a_bay_has_air_and_lane_of_its_own_shed(cast: Cast) -> None:
    elsewhere = AirFactory(shed__yard=cast.yard)
    assert "is not in shed H" in refused(save_bay, cast.manager, bay=cast.bay, version=1, air=elsewhere)
    lane = Lane.objects.create(shed=elsewhere.shed, name="1")
    assert "is not in shed H" in refused(
        save_bay, cast.manager, bay=cast.bay, version=1, lane=lane, lane_place=1
    )


def test_a_bay_in_which_a_boat_stands_does_not_retire(cast: Cast) -> None:
    standing(cast)
    assert refused(save_bay, cast.manager, bay=cast.bay, version=1, retired_on=TODAY) == (
        "Teasel stands in H1: move her first."
    )


def test_a_boat_with_an_open_treatment_does_not_retire(cast: Cast) -> None:
    a_treatment(cast)
    assert "cancel it first" in refused(save_boat, cast.manager, boat=cast.boat, version=1, retired_on=TODAY)


def test_the_spot_for_the_mean_of_all_is_made_once_and_comes_last_in_the_walk(cast: Cast) -> None:
    made = mean_spot(cast.crew, boat=cast.boat)
    assert (made.code, made.walk_order, made.is_reference) == ("mean", 4, False)
    assert mean_spot(cast.manager, boat=cast.boat) == made
    bare = mean_spot(cast.crew, boat=BoatFactory(yard=cast.yard))
    assert bare.walk_order == 1


def test_the_spot_for_the_mean_comes_back_where_it_was_retired(cast: Cast) -> None:
    made = mean_spot(cast.crew, boat=cast.boat)
    Spot.objects.filter(pk=made.pk).update(retired_on=TODAY)
    assert mean_spot(cast.crew, boat=cast.boat).retired_on is None


# --- Treatments ------------------------------------------------------------------------------------------
def test_a_treatment_carries_its_own_copy_of_the_recipe(cast: Cast) -> None:
    treatment = a_treatment(cast)
    cast.scheme.stages.filter(kind="peel").update(days_likely=1, days_high=9)
    peel = treatment.stages.get(kind="peel")
    assert [s.kind for s in treatment.stages.all()] == ["lift", "peel", "dry", "coat", "relaunch"]
    assert (peel.place, peel.days_high, peel.status, peel.yard) == ("pad", 1, "waiting", cast.yard)
    assert [(d.skill.name, d.hours_per_m2, d.area) for d in peel.demands.all()] == [("peel", 1, "peel")]
    assert treatment.target_reading == 18


def test_opening_a_treatment_costs_as_many_queries_for_two_stages_as_for_twenty(cast: Cast) -> None:
    counts = []
    for stages in (2, 20):
        scheme = SchemeFactory(yard=cast.yard)
        StageNormFactory.create_batch(stages, scheme=scheme)
        with CaptureQueriesContext(connection) as queries:
            open_treatment(
                cast.manager, **{**due(cast), "boat": BoatFactory(yard=cast.yard), "scheme": scheme}
            )
        counts.append(len(queries))
    assert counts[0] == counts[1]


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"wanted_on": YESTERDAY}, "She is wanted before she arrives"),
        ({"arrives_on": date(2027, 6, 1)}, "ends on 31 May 2027"),
        ({"weight_pct": 0}, "Weight [%] must be between 1 and 1000."),
    ],
)
def test_a_treatment_out_of_order_is_refused(cast: Cast, wrong: dict[str, Any], says: str) -> None:
    assert says in refused(open_treatment, cast.manager, **{**due(cast), **wrong})


def test_a_treatment_needs_a_boat_a_scheme_and_a_season_in_use(cast: Cast) -> None:
    empty = SchemeFactory(yard=cast.yard)
    assert "has no stages" in refused(open_treatment, cast.manager, **{**due(cast), "scheme": empty})
    old = BoatFactory(yard=cast.yard, retired_on=TODAY)
    assert "was retired on 24 Nov 2026" in refused(open_treatment, cast.manager, **{**due(cast), "boat": old})
    cast.scheme.retired_on = TODAY
    assert "choose another" in refused(open_treatment, cast.manager, **due(cast))
    cast.scheme.retired_on = None
    cast.season.closed_on = TODAY
    assert "is closed" in refused(open_treatment, cast.manager, **due(cast))


def test_a_boat_is_treated_once_at_a_time(cast: Cast) -> None:
    a_treatment(cast)
    assert (
        refused(open_treatment, cast.manager, **due(cast)) == "She has an open treatment this season already."
    )


def test_a_cancelled_treatment_drops_its_stages_and_frees_her_bay(cast: Cast) -> None:
    treatment = standing(cast)
    start_stage(cast.manager, stage=treatment.stages.get(kind="peel"), on=TODAY)
    treatment = cancel_treatment(cast.manager, treatment=treatment, version=treatment.version, why="sold")
    assert treatment.said == "Her stay in H1 ends today."
    assert Stay.objects.get().until_on == TODAY
    assert [s.status for s in treatment.stages.all()] == ["done", "dropped", "dropped", "dropped", "dropped"]
    assert "cancelled already" in refused(
        cancel_treatment, cast.manager, treatment=treatment, version=treatment.version, why="sold"
    )


def test_a_boat_is_expected_later_or_earlier_until_she_has_come(cast: Cast) -> None:
    treatment = a_treatment(cast)
    for on in (date(2026, 12, 10), TODAY):
        treatment = expect_boat(cast.office, treatment=treatment, version=treatment.version, arrives_on=on)
        assert treatment.arrives_on == on
    again = {"treatment": treatment, "version": treatment.version}
    assert "That day is past" in refused(expect_boat, cast.manager, **again, arrives_on=YESTERDAY)
    assert "ends on 31 May 2027" in refused(expect_boat, cast.manager, **again, arrives_on=date(2027, 6, 1))
    with pytest.raises(Stale):
        expect_boat(cast.manager, treatment=treatment, version=1, arrives_on=date(2026, 12, 1))
    bring_in(cast.crew, treatment=treatment, bay=cast.bay, on=TODAY)
    treatment.refresh_from_db()
    again["version"] = treatment.version
    assert "is not expected any more" in refused(expect_boat, cast.manager, **again, arrives_on=TODAY)


def test_a_treatment_is_not_cancelled_without_a_reason(cast: Cast) -> None:
    assert refused(cancel_treatment, cast.manager, treatment=a_treatment(cast), version=1, why=" ") == (
        "Say why the treatment is cancelled."
    )


# --- Where she stands ------------------------------------------------------------------------------------
def test_bringing_her_in_makes_her_arrive(cast: Cast) -> None:
    stay = bring_in(cast.crew, treatment=a_treatment(cast), bay=cast.bay, on=YESTERDAY)
    treatment = Treatment.objects.get()
    assert (treatment.state, treatment.arrived_on) == ("here", YESTERDAY)
    assert (stay.bay, stay.until_on) == (cast.bay, None)


def test_a_shift_ends_one_stay_and_begins_another_on_the_same_day(cast: Cast) -> None:
    treatment = standing(cast)
    shift(cast.crew, treatment=treatment, bay=cast.next_bay, on=TODAY)
    assert list(Stay.objects.order_by("pk").values_list("bay__name", "from_on", "until_on")) == [
        ("H1", TODAY, TODAY),
        ("H2", TODAY, None),
    ]


def another(cast: Cast) -> Treatment:
    return open_treatment(cast.manager, **{**due(cast), "boat": BoatFactory(yard=cast.yard, name="Sedge")})


@pytest.mark.reliability(6)
def test_a_taken_bay_is_refused_with_the_name_of_her_who_stands_there(cast: Cast) -> None:
    standing(cast)
    assert refused(bring_in, cast.manager, treatment=another(cast), bay=cast.bay, on=TODAY) == (
        "Teasel stands in H1: move her first or choose another bay."
    )
    assert Stay.objects.count() == 1


def test_two_boats_never_stood_in_one_bay_on_the_same_days_before(cast: Cast) -> None:
    treatment = a_treatment(cast)
    bring_in(cast.manager, treatment=treatment, bay=cast.bay, on=date(2026, 11, 20))
    shift(cast.manager, treatment=treatment, bay=cast.next_bay, on=YESTERDAY)
    late = another(cast)
    assert refused(bring_in, cast.manager, treatment=late, bay=cast.bay, on=date(2026, 11, 22)) == (
        "Teasel stood in H1 until 23 Nov 2026: give a later day."
    )
    assert bring_in(cast.manager, treatment=late, bay=cast.bay, on=YESTERDAY).bay == cast.bay


def test_she_is_brought_in_once_and_shifted_after(cast: Cast) -> None:
    treatment = a_treatment(cast)
    assert "bring her in first" in refused(shift, cast.crew, treatment=treatment, bay=cast.bay, on=TODAY)
    bring_in(cast.crew, treatment=treatment, bay=cast.bay, on=TODAY)
    assert "shift her instead" in refused(
        bring_in, cast.crew, treatment=treatment, bay=cast.next_bay, on=TODAY
    )
    assert "in H1 already" in refused(shift, cast.crew, treatment=treatment, bay=cast.bay, on=TODAY)
    assert "only on 24 Nov 2026" in refused(
        shift, cast.crew, treatment=treatment, bay=cast.next_bay, on=YESTERDAY
    )


def test_what_is_still_to_come_is_not_recorded(cast: Cast) -> None:
    assert "still to come" in refused(
        bring_in, cast.crew, treatment=a_treatment(cast), bay=cast.bay, on=TOMORROW
    )


def test_a_retired_bay_takes_nobody(cast: Cast) -> None:
    old = BayFactory(yard=cast.yard, air=cast.air, name="old", retired_on=TODAY)
    assert "choose another bay" in refused(
        bring_in, cast.crew, treatment=a_treatment(cast), bay=old, on=TODAY
    )


def test_a_boat_too_large_for_her_bay_stands_there_all_the_same_and_it_is_said(cast: Cast) -> None:
    small = BayFactory(yard=cast.yard, air=cast.air, name="small", length_m=8, load_t=4)
    stay = bring_in(cast.crew, treatment=a_treatment(cast), bay=small, on=TODAY)
    assert stay.said == (
        "Her length of 10.00 m is more than the 8.00 m small takes. "
        "Her load of 5.00 t is more than the 4.00 t small takes."
    )


def test_a_boat_that_is_gone_comes_in_no_more(cast: Cast) -> None:
    treatment = a_treatment(cast)
    cancel_treatment(cast.manager, treatment=treatment, version=1, why="sold")
    assert "is cancelled" in refused(bring_in, cast.crew, treatment=treatment, bay=cast.bay, on=TODAY)


# --- Stoppages and promises ------------------------------------------------------------------------------
def out(cast: Cast, who: Any, subject: Any, **more: Any) -> Any:
    new = {"kind": "closed", "first_day": TODAY, "last_day": None, "why": "broken", **more}
    return stop_work(who, subject=subject, **new)


def test_crew_are_out_themselves_and_say_nothing_of_anything_else(cast: Cast) -> None:
    assert out(cast, cast.crew, cast.crew.person).person == cast.crew.person
    for subject in (cast.bay, None):
        with pytest.raises(NotAllowed):
            out(cast, cast.crew, subject)
    whole_yard = out(cast, cast.manager, None)
    with pytest.raises(NotAllowed):
        end_stoppage(cast.crew, stoppage=whole_yard, version=1, last_day=TODAY)


def test_some_of_a_kit_can_be_out(cast: Cast) -> None:
    kit = Kit.objects.create(yard=cast.yard, name="extractor", kind="extractor", count=3)
    assert out(cast, cast.manager, kit, count=1).count == 1
    assert refused(out, cast, cast.manager, kit, count=4) == "There are only 3 of extractor."
    assert "Only of a kit" in refused(out, cast, cast.manager, cast.bay, count=1)


def test_a_stoppage_ends_on_a_day_and_not_before_it_began(cast: Cast) -> None:
    stoppage = out(cast, cast.manager, cast.bay)
    assert "must not come before" in refused(
        end_stoppage, cast.manager, stoppage=stoppage, version=1, last_day=YESTERDAY
    )
    assert end_stoppage(cast.manager, stoppage=stoppage, version=1, last_day=TODAY).last_day == TODAY


def test_what_was_entered_by_mistake_is_called_off_once_and_kept_with_its_history(cast: Cast) -> None:
    stoppage = out(cast, cast.manager, cast.bay)
    gone = call_off_stoppage(cast.manager, stoppage=stoppage, version=1)
    assert (gone.called_off_on, gone.first_day, gone.why) == (TODAY, TODAY, "broken")
    entry = Entry.objects.filter(action="call_off_stoppage").get()
    assert entry.before == {"called_off_on": None} and entry.after == {"called_off_on": TODAY.isoformat()}
    again = {"stoppage": gone, "version": gone.version}
    assert "It was called off on 24 Nov 2026" in refused(call_off_stoppage, cast.manager, **again)
    assert "It was called off" in refused(end_stoppage, cast.manager, **again, last_day=TODAY)


def test_a_new_promise_replaces_the_one_in_force_and_keeps_it(cast: Cast) -> None:
    treatment = a_treatment(cast)
    first = record_promise(cast.office, treatment=treatment, promised_on=date(2027, 4, 1), how="phone")
    second = record_promise(cast.office, treatment=treatment, promised_on=date(2027, 4, 8), how="mail")
    assert second.replaces == first
    assert list(Promise.objects.filter(superseded=False)) == [second]
    assert (second.said_on, second.by) == (TODAY, cast.office.user)


def test_a_day_that_is_past_is_not_promised(cast: Cast) -> None:
    treatment = a_treatment(cast)
    assert "still to come" in refused(
        record_promise, cast.office, treatment=treatment, promised_on=YESTERDAY, how="phone"
    )


def test_a_boat_that_is_afloat_is_promised_nothing(cast: Cast) -> None:
    treatment = a_treatment(cast)
    cancel_treatment(cast.manager, treatment=treatment, version=1, why="sold")
    treatment.refresh_from_db()
    assert "nothing to promise" in refused(
        record_promise, cast.office, treatment=treatment, promised_on=TOMORROW, how="phone"
    )


def test_stages_of_one_yard_are_of_that_yard(cast: Cast) -> None:
    a_treatment(cast)
    assert Stage.objects.of(cast.yard).count() == 5
