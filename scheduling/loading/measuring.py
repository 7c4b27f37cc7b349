"""What the page on which she is measured, washed and signed dry shows of her records."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from yard.actions.drying import WASHED_IN
from yard.models import (
    Boat,
    DrySigned,
    Entry,
    Meter,
    Person,
    Reading,
    Round,
    Spot,
    Stage,
    Status,
    Treatment,
    WashRecord,
    Yard,
)
from yard.trade.spots import MEAN


@dataclass(frozen=True)
class Struck:
    """A reading that was corrected or withdrawn; the entry of the history says by whom, when and why."""

    reading: Reading
    entry: Entry | None


@dataclass(frozen=True)
class Figure:
    """One spot of a round: the reading in force, if there is one, and those it replaced, oldest first."""

    spot: Spot
    reading: Reading | None
    struck: tuple[Struck, ...]


@dataclass(frozen=True)
class Taken:
    """One round with its figures in walking order."""

    round: Round
    figures: tuple[Figure, ...]

    @property
    def corrected(self) -> bool:
        """Whether any figure of it was corrected or withdrawn."""
        return any(figure.struck for figure in self.figures)


@dataclass(frozen=True)
class Measurable:
    """All that the page shows: rounds newest first, spots in walking order."""

    spots: tuple[Spot, ...]
    meters: tuple[Meter, ...]
    rounds: tuple[Taken, ...]
    washes: tuple[WashRecord, ...]
    wash_stage: Stage | None
    signed: DrySigned | None

    @property
    def marked(self) -> tuple[Spot, ...]:
        """Her marked spots, without the one that stands for all of them."""
        return tuple(spot for spot in self.spots if spot.code != MEAN)

    @property
    def mean_only(self) -> bool:
        """Whether only the mean of all spots can be written down: none of her hull is marked."""
        return all(spot.is_reference for spot in self.marked)

    def last_of(self, code: str) -> tuple[Decimal, date] | None:
        """The last reading at a spot, and its day."""
        for taken in self.rounds:
            for figure in taken.figures:
                if figure.spot.code == code and figure.reading:
                    return figure.reading.value, taken.round.day_on
        return None


def measurable(treatment: Treatment) -> Measurable:
    """Read them, in a fixed number of queries."""
    yard = treatment.yard
    rounds = list(
        Round.objects.of(yard)
        .filter(treatment=treatment, superseded=False)
        .select_related("meter", "person")
        .prefetch_related("readings__spot")
        .order_by("-day_on", "-pk")
    )
    old = [reading.pk for one in rounds for reading in one.readings.all() if reading.superseded]
    return Measurable(
        spots=tuple(
            Spot.objects.of(yard).filter(boat=treatment.boat_id, retired_on=None).order_by("walk_order")
        ),
        meters=tuple(Meter.objects.of(yard).filter(retired_on=None).order_by("name")),
        rounds=tuple(_taken(rounds, _corrections(yard, old))),
        washes=tuple(
            WashRecord.objects.of(yard)
            .filter(stage__treatment=treatment, superseded=False)
            .order_by("-day_on", "-pk")
        ),
        wash_stage=wash_stage(treatment),
        signed=DrySigned.objects.of(yard)
        .filter(treatment=treatment, superseded=False)
        .select_related("by")
        .first(),
    )


def wash_stage(treatment: Treatment) -> Stage | None:
    """The stage a wash belongs to: the running one that washes or dries, else the last such one done."""
    stages = Stage.objects.of(treatment.yard).filter(treatment=treatment, kind__in=WASHED_IN)
    running = stages.filter(status=Status.RUNNING).order_by("position").first()
    return running or stages.filter(status=Status.DONE).order_by("-position").first()


def reading_of(boat: int, yard: Yard, pk: int) -> Reading | None:
    """A reading of that boat in force, or None."""
    inside = Reading.objects.of(yard).filter(pk=pk, round__treatment__boat=boat, superseded=False)
    return inside.select_related("round__treatment", "spot").first()


def signers(yard: Yard) -> list[Person]:
    """Who may have signed: the yard's people, by name."""
    return list(Person.objects.of(yard).filter(retired_on=None).order_by("name"))


def spots_of(boat: Boat) -> dict[str, str]:
    """Codes of her spots, by how they are typed: in small letters."""
    found = Spot.objects.filter(boat=boat, retired_on=None).values_list("code", flat=True)
    return {code.casefold(): code for code in found}


def _taken(rounds: Iterable[Round], entries: dict[int, Entry]) -> Iterable[Taken]:
    for one in rounds:
        by_spot: dict[int, list[Reading]] = {}
        for reading in sorted(one.readings.all(), key=lambda reading: (reading.spot.walk_order, reading.pk)):
            by_spot.setdefault(reading.spot_id, []).append(reading)
        yield Taken(
            one,
            tuple(
                Figure(
                    series[0].spot,
                    next((reading for reading in series if not reading.superseded), None),
                    tuple(Struck(old, entries.get(old.pk)) for old in series if old.superseded),
                )
                for series in by_spot.values()
            ),
        )


def _corrections(yard: Yard, readings: list[int]) -> dict[int, Entry]:
    """The entry of the history that struck each reading."""
    rows = Entry.objects.of(yard).filter(
        about_label=Reading._meta.label_lower, about_pk__in=readings, action="correct_reading"
    )
    found = rows.select_related("user").order_by("at", "pk")
    return {row.about_pk: row for row in found if row.about_pk is not None and row.before is not None}
