"""How a length is read that somebody says on the telephone."""

from __future__ import annotations

from decimal import Decimal

import pytest

from yard.forms import length


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("10,2", "10.2"),
        ("10.2 m", "10.2"),
        ("33 ft", "10.058"),  # 33 x 0.3048 = 10.0584
        ("33'", "10.058"),
        ("33 feet", "10.058"),
        ("33.5 ft", "10.211"),  # 33.5 x 0.3048 = 10.2108
        ("31' 6\"", "9.601"),  # 31.5 x 0.3048 = 9.6012
        ('31′ 6"', "9.601"),
    ],
)
def test_a_length_is_metres_unless_it_says_feet(text: str, metres: str) -> None:
    assert length(feet=False)(text) == Decimal(metres)


def test_a_bare_number_is_feet_where_the_yard_measures_in_feet() -> None:
    assert length(feet=True)("33") == Decimal("10.058")
    assert length(feet=True)("10.2 m") == Decimal("10.2")


@pytest.mark.parametrize("feet", [True, False])
@pytest.mark.parametrize("text", ["", "long", "0", "-3", "3 4", "9" * 40, "ft"])
def test_what_is_no_length_is_refused_with_what_to_type(text: str, feet: bool) -> None:
    with pytest.raises(ValueError, match=r"Type a length like 10,2 or 33 ft\.|A length is more than 0\."):
        length(feet=feet)(text)
