"""The norms of a scheme's stage and the sheets coats go by: changed by the manager, refused by name."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from tests.cast import TODAY, Cast, SchemeFactory, StageNormFactory, full_scheme
from tests.yard.test_actions_boats import refused
from tests.yard.test_actions_form import a_treatment
from yard.actions.base import NotAllowed, NotYours, Refused, Stale
from yard.actions.schemes import MAY_CHANGE, save_coating_sheet, save_scheme_stage
from yard.models import CoatingSheet, Demand, Entry, Scheme, SchemeStage
from yard.models.schemes import NORMS

OURS = "plain epoxy"


def a_norm(cast: Cast, kind: str = "coat") -> SchemeStage:
    return cast.scheme.stages.get(kind=kind)


def a_sheet(cast: Cast, **fields: Any) -> CoatingSheet:
    return save_coating_sheet(cast.manager, name=OURS, **fields)


def save(cast: Cast, norms: dict[str, Any], kind: str = "coat", **more: Any) -> SchemeStage:
    return save_scheme_stage(
        cast.manager, **{"stage": a_norm(cast, kind), "version": 1, "norms": norms, **more}
    )


def refusal_of(cast: Cast, norms: dict[str, Any], **more: Any) -> tuple[str, str]:
    """The sentence and the field of what was refused."""
    with pytest.raises(Refused) as refusal:
        save(cast, norms, **more)
    return refusal.value.sentence, refusal.value.field


# --- Norms -----------------------------------------------------------------------------------------------
def test_a_manager_changes_a_norm_and_the_scheme_has_another_version(cast: Cast) -> None:
    stage = save(cast, {"coats": 5, "coats_a_day": 2, "sheet": a_sheet(cast), "source": "our boats"})
    assert (stage.coats, stage.coats_a_day, stage.sheet.name) == (5, 2, OURS)
    assert stage.scheme.version == 2
    assert Scheme.objects.get(pk=cast.scheme.pk).version == 2
    assert Entry.objects.get(action="save_scheme_stage").before["coats"] == 0


def test_a_treatment_that_is_open_keeps_its_copy_and_a_new_one_gets_the_new_norms(cast: Cast) -> None:
    treatment = a_treatment(cast)
    sheet = a_sheet(cast)
    save(cast, {"coats": 5, "sheet": sheet, "days_high": Decimal(7)})
    hers = treatment.stages.get(kind="coat")
    assert (hers.coats, hers.sheet, hers.days_high) == (0, None, 1)
    treatment.state = "afloat"
    treatment.arrived_on = TODAY
    treatment.save()
    later = a_treatment(cast).stages.get(kind="coat")
    assert (later.coats, later.sheet, later.days_high) == (5, sheet, 7)


def test_crew_and_office_change_no_norm(cast: Cast) -> None:
    for who in (cast.crew, cast.office):
        with pytest.raises(NotAllowed):
            save_scheme_stage(who, stage=a_norm(cast), version=1, norms={"coats": 4})


def test_a_stage_a_sheet_or_a_demand_of_another_yard_does_not_exist(cast: Cast) -> None:
    theirs = full_scheme(cast.other_yard).stages.get(kind="peel")
    foreign = CoatingSheet.objects.create(yard=cast.other_yard, name="theirs")
    for more in (
        {"stage": theirs},
        {"norms": {"sheet": foreign}},
        {"demands": {theirs.demands.get().pk: (Decimal(1), Decimal(1))}},
    ):
        with pytest.raises(NotYours):
            save(cast, {}, **more) if "norms" not in more else save(cast, more["norms"])
    assert Scheme.objects.get(pk=cast.scheme.pk).version == 1


def test_the_second_of_two_editors_is_told_also_of_another_stage_of_the_scheme(cast: Cast) -> None:
    save(cast, {"coats": 5})
    with pytest.raises(Stale) as lost:
        save(cast, {"days_high": Decimal(9)}, "peel")
    assert lost.value.theirs == cast.scheme
    assert a_norm(cast, "peel").days_high == 1


def test_a_save_that_changes_nothing_leaves_the_version(cast: Cast) -> None:
    peel = a_norm(cast, "peel")
    demand = peel.demands.get()
    same = {"days_low": peel.days_low, "sheet": None}
    save(cast, same, "peel", demands={demand.pk: (demand.hours_fixed, demand.hours_per_m2)})
    assert Scheme.objects.get(pk=cast.scheme.pk).version == 1
    assert not Entry.objects.filter(action="save_scheme_stage").exists()


def test_what_a_stage_is_cannot_be_changed_only_its_norms(cast: Cast) -> None:
    assert set(NORMS) > MAY_CHANGE
    for name in sorted(set(NORMS) - MAY_CHANGE):
        assert refusal_of(cast, {name: None})[1] == name
    assert "is no norm that can be changed here" in refusal_of(cast, {"scheme": cast.scheme})[0]


@pytest.mark.parametrize(
    ("norms", "says", "field"),
    [
        ({"days_low": Decimal(3)}, "Days must run from low over likely to high.", "days_low"),
        ({"wait_min_d": Decimal(5), "wait_max_d": Decimal(4)},
         "The greatest wait must not be below the least.", "wait_min_d"),
        ({"days_low": Decimal(-1)}, "Days low must be 0 or more.", "days_low"),
        ({"break_money": Decimal(-1)}, "Break must be 0 or more.", "break_money"),
        ({"coats": 13}, "Coats must be between 0 and 12.", "coats"),
        ({"coats_a_day": 3}, "Coats a day must be between 1 and 2.", "coats_a_day"),
        ({"coats_a_day": 0}, "Coats a day must be between 1 and 2.", "coats_a_day"),
    ],
)  # fmt: skip
def test_a_norm_that_cannot_be_is_refused_by_name(
    cast: Cast, norms: dict[str, Any], says: str, field: str
) -> None:
    assert refusal_of(cast, norms) == (says, field)
    assert Scheme.objects.get(pk=cast.scheme.pk).version == 1


def test_only_a_coat_stage_has_coats(cast: Cast) -> None:
    assert refusal_of(cast, {"coats": 2}, kind="dry")[0] == "Only a stage of kind coat has coats."


def test_a_sheet_that_was_given_up_is_not_chosen_but_may_stay(cast: Cast) -> None:
    sheet = a_sheet(cast)
    save(cast, {"sheet": sheet})
    CoatingSheet.objects.filter(pk=sheet.pk).update(retired_on=TODAY)
    sheet.refresh_from_db()
    assert save(cast, {"sheet": sheet, "coats": 4}, version=2).coats == 4
    spare = StageNormFactory(scheme=cast.scheme, position=60, kind="coat")
    says, field = refusal_of(cast, {"sheet": sheet}, stage=spare, version=3, kind="dry")
    assert (says, field) == ("plain epoxy was given up on 24 Nov 2026: choose another sheet.", "sheet")


# --- Demands ---------------------------------------------------------------------------------------------
def test_the_hours_of_a_demand_change_with_the_norms(cast: Cast) -> None:
    demand = a_norm(cast, "peel").demands.get()
    save(cast, {}, "peel", demands={demand.pk: (Decimal(6), Decimal("0.35"))})
    demand.refresh_from_db()
    assert (demand.hours_fixed, demand.hours_per_m2) == (6, Decimal("0.35"))
    assert Scheme.objects.get(pk=cast.scheme.pk).version == 2


def test_hours_that_cannot_be_are_refused_at_their_demand(cast: Cast) -> None:
    demand = a_norm(cast, "peel").demands.get()

    def refusal(fixed: str, per_m2: str) -> tuple[str, str]:
        hours = (Decimal(fixed), Decimal(per_m2))
        return refusal_of(cast, {"days_high": Decimal(9)}, kind="peel", demands={demand.pk: hours})

    assert refusal("-1", "1") == ("peel: Hours fixed must be 0 or more.", f"hours_fixed_{demand.pk}")
    assert refusal("1", "-1")[1] == f"hours_per_m2_{demand.pk}"
    assert refusal("0", "0") == (
        "peel: A demand needs hours, lifts, or a kit that is held.",
        f"hours_fixed_{demand.pk}",
    )
    assert a_norm(cast, "peel").days_high == 1, "nothing of a refused change is kept"


def test_a_demand_of_another_stage_is_not_found(cast: Cast) -> None:
    demand = a_norm(cast, "peel").demands.get()
    with pytest.raises(NotYours):
        save(cast, {}, "coat", demands={demand.pk: (Decimal(1), Decimal(1))})
    other = Demand.objects.create(
        scheme_stage=StageNormFactory(scheme=SchemeFactory(yard=cast.yard)), hours_fixed=1
    )
    with pytest.raises(NotYours):
        save(cast, {}, "peel", demands={other.pk: (Decimal(1), Decimal(1))})


# --- Coating sheets --------------------------------------------------------------------------------------
def test_a_new_sheet_is_a_common_solvent_free_epoxy_until_its_own_says_otherwise(cast: Cast) -> None:
    sheet = a_sheet(cast, recoat_max_h_20=Decimal(48))
    assert (sheet.least_c, sheet.activation_kj, sheet.cure_h_20) == (12, 55, 144)
    assert (sheet.recoat_min_h_20, sheet.recoat_max_h_20, sheet.film_um) == (6, 48, 125)


def test_the_manager_alone_saves_sheets(cast: Cast) -> None:
    sheet = a_sheet(cast)
    for who in (cast.crew, cast.office):
        with pytest.raises(NotAllowed):
            save_coating_sheet(who, sheet=sheet, version=1, film_um=Decimal(150))
    with pytest.raises(NotYours):
        save_coating_sheet(cast.other_manager, sheet=sheet, version=1, film_um=Decimal(150))


def test_a_sheet_is_changed_by_whoever_saw_it_last(cast: Cast) -> None:
    sheet = a_sheet(cast)
    assert save_coating_sheet(cast.manager, sheet=sheet, version=1, film_um=Decimal(150)).version == 2
    with pytest.raises(Stale):
        save_coating_sheet(cast.manager, sheet=sheet, version=1, film_um=Decimal(100))


@pytest.mark.parametrize(
    ("bad", "says", "field"),
    [
        ({"recoat_min_h_20": Decimal(36)}, "The next coat's last hour must come after its first.",
         "recoat_min_h_20"),
        ({"tacky_max_h_20": Decimal(1)}, "The last tacky hour must come after the first.", "tacky_min_h_20"),
        ({"cure_h_20": Decimal(0)}, "Cure [h] at 20 °C must be more than 0.", "cure_h_20"),
        ({"film_um": Decimal(0)}, "Film [µm] must be more than 0.", "film_um"),
        ({"solids_pct": Decimal(101)}, "Solids [%] must be more than 0 and at most 100.", "solids_pct"),
        ({"activation_kj": Decimal(5500)}, "Activation [kJ/mol] must be between 20 and 120.",
         "activation_kj"),
        ({"least_c": Decimal(54)}, "54 °C (as Fahrenheit it would be 12.2 °C) is too hot for the coldest "
         "hull: give degrees Celsius.", "least_c"),
        ({"least_c": Decimal(-40)}, "The coldest hull [°C] must be between -10 and 40.", "least_c"),
    ],
)  # fmt: skip
def test_a_sheet_that_cannot_be_is_refused_by_name(
    cast: Cast, bad: dict[str, Any], says: str, field: str
) -> None:
    with pytest.raises(Refused) as refusal:
        a_sheet(cast, **bad)
    assert (refusal.value.sentence, refusal.value.field) == (says, field)
    assert not CoatingSheet.objects.exists()


def test_a_sheet_has_a_name_of_its_own(cast: Cast) -> None:
    a_sheet(cast)
    assert refused(save_coating_sheet, cast.manager, name="Plain Epoxy") == (
        "There is a sheet of that name already."
    )
    assert save_coating_sheet(cast.other_manager, name=OURS).yard == cast.other_yard


def test_a_sheet_that_a_scheme_goes_by_is_not_given_up(cast: Cast) -> None:
    sheet = a_sheet(cast)
    save(cast, {"sheet": sheet})
    says = refused(save_coating_sheet, cast.manager, sheet=sheet, version=1, retired_on=TODAY)
    assert says == "“coat” of the scheme full goes by plain epoxy: give that another sheet first."
    save(cast, {"sheet": None}, version=2)
    gone = save_coating_sheet(cast.manager, sheet=sheet, version=1, retired_on=TODAY)
    assert gone.retired_on == TODAY
