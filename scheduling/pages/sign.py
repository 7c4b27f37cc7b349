"""Where the manager signs a hull dry, or records who did: the evidence first, line by line."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from scheduling.loading.measuring import measurable, signers, spots_of
from scheduling.pages.frame import page, season_page, text_in
from scheduling.pages.measure import hers
from scheduling.pages.measure_fields import excused_in, sign_specs
from yard.actions.base import Refused
from yard.actions.rounds import dry_evidence, sign_dry
from yard.forms import fields, read
from yard.models import Role
from yard.roles import Actor
from yard.templatetags.days import day, shortday


@require_http_methods(["GET", "HEAD", "POST"])
@season_page(Role.MANAGER)
def sign(request: HttpRequest, who: Actor, boat: int) -> HttpResponse:
    """The evidence as it stands; `look` shows it for what was typed, anything else sent signs her."""
    her, typed = hers(who, boat), request.POST
    treatment, sent = her.treatment, request.method == "POST"
    people = {str(person.pk): person for person in signers(who.yard)}
    specs = sign_specs(who.today, people)
    look = "look" in typed
    values, wrong = read(specs, typed)
    if not sent or (look and not text_in(typed, "by")):
        wrong.pop("by", None)
    excused: dict[str, str] = {}
    note = text_in(typed, "note")
    try:
        excused = excused_in(typed.get("excused", "").replace("\x00", ""), spots_of(treatment.boat))
    except ValueError as no:
        wrong["excused"] = str(no)
    said = {
        "signed_on": values.get("signed_on", who.today),
        "excused": excused,
        "film_test": values.get("film_test", False),
        "heat_off_h": values.get("heat_off_h"),
    }
    if sent and not look and not wrong:
        try:
            sign_dry(who, treatment=treatment, by=values["by"], note=note, **said)
        except Refused as no:
            wrong[no.field] = no.sentence
        else:
            messages.success(
                request, f"{her.name}: signed dry on {day(said['signed_on'])} by {values['by']}."
            )
            return redirect("boat", who.yard.slug, boat)
    evidence = dry_evidence(treatment, **said)
    if "note" in wrong:
        # The evidence stands above the form, line by line: it need not be said twice.
        wrong["note"] = "The evidence does not hold: say here why she is signed all the same, or wait."
    labels = {spec.name: spec.label for spec in specs} | {"excused": "Spots excused", "note": "Note"}
    stored = {"by": who.person.pk if who.person else None, "signed_on": shortday(who.today)}
    context = {
        "her": her,
        "evidence": evidence,
        "signed": measurable(treatment).signed,
        "fields": fields(specs, stored, typed if sent else None, wrong),
        "excused": typed.get("excused", ""),
        "note": note,
        "wrong": wrong,
        "told": [
            (name, f"{labels[name]}: {says}") if name in labels else ("", says)
            for name, says in wrong.items()
        ],
        "errors": bool(wrong),
        "looked": look,
    }
    return page(request, who, "today/sign.html", "Today", context, 422 if wrong else 200)
