"""The winter's files that need more than their table: demands, treatments, stages, stays."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from yard.actions.importing.cells import OrNone
from yard.actions.importing.read import Row, Sheet
from yard.actions.importing.store import Fields, Store
from yard.actions.treatments import copy_stages
from yard.models import Demand, SchemeStage, Stage, StageDemand, Status, Stay, Treatment, TreatmentState
from yard.models.schemes import NEEDS, NORMS


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
        for (row, _), demand in zip(group, anew, strict=True):
            store.add(sheet, row, demand)


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
    found = SchemeStage.objects.filter(scheme=treatment.scheme_id, position=position)
    return found.select_related("sheet").first()


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
    base = scheme_norms(fields["treatment"], fields["position"])
    if base is None:
        _own_stage(store, sheet, row, fields)
    if not row.texts.get("sheet"):
        fields["sheet"] = base.sheet if base is not None else None
    for column in sheet.file.columns:
        if column.field not in NORMS or column.field == "position" or row.texts.get(column.name):
            continue
        if base is not None:
            fields[column.field] = getattr(base, column.field)
        else:
            fields[column.field] = column.kind.nothing if isinstance(column.kind, OrNone) else column.default


def _own_stage(store: Store, sheet: Sheet, row: Row, fields: Fields) -> None:
    """A stage that her scheme does not have needs a kind and a name; one whose scheme is bad is let be."""
    scheme = fields["treatment"].scheme
    if (scheme.name.casefold(), str(fields["position"])) in store.broken["scheme_stages.csv"]:
        row.bad = True
    elif not (row.texts.get("kind") and row.texts.get("stage")):
        told = (
            f"The scheme {scheme} has no such stage; correct the number, or fill in kind and stage as well."
        )
        store.faults.at(sheet, row, "position", told)


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
        f"stages.csv: {stage.treatment.boat} is in “{stage.name}”, but “{early.name}” before it is waiting."
        for stage in running
        if (early := first.get(stage.treatment_id)) and early.position < stage.position
    ]
