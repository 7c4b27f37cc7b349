"""Measuring, washing and signing dry: what is asked about, what is kept, and what is said afterwards."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal
from html import unescape
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from scheduling.pages.measure_fields import excused_in
from tests.cast import TODAY, PersonFactory
from tests.scheduling.full_winter import FullWinter
from yard.models import (
    DrySigned,
    Entry,
    Membership,
    Meter,
    Person,
    Reading,
    Round,
    Scheme,
    Spot,
    Stage,
    Treatment,
    WashRecord,
)

DAY = timedelta(days=1)


@pytest.fixture
def crew(full: FullWinter) -> Client:
    return as_role(full, "crew")


@pytest.fixture
def manager(full: FullWinter) -> Client:
    return as_role(full, "manager")


def as_role(full: FullWinter, role: str) -> Client:
    client = Client()
    client.force_login(full.cast.actors[role].user)
    return client


def hers(name: str = "Alder") -> Treatment:
    return Treatment.objects.get(boat__name=name)


def url(word: str = "", name: str = "Alder") -> str:
    page = f"/quiet-creek/boat/{hers(name).boat_id}/"
    return page + (word if word == "sign/" else f"measure/{word}")


def mark(name: str = "Alder", codes: tuple[str, ...] = ("T1", "P1", "S1")) -> dict[str, str]:
    """Marked spots on her hull, T1 on the topside; the names of their fields."""
    boat = hers(name).boat
    found = {}
    for step, code in enumerate(codes, start=1):
        spot = Spot.objects.create(boat=boat, code=code, walk_order=step, is_reference=code.startswith("T"))
        found[code] = f"spot-{spot.pk}"
    return found


def rounds_before(full: FullWinter, *figures: int, name: str = "Alder") -> list[Round]:
    """A round a week up to a week ago, one figure at every spot of the hull, 13 on the topside."""
    found = []
    for weeks, figure in enumerate(reversed(figures), start=1):
        taken = Round.objects.create(
            treatment=hers(name),
            meter=full.cast.meter,
            day_on=TODAY - 7 * weeks * DAY,
            person=full.cast.crew.person,
        )
        for number, spot in enumerate(hers(name).boat.spots.all()):
            value = Decimal(13 if spot.is_reference else figure + number % 2)
            Reading.objects.create(round=taken, spot=spot, value=value)
        found.append(taken)
    return found


def plain_round(full: FullWinter, **more: str) -> dict[str, Any]:
    return {"meter": full.cast.meter.pk, "mode": "deep", "day_on": "24 Nov", "key": str(uuid4())} | more


def text_of(answer: Any) -> str:
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode())))


def field(answer: Any, name: str) -> str:
    """The field of that name, as the page has it."""
    found = re.search(rf'<input[^>]*name="{name}"[^>]*>', answer.content.decode())
    assert found is not None, name
    return found[0]


# --- A round ----------------------------------------------------------------------------------------------
def test_her_spots_stand_in_walking_order_each_with_its_last_reading(full: FullWinter, crew: Client) -> None:
    mark()
    rounds_before(full, 30)
    text = text_of(crew.get(url()))
    assert "T1 · topside last 13 on 17 Nov P1 last 31 on 17 Nov S1 last 30 on 17 Nov" in text


def test_the_meter_and_how_deep_it_reads_are_those_of_her_last_round(full: FullWinter, crew: Client) -> None:
    mark()
    little = Meter.objects.create(yard=full.cast.yard, name="a little meter")
    Round.objects.create(treatment=hers(), meter=little, mode="shallow", day_on=TODAY - DAY)
    html = crew.get(url()).content.decode()
    assert f'<option value="{little.pk}" selected>a little meter</option>' in html
    assert '<option value="shallow" selected>' in html


def test_a_round_is_stored_as_typed_and_she_is_told_of_in_sentences(full: FullWinter, crew: Client) -> None:
    Scheme.objects.filter(yard=full.cast.yard).update(target_reading=18)
    spots = mark()
    rounds_before(full, 44, 38)
    sent = plain_round(full, air_c="8,5", rh_pct="70", surface_dry="yes")
    sent |= {spots["T1"]: "13", spots["P1"]: "34,5", spots["S1"]: "33"}
    answer = crew.post(url("round/"), sent, follow=True)
    assert answer.redirect_chain == [(f"/quiet-creek/boat/{hers().boat_id}/", 302)]
    taken = Round.objects.get(day_on=TODAY)
    assert {one.spot.code: str(one.value) for one in taken.readings.all()} == {
        "T1": "13.0", "P1": "34.5", "S1": "33.0",
    }  # fmt: skip
    assert (str(taken.air_c), str(taken.rh_pct), taken.surface_dry) == ("8.5", "70.0", True)
    assert taken.person == full.cast.crew.person
    said = text_of(answer)
    assert "Saved: Alder, round of Tue 24 Nov." in said and "34.5" in said and "target is 18" in said
    assert "Odds that she is at her target: " in said and "9 in 10 by " in said


def test_the_same_form_sent_twice_is_stored_once(full: FullWinter, crew: Client) -> None:
    spots = mark()
    sent = plain_round(full) | {spots["T1"]: "13", spots["P1"]: "34", spots["S1"]: "33"}
    assert [crew.post(url("round/"), sent).status_code for _ in range(2)] == [302, 302]
    assert Round.objects.filter(treatment=hers()).count() == 1


def test_a_boat_without_marked_spots_has_the_mean_of_all_written_down(full: FullWinter, crew: Client) -> None:
    page = crew.get(url())
    assert "None of her spots is marked" in text_of(page)
    assert crew.post(url("round/"), plain_round(full) | {"spot-mean": "31,5"}).status_code == 302
    assert crew.get(url()).content.decode().count('name="spot-') == 1
    sent = plain_round(full, day_on="17 Nov", sure="yes") | {"spot-mean": "34"}
    asked = crew.post(url("round/"), sent)
    assert asked.status_code == 422, "a tick that stood beside no question answers none"
    spot = hers().boat.spots.get()
    assert (spot.code, [str(one.value) for one in spot.readings.all()]) == ("mean", ["31.5"])


def test_a_dry_topside_alone_leaves_the_mean_to_be_asked_for(full: FullWinter, crew: Client) -> None:
    mark(codes=("T1",))
    assert re.findall(r'name="(spot-\w+)"', crew.get(url()).content.decode())[0] == "spot-mean"


def test_41_for_14_is_asked_about_by_name_and_stored_once_it_is_meant(full: FullWinter, crew: Client) -> None:
    spots = mark()
    rounds_before(full, 15, 14)
    sent = plain_round(full) | {spots["T1"]: "13", spots["P1"]: "41", spots["S1"]: "14"}
    asked = crew.post(url("round/"), sent)
    assert asked.status_code == 422 and Round.objects.filter(day_on=TODAY).count() == 0
    assert "keep or mend?" in text_of(asked)
    assert "P1 read 15 last time and 41 now" in text_of(asked)
    assert 'value="41"' in field(asked, spots["P1"])
    questions = re.findall(r'name="asked" value="([^"]+)"', asked.content.decode())
    meant = sent | {"asked": [unescape(one) for one in questions], "sure": "yes"}
    assert crew.post(url("round/"), meant).status_code == 302
    assert Reading.objects.get(round__day_on=TODAY, spot__code="P1").value == 41


def test_a_tick_does_not_answer_what_a_figure_typed_since_brings_up(full: FullWinter, crew: Client) -> None:
    spots = mark()
    rounds_before(full, 15, 14)
    sent = plain_round(full) | {spots["T1"]: "13", spots["P1"]: "41", spots["S1"]: "14"}
    asked = crew.post(url("round/"), sent)
    questions = [unescape(one) for one in re.findall(r'name="asked" value="([^"]+)"', asked.content.decode())]
    again = crew.post(url("round/"), sent | {"asked": questions, "sure": "yes", spots["S1"]: "410"})
    assert again.status_code == 422 and "410 at S1 is off the scale" in text_of(again)
    assert Round.objects.filter(day_on=TODAY).count() == 0


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"air_c": "59"}, "That reads like Fahrenheit: 15.0 degrees C"),
        ({"rh_pct": "0,8"}, "That reads like a fraction: 80 %"),
        ({"surface_dry": "no"}, "reads a wet surface as a wet hull"),
        ({"mode": "shallow"}, "Mixed meters"),
        ({"day_on": "10 Nov"}, "A round of 17 Nov 2026 is there already"),
        ({"S1": ""}, "No figure at S1: read there too"),
        ({"S1": "140"}, "140 at S1 is off the scale"),
    ],
)
def test_what_reads_like_a_slip_is_asked_about_and_nothing_typed_is_lost(
    full: FullWinter, crew: Client, typed: dict[str, str], words: str
) -> None:
    spots = mark()
    rounds_before(full, 30)
    figures = {"T1": "13", "P1": "29,5", "S1": "28"}
    sent = plain_round(full) | {spots.get(name, name): value for name, value in (figures | typed).items()}
    asked = crew.post(url("round/"), sent)
    assert asked.status_code == 422 and words in text_of(asked)
    assert 'value="29,5"' in field(asked, spots["P1"])
    assert str(sent["key"]) in field(asked, "key"), "the key is kept: nothing was done under it"
    assert Round.objects.filter(day_on=TODAY).count() == 0


@pytest.mark.parametrize(
    ("name", "typed", "words"),
    [
        ("P1", "wet", "P1: Type a reading like 14 or 14,5."),
        ("P1", "14,55", "Type a reading like 14 or 14,5."),
        ("day_on", "31 Feb", "There is no 31 February"),
        ("day_on", "25 Nov 2026", "25 Nov 2026 is still to come"),
        ("meter", "0", "Choose one of the list."),
        ("air_c", "warm", "Type a temperature like 14 or 14,5."),
        ("rh_pct", "140", "A humidity of 140 % cannot be"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence_beside_its_field(
    full: FullWinter, crew: Client, name: str, typed: str, words: str
) -> None:
    spots = mark()
    sent = plain_round(full) | {spots["T1"]: "13", spots["P1"]: "30", spots["S1"]: "29,5"}
    answer = crew.post(url("round/"), sent | {spots.get(name, name): typed})
    html = answer.content.decode()
    assert answer.status_code == 422 and "<title>Error: " in html
    assert words in text_of(answer)
    assert 'value="29,5"' in field(answer, spots["S1"])
    assert f'href="#{spots.get(name, name)}"' in html and f'id="{spots.get(name, name)}-wrong"' in html
    assert not Round.objects.exists()


def test_a_round_without_any_figure_and_one_that_is_there_are_refused(full: FullWinter, crew: Client) -> None:
    spots = mark()
    assert "A round needs at least one reading." in text_of(crew.post(url("round/"), plain_round(full)))
    full_round = {spots["T1"]: "13", spots["P1"]: "30", spots["S1"]: "29"}
    assert crew.post(url("round/"), plain_round(full) | full_round).status_code == 302
    again = crew.post(url("round/"), plain_round(full) | full_round)
    assert "A round of that day with that meter is there already." in text_of(again)
    asked = crew.post(url("round/"), plain_round(full) | full_round | {spots["P1"]: "99"})
    assert "is there already: correct its readings below." in text_of(asked)
    assert "keep or mend" not in text_of(asked), "nobody answers questions for nothing"


def test_a_yard_without_a_meter_is_told_so(full: FullWinter, crew: Client) -> None:
    Meter.objects.filter(yard=full.cast.yard).update(retired_on=TODAY)
    page = crew.get(url())
    assert "The yard has no meter yet" in text_of(page) and b"Save the round" not in page.content


# --- A wash -----------------------------------------------------------------------------------------------
def test_a_wash_is_stored_with_the_stage_she_dries_in(full: FullWinter, crew: Client) -> None:
    sent = {"wash_on": "23 Nov", "minutes": "90", "water_c": "80", "note": "twice", "key": str(uuid4())}
    answer = crew.post(url("wash/"), sent, follow=True)
    found = WashRecord.objects.get()
    assert (found.stage.kind, found.day_on, found.minutes, str(found.water_c), found.note) == (
        "dry", date(2026, 11, 23), 90, "80.0", "twice",
    )  # fmt: skip
    assert "Saved: Alder, washed on Mon 23 Nov." in text_of(answer)
    assert crew.post(url("wash/"), sent).status_code == 302 and WashRecord.objects.count() == 1


def test_a_wash_counts_for_the_last_one_done_where_none_runs(full: FullWinter, crew: Client) -> None:
    Stage.objects.filter(treatment=hers(), kind="dry").update(status="waiting", started_on=None)
    assert crew.post(url("wash/"), {"wash_on": "", "minutes": "", "water_c": ""}).status_code == 302
    assert (WashRecord.objects.get().stage.kind, WashRecord.objects.get().day_on) == ("wash", TODAY)


@pytest.mark.parametrize(
    ("name", "typed", "words"),
    [
        ("water_c", "176", "Fahrenheit"),
        ("water_c", "hot", "Type a temperature like 80."),
        ("minutes", "1,5", "Type whole minutes like 90"),
        ("minutes", "9000", "A wash takes more than 0 minutes"),
        ("wash_on", "1 Oct", "Alder came only on"),
    ],
)
def test_a_wash_that_cannot_be_is_refused_and_stays_typed(
    full: FullWinter, crew: Client, name: str, typed: str, words: str
) -> None:
    sent = {"wash_on": "23 Nov", "minutes": "90", "water_c": "80", "note": "kept"} | {name: typed}
    answer = crew.post(url("wash/"), sent)
    assert answer.status_code == 422 and words in text_of(answer)
    assert 'value="kept"' in field(answer, "note") and f'value="{typed}"' in field(answer, name)
    assert '<details id="wash" open>' in answer.content.decode() and not WashRecord.objects.exists()


def test_a_boat_not_begun_has_no_wash_to_record(full: FullWinter, crew: Client) -> None:
    assert "Neither washing nor drying has begun" in text_of(crew.get(url("", "Gorse")))
    assert "Neither washing nor drying has begun" in text_of(crew.post(url("wash/", "Gorse"), {}))


# --- A reading that was wrong -----------------------------------------------------------------------------
def today_round(full: FullWinter, person: Person | None = None) -> Reading:
    """A round of today, by the crew unless said, with 41 at P1, a week after one with 14; that reading."""
    mark()
    rounds_before(full, 13)
    person = person or full.cast.crew.person
    taken = Round.objects.create(treatment=hers(), meter=full.cast.meter, day_on=TODAY, person=person)
    for code, value in (("T1", 13), ("P1", 41), ("S1", 13)):
        Reading.objects.create(round=taken, spot=hers().boat.spots.get(code=code), value=value)
    return Reading.objects.get(round=taken, spot__code="P1")


def test_a_corrected_reading_stays_struck_through_with_who_and_when(full: FullWinter, crew: Client) -> None:
    wrong = today_round(full)
    sent = {"reading": wrong.pk, "value": "14", "why": "figures swapped"}
    answer = crew.post(url("reading/"), sent, follow=True)
    assert "Corrected: Alder, P1: 14 instead of 41." in text_of(answer)
    html = answer.content.decode()
    assert "<s>41</s>" in html and "by crew, " in text_of(answer) and "figures swapped" in text_of(answer)
    wrong.refresh_from_db()
    assert wrong.superseded and Reading.objects.get(replaces=wrong).value == 14
    assert f'value="{wrong.pk}"' not in html, "what was corrected can't be chosen again"


def test_a_withdrawn_reading_leaves_none_in_its_place(full: FullWinter, crew: Client) -> None:
    wrong = today_round(full)
    sent = {"reading": wrong.pk, "value": "", "why": "meter was wet", "withdraw": "yes"}
    answer = crew.post(url("reading/"), sent, follow=True)
    assert "P1: 41 withdrawn." in text_of(answer) and "withdrawn" in text_of(answer)
    assert Reading.objects.filter(spot__code="P1", round__day_on=TODAY, superseded=False).count() == 0


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"why": ""}, "Say why it is corrected."),
        ({"value": ""}, "Type the right figure like 14 or 14,5, or withdraw the reading."),
        ({"value": "410"}, "410 at P1 is off the scale"),
        ({"reading": "0"}, "Choose the reading that was wrong"),
    ],
)
def test_a_correction_that_cannot_be_is_refused_or_asked_about(
    full: FullWinter, crew: Client, typed: dict[str, str], words: str
) -> None:
    wrong = today_round(full)
    sent = {"reading": str(wrong.pk), "value": "14", "why": "swapped"} | typed
    answer = crew.post(url("reading/"), sent)
    assert answer.status_code == 422 and words in text_of(answer)
    assert f'value="{sent["why"]}"' in field(answer, "why")
    assert f'value="{sent["value"]}"' in field(answer, "value")
    assert not Reading.objects.filter(superseded=True).exists()


def test_crew_are_offered_only_what_they_read_today(full: FullWinter, crew: Client, manager: Client) -> None:
    today_round(full, PersonFactory(yard=full.cast.yard))
    page = crew.get(url())
    assert "You may correct what you read yourself" in text_of(page) and b"<optgroup" not in page.content
    assert manager.get(url()).content.decode().count("<optgroup") == 2


def test_a_reading_of_another_boat_is_not_to_be_had(full: FullWinter, manager: Client) -> None:
    wrong = today_round(full)
    sent = {"reading": wrong.pk, "value": "14", "why": "swapped"}
    assert manager.post(url("reading/", "Bramble"), sent).status_code == 422
    assert not Reading.objects.filter(superseded=True).exists()


# --- Signed dry -------------------------------------------------------------------------------------------
def dry(full: FullWinter, wet: str = "") -> dict[str, Any]:
    """Alder, dry by her readings but for a spot that is `wet`; what her signer says."""
    mark(codes=("T1", "P1", "P2", "S1", "S2"))
    rounds_before(full, 16, 16, 16)
    last = Round.objects.create(treatment=hers(), meter=full.cast.meter, day_on=TODAY)
    for spot in hers().boat.spots.all():
        value = 13 if spot.is_reference else 40 if spot.code == wet else 16
        Reading.objects.create(round=last, spot=spot, value=value)
    WashRecord.objects.create(stage=hers().stages.get(kind="dry"), day_on=TODAY - 40 * DAY)
    person = PersonFactory(yard=full.cast.yard, name="Signer")
    return {"by": person.pk, "signed_on": "24 Nov", "film_test": "yes", "heat_off_h": "24", "note": ""}


def test_the_evidence_stands_first_with_what_does_not_hold(full: FullWinter, manager: Client) -> None:
    dry(full)
    text = text_of(manager.get(url("sign/")))
    assert "She is not dry yet 2 of 10 parts of the rule do not hold; those stand first." in text
    order = ("Heat off.", "Nobody said how long", "Film patch dry.", "Every spot read.")
    places = [text.index(words) for words in order]
    assert places == sorted(places)
    assert manager.get(url("sign/")).content.decode().count('aria-label="Does not hold"') == 2


def test_she_is_signed_dry_where_all_holds(full: FullWinter, manager: Client) -> None:
    sent = dry(full)
    look = manager.post(url("sign/"), sent | {"look": "yes", "by": ""})
    assert look.status_code == 200 and "She may be signed dry" in text_of(look)
    assert 'value="24"' in field(look, "heat_off_h") and "checked" in field(look, "film_test")
    assert not DrySigned.objects.exists(), "to look is not to sign"
    answer = manager.post(url("sign/"), sent, follow=True)
    assert "Alder: signed dry on Tue 24 Nov by Signer." in text_of(answer)
    assert DrySigned.objects.get().by.name == "Signer"
    assert "Signed dry on Tuesday 24 November 2026 by Signer." in text_of(manager.get(url("sign/")))


def test_where_it_does_not_hold_a_note_is_needed_and_kept(full: FullWinter, manager: Client) -> None:
    sent = dry(full) | {"film_test": ""}
    refused = manager.post(url("sign/"), sent)
    assert refused.status_code == 422 and "say here why she is signed all the same" in text_of(refused)
    assert 'id="note-wrong"' in refused.content.decode() and not DrySigned.objects.exists()
    assert manager.post(url("sign/"), sent | {"note": "her surveyor's word"}).status_code == 302
    assert DrySigned.objects.get().note == "her surveyor's word"
    assert "film patch dry" in Entry.objects.get(action="sign_dry").after["did_not_hold"]  # type: ignore[index]


def test_an_excused_spot_needs_its_reason_and_is_left_out(full: FullWinter, manager: Client) -> None:
    sent = dry(full, wet="S2")
    assert "Above 22: S2 (40)." in text_of(manager.post(url("sign/"), sent | {"look": "yes"}))
    bare = manager.post(url("sign/"), sent | {"excused": "S2"})
    assert bare.status_code == 422 and "Say why S2 is excused" in text_of(bare)
    assert manager.post(url("sign/"), sent | {"excused": "s2: tank behind it"}).status_code == 302
    assert DrySigned.objects.get().excused == [{"spot": "S2", "why": "tank behind it"}]


def test_excused_spots_are_read_one_a_line() -> None:
    spots = {"s7": "S7", "k1": "K1"}
    assert excused_in("S7 tank behind it\n\n k1 - bulkhead\n", spots) == {
        "S7": "tank behind it",
        "K1": "bulkhead",
    }
    with pytest.raises(ValueError, match="She has no spot Z9"):
        excused_in("Z9 gone", spots)


@pytest.mark.parametrize(
    ("name", "typed", "words"),
    [
        ("by", "", "Say who signs her dry."),
        ("heat_off_h", "-4", "Hours can't be below 0"),
        ("signed_on", "25 Nov 2026", "25 Nov 2026 is still to come"),
    ],
)
def test_a_signature_that_cannot_be_is_refused_beside_its_field(
    full: FullWinter, manager: Client, name: str, typed: str, words: str
) -> None:
    answer = manager.post(url("sign/"), dry(full) | {name: typed})
    assert answer.status_code == 422 and words in text_of(answer)
    assert f'id="{name}-wrong"' in answer.content.decode() and not DrySigned.objects.exists()


def test_crew_neither_sign_nor_are_shown_the_way_there(
    full: FullWinter, crew: Client, manager: Client
) -> None:
    assert url("sign/") not in crew.get(url()).content.decode()
    assert url("sign/") in manager.get(url()).content.decode()
    assert crew.get(url("sign/")).status_code == 403


# --- All of it --------------------------------------------------------------------------------------------
def test_a_boat_of_another_season_or_none_is_not_found(full: FullWinter, crew: Client) -> None:
    assert crew.get(f"/quiet-creek/boat/{hers().boat_id + 9999}/measure/").status_code == 404


def test_the_page_reads_as_often_for_many_rounds_as_for_one(full: FullWinter, manager: Client) -> None:
    mark()
    counted = []
    for figures in ((30,), (44, 42, 40, 38, 36, 34, 32, 30)):
        with transaction.atomic():
            rounds_before(full, *figures)
            wrong = Reading.objects.filter(spot__code="P1").latest("round__day_on")
            sent = {"reading": wrong.pk, "value": "30", "why": "slip", "sure": "yes"}
            assert manager.post(url("reading/"), sent).status_code == 302
            manager.get(url())
            with CaptureQueriesContext(connection) as asked:
                assert "<s>31</s>" in manager.get(url()).content.decode()
            counted.append(len(asked))
            transaction.set_rollback(True)
    assert counted[0] == counted[1]


def test_today_leads_to_a_drying_boat_s_measuring_and_to_the_gate(full: FullWinter, crew: Client) -> None:
    html = crew.get("/quiet-creek/today/").content.decode()
    assert f'href="{url()}"' in html and 'href="/quiet-creek/air/"' in html


def test_accounts_that_stand_for_nobody_may_take_rounds_too(full: FullWinter, crew: Client) -> None:
    Membership.objects.filter(user=full.cast.crew.user).update(person=None)
    assert crew.post(url("round/"), plain_round(full) | {"spot-mean": "31"}).status_code == 302
    assert Round.objects.get().person is None
