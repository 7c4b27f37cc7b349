"""One cell of a file: from the text a person typed to a value, and from a value to text.

`read` gets the text trimmed and not empty. It raises `Bad` with one sentence that says what to do.
"""

from __future__ import annotations

import calendar
import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, Protocol

FOOT_M = Decimal("0.3048")
"""Metres in a foot [m/ft], exact: international yard and pound agreement of 1959."""

GUARDED = re.compile(r"'*[=+\-@\t\r]")
"""What a spreadsheet might take for a formula: such text goes out behind one more single quote."""


class Bad(ValueError):
    """A cell, row or file that cannot be taken; the message is one sentence for the person who typed it."""


class Kind(Protocol):
    """How the cells of a column are read and shown; `says` describes them on the page of columns."""

    @property
    def says(self) -> str:
        """What to type, in a few words."""

    def read(self, text: str) -> Any:
        """Turn the text into a value.

        Raises:
            Bad: what is wrong and what to do.
        """

    def show(self, value: Any) -> str:
        """Turn a value, never None, into text that `read` turns back."""


@dataclass(frozen=True)
class Text:
    """Words, up to `longest` letters where it is given."""

    longest: int | None = None
    says: str = "text"

    def read(self, text: str) -> str:
        """Take the text, without the quote that guards it from being taken for a formula."""
        if text.startswith("'") and GUARDED.match(text):
            text = text[1:]
        if "\x00" in text:
            raise Bad("There is a character in it that cannot be kept; type the text again.")
        if self.longest is not None and len(text) > self.longest:
            raise Bad(f"The text is {len(text)} letters long; shorten it to {self.longest}.")
        return text

    def show(self, value: Any) -> str:
        """Guard what a spreadsheet might take for a formula."""
        text = str(value)
        return "'" + text if GUARDED.match(text) else text


@dataclass(frozen=True)
class Number:
    """A figure, kept to so many decimal places, half rounded up."""

    places: int = 0
    digits: int = 9
    unit: str = ""
    says: str = "a number"

    def read(self, text: str) -> Decimal:
        """Read a figure with a decimal point or comma, and no mark between thousands."""
        if not re.fullmatch(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)", text):
            example = "9.2" if self.places else "9"
            raise Bad(f"“{text}” is not a number; write it like {example}.")
        value = Decimal(text.replace(",", "."))
        return self.fit(value, text)

    def fit(self, value: Decimal, text: str) -> Decimal:
        """Round the value to the places kept.

        Raises:
            Bad: where it has more digits than can be kept.
        """
        rounded = value.quantize(Decimal(1).scaleb(-self.places), ROUND_HALF_UP)
        if abs(rounded) >= 10 ** (self.digits - self.places):
            raise Bad(f"“{text}” is too large; check the figure and its unit.")
        return rounded + 0  # no negative nought

    def read_feet(self, text: str) -> Decimal:
        """Read feet, as 31.5 or as 31' 6", and give metres [m]."""
        spoken = re.fullmatch(r"(\d+)\s*(?:'|ft)\s*(?:(\d+(?:[.,]\d+)?)\s*(?:\"|''|in)?)?", text)
        if spoken:
            inches = Decimal((spoken[2] or "0").replace(",", "."))
            feet = Decimal(spoken[1]) + inches / 12
        elif re.fullmatch(r"\d+([.,]\d*)?", text):
            feet = Decimal(text.replace(",", "."))
        else:
            raise Bad(f"“{text}” is not a length in feet; write it like 31.5 or 31' 6\".")
        return self.fit(feet * FOOT_M, text)

    def show(self, value: Any) -> str:
        """Show the figure without needless noughts."""
        text = f"{Decimal(value):.{self.places}f}"
        return text.rstrip("0").rstrip(".") if "." in text else text


@dataclass(frozen=True)
class Whole:
    """A whole number, nought or more."""

    most: int = 32767
    says: str = "a whole number"

    def read(self, text: str) -> int:
        """Read a whole number; a spreadsheet's 3.0 is one."""
        if not re.fullmatch(r"\d+([.,]0*)?", text):
            raise Bad(f"“{text}” is not a whole number; write it like 3.")
        value = int(re.split("[.,]", text)[0])
        if value > self.most:
            raise Bad(f"“{text}” is too large; check the figure.")
        return value

    def show(self, value: Any) -> str:
        """Show the number."""
        return str(value)


@dataclass(frozen=True)
class YesNo:
    """Yes or no."""

    says: str = "yes or no"

    def read(self, text: str) -> bool:
        """Read yes or no, and what spreadsheets make of them."""
        word = text.casefold()
        if word in {"yes", "y", "true", "1"}:
            return True
        if word in {"no", "n", "false", "0"}:
            return False
        raise Bad(f"“{text}” is neither yes nor no; write one of them.")

    def show(self, value: Any) -> str:
        """Show yes or no."""
        return "yes" if value else "no"


@dataclass(frozen=True)
class Day:
    """A date, day first; a year of two digits is in this century."""

    says: str = "a date, dd/mm/yyyy"

    def read(self, text: str) -> dt.date:
        """Read dd/mm/yyyy (also with points, dashes or a year of two digits) or yyyy-mm-dd."""
        if match := re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", text):
            year, month, day = (int(part) for part in match.groups())
        elif match := re.fullmatch(r"(\d{1,2})([/.-])(\d{1,2})\2(\d{4}|\d{2})", text):
            day, month, year = int(match[1]), int(match[3]), int(match[4])
            year += 2000 if len(match[4]) == 2 else 0
        else:
            raise Bad(f"“{text}” is not a date; write day, month and year like 24/11/2026.")
        if not 1 <= month <= 12:
            raise Bad(f"“{text}” has no month {month}; write the day before the month, like 24/11/2026.")
        if not 1900 <= year <= 2199:
            raise Bad(f"“{text}” is in the year {year}; write a year between 1900 and 2199.")
        last = calendar.monthrange(year, month)[1]
        if not 1 <= day <= last:
            raise Bad(f"“{text}” is no day: {calendar.month_name[month]} {year} has {last} days.")
        return dt.date(year, month, day)

    def show(self, value: Any) -> str:
        """Show dd/mm/yyyy."""
        return f"{value:%d/%m/}{value.year:04d}"


@dataclass(frozen=True)
class Time:
    """A time of the day on a clock of 24 hours."""

    says: str = "a time, hh:mm"

    def read(self, text: str) -> dt.time:
        """Read hh:mm; seconds of nought, which spreadsheets add, are let go."""
        match = re.fullmatch(r"(\d{1,2})[:.](\d{2})(?::00)?", text)
        if not match or int(match[1]) > 23 or int(match[2]) > 59:
            raise Bad(f"“{text}” is not a time; write hours and minutes like 07:30.")
        return dt.time(int(match[1]), int(match[2]))

    def show(self, value: Any) -> str:
        """Show hh:mm."""
        return f"{value:%H:%M}"


@dataclass(frozen=True)
class Instant:
    """A moment in universal time, for machines rather than for hands."""

    says: str = "a moment in universal time, yyyy-mm-ddThh:mm:ssZ"

    def read(self, text: str) -> dt.datetime:
        """Read an ISO moment with its zone."""
        try:
            value = dt.datetime.fromisoformat(text)
        except ValueError:
            value = None
        if value is None or value.tzinfo is None:
            raise Bad(f"“{text}” is not a moment; write it like 2026-11-24T09:30:00Z.")
        return value.astimezone(dt.UTC)

    def show(self, value: Any) -> str:
        """Show the moment in universal time."""
        return str(value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z"))


@dataclass(frozen=True)
class Word:
    """One of a few words."""

    words: tuple[str, ...]

    @property
    def says(self) -> str:
        """The words to choose from."""
        return "one of: " + ", ".join(self.words)

    def read(self, text: str) -> str:
        """Take the word in any case; blanks and dashes stand for the underline."""
        plain = re.sub(r"[\s-]+", "_", text).casefold()
        for word in self.words:
            if word.casefold() == plain:
                return word
        raise Bad(f"“{text}” is none of {', '.join(self.words)}; write one of them.")

    def show(self, value: Any) -> str:
        """Show the word."""
        return str(value)


@dataclass(frozen=True)
class Many:
    """Several texts in one cell, parted by semicolons or commas."""

    words: tuple[str, ...] = ()
    says_what: str = "texts"

    @property
    def says(self) -> str:
        """What to list."""
        what = "any of " + ", ".join(self.words) if self.words else self.says_what
        return f"{what}, parted by semicolons"

    def read(self, text: str) -> list[str]:
        """Take each part once, trimmed, in the order given."""
        parts: list[str] = []
        for raw in re.split("[;,]", Text().read(text)):
            part = raw.strip()
            if self.words and part:
                part = Word(self.words).read(part)
            if part and part not in parts:
                parts.append(part)
        return parts

    def show(self, value: Sequence[str]) -> str:
        """Join the parts again."""
        return Text().show("; ".join(value))


@dataclass(frozen=True)
class AirWords:
    """What work puts into the air or is spoiled by, which the records keep parted by blanks."""

    words: tuple[str, ...]

    @property
    def says(self) -> str:
        """The words to choose from."""
        return Many(self.words).says

    def read(self, text: str) -> str:
        """Give the words parted by blanks."""
        return " ".join(Many(self.words).read(re.sub(r"\s+", ";", text)))

    def show(self, value: Any) -> str:
        """Show the words parted by semicolons."""
        return "; ".join(str(value).split())


@dataclass(frozen=True)
class Excused:
    """Spots that were excused when she was signed dry, each with its reason."""

    says: str = "“spot: reason”, parted by semicolons"

    def read(self, text: str) -> list[dict[str, str]]:
        """Give each spot's code and reason."""
        found = []
        for part in Text().read(text).split(";"):
            spot, colon, why = part.partition(":")
            if part.strip() and not (colon and spot.strip() and why.strip()):
                raise Bad(f"“{part.strip()}” lacks the spot or the reason; write it like K1: keel stub.")
            if part.strip():
                found.append({"spot": spot.strip(), "why": why.strip()})
        return found

    def show(self, value: Any) -> str:
        """Show each spot with its reason."""
        return Text().show("; ".join(f"{item['spot']}: {item['why']}" for item in value))


@dataclass(frozen=True)
class OrNone:
    """A cell in which nothing means "as in the scheme", and the word none means nothing."""

    kind: Kind
    nothing: Any

    @property
    def says(self) -> str:
        """What the cell itself takes, and the word."""
        return f"{self.kind.says}; or none"

    def read(self, text: str) -> Any:
        """Read the word none, or the cell."""
        return self.nothing if text.casefold() == "none" else self.kind.read(text)

    def show(self, value: Any) -> str:
        """Show the word none for nothing."""
        return "none" if value == self.nothing else self.kind.show(value)
