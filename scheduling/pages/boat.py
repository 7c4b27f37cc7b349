"""One boat's small page, for all three sides: her stages done, running and planned."""

from dataclasses import dataclass
from datetime import date

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from scheduling.loading.winter import BoatWinter, Winter
from scheduling.pages.frame import page, season_page, sides_of, winter_of
from scheduling.pages.sentences import KIND, following, verdict, waiting_for, where
from yard.models import Bay, Hold, Role, Stage, Status
from yard.roles import Actor


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


@require_safe
@season_page(Role.MANAGER, Role.CREW, Role.OFFICE)
def boat(request: HttpRequest, who: Actor, boat: int) -> HttpResponse:
    """Show one boat; the crew see neither owner nor promise."""
    winter = winter_of(who)
    found = next((one for one in winter.boats if one.treatment.boat_id == boat), None)
    if found is None:
        raise Http404("No such boat this season.")
    context = {
        "boat": found,
        "lines": lines(winter, found),
        "where": where(winter, found),
        "following": following(winter, found, winter.posted),
        "afloat_on": found.afloat_on(winter.posted),
        "verdict": verdict(found, winter.posted),
        "may_see_owner": who.role != Role.CREW,
        "unplaced": found.unplaced.get(winter.posted.pk) if winter.posted else None,
        "kept": winter.posted.kept.get(str(found.treatment.pk)) if winter.posted else None,
        "kind_says": KIND.get(found.promise.kind, "") if found.promise else "",
        "posted": winter.posted,
    }
    return page(
        request, who, "desk/boat.html", sides_of(who)[-1].name if who.role != Role.MANAGER else "", context
    )


def lines(winter: Winter, boat: BoatWinter) -> list[Line]:
    """Her stages in order."""
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
            line = Line(stage, first, last, True, bay, hold, waiting_for(hold) if hold else "")
        found.append(line)
    return found
