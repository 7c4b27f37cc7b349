"""Published job shops: the proven makespan as horizon places every job, and a slot less does not (ft06).

With blocking a machine is a bay in which a job stands until the next takes it, and swaps are free.
"""

import pytest

from scheduling.engine.bench import BY_MAKESPAN, FOLDER, cases, job_shop_row
from scheduling.engine.published import fits, job_shop_problem, load_job_shop, makespan_of, plan_of
from scheduling.engine.shoporders import search_orders
from scheduling.engine.witness import check, cost

MAKESPANS = {
    "ft06": (55, 63),
    "ft10": (930, 1068),
    "la01": (666, 793),
    "la02": (655, 793),
    "la03": (597, 715),
    "la04": (590, 743),
    "la05": (593, 664),
    "la16": (945, 1060),
    "la17": (784, 929),
    "la18": (848, 1025),
    "la19": (842, 1043),
    "la20": (902, 1060),
    "abz5": (1234, 1468),
    "abz6": (943, 1145),
}
SIZES = {"ft06": (6, 6)} | dict.fromkeys(("la01", "la02", "la03", "la04", "la05"), (10, 5))
BIG = [name for name in MAKESPANS if name not in SIZES]
WORKERS = 8  # on two cores, too: they search in eight ways


def plan_within(name, horizon, *, blocking):
    """A plan of all jobs by the engine's own model, or None if it proves that there is none."""
    told = job_shop_problem(load_job_shop(FOLDER / "instances" / f"{name}.txt"), horizon, blocking=blocking)
    answer, schedule = fits(told, 300, WORKERS)
    assert answer != "open"
    return told, schedule


def assert_every_job_is_placed(name, horizon, *, blocking):
    told, schedule = plan_within(name, horizon, blocking=blocking)
    assert set(schedule.jobs) == {job.id for job in told.jobs}
    assert max(times[-1].end for times in schedule.jobs.values()) <= horizon
    assert check(told, schedule) == []
    assert sum(cost(told, schedule).values()) == 0


def test_the_suites_hold_all_of_them():
    assert set(cases("blocking")) == set(MAKESPANS)
    assert tuple(cases("makespan")) == BY_MAKESPAN


@pytest.mark.parametrize("name", MAKESPANS)
def test_the_files_say_what_was_published_and_where_it_comes_from(name):
    file = FOLDER / "instances" / f"{name}.txt"
    shop = load_job_shop(file)
    assert (shop.makespan, shop.blocking) == MAKESPANS[name]
    size, machines = SIZES.get(name, (10, 10))
    assert len(shop.jobs) == size
    assert all(sorted(machine for machine, _ in job) == list(range(machines)) for job in shop.jobs)
    text = file.read_text("utf-8")
    assert f"# {name}: " in text and "MIT licence" in text and "Proven: makespan" in text


@pytest.mark.parametrize("blocking", [False, True])
def test_a_row_says_what_was_found_and_what_was_proven(blocking):
    found = job_shop_row(FOLDER / "instances" / "ft06.txt", 300, WORKERS, blocking=blocking)
    best = MAKESPANS["ft06"][blocking]
    assert (found["cost"], found["bound"], found["published"]) == (best, best, best)
    assert (found["proven"], found["open"]) == (True, [])


def test_a_row_lists_what_is_left_open():
    """In no time there is no proof, and of what the search over orders began with only a longer plan."""
    found = job_shop_row(FOLDER / "instances" / "ft10.txt", 0.01, 1, blocking=True)
    assert (found["bound"], found["proven"]) == (None, False)
    assert found["cost"] == found["peers"]["orders"] > 1068
    assert found["open"] == [1068, 1067]


@pytest.mark.parametrize("name", [*SIZES, *(pytest.param(name, marks=pytest.mark.slow) for name in BIG)])
def test_plans_by_orders_keep_all_rules_whatever_their_length(name):
    shop = load_job_shop(FOLDER / "instances" / f"{name}.txt")
    plan = plan_of(shop, search_orders(shop, shop.blocking, 0.0))
    told = job_shop_problem(shop, makespan_of(plan), blocking=True)
    assert check(told, plan) == []
    assert makespan_of(plan) >= shop.blocking  # which is proven


def test_the_search_over_orders_finds_the_proven_makespan_of_ft06():
    shop = load_job_shop(FOLDER / "instances" / "ft06.txt")
    assert makespan_of(plan_of(shop, search_orders(shop, 63, 300.0))) == 63


@pytest.mark.slow
def test_the_search_over_orders_finds_the_proven_makespan_of_la05(test_size):
    if test_size == "small":
        pytest.skip("up to a minute: with TEST_SIZE=full")
    shop = load_job_shop(FOLDER / "instances" / "la05.txt")
    assert makespan_of(plan_of(shop, search_orders(shop, 664, 300.0))) == 664


def test_ft06_without_blocking_takes_55_and_not_54():
    assert_every_job_is_placed("ft06", 55, blocking=False)
    assert plan_within("ft06", 54, blocking=False)[1] is None


def test_ft06_with_blocking_takes_63_and_not_62():
    assert_every_job_is_placed("ft06", 63, blocking=True)
    assert plan_within("ft06", 62, blocking=True)[1] is None


@pytest.mark.slow
@pytest.mark.parametrize("name", ["la01", "la02", "la03", "la04", "la05"])
def test_the_blocking_job_shops_fit_into_their_proven_makespan(name, test_size):
    if test_size == "small" and name != "la05":
        pytest.skip("a minute each: with TEST_SIZE=full")
    assert_every_job_is_placed(name, MAKESPANS[name][1], blocking=True)
