"""The Desk on the telephone: one boat more, and another day for a boat of the yard.

One bay, three boats of five working days each: Alder 1 to 7 Dec, Bramble 8 to 14 Dec, Clover 15 to 21 Dec.
"""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from scheduling.engine.schedule import Schedule, WitnessRefused
from scheduling.models import Board, Placement, Plan
from tests.cast import TODAY, BoatFactory, Cast, SchemeFactory, SkillFactory
from tests.scheduling.one_bay import one_bay
from yard.actions.treatments import open_treatment
from yard.models import Boat, Demand, Entry, Promise, Scheme, Stage, Treatment, Yard

ENQUIRY = "/quiet-creek/desk/enquiry/"


class Desk:
    """The office at its desk, and what it is told."""

    def __init__(self, cast: Cast) -> None:
        self.cast, self.boats = cast, one_bay(cast)
        self.client = Client()
        self.client.force_login(cast.office.user)

    def ask(self, name: str, by: str) -> str:
        return self.get(f"/quiet-creek/desk/ask/{self.boats[name].pk}/", {"by": by})

    def enquire(self, status: int = 200, **asked: Any) -> str:
        scheme = Scheme.objects.get(name="short").pk
        form = {
            "length_m": "10",
            "beam_m": "3",
            "draught_m": "1,5",
            "stand_height_m": "3.5",
            "displacement_t": "5",
            "hull_kind": "sail",
            "keel_kind": "fin",
            "scheme": scheme,
            "comes_on": "1 Dec",
            "wanted_on": "31 Jan",
        }
        return self.get(ENQUIRY, {**form, **asked}, status)

    def get(self, url: str, asked: dict[str, Any], status: int = 200) -> str:
        answer = self.client.get(url, asked)
        assert answer.status_code == status
        return answer.content.decode()


@pytest.fixture
def desk(db: None, settings: Any) -> Desk:
    settings.SHEDTIDE_TODAY = TODAY
    return Desk(Cast())


# --- Another day for a boat of the yard -------------------------------------------------------------------
@pytest.mark.moment(18)
@pytest.mark.parametrize(
    ("by", "says"),
    [
        ("24 Dec", "Yes, as it is planned: done on Mon 21 Dec, 3 days before."),
        ("21 12 2026", "Yes, as it is planned: done on Mon 21 Dec."),
        ("14 Dec", "Yes, if 1 boat moves: Alder by 14 days: done on Mon 7 Dec."),
        ("4 Dec", "No: with nobody else planned she could not be back before Mon 7 Dec. "
         "As the plan stands the earliest day is Mon 21 Dec."),
    ],
)  # fmt: skip
def test_an_owner_who_rings_for_another_day_is_told_yes_no_or_who_has_to_move(
    desk: Desk, by: str, says: str
) -> None:
    assert says in desk.ask("Clover", by)


@pytest.mark.moment(18)
def test_no_promise_is_broken_without_a_word(desk: Desk) -> None:
    for name in ("Alder", "Bramble"):
        Promise.objects.create(
            treatment=desk.boats[name], kind="firm", promised_on="2026-12-16", said_on=TODAY, how="phone"
        )
    text = desk.ask("Clover", "14 Dec")
    assert "Only if Alder loses her day: done on Mon 7 Dec." in text
    assert "Alder was promised Wed 16 Dec and would miss it by 5 days." in text


@pytest.mark.moment(18)
def test_asking_changes_nothing(desk: Desk) -> None:
    kept = (Boat, Treatment, Stage, Promise, Plan, Placement, Board, Entry)
    before = [list(model.objects.order_by("pk").values()) for model in kept]
    assert "Nothing has been changed" in desk.ask("Clover", "14 Dec")
    assert "Nothing is stored" in desk.enquire(moving="1", wanted_on="21 Dec")
    assert [list(model.objects.order_by("pk").values()) for model in kept] == before


@pytest.mark.parametrize(
    ("by", "says"),
    [
        ("soon", "27 Mar"),
        ("", "27 Mar"),
        ("1 4 2026", "That day is past"),
        ("31 Feb", "There is no 31 February."),
    ],
)
def test_what_is_no_day_is_refused_and_stays_as_it_was_typed(desk: Desk, by: str, says: str) -> None:
    text = desk.get(f"/quiet-creek/desk/ask/{desk.boats['Clover'].pk}/", {"by": by}, 422)
    assert says in text
    assert f'value="{by}"' in text


def test_an_answer_that_the_witness_refuses_is_not_shown(desk: Desk, monkeypatch: Any) -> None:
    def refused(*_: Any, **__: Any) -> None:
        raise WitnessRefused((), Schedule())

    monkeypatch.setattr("scheduling.actions.quoting.quotes", refused)
    assert "it is not shown" in desk.ask("Clover", "14 Dec")
    assert "it is not shown" in desk.enquire()


def test_a_boat_that_is_not_treated_any_more_has_no_day_to_ask_for(desk: Desk) -> None:
    Treatment.objects.filter(pk=desk.boats["Clover"].pk).update(state="cancelled")
    assert "She has no open treatment this season" in desk.ask("Clover", "14 Dec")


def test_who_has_no_posted_plan_is_sent_to_post_one(desk: Desk) -> None:
    Board.objects.update(posted=None)
    assert "post a plan first" in desk.ask("Clover", "14 Dec")
    assert "The manager posts one" in desk.enquire()
    desk.client.force_login(desk.cast.manager.user)
    assert '<a href="/quiet-creek/wall/">' in desk.ask("Clover", "14 Dec")


# --- A boat that nobody has recorded ----------------------------------------------------------------------
def test_a_caller_is_told_in_one_sentence_when_she_can_come_and_be_back(desk: Desk) -> None:
    text = desk.enquire(wanted_on="30 Dec")
    assert "Yes: wash Tue 22 Dec, done on Wed 30 Dec, if nothing slips." in text
    assert "Likely by the end of Wednesday 30 December 2026 (6 in 10)" in text
    assert "makes her tide" in text


def test_who_cannot_have_her_day_is_told_why_and_may_ask_who_would_have_to_move(desk: Desk) -> None:
    text = desk.enquire(wanted_on="21 Dec", comes_on="15 Dec")
    assert "Not by Mon 21 Dec as the plan stands. Wash Tue 22 Dec, done on Wed 30 Dec, 9 days late" in text
    assert "Waits for H1 until Tue 22 Dec: Clover stands there." in text
    assert "moving=1" in text
    moved = desk.enquire(wanted_on="21 Dec", comes_on="15 Dec", moving="1")
    assert "Yes, if 1 boat moves: Clover" in moved
    assert "With her in it the plan would cost" in moved
    assert "moving=1" not in moved


def test_no_price_is_named_where_the_yard_has_set_no_rates(desk: Desk) -> None:
    text = desk.enquire()
    assert "No price: the yard has set no rates" in text
    assert "m² ±" in text
    assert "£" not in text


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("length_m", "", "Type a length like 10,2 or 33 ft."),
        ("length_m", "long", "Type a length like 10,2 or 33 ft."),
        ("beam_m", "11", "Her beam of 11 m is more than her length of 10 m"),
        ("draught_m", "0", "A length is more than 0."),
        ("displacement_t", "heavy", "Type her weight in tonnes, like 5 or 5,5."),
        ("displacement_t", "5000", "more than the water she could push aside"),
        ("stand_height_m", "-3", "A length is more than 0."),
        ("hull_kind", "raft", "Choose one of the list."),
        ("scheme", "", "Choose the scheme she needs."),
        ("comes_on", "soon", "27 Mar"),
        ("comes_on", "1 6 2027", "The season ends on Monday 31 May 2027"),
        ("wanted_on", "30 Nov", "She is wanted before she comes"),
        ("wanted_on", "1 6 2027", "The season ends on Monday 31 May 2027: type an earlier day, or leave it"),
    ],
)
def test_each_wrong_field_says_so_and_nothing_typed_is_lost(
    desk: Desk, field: str, typed: str, says: str
) -> None:
    text = desk.enquire(422, **{field: typed})
    assert says in text
    assert f'id="{field}-wrong"' in text
    if field not in ("hull_kind", "scheme"):
        assert f'id="{field}" value="{typed}"' in text
    assert 'value="1,5"' in text or field == "draught_m"
    assert "<title>Error: " in text


def test_the_answer_says_again_what_was_asked_with_its_years_since_a_print_has_no_form(desk: Desk) -> None:
    assert (
        "10 m long, 3 m wide, 1.5 m of draught, 3.5 m high, 5 t; scheme short; from Tuesday 1 December 2026; "
        "back by Sunday 31 January 2027?" in desk.enquire()
    )
    text = desk.enquire(wanted_on="", comes_on="", stand_height_m="", displacement_t="5,5 tonnes")
    assert "1.5 m of draught, 5.5 t; scheme short; from Tuesday 24 November 2026; " in text
    assert "back by the season’s end, Monday 31 May 2027?" in text


def test_who_has_no_room_is_told_the_hours_all_the_same(desk: Desk) -> None:
    skill = SkillFactory(yard=desk.cast.yard)
    for stage in Scheme.objects.get(name="short").stages.all():
        Demand.objects.create(scheme_stage=stage, skill=skill, hours_fixed=20)
    text = desk.enquire(displacement_t="9", stand_height_m="9")
    assert "No: not even an empty yard could take her." in text
    assert "Person-hours in all, by the yard’s scheme: <b>40</b>." in text


def test_after_a_no_nobody_is_told_to_record_a_promise(desk: Desk) -> None:
    yes, no = desk.ask("Clover", "14 Dec"), desk.ask("Clover", "4 Dec")
    assert "To have it so, record the promise" in yes and "To have it so" not in no
    assert "Where she would be then, as the plan stands" in no and "as the plan stands</h2>" not in yes


def test_two_wrong_fields_are_said_at_once(desk: Desk) -> None:
    text = desk.enquire(422, beam_m="11", comes_on="soon")
    assert "beam_m-wrong" in text and "comes_on-wrong" in text


def test_what_reads_like_feet_is_asked_about_and_may_be_right(desk: Desk) -> None:
    text = desk.enquire(422, length_m="33", beam_m="10", draught_m="5")
    assert "33 m long? That reads like feet: 10.06 m. Say which." in text
    assert "The figures are right" in text
    text = desk.enquire(length_m="33", beam_m="10", draught_m="5", sure="1")
    assert "No: not even an empty yard could take her." in text


def test_feet_are_metres_where_the_yard_measures_in_feet(desk: Desk) -> None:
    Yard.objects.update(units="feet")
    in_feet = desk.enquire(length_m="33", beam_m="10", draught_m="5", stand_height_m="11' 6\"")
    Yard.objects.update(units="metric")
    spoken = desk.enquire(length_m="33 ft", beam_m="3.048", draught_m="5'", stand_height_m="3.505 m")
    assert in_feet.partition("<form")[0] == spoken.partition("<form")[0]
    assert " to peel, " in in_feet


def test_a_scheme_of_another_yard_is_not_found(desk: Desk) -> None:
    theirs = SchemeFactory(yard=desk.cast.other_yard)
    desk.enquire(404, scheme=theirs.pk)
    desk.enquire(404, scheme="9" * 18)


def test_a_height_that_nobody_knows_is_said_to_be_held_against_nothing(desk: Desk) -> None:
    assert "Her height is not known" in desk.enquire(stand_height_m="")
    assert "Her height is not known" not in desk.enquire()


def test_the_crew_sees_neither_page(desk: Desk) -> None:
    desk.client.force_login(desk.cast.crew.user)
    desk.enquire(403)
    desk.get(f"/quiet-creek/desk/ask/{desk.boats['Clover'].pk}/", {}, 403)


def test_the_desk_and_her_page_lead_to_both(desk: Desk) -> None:
    told = desk.get("/quiet-creek/desk/", {"q": "Clover"})
    ask = f"/quiet-creek/desk/ask/{desk.boats['Clover'].pk}/"
    assert f'href="{ENQUIRY}"' in told and f'action="{ask}"' in told
    hers = f"/quiet-creek/boat/{desk.boats['Clover'].boat_id}/"
    assert f'href="{ask}"' in desk.get(hers, {})
    desk.client.force_login(desk.cast.crew.user)
    assert ask not in desk.get(hers, {})


def test_more_boats_need_no_more_queries(desk: Desk) -> None:
    def count() -> tuple[int, int]:
        with CaptureQueriesContext(connection) as asked:
            desk.ask("Clover", "14 Dec")
        with CaptureQueriesContext(connection) as enquired:
            desk.enquire()
        return len(asked), len(enquired)

    before = count()
    for name in ("Dogwood", "Elder"):
        open_treatment(
            desk.cast.manager,
            boat=BoatFactory(yard=desk.cast.yard, name=name),
            scheme=Scheme.objects.get(name="short"),
            season=desk.cast.season,
            arrives_on=TODAY,
        )
    assert count() == before
