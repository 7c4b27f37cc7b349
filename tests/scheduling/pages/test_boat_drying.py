"""A boat's page draws her drying and says the same in words."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any
from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from scheduling.loading.drypicture import DryPicture, Edge, Mark, Span, picture_of
from scheduling.models import Board
from scheduling.pages.drying_scale import (
    NARROW,
    WIDE,
    Scale,
    Shape,
    apart,
    scale_of,
    step_of,
    ticks,
    width_of,
)
from scheduling.pages.drying_svg import draw
from scheduling.pages.drying_words import DryingWords, drying_words, in_ten, suspects
from tests.cast import TODAY, Cast
from tests.scheduling.drying_boat import DryingBoat
from yard.models import Scheme, Spot, Treatment
from yard.trade.spots import Suspect

DAY = timedelta(days=1)
SVG = "{http://www.w3.org/2000/svg}"
SHAPES = pytest.mark.parametrize("shape", [WIDE, NARROW], ids=lambda shape: shape.name)


@pytest.fixture
def her(db: None, settings: Any) -> DryingBoat:
    settings.SHEDTIDE_TODAY = TODAY
    return DryingBoat(Cast())


def page(her: DryingBoat, role: str = "manager") -> str:
    client = Client()
    client.force_login(her.cast.actors[role].user)
    answer = client.get(f"/quiet-creek/boat/{her.cast.boat.pk}/")
    assert answer.status_code == 200
    return answer.content.decode()


def said(her: DryingBoat) -> DryingWords:
    return drying_words(her.drying(), Treatment.objects.get(pk=her.treatment.pk).state)


def picture(**fields: Any) -> DryPicture:
    """Two rounds, 47 and 31, a target of 18, from 1 November to 1 February."""
    told: dict[str, Any] = {
        "name": "Teasel",
        "meter": "deep meter",
        "scale": (0.0, 100.0),
        "today": TODAY,
        "first": date(2026, 11, 1),
        "last": date(2027, 2, 1),
        "marks": (Mark(date(2026, 11, 10), 47.0), Mark(TODAY, 31.0)),
        "hollow": (Mark(date(2026, 11, 3), 52.0, "washed too late"),),
        "spots": ((TODAY, 31.0), (TODAY, 27.0)),
        "band": (
            Edge(date(2026, 11, 10), 45, 47, 49), Edge(TODAY, 29, 31, 33), Edge(date(2027, 2, 1), 13, 15, 17),
        ),
        "target": 18.0,
        "topside": 14.0,
        "washes": (date(2026, 11, 2),),
        "spans": (
            Span(date(2026, 11, 5), TODAY, "H1", "tent", False),
            Span(TODAY + DAY, date(2026, 12, 24), "P1", "weather", True),
        ),
        "odds": ((0.1, date(2026, 12, 20)), (0.5, date(2026, 12, 27)), (0.9, date(2027, 1, 10))),
        "coat_on": date(2027, 1, 25),
        "signed_on": None,
    }  # fmt: skip
    return DryPicture(**{**told, **fields})


ODD_PICTURES: dict[str, DryPicture] = {
    "plain": picture(),
    "without a forecast": picture(band=(), odds=(), target=None, topside=None, spans=()),
    "signed": picture(signed_on=TODAY, odds=(), last=TODAY + 5 * DAY, coat_on=TODAY + 3 * DAY),
    "all days at the end": picture(
        odds=tuple((p, date(2027, 2, 1)) for p in (0.1, 0.5, 0.9)), coat_on=date(2027, 2, 1)
    ),
    "all days now": picture(odds=tuple((p, TODAY) for p in (0.1, 0.5, 0.9)), first=TODAY - DAY),
    "a day never reached": picture(odds=((0.1, date(2027, 1, 30)), (0.5, None), (0.9, None))),
    "one flat level": picture(
        marks=(Mark(TODAY, 18.0),), hollow=(), spots=(), band=(), target=18.0, topside=18.0
    ),
    "a band that bursts its field": picture(
        band=(Edge(TODAY, -900, 31, 1e6), Edge(TODAY + DAY, -900, 30, 1e6))
    ),
    "a scale to a thousand": picture(marks=(Mark(TODAY, 940.0),), scale=(0.0, 1000.0)),
    "many washes and moves": picture(
        washes=tuple(date(2026, 11, 1) + 2 * n * DAY for n in range(20)),
        spans=tuple(
            Span(date(2026, 11, 1) + n * DAY, date(2026, 11, 1) + n * DAY, f"bay {n}", "cold", n > 23)
            for n in range(90)
        ),
    ),
    "a name that is no name": picture(
        name='<script>&"',
        hollow=(Mark(TODAY, 40.0, 'a < b & "c"'),),
        spans=(Span(TODAY, TODAY, "<b>", "tent", False),),
    ),
}  # fmt: skip
PICTURES = pytest.mark.parametrize("drawn", ODD_PICTURES.values(), ids=ODD_PICTURES.keys())


# --- The scale --------------------------------------------------------------------------------------------
def test_days_and_readings_fall_on_the_edges_and_middle_of_the_field() -> None:
    scale = Scale(Shape("test", 140, 200, left=30, right=10), date(2026, 11, 1), date(2026, 11, 11), 10, 50)
    assert [scale.x(date(2026, 11, day)) for day in (1, 6, 11)] == [30, 80, 130]
    assert [scale.y(reading) for reading in (10, 30, 50)] == [
        scale.shape.foot,
        (scale.shape.foot + scale.shape.top) / 2,
        scale.shape.top,
    ]


def test_what_lies_beyond_the_field_is_drawn_on_its_edge() -> None:
    scale = Scale(WIDE, date(2026, 11, 1), date(2026, 11, 1), 10, 50)
    assert scale.y(1e6) == WIDE.top
    assert scale.y(-5) == WIDE.foot
    assert scale.x(date(2026, 10, 1)) == WIDE.left
    assert scale.x(date(2027, 10, 1)) == WIDE.width - WIDE.right


@pytest.mark.parametrize(("width", "step"), [(0, 1), (6, 1), (7, 2), (30, 5), (31, 10), (60, 10), (500, 100)])
def test_the_scale_is_parted_by_a_round_step_in_six_at_most(width: float, step: int) -> None:
    assert step_of(width) == step


def test_the_scale_holds_rounds_spots_target_and_topside_but_not_the_bands_edges() -> None:
    # 14 to 52 is parted by 10: from 10 to 60, with room over the highest for the washes.
    scale = scale_of(picture(), WIDE)
    assert (scale.low, scale.high) == (10, 60)
    burst = picture(band=(Edge(TODAY, -900, 31, 1e6),))
    assert (scale_of(burst, WIDE).low, scale_of(burst, WIDE).high) == (10, 60)


def test_words_that_would_overlap_are_moved_apart_and_kept_inside() -> None:
    assert apart([50, 100], [20, 20], 0, 200) == [50, 100]
    assert apart([50, 55], [20, 20], 0, 200) == [50, 70]
    assert apart([190, 195], [20, 20], 0, 200) == [170, 190]
    assert apart([2], [20], 0, 200) == [10]
    assert apart([], [], 0, 200) == []


def test_months_are_marked_by_their_firsts_and_a_short_time_by_each_second_monday() -> None:
    assert [words for _, words in ticks(date(2026, 11, 1), date(2027, 2, 1))] == [
        "1 Nov",
        "1 Dec",
        "1 Jan",
        "1 Feb",
    ]
    assert [words for _, words in ticks(date(2026, 11, 1), date(2026, 12, 1))] == [
        "2 Nov",
        "16 Nov",
        "30 Nov",
    ]


# --- The drawing ------------------------------------------------------------------------------------------
def elements(svg: str) -> list[ElementTree.Element]:
    """All that is drawn, without the textures."""
    root = ElementTree.fromstring(svg)  # noqa: S314 (our own)
    hidden = {one for defs in root.iter(f"{SVG}defs") for one in defs.iter()}
    return [one for one in root.iter() if one not in hidden]


@SHAPES
@PICTURES
def test_the_drawing_is_xml_without_a_style_and_named_for_those_who_do_not_see_it(
    drawn: DryPicture, shape: Shape
) -> None:
    svg = draw(drawn, shape, "31 & <falling>")
    root = ElementTree.fromstring(svg)  # noqa: S314 (our own)
    assert root.get("role") == "img"
    named = {one.get("id"): one.text for one in root if one.tag in (f"{SVG}title", f"{SVG}desc")}
    assert [named[name] for name in (root.get("aria-labelledby") or "").split()] == [
        f"How {drawn.name} dries",
        "31 & <falling>",
    ]
    assert not [one for one in root.iter() if one.get("style") or one.tag in (f"{SVG}style", f"{SVG}script")]
    names = [one.get("id") for one in root.iter() if one.get("id")]
    assert len(names) == len(set(names))


@SHAPES
@PICTURES
def test_nothing_lies_outside_the_drawing(drawn: DryPicture, shape: Shape) -> None:
    for one in elements(draw(drawn, shape, "x")):
        at = {name: value for name, value in one.attrib.items() if name != "viewBox"}
        xs = [float(at[name]) for name in ("x", "x1", "x2", "cx") if name in at]
        ys = [float(at[name]) for name in ("y", "y1", "y2", "cy") if name in at]
        for x, y in re.findall(r"(-?[\d.e+]+),(-?[\d.e+]+)", at.get("points", "")):
            xs.append(float(x))
            ys.append(float(y))
        for x, y in re.findall(r"M(-?[\d.]+) (-?[\d.]+)", at.get("d", "")):
            xs.append(float(x))
            ys.append(float(y))
        if one.tag == f"{SVG}rect":
            xs.append(float(at["x"]) + float(at["width"]))
            ys.append(float(at["y"]) + float(at["height"]))
        if one.tag == f"{SVG}text":
            width = width_of(one.text or "", shape)
            before = {"middle": width / 2, "end": width}.get(at.get("text-anchor", ""), 0.0)
            xs += [xs[0] - before, xs[0] - before + width]
            ys.append(ys[0] - shape.letters)
        assert all(0 <= x <= shape.width for x in xs), (one.tag, one.text, at)
        assert all(0 <= y <= shape.height for y in ys), (one.tag, one.text, at)


@SHAPES
def test_rounds_are_points_those_left_out_rings_and_spots_specks(shape: Shape) -> None:
    drawn = elements(draw(picture(), shape, "x"))
    circles = [one for one in drawn if one.tag == f"{SVG}circle"]
    assert [one.get("fill") for one in circles] == ["#fff", "#14233a", "#14233a"]
    assert [title.text for one in circles for title in one] == [
        "3 Nov: 52, left out: washed too late",
        "10 Nov: 47",
        "24 Nov: 31",
    ]
    scale = scale_of(picture(), shape)
    assert (circles[2].get("cx"), circles[2].get("cy")) == (str(scale.x(TODAY)), str(scale.y(31)))
    specks = [one.get("d", "") for one in drawn if one.tag == f"{SVG}path" and "h.01" in one.get("d", "")]
    assert [path.count("M") for path in specks] == [2]


@SHAPES
def test_days_target_moves_and_odds_are_written_into_the_drawing(shape: Shape) -> None:
    words = [one.text for one in elements(draw(picture(), shape, "x")) if one.tag == f"{SVG}text"]
    for told in (
        "today 24 Nov",
        "first coat 25 Jan",
        "washed 2 Nov",
        "target 18",
        "dry topside 14",
        "tent H1",
    ):
        assert told in words
    for told in ("1 in 10", "by 20 Dec", "1 in 2", "by 27 Dec", "9 in 10", "by 10 Jan"):
        assert told in words
    assert {"wide": "heat since 5 Nov", "narrow": "5 Nov"}[shape.name] in words


def test_planned_days_have_a_dashed_edge_and_each_regime_its_own_texture() -> None:
    drawn = elements(draw(picture(), WIDE, "x"))
    strip = [one for one in drawn if (one.get("fill") or "").startswith("url(")]
    assert [(one.get("fill"), one.get("stroke-dasharray")) for one in strip] == [
        ("url(#drying-wide-tent)", None),
        ("url(#drying-wide-weather)", "3 2"),
    ]
    assert [one[0].text for one in strip] == [
        "tent, bay H1, 5 Nov to 24 Nov",
        "weather, bay P1, 25 Nov to 24 Dec, planned",
    ]


# --- The words --------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("p", "words"),
    [
        (0.04, "less than 1 in 20"),
        (0.1, "1 in 10"),
        (0.5, "1 in 2"),
        (0.72, "7 in 10"),
        (0.9, "9 in 10"),
        (0.96, "better than 19 in 20"),
    ],
)
def test_odds_are_said_as_a_person_says_them(p: float, words: str) -> None:
    assert in_ten(p) == words


def test_where_she_is_comes_first_then_the_last_round_and_her_target(her: DryingBoat) -> None:
    assert said(her).first == (
        "She stands in a tent in bay H1, with heat since Tue 10 Nov; before that in the weather in bay P1 "
        "from 24 Oct.",
        "The last round, on Tue 24 Nov: 90 % of 2 spots read 31 or less, the mean was 29; 7 days before it "
        "was 38 (deep meter, deep).",
        "Her target is 18, 4 over her dry topside (14): 13 to go.",
    )


def test_the_odds_are_the_days_of_her_forecast_in_one_sentence(her: DryingBoat) -> None:
    drying = her.drying()
    early, middle, late = (f"{day.day} {day:%b}" for day in drying.days if day)
    assert said(her).odds == (
        f"Odds that she is at her target: 1 in 10 by {early}, 1 in 2 by {middle}, 9 in 10 by {late}.",
    )


def test_the_plan_and_the_odds_at_her_first_coat_are_said(her: DryingBoat) -> None:
    drying = her.drying()
    assert drying.odds_at_coat is not None
    more = said(her).more
    assert more[0] == (
        "The posted plan has her dry in a tent in bay H1 to 6 Dec and in the weather in bay P1 from 7 Dec to "
        "20 Jan."
    )
    late = drying.days[-1]
    assert late is not None
    stays = "After 20 Jan the forecast leaves her where she is then."
    assert (stays in more) == (late > date(2027, 1, 20))
    chance = in_ten(drying.odds_at_coat)
    assert f"The first coat is planned for Mon 1 Feb; the odds that she is dry then are {chance}." in more
    assert more[-1] == "Washed on 20 Oct and 27 Oct; each wash starts the drying anew."
    Board.objects.update(posted=None)
    assert said(her).more[0].startswith("No posted plan says where she dries next")


def test_what_the_forecast_rests_on_and_what_it_leaves_out_is_said(her: DryingBoat) -> None:
    words = said(her)
    assert words.rests_on[0].startswith("4 rounds of her own since 3 Nov: she dries at ")
    assert words.rests_on[1].startswith(
        "Before her rounds: No finished boats yet: a half-life of 16 to 27 days"
    )
    assert words.left_out == (
        "Round of 24 Oct: she was washed on 27 Oct 2026, which starts the drying anew.",
        "Round of 28 Oct: she was washed on 27 Oct 2026, less than 48 h before.",
    )


def test_a_plateau_is_called_one_with_its_advice(db: None, settings: Any) -> None:
    settings.SHEDTIDE_TODAY = TODAY
    flat = {date(2026, 11, 3) + 7 * n * DAY: 40 for n in range(4)}
    warned = said(DryingBoat(Cast(), flat)).warns
    assert any(
        "Waiting won't dry her: wash again, peel deeper, or ask the surveyor." in one for one in warned
    )


def test_a_boat_that_may_never_get_there_is_said_so_without_a_made_up_day(db: None, settings: Any) -> None:
    settings.SHEDTIDE_TODAY = TODAY
    her = DryingBoat(Cast(), {date(2026, 11, 3) + 7 * n * DAY: 40 for n in range(4)})
    assert her.drying().days[-1] is None
    (told,) = said(her).odds
    assert told.endswith("not within the next ten months.")
    assert "9 in 10 by" not in told


def test_suspect_spots_are_named_those_of_one_advice_together() -> None:
    tank = ": a tank behind it? Excuse it by name."
    again = Suspect("S3", TODAY, 9.0, "S3 read 9 on 24 Nov 2026, where 30 was due: read it again.")
    found = [
        Suspect(spot, TODAY, value, f"{spot} reads {value:g}{tank}")
        for spot, value in (("K1", 80.0), ("K2", 82.0))
    ]
    assert suspects([*found, again]) == [
        "On 24 Nov K1 (80) and K2 (82) read unlike the rest: a tank behind it? Excuse it by name.",
        again.says,
    ]
    assert suspects([again]) == [again.says]


def test_signed_dry_it_says_by_whom_when_and_which_spots_were_excused(her: DryingBoat) -> None:
    her.sign(TODAY, note="all agree", excused=[{"spot": "S1", "why": "keel stub"}])
    words = said(her)
    assert words.first[:2] == (
        "She was signed dry on Tue 24 Nov by Foreman: all agree.",
        "Spots excused: S1 (keel stub).",
    )
    assert (words.odds, words.rests_on) == ((), ())


@pytest.mark.parametrize(
    ("levels", "says"),
    [
        (
            {},
            "No round of moisture readings is in yet. The first round that counts is that of Sun 1 Nov or "
            "later.",
        ),
        (
            {date(2026, 10, 24): 56},
            "No round since her wash of Tue 27 Oct can be used yet. Take the next one now",
        ),
    ],
)
def test_without_a_round_that_counts_it_says_so_and_what_to_do(
    db: None, settings: Any, levels: dict[date, int], says: str
) -> None:
    settings.SHEDTIDE_TODAY = TODAY
    her = DryingBoat(Cast(), levels)
    (told,) = said(her).first
    assert told.startswith(says)
    assert "Read every marked spot once a week" in told
    text = page(her)
    assert says in text
    assert "drying-wide" not in text


def test_a_boat_still_to_be_peeled_is_told_when_her_drying_begins(her: DryingBoat) -> None:
    her.set("peel", status="waiting", started_on=None, finished_on=None)
    (told,) = said(her).first
    assert told.startswith("She is still to be peeled, blasted or washed")
    assert "What was read before that does not tell how she will dry." in told


def test_without_target_and_topside_it_asks_for_them(her: DryingBoat) -> None:
    Scheme.objects.update(target_reading=None)
    Treatment.objects.update(target_reading=None)
    Spot.objects.filter(code="T1").update(is_reference=False)
    words = said(her)
    assert any("read two to four spots there, or set a target" in one for one in words.warns)
    assert words.odds == ()
    assert picture_of(her.drying(), "Teasel") is not None


# --- The page ---------------------------------------------------------------------------------------------
def test_the_page_has_two_drawings_the_words_and_the_rounds(her: DryingBoat) -> None:
    text = page(her)
    svgs = re.findall(r'<svg class="drying-.*?</svg>', text, re.S)
    assert [ElementTree.fromstring(svg).get("class") for svg in svgs] == [  # noqa: S314 (our own)
        "drying-wide",
        "drying-narrow",
    ]
    words = said(her)
    for one in (*words.first, *words.odds, *words.more, *words.left_out):
        assert one in text
    assert "The rounds in figures (6)" in text
    assert "no: she was washed on 27 Oct 2026, less than 48 h before." in text
    assert re.search(r"Still missing for signing dry: \d of 10 parts", text)
    assert not re.search(r"<style|\sstyle=|<script", text)


def test_the_crew_see_her_drying_without_owner_promise_or_money(her: DryingBoat) -> None:
    text = page(her, "crew")
    assert "drying-wide" in text
    assert "Odds that she is at her target" in text
    for hidden in ("Her Owner", "romise", "£"):
        assert hidden not in text


def test_a_signed_boat_is_not_asked_what_is_missing(her: DryingBoat) -> None:
    her.sign(TODAY)
    text = page(her)
    assert "She was signed dry on Tue 24 Nov by Foreman." in text
    assert "Still missing" not in text
    assert "signed dry 24 Nov" in text


def test_more_rounds_cost_no_query_more_and_the_page_keeps_to_36(her: DryingBoat) -> None:
    """Of them 8 read what was measured, 7 what a signature needs and 3 the hoist, for one boat alone."""
    client = Client()
    client.force_login(her.cast.manager.user)
    address = f"/quiet-creek/boat/{her.cast.boat.pk}/"
    counts = []
    for day in (TODAY - 4 * DAY, TODAY - 2 * DAY):
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        counts.append(len(queries))
        her.read(day, {"P1": 35, "S1": 31})
    assert counts[0] == counts[1] <= 36
