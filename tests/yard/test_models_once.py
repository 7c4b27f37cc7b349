"""Rows that are added and never changed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from tests.cast import Cast
from tests.yard.test_models import treatment_of
from yard.models import Entry, Promise, Reading, Round
from yard.models.base import WrittenOnceError

DAY = date(2026, 11, 20)


@pytest.fixture
def reading(cast: Cast) -> Reading:
    round_ = Round.objects.create(treatment=treatment_of(cast), meter=cast.meter, day_on=DAY)
    return Reading.objects.create(round=round_, spot=cast.boat.spots.get(code="P1"), value=Decimal("61"))


def test_a_reading_cannot_be_changed(reading: Reading) -> None:
    reading.value = Decimal("16")
    for write in (reading.save, lambda: reading.save(update_fields=["value"])):
        with pytest.raises(WrittenOnceError):
            write()
    with pytest.raises(WrittenOnceError):
        Reading.objects.update(value=16)
    assert Reading.objects.get().value == 61


def test_a_reading_cannot_be_deleted(reading: Reading) -> None:
    with pytest.raises(WrittenOnceError):
        reading.delete()
    with pytest.raises(WrittenOnceError):
        Reading.objects.filter(pk=reading.pk).delete()
    assert Reading.objects.count() == 1


def test_a_correction_is_a_new_row_that_replaces_the_old_one(reading: Reading) -> None:
    Reading.objects.filter(pk=reading.pk).update(superseded=True)
    Reading.objects.create(round=reading.round, spot=reading.spot, value=Decimal("16"), replaces=reading)
    assert [(r.value, r.superseded) for r in Reading.objects.order_by("pk")] == [(61, True), (16, False)]


def test_a_row_is_replaced_once(cast: Cast, reading: Reading) -> None:
    Reading.objects.filter(pk=reading.pk).update(superseded=True)
    new = {"round": reading.round, "spot": reading.spot, "replaces": reading, "superseded": True}
    Reading.objects.create(**new, value=1)
    with pytest.raises(Exception, match="replaces"):
        Reading.objects.create(**new, value=2)


def test_the_history_only_grows() -> None:
    assert not Entry.may_change and not Entry.may_die
    assert Promise.may_change == {"superseded"} and not Promise.may_die
