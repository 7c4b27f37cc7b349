"""Facts that need more than their table: rounds and promises."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from django.db.models import Max

from yard.actions.drying import wrong_with_wash
from yard.actions.importing.columns import BY_NAME
from yard.actions.importing.read import Row, Sheet
from yard.actions.importing.store import Fields, Store
from yard.models import Membership, Reading, Round, Spot, Treatment
from yard.trade.air import doubts_about_air

MEAN = "mean"
"""The spot that stands for all spots where only their mean was written down."""


def store_rounds(store: Store, sheet: Sheet) -> None:
    """Make a round of the rows of one boat, day, meter and mode, with a reading each."""
    about = ("air_c", "rh_pct", "surface_dry", "taken_at")
    treatment_link, meter_link, person_link = sheet.file.links
    count = store.counts[sheet.file.name]
    groups: dict[tuple[Any, ...], list[tuple[Row, Fields, Spot]]] = {}
    heads: dict[tuple[Any, ...], Fields] = {}
    for row in sheet.rows:
        given = store.read(sheet, row)
        treatment = store.link(sheet, row, treatment_link, given)
        meter = store.link(sheet, row, meter_link, given)
        person = store.link(sheet, row, person_link, given)
        if row.bad:
            continue
        if not meter.scale_low <= given["value"] <= meter.scale_high:
            low, high = (
                BY_NAME["meters.csv"].column(n).show(getattr(meter, n)) for n in ("scale_low", "scale_high")
            )
            store.faults.at(
                sheet, row, "value", f"The reading is off the scale of {meter}, {low} to {high}; correct it."
            )
            continue
        for column, says in _wrong_air(given.get("air_c"), given.get("rh_pct")):
            store.faults.at(sheet, row, column, says)
        spot = _spot(store, sheet, row, treatment, given.get("spot") or MEAN)
        if spot is None:
            continue
        key = (treatment, given["day_on"], meter, given.get("mode") or "deep")
        head = heads.setdefault(key, dict.fromkeys((*about, "person")))
        for name, value in {**{name: given.get(name) for name in about}, "person": person}.items():
            if value is not None and head[name] is not None and head[name] != value:
                store.faults.at(
                    sheet,
                    row,
                    name,
                    "This differs from another row of the same round; write the same in both.",
                )
            head[name] = value if value is not None else head[name]
        group = groups.setdefault(key, [])
        if spot in [other for _, _, other in group]:
            store.faults.at(
                sheet, row, "spot", f"The spot {spot} is there twice in this round; take one of the rows out."
            )
        group.append((row, given, spot))
    before = {
        (r.treatment, r.day_on, r.meter, r.mode): r
        for r in Round.objects.of(store.yard)
        .filter(superseded=False)
        .select_related("treatment__boat", "meter", "person")
        .prefetch_related("readings")
    }
    for key, group in groups.items():
        if any(row.bad for row, _, _ in group):
            continue
        head, first = heads[key], group[0][0]
        stored = before.get(key)
        had = {r.spot_id: r for r in stored.readings.all() if not r.superseded} if stored else {}
        about_it = {"treatment": key[0], "day_on": key[1], "meter": key[2], "mode": key[3], **head}
        replaced = stored is not None and any(getattr(stored, name) != value for name, value in head.items())
        if stored is None:
            stored = Round(**about_it)
            if not store.add(sheet, first, stored):
                continue
        elif replaced:
            stored = store.replace(sheet, first, stored, about_it)
            here = {spot.pk for _, _, spot in group}
            kept = [r for pk, r in had.items() if pk not in here]
            Reading.objects.bulk_create(Reading(round=stored, spot_id=r.spot_id, value=r.value) for r in kept)
        for row, given, spot in group:
            reading = had.get(spot.pk)
            if reading is None or replaced:
                store.add(sheet, row, Reading(round=stored, spot=spot, value=given["value"]))
                count.added += reading is None
                count.changed += reading is not None
            elif store.change(sheet, row, reading, {"value": given["value"]}):
                count.changed += 1
            else:
                count.same += 1


def _wrong_air(air_c: Decimal | None, rh_pct: Decimal | None) -> Iterator[tuple[str, str]]:
    """What the air of a round cannot be or reads like, by column. One that was not written down passes."""
    for column, celsius, humidity in (("air_c", air_c, None), ("rh_pct", None, rh_pct)):
        if celsius is None and humidity is None:
            continue
        try:
            doubts = doubts_about_air(
                15.0 if celsius is None else float(celsius), 60.0 if humidity is None else float(humidity)
            )
        except ValueError as no:
            yield column, str(no)
            continue
        yield from ((column, f"{doubt.says} Correct it.") for doubt in doubts)


def _spot(store: Store, sheet: Sheet, row: Row, treatment: Treatment, code: str) -> Spot | None:
    """The spot of this mark on her hull; the one that stands for the mean is made when it is first needed."""
    boat = store.rows.key_texts(BY_NAME["boats.csv"], treatment.boat)[0].casefold()
    found: list[Spot] = store.stored("spots.csv").get((boat, code.casefold()), [])
    if found:
        return found[0]
    if code == MEAN:
        last = Spot.objects.filter(boat=treatment.boat).aggregate(last=Max("walk_order"))["last"] or 0
        spot = Spot.objects.create(
            boat=treatment.boat, code=MEAN, walk_order=last + 1, where="mean of all spots"
        )
        store.enter("spots.csv", spot)
        return spot
    if (boat, code.casefold()) not in store.broken["spots.csv"]:
        told = f"{treatment.boat} has no spot “{code}”; add it to spots.csv, or leave it empty for the mean."
        store.faults.at(sheet, row, "spot", told)
    return None


def wash_held(store: Store, sheet: Sheet, row: Row, given: Fields, fields: Fields) -> None:
    """Hold a wash against its stage and its boat, as the action that records one does."""
    for column, told in wrong_with_wash(
        fields["stage"], fields["day_on"], fields.get("minutes"), fields.get("water_c")
    ):
        store.faults.at(sheet, row, column, told)


def promise_by(store: Store, sheet: Sheet, row: Row, given: Fields, fields: Fields) -> None:
    """Find the account of who told it, among those that have or had a role here."""
    if name := given.get("said_by"):
        found = Membership.objects.filter(yard=store.yard, user__username__iexact=name).first()
        if found:
            fields["by"] = found.user
        else:
            store.notes.append(
                f"promises.csv, row {row.number}: nobody here has the account “{name}”; kept without it."
            )
