"""Which files need more than their table, and what is done for them."""

from __future__ import annotations

from collections.abc import Callable

from yard.actions.importing.read import Sheet
from yard.actions.importing.special_facts import promise_by, store_rounds, wash_held
from yard.actions.importing.special_tides import store_tides
from yard.actions.importing.special_winter import (
    stage_norms,
    stay_alone,
    store_demands,
    treatment_stages,
    treatment_state,
)
from yard.actions.importing.special_yard import bay_lane, people_skills, store_weeks, store_yard
from yard.actions.importing.store import Store

WHOLE: dict[str, Callable[[Store, Sheet], None]] = {
    "yard.csv": store_yard,
    "weeks.csv": store_weeks,
    "tides.csv": store_tides,
    "demands.csv": store_demands,
    "stage_demands.csv": store_demands,
    "rounds.csv": store_rounds,
}
PREPARE = {
    "bays.csv": bay_lane,
    "treatments.csv": treatment_state,
    "stages.csv": stage_norms,
    "stays.csv": stay_alone,
    "promises.csv": promise_by,
    "washes.csv": wash_held,
}
AFTER = {"people.csv": people_skills, "treatments.csv": treatment_stages}
