"""The yard's own files that need more than their table: settings, skills, weeks, lanes."""

from __future__ import annotations

import datetime as dt
import re
from collections import defaultdict
from typing import Any
from zoneinfo import available_timezones

from yard.actions.importing.columns_days import WEEKDAYS
from yard.actions.importing.read import Row, Sheet, values
from yard.actions.importing.store import Fields, Store
from yard.models import Lane, PersonSkill, WorkingWeek, Yard


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
