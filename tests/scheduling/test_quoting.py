"""One boat more, or one boat's other day, against the posted plan: who moves, who loses a day, what it costs.

One bay, three boats of five working days each: Alder 1 to 7 Dec, Bramble 8 to 14 Dec, Clover 15 to 21 Dec.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from scheduling.actions.quoting import Ground, NoPlan, answer, as_planned, ground, odds
from scheduling.engine.problem import Job
from scheduling.loading import load
from scheduling.loading.enquiry import CannotAsk, newcomer, with_day, with_newcomer
from scheduling.models import Board, Unplaced
from tests.cast import TODAY, AirFactory, BayFactory, Cast, HoistFactory, ShedFactory
from tests.scheduling.one_bay import one_bay
from yard.actions.treatments import open_treatment
from yard.loading import scheme_in
from yard.models import Air, Boat, Promise, Scheme, Season, Treatment, YardSettings


@pytest.fixture
def boats(db: None, settings: Any) -> dict[str, Treatment]:
    settings.SHEDTIDE_TODAY = TODAY
    return one_bay(Cast())


def a_boat(**sizes: Any) -> Boat:
    fields = {
        "length_m": "10",
        "beam_m": "3",
        "draught_m": "1.5",
        "stand_height_m": "3.5",
        "displacement_t": "5",
    }
    return Boat(name="new", **{name: Decimal(value) for name, value in {**fields, **sizes}.items()})


def caller(comes: date, wanted: date | None, **sizes: Any) -> Ground:
    """A boat of the short scheme that nobody has recorded."""
    season, scheme = Season.objects.get(), Scheme.objects.get(name="short")
    full = scheme_in(scheme.yard, scheme.pk)
    assert full is not None
    new = newcomer(season, full, a_boat(**sizes), comes_on=comes, wanted_on=wanted)
    return ground(with_newcomer(season, TODAY, new))


def owner(boats: dict[str, Treatment], name: str, by: date) -> Ground:
    return ground(with_day(Season.objects.get(), TODAY, boats[name].pk, by))


# --- A boat that nobody has recorded ----------------------------------------------------------------------
def test_one_boat_more_comes_when_the_bay_is_free(boats: dict[str, Treatment]) -> None:
    found = answer(caller(date(2026, 12, 1), None))
    assert found.in_time
    assert [(row.stage.name, row.first_day, row.last_day, row.bay) for row in found.rows] == [
        ("wash", date(2026, 12, 22), date(2026, 12, 23), "H1"),
        ("fair", date(2026, 12, 24), date(2026, 12, 30), "H1"),  # bank holidays on 25 and 28 Dec
    ]
    assert found.back_on == date(2026, 12, 30)


def test_who_is_wanted_sooner_is_told_the_earliest_day_and_what_keeps_her(
    boats: dict[str, Treatment],
) -> None:
    found = answer(caller(date(2026, 12, 1), date(2026, 12, 18)))
    assert (found.back_on, found.late_days) == (date(2026, 12, 30), 12)
    assert not found.impossible
    assert found.not_before == date(2026, 12, 7)
    assert found.why == "waits for H1 until Tue 8 Dec: Alder stands there"


def test_with_others_moving_she_takes_a_place_and_one_of_them_goes_last(boats: dict[str, Treatment]) -> None:
    found = answer(caller(date(2026, 12, 15), date(2026, 12, 21)), moving=True)
    assert found.in_time
    assert found.back_on == date(2026, 12, 21)
    (other,) = found.moves
    assert other.name == "Clover"
    assert not other.newly_missed
    # Two stages of Clover change: 2 x 20.00.
    assert found.rise["changes"] == 4000


def test_a_day_that_even_an_empty_yard_could_not_keep_is_impossible(boats: dict[str, Treatment]) -> None:
    found = answer(caller(date(2026, 12, 1), date(2026, 12, 4)))
    assert found.impossible
    assert found.not_before == date(2026, 12, 7)


def test_a_boat_that_fits_no_bay_has_the_rule_that_keeps_her_out(boats: dict[str, Treatment]) -> None:
    found = answer(caller(date(2026, 12, 1), None, length_m="13", beam_m="3.5"))
    assert not found.fits
    assert found.not_before is None
    assert "length 13.00 m, and of the places for it the biggest, H1, takes length 12.00 m" in found.why


def test_a_height_that_nobody_knows_is_held_against_no_bay(boats: dict[str, Treatment]) -> None:
    assert not answer(caller(date(2026, 12, 1), None, stand_height_m="6")).fits
    assert answer(caller(date(2026, 12, 1), None, stand_height_m="0")).fits


def test_sizes_that_no_boat_has_can_not_be_asked_about(boats: dict[str, Treatment]) -> None:
    with pytest.raises(CannotAsk, match="Her beam of 11 m is more than her length of 10 m"):
        caller(date(2026, 12, 1), None, beam_m="11")


def test_work_that_is_never_longer_or_shorter_than_planned_is_sure(boats: dict[str, Treatment]) -> None:
    on = caller(date(2026, 12, 1), None)
    risk = odds(on, answer(on))
    assert risk is not None
    assert (risk.likely, risk.safe, risk.odds_pct) == (date(2026, 12, 30), date(2026, 12, 30), 100)


def test_who_is_asked_about_is_the_same_job_as_once_she_is_recorded(cast: Cast, settings: Any) -> None:
    settings.SHEDTIDE_TODAY = TODAY
    HoistFactory(yard=cast.yard)
    pad = AirFactory(shed=ShedFactory(yard=cast.yard, drained=True), kind="open", day_c=None)
    BayFactory(yard=cast.yard, air=pad)
    scheme, comes, wanted = scheme_in(cast.yard, cast.scheme.pk), date(2027, 1, 11), date(2027, 5, 14)
    assert scheme is not None
    new = newcomer(cast.season, scheme, a_boat(), comes_on=comes, wanted_on=wanted)
    asked = with_newcomer(cast.season, TODAY, new)
    boat = a_boat()
    boat.yard = cast.yard
    boat.save()
    open_treatment(
        cast.manager, boat=boat, scheme=cast.scheme, season=cast.season, arrives_on=comes, wanted_on=wanted
    )
    later = load(cast.season).problem

    def nameless(job: Job) -> Job:
        steps = tuple(
            replace(step, id=str(place), spread=step.spread and str(place))
            for place, step in enumerate(job.steps)
        )
        return replace(job, id="", steps=steps)

    (job,) = later.jobs
    assert len(job.steps) == 5
    assert nameless(asked.job) == nameless(job)
    assert asked.others.tables == later.tables
    assert sorted(asked.others.spreads.values(), key=str) == sorted(later.spreads.values(), key=str)


# --- Another day for a boat of the yard -------------------------------------------------------------------
def test_a_day_that_the_plan_keeps_already_needs_nothing(boats: dict[str, Treatment]) -> None:
    on = owner(boats, "Clover", date(2026, 12, 24))
    found = as_planned(on)
    assert on.back_on == found.back_on == date(2026, 12, 21)
    assert found.in_time and not found.moves


def test_alone_she_takes_what_is_free(boats: dict[str, Treatment]) -> None:
    BayFactory(yard=boats["Alder"].yard, air=Air.objects.get(name="HW"), name="H9")
    found = answer(owner(boats, "Clover", date(2026, 12, 10)))
    assert found.in_time and not found.moves
    assert (found.back_on, {row.bay for row in found.rows}) == (date(2026, 12, 7), {"H9"})


def test_a_day_sooner_is_had_if_one_boat_changes_places_with_her(boats: dict[str, Treatment]) -> None:
    on = owner(boats, "Clover", date(2026, 12, 14))
    still = answer(on)
    assert not still.in_time and still.back_on == date(2026, 12, 21)
    found = answer(on, moving=True)
    assert found.in_time
    (other,) = found.moves
    assert other.back == date(2026, 12, 21)
    # Two stages of the other and two of hers change: 4 x 20.00.
    assert found.rise["changes"] == 8000


@pytest.mark.parametrize("promised", [True, False])
def test_whoever_would_lose_her_day_is_named(boats: dict[str, Treatment], promised: bool) -> None:
    due = date(2026, 12, 16)
    for name in ("Alder", "Bramble"):
        Treatment.objects.filter(pk=boats[name].pk).update(wanted_on=due)
        if promised:
            Promise.objects.create(
                treatment=boats[name], kind="firm", promised_on=due, said_on=TODAY, how="phone"
            )
    found = answer(owner(boats, "Clover", date(2026, 12, 14)), moving=True)
    assert found.in_time
    lost = [(move.missed_by, move.was_missed_by, move.promised) for move in found.moves if move.newly_missed]
    assert lost == [(5, 0, promised)]  # back on 21 Dec


def test_frozen_days_stay_for_whoever_asks(boats: dict[str, Treatment]) -> None:
    # 1 Dec is the sixth working day from 24 Nov: with six days frozen Alder's first stage stays there.
    YardSettings.objects.update(frozen_days=6)
    found = answer(owner(boats, "Clover", date(2026, 12, 7)), moving=True)
    assert not found.in_time
    YardSettings.objects.update(frozen_days=5)
    assert answer(owner(boats, "Clover", date(2026, 12, 7)), moving=True).in_time


def test_a_plan_that_no_longer_holds_is_mended_first(boats: dict[str, Treatment], settings: Any) -> None:
    settings.SHEDTIDE_TODAY = date(2026, 12, 2)  # Alder should have begun on 1 Dec
    season = Season.objects.get()
    on = ground(with_day(season, date(2026, 12, 2), boats["Clover"].pk, date(2026, 12, 30)))
    assert on.mended
    assert on.back_on == date(2026, 12, 21)  # two changes are less than six: Alder comes after her


def test_without_a_posted_plan_there_is_nothing_to_ask(boats: dict[str, Treatment]) -> None:
    Board.objects.update(posted=None)
    with pytest.raises(NoPlan):
        owner(boats, "Clover", date(2026, 12, 14))


def test_a_boat_that_is_not_planned_can_not_be_asked_about(boats: dict[str, Treatment]) -> None:
    Treatment.objects.filter(pk=boats["Clover"].pk).update(state="cancelled")
    with pytest.raises(CannotAsk, match="no open treatment"):
        owner(boats, "Clover", date(2026, 12, 14))


def test_boats_that_the_plan_does_not_place_are_named(db: None, settings: Any) -> None:
    settings.SHEDTIDE_TODAY = TODAY
    boats = one_bay(Cast(), placed=("Alder", "Clover"))
    Unplaced.objects.create(
        plan=Board.objects.get().posted, treatment=boats["Bramble"], rule="cost", says="-"
    )
    assert owner(boats, "Clover", date(2026, 12, 30)).no_room == ("Bramble",)
