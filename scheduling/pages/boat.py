"""One boat's small page, for all three sides: her stages done, running and planned."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST, require_safe

from scheduling.forms import NotADay, parse_day
from scheduling.loading.boatdrying import Row, read_boat_drying
from scheduling.loading.drypicture import DryPicture, picture_of
from scheduling.loading.winter import BoatWinter, Winter, reasons_of, stage_in
from scheduling.pages.drying_scale import NARROW, WIDE
from scheduling.pages.drying_svg import draw
from scheduling.pages.drying_words import DryingWords, description, drying_words, missing
from scheduling.pages.frame import page, season_page, sides_of, text_in, winter_of
from scheduling.pages.hull import hull_of
from scheduling.pages.odds import odds
from scheduling.pages.reasons import Said, chain_of, of_stages, reader_of
from scheduling.pages.sentences import KIND, following, tag, waiting_for, where
from yard.actions.base import Refused, Stale
from yard.actions.rounds import dry_evidence
from yard.actions.stages import correct_stage
from yard.actions.treatments import expect_boat
from yard.models import Bay, Hold, Role, Stage, StageKind, Status
from yard.roles import Actor
from yard.templatetags.days import day
from yard.trade.stoprule import Line as Part


@dataclass(frozen=True)
class Line:
    """A stage with its days: as they were where it has begun, as planned where it has not."""

    stage: Stage
    first: date | None
    last: date | None
    planned: bool
    bay: Bay | None
    hold: Hold | None
    says: str
    why: tuple[Said, ...] = ()


@require_safe
@season_page(Role.MANAGER, Role.CREW, Role.OFFICE)
def boat(request: HttpRequest, who: Actor, boat: int) -> HttpResponse:
    """Show one boat; the crew see neither owner nor promise."""
    return show(request, who, boat)


def show(
    request: HttpRequest, who: Actor, boat: int, *, wrong: tuple[str, str] = ("", ""), status: int = 200
) -> HttpResponse:
    """The page, also after a refused form: `wrong` is the field and its sentence; what was typed stays."""
    winter = winter_of(who)
    found = next((one for one in winter.boats if one.treatment.boat_id == boat), None)
    if found is None:
        raise Http404("No such boat this season.")
    reader = reader_of(winter, who, posted=True)
    stored = reasons_of(winter.posted, [found.treatment.pk]).get(found.treatment.pk)
    whys = of_stages(reader, found, stored.stages if stored else [])
    late, sure = found.late_days(winter.posted), odds(winter, found)
    troubled = winter.posted is not None and (late is None or late > 0)
    context = {
        "boat": found,
        "lines": lines(winter, found, whys),
        "whys": whys,
        "chain": chain_of(reader, found, stored.chain) if stored and troubled else None,
        "where": where(winter, found),
        "following": following(winter, found, winter.posted),
        "afloat_on": found.afloat_on(winter.posted),
        "verdict": tag(found, winter.posted, sure.look if sure else ""),
        "may_see_owner": who.role != Role.CREW,
        "may_correct": who.role == Role.MANAGER,
        "may_expect": who.role in (Role.MANAGER, Role.OFFICE),
        "unplaced": found.unplaced.get(winter.posted.pk) if winter.posted else None,
        "kept": winter.posted.kept.get(str(found.treatment.pk)) if winter.posted else None,
        "kind_says": KIND.get(found.promise.kind, "") if found.promise else "",
        "posted": winter.posted,
        "typed": request.POST,
        "chosen": next(
            (one.pk for one in found.stages if request.POST.get("stage", "").startswith(f"{one.pk}.")), 0
        ),
        "wrong_field": wrong[0],
        "wrong": wrong[1],
        "errors": bool(wrong[1]),
        "odds": sure,
        "drying": drying_of(winter, found),
        "hull": hull_of(winter, found),
        "may_measure": who.role in (Role.MANAGER, Role.CREW),
    }
    side = "" if who.role == Role.MANAGER else sides_of(who)[-1].name
    return page(request, who, "desk/boat.html", side, context, status)


@require_POST
@season_page(Role.MANAGER)
def correct(request: HttpRequest, who: Actor, boat: int) -> HttpResponse:
    """Set a stage's days as they really were: `stage` is its number and version, parted by a point."""
    typed = request.POST
    number, _, version = text_in(typed, "stage").partition(".")
    stage = stage_in(who.yard, int(number)) if re.fullmatch(r"[0-9]{1,18}", number) else None
    if stage is None or stage.treatment.boat_id != boat or not re.fullmatch(r"[0-9]{1,9}", version):
        return show(
            request, who, boat, wrong=("stage", "Choose the stage whose days were wrong."), status=422
        )
    days: dict[str, date | None] = {}
    for name in ("started_on", "finished_on"):
        text = text_in(typed, name)
        try:
            days[name] = parse_day(text, who.today, past=True) if text else None
        except NotADay as no:
            return show(request, who, boat, wrong=(name, str(no)), status=422)
    try:
        correct_stage(
            who,
            stage=stage,
            version=int(version),
            started_on=days["started_on"],
            finished_on=days["finished_on"],
            why=text_in(typed, "why"),
        )
    except (Refused, Stale) as no:
        return show(request, who, boat, wrong=(getattr(no, "field", ""), no.sentence), status=no.status)
    messages.success(request, f"Corrected: {stage.treatment.boat.name}, {stage.name}.")
    return redirect("boat", who.yard.slug, boat)


@require_POST
@season_page(Role.MANAGER, Role.OFFICE)
def arrival(request: HttpRequest, who: Actor, boat: int) -> HttpResponse:
    """Expect a boat on another day."""
    found = next((one for one in winter_of(who).boats if one.treatment.boat_id == boat), None)
    if found is None:
        raise Http404("No such boat this season.")
    version, typed = text_in(request.POST, "version"), text_in(request.POST, "arrives_on")
    try:
        on = parse_day(typed, who.today)
        expect_boat(
            who,
            treatment=found.treatment,
            version=int(version) if re.fullmatch(r"[0-9]{1,9}", version) else 0,
            arrives_on=on,
        )
    except NotADay as no:
        return show(request, who, boat, wrong=("arrives_on", str(no)), status=422)
    except (Refused, Stale) as no:
        return show(request, who, boat, wrong=("arrives_on", no.sentence), status=no.status)
    mends = "you mend it" if who.role == Role.MANAGER else "the manager mends it"
    messages.success(
        request,
        f"{found.name} is expected on {day(on)}. The posted plan stays until {mends} on the Wall.",
    )
    return redirect("boat", who.yard.slug, boat)


@dataclass(frozen=True)
class DryingShown:
    """Her drying as the page has it: the words, two drawings (empty where there is nothing to draw), the
    rounds, and what her signature still needs."""

    words: DryingWords
    picture: DryPicture | None
    wide: str
    narrow: str
    rows: tuple[Row, ...]
    evidence: tuple[Part, ...]
    failing: int


def drying_of(winter: Winter, boat: BoatWinter) -> DryingShown | None:
    """Read and draw her drying; None where her scheme has no stage of drying and she was never read."""
    treatment = boat.treatment
    drying = read_boat_drying(winter, boat)
    if not drying.rows and not any(stage.kind == StageKind.DRY for stage in boat.stages):
        return None
    words = drying_words(drying, treatment.state)
    picture = picture_of(drying, boat.name)
    parts: tuple[Part, ...] = ()
    if picture and drying.signature is None:
        parts = missing(dry_evidence(treatment, signed_on=winter.today).lines)
    says = description(words)
    return DryingShown(
        words=words,
        picture=picture,
        wide=draw(picture, WIDE, says) if picture else "",
        narrow=draw(picture, NARROW, says) if picture else "",
        rows=drying.rows,
        evidence=parts,
        failing=sum(not line.holds for line in parts),
    )


def lines(winter: Winter, boat: BoatWinter, whys: Mapping[int, list[Said]]) -> list[Line]:
    """Her stages in order, the planned ones with why they start no earlier."""
    plan = winter.posted
    rows = boat.placed.get(plan.pk, []) if plan else []
    found = []
    for stage in boat.stages:
        hers = [row for row in rows if row.stage_id == stage.pk]
        last = max((row.last_day for row in hers), default=None)
        bays = [row.bay_id for row in hers if row.bay_id]
        hold = boat.holds.get(stage.pk)
        if stage.status == Status.RUNNING:
            stay = boat.stay
            bay = winter.bays.get(stay.bay_id) if stay else None
            line = Line(stage, stage.started_on, last, False, bay, hold, waiting_for(hold) if hold else "")
        elif stage.status == Status.DONE:
            line = Line(stage, stage.started_on, stage.finished_on, False, None, None, "")
        else:
            first = min((row.first_day for row in hers), default=None)
            bay = winter.bays.get(bays[0]) if bays else None
            says, why = waiting_for(hold) if hold else "", tuple(whys.get(stage.pk, ()))
            line = Line(stage, first, last, True, bay, hold, says, why)
        found.append(line)
    return found
