"""What some files need beyond their table: rows that make several records, or records that need more than a row."""

from __future__ import annotations

import datetime as dt
import re
from collections import defaultdict
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from django.db.models import Max

from yard.actions.importing.cells import OrNone
from yard.actions.importing.columns import BY_NAME, WEEKDAYS
from yard.actions.importing.read import Row, Sheet, values
from yard.actions.importing.store import Fields, Store
from yard.actions.treatments import copy_stages
from yard.models import (
    Demand,
    Lane,
    Membership,
    PersonSkill,
    Reading,
    Round,
    SchemeStage,
    Spot,
    Stage,
    StageDemand,
    Status,
    Stay,
    TideWater,
    Treatment,
    TreatmentState,
    WorkingWeek,
    Yard,
)
from yard.models.schemes import NEEDS, NORMS

MEAN = "mean"
"""The spot that stands for all spots where only their mean was written down."""


# --- Yard, people -----------------------------------------------------------------------------------------
def store_yard(store: Store, sheet: Sheet) -> None:
    """Set the yard's own fields and its settings."""
    settings = store.yard.settings
    changed = False
    for row in sheet.rows:
        name = next(iter({**row.texts, **row.feet}))
        column = sheet.file.column(name)
        given = values(sheet, row, (column,), store.faults)
        if name == "timezone" and not row.bad and given[name] not in available_timezones():
            store.faults.at(
                sheet, row, name, f"“{given[name]}” is no time zone; write one like Europe/London."
            )
        if name == "open_weekdays" and not row.bad and not re.fullmatch("[01]{7}", given[name]):
            store.faults.at(
                sheet, row, name, "Write seven figures, Monday first: 1 open, 0 closed, like 1111100."
            )
        if not row.bad:
            record = store.yard if column.field in {f.name for f in Yard._meta.concrete_fields} else settings
            changed = store.change(sheet, row, record, {column.field: given[name]}) or changed
    store.counts[sheet.file.name].changed = int(changed)
    store.counts[sheet.file.name].same = int(not changed)


def people_skills(store: Store, sheet: Sheet, row: Row, given: Fields, person: Any, _: bool) -> bool:
    """Give a person the listed skills and no others."""
    if "skills" not in given:
        return False
    wanted = []
    for name in given["skills"] or []:
        found = store.stored("skills.csv").get((name.casefold(),))
        if found:
            wanted.append(found[0])
        elif (name.casefold(),) not in store.broken["skills.csv"]:
            store.faults.at(
                sheet, row, "skills", f"“{name}” is not in skills.csv; add it there or correct the name."
            )
    has = {held.skill_id: held for held in person.skills.all()}
    if row.bad or [skill.pk for skill in wanted] == list(has):
        return False
    if set(has) == {skill.pk for skill in wanted}:
        return False
    PersonSkill.objects.filter(person=person).delete()
    PersonSkill.objects.bulk_create(PersonSkill(person=person, skill=skill) for skill in wanted)
    return True


def store_weeks(store: Store, sheet: Sheet) -> None:
    """Make the seven figures of each week."""
    count = store.counts[sheet.file.name]
    stored: dict[tuple[int, dt.date], dict[int, WorkingWeek]] = defaultdict(dict)
    for figure in WorkingWeek.objects.of(store.yard):
        stored[figure.person_id, figure.from_on][figure.weekday] = figure
    seen: dict[tuple[int, dt.date], int] = {}
    for row in sheet.rows:
        given = store.read(sheet, row)
        person = store.link(sheet, row, sheet.file.links[0], given)
        if row.bad:
            continue
        key = (person.pk, given["from_on"])
        if key in seen:
            store.faults.at(
                sheet,
                row,
                "from_on",
                f"{person} has a week from that day in row {seen[key]} already; take one out.",
            )
            continue
        seen[key] = row.number
        before = stored[key]
        changed = False
        for weekday, name in enumerate(WEEKDAYS):
            hours = given.get(name)
            figure = before.get(weekday)
            if figure is None and hours is not None:
                fresh = WorkingWeek(person=person, from_on=key[1], weekday=weekday, hours=hours)
                changed = store.add(sheet, row, fresh) or changed
            elif figure is not None and name in given and hours is None:
                WorkingWeek.objects.filter(pk=figure.pk).delete()
                changed = True
            elif figure is not None and name in given:
                changed = store.change(sheet, row, figure, {"hours": hours}) or changed
        if not before:
            count.added += 1
        elif changed:
            count.changed += 1
        else:
            count.same += 1


# --- Places, tides ----------------------------------------------------------------------------------------
def bay_lane(store: Store, sheet: Sheet, row: Row, given: Fields, fields: Fields) -> None:
    """Find the lane of a bay, or make it."""
    if "lane" not in given:
        return
    fields["lane"] = None
    if given["lane"]:
        lanes = Lane.objects.filter(shed=fields["shed"], name__iexact=given["lane"])
        fields["lane"] = lanes.first() or Lane.objects.create(shed=fields["shed"], name=given["lane"])


def water_at(day: dt.date, time: dt.time, clock: str, zone: ZoneInfo) -> dt.datetime | None:
    """The instant of a day and time by a clock: universal time, or the yard's zone; None if no clock shows it so."""
    if clock.upper() in {"UTC", "GMT", "Z"}:
        return dt.datetime.combine(day, time, dt.UTC)
    for fold in (0, 1):
        local = dt.datetime.combine(day, time.replace(fold=fold), zone)
        there = local.astimezone(dt.UTC).astimezone(zone).replace(fold=0) == local.replace(fold=0)
        if there and (not clock or local.tzname() == clock.upper()):
            return local.astimezone(dt.UTC)
    return None


def store_tides(store: Store, sheet: Sheet) -> None:
    """Replace each place's year of waters whole, where it differs."""
    zone = ZoneInfo(store.yard.timezone)
    waters: dict[int, dict[dt.datetime, tuple[Any, bool]]] = defaultdict(dict)
    tables = {}
    for row in sheet.rows:
        given = store.read(sheet, row)
        if row.bad:
            continue
        at = water_at(given["day"], given["time"], given.get("clock") or "", zone)
        if at is None:
            store.faults.at(
                sheet,
                row,
                "clock",
                "The yard's clock does not show that time; write GMT or BST, or correct the time.",
            )
            continue
        key = (given["place"].casefold(), str(given["day"].year))
        found = store.stored("tide_tables.csv").get(key)
        if not found:
            if key not in store.broken["tide_tables.csv"]:
                told = f"“{given['place']}” has no table of {given['day'].year}; add it to tide_tables.csv."
                store.faults.at(sheet, row, "place", told)
            continue
        table = tables.setdefault(found[0].pk, found[0])
        if at in waters[table.pk]:
            store.faults.at(sheet, row, "time", "That water is there already; take one of the rows out.")
        waters[table.pk][at] = (given["height_m"], given["water"] == "high")
    count = store.counts[sheet.file.name]
    for pk, table in tables.items():
        before = {w.at: (w.height_m, w.is_high) for w in table.waters.all()}
        same = sum(before.get(at) == what for at, what in waters[pk].items())
        count.same += same
        count.changed += len(before.keys() & waters[pk].keys()) - same
        count.added += len(waters[pk].keys() - before.keys())
        if before != waters[pk]:
            table.waters.all().delete()
            TideWater.objects.bulk_create(
                TideWater(table=table, at=at, height_m=height, is_high=high)
                for at, (height, high) in sorted(waters[pk].items())
            )


# --- Schemes, treatments ----------------------------------------------------------------------------------
def store_demands(store: Store, sheet: Sheet) -> None:
    """Replace the demands of each stage that is named, where they differ."""
    link, skill = sheet.file.links
    model: Any = sheet.file.model
    groups: dict[int, list[tuple[Row, Fields]]] = defaultdict(list)
    parents = {}
    for row in sheet.rows:
        given = store.read(sheet, row)
        parent = store.link(sheet, row, link, given)
        fields = {c.field: given[c.name] for c in sheet.file.columns if c.field and c.name in given}
        fields["skill"] = store.link(sheet, row, skill, given)
        if parent is not None and not row.bad:
            record = model(**{link.field: parent}, **fields)
            store.hold(sheet, row, record)
        if parent is not None:
            parents[parent.pk] = parent
            groups[parent.pk].append((row, fields))
    count = store.counts[sheet.file.name]
    stored: dict[int, list[Any]] = defaultdict(list)
    for demand in model.objects.of(store.yard).select_related("skill").order_by("pk"):
        stored[getattr(demand, f"{link.field}_id")].append(demand)
    for pk, group in groups.items():
        if any(row.bad for row, _ in group):
            continue
        before = stored[pk]
        anew = [model(**{link.field: parents[pk]}, **fields) for _, fields in group]
        if [_needs(demand) for demand in before] == [_needs(demand) for demand in anew]:
            count.same += len(anew)
            continue
        count.changed += min(len(before), len(anew))
        count.added += max(0, len(anew) - len(before))
        model.objects.filter(pk__in=[demand.pk for demand in before]).delete()
        for demand in anew:
            demand.save(force_insert=True)


def _needs(demand: Demand | StageDemand) -> tuple[Any, ...]:
    return tuple(getattr(demand, name) for name in NEEDS)


def treatment_state(store: Store, sheet: Sheet, row: Row, given: Fields, fields: Fields) -> None:
    """Fill in what an empty cell says: she is here if she has arrived; the scheme's target is hers."""
    if not row.texts.get("state"):
        fields["state"] = TreatmentState.HERE if given.get("arrived_on") else TreatmentState.EXPECTED
    if fields.get("target_reading") is None:
        fields["target_reading"] = fields["scheme"].target_reading


def treatment_stages(store: Store, sheet: Sheet, row: Row, given: Fields, treatment: Any, new: bool) -> bool:
    """Give a new treatment its copy of the scheme's stages."""
    if new and not given.get("own_stages"):
        for stage in copy_stages(treatment):
            store.enter("stages.csv", stage)
    return False


def scheme_norms(treatment: Treatment, position: int) -> SchemeStage | None:
    """The stage of her scheme at this position."""
    return SchemeStage.objects.filter(scheme=treatment.scheme_id, position=position).first()


def stage_norms(store: Store, sheet: Sheet, row: Row, given: Fields, fields: Fields) -> None:
    """Take from the scheme what the cells leave empty, and hold the dates against the status."""
    status, began, ended = fields.get("status"), fields.get("started_on"), fields.get("finished_on")
    at = store.faults.at
    if status == Status.RUNNING and not began:
        at(sheet, row, "started_on", "A running stage needs the day it began; fill it in.")
    if status == Status.RUNNING and ended:
        at(sheet, row, "finished_on", "A running stage has not ended; take the day out, or write done.")
    if status == Status.DONE:
        for name, day, word in (("started_on", began, "began"), ("finished_on", ended, "ended")):
            if not day:
                at(sheet, row, name, f"A done stage needs the day it {word}; fill it in.")
    if status == Status.WAITING and (began or ended):
        at(sheet, row, "status", "A waiting stage has no days; write running or done, or take the days out.")
    if began and ended and ended < began:
        at(sheet, row, "finished_on", "The stage ends before it began; correct one of the days.")
    if not row.texts.get("done_pct"):
        fields["done_pct"] = 100 if status == Status.DONE else 0
    fields["yard"] = store.yard
    base = scheme_norms(fields["treatment"], fields["position"])
    for column in sheet.file.columns:
        if column.field not in NORMS or column.field == "position" or row.texts.get(column.name):
            continue
        if base is not None:
            fields[column.field] = getattr(base, column.field)
        elif column.field in ("kind", "name"):
            at(
                sheet,
                row,
                column.name,
                f"The scheme has no such stage, so this one needs “{column.name}”; fill it in.",
            )
        else:
            kind = column.kind
            fields[column.field] = kind.nothing if isinstance(kind, OrNone) else column.default


def stay_alone(store: Store, sheet: Sheet, row: Row, given: Fields, fields: Fields) -> None:
    """One boat a bay and one bay a boat, on every day."""
    treatment, bay, begin, end = (fields.get(name) for name in ("treatment", "bay", "from_on", "until_on"))
    if treatment is None or bay is None or begin is None:
        return
    if end and end < begin:
        store.faults.at(sheet, row, "until_on", "She left before she came; correct one of the days.")
    if end is None and treatment.state != TreatmentState.HERE:
        told = (
            f"{treatment.boat} is {treatment.state} in treatments.csv; write here there, or the day she left."
        )
        store.faults.at(sheet, row, "bay", told)
    for other in [*Stay.objects.filter(bay=bay), *Stay.objects.filter(treatment=treatment)]:
        if other.treatment_id == treatment.pk and other.bay_id == bay.pk and other.from_on == begin:
            continue
        apart = (other.until_on is not None and other.until_on <= begin) or (
            end is not None and end <= other.from_on
        )
        if apart or row.bad:
            continue
        since = (
            f"since {other.from_on:%d/%m/%Y}"
            if other.until_on is None
            else (f"from {other.from_on:%d/%m/%Y} to {other.until_on:%d/%m/%Y}")
        )
        if other.bay_id == bay.pk:
            told = f"{other.treatment.boat} stands in {bay} {since}; one boat a bay: correct one of them."
        else:
            told = f"{treatment.boat} stands in {other.bay} {since}; write the day she left it."
        store.faults.at(sheet, row, "bay", told)


# --- Facts ------------------------------------------------------------------------------------------------
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
        fresh = Round(treatment=key[0], day_on=key[1], meter=key[2], mode=key[3], replaces=stored, **head)
        replaced = stored is not None and any(getattr(stored, name) != value for name, value in head.items())
        if stored is None:
            if not store.add(sheet, first, fresh):
                continue
            stored = fresh
        elif replaced:
            store.replace(sheet, first, stored, fresh)
            stored, readings = fresh, {spot.pk: given["value"] for _, given, spot in group}
            kept = [r for pk, r in had.items() if pk not in readings]
            Reading.objects.bulk_create(Reading(round=fresh, spot_id=r.spot_id, value=r.value) for r in kept)
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
        told = f"{treatment.boat} has no spot “{code}”; add it to spots.csv, or leave the cell empty for the mean."
        store.faults.at(sheet, row, "spot", told)
    return None


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


WHOLE: dict[str, Callable[[Store, Sheet], None]] = {
    "yard.csv": store_yard,
    "weeks.csv": store_weeks,
    "tides.csv": store_tides,
    "demands.csv": store_demands,
    "stage_demands.csv": store_demands,
    "rounds.csv": store_rounds,
}
PREPARE = {
    "bays.csv": bay_lane,
    "treatments.csv": treatment_state,
    "stages.csv": stage_norms,
    "stays.csv": stay_alone,
    "promises.csv": promise_by,
}
AFTER = {"people.csv": people_skills, "treatments.csv": treatment_stages}


def late_starts(store: Store) -> list[str]:
    """A line for each running stage with an earlier stage still waiting: a fact, but one to look at."""
    if "stages.csv" not in store.counts:
        return []
    running = (
        Stage.objects.of(store.yard)
        .filter(status=Status.RUNNING)
        .select_related("treatment__boat")
        .order_by("pk")
    )
    waiting = Stage.objects.of(store.yard).filter(status=Status.WAITING).order_by("-position")
    first = {stage.treatment_id: stage for stage in waiting}
    return [
        f"stages.csv: {stage.treatment.boat} is in “{stage.name}” though “{early.name}” before it is still waiting."
        for stage in running
        if (early := first.get(stage.treatment_id)) and early.position < stage.position
    ]
