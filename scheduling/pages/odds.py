"""How sure her date is, in the words of the Desk and of her page."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from scheduling.loading.odds import forecast_of
from scheduling.loading.winter import BoatWinter, Winter
from scheduling.models import Forecast
from yard.models import YardSettings
from yard.templatetags.days import day, longday


@dataclass(frozen=True)
class Odds:
    """Her likely and safe day, and what they hang on most; the odds of her own day, its tag and its look, all
    empty where nobody asked for a day."""

    dates: str
    hangs: str
    promise: str
    word: str
    look: str


def odds(winter: Winter, boat: BoatWinter) -> Odds | None:
    """What the posted plan's forecast says of her; None where it has none."""
    found = forecast_of(winter.posted, boat.treatment)
    if found is None:
        return None
    names = {str(one.treatment.pk): one.name for one in winter.boats}
    asked = boat.promise is not None or boat.treatment.wanted_on is not None
    pct = odds_pct(found, boat.due) if asked else None
    word, look = ("", "") if pct is None else verdict_of(pct, winter.settings)
    return Odds(
        dates=dates(found, winter.today),
        hangs=hangs(found, names),
        promise="" if pct is None else f"Odds of {day(boat.due)}: {out_of(pct)}.",
        word=word,
        look=look,
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


def dates(found: Forecast, today: date) -> str:
    """Both days with their odds, and when they were reckoned if that was not today."""
    when = "" if found.as_of.date() >= today else f" Reckoned on {day(found.as_of.date())}."
    return both(found.likely_on, found.safe_on, found.likely_pct, found.safe_pct) + when


def both(likely_on: date | None, safe_on: date | None, likely_pct: int, safe_pct: int) -> str:
    """The likely and the safe day with their odds [%]."""
    likely, safe = out_of(likely_pct), out_of(safe_pct)
    if likely_on is None:
        return f"Not even likely ({likely}) on any day of this season."
    first = f"Likely by the end of {longday(likely_on)} ({likely})"
    if safe_on is None:
        return f"{first}; no day of this season is safe ({safe})."
    return f"{first}; safe to plan for {longday(safe_on)} ({safe})."


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
