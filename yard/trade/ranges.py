"""What the trade's figures come as: a range with its likely value, and a doubt about something typed."""

from typing import NamedTuple


class Range(NamedTuple):
    """A figure that nobody knows exactly, in the unit its owner states: a low, a likely and a high value.

    Low and high are meant as what one job in ten stays under or goes over.
    """

    low: float
    likely: float
    high: float

    def times(self, factor: float) -> "Range":
        """All three multiplied by a `factor` that is not below zero [-]."""
        return Range(self.low * factor, self.likely * factor, self.high * factor)

    def plus(self, other: "Range") -> "Range":
        """The sum, low with low and high with high: as if both went well or badly together."""
        return Range(self.low + other.low, self.likely + other.likely, self.high + other.high)


class Doubt(NamedTuple):
    """A value that could be meant but reads like a slip: the field it stands in, and a sentence that asks."""

    field: str
    says: str
