"""The pages of schemes and norms: where each norm comes from, and the manager's forms to change it."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client

from tests.cast import TODAY, Cast, StageNormFactory
from yard.models import CoatingSheet, Demand, Entry, RegimeNorm, Scheme, SchemeStage, Skill

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def today(settings: Any) -> None:
    settings.SHEDTIDE_TODAY = TODAY


def client_of(cast: Cast, role: str = "manager") -> Client:
    client = Client()
    client.force_login(cast.actors[role].user)
    return client


def stage(cast: Cast, kind: str) -> SchemeStage:
    return cast.scheme.stages.get(kind=kind)


def scheme_page(cast: Cast) -> str:
    return f"/quiet-creek/schemes/{cast.scheme.pk}/"


def stage_page(cast: Cast, kind: str) -> str:
    return f"/quiet-creek/schemes/stage/{stage(cast, kind).pk}/"


def form_on(client: Client, address: str) -> dict[str, str]:
    """The form as the page offers it: every field with the value that stands in it."""
    text = client.get(address).content.decode()
    text = text[text.index('<form method="post" novalidate>') :]
    found = {
        unescape(name): unescape(value)
        for name, value in re.findall(
            r'<input type="(?:text|hidden)" name="(\w+)"[^>]*? value="([^"]*)"', text
        )
    }
    for name, options in re.findall(r'<select name="(\w+)".*?>(.*?)</select>', text):
        found[name] = next(iter(re.findall(r'value="([^"]*)" selected', options)), "")
    found.pop("csrfmiddlewaretoken", None)
    return found


def text_of(page: Any) -> str:
    """The page's words, tags and doubled blanks taken out."""
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", page.content.decode())))


# --- What stands there ------------------------------------------------------------------------------------
def test_the_list_names_every_scheme_with_its_days_and_where_dry_is(cast: Cast) -> None:
    SchemeStage.objects.filter(scheme=cast.scheme, kind="dry").update(days_likely=20, days_high=28)
    text = text_of(client_of(cast).get("/quiet-creek/schemes/"))
    assert "full5" in text
    assert "5 to 32 working days, likely 24" in text
    assert "18" in text


def test_a_stage_shows_its_norms_their_source_and_what_the_trade_reckons(cast: Cast) -> None:
    peel = stage(cast, "peel")
    peel.days_low, peel.days_likely, peel.days_high = 2, 3, 4
    peel.wait_min_d, peel.wait_max_d, peel.source = 1, 5, "our boats of three winters"
    peel.save()
    text = text_of(client_of(cast).get(scheme_page(cast)))
    assert "2 to 4 working days, likely 3; waits 1 to 5 days after the stage before" in text
    assert "Peel: 1 h per m² to peel" in text
    assert "Our boats of three winters." in text
    assert re.search(
        r"The trade reckons [\d.]+ to [\d.]+ person-hours and [\d.]+ to [\d.]+ per m² to peel", text
    )
    assert "some ten square metres an hour at best" in text


def test_a_norm_without_a_source_says_so(cast: Cast) -> None:
    stages = cast.scheme.stages.count()
    assert text_of(client_of(cast).get(scheme_page(cast))).count("no source given") == stages
    cast.scheme.stages.update(source="common practice")
    assert "no source given" not in text_of(client_of(cast).get(scheme_page(cast)))


def test_the_trades_hours_stand_beside_the_first_stage_of_a_kind_alone(cast: Cast) -> None:
    StageNormFactory(scheme=cast.scheme, position=25, kind="peel", name="pads shifted")
    text = text_of(client_of(cast).get(scheme_page(cast)))
    assert text.count("per m² to peel (common practice") == 1
    assert "The trade counts it with “peel” above." in text


def test_visits_kits_and_lifts_are_said_in_words(cast: Cast) -> None:
    dry = stage(cast, "dry")
    skill = Skill.objects.create(yard=cast.yard, name="wash")
    Demand.objects.create(scheme_stage=dry, skill=skill, hours_fixed=1, every_d=7, people=2)
    Demand.objects.create(scheme_stage=dry, kit_kind="hot_wash", hours_fixed=2, times=4)
    Demand.objects.create(scheme_stage=dry, kit_kind="rudder_rack", held=True)
    Demand.objects.create(scheme_stage=dry, skill=skill, lifts=1)
    Demand.objects.create(scheme_stage=dry, kit_kind="tent", hours_fixed="0.25", every_d=1)
    text = text_of(client_of(cast).get(scheme_page(cast)))
    for says in (
        "Wash: 1 h each visit, every 7 days, 2 at once",
        "Hot wash: 2 h each visit, 4 times",
        "Rudder rack: 1 held for the whole stay",
        "Wash: 1 lift",
        "Tent: 0.25 h each day",
    ):
        assert says in text


def test_a_drying_stage_shows_the_half_lives_of_its_regimes_and_whose_they_are(cast: Cast) -> None:
    text = text_of(client_of(cast).get(scheme_page(cast)))
    assert "in a heated tent: 16 to 27 days, likely 21, at 28 °C (common practice" in text
    RegimeNorm.objects.create(
        yard=cast.yard,
        regime="tent",
        half_life_low_d=10,
        half_life_likely_d="12.5",
        half_life_high_d=15,
        at_c=26,
        source="nine boats of ours",
    )
    text = text_of(client_of(cast).get(scheme_page(cast)))
    assert "10 to 15 days, likely 12.5, at 26 °C (nine boats of ours; the trade 16 to 27 days" in text


def test_a_coat_stage_shows_the_sheet_it_goes_by(cast: Cast) -> None:
    coat = stage(cast, "coat")
    coat.coats, coat.coats_a_day = 5, 2
    coat.save()
    text = text_of(client_of(cast).get(scheme_page(cast)))
    assert (
        "5 coats, two on a warm day. No sheet: as for a solvent-free epoxy: next coat from 6 to 36 h" in text
    )
    coat.sheet = CoatingSheet.objects.create(
        yard=cast.yard, name="slow epoxy", recoat_max_h_20=72, source="tin"
    )
    coat.save()
    text = text_of(client_of(cast).get(scheme_page(cast)))
    assert "Slow epoxy: next coat from 6 to 72 h, full cure 144 h at 20 °C; hull from 12 °C (tin)." in text


@pytest.mark.parametrize(
    ("role", "sees", "changes"), [("manager", True, True), ("office", True, False), ("crew", False, False)]
)
def test_the_crew_see_no_money_and_only_the_manager_may_change(
    cast: Cast, role: str, sees: bool, changes: bool
) -> None:
    coat = stage(cast, "coat")
    coat.breaks_allowed, coat.break_money = 1, 150
    coat.save()
    client = client_of(cast, role)
    text = client.get(scheme_page(cast)).content.decode()
    assert ("1 window may break, £150 each" in text) == sees
    assert "1 window may break" in text
    for page in (text, client.get("/quiet-creek/norms/").content.decode()):
        assert ("Change" in page) == changes


def test_a_retired_scheme_and_sheet_leave_the_lists(cast: Cast) -> None:
    CoatingSheet.objects.create(yard=cast.yard, name="old epoxy", retired_on=TODAY)
    Scheme.objects.filter(pk=cast.scheme.pk).update(retired_on=TODAY)
    assert "No scheme yet." in text_of(client_of(cast).get("/quiet-creek/schemes/"))
    assert "old epoxy" not in text_of(client_of(cast).get("/quiet-creek/norms/"))


def test_the_wall_leads_the_manager_there(cast: Cast) -> None:
    assert 'href="/quiet-creek/schemes/"' in client_of(cast).get("/quiet-creek/wall/").content.decode()


@pytest.mark.parametrize("more", [0, 12])
def test_a_scheme_takes_a_fixed_number_of_queries(
    cast: Cast, more: int, django_assert_num_queries: Any
) -> None:
    for number in range(more):
        norm = StageNormFactory(scheme=cast.scheme, position=100 + number)
        skill = Skill.objects.create(yard=cast.yard, name=f"skill {number}")
        Demand.objects.create(scheme_stage=norm, skill=skill, hours_fixed=1)
    client = client_of(cast)
    with django_assert_num_queries(7):  # session, account, membership, scheme, stages, demands, norms
        client.get(scheme_page(cast))


# --- Changing a stage -------------------------------------------------------------------------------------
def test_the_manager_changes_a_stages_norms_and_the_history_knows(cast: Cast) -> None:
    client, sheet = client_of(cast), CoatingSheet.objects.create(yard=cast.yard, name="plain epoxy")
    form = form_on(client, stage_page(cast, "coat"))
    form |= {"days_low": "4", "days_likely": "5,5", "days_high": "7", "wait_max_d": "3", "coats": "5"}
    form |= {"sheet": str(sheet.pk), "breaks_allowed": "1", "break_money": "150", "source": "our boats"}
    page = client.post(stage_page(cast, "coat"), form, follow=True)
    coat = stage(cast, "coat")
    assert page.redirect_chain == [(f"{scheme_page(cast)}#stage-{coat.pk}", 302)]
    assert "Saved: coat." in text_of(page)
    assert "4 to 7 working days, likely 5.5; waits 0 to 3 days" in text_of(page)
    assert (coat.coats, coat.sheet, coat.break_money, coat.source) == (5, sheet, 150, "our boats")
    assert Entry.objects.get(action="save_scheme_stage").after["source"] == "our boats"


def test_the_manager_changes_what_a_stage_demands(cast: Cast) -> None:
    client, demand = client_of(cast), stage(cast, "peel").demands.get()
    form = form_on(client, stage_page(cast, "peel")) | {"source": "our boats"}
    assert form[f"hours_per_m2_{demand.pk}"] == "1"
    form |= {f"hours_per_m2_{demand.pk}": "0,35", f"hours_fixed_{demand.pk}": "8"}
    assert client.post(stage_page(cast, "peel"), form).status_code == 302
    demand.refresh_from_db()
    assert (float(demand.hours_fixed), float(demand.hours_per_m2)) == (8, 0.35)


def test_a_form_that_is_sent_back_as_it_was_changes_nothing(cast: Cast) -> None:
    client = client_of(cast)
    cast.scheme.stages.update(source="common practice")
    assert client.post(stage_page(cast, "coat"), form_on(client, stage_page(cast, "coat"))).status_code == 302
    assert Scheme.objects.get(pk=cast.scheme.pk).version == 1
    assert not Entry.objects.filter(action="save_scheme_stage").exists()


def test_only_a_coat_stage_is_asked_for_coats(cast: Cast) -> None:
    client = client_of(cast)
    assert "coats" in form_on(client, stage_page(cast, "coat"))
    assert not {"coats", "sheet"} & form_on(client, stage_page(cast, "peel")).keys()


def test_each_wrong_field_says_what_to_type_and_nothing_typed_is_lost(cast: Cast) -> None:
    client = client_of(cast)
    form = form_on(client, stage_page(cast, "coat"))
    form |= {"days_low": "two", "coats": "5,5", "wait_min_d": "", "source": "", "days_high": "9"}
    page = client.post(stage_page(cast, "coat"), form)
    text = page.content.decode()
    assert page.status_code == 422
    assert "<title>Error: " in text
    for name, says in {
        "days_low": "Type a number like 6 or 6,5.",
        "coats": "Type a whole number like 4; 0 for none.",
        "wait_min_d": "Type a number; 0 for none.",
        "source": "Say where the figures come from: your own boats, or whose practice.",
    }.items():
        assert f'<span class="wrong" id="{name}-wrong">{says}</span>' in text
        assert f'<a href="#{name}">' in text
        assert re.search(rf'id="{name}"[^>]*aria-describedby="{name}-wrong[^>]*aria-invalid="true"', text)
    assert 'name="days_low" id="days_low" value="two"' in text
    assert 'name="days_high" id="days_high" value="9"' in text
    assert "Stands now: 1." in text
    assert stage(cast, "coat").days_high == 1


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"days_low": "9"}, "days_low", "Days must run from low over likely to high."),
        ({"coats": "13"}, "coats", "Coats must be between 0 and 12."),
        ({"coats_a_day": "3"}, "coats_a_day", "Coats a day must be between 1 and 2."),
        (
            {"wait_min_d": "5", "wait_max_d": "4"},
            "wait_min_d",
            "The greatest wait must not be below the least.",
        ),
        ({"break_money": "-1"}, "break_money", "Break must be 0 or more."),
        ({"sheet": "999999"}, "sheet", "Choose one of the list."),
    ],
)
def test_what_the_records_refuse_stands_beside_the_field(
    cast: Cast, typed: dict[str, str], field: str, says: str
) -> None:
    client = client_of(cast)
    form = form_on(client, stage_page(cast, "coat")) | {"source": "ours"} | typed
    page = client.post(stage_page(cast, "coat"), form)
    assert page.status_code == 422
    assert f'id="{field}-wrong">{says}</span>' in page.content.decode()


def test_a_demand_without_hours_is_refused_beside_its_field(cast: Cast) -> None:
    client, demand = client_of(cast), stage(cast, "peel").demands.get()
    form = form_on(client, stage_page(cast, "peel")) | {"source": "ours", f"hours_per_m2_{demand.pk}": "0"}
    page = client.post(stage_page(cast, "peel"), form)
    assert page.status_code == 422
    assert f'id="hours_fixed_{demand.pk}-wrong">peel: A demand needs hours' in page.content.decode()


def test_the_second_to_save_an_old_version_sees_what_stands_now_and_may_save_again(cast: Cast) -> None:
    first, second = client_of(cast), client_of(cast)
    form = form_on(first, stage_page(cast, "coat")) | {"source": "ours"}
    assert first.post(stage_page(cast, "coat"), form | {"days_high": "8"}).status_code == 302
    page = second.post(stage_page(cast, "coat"), form | {"days_high": "6", "days_likely": "2"})
    text = page.content.decode()
    assert page.status_code == 409
    assert "Somebody changed this in the meantime" in text
    assert 'id="days_high" value="6"' in text
    assert "Stands now: 8." in text
    assert stage(cast, "coat").days_high == 8
    again = dict(re.findall(r'<input type="hidden" name="(version)" value="(\d+)"', text))
    assert second.post(stage_page(cast, "coat"), form | {"days_high": "6"} | again).status_code == 302
    assert stage(cast, "coat").days_high == 6


@pytest.mark.parametrize("version", ["", "x", "-1", "9" * 40])
def test_a_form_with_no_version_saves_over_nothing(cast: Cast, version: str) -> None:
    client = client_of(cast)
    form = form_on(client, stage_page(cast, "coat")) | {
        "source": "ours",
        "days_high": "9",
        "version": version,
    }
    assert client.post(stage_page(cast, "coat"), form).status_code == 409
    assert stage(cast, "coat").days_high == 1


# --- Norms of drying --------------------------------------------------------------------------------------
def test_every_regime_shows_its_half_life_and_common_practice(cast: Cast) -> None:
    text = text_of(client_of(cast, "crew").get("/quiet-creek/norms/"))
    for says in ("60 to 90 days", "40 to 60 days", "16 to 27 days", "2 to 4 days"):
        assert says in text
    assert text.count("The yard has none of its own") == 4


def test_the_manager_gives_a_regime_the_yards_own_half_life_and_changes_it(cast: Cast) -> None:
    client, address = client_of(cast), "/quiet-creek/norms/drying/tent/"
    form = form_on(client, address)
    assert (form["half_life_low_d"], form["half_life_high_d"], form["version"]) == ("16", "27", "")
    form |= {
        "half_life_low_d": "10",
        "half_life_likely_d": "12,5",
        "half_life_high_d": "15",
        "source": "ours",
    }
    page = client.post(address, form, follow=True)
    assert "10 to 15 days, likely 12.5, at 28 °C" in text_of(page)
    assert page.redirect_chain[-1][0] == "/quiet-creek/norms/#tent"
    assert client.post(address, form | {"half_life_low_d": "9"}).status_code == 409
    again = form_on(client, address) | {"half_life_low_d": "9"}
    assert client.post(address, again).status_code == 302
    assert RegimeNorm.objects.get(yard=cast.yard).half_life_low_d == 9


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"at_c": "82"}, "at_c", "as Fahrenheit it would be 27.8 °C"),
        ({"half_life_low_d": "30"}, "half_life_low_d", "Half-lives must run from low over likely to high."),
        ({"half_life_low_d": "0"}, "half_life_low_d", "must be more than 0."),
        ({"source": " "}, "source", "Say where the figures come from"),
    ],
)
def test_a_half_life_that_cannot_be_is_refused_or_asked_about(
    cast: Cast, typed: dict[str, str], field: str, says: str
) -> None:
    client, address = client_of(cast), "/quiet-creek/norms/drying/tent/"
    page = client.post(address, form_on(client, address) | typed)
    assert page.status_code == 422
    wrong = re.findall(rf'id="{field}-wrong">(.*?)</span>', page.content.decode())
    assert [says in sentence for sentence in wrong] == [True]
    assert not RegimeNorm.objects.exists()


def test_a_regime_that_is_none_is_not_found(cast: Cast) -> None:
    assert client_of(cast).get("/quiet-creek/norms/drying/oven/").status_code == 404


# --- Coating sheets ---------------------------------------------------------------------------------------
def test_the_manager_adds_a_sheet_and_changes_it(cast: Cast) -> None:
    client, new = client_of(cast), "/quiet-creek/norms/sheet/"
    form = form_on(client, new) | {"name": "slow epoxy", "recoat_max_h_20": "72", "source": "its tin"}
    page = client.post(new, form, follow=True)
    sheet = CoatingSheet.objects.get(yard=cast.yard)
    assert page.redirect_chain[-1][0] == f"/quiet-creek/norms/#sheet-{sheet.pk}"
    assert "72 hours at 20 °C 24 to 48, common practice" in text_of(page)
    assert "Where these come from: Its tin." in text_of(page)
    own = f"{new}{sheet.pk}/"
    assert client.post(own, form_on(client, own) | {"film_um": "110"}).status_code == 302
    sheet.refresh_from_db()
    assert sheet.film_um == 110


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"name": ""}, "name", "Give the sheet a name."),
        ({"least_c": "50"}, "least_c", "as Fahrenheit it would be 10.0 °C"),
        ({"recoat_min_h_20": "40"}, "recoat_min_h_20", "last hour must come after its first"),
        ({"film_um": "0"}, "film_um", "must be more than 0."),
        ({"solids_pct": "101"}, "solids_pct", "Solids [%] must be more than 0 and at most 100."),
    ],
)
def test_a_sheet_that_cannot_be_is_refused_beside_its_field(
    cast: Cast, typed: dict[str, str], field: str, says: str
) -> None:
    client, new = client_of(cast), "/quiet-creek/norms/sheet/"
    page = client.post(new, form_on(client, new) | {"name": "epoxy", "source": "its tin"} | typed)
    assert page.status_code == 422
    wrong = re.findall(rf'id="{field}-wrong">(.*?)</span>', page.content.decode())
    assert [says in sentence for sentence in wrong] == [True]
    assert not CoatingSheet.objects.exists()


def test_the_second_to_save_an_old_sheet_is_told(cast: Cast) -> None:
    client, sheet = client_of(cast), CoatingSheet.objects.create(yard=cast.yard, name="epoxy", source="tin")
    address = f"/quiet-creek/norms/sheet/{sheet.pk}/"
    form = form_on(client, address)
    assert client.post(address, form | {"film_um": "110"}).status_code == 302
    page = client.post(address, form | {"film_um": "140"})
    assert page.status_code == 409
    assert "Stands now: 110." in text_of(page)
