"""Cautions: every kind of work that can hurt someone has some, each from a named body, the gravest first."""

from __future__ import annotations

import pytest

from yard.models import StageKind
from yard.trade.cautions import CAUTIONS, DEFER, Gravity, cautions_for

HARMLESS = {StageKind.WAIT}
"""Kinds of stages in which nobody works."""


@pytest.mark.parametrize("kind", [kind for kind in StageKind if kind not in HARMLESS])
def test_every_kind_of_work_has_a_caution_from_a_named_body(kind: StageKind) -> None:
    assert cautions_for(kind.value)
    for caution in cautions_for(kind.value):
        assert caution.issuer.strip()
        assert caution.says.endswith(".")
        assert len(caution.says) <= 110


def test_no_caution_is_kept_under_a_kind_that_no_stage_can_have() -> None:
    assert set(CAUTIONS) == set(StageKind.values) - {kind.value for kind in HARMLESS}


def test_every_list_says_that_local_rules_and_the_competent_person_decide() -> None:
    assert DEFER == "Local rules and the competent person decide."


@pytest.mark.parametrize("kind", sorted(CAUTIONS))
def test_a_card_that_shows_two_lines_shows_the_gravest_two(kind: str) -> None:
    gravities = [caution.gravity for caution in cautions_for(kind)]
    assert gravities == sorted(gravities)
    assert len(set(cautions_for(kind))) == len(gravities)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        # What a yard manager adds from practice to the printed guidance.
        ("dry", "overheat cut-out, detector, a residual-current device on each circuit"),
        ("dry", "the insurer's word and a named watch"),
        ("dry", "works alone"),
        ("dry", "within four hours of solvent"),
        ("dry", "never left unattended"),
        ("coat", "within four hours of solvent"),
        ("fair", "test is no older than 14 months"),
        ("peel", "face-fit test is of the last two years"),
        ("blast", "stops work next door"),
        # The wet, the heat after coating, resin by hand, and the tide.
        ("wash", "30 mA residual-current device"),
        ("peel", "30 mA residual-current device"),
        ("cure", "Heaters left at night"),
        ("laminate", "Peroxide catalyst blinds"),
        ("fair", "sensitises as wet resin does"),
        ("lift", "Heights of tide are for planning only"),
        ("relaunch", "Heights of tide are for planning only"),
    ],
)
def test_what_is_known_to_hurt_people_stands_on_the_card(kind: str, words: str) -> None:
    assert any(words in caution.says for caution in cautions_for(kind))


def test_what_can_kill_comes_before_what_only_spoils_work() -> None:
    assert cautions_for("lift")[0].gravity == Gravity.KILLS
    assert cautions_for("lift")[-1].gravity == Gravity.SPOILS
