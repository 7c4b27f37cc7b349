"""`bench`: one object a case, with what other ways of planning reach beside it."""

import gzip
import json

import pytest

from scheduling.engine import bench
from scheduling.engine.__main__ import SUITES, main
from scheduling.engine.bench import FOLDER, RULES_OF_THUMB, by_rule, cases, load_yard, yard_row
from scheduling.engine.benchposted import EVENTS, with_posted
from scheduling.engine.compiled import compile_problem
from scheduling.engine.improve import start_search
from tests.engine.events import seven
from tests.engine.make_examples import BIG, make, text
from tests.engine.tiny import job, problem, step

USUAL = ["suite", "case", "seconds", "cost", "bound", "published", "proven", "peers"]


def rows(capsys, *args):
    assert main(["bench", "--json", *args]) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_a_row_of_a_yard_has_its_cost_its_bound_and_its_peers(capsys):
    (row,) = rows(capsys, "--suite", "yards", "--case", "boats3", "--seconds", "0", "--workers", "1")
    assert list(row)[: len(USUAL)] == USUAL
    assert (row["suite"], row["case"], row["published"]) == ("yards", "boats3", None)
    assert row["alone"] <= row["bound"] <= row["cost"]
    assert set(row["peers"]) == {"CP-SAT cold", *RULES_OF_THUMB}
    assert all(row["alone"] <= row["peers"][name] for name in RULES_OF_THUMB)
    assert row["peers"]["earliest promise"] == row["first_total"]


def test_a_peer_without_a_plan_has_none():
    """In no time at all a model finds nothing."""
    assert yard_row(FOLDER / "examples" / "boats3.json", 0, 1)["peers"]["CP-SAT cold"] is None


def test_a_row_of_a_job_shop_names_the_published_makespan(capsys):
    (row,) = rows(capsys, "--suite", "makespan", "--case", "ft06", "--seconds", "200", "--workers", "8")
    assert [row[key] for key in USUAL if key != "seconds"] == [
        "makespan",
        "ft06",
        55,
        55,
        55,
        True,
        {"model": 55},
    ]


@pytest.mark.parametrize(
    ("suite", "case"), [("repair", "boats12: hoist out 3 days"), ("quote", "boats12: three boats")]
)
def test_a_row_of_a_posted_plan_has_a_peer_that_did_it_another_way(capsys, suite, case):
    """A repair of one event moves fewer boats than there are."""
    (row,) = rows(capsys, "--suite", suite, "--case", case, "--seconds", "0")
    assert list(row)[: len(USUAL)] == USUAL
    assert (row["suite"], row["case"]) == (suite, case)
    (peer,) = row["peers"].values()
    assert peer is not None and row["cost"] is not None
    if suite == "repair":
        assert 0 < row["moved_boats"] < 12
        assert row["cost"] <= row["first_total"]


def test_a_row_of_winters_says_how_many_and_for_how_many_boats(capsys):
    (row,) = rows(capsys, "--suite", "risk", "--case", "boats12")
    assert (row["cost"], row["winters"], row["boats"]) == (None, 1000, 12)
    assert 0 <= row["middle_odds_pct"] <= 100 and 0 <= row["surely_kept"] <= 12


def test_every_event_that_can_happen_to_a_yard_is_a_case():
    told, posted = with_posted(load_yard(FOLDER / "examples" / "boats12.json"))
    assert tuple(seven(told, posted)) == EVENTS
    assert list(cases("repair"))[: len(EVENTS)] == [f"boats12: {event}" for event in EVENTS]
    assert list(cases("quote"))[:2] == ["boats12: one boat", "boats12: three boats"]


def test_any_file_with_a_problem_is_a_case_of_the_yards(capsys):
    path = FOLDER / "examples" / "boats3.json"
    (row,) = rows(capsys, "--case", str(path), "--seconds", "0", "--workers", "1")
    assert row["case"] == "boats3"


@pytest.mark.parametrize("suite", SUITES)
def test_an_unknown_case_is_one_line_and_exit_2(capsys, suite):
    assert main(["bench", "--suite", suite, "--case", "boats0"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("boats0: no case of ") and said.count("\n") == 1


def test_the_command_and_the_bench_know_the_same_suites():
    assert SUITES == bench.SUITES


def test_each_rule_of_thumb_takes_the_boats_in_its_own_order():
    """One bay for two boats; whoever goes first is in time, and the other late at her own price."""
    days = problem().days
    told = problem(
        job("x", step("peel", 2, "a"), due=days[2], late_price=100, size={"length": 8}),
        job("y", step("peel", 3, "a"), due=days[3], late_price=10, size={"length": 9}, earliest=0),
    )
    search = start_search(compile_problem(told))
    first = {
        name: min(("x", "y"), key=lambda boat, k=key: k(search, boat)) for name, key in RULES_OF_THUMB.items()
    }
    assert first == {
        "earliest promise": "x",
        "longest work first": "y",
        "arrival": "x",
        "biggest boat first": "y",
        "least slack": "x",
    }
    costs = {name: by_rule(search, key) for name, key in RULES_OF_THUMB.items()}
    assert costs["earliest promise"] < costs["biggest boat first"]


@pytest.mark.slow
def test_the_big_example_is_what_makes_it_and_is_packed():
    path = cases("yards")[f"boats{BIG}"]
    assert gzip.decompress(path.read_bytes()).decode() == text(make(BIG))
    assert path.stat().st_size < 100_000
    told = load_yard(path)
    assert (len(told.jobs), len(told.airs)) == (BIG, 6)
    assert sum(place.room for place in told.places if place.id != "hard") == 130
    assert len({boat.label for boat in told.jobs}) == BIG
