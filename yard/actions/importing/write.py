"""From records to a folder of files: exactly the columns that are read."""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from yard.actions.base import Refused
from yard.actions.importing.cells import Day, OrNone, Time
from yard.actions.importing.columns import BY_NAME, FILES
from yard.actions.importing.columns_days import WEEKDAYS
from yard.actions.importing.rows import Rows
from yard.actions.importing.tables import File
from yard.models import (
    Demand,
    Reading,
    SchemeStage,
    Stage,
    StageDemand,
    Status,
    TideWater,
    Treatment,
    WorkingWeek,
    Yard,
)
from yard.models.schemes import NEEDS, NORMS

Texts = dict[str, str]


def write_yard(yard: Yard | None, folder: Path) -> list[str]:
    """Write a yard's records into a folder, one file a kind; without a yard, the headers alone.

    Returns:
        The names of the files written: with records, those that have a row, and yard.csv.

    Raises:
        Refused: if the folder holds CSV files already.
    """
    folder.mkdir(parents=True, exist_ok=True)
    if any(path.suffix.casefold() == ".csv" for path in folder.iterdir()):
        raise Refused(f"{folder} holds CSV files already; name a folder that does not.", "folder")
    written = []
    for name, text in texts_of(yard).items():
        (folder / name).write_text(text, encoding="utf-8-sig", newline="")
        written.append(name)
    return written


def texts_of(yard: Yard | None) -> dict[str, str]:
    """The text of each file that has a row, by name; without a yard, the header of every file."""
    if yard is None:
        return {file.name: _text(file, list(_blank(file))) for file in FILES}
    out = Out(yard)
    rows = {file.name: list(out.rows_of(file)) for file in FILES}
    return {file.name: _text(file, rows[file.name]) for file in FILES if rows[file.name]}


def _text(file: File, rows: list[Texts]) -> str:
    """One file, with the line ends that spreadsheets write."""
    names = ["setting", "value"] if file.turned else [column.name for column in file.columns]
    sheet = io.StringIO(newline="")
    writer = csv.DictWriter(sheet, names, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return sheet.getvalue()


def _blank(file: File) -> Iterator[Texts]:
    """A turned file still names its settings."""
    if file.turned:
        for column in file.columns:
            yield {"setting": column.name, "value": ""}


class Out:
    """The rows of a yard on their way out."""

    def __init__(self, yard: Yard) -> None:
        self.yard = yard
        self.rows = Rows(yard)
        self.own: dict[str, Callable[[File], Iterator[Texts]]] = {
            "yard.csv": self._yard,
            "people.csv": self._people,
            "weeks.csv": self._weeks,
            "tides.csv": self._tides,
            "treatments.csv": self._treatments,
            "stages.csv": self._stages,
            "stage_demands.csv": self._stage_demands,
            "rounds.csv": self._rounds,
            "promises.csv": self._promises,
        }

    def rows_of(self, file: File) -> Iterator[Texts]:
        """The rows of one file, in the order in which they come in again."""
        return self.own.get(file.name, self._plain)(file)

    def _plain(self, file: File) -> Iterator[Texts]:
        for record in self.rows.records(file):
            yield self.rows.texts(file, record)

    def _yard(self, file: File) -> Iterator[Texts]:
        own = {field.name for field in Yard._meta.concrete_fields}
        for column in file.columns:
            record = self.yard if column.field in own else self.yard.settings
            yield {"setting": column.name, "value": column.show(getattr(record, column.field))}

    def _people(self, file: File) -> Iterator[Texts]:
        for person in self.rows.records(file):
            skills = [held.skill.name for held in person.skills.select_related("skill").order_by("pk")]
            yield self.rows.texts(file, person) | {"skills": file.column("skills").show(skills)}

    def _weeks(self, file: File) -> Iterator[Texts]:
        weeks: dict[tuple[str, str], Texts] = defaultdict(lambda: dict.fromkeys(WEEKDAYS, ""))
        for figure in (
            WorkingWeek.objects.of(self.yard).select_related("person").order_by("person_id", "from_on")
        ):
            hours = file.column(WEEKDAYS[figure.weekday]).show(figure.hours)
            texts = self.rows.texts(file, figure)
            weeks[texts["person"], texts["from_on"]][WEEKDAYS[figure.weekday]] = hours
        for (person, from_on), days in weeks.items():
            yield {"person": person, "from_on": from_on} | days

    def _tides(self, file: File) -> Iterator[Texts]:
        zone = ZoneInfo(self.yard.timezone)
        for water in TideWater.objects.of(self.yard).select_related("table").order_by("table_id", "at"):
            local = water.at.astimezone(zone)
            yield {
                "place": file.column("place").show(water.table.place),
                "day": Day().show(local.date()),
                "time": Time().show(local),
                "clock": local.tzname() or "",
                "height_m": file.column("height_m").show(water.height_m),
                "water": "high" if water.is_high else "low",
            }

    # --- Treatments ---------------------------------------------------------------------------------------
    def _recipes(self) -> dict[tuple[int, int], SchemeStage]:
        """Every stage of every scheme, by scheme and position."""
        return {(stage.scheme_id, stage.position): stage for stage in SchemeStage.objects.of(self.yard)}

    def _needs(self, model: type[Demand] | type[StageDemand]) -> dict[int, list[tuple[Any, ...]]]:
        """What each stage demands, in order."""
        needs: dict[int, list[tuple[Any, ...]]] = defaultdict(list)
        parent = "scheme_stage_id" if model is Demand else "stage_id"
        for demand in model.objects.of(self.yard).select_related("skill").order_by("pk"):
            needs[getattr(demand, parent)].append(tuple(getattr(demand, name) for name in NEEDS))
        return needs

    def _own_stages(self) -> set[int]:
        """Treatments whose list of stages cannot be told as the scheme's with differences."""
        recipes, hers, theirs = self._recipes(), self._needs(StageDemand), self._needs(Demand)
        listed: dict[int, set[int]] = defaultdict(set)
        for scheme, position in recipes:
            listed[scheme].add(position)
        positions: dict[int, set[int]] = defaultdict(set)
        own = set()
        for stage in Stage.objects.of(self.yard).select_related("treatment"):
            positions[stage.treatment_id].add(stage.position)
            recipe = recipes.get((stage.treatment.scheme_id, stage.position))
            if recipe and theirs[recipe.pk] and not hers[stage.pk]:
                own.add(stage.treatment_id)
        for treatment in Treatment.objects.of(self.yard):
            if listed[treatment.scheme_id] - positions[treatment.pk]:
                own.add(treatment.pk)
        return own

    def _treatments(self, file: File) -> Iterator[Texts]:
        own = self._own_stages()
        for treatment in self.rows.records(file):
            yield self.rows.texts(file, treatment) | {"own_stages": "yes" if treatment.pk in own else "no"}

    def _stages(self, file: File) -> Iterator[Texts]:
        own, recipes = self._own_stages(), self._recipes()
        for stage in self.rows.records(file):
            recipe = recipes.get((stage.treatment.scheme_id, stage.position))
            texts = self.rows.texts(file, stage)
            differs = False
            for column in file.columns:
                if column.field not in NORMS or column.field == "position":
                    continue
                value = getattr(stage, column.field)
                if recipe is not None and value == getattr(recipe, column.field):
                    texts[column.name] = ""
                    continue
                differs = True
                if isinstance(column.kind, OrNone) and value == column.kind.nothing:
                    texts[column.name] = "none"
            if recipe is not None and stage.sheet_id == recipe.sheet_id:
                texts["sheet"] = ""
            else:
                differs = True
                texts["sheet"] = texts["sheet"] or "none"
            if stage.done_pct == (100 if stage.status == Status.DONE else 0):
                texts["done_pct"] = ""
            plain = stage.status == Status.WAITING and not texts["done_pct"] and not stage.extra
            if differs or not plain or stage.treatment_id in own:
                yield texts

    def _stage_demands(self, file: File) -> Iterator[Texts]:
        own, recipes = self._own_stages(), self._recipes()
        hers, theirs = self._needs(StageDemand), self._needs(Demand)
        for demand in self.rows.records(file):
            stage = demand.stage
            recipe = recipes.get((stage.treatment.scheme_id, stage.position))
            if stage.treatment_id in own or recipe is None or hers[stage.pk] != theirs[recipe.pk]:
                yield self.rows.texts(file, demand)

    # --- Facts --------------------------------------------------------------------------------------------
    def _rounds(self, file: File) -> Iterator[Texts]:
        readings = (
            Reading.objects.of(self.yard)
            .filter(superseded=False, round__superseded=False)
            .select_related(
                "round__treatment__boat", "round__treatment__season", "round__meter", "round__person", "spot"
            )
            .order_by(
                "round__treatment_id",
                "round__day_on",
                "round__meter_id",
                "round__mode",
                "spot__walk_order",
                "pk",
            )
        )
        for reading in readings:
            taken = reading.round
            boat, season = self.rows.key_texts(BY_NAME["treatments.csv"], taken.treatment)
            told = {
                name: file.column(name).show(getattr(taken, name))
                for name in ("day_on", "mode", "air_c", "rh_pct", "surface_dry", "taken_at")
            }
            yield told | {
                "boat": boat,
                "season": season,
                "meter": file.column("meter").show(taken.meter.name),
                "spot": file.column("spot").show(reading.spot.code),
                "value": file.column("value").show(reading.value),
                "person": file.column("person").show(taken.person.name if taken.person else None),
            }

    def _promises(self, file: File) -> Iterator[Texts]:
        for promise in self.rows.records(file):
            by = promise.by.username if promise.by else None
            yield self.rows.texts(file, promise) | {"said_by": file.column("said_by").show(by)}
