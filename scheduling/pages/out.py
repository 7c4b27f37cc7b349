"""Who and what is out: entered when it happens, ended when it is over, called off where it was a mistake; no
plan moves by it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST

from scheduling.forms import parse_day
from scheduling.pages.sentences import ground
from yard.actions.base import Refused, Stale
from yard.actions.stoppages import Subject, call_off_stoppage, end_stoppage, stop_work
from yard.forms import Sent, Spec, fields, mistakes, one_of, send, text, text_in, whole
from yard.loading import stoppage_in, stoppages_of, subjects_of
from yard.models import Bay, Hoist, Kit, Person, Role, Shed, Stoppage, StoppageKind
from yard.pages.frame import page
from yard.roles import Actor, side
from yard.templatetags.days import day

WORDS: Mapping[type[Subject], str] = {Person: "person", Hoist: "hoist", Kit: "kit", Shed: "shed", Bay: "bay"}
KINDS: Mapping[str, str] = {
    StoppageKind.ILL: "ill",
    StoppageKind.HOLIDAY: "away: holiday, college, a course",
    StoppageKind.CLOSED: "closed",
    StoppageKind.NO_HEAT: "no power or no heat",
    StoppageKind.COLD: "a cold spell",
    StoppageKind.OTHER: "broken, or something else",
}
USUAL: Mapping[type, str] = {
    Person: StoppageKind.ILL,
    Hoist: StoppageKind.OTHER,
    Kit: StoppageKind.OTHER,
}
"""What is meant of whom or what where nothing is chosen; of all else that it is closed."""
SAID_ALONE = (StoppageKind.HOLIDAY, StoppageKind.OTHER)
"""Kinds whose reason in a few words says more than their name."""
HALF_A_YEAR = timedelta(days=183)


@dataclass(frozen=True)
class Line:
    """Something that is out: in words, whether it is out today, and what was wrong when its end was given."""

    stoppage: Stoppage
    what: str
    says: str
    now: bool
    wrong: str = ""


@require_http_methods(["GET", "HEAD", "POST"])
@side(Role.MANAGER)
def out(request: HttpRequest, who: Actor) -> HttpResponse:
    """What is out today or will be; and the form that says that something more is."""
    specs = specs_of(who)
    if request.method != "POST":
        return show(request, who, specs)
    sent = send(specs, request.POST, lambda values, _: _stop(who, values))
    if sent.saved is None:
        return show(request, who, specs, sent=sent)
    messages.success(request, f"Saved: {named(sent.saved)}, {lasts(sent.saved)}.")
    return redirect("out", who.yard.slug)


@require_POST
@side(Role.MANAGER)
def back(request: HttpRequest, who: Actor, stoppage: int) -> HttpResponse:
    """Somebody or something is back on a day: the day before was the last it was out."""
    found = _stoppage(who, stoppage)
    wrong, status = "", 422
    try:
        on = near_day(text_in(request.POST, "on"), who.today)
        if on <= found.first_day:
            raise ValueError(
                f"It is out from {day(found.first_day)}: give a later day. If it never was, call it off."
            )
        end_stoppage(
            who,
            stoppage=found,
            version=_version(request),
            last_day=on - timedelta(days=1),
        )
    except ValueError as no:
        wrong = str(no)
    except (Refused, Stale) as no:
        wrong, status = no.sentence, no.status
    if wrong:
        return show(request, who, specs_of(who), ending=(found.pk, wrong), status=status)
    messages.success(request, f"Saved: {named(found)} is back on {day(on)}.")
    return redirect("out", who.yard.slug)


@require_POST
@side(Role.MANAGER)
def off(request: HttpRequest, who: Actor, stoppage: int) -> HttpResponse:
    """It was entered by mistake, or does not come: it counts for nothing."""
    found = _stoppage(who, stoppage)
    try:
        call_off_stoppage(who, stoppage=found, version=_version(request))
    except (Refused, Stale) as no:
        return show(request, who, specs_of(who), ending=(found.pk, no.sentence), status=no.status)
    messages.success(request, f"Called off: {named(found)}, {lasts(found)}. The history keeps it.")
    return redirect("out", who.yard.slug)


def _stoppage(who: Actor, pk: int) -> Stoppage:
    found = stoppage_in(who.yard, pk)
    if found is None:
        raise Http404("No such stoppage.")
    return found


def _version(request: HttpRequest) -> int:
    """The version that was looked at; 0, which no row has, for anything else."""
    version = text_in(request.POST, "version")
    return int(version) if re.fullmatch("[0-9]{1,9}", version) else 0


def show(
    request: HttpRequest,
    who: Actor,
    specs: list[Spec],
    *,
    sent: Sent | None = None,
    ending: tuple[int, str] = (0, ""),
    status: int = 200,
) -> HttpResponse:
    """The page, also after a refused form: what was typed stays."""
    wrong = sent.wrong if sent else None
    lines = [
        Line(
            one,
            named(one),
            lasts(one),
            one.first_day <= who.today,
            ending[1] if one.pk == ending[0] else "",
        )
        for one in stoppages_of(who.yard, who.today)
    ]
    context = {
        "lines": lines,
        "gone": "" if any(line.wrong for line in lines) else ending[1],
        "fields": fields(specs, {"first_day": day(who.today)}, request.POST if sent else None, wrong),
        "mistakes": mistakes(specs, wrong),
        "typed_on": text_in(request.POST, "on"),
        "errors": bool(wrong or ending[1]),
    }
    return page(request, who, "wall/out.html", "Wall", context, sent.status if sent else status)


# --- The form ---------------------------------------------------------------------------------------------
def specs_of(who: Actor) -> list[Spec]:
    """The fields; the list has whoever and whatever of the yard can be out."""
    subjects: dict[str, Subject | None] = {key_of(row): row for row in subjects_of(who.yard)}
    subjects["yard"] = None
    choices = [("", "Choose…"), *((key, label(row)) for key, row in subjects.items())]
    kinds = {"": "", **{kind: kind for kind in KINDS}}
    usual = ("", "the usual: ill, broken or closed")

    def some_day(typed: str) -> date:
        return near_day(typed, who.today)

    return [
        Spec("subject", "Who or what", one_of(subjects), choices=choices),
        Spec("kind", "What it is", one_of(kinds), choices=[usual, *KINDS.items()]),
        Spec("first_day", "From", some_day),
        Spec(
            "last_day",
            "Last day out",
            lambda typed: some_day(typed) if typed else None,
            "empty: until told",
        ),
        Spec(
            "count",
            "How many",
            lambda typed: some(typed) if typed else None,
            "of a kit; empty: all",
        ),
        Spec("why", "Why", text(), "in a few words, or empty"),
    ]


def some(typed: str) -> int:
    """How many of a kit are out.

    Raises:
        ValueError: for none, and for what is no whole number.
    """
    found = whole(typed)
    if not found:
        raise ValueError("Type how many are out, at least 1; leave it empty if all are.")
    return found


def _stop(who: Actor, values: Mapping[str, Any]) -> Stoppage:
    subject = values["subject"]
    kind = values["kind"] or USUAL.get(type(subject), StoppageKind.CLOSED)
    return stop_work(
        who,
        subject=subject,
        kind=kind,
        first_day=values["first_day"],
        last_day=values["last_day"],
        why=values["why"] or KINDS[kind],
        count=values["count"],
    )


def near_day(typed: str, today: date) -> date:
    """A day as typed; without a year the next one, or the last if that is less than half a year ago.

    Raises:
        NotADay: as `parse_day`.
    """
    ahead = parse_day(typed, today)
    behind = parse_day(typed, today, past=True)
    return behind if today - behind < HALF_A_YEAR < ahead - today else ahead


# --- In words ---------------------------------------------------------------------------------------------
def key_of(row: Subject) -> str:
    """A subject as the form has it: person.3."""
    return f"{WORDS[type(row)]}.{row.pk}"


def label(row: Subject | None) -> str:
    """Who or what, as one says it."""
    if row is None:
        return "The whole yard"
    if isinstance(row, Shed):
        return ground(row).capitalize()
    return f"Bay {row.name}" if isinstance(row, Bay) else row.name


def named(stoppage: Stoppage) -> str:
    """Who or what is out, and how many of a kit."""
    subject = next((one for name in Stoppage.SUBJECTS if (one := getattr(stoppage, name))), None)
    return f"{stoppage.count} of {label(subject)}" if stoppage.count else label(subject)


def lasts(stoppage: Stoppage) -> str:
    """What it is and how long."""
    kind, why = KINDS[stoppage.kind], stoppage.why
    if why != kind and stoppage.kind not in SAID_ALONE:
        why = f"{kind} ({why})"
    if stoppage.last_day is None:
        return f"{why}, from {day(stoppage.first_day)} until told"
    if stoppage.last_day == stoppage.first_day:
        return f"{why}, on {day(stoppage.first_day)}"
    return f"{why}, from {day(stoppage.first_day)} to {day(stoppage.last_day)}"
