"""The form every action has: role, yard, one transaction, versions, sent entries, history."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import IntegrityError

from tests.cast import TODAY, BayFactory, BoatFactory, Cast, KitFactory, SeasonFactory, full_scheme
from yard.actions.base import NotAllowed, NotYours, Refused, Stale, acted, action, change
from yard.actions.boats import save_boat
from yard.actions.drying import correct_wash, record_wash
from yard.actions.errors import sentence_for
from yard.actions.places import save_bay
from yard.actions.promises import record_promise
from yard.actions.rounds import correct_reading, record_round, sign_dry
from yard.actions.schemes import save_coating_sheet, save_scheme_stage
from yard.actions.stages import (
    correct_stage,
    finish_stage,
    hold_stage,
    release_stage,
    start_stage,
)
from yard.actions.stoppages import call_off_stoppage, end_stoppage, stop_work
from yard.actions.treatments import bring_in, cancel_treatment, open_treatment, shift
from yard.models import (
    Bay,
    Boat,
    CoatingSheet,
    Delivery,
    Entry,
    Hold,
    Person,
    Reading,
    Round,
    Stage,
    Stay,
    Stoppage,
    Treatment,
    WashRecord,
)
from yard.roles import Actor

M, C, O = "manager", "crew", "office"  # noqa: E741


def a_treatment(cast: Cast, *, to: str = "") -> Treatment:
    """Her treatment, run by the manager up to where the named stage can start."""
    treatment = open_treatment(
        cast.manager,
        boat=cast.boat,
        scheme=cast.scheme,
        season=cast.season,
        arrives_on=TODAY,
        wanted_on=date(2027, 4, 1),
    )
    for stage in treatment.stages.all() if to else ():
        if stage.kind == to:
            break
        finish_stage(cast.manager, stage=stage, on=TODAY)
        if stage.kind == "lift":
            bring_in(cast.manager, treatment=treatment, bay=cast.bay, on=TODAY)
        if stage.kind == "dry":
            sign_dry(
                cast.manager,
                treatment=treatment,
                by=cast.crew.person,
                signed_on=TODAY,
                note="by the surveyor",
            )
    treatment.refresh_from_db()
    return treatment


def a_stage(cast: Cast, kind: str = "peel") -> Stage:
    """Her stage of that kind, ready to start."""
    return a_treatment(cast, to=kind).stages.get(kind=kind)


def a_held_stage(cast: Cast) -> Stage:
    stage = a_stage(cast)
    hold_stage(cast.manager, stage=stage, reason="owner")
    return stage


def a_stoppage(cast: Cast, subject: Any) -> Stoppage:
    return stop_work(cast.manager, subject=subject, kind="ill", first_day=TODAY, last_day=None, why="flu")


def a_sheet(cast: Cast) -> CoatingSheet:
    return save_coating_sheet(cast.manager, name="epoxy")


def a_wash(cast: Cast) -> WashRecord:
    return record_wash(cast.crew, stage=a_stage(cast, "dry"))


def standing(cast: Cast) -> Treatment:
    return a_treatment(cast, to="peel")


def a_reading(cast: Cast) -> Reading:
    """A figure the crew member took today."""
    figures = {"P1": Decimal(14)}
    return record_round(
        cast.crew, treatment=standing(cast), meter=cast.meter, readings=figures
    ).readings.get()


def due(cast: Cast) -> dict[str, Any]:
    return {
        "boat": cast.boat,
        "scheme": cast.scheme,
        "season": cast.season,
        "arrives_on": TODAY,
    }


# Each action, who may do it, and what it is asked with, made ready by the manager.
ACTIONS: list[tuple[Callable[..., Any], set[str], Callable[[Cast], dict[str, Any]]]] = [
    (save_bay, {M}, lambda c: {"bay": c.bay, "version": 1, "length_m": Decimal(11)}),
    (save_boat, {M, O}, lambda c: {"boat": c.boat, "version": 1, "draught_m": Decimal("1.4")}),
    (open_treatment, {M, O}, due),
    (cancel_treatment, {M}, lambda c: {"treatment": a_treatment(c), "version": 1, "why": "sold"}),
    (bring_in, {M, C}, lambda c: {"treatment": a_treatment(c), "bay": c.bay, "on": TODAY}),
    (shift, {M, C}, lambda c: {"treatment": standing(c), "bay": c.next_bay, "on": TODAY}),
    (start_stage, {M, C}, lambda c: {"stage": a_stage(c), "on": TODAY}),
    (finish_stage, {M, C}, lambda c: {"stage": a_stage(c), "on": TODAY}),
    (hold_stage, {M, C}, lambda c: {"stage": a_stage(c), "reason": "owner"}),
    (release_stage, {M, C}, lambda c: {"stage": a_held_stage(c)}),
    (
        correct_stage,
        {M},
        lambda c: {
            "stage": a_stage(c),
            "version": 1,
            "started_on": TODAY,
            "finished_on": None,
            "why": "forgotten",
        },
    ),
    (
        record_round,
        {M, C},
        lambda c: {"treatment": standing(c), "meter": c.meter, "readings": {"P1": Decimal(40)}},
    ),
    (
        correct_reading,
        {M, C},
        lambda c: {"reading": a_reading(c), "value": Decimal(41), "why": "misread"},
    ),
    (
        sign_dry,
        {M},
        lambda c: {
            "treatment": standing(c),
            "by": c.crew.person,
            "signed_on": TODAY,
            "note": "by the surveyor",
        },
    ),
    (record_wash, {M, C}, lambda c: {"stage": a_stage(c, "dry"), "minutes": 90}),
    (correct_wash, {M}, lambda c: {"wash": a_wash(c), "why": "another boat's"}),
    (
        save_scheme_stage,
        {M},
        lambda c: {"stage": c.scheme.stages.get(kind="coat"), "version": 1, "norms": {"coats": 5}},
    ),
    (save_coating_sheet, {M}, lambda c: {"sheet": a_sheet(c), "version": 1, "film_um": Decimal(150)}),
    (
        stop_work,
        {M, C},
        lambda c: {
            "subject": c.crew.person,
            "kind": "ill",
            "first_day": TODAY,
            "last_day": TODAY,
            "why": "flu",
        },
    ),
    (
        end_stoppage,
        {M, C},
        lambda c: {"stoppage": a_stoppage(c, c.crew.person), "version": 1, "last_day": TODAY},
    ),
    (call_off_stoppage, {M, C}, lambda c: {"stoppage": a_stoppage(c, c.crew.person), "version": 1}),
    (
        record_promise,
        {M, O},
        lambda c: {"treatment": a_treatment(c), "promised_on": date(2027, 4, 1), "how": "phone"},
    ),
]
KEYED = [row for row in ACTIONS if "key" in row[0].__annotations__]
by_name = pytest.mark.parametrize(("do", "roles", "given"), ACTIONS, ids=lambda x: getattr(x, "__name__", ""))


@by_name
@pytest.mark.parametrize("role", [M, C, O])
def test_each_action_is_for_its_roles_alone(
    cast: Cast, do: Any, roles: set[str], given: Any, role: str
) -> None:
    asked, who = given(cast), cast.actors[role]
    before = Entry.objects.count()
    if role in roles:
        do(who, **asked)
        assert Entry.objects.filter(action=do.__name__, user=who.user).exists()
    else:
        with pytest.raises(NotAllowed):
            do(who, **asked)
        assert Entry.objects.count() == before


@by_name
def test_a_record_of_another_yard_does_not_exist_for_an_actor(
    cast: Cast, do: Any, roles: set[str], given: Any
) -> None:
    asked, before = given(cast), Entry.objects.count()
    for role in roles:
        with pytest.raises(NotYours):
            do(replace(cast.other_manager, role=role), **asked)
    assert Entry.objects.count() == before


@by_name
def test_every_action_says_its_roles_to_whoever_asks(do: Any, roles: set[str], given: Any) -> None:
    assert set(do.roles) == roles


@pytest.mark.parametrize(("do", "roles", "given"), KEYED, ids=lambda x: getattr(x, "__name__", ""))
def test_an_entry_sent_twice_is_done_once_and_answered_twice(
    cast: Cast, do: Any, roles: set[str], given: Any
) -> None:
    asked, key = given(cast), uuid4()
    first = do(cast.crew, **asked, key=key, taken_at=datetime(2026, 11, 24, 9, tzinfo=UTC))
    written = Entry.objects.count()
    again = do(cast.crew, **asked, key=key, taken_at=datetime(2026, 11, 24, 9, tzinfo=UTC))
    assert (again, again.said) == (first, first.said)
    assert Entry.objects.count() == written


# --- Keys ------------------------------------------------------------------------------------------------
@pytest.fixture
def round_of(cast: Cast) -> Callable[..., Round]:
    treatment = standing(cast)

    def send(key: UUID, figure: int = 40, who: Actor = cast.crew) -> Round:
        return record_round(
            who,
            treatment=treatment,
            meter=cast.meter,
            readings={"P1": Decimal(figure)},
            key=key,
            taken_at=datetime(2026, 11, 24, 9, tzinfo=UTC),
        )

    return send


@pytest.mark.reliability(22)
def test_a_key_that_says_something_else_is_refused(round_of: Callable[..., Round]) -> None:
    key = uuid4()
    round_of(key)
    with pytest.raises(Refused, match="said something else") as refusal:
        round_of(key, 41)
    assert refusal.value.status == 422
    assert Round.objects.get().readings.get().value == 40


@pytest.mark.reliability(22)
def test_the_same_key_of_another_account_is_another_entry(cast: Cast, round_of: Callable[..., Round]) -> None:
    key = uuid4()
    round_of(key)
    with pytest.raises(Refused, match="A round of that day"):
        round_of(key, 41, cast.manager)
    assert list(Delivery.objects.values_list("user", flat=True)) == [cast.crew.user.pk]


@pytest.mark.reliability(22)
def test_of_two_that_come_at_once_the_second_gets_the_firsts_answer(
    monkeypatch: pytest.MonkeyPatch, round_of: Callable[..., Round]
) -> None:
    key = uuid4()
    first = round_of(key)
    # What PostgreSQL does to the second: it looks before the first is stored, and is refused on writing.
    from yard.actions import deliveries

    look, looks = deliveries.earlier, []

    def blind_once(who: Actor, key: UUID) -> Delivery | None:
        looks.append(key)
        return None if len(looks) == 1 else look(who, key)

    monkeypatch.setattr(deliveries, "earlier", blind_once)
    assert round_of(key) == first
    assert len(looks) == 2 and Round.objects.count() == 1


@pytest.mark.reliability(22)
def test_a_refused_entry_leaves_its_key_free(cast: Cast, round_of: Callable[..., Round]) -> None:
    key = uuid4()
    with pytest.raises(Refused, match="off the scale"):
        round_of(key, 140)
    assert not Delivery.objects.exists()
    assert round_of(key, 40).readings.get().value == 40


def test_a_delivery_keeps_when_it_was_written_down_and_when_it_came(round_of: Callable[..., Round]) -> None:
    round_of(uuid4())
    delivery = Delivery.objects.get()
    assert delivery.action == "record_round"
    assert delivery.taken_at == datetime(2026, 11, 24, 9, tzinfo=UTC)
    assert delivery.received_at - delivery.taken_at > timedelta(0)
    assert Entry.objects.get(delivery=delivery).about_label == "yard.round"


# --- Versions --------------------------------------------------------------------------------------------
@pytest.mark.reliability(5)
def test_the_second_of_two_editors_is_told_and_shown_what_stands_there(cast: Cast) -> None:
    save_bay(cast.manager, bay=cast.bay, version=1, length_m=Decimal(11))
    with pytest.raises(Stale) as lost:
        save_bay(cast.manager, bay=cast.bay, version=1, length_m=Decimal(9))
    theirs = lost.value.theirs
    assert isinstance(theirs, Bay)
    assert (lost.value.status, theirs.length_m, theirs.version) == (409, 11, 2)


@pytest.mark.reliability(5)
def test_a_save_between_reading_and_writing_is_noticed(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    from yard.actions import base

    def slow_check(who: Actor, record: Any) -> None:
        Bay.objects.filter(pk=record.pk).update(version=2, length_m=11)

    monkeypatch.setattr(base, "check", slow_check)
    with pytest.raises(Stale):
        save_bay(cast.manager, bay=cast.bay, version=1, length_m=Decimal(9))
    assert not Entry.objects.filter(action="save_bay").exists()


def test_a_save_that_changes_nothing_writes_nothing(cast: Cast) -> None:
    save_bay(cast.manager, bay=cast.bay, version=1, length_m=cast.bay.length_m)
    assert Bay.objects.get(pk=cast.bay.pk).version == 1
    assert not Entry.objects.exists()


# --- History ---------------------------------------------------------------------------------------------
def test_the_history_says_who_did_what_to_which_record_and_what_it_was(cast: Cast) -> None:
    save_bay(cast.manager, bay=cast.bay, version=1, length_m=Decimal("11.50"))
    entry = Entry.objects.get()
    assert (entry.yard, entry.user, entry.action) == (cast.yard, cast.manager.user, "save_bay")
    assert (entry.about_label, entry.about_pk) == ("yard.bay", cast.bay.pk)
    assert (entry.before, entry.after) == ({"length_m": "12"}, {"length_m": "11.5"})


def test_a_new_record_is_in_the_history_whole(cast: Cast) -> None:
    boat = save_boat(
        cast.office,
        name="Yarrow",
        length_m=Decimal(9),
        beam_m=Decimal(3),
        draught_m=Decimal(1),
        stand_height_m=Decimal(3),
        displacement_t=Decimal(4),
    )
    entry = Entry.objects.get()
    assert entry.before is None
    assert entry.after["name"] == "Yarrow" and entry.after["id"] == boat.pk


def test_an_action_that_fails_leaves_nothing_behind(cast: Cast) -> None:
    @action(M)
    def half(who: Actor, *, bay: Bay) -> Bay:
        change(who, bay, length_m=Decimal(1))
        raise Refused("Not after all.")

    with pytest.raises(Refused):
        half(cast.manager, bay=cast.bay)
    assert Bay.objects.get(pk=cast.bay.pk).length_m == 12
    assert not Entry.objects.exists()


def test_others_hear_of_an_action_once_it_is_stored(
    cast: Cast, django_capture_on_commit_callbacks: Any
) -> None:
    heard: list[tuple[str, Any]] = []

    def listen(sender: Any, action: str, record: Any, **_: Any) -> None:
        heard.append((action, record))

    acted.connect(listen)
    try:
        with django_capture_on_commit_callbacks(execute=True):
            save_bay(cast.manager, bay=cast.bay, version=1, length_m=Decimal(11))
            assert heard == []
        assert heard == [("save_bay", cast.bay)]
    finally:
        acted.disconnect(listen)


# --- Refusals --------------------------------------------------------------------------------------------
def test_a_broken_rule_is_refused_in_its_own_words(cast: Cast) -> None:
    with pytest.raises(Refused) as refusal:
        save_bay(cast.manager, bay=cast.bay, version=1, name="h2")
    assert refusal.value.sentence == "There is a bay of that name already."
    with pytest.raises(Refused) as refusal:
        save_bay(cast.manager, bay=cast.bay, version=1, length_m=Decimal(-1))
    assert refusal.value.sentence == "Length [m] must be more than 0."
    with pytest.raises(Refused) as refusal:
        save_bay(cast.manager, bay=cast.bay, version=1, name="")
    assert refusal.value.field == "name"


@pytest.mark.parametrize(
    ("bay", "says"), [("bay", "Another boat stands in that bay."), ("next_bay", "She stands in another bay.")]
)
def test_what_only_the_database_refuses_is_said_in_the_same_words(cast: Cast, bay: str, says: str) -> None:
    treatment = standing(cast)
    other = open_treatment(cast.manager, **{**due(cast), "boat": BoatFactory(yard=cast.yard)})
    who = other if bay == "bay" else treatment
    with pytest.raises(IntegrityError) as clash:
        Stay.objects.create(yard=cast.yard, treatment=who, bay=getattr(cast, bay), from_on=TODAY)
    assert sentence_for(clash.value) == says


def test_a_check_only_the_database_sees_is_said_in_its_words(cast: Cast) -> None:
    with pytest.raises(IntegrityError) as clash:
        Boat.objects.filter(pk=cast.boat.pk).update(beam_m=30)
    assert sentence_for(clash.value) == "Her beam must be less than her length."


def test_a_name_in_another_case_is_refused_by_the_database_in_words(cast: Cast) -> None:
    with pytest.raises(IntegrityError) as clash:
        Bay.objects.filter(pk=cast.bay.pk).update(name="h2")
    assert sentence_for(clash.value) == "There is a bay of that name already."


def test_a_clash_of_no_known_rule_is_still_one_sentence() -> None:
    assert sentence_for(IntegrityError("FOREIGN KEY constraint failed")).startswith("That clashes")


@pytest.mark.parametrize("fields", [{"yard": 1}, {"yard_id": 1}, {"pk": 3}])
def test_no_action_moves_a_record_to_another_yard_or_gives_it_another_number(
    cast: Cast, fields: dict[str, Any]
) -> None:
    with pytest.raises(TypeError):
        save_bay(cast.manager, bay=cast.bay, version=1, **fields)


def test_a_key_into_another_yard_is_not_found_wherever_it_hides(cast: Cast) -> None:
    foreign = BayFactory(yard=cast.other_yard)
    with pytest.raises(NotYours):
        save_bay(cast.manager, bay=cast.bay, version=1, air=foreign.air, shed=foreign.shed)
    with pytest.raises(NotYours):
        open_treatment(cast.manager, **{**due(cast), "scheme": full_scheme(cast.other_yard)})
    with pytest.raises(NotYours):
        open_treatment(cast.manager, **{**due(cast), "season": SeasonFactory(yard=cast.other_yard)})
    with pytest.raises(NotYours):
        stop_work(
            cast.manager,
            subject=KitFactory(yard=cast.other_yard),
            kind="closed",
            first_day=TODAY,
            last_day=None,
            why="broken",
        )


def test_hours_of_a_person_of_another_yard_are_not_found(cast: Cast) -> None:
    from yard.actions.stages import Hours

    theirs = Person.objects.create(yard=cast.other_yard, name="Theirs")
    stage = a_stage(cast)
    with pytest.raises(NotYours):
        finish_stage(cast.manager, stage=stage, on=TODAY, work=[Hours(theirs, Decimal(4))])
    stage.refresh_from_db()
    assert stage.status == "waiting"


def test_holds_are_of_the_yard_of_their_stage(cast: Cast) -> None:
    a_held_stage(cast)
    assert Hold.objects.of(cast.yard).count() == 1
    assert Hold.objects.of(cast.other_yard).count() == 0


def test_a_boat_of_another_yard_opens_no_treatment(cast: Cast) -> None:
    with pytest.raises(NotYours):
        open_treatment(cast.manager, **{**due(cast), "boat": BoatFactory(yard=cast.other_yard)})
