"""How sure her date is, in the words of the Desk and of her page."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone

from scheduling.actions.forecasts import JUMP_D
from scheduling.loading.odds import Move, forecast_of, moves_since
from scheduling.loading.winter import BoatWinter, Winter
from scheduling.models import Forecast
from yard.models import YardSettings
from yard.templatetags.days import day, longday

MOST_SHIFTED = 8
"""Boats on the Wall whose days moved; of the others the Desk tells."""


@dataclass(frozen=True)
class Odds:
    """Her likely and safe day, and what they hang on most; the odds of her own day, its tag and its look, all
    empty where nobody asked for a day; how her day moved since she was told, or in a week."""

    dates: str
    hangs: str
    promise: str
    word: str
    look: str
    moved: str


def odds(winter: Winter, boat: BoatWinter) -> Odds | None:
    """What the posted plan's forecast says of her; None where it has none, or she has nothing left to do."""
    found = forecast_of(winter.posted, boat.treatment)
    if found is None or (boat.running or boat.next_stage) is None:
        return None
    names = {str(one.treatment.pk): one.name for one in winter.boats}
    asked = boat.promise is not None or boat.treatment.wanted_on is not None
    pct = odds_pct(found, boat.due) if asked else None
    word, look = ("", "") if pct is None else verdict_of(pct, winter.settings)
    return Odds(
        dates=dates(found, winter.today, ZoneInfo(winter.yard.timezone)),
        hangs=hangs(found, names),
        promise="" if pct is None else f"Odds of {day(boat.due)}: {out_of(pct)}.",
        word=word,
        look=look,
        moved=_moved_since(winter, boat),
    )


def odds_pct(found: Forecast, due: date) -> int:
    """The odds of a day [%]: of another than was asked for then, by the twenty dots."""
    if due == found.promise_date and found.odds_pct is not None:
        return found.odds_pct
    dots: list[str | None] = found.dots
    return 100 * sum(dot is not None and dot <= due.isoformat() for dot in dots) // len(dots)


def verdict_of(pct: int, settings: YardSettings) -> tuple[str, str]:
    """The state of a promise with these odds [%], and the look of its tag."""
    if pct >= settings.watch_pct:
        return "makes her tide", "ok"
    return ("tight", "watch") if pct >= settings.at_risk_pct else ("misses", "risk")


def out_of(pct: int) -> str:
    """Odds as one says them: "9 in 10", "94 in 100"; drawn winters show no certainty either way."""
    if pct <= 0:
        return "less than 1 in 100"
    if pct >= 100:
        return "more than 99 in 100"
    return f"{pct // 10} in 10" if pct % 10 == 0 else f"{pct} in 100"


def dates(found: Forecast, today: date, zone: ZoneInfo) -> str:
    """Both days with their odds, what they are by, and when they were last found to be so."""
    says = both(found.likely_on, found.safe_on, found.likely_pct, found.safe_pct)
    again = getattr(found, "reckoned_at", None)
    at = max(found.as_of, again or found.as_of).astimezone(zone)
    when = f"at {at:%H:%M}" if at.date() >= today else f"on {day(at.date())}"
    return f"{says[:-1]}, if nobody re-plans. Reckoned {when}."


def both(likely_on: date | None, safe_on: date | None, likely_pct: int, safe_pct: int) -> str:
    """The likely and the safe day with their odds [%]."""
    likely, safe = out_of(likely_pct), out_of(safe_pct)
    if likely_on is None:
        return f"Not even likely ({likely}) on any day of this season."
    first = f"Likely by the end of {longday(likely_on)} ({likely})"
    if safe_on is None:
        return f"{first}; no day of this season is safe ({safe})."
    return f"{first}; safe to plan for {longday(safe_on)} ({safe})."


def _moved_since(winter: Winter, boat: BoatWinter) -> str:
    """How her day moved since the end of the day on which she was promised one, else in a week."""
    zone, promise, since = ZoneInfo(winter.yard.timezone), boat.promise, week_ago()
    if promise is not None and promise.said_on < winter.today:
        since = datetime.combine(promise.said_on + timedelta(days=1), time.min, zone)
    move = moves_since(winter.posted, since, boat.treatment).get(boat.treatment.pk)
    if move is None:
        return ""
    told = promise is not None and promise.said_on < winter.today and move.at == since
    return moved_says(move, "When she was promised," if told else _on(move, zone))


def shifted(winter: Winter) -> list[tuple[BoatWinter, str]]:
    """Boats whose safe or likely day moved by more than `JUMP_D` in a week, the farthest first."""
    moves, zone = moves_since(winter.posted, week_ago()), ZoneInfo(winter.yard.timezone)
    far = [(boat, moves[boat.treatment.pk]) for boat in winter.boats if boat.treatment.pk in moves]
    far = [(boat, move) for boat, move in far if abs(move.days) > JUMP_D]
    return [
        (boat, moved_says(move, _on(move, zone)))
        for boat, move in sorted(far, key=lambda one: -abs(one[1].days))[:MOST_SHIFTED]
    ]


def week_ago() -> datetime:
    """The moment a week before now."""
    return timezone.now() - timedelta(days=7)


def _on(move: Move, zone: ZoneInfo) -> str:
    return f"On {day(move.at.astimezone(zone).date())}"


def moved_says(move: Move, when: str) -> str:
    """How far it moved, like "On Tue 17 Nov safe was Fri 7 May: 12 days later now", and why."""
    which = "safe" if move.safe else "likely"
    if move.was is None:
        says = f"{when} no day of this season was {which}; now {day(move.now)} is"
    elif move.now is None:
        says = f"{when} {which} was {day(move.was)}; now no day of this season is"
    else:
        days = abs(move.days)
        way = "later" if move.days > 0 else "earlier"
        says = f"{when} {which} was {day(move.was)}: {days} day{'' if days == 1 else 's'} {way} now"
    return f"{says}. {move.because}".rstrip()


def hangs(found: Forecast, names: dict[str, str]) -> str:
    """What her date hangs on most, in a sentence; empty where it hangs on nothing."""
    if not found.hangs:
        return ""
    most: dict[str, Any] = found.hangs[0]
    if most["kind"] == "common":
        what = "on how cold and damp the winter is"
    elif most["kind"] == "weather":
        what = "on wind at the hoist"
    else:
        own = most["job"] == str(found.treatment_id)
        whose = "her own" if own else f"{names.get(most['job'], 'another boat')}'s"
        what = (
            f"on the answer to {whose} “{most['what']}”"
            if most["kind"] == "hold"
            else f"on {whose} “{most['what']}”"
        )
    return f"It hangs most {what}."
