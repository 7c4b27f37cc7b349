"""What is wrong or doubtful with a tide table is found by water."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from yard.trade.tides import Water
from yard.trade.tidetable import WaterDoubt, doubts_about_waters, impossible

START = datetime(2027, 4, 1, 4, 10, tzinfo=UTC)


def table(*rows: tuple[float, float, str]) -> list[Water]:
    """Waters from hours after the first, heights [m] and words."""
    return [
        Water(START + timedelta(hours=hours), height, {"high": True, "low": False}.get(word))
        for hours, height, word in rows
    ]


def ordinary(*changed: tuple[int, tuple[float, float, str] | None]) -> list[Water]:
    """Eight ordinary waters, some changed or (None) taken out."""
    rows: dict[int, tuple[float, float, str] | None] = {
        number: (6.2 * number, 5.2 if number % 2 else 1.0, "high" if number % 2 else "low")
        for number in range(8)
    }
    return table(*(row for row in (rows | dict(changed)).values() if row))


def brief(found: list[WaterDoubt]) -> list[tuple[int, int | None, str]]:
    return [(doubt.number, doubt.other, doubt.doubt.field) for doubt in found]


def test_an_ordinary_table_raises_nothing() -> None:
    assert impossible(ordinary()) == []
    assert doubts_about_waters(ordinary()) == []


@pytest.mark.parametrize(
    ("waters", "found", "says"),
    [
        (ordinary((3, (18.6, 17.1, "high"))), [(3, None, "height_m")], "reads like feet (5.21 m)"),
        (ordinary((3, (18.6, float("nan"), "high"))), [(3, None, "height_m")], "higher than any tide"),
        (ordinary((4, (19.4, 1.0, "low"))), [(4, 3, "time")], "only 48 min after the water before it"),
        (ordinary((4, (24.8, 1.0, "high"))), [(4, 3, "water")], "this one of 1 m is far"),
        (ordinary((3, (18.6, 0.9, "high"))), [(2, 3, "water"), (3, 2, "water"), (4, 3, "water")], "swapped"),
        (
            ordinary((3, (18.6, 1.0, "high")), (4, (24.8, 5.2, "low"))),
            [(2, 3, "water"), (3, 2, "water"), (4, 3, "water"), (5, 4, "water")],
            "swapped",
        ),
    ],
)
def test_what_cannot_be_is_found_with_the_water_it_goes_against(
    waters: list[Water], found: list[tuple[int, int | None, str]], says: str
) -> None:
    told = impossible(waters)
    assert brief(told) == found
    assert says in " ".join(doubt.doubt.says for doubt in told)


@pytest.mark.parametrize(
    ("waters", "found", "says"),
    [
        (ordinary((4, None)), [(4, 3, "time")], "No low water in the 12.4 h before it"),
        (ordinary((3, None), (4, None)), [(3, 2, "time")], "18.6 h without a water before it: the table has"),
        (ordinary((0, (-4.0, 1.0, "low"))), [(1, 0, "time")], "10.2 h without a water before it: is one"),
        (ordinary((4, (24.8, -2.6, "low"))), [(4, None, "height_m")], "far below datum"),
        # A double high water: 5.2, a shallow low, 5.1 two hours and a half after.
        (
            ordinary((4, (20.0, 4.8, "low")), (5, (21.1, 5.1, "high")), (6, (27.4, 1.0, "low")), (7, None)),
            [(4, 2, "time"), (4, 3, "height_m"), (5, 3, "time"), (5, 4, "height_m"), (6, 4, "time")],
            "a double high water or unequal tides",
        ),
        # The same with its low water left out of the table.
        (
            ordinary((4, (21.1, 5.1, "high")), (5, None), (6, (27.4, 1.0, "low")), (7, None)),
            [(4, 3, "time"), (4, 3, "height_m")],
            "a double high water",
        ),
        (ordinary((5, (31.0, 1.5, "high"))), [(5, 4, "height_m"), (6, 5, "height_m")], "a stand"),
    ],
)
def test_what_makes_heights_unsound_is_asked_about(
    waters: list[Water], found: list[tuple[int, int | None, str]], says: str
) -> None:
    assert impossible(waters) == []
    told = doubts_about_waters(waters)
    assert sorted(brief(told), key=str) == sorted(found, key=str)
    assert says in " ".join(doubt.doubt.says for doubt in told)


def test_waters_without_a_word_are_judged_by_their_heights_and_gaps_only() -> None:
    bare = [water._replace(is_high=None) for water in ordinary((4, None))]
    assert impossible(bare) == []
    assert brief(doubts_about_waters(bare)) == [(4, 3, "time")]


@pytest.mark.parametrize("waters", [[], ordinary()[:1]])
def test_an_empty_table_and_a_single_water_raise_nothing(waters: list[Water]) -> None:
    assert impossible(waters) == doubts_about_waters(waters) == []


@settings(max_examples=50, deadline=None)
@given(st.integers(0, 6))
def test_two_waters_next_to_each_other_whose_words_are_swapped_are_always_found(first: int) -> None:
    waters = ordinary()
    waters[first : first + 2] = [w._replace(is_high=not w.is_high) for w in waters[first : first + 2]]
    assert {first, first + 1} <= {doubt.number for doubt in impossible(waters)}
