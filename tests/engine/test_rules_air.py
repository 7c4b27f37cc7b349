"""Air in the model: what is in the air until it settles, and who minds."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from scheduling.engine.problem import Air, Place
from tests.engine.model import total
from tests.engine.tiny import begun, job, problem, step

MONDAY, NEVER = date(2026, 11, 2), date(2026, 12, 24)
PLACES = (Place(id="a", air="hall"), Place(id="b", air="hall"), Place(id="c", air="annexe"))
AIRS = (Air(id="hall", settle=1), Air(id="annexe"))


def yard(*jobs, **values: object):
    return problem(*jobs, **{"places": PLACES, "airs": AIRS, **values})


def dusty(**values: object):
    return job("d", step("peel", 2, "a", pin_start=0, makes=("dust",), **values), due=NEVER)


def wet(*places: str, **values: object):
    return job("w", step("coat", 1, *(places or ("b",)), spoiled_by=("dust",), **values), due=MONDAY)


def test_what_dust_spoils_waits_until_it_has_settled():
    # Dust in slots 0 and 1, settled after 2: she coats in slot 3, Thursday, 3 days late.
    assert total(yard(dusty(), wet())) == 300
    assert total(yard(dusty(), wet()), "air") == 0


def test_dust_is_not_made_beside_wet_work():
    maker = job("d", step("peel", 1, "a", makes=("dust",)), due=MONDAY)
    sticky = job("w", step("coat", 2, "b", spoiled_by=("dust",), pin_start=1), due=NEVER)
    # Dust in slot 0 would still hang in slot 1, so she peels in slot 3, Thursday: 3 days late.
    assert total(yard(maker, sticky)) == 300
    assert total(yard(maker, replace(sticky, steps=(replace(sticky.steps[0], pin_start=2),)))) == 0


def test_another_air_an_own_air_another_kind_or_a_split_day_do_not_clash():
    assert total(yard(dusty(), wet("b", "c"))) == 0
    assert total(yard(dusty(own_air=True), wet())) == 0
    assert total(yard(dusty(), wet(own_air=True))) == 0
    assert total(yard(dusty(), job("w", step("coat", 1, "b", spoiled_by=("steam",)), due=MONDAY))) == 0
    assert total(yard(dusty(), wet(), airs=(Air(id="hall", settle=1, split_day=True), AIRS[1]))) == 0
    assert total(yard(dusty(), wet(), places=(PLACES[0], Place(id="b")))) == 0


def test_her_own_dust_does_not_spoil_her():
    alone = job(
        "d",
        step("peel", 2, "a", makes=("dust",)),
        step("coat", 1, "a", spoiled_by=("dust",)),
        due=date(2026, 11, 4),
    )
    # Slots 0 and 1, then slot 2, though dust settles then: Wednesday, in time.
    assert total(yard(alone)) == 0


def test_dust_of_what_had_begun_counts_from_slot_0_and_that_of_two_facts_does_not():
    had_begun = job("d", step("wash", 1, "c"), begun=begun("a", 2, makes=("dust",)), due=NEVER)
    assert total(yard(had_begun, wet())) == 300
    wet_too = job("w", step("wash", 1, "b"), begun=begun("b", 3, spoiled_by=("dust",)), due=NEVER)
    assert total(yard(had_begun, wet_too)) == 0


def test_it_is_the_work_that_makes_dust_not_the_waiting_after_it():
    waits = job(
        "d", step("peel", 1, "a", pin_start=0, makes=("dust",)), step("wash", 1, "c", pin_start=8), due=NEVER
    )
    # Dust in slot 0, settled after 1: she coats in slot 2, Wednesday, 2 days late.
    assert total(yard(waits, wet())) == 200
