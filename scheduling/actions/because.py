"""Why a boat's likely or safe day jumped, in one sentence of the yard."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet

from scheduling.engine.causes import Cause, When
from scheduling.engine.risk import Risk
from scheduling.loading import Loaded
from scheduling.loading.steps import Part
from yard.models import Entry, Hold, PersonSkill, Round, Season, StageKind, Status, Stoppage
from yard.templatetags.days import capital

Kept = dict[str, dict[str, list[float]]]
"""Moments as a reckoning stores them."""


def kept_of(loaded: Loaded, risk: Risk) -> Kept:
    """When each step starts and ends, by names that last: a stage's, not a step's of one Problem."""
    return {
        job: {
            _key(loaded.refs.parts[job, one.step]): [
                round(figure, 2)
                for figure in (one.when.start, one.when.end, one.when.floor, one.when.days, one.when.hours)
            ]
            for one in own
        }
        for job, own in risk.moments.items()
    }


def before_of(loaded: Loaded, kept: Kept) -> dict[str, dict[str, When]]:
    """What a reckoning stored, by today's steps. A stage that is done had its end in its last part."""
    found: dict[str, dict[str, When]] = {}
    for (job, step), part in loaded.refs.parts.items():
        hers = kept.get(job, {})
        parts = sorted(key for key in hers if key.startswith(f"{part.stage.pk}."))
        key = _key(part) if _key(part) in hers or not part.fact or not parts else parts[-1]
        if key in hers:
            found.setdefault(job, {})[step] = When(*hers[key])
    return found


def _key(part: Part) -> str:
    return f"{part.stage.pk}.{part.part}"


@dataclass(frozen=True)
class News:
    """What was recorded since the forecast before, as far as a sentence may name it."""

    rounds: Mapping[int, date]  # treatment: the day of her last round
    holds: Mapping[int, Hold]  # stage: its open hold
    people: tuple[tuple[str, frozenset[str]], ...]  # who is out, and with which skills
    kit: tuple[str, ...]  # kit and hoists that are out
    closed: tuple[str, ...]  # bays, sheds, the yard


def news_of(season: Season, since: datetime | None) -> News:
    """Read it, in a fixed number of queries."""
    yard = season.yard
    entries = Entry.objects.of(yard).filter(at__gt=since) if since else Entry.objects.none()

    def written(label: str) -> QuerySet[Entry, int | None]:
        return entries.filter(about_label=label).values_list("about_pk", flat=True)

    rounds = Round.objects.of(yard).filter(pk__in=written("yard.round"), superseded=False)
    stoppages = Stoppage.objects.of(yard).filter(pk__in=written("yard.stoppage"), called_off_on=None)
    out = list(stoppages.select_related(*Stoppage.SUBJECTS))
    skills: dict[int, set[str]] = defaultdict(set)
    for has in (
        PersonSkill.objects.of(yard)
        .filter(person__in=[row.person_id for row in out if row.person_id])
        .select_related("skill")
    ):
        skills[has.person_id].add(has.skill.name)
    holds = Hold.objects.of(yard).filter(stage__treatment__season=season, until_on=None)
    return News(
        rounds=dict(rounds.order_by("day_on").values_list("treatment", "day_on")),
        holds={hold.stage_id: hold for hold in holds},
        people=tuple((_out(row), frozenset(skills[row.person_id])) for row in out if row.person_id),
        kit=tuple(_out(row) for row in out if row.kit or row.hoist),
        closed=tuple(_out(row) for row in out if not (row.person or row.kit or row.hoist)),
    )


def sentence(cause: Cause, job: str, loaded: Loaded, news: News, *, later: bool) -> str:
    """The cause of a jump of `job`'s dates, later or earlier; whole, with a full stop."""
    part = loaded.refs.parts[cause.job, cause.step]
    stage, days = part.stage, round(abs(cause.days))
    name = next(one.label for one in loaded.problem.jobs if one.id == cause.job)
    whose = "her" if cause.job == job else f"{name}'s"
    what = f"{whose} “{stage.name}”"
    size = f"{days} day{'' if days == 1 else 's'}" if days else "less than a day"
    taken = news.rounds.get(int(cause.job)) if stage.kind == StageKind.DRY else None
    match cause.kind:
        case "held" | "length" if later and stage.pk in news.holds:
            expected = news.holds[stage.pk].expected_on
            until = f"until about {_day(expected)}" if expected else "until somebody answers"
            says = f"{what} is held {until}"
        case "length" if stage.status == Status.DONE:
            says = f"{what} was done {size} {'later' if later else 'sooner'} than expected"
        case "length" if taken is not None:
            more = "longer" if later else "less"
            says = f"by {whose} round of {_day(taken)} “{stage.name}” takes {size} {more}"
        case "length":
            says = f"{what} takes {size} {'longer' if later else 'less'} than expected before"
        case "begin" if later and cause.days > 0:
            says = f"{what} was to have begun and has not"
        case "begin" if later or cause.days > 0:
            says = f"it takes little for {what} to {'miss' if later else 'catch'} a day"
        case "arrival":
            says = f"{'she' if cause.job == job else name} comes on {_day(stage.treatment.arrives_on)}"
        case "days":
            says = f"{what} has {'a later' if later else 'an earlier'} day on which it can be done"
        case "hours":
            says = f"people or kit for {what} are free {'later' if later else 'sooner'}"
        case "new":
            says = f"{what} is new"
        case _:
            says = f"{what} may begin {'later' if later else 'sooner'} than before"
    out = {"hours": _short(cause, loaded, news), "days": news.closed}.get(cause.kind)
    if out:
        says = f"{says}: {out[0]}"
    return f"{capital(says)}."[:200]


def _short(cause: Cause, loaded: Loaded, news: News) -> tuple[str, ...]:
    """Who is out of those who could do the step; else the kit that is out, where the step takes any."""
    job = next(one for one in loaded.problem.jobs if one.id == cause.job)
    options = [option for step in job.steps if step.id == cause.step for option in step.options]
    skills = {skill for option in options for skill in option.skills}
    able = tuple(says for says, has in news.people if has & skills)
    return able or (news.kit if any(option.uses or option.holds for option in options) else ())


def _out(row: Stoppage) -> str:
    """ "Ann is out from Mon 30 Nov to Wed 2 Dec"."""
    subject = next((getattr(row, name) for name in Stoppage.SUBJECTS if getattr(row, name)), "the yard")
    until = f" to {_day(row.last_day)}" if row.last_day else ""
    return f"{subject} is out from {_day(row.first_day)}{until}"


def _day(value: date) -> str:
    return f"{value:%a} {value.day} {value:%b}"
