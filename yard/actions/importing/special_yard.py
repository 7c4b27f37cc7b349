"""The yard's own files that need more than their table: settings, skills, weeks, lanes, tides."""

from __future__ import annotations

import datetime as dt
import re
from collections import defaultdict
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from yard.actions.importing.columns_days import WEEKDAYS
from yard.actions.importing.read import Row, Sheet, values
from yard.actions.importing.store import Fields, Store
from yard.models import Lane, PersonSkill, TideTable, TideWater, WorkingWeek, Yard


def store_yard(store: Store, sheet: Sheet) -> None:
    """Set the yard's own fields and its settings."""
    own = {field.name for field in Yard._meta.concrete_fields}
    fields: dict[bool, Fields] = {True: {}, False: {}}
    for row in sheet.rows:
        name = next(iter({**row.texts, **row.feet}))
        value = values(sheet, row, (sheet.file.column(name),), store.faults).get(name)
        if name == "timezone" and not row.bad and value not in available_timezones():
            store.faults.at(sheet, row, name, f"“{value}” is no time zone; write one like Europe/London.")
        if name == "open_weekdays" and not row.bad and not re.fullmatch("[01]{7}", str(value)):
            told = "Write seven figures, Monday first: 1 open, 0 closed, like 1111100."
            store.faults.at(sheet, row, name, told)
        if not row.bad:
            fields[name in own][name] = value
    # Settings are held against each other, so they change together; a breach is told at the first row.
    changed = False
    for record, given in ((store.yard, fields[True]), (store.yard.settings, fields[False])):
        if given and not any(row.bad for row in sheet.rows):
            changed = store.change(sheet, sheet.rows[0], record, given) or changed
    store.counts[sheet.file.name].take(new=False, changed=changed)


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
            if weekday not in before and hours is not None:
                fresh = WorkingWeek(person=person, from_on=key[1], weekday=weekday, hours=hours)
                changed = store.add(sheet, row, fresh) or changed
            elif weekday in before and name in given and hours is None:
                WorkingWeek.objects.filter(pk=before[weekday].pk).delete()
                changed = True
            elif weekday in before and name in given:
                changed = store.change(sheet, row, before[weekday], {"hours": hours}) or changed
        count.take(new=not before, changed=changed)


def bay_lane(store: Store, sheet: Sheet, row: Row, given: Fields, fields: Fields) -> None:
    """Find the lane of a bay, or make it."""
    if "lane" not in given:
        return
    fields["lane"] = None
    if given["lane"]:
        lanes = Lane.objects.filter(shed=fields["shed"], name__iexact=given["lane"])
        fields["lane"] = lanes.first() or Lane.objects.create(shed=fields["shed"], name=given["lane"])


def water_at(day: dt.date, time: dt.time, clock: str, zone: ZoneInfo) -> dt.datetime | None:
    """The instant that a clock showed, universal time or the yard's; None if no clock shows it so."""
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
    tables: dict[int, TideTable] = {}
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
