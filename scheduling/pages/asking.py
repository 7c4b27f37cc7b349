"""What an answer to "can she?" is in words: for the caller first, then stage by stage and boat by boat."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from scheduling.actions.quoting import Answer, Ground, Move, Row, odds
from scheduling.pages.compare import KINDS
from scheduling.pages.odds import both, out_of, verdict_of
from yard.models import StageKind
from yard.templatetags.days import capital, day, days_of

NAMED = 3
"""Boats that are named in the sentence for the telephone; the table has all."""

UNSOUND = "The answer that was found breaks a rule of the yard, so it is not shown; pack again, then ask."
"""Said where the witness refuses an answer."""


@dataclass(frozen=True)
class Stretch:
    """A stage where she would be: all its parts."""

    name: str
    kind: str
    first_day: date
    last_day: date
    where: str
    hours: str


def stretches(rows: Sequence[Row], hours: Mapping[int, str] | None = None) -> list[Stretch]:
    """Her stages in order, each with its first and last day, the bays it is in, and its `hours` in words."""
    by_stage: dict[int, list[Row]] = {}
    for row in rows:
        by_stage.setdefault(row.stage.pk, []).append(row)
    return [
        Stretch(
            name=its[0].stage.name,
            kind=its[0].stage.kind,
            first_day=its[0].first_day,
            last_day=its[-1].last_day,
            where=", then ".join(dict.fromkeys(_where(row) for row in its)),
            hours=(hours or {}).get(pk, ""),
        )
        for pk, its in by_stage.items()
    ]


def _where(row: Row) -> str:
    return f"{row.bay}, in a tent" if row.regime == "tent" else row.bay


def back(rows: Sequence[Row], on: date) -> str:
    """Her last day as a caller hears it: back in the water, unless her scheme ends ashore."""
    afloat = bool(rows) and rows[-1].stage.kind == StageKind.RELAUNCH
    return f"{'back in the water' if afloat else 'done'} on {day(on)}"


def comes(rows: Sequence[Row]) -> str:
    """The first thing that is done to her."""
    first = rows[0]
    what = "lift" if first.stage.kind == StageKind.LIFT else first.stage.name
    return f"{what} {day(first.first_day)}"


def if_they_move(moves: Sequence[Move]) -> str:
    """What has to happen to others, in a few words: "if 2 boats move: Alder by 3 days and Bramble to another
    bay"; where days are lost, "only if Alder loses her day and 1 boat more moves"."""
    losers = [move.name for move in moves if move.newly_missed]
    if losers:
        rest = len(moves) - len(losers)
        lose = "loses her day" if len(losers) == 1 else "lose their days"
        more = "" if not rest else f" and {rest} boat{' more moves' if rest == 1 else 's more move'}"
        return f"only if {_listed(losers)} {lose}{more}"
    count = "1 boat moves" if len(moves) == 1 else f"{len(moves)} boats move"
    return f"if {count}: {_listed([f'{move.name} {_moves(move)}' for move in moves])}"


def _listed(names: Sequence[str]) -> str:
    """The first few by name, the others by number: "Alder, Bramble, Clover and 2 more"."""
    said = list(names[:NAMED]) + ([f"{len(names) - NAMED} more"] if len(names) > NAMED else [])
    return " and ".join([", ".join(said[:-1]), said[-1]] if said[:-1] else said)


def _moves(move: Move) -> str:
    return f"by {days_of(abs(move.days))}" if move.days else "to another bay"


def broken(moves: Sequence[Move]) -> list[str]:
    """A sentence for each boat whose own day would be missed, or missed by more, because of it."""
    found = []
    for move in moves:
        if move.newly_missed:
            told = "was promised" if move.promised else "is wanted on"
            before = f" instead of {days_of(move.was_missed_by)}" if move.was_missed_by else ""
            found.append(
                f"{move.name} {told} {day(move.due)} and would miss it by {days_of(move.missed_by)}{before}."
            )
    return found


@dataclass(frozen=True)
class Sure:
    """How sure her day is: a sentence, and the tag of the day asked for, empty where nobody asked for one."""

    says: str
    word: str
    look: str

    @property
    def on_paper(self) -> bool:
        """Whether the day can be planned, but more likely than not will not be kept."""
        return self.look == "risk"


def sure(on: Ground, found: Answer, asked_for: date | None) -> Sure | None:
    """Her likely and safe day there, and the odds of the day asked for; None where she has no place."""
    risk, settings = odds(on, found) if found.fits else None, on.asked.records.settings
    if risk is None:
        return None
    says = both(risk.likely, risk.safe, settings.likely_pct, settings.safe_pct)
    if asked_for is None:
        return Sure(says, "", "")
    word, look = verdict_of(risk.odds_pct, settings)
    return Sure(f"{says} Odds of {day(asked_for)}: {out_of(risk.odds_pct)}.", word, look)


def yes(found: Answer, sure: Sure | None) -> tuple[str, str]:
    """How a yes begins, with what has to happen to others and by its odds; and its look."""
    says, look = _by_odds(sure)
    if not found.moves:
        return says, look
    if any(move.newly_missed for move in found.moves):
        only = if_they_move(found.moves)
        return (f"On paper, {only}" if says != "Yes" else capital(only)), "risk"
    return f"{says}, {if_they_move(found.moves)}", look


def _by_odds(sure: Sure | None) -> tuple[str, str]:
    if sure is None or not sure.look:
        return "Yes", "ok"
    return ("On paper, yes", "watch") if sure.on_paper else ("Yes", sure.look)


def notes(on: Ground) -> list[str]:
    """What an answer takes for granted."""
    found = []
    if on.mended:
        found.append(
            "The posted plan no longer holds today: this is against it as it would have to be mended."
        )
    if on.no_room:
        boats = ", ".join(on.no_room)
        found.append(f"The posted plan does not place {boats}: the answer keeps no room for them.")
    return found


def rises(answer: Answer) -> list[tuple[str, int]]:
    """What the plan would cost more or less, by kind [minor units], the greatest first."""
    found = [(KINDS[kind], more) for kind, more in answer.rise.items() if more]
    return sorted(found, key=lambda one: -abs(one[1]))
