"""What pages about the yard itself show: recipes, norms, who is out; in a fixed number of queries."""

from datetime import date

from django.db.models import Prefetch, Q

from yard.models import (
    Bay,
    CoatingSheet,
    Demand,
    Hoist,
    Kit,
    Person,
    RegimeNorm,
    Scheme,
    SchemeStage,
    Shed,
    Stoppage,
    Yard,
)


def schemes_of(yard: Yard) -> list[Scheme]:
    """The yard's schemes by name, each with its stages in order; 2 queries."""
    return list(Scheme.objects.of(yard).filter(retired_on=None).prefetch_related("stages"))


def scheme_in(yard: Yard, pk: int) -> Scheme | None:
    """A scheme with its stages, their sheets and demands, if it is the yard's; 3 queries."""
    stages = SchemeStage.objects.select_related("sheet").prefetch_related(_demands())
    rows = Scheme.objects.of(yard).select_related("meter").prefetch_related(Prefetch("stages", stages))
    return rows.filter(pk=pk).first()


def stage_in(yard: Yard, pk: int) -> SchemeStage | None:
    """A stage of one of the yard's schemes with its demands; 2 queries."""
    rows = SchemeStage.objects.of(yard).select_related("scheme__yard", "sheet").prefetch_related(_demands())
    return rows.filter(pk=pk).first()


def sheets_of(yard: Yard) -> list[CoatingSheet]:
    """The coating sheets in use, by name."""
    return list(CoatingSheet.objects.of(yard).filter(retired_on=None))


def sheet_in(yard: Yard, pk: int) -> CoatingSheet | None:
    """One of the yard's coating sheets, also one that was given up."""
    return CoatingSheet.objects.of(yard).filter(pk=pk).first()


def regime_norms_of(yard: Yard) -> dict[str, RegimeNorm]:
    """The yard's own norms of drying by regime; a regime that is missing goes by the trade's."""
    return {row.regime: row for row in RegimeNorm.objects.of(yard)}


def _demands() -> "Prefetch[str]":
    return Prefetch("demands", Demand.objects.select_related("skill").order_by("pk"))


def subjects_of(yard: Yard) -> list[Person | Hoist | Kit | Shed | Bay]:
    """Whoever and whatever of the yard can be out: people, hoists, kit, sheds and bays in use; 5 queries."""
    kinds: tuple[type[Person | Hoist | Kit | Shed | Bay], ...] = (Person, Hoist, Kit, Shed, Bay)
    return [row for kind in kinds for row in kind.objects.of(yard).filter(retired_on=None)]


def stoppages_of(yard: Yard, today: date) -> list[Stoppage]:
    """What is out today or will be, the soonest first, each with its subject; 1 query."""
    rows = Stoppage.objects.of(yard).filter(called_off_on=None).select_related(*Stoppage.SUBJECTS)
    return list(rows.filter(Q(last_day=None) | Q(last_day__gte=today)).order_by("first_day", "pk"))


def stoppage_in(yard: Yard, pk: int) -> Stoppage | None:
    """One of the yard's stoppages."""
    return Stoppage.objects.of(yard).select_related(*Stoppage.SUBJECTS).filter(pk=pk).first()
