"""What the trade's arithmetic makes of the demo yard's airs and calendar: when a stage that starts in a slot
ends, and at what extra price."""

from datetime import date, timedelta
from typing import Any

import pytest

from scheduling.loading.axis import axis_of
from scheduling.loading.measured import measured
from scheduling.loading.records import gather
from scheduling.loading.tables import Stand, Tables
from yard.models import Air, Season, Stoppage
from yard.models.yards import StoppageKind
from yard.trade.curing import GENERIC

TODAY = date(2026, 11, 24)


def tables_of(season: Season) -> Tables:
    return Tables(axis_of(gather(season, TODAY)), measured(season.yard, [], TODAY).airs)


@pytest.fixture(scope="module")
def _read_once(_demo_imported: None, django_db_blocker: Any) -> tuple[list[Air], Tables]:
    with django_db_blocker.unblock():
        season = Season.objects.get()
        return gather(season, TODAY).airs, tables_of(season)


@pytest.fixture
def season_airs(_read_once: tuple[list[Air], Tables], db: None) -> list[Air]:
    return _read_once[0]


@pytest.fixture
def tables(_read_once: tuple[list[Air], Tables], db: None) -> Tables:
    return _read_once[1]


def air(season_airs: list[Air], kind: str) -> Air:
    return next(air for air in season_airs if air.kind == kind)


def ends(tables: Tables, name: str | None) -> dict[date, date]:
    assert name is not None
    days = tables.axis.days
    found = tables.made[name].finish
    return {day: days[end - 1] for day, end in zip(days, found, strict=True) if end is not None}


def prices(tables: Tables, name: str | None) -> dict[date, int]:
    assert name is not None
    return dict(zip(tables.axis.days, tables.made[name].price, strict=True))


def test_work_goes_on_after_the_weekend_and_the_shutdown(tables: Tables) -> None:
    found = ends(tables, tables.crew(3))
    assert found[date(2026, 11, 26)] == date(2026, 11, 30)  # Thursday, Friday, Monday
    assert found[date(2026, 12, 23)] == date(2027, 1, 5)  # closed from 24 December to 3 January


def test_a_week_of_cold_shed_in_january_is_worth_less_than_one_in_april(
    tables: Tables, season_airs: list[Air]
) -> None:
    shed = air(season_airs, "unheated")
    january, april = (tables.airs.rate_on(shed, date(2027, month, 11)) for month in (1, 4))
    assert january < april < 1
    found = ends(tables, tables.drying(5, shed))
    assert found[date(2027, 1, 11)] - date(2027, 1, 11) > found[date(2027, 4, 12)] - date(2027, 4, 12)


def test_a_tent_dries_faster_than_a_cold_shed_and_that_faster_than_the_open(
    tables: Tables, season_airs: list[Air]
) -> None:
    start = date(2027, 1, 11)
    shed = air(season_airs, "unheated")
    tent = ends(tables, tables.drying(5, shed, tented=True))[start]
    cold = ends(tables, tables.drying(5, shed))[start]
    weather = ends(tables, tables.drying(5, air(season_airs, "open")))[start]
    assert tent == date(2027, 1, 15)  # five days from Monday
    assert tent < cold < weather


class TestHeatBegunLater:
    def test_needs_fewer_days_since_she_dries_while_she_waits(
        self, tables: Tables, season_airs: list[Air]
    ) -> None:
        shed = air(season_airs, "unheated")
        found = ends(tables, tables.drying(40, shed, tented=True, standing=Stand(shed, tented=False)))
        early, late = date(2026, 11, 30), date(2027, 2, 15)
        needed = [(found[day] - day).days for day in (early, late)]
        assert needed[1] < needed[0]
        waited = sum(tables.rates(shed)[: (late - TODAY).days])
        assert needed[1] + 1 == pytest.approx(40 - waited, abs=2)  # to the end of a day, and to a slot

    def test_never_ends_before_heat_begun_earlier(self, tables: Tables, season_airs: list[Air]) -> None:
        shed, pad = air(season_airs, "unheated"), air(season_airs, "open")
        for where in (shed, pad):
            found = ends(tables, tables.drying(12, where, standing=Stand(shed, tented=False)))
            in_order = [found[day] for day in sorted(found)]
            assert in_order == sorted(in_order)

    def test_takes_a_day_at_least(self, tables: Tables, season_airs: list[Air]) -> None:
        shed = air(season_airs, "unheated")
        found = ends(tables, tables.drying(1, shed, tented=True, standing=Stand(shed, tented=False)))
        assert found[date(2027, 2, 15)] == date(2027, 2, 15)


class TestNoHeat:
    @pytest.fixture
    def without(self, season: Season, season_airs: list[Air]) -> Tables:
        Stoppage.objects.create(
            yard=season.yard,
            kind=StoppageKind.NO_HEAT,
            shed=air(season_airs, "heated").shed,
            first_day=date(2026, 12, 7),
            last_day=date(2026, 12, 13),
            why="the fuse",
        )
        return tables_of(season)

    def test_makes_drying_there_take_longer_in_the_bay_and_in_a_tent(
        self, tables: Tables, without: Tables, season_airs: list[Air]
    ) -> None:
        heated, start = air(season_airs, "heated"), date(2026, 12, 7)
        for tented in (False, True):
            usual = ends(tables, tables.drying(4.6, heated, tented=tented))[start]
            slowed = ends(without, without.drying(4.6, heated, tented=tented))[start]
            assert slowed > usual
        other = air(season_airs, "unheated")
        usual = ends(tables, tables.drying(5, other, tented=True))[start]
        assert ends(without, without.drying(5, other, tented=True))[start] == usual

    def test_lets_no_coat_on_while_the_hull_is_cold(
        self, tables: Tables, without: Tables, season_airs: list[Air]
    ) -> None:
        heated = air(season_airs, "heated")
        day = date(2026, 12, 9)
        plain = tables.campaign(5, 1, heated, GENERIC, breaks_allowed=1, break_price=100)
        cold = without.campaign(5, 1, heated, GENERIC, breaks_allowed=1, break_price=100)
        assert day in ends(tables, plain)
        assert day not in ends(without, cold)


class TestColdSpell:
    @pytest.fixture
    def cold(self, season: Season) -> Tables:
        Stoppage.objects.create(
            yard=season.yard,
            kind=StoppageKind.COLD,
            first_day=date(2027, 1, 11),
            last_day=date(2027, 1, 22),
            why="frost from the east",
        )
        return tables_of(season)

    def test_closes_no_day(self, tables: Tables, cold: Tables) -> None:
        assert cold.axis.days == tables.axis.days

    def test_dries_nothing_in_the_open_and_less_in_the_shed_and_the_tent_keeps_its_warmth(
        self, tables: Tables, cold: Tables, season_airs: list[Air]
    ) -> None:
        day = date(2027, 1, 13)
        pad, shed = air(season_airs, "open"), air(season_airs, "unheated")
        assert cold.airs.rate_on(pad, day) == 0  # 6.5 degrees C less 7 is frost
        assert 0 < cold.airs.rate_on(shed, day) < tables.airs.rate_on(shed, day)
        heated = air(season_airs, "heated")
        # Outdoors has 6 degrees C in January, 7 less in the spell; the heaters lift that by 10 to 9. A tent
        # in there is lifted by up to 22 and keeps its 28; in the cold shed, at 2, it has 24.
        assert cold.airs.temperatures(heated, day) == (9.0, 9.0)
        assert cold.airs.temperatures(heated, day, tented=True) == (28.0, 28.0)
        assert cold.airs.temperatures(shed, day, tented=True) == (24.0, 24.0)

    def test_lets_no_coat_on_in_a_shed_that_falls_below_twelve(
        self, cold: Tables, season_airs: list[Air]
    ) -> None:
        name = cold.campaign(5, 1, air(season_airs, "heated"), GENERIC, breaks_allowed=1, break_price=0)
        assert date(2027, 1, 13) not in ends(cold, name)
        assert date(2027, 1, 25) in ends(cold, name)


class TestCoats:
    def test_that_meet_a_closed_weekend_cost_a_break(self, tables: Tables, season_airs: list[Air]) -> None:
        name = tables.campaign(
            5, 1, air(season_airs, "heated"), GENERIC, breaks_allowed=1, break_price=150_00
        )
        price = prices(tables, name)
        assert price[date(2027, 1, 11)] == 0  # Monday to Friday
        # From Friday morning to Monday morning are three days at 16 and 12 degrees C: some 46 h at 20, past
        # the 36 that the window is open.
        assert price[date(2027, 1, 12)] == 150_00

    def test_take_no_break_where_their_window_is_longer_than_the_weekend(
        self, tables: Tables, season_airs: list[Air]
    ) -> None:
        patient = GENERIC._replace(recoat_max_h_20=72.0)
        name = tables.campaign(
            5, 1, air(season_airs, "heated"), patient, breaks_allowed=1, break_price=150_00
        )
        assert prices(tables, name)[date(2027, 1, 12)] == 0

    def test_are_not_started_where_more_windows_would_break_than_the_scheme_allows(
        self, tables: Tables, season_airs: list[Air]
    ) -> None:
        name = tables.campaign(
            5, 1, air(season_airs, "heated"), GENERIC, breaks_allowed=0, break_price=150_00
        )
        assert date(2027, 1, 12) not in ends(tables, name)

    def test_two_a_day_need_a_warm_hull(self, tables: Tables, season_airs: list[Air]) -> None:
        heated = air(season_airs, "heated")  # 16 by day
        monday = date(2027, 1, 11)
        name = tables.campaign(4, 2, heated, GENERIC, breaks_allowed=0, break_price=0)
        assert ends(tables, name)[monday] == monday + timedelta(days=3)
        quick = GENERIC._replace(two_from_c=16.0, recoat_min_h_20=4.0)
        name = tables.campaign(4, 2, heated, quick, breaks_allowed=0, break_price=0)
        assert ends(tables, name)[monday] == monday + timedelta(days=1)


def test_cure_goes_on_over_the_weekend_and_nothing_cures_below_ten_degrees(
    tables: Tables, season_airs: list[Air]
) -> None:
    heated = ends(tables, tables.curing(72, air(season_airs, "heated"), GENERIC))
    # 24 h at 16 by day and 12 by night are worth some 15 h at 20 degrees: 72 h take five days, two of
    # them a weekend.
    assert heated[date(2027, 1, 14)] == date(2027, 1, 18)
    # The cold shed is at 9 degrees in January and February: below ten nothing counts.
    cold = ends(tables, tables.curing(72, air(season_airs, "unheated"), GENERIC))
    assert cold[date(2027, 1, 11)] >= date(2027, 3, 1)
