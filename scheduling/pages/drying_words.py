"""One boat's drying in sentences: where she is, what the last round said, which day is how likely, why."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from scheduling.loading.boatdrying import ODDS, BoatDrying, reason_of
from scheduling.loading.drying import Standing
from yard.models import TreatmentState
from yard.models.places import AirKind
from yard.templatetags.days import day, days_of, sentence, shortday
from yard.trade.rounds import FIT_AFTER_D
from yard.trade.spots import MEAN, SHARE_PCT, Suspect
from yard.trade.stoprule import Line, figure

READ_HER = "Read every marked spot once a week, with two to four on her dry topside."
HEATED = ("tent", "blankets")


@dataclass(frozen=True)
class DryingWords:
    """What the page says, in order: `first`, the `odds` in large letters, what `warns`, `more`, and why."""

    first: tuple[str, ...]
    odds: tuple[str, ...]
    warns: tuple[str, ...]
    more: tuple[str, ...]
    rests_on: tuple[str, ...]
    left_out: tuple[str, ...]


def drying_words(drying: BoatDrying, state: str) -> DryingWords:
    """Say it all; `state` is that of her treatment."""
    own, used = drying.own, drying.used
    if used is None or not used.points or drying.hull.closed:
        return DryingWords((nothing_yet(drying, state),), (), (), tuple(washed(drying)), (), left_out(drying))
    first = [*signed(drying), *stands(drying), *last_round(drying)]
    warns: list[str] = []
    if drying.target is None:
        warns.append(
            "There is no target, and her dry topside was not read with this meter: read two to four spots "
            "there, or set a target. Until then no day can be told."
        )
    if not drying.signature:
        if own is not None and own.stall is not None:
            warns.append(own.stall.says)
        warns += suspects(used.suspects)
    more = washed(drying) if drying.signature else [*planned(drying), *washed(drying)]
    return DryingWords(
        tuple(first),
        tuple(odds(drying)),
        tuple(warns),
        tuple(more),
        tuple(rests_on(drying)),
        left_out(drying),
    )


def nothing_yet(drying: BoatDrying, state: str) -> str:
    """Why nothing can be drawn, and what to do."""
    if state == TreatmentState.EXPECTED:
        return f"She has not come yet. Her drying is drawn once her first round is in. {READ_HER}"
    if drying.hull.closed:
        before = " What was read before that does not tell how she will dry." if drying.rows else ""
        return (
            "She is still to be peeled, blasted or washed: her drying is drawn from the first round taken "
            f"{FIT_AFTER_D} days or more after her last wash.{before} {READ_HER}"
        )
    if not drying.rows:
        begins = max(drying.hull.washes, default=None)
        ready = begins + timedelta(days=FIT_AFTER_D) if begins else None
        when = f" The first round that counts is that of {day(ready)} or later." if ready else ""
        return f"No round of moisture readings is in yet.{when} {READ_HER}"
    last = max(drying.hull.washes, default=None)
    if last:
        ready = last + timedelta(days=FIT_AFTER_D)
        when = "now" if ready <= drying.today else f"on {day(ready)}"
        return (
            f"No round since her wash of {day(last)} can be used yet. Take the next one {when}: the first "
            f"that counts is {FIT_AFTER_D} days after the wash. {READ_HER}"
        )
    return f"None of her {len(drying.rows)} rounds can be used. {READ_HER}"


def signed(drying: BoatDrying) -> list[str]:
    """By whom and when she was signed dry, and what was excused."""
    row = drying.signature
    if row is None:
        return []
    told = [
        f"She was signed dry on {day(row.signed_on)} by {row.by.name}{f': {row.note}' if row.note else ''}"
    ]
    if row.excused:
        spots = "; ".join(f"{one['spot']} ({one['why']})" for one in row.excused)
        told.append(f"Spots excused: {spots}")
    return [sentence(one) for one in told]


def stands(drying: BoatDrying) -> list[str]:
    """Where she dries now and since when she has had heat, and where before."""
    if drying.signature:
        return []
    runs = _runs(drying.stood)
    now, since = runs[-1], runs[-1].first
    if now.regime in HEATED:
        for one in reversed(runs):
            if one.regime not in HEATED:
                break
            since = one.first
    heat = f", heat since {shortday(since)}" if now.regime in HEATED and since != now.first else ""
    verb = "with heat since" if now.regime in HEATED and not heat else "since"
    told = f"She stands {place(now)}, {verb} {day(now.first)}{heat}"
    before = [f"{place(one)} from {shortday(one.first)}" for one in runs[-4:-1]]
    return [f"{told}; before that {_listed(before)}." if before else f"{told}."]


def last_round(drying: BoatDrying) -> list[str]:
    """What the last round that counts came to, and how it stands to the target."""
    points = drying.used.points if drying.used else ()
    latest = points[-1]
    read = next(row for row in drying.rows if row.day == latest.day and not row.why)
    if latest.spots == 1:
        only = "the mean of her spots" if MEAN in _spots_of(drying, latest.day) else "her one spot"
        told = f"The last round, on {day(latest.day)}: {only} was {figure(latest.value)}"
    else:
        told = (
            f"The last round, on {day(latest.day)}: {SHARE_PCT} % of {latest.spots} spots read "
            f"{figure(latest.value)} or less, the mean was {figure(latest.mean)}"
        )
    if len(points) > 1:
        before = points[-2]
        told += f"; {days_of((latest.day - before.day).days)} before it was {figure(before.value)}"
    told += f" ({read.meter}, {read.mode})."
    if drying.target is None:
        return [told]
    left = latest.value - drying.target
    goal = f"Her target is {figure(drying.target)}"
    topside = drying.used.reference if drying.used else None
    if topside is not None:
        over = drying.target - topside
        goal += f", {figure(over)} over her dry topside ({figure(topside)})" if over > 0 else ""
    goal += f": {figure(left)} to go." if left > 0 else ": she is there."
    return [told, goal]


def odds(drying: BoatDrying) -> list[str]:
    """The days by which she is at her target, as odds a foreman would say."""
    if not drying.days:
        return []
    sure = drying.days[-1]
    if sure is not None and sure <= drying.today:
        return ["She is at her target with odds of 9 in 10 or better: take what the signature still needs."]
    told = [(p, on) for p, on in zip(ODDS, drying.days, strict=True) if on is not None]
    if not told:
        return ["No day within the next ten months has even 1 chance in 10 of finding her at her target."]
    named = ", ".join(f"{in_ten(p)} by {'now' if on <= drying.today else shortday(on)}" for p, on in told)
    if len(told) < len(ODDS):
        missing = in_ten(ODDS[len(told)])
        named += f"; {missing} not within the next ten months"
    return [f"Odds that she is at her target: {named}."]


def planned(drying: BoatDrying) -> list[str]:
    """Where the posted plan has her dry, and how likely she is dry when the first coat is planned."""
    told: list[str] = []
    until = drying.planned_until
    if until is None:
        told.append("No posted plan says where she dries next: the forecast leaves her where she stands.")
    else:
        spans = [one for one in _runs(drying.ahead) if one.first <= until]
        parts = [
            f"{place(one)} {'' if index == 0 else f'from {shortday(one.first)} '}"
            f"to {shortday(min(one.last, until))}"
            for index, one in enumerate(spans)
        ]
        told.append(f"The posted plan has her dry {_listed(parts)}.")
        sure = drying.days[-1] if drying.days else None
        if drying.days and (sure is None or sure > until):
            told.append(f"After {shortday(until)} the forecast leaves her where she is then.")
    if drying.coat_on:
        said = (
            f"was begun on {day(drying.coat_on)}"
            if drying.coat_begun
            else f"is planned for {day(drying.coat_on)}"
        )
        chance = drying.odds_at_coat
        likely = f"; the odds that she is dry then are {in_ten(chance)}" if chance is not None else ""
        told.append(f"The first coat {said}{likely}.")
    return told


def suspects(found: Sequence[Suspect]) -> list[str]:
    """Spots that read oddly, by name, those of one advice put together."""
    by_advice: dict[str, list[Suspect]] = defaultdict(list)
    for one in found:
        by_advice[one.says.partition(": ")[2]].append(one)
    told = []
    for advice, hers in by_advice.items():
        if len(hers) == 1:
            told.append(hers[0].says)
            continue
        days = {one.day for one in hers}
        on = f"On {shortday(hers[0].day)} " if len(days) == 1 else ""
        spots = [
            f"{one.spot} ({figure(one.value)}{'' if on else f' on {shortday(one.day)}'})" for one in hers
        ]
        told.append(f"{on}{_listed(spots)} read unlike the rest: {advice}")
    return told


def washed(drying: BoatDrying) -> list[str]:
    """The days she was washed on."""
    days = [shortday(on) for on in drying.hull.washes]
    if not days:
        return []
    return [f"Washed on {_listed(days)}; each wash starts the drying anew."]


def rests_on(drying: BoatDrying) -> list[str]:
    """What the forecast goes by: her own rounds, and what was believed before them."""
    own = drying.own
    if own is None or drying.signature:
        return []
    rounds = "1 round" if len(own.points) == 1 else f"{len(own.points)} rounds"
    pace = f"{own.drying.factor:.1f} times the norm's pace, give or take {own.drying.factor_sd:.1f}"
    return [
        f"{rounds} of her own since {shortday(own.origin)}: she dries at {pace}.",
        f"Before her rounds: {sentence(own.belief.says)}",
    ]


def left_out(drying: BoatDrying) -> tuple[str, ...]:
    """The rounds the forecast does not use, put together by the reason."""
    reasons: dict[str, list[date]] = defaultdict(list)
    for out in drying.used.left_out if drying.used else ():
        reasons[reason_of(out)].append(out.day)
    return tuple(
        f"{'Round' if len(days) == 1 else 'Rounds'} of {_listed([shortday(on) for on in days])}: {reason}"
        for reason, days in reasons.items()
    )


def missing(lines: Iterable[Line]) -> tuple[Line, ...]:
    """Parts of the rule for signing dry, those that do not hold first."""
    return tuple(sorted(lines, key=lambda line: line.holds))


def description(words: DryingWords) -> str:
    """The drawing for those who don't see it: the sentences beside it."""
    return " ".join([*words.first, *words.odds, *words.warns])


# --- Words ------------------------------------------------------------------------------------------------
def in_ten(p: float) -> str:
    """Odds as a person says them: 1 in 2, 7 in 10, less than 1 in 20."""
    tenths = round(10 * p)
    if tenths == 0:
        return "less than 1 in 20"
    if tenths == 10:
        return "better than 19 in 20"
    return "1 in 2" if tenths == 5 else f"{tenths} in 10"


def place(one: Standing) -> str:
    """Where she dries: in which air, and in which bay."""
    heated = one.air is not None and one.air.kind == AirKind.HEATED
    shed = "in the heated shed" if heated else "in the cold shed"
    says = {"weather": "in the weather", "cold": shed, "tent": "in a tent", "blankets": "under heat blankets"}
    return f"{says[one.regime]}{f' in bay {one.bay.name}' if one.bay else ''}"


def _runs(stood: Sequence[Standing]) -> list[Standing]:
    """Standings, those alike that follow one another put together."""
    runs: list[Standing] = []
    for one in stood:
        if runs and (runs[-1].bay, runs[-1].regime) == (one.bay, one.regime):
            runs[-1] = Standing(runs[-1].first, one.last, one.bay, one.regime)
        else:
            runs.append(one)
    return runs


def _spots_of(drying: BoatDrying, on: date) -> set[str]:
    return {spot for one in drying.hull.rounds if one.day == on for spot in one.readings}


def _listed(parts: Sequence[str]) -> str:
    """One, two and three."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"
