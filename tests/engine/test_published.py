"""Published job shops: the proven makespan as horizon places every job, and a slot less does not (ft06).

With blocking a machine is a bay in which a job stands until the next takes it, and swaps are free.
"""

import pytest

from scheduling.engine.bench import BY_MAKESPAN, FOLDER, cases, job_shop_row
from scheduling.engine.published import JobShop, fits, job_shop_problem, load_job_shop, makespan_of, plan_of
from scheduling.engine.shoppairs import settle
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
QUICK, LONGER = ("ft06", "la01", "la03", "la04"), ("la02", "la05", "la20")  # by pairs, up to 4 s a question
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
    """In no time there is neither a plan nor a proof, by pairs or by the engine's own model."""
    found = job_shop_row(FOLDER / "instances" / "ft10.txt", 0.01, 1, blocking=True)
    assert (found["cost"], found["bound"], found["proven"]) == (None, None, False)
    assert found["peers"] == {"pairs": None, "model": None}
    assert found["open"] == [1068, 1067]


def test_the_engines_own_model_is_asked_only_what_the_pairs_leave_open():
    found = job_shop_row(FOLDER / "instances" / "la01.txt", 300, 1, blocking=True)
    assert found["peers"] == {"pairs": 793}
    assert (found["cost"], found["proven"], found["open"]) == (793, True, [])


@pytest.mark.parametrize("name", [*SIZES, *(pytest.param(name, marks=pytest.mark.slow) for name in BIG)])
def test_plans_by_pairs_keep_all_rules_whatever_their_length(name):
    """Given half as much time again as is needed, some plan is found at once."""
    shop = load_job_shop(FOLDER / "instances" / f"{name}.txt")
    answer, starts = settle(shop, shop.blocking * 3 // 2, 300)
    assert answer == "fits"
    plan = plan_of(shop, starts)
    told = job_shop_problem(shop, makespan_of(plan), blocking=True)
    assert check(told, plan) == []
    assert sum(cost(told, plan).values()) == 0
    assert shop.blocking <= makespan_of(plan) <= shop.blocking * 3 // 2  # the least is proven


@pytest.mark.parametrize("name", [*QUICK, *(pytest.param(name, marks=pytest.mark.slow) for name in LONGER)])
def test_by_pairs_the_proven_makespan_of_a_blocking_job_shop_is_found(name):
    shop = load_job_shop(FOLDER / "instances" / f"{name}.txt")
    answer, starts = settle(shop, shop.blocking, 300)
    assert answer == "fits"
    plan = plan_of(shop, starts)
    assert makespan_of(plan) == shop.blocking
    assert check(job_shop_problem(shop, shop.blocking, blocking=True), plan) == []


@pytest.mark.parametrize("name", [*QUICK, *(pytest.param(name, marks=pytest.mark.slow) for name in LONGER)])
def test_by_pairs_a_slot_less_than_the_proven_makespan_will_not_do(name):
    shop = load_job_shop(FOLDER / "instances" / f"{name}.txt")
    assert settle(shop, shop.blocking - 1, 300) == ("does not fit", None)


def test_two_jobs_that_change_machines_swap_in_the_same_slot():
    """Each works 2 where it stands, then 3 where the other stood; without a swap one begins late."""
    shop = JobShop(name="swap", jobs=(((0, 2), (1, 3)), ((1, 2), (0, 3))), makespan=5, blocking=5)
    assert settle(shop, 5, 300) == ("fits", [[0, 2], [0, 2]])
    assert settle(shop, 4, 300) == ("does not fit", None)


def test_a_job_that_is_done_stands_on_until_its_next_machine_is_let_go():
    """With room to wait 5 would do: A works 0-1 on machine 0 and waits, C 1-5 there, B 0-4 on 1, then A 4-5.

    Here A either keeps C from machine 0 until 4 (8), or comes after C (4 + 1 + 1) or before B (1 + 1 + 4).
    """
    a, b, c = ((0, 1), (1, 1)), ((1, 4),), ((0, 4),)
    shop = JobShop(name="stand", jobs=(a, b, c), makespan=5, blocking=6)
    assert settle(shop, 5, 300) == ("does not fit", None)
    assert settle(shop, 6, 300)[0] == "fits"


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
