"""The yard's recipes: the norms of a stage and what it demands, and the sheets coats go by."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import F

from yard.actions.base import NotYours, Refused, Stale, action, change, locked, save
from yard.models import CoatingSheet, Demand, Role, Scheme, SchemeStage
from yard.models.base import Record
from yard.roles import Actor

MAY_CHANGE = frozenset(
    {
        "days_low",
        "days_likely",
        "days_high",
        "wait_min_d",
        "wait_max_d",
        "breaks_allowed",
        "break_money",
        "coats",
        "coats_a_day",
        "sheet",
        "source",
    }
)
"""The norms of a stage that a manager may change; what the stage is stays as it was made."""

COLD_EPOXY_C = 40
"""Warmest that a sheet's coldest hull can be [degrees C]; above it is taken for Fahrenheit."""


@action(Role.MANAGER)
def save_scheme_stage(
    who: Actor,
    *,
    stage: SchemeStage,
    version: int,
    norms: Mapping[str, Any],
    demands: Mapping[int, tuple[Decimal, Decimal]] | None = None,
) -> SchemeStage:
    """Change the norms of a scheme's stage. Treatments that were opened keep the copy they have.

    Args:
        version: the scheme's version that the person looked at.
        norms: new values by field, out of `MAY_CHANGE`; what is not named stays.
        demands: by a demand's key, its `hours_fixed` [h] and `hours_per_m2` [h/m2 of its area].

    Raises:
        Refused: with one sentence and the field: of a demand, that is `hours_fixed_<key>` or
            `hours_per_m2_<key>`.
        NotYours: if a demand is none of this stage's.
        Stale: if the scheme was changed meanwhile.
    """
    for name in norms:
        if name not in MAY_CHANGE:
            raise Refused(f"“{name}” is no norm that can be changed here: leave it out.", name)
    scheme = locked(stage.scheme)
    if scheme.version != version:
        raise Stale(scheme)
    stage = locked(stage)
    sheet: CoatingSheet | None = norms.get("sheet")
    if sheet and sheet.retired_on and sheet.pk != stage.sheet_id:
        raise Refused(f"{sheet} was given up on {sheet.retired_on:%-d %b %Y}: choose another sheet.", "sheet")
    before = [getattr(stage, name) for name in sorted(MAY_CHANGE)]
    with pointing(SchemeStage):
        stage = change(who, stage, **norms)
    changed = before != [getattr(stage, name) for name in sorted(MAY_CHANGE)]
    for pk, (fixed, per_m2) in (demands or {}).items():
        changed = _demand(who, stage, pk, fixed, per_m2) or changed
    if changed:
        rows = Scheme.objects.of(who.yard).filter(pk=scheme.pk, version=version)
        if rows.update(version=F("version") + 1) != 1:
            raise Stale(Scheme.objects.get(pk=scheme.pk))
    stage.scheme = Scheme.objects.get(pk=scheme.pk)
    return stage


def _demand(who: Actor, stage: SchemeStage, pk: int, fixed: Decimal, per_m2: Decimal) -> bool:
    """Give one demand of the stage its hours; whether that changed anything."""
    demand = stage.demands.filter(pk=pk).first()
    if demand is None:
        raise NotYours("No such record.")
    try:
        with pointing(Demand):
            saved = change(who, demand, hours_fixed=fixed, hours_per_m2=per_m2)
    except Refused as refused:
        field = refused.field if refused.field == "hours_per_m2" else "hours_fixed"
        raise Refused(f"{demand}: {refused.sentence}", f"{field}_{pk}") from refused
    return (saved.hours_fixed, saved.hours_per_m2) != (demand.hours_fixed, demand.hours_per_m2)


@action(Role.MANAGER)
def save_coating_sheet(
    who: Actor, *, sheet: CoatingSheet | None = None, version: int | None = None, **fields: Any
) -> CoatingSheet:
    """Add a coating sheet, or change the one given; `fields` are the record's own, in its units.

    Raises:
        Refused: if a stage of a scheme goes by a sheet that retires, if its coldest hull reads like
            Fahrenheit, or if the records say no.
        Stale: if `version` is no longer the stored one.
    """
    least_c: Decimal | None = fields.get("least_c")
    if least_c is not None and least_c > COLD_EPOXY_C:
        raise Refused(f"{too_hot(least_c)} for the coldest hull: give degrees Celsius.", "least_c")
    if sheet and fields.get("retired_on"):
        used = SchemeStage.objects.of(who.yard).filter(sheet=sheet).select_related("scheme").first()
        if used:
            raise Refused(
                f"“{used.name}” of the scheme {used.scheme} goes by {sheet}: give that another sheet first.",
                "retired_on",
            )
    with pointing(CoatingSheet):
        return save(who, CoatingSheet, sheet, version, fields)


# --- What these have in common ----------------------------------------------------------------------------
@contextmanager
def pointing(model: type[Record]) -> Iterator[None]:
    """Let a refusal by a rule of the record point at the first field the rule is about."""
    try:
        yield
    except Refused as refused:
        if refused.field:
            raise
        raise Refused(refused.sentence, _field_of(model, refused.sentence)) from refused


def _field_of(model: type[Record], sentence: str) -> str:
    """The first field, in the record's order, of the rule that says so; nothing if no rule does."""
    for rule in model._meta.constraints:
        says = str(rule.get_violation_error_message())
        if isinstance(rule, models.CheckConstraint) and says == sentence:
            about = set(getattr(rule.condition, "referenced_base_fields", ()))
            return next((field.name for field in model._meta.concrete_fields if field.name in about), "")
    return ""


def too_hot(degrees: Decimal) -> str:
    """The beginning of a sentence on a temperature that cannot be, which may have been meant in Fahrenheit.

    `degrees` was typed for [degrees C]; nothing is taken for Fahrenheit above its boiling water, 212.
    """
    meant = f" (as Fahrenheit it would be {(degrees - 32) * 5 / 9:.1f} °C)" if degrees <= 212 else ""
    return f"{float(degrees):g} °C{meant} is too hot"
