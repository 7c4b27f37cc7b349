"""How far what happens may be from what a plan books: the cases a winter is drawn from.

`RULES.md` says what each figure means to a simulated winter; no rule and no cost looks at it.
"""

from dataclasses import dataclass

from scheduling.engine.jsonio import BadInput

MILLE = 1000
"""Cases and odds are whole numbers in thousandths."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Equally likely cases of an amount, rising, each in thousandths of what the finish table books.

    All steps of one job that name one spread share one draw. Draws of different jobs that name one `common`
    lean the same way: `share_pct` of their variance (on the normal scale) is common to all of them.
    """

    cases: tuple[int, ...]  # [per mille of the table's amount]
    label: str = ""  # what people call it: "drying"
    common: str = ""
    share_pct: int = 0

    def __post_init__(self) -> None:
        if not self.cases:
            raise BadInput("cases: there is none")
        rising("cases", self.cases)
        if not 0 <= self.share_pct <= 100:
            raise BadInput(f"share_pct: must be 0 to 100, is {self.share_pct}")
        if self.share_pct and not self.common:
            raise BadInput("share_pct: needs a name for what is common")


def rising(name: str, cases: tuple[int, ...]) -> None:
    """Raise BadInput unless the cases are at least 0 and none is below the one before it."""
    last = 0
    for i, case in enumerate(cases):
        if case < last:
            raise BadInput(f"{name}[{i}]: {case} is below {last}; cases rise from 0")
        last = case
