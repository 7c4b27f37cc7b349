"""What is said of a hull after a round, a wash or a correction: level, what is left, the days forecast."""

from datetime import date

from scheduling.loading.boatdrying import boat_drying
from scheduling.loading.measured import measured
from scheduling.loading.measuring import measurable
from scheduling.loading.winter import BoatWinter, Winter
from scheduling.pages.drying_words import last_round, nothing_yet, odds


def drying_says(winter: Winter, her: BoatWinter, on: date | None = None) -> str:
    """Her level, how far she is from her target and by when she is dry, as her page says it.

    With the day of a round `on`, also why the forecast leaves that round out, if it does.
    """
    treatment = her.treatment
    found = measured(treatment.yard, [treatment.pk], winter.today)
    drying = boat_drying(winter, her, found, measurable(treatment).signed)
    if drying.used is None or not drying.used.points or drying.hull.closed:
        return nothing_yet(drying, treatment.state)
    left_out = [row.why for row in drying.rows if row.day == on and row.why]
    stall = [drying.own.stall.says] if drying.own is not None and drying.own.stall is not None else []
    return " ".join([*left_out, *last_round(drying), *odds(drying), *stall])
